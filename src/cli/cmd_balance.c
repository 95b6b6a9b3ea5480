/* cmd_balance.c - how long a duty may go on. */
#include "cli.h"
#include "emberpipe/balance.h"
#include "emberpipe/report.h"
#include "emberpipe/units.h"

/* An option's quantity within (0, max]; left alone when the option was not given. */
static enum emb_status read(const char *option, const char *text, enum emb_dim dim, double max,
                            double *si, struct emb_err *err)
{
    char msg[EMB_UNIT_MSG] = "out of memory";
    if (text == NULL) {
        return EMB_OK;
    }
    struct emb_units *u = emb_units_new();
    const bool ok = u != NULL && emb_quantity_parse(u, text, dim, si, msg) == 0;
    emb_units_free(u);
    if (!ok) {
        return emb_fail(err, EMB_ERR_USAGE, option, "%s", msg);
    }
    if (*si <= 0.0 || *si > max) {
        return emb_fail(err, EMB_ERR_USAGE, option,
                        "got '%.60s'; allowed is above 0, at most %g %s", text, max,
                        dim == EMB_DIM_TIME ? "s" : "(as a share of 1)");
    }
    return EMB_OK;
}

enum emb_status emb_cmd_balance(const struct emb_cli_args *a, struct emb_err *err)
{
    struct emb_balance_ask ask = {.soot_limit = 1.0, .crust_limit = 0.3, .cold = a->cold};
    struct emb_balance b;
    struct emb_case c;
    enum emb_status st =
        read("--soot-limit", a->soot_limit, EMB_DIM_FRACTION, 3.0, &ask.soot_limit, err);
    st = st != EMB_OK
             ? st
             : read("--crust-limit", a->crust_limit, EMB_DIM_FRACTION, 0.9, &ask.crust_limit, err);
    st = st != EMB_OK ? st : read("--drive", a->drive, EMB_DIM_TIME, 86400.0, &ask.drive, err);
    st = st != EMB_OK ? st : emb_cli_load(a, stderr, &c, err);
    if (st != EMB_OK) {
        return st;
    }
    st = emb_balance_find(&c, &ask, &b, err);
    if (st == EMB_OK) {
        emb_balance_text(&b, stdout);
        st = emb_report_flush(stdout, "standard output", err);
    }
    emb_case_free(&c);
    return st;
}
