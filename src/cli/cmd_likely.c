/* cmd_likely.c - in how many trucks like this does it work. */
#include <string.h>

#include "cli.h"
#include "emberpipe/likely.h"
#include "emberpipe/report.h"
#include "emberpipe/units.h"

static bool progress(double share, void *user)
{
    struct emb_hooks *h = user;
    return h->progress == NULL || h->progress(100.0 * share, 100.0, h->user) == 0;
}

static enum emb_status whole_number(const char *option, const char *text, double lo, double hi,
                                    double *out, struct emb_err *err)
{
    if (text == NULL) {
        return EMB_OK;
    }
    if (strspn(text, "0123456789") != strlen(text) || emb_number_parse(text, out, NULL) != 0 ||
        *out < lo || *out > hi) {
        return emb_fail(err, EMB_ERR_USAGE, option, "got '%.40s'; use a whole number, %.0f .. %.0f",
                        text, lo, hi);
    }
    return EMB_OK;
}

enum emb_status emb_cmd_likely(const struct emb_cli_args *a, struct emb_err *err)
{
    struct emb_case c;
    struct emb_likely l;
    double samples = 0.0, seed = 1.0, cells = 0.0, threads = 0.0; /* 0: as emb_likely has it */
    enum emb_status st = emb_cli_text_or_csv(a, err);
    st = st == EMB_OK ? whole_number("--samples", a->samples, 10, 100000, &samples, err) : st;
    st = st == EMB_OK ? whole_number("--seed", a->seed, 0, 4294967295.0, &seed, err) : st;
    st = st == EMB_OK ? whole_number("--cells", a->cells, 1, 200, &cells, err) : st;
    st = st == EMB_OK ? whole_number("--threads", a->threads, 1, 1024, &threads, err) : st;
    st = st == EMB_OK ? emb_cli_load(a, stderr, &c, err) : st;
    if (st != EMB_OK) {
        return st;
    }
    struct emb_cli_progress p;
    struct emb_hooks hooks = emb_cli_progress_hooks(&p, a->quiet);
    const struct emb_likely_options o = {.samples = (size_t)samples, .seed = (unsigned)seed,
                                         .threads = (int)threads, .cells = (int)cells, .full = a->full,
                                         .set = a->set, .n_set = a->n_set,
                                         .progress = progress, .user = &hooks};
    st = emb_likely(&c, &o, &l, err);
    emb_cli_progress_end(&p);
    if (st == EMB_OK) {
        (strcmp(a->format, "csv") == 0 ? emb_likely_csv : emb_likely_text)(&l, stdout);
        st = emb_report_flush(stdout, "standard output", err);
    }
    emb_likely_free(&l);
    emb_case_free(&c);
    return st;
}
