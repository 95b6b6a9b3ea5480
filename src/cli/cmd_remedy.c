/* cmd_remedy.c - what would make the failing targets reachable. */
#include <unistd.h>

#include "cli.h"
#include "emberpipe/remedy.h"
#include "emberpipe/report.h"

static void say(const char *text, void *user)
{
    (void)user;
    fprintf(stderr, "\r%-78.78s", text);
    fflush(stderr);
}

enum emb_status emb_cmd_remedy(const struct emb_cli_args *a, struct emb_err *err)
{
    struct emb_case c;
    struct emb_remedy_report r;
    const bool talk = !a->quiet && isatty(STDERR_FILENO);
    enum emb_status st = emb_cli_load(a, stderr, &c, err); /* for its full list of problems */
    if (st != EMB_OK) {
        return st;
    }
    emb_case_free(&c);
    st = emb_remedy_find(a->word, a->set, a->n_set, a->target, talk ? say : NULL, NULL, &r, err);
    if (talk) {
        fprintf(stderr, "\r%-78s\r", "");
    }
    if (st == EMB_OK) {
        emb_remedy_text(&r, a->word, stdout);
        emb_remedy_free(&r);
        st = emb_report_flush(stdout, "standard output", err);
    }
    return st;
}
