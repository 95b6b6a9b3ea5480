/* cmd_check.c - loading a case with all its problems told. */
#include <errno.h>
#include <string.h>

#include "cli.h"
#include "emberpipe/report.h"

void emb_cli_problem(const struct emb_problem *p, FILE *to)
{
    fputs(p->file, to);
    if (p->line > 0) {
        fprintf(to, ":%d:%d", p->line, p->column);
    }
    const bool path =
        p->path[0] != '\0' && strcmp(p->path, p->file) != 0; /* both are "--set" for an override */
    fprintf(to, ": %s%s%s\n", path ? p->path : "", path ? ": " : "", p->text);
}

enum emb_status emb_cli_load(const struct emb_cli_args *a, FILE *to, struct emb_case *c,
                             struct emb_err *err)
{
    return emb_cli_load_file(a, a->word, to, c, err);
}

enum emb_status emb_cli_load_file(const struct emb_cli_args *a, const char *file, FILE *to,
                                  struct emb_case *c, struct emb_err *err)
{
    struct emb_problems problems = {0, NULL};
    struct emb_err first = {EMB_OK, "", ""};
    FILE *f = fopen(file, "rb");
    if (f == NULL) {
        return emb_fail(err, EMB_ERR_IO, file, "cannot be read: %s", strerror(errno));
    }
    fclose(f);
    const enum emb_status st = emb_config_load(file, a->set, a->n_set, c, &problems, &first);
    for (size_t i = 0; i < problems.n; i++) {
        emb_cli_problem(&problems.item[i], to);
    }
    if (st != EMB_OK && problems.n > 0) {
        emb_fail(err, st, file, "%zu problem%s; nothing was run", problems.n,
                 problems.n == 1 ? "" : "s");
    } else if (st != EMB_OK) {
        emb_fail(err, st, first.where, "%s", first.msg);
    }
    emb_problems_free(&problems);
    return st;
}

enum emb_status emb_cmd_check(const struct emb_cli_args *a, struct emb_err *err)
{
    struct emb_case c;
    const enum emb_status st = emb_cli_load(a, stdout, &c, err);
    if (st == EMB_OK) {
        emb_case_free(&c);
        if (!a->quiet) {
            puts("ok");
        }
    }
    const enum emb_status out = emb_report_flush(stdout, "standard output", err);
    return st != EMB_OK ? st : out;
}
