/* A program of someone else's: loads a case, runs it, reads one number. */
#include <stdio.h>
#include <emberpipe/config.h>
#include <emberpipe/report.h>
#include <emberpipe/run.h>

int main(int argc, char **argv)
{
    struct emb_case c;
    struct emb_result r;
    struct emb_err err = {EMB_OK, "", ""};
    if (argc < 2 || emb_config_load(argv[1], NULL, 0, &c, NULL, &err) != EMB_OK) {
        fprintf(stderr, "%s: %s\n", err.where, err.msg);
        return 1;
    }
    const enum emb_status st = emb_run(&c, NULL, &r, &err);
    printf("%s %zu rows\n", st == EMB_OK ? "done" : err.msg, r.n_row);
    const int rc = st == EMB_OK && r.n_row > 1 && emb_result_find(&r, "time") == 0 ? 0 : 1;
    emb_result_free(&r);
    emb_case_free(&c);
    return rc;
}
