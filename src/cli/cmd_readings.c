/* cmd_readings.c - the table of readings to expect. */
#include <string.h>

#include "cli.h"
#include "emberpipe/readings.h"
#include "emberpipe/report.h"
#include "emberpipe/units.h"

/* A time with its unit, above zero. */
static enum emb_status time_read(const char *option, const char *text, double *s,
                                 struct emb_err *err)
{
    char msg[EMB_UNIT_MSG] = "out of memory";
    struct emb_units *u = emb_units_new();
    const bool ok = u != NULL && emb_quantity_parse(u, text, EMB_DIM_TIME, s, msg) == 0;
    emb_units_free(u);
    if (!ok) {
        return emb_fail(err, EMB_ERR_USAGE, option, "%s", msg);
    }
    return *s > 0.0 ? EMB_OK
                    : emb_fail(err, EMB_ERR_USAGE, option, "got '%s'; must be above zero", text);
}

static bool progress(double share, void *user)
{
    struct emb_hooks *h = user;
    return h->progress == NULL || h->progress(100.0 * share, 100.0, h->user) == 0;
}

enum emb_status emb_cmd_readings(const struct emb_cli_args *a, struct emb_err *err)
{
    struct emb_case c;
    struct emb_readings r;
    double every = 60.0;
    const bool csv = strcmp(a->format, "csv") == 0;
    if (!csv && strcmp(a->format, "text") != 0) {
        return emb_fail(err, EMB_ERR_USAGE, "--format", "got '%s'; use text or csv", a->format);
    }
    enum emb_status st = a->every != NULL ? time_read("--every", a->every, &every, err) : EMB_OK;
    st = st != EMB_OK ? st : emb_cli_load(a, stderr, &c, err);
    if (st != EMB_OK) {
        return st;
    }
    st = emb_readings_make(&c, every, a->as_new, &r, err);
    if (st == EMB_OK && !a->no_band) {
        struct emb_cli_progress p;
        struct emb_hooks hooks = emb_cli_progress_hooks(&p, a->quiet);
        const struct emb_band_options o = {.seed = 1, .set = a->set, .n_set = a->n_set,
                                           .progress = progress, .user = &hooks};
        st = emb_readings_band(&c, &o, &r, err);
        emb_cli_progress_end(&p);
        if (st != EMB_OK) {
            emb_readings_free(&r);
        }
    }
    if (st == EMB_OK) {
        (csv ? emb_readings_csv : emb_readings_text)(&r, stdout);
        emb_readings_free(&r);
        st = emb_report_flush(stdout, "standard output", err);
    }
    emb_case_free(&c);
    return st;
}
