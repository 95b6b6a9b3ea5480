/* axis.c - one axis: its texts become SI values, a range or a distribution. */
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "study_impl.h"

/* Reads one text of the axis; where: "FILE: axes[2].from". */
static enum emb_status value_read(const struct emb_study *s, size_t i, const char *key,
                                  const struct emb_place *p, const struct emb_units *u,
                                  const char *text, double *out, struct emb_err *err)
{
    struct emb_err own = {EMB_OK, "", ""};
    const enum emb_status st = emb_place_parse(p, u, text, out, &own);
    if (st != EMB_OK) {
        char where[160];
        snprintf(where, sizeof where, "%.100s: axes[%zu].%s", s->cfg.file, i, key);
        emb_fail(err, st, where, "%s", own.msg);
    }
    return st;
}

/* Log spacing needs positive numbers, and a temperature in kelvin is no ratio anyone means. */
static enum emb_status spacing_check(const struct emb_study *s, size_t i, double lo,
                                     struct emb_err *err)
{
    const struct emb_axis *a = &s->axis[i];
    if (a->spacing == EMB_LOG && (lo <= 0.0 || a->dim == EMB_DIM_TEMPERATURE)) {
        return emb_fail(err, EMB_ERR_CONFIG, s->cfg.file,
                        "axes[%zu].spacing: log needs values "
                        "above zero, and no temperatures",
                        i);
    }
    return EMB_OK;
}

static enum emb_status levels_read(struct emb_study *s, size_t i, const struct emb_place *p,
                                   const struct emb_units *u, struct emb_err *err)
{
    const struct emb_texts *values = &s->cfg.axis[i].values;
    struct emb_axis *a = &s->axis[i];
    a->level = calloc(values->n, sizeof *a->level);
    if (a->level == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, s->cfg.file, "out of memory");
    }
    a->n_level = values->n;
    for (size_t k = 0; k < values->n; k++) {
        const enum emb_status st =
            value_read(s, i, "values", p, u, values->item[k], &a->level[k], err);
        if (st != EMB_OK) {
            return st;
        }
    }
    return EMB_OK;
}

static enum emb_status steps_make(struct emb_study *s, size_t i, struct emb_err *err)
{
    struct emb_axis *a = &s->axis[i];
    const size_t n = (size_t)s->cfg.axis[i].steps;
    if (n < 2) {
        return emb_fail(err, EMB_ERR_CONFIG, s->cfg.file,
                        "axes[%zu]: a grid needs steps (2 or more) or values", i);
    }
    a->level = calloc(n, sizeof *a->level);
    if (a->level == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, s->cfg.file, "out of memory");
    }
    a->n_level = n;
    for (size_t k = 0; k < n; k++) {
        const double x = (double)k / (double)(n - 1);
        a->level[k] =
            a->spacing == EMB_LOG ? a->lo * pow(a->hi / a->lo, x) : a->lo + x * (a->hi - a->lo);
    }
    a->level[n - 1] = a->hi; /* exactly */
    return EMB_OK;
}

static enum emb_status range_read(struct emb_study *s, size_t i, const struct emb_place *p,
                                  const struct emb_units *u, struct emb_err *err)
{
    const struct emb_axis_cfg *c = &s->cfg.axis[i];
    struct emb_axis *a = &s->axis[i];
    enum emb_status st = value_read(s, i, "from", p, u, c->from, &a->lo, err);
    st = st == EMB_OK ? value_read(s, i, "to", p, u, c->to, &a->hi, err) : st;
    if (st == EMB_OK && !(a->lo < a->hi)) {
        st = emb_fail(err, EMB_ERR_CONFIG, s->cfg.file, "axes[%zu]: from must be below to", i);
    }
    return st == EMB_OK ? spacing_check(s, i, a->lo, err) : st;
}

/* "8 %" of the mean, or a quantity; a temperature's is a difference. */
static enum emb_status sd_read(struct emb_study *s, size_t i, const struct emb_units *u,
                               struct emb_err *err)
{
    struct emb_axis *a = &s->axis[i];
    const char *text = s->cfg.axis[i].sd;
    const enum emb_dim dim = a->dim == EMB_DIM_TEMPERATURE ? EMB_DIM_DELTA : a->dim;
    char msg[EMB_UNIT_MSG], other[EMB_UNIT_MSG];
    double share = 0.0;
    if (a->dim != EMB_DIM_FRACTION &&
        emb_quantity_parse(u, text, EMB_DIM_FRACTION, &share, other) == 0) {
        a->sd = share * fabs(a->mean);
    } else if (emb_quantity_parse(u, text, dim, &a->sd, msg) != 0) {
        return emb_fail(err, EMB_ERR_CONFIG, s->cfg.file, "axes[%zu].sd: %s", i, msg);
    }
    return EMB_OK;
}

