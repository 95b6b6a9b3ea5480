/* cmd_diagnose.c - which conditions would explain a log. */
#include <string.h>

#include "cli.h"
#include "emberpipe/diagnose.h"
#include "emberpipe/report.h"

static bool progress(double share, void *user)
{
    struct emb_hooks *h = user;
    return h->progress == NULL || h->progress(100.0 * share, 100.0, h->user) == 0;
}

enum emb_status emb_cmd_diagnose(const struct emb_cli_args *a, struct emb_err *err)
{
    struct emb_case c;
    struct emb_log log;
    struct emb_diagnosis d;
    enum emb_status st = emb_cli_text_or_csv(a, err);
    st = st == EMB_OK ? emb_cli_load(a, stderr, &c, err) : st;
    if (st != EMB_OK) {
        return st;
    }
    st = emb_cli_log(a, &c, &log, err);
    if (st == EMB_OK) {
        struct emb_cli_progress p;
        struct emb_hooks hooks = emb_cli_progress_hooks(&p, a->quiet);
        const struct emb_diagnose_options o = {0, progress, &hooks};
        st = emb_diagnose(&c, &log, &o, &d, err);
        emb_cli_progress_end(&p);
        if (st == EMB_OK) {
            (strcmp(a->format, "csv") == 0 ? emb_diagnosis_csv : emb_diagnosis_text)(&d, stdout);
            st = emb_report_flush(stdout, "standard output", err);
        }
        emb_diagnosis_free(&d);
        emb_log_free(&log);
    }
    emb_case_free(&c);
    return st;
}