/* Cut off at what the key allows, and at from and to if given. */
static enum emb_status normal_read(struct emb_study *s, size_t i, const struct emb_case *base,
                                   const struct emb_place *p, const struct emb_units *u,
                                   struct emb_err *err)
{
    const struct emb_axis_cfg *c = &s->cfg.axis[i];
    struct emb_axis *a = &s->axis[i];
    enum emb_status st = EMB_OK;
    a->mean = emb_place_get(base, p);
    a->sd = emb_place_spread(base, p);
    if (c->mean != NULL) {
        st = value_read(s, i, "mean", p, u, c->mean, &a->mean, err);
    }
    if (st == EMB_OK && c->sd != NULL) {
        st = sd_read(s, i, u, err);
    }
    if (c->from == NULL) {
        a->lo = p->min;
        a->hi = p->max;
    }
    if (st == EMB_OK && !(a->sd > 0.0 && isfinite(a->mean))) {
        st = emb_fail(err, EMB_ERR_CONFIG, s->cfg.file,
                      "axes[%zu]: '%.80s' has no %s of its own: give %s", i, c->key,
                      isfinite(a->mean) ? "spread" : "value", isfinite(a->mean) ? "sd" : "mean");
    }
    if (st == EMB_OK && a->spacing == EMB_LOG) {
        st = spacing_check(s, i, a->mean, err);
        a->sd = a->sd / a->mean; /* to first order, of the logarithm */
        a->mean = log(a->mean);
        a->lo = a->lo > 0.0 ? log(a->lo) : -INFINITY;
        a->hi = log(a->hi);
    }
    return st;
}

enum emb_status emb_axis_init(struct emb_study *s, size_t i, const struct emb_case *base,
                              const struct emb_units *u, struct emb_err *err)
{
    const struct emb_axis_cfg *c = &s->cfg.axis[i];
    struct emb_axis *a = &s->axis[i];
    struct emb_place p;
    enum emb_status st = EMB_OK;
    a->spacing = c->spacing;
    a->distribution = c->distribution;
    if (a->choice) {
        a->n_level = c->values.n;
        a->text = c->values.item;
        return EMB_OK;
    }
    if ((st = emb_place_find(base, c->key, &p, err)) != EMB_OK) {
        return st;
    }
    a->dim = p.dim;
    a->unit = emb_dim_si(p.dim);
    a->meaning = p.field->help;
    if (c->values.n > 0) {
        return levels_read(s, i, &p, u, err);
    }
    if (c->from != NULL && (st = range_read(s, i, &p, u, err)) != EMB_OK) {
        return st;
    }
    const bool grid = s->cfg.design == EMB_DESIGN_GRID;
    if (!grid && a->distribution == EMB_NORMAL) {
        return normal_read(s, i, base, &p, u, err);
    }
    if (c->from == NULL) {
        return emb_fail(err, EMB_ERR_CONFIG, s->cfg.file,
                        "axes[%zu]: needs values, or from and to%s", i,
                        grid ? "" : ", or distribution: normal");
    }
    return grid ? steps_make(s, i, err) : EMB_OK;
}

double emb_axis_value(const struct emb_axis *a, double u)
{
    if (a->n_level > 0) {
        const size_t k = (size_t)(u * (double)a->n_level);
        const size_t level = k < a->n_level ? k : a->n_level - 1;
        return a->choice ? (double)level : a->level[level];
    }
    if (a->distribution == EMB_NORMAL) {
        const double lo = gsl_cdf_gaussian_P(a->lo - a->mean, a->sd);
        const double hi = gsl_cdf_gaussian_P(a->hi - a->mean, a->sd);
        const double x = a->mean + gsl_cdf_gaussian_Pinv(lo + u * (hi - lo), a->sd);
        const double cut = fmin(fmax(x, a->lo), a->hi);
        return a->spacing == EMB_LOG ? exp(cut) : cut;
    }
    return a->spacing == EMB_LOG ? a->lo * pow(a->hi / a->lo, u) : a->lo + u * (a->hi - a->lo);
}
