/* readings_band.c - how far the readings of trucks like this lie apart. */
#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/batch.h"
#include "find.h"
#include "likely_draw.h"
#include "readings_pick.h"

struct work {
    const struct emb_likely *l;
    const struct emb_case *coarse;
    const struct emb_band_options *o;
    struct emb_readings *r;
    double every; /* [s] */
    double *K;    /* [K] n tables; NaN: that run failed */
    size_t done;
    bool cancelled;
};

static enum emb_status make(size_t i, void *user, struct emb_case *out, struct emb_err *err)
{
    const struct work *w = user;
    const enum emb_status st = emb_likely_truck(w->l, w->coarse, i, out, err);
    if (st == EMB_OK) {
        if (w->r->as_new) { /* sensors stay as they were drawn: within their tolerance */
            emb_readings_renew(out);
        }
        out->output_interval = w->every;
    }
    return st;
}

static enum emb_status take(size_t i, enum emb_status status, const struct emb_err *why,
                            const struct emb_result *r, void *user)
{
    struct work *w = user;
    struct emb_readings one = {0};
    const size_t n = w->r->n_row * w->r->n_column;
    (void)why;
    if (status == EMB_OK && emb_readings_pick(w->coarse, r, &one, NULL) == EMB_OK &&
        one.n_row == w->r->n_row) {
        memcpy(w->K + i * n, one.K, n * sizeof *one.K);
    }
    emb_readings_free(&one);
    if (w->o->progress != NULL &&
        !w->o->progress((double)++w->done / (double)w->l->n, w->o->user)) {
        w->cancelled = true;
        return EMB_ERR_SOLVER;
    }
    return EMB_OK;
}

/* Percentiles of one cell over the runs that have it; the reading itself, of a full run, is never
 * outside. */
static void cell_band(const struct work *w, size_t cell, double *v)
{
    const size_t size = w->r->n_row * w->r->n_column;
    size_t n = 0;
    for (size_t i = 0; i < w->l->n; i++) {
        if (isfinite(w->K[i * size + cell])) {
            v[n++] = w->K[i * size + cell];
        }
    }
    gsl_sort(v, 1, n);
    w->r->low[cell] = w->r->high[cell] = w->r->K[cell];
    if (n > 0) {
        w->r->low[cell] =
            fmin(w->r->K[cell], gsl_stats_quantile_from_sorted_data(v, 1, n, 0.1));
        w->r->high[cell] =
            fmax(w->r->K[cell], gsl_stats_quantile_from_sorted_data(v, 1, n, 0.9));
    }
}

static size_t finished(const struct work *w)
{
    const size_t size = w->r->n_row * w->r->n_column;
    size_t n = 0;
    for (size_t i = 0; i < w->l->n; i++) {
        n += isfinite(w->K[i * size]);
    }
    return n;
}

static enum emb_status spread(struct work *w, struct emb_err *err)
{
    const size_t n = w->r->n_row * w->r->n_column;
    double *v = malloc((w->l->n + 1) * sizeof *v);
    w->K = malloc(w->l->n * (n + 1) * sizeof *w->K);
    w->r->low = malloc((n + 1) * sizeof *w->r->low);
    w->r->high = malloc((n + 1) * sizeof *w->r->high);
    enum emb_status st = EMB_OK;
    if (v == NULL || w->K == NULL || w->r->low == NULL || w->r->high == NULL) {
        st = emb_fail(err, EMB_ERR_NOMEM, "readings", "out of memory");
    }
    for (size_t i = 0; st == EMB_OK && i < w->l->n * n; i++) {
        w->K[i] = NAN;
    }
    if (st == EMB_OK) {
        const struct emb_batch b = {.threads = w->o->threads, .n = w->l->n, .make = make,
                                    .take = take, .user = w, .max_steps = SHOP_MAX_STEPS};
        st = emb_batch_run(&b, err);
        st = w->cancelled ? emb_fail(err, EMB_ERR_SOLVER, "readings", "cancelled") : st;
    }
    for (size_t i = 0; st == EMB_OK && i < n; i++) {
        cell_band(w, i, v);
    }
    w->r->n_band = st == EMB_OK ? finished(w) : 0;
    free(v);
    free(w->K);
    return st;
}

enum emb_status emb_readings_band(const struct emb_case *c, const struct emb_band_options *o,
                                  struct emb_readings *r, struct emb_err *err)
{
    struct emb_likely l = {.n = o->samples > 0 ? o->samples : 32, .seed = o->seed, .cells = 3,
                           .rtol = emb_likely_rtol};
    struct emb_case healthy, coarse;
    enum emb_status st = emb_case_copy(c, &healthy, err);
    if (st != EMB_OK) {
        return st;
    }
    emb_readings_heal(&healthy, r->as_new);
    st = emb_likely_begin(&healthy, o->set, o->n_set, &l, &coarse, err);
    if (st == EMB_OK && l.n_input > 0 && r->n_row > 1) {
        struct work w = {.l = &l, .coarse = &coarse, .o = o, .r = r, .every = r->t[1] - r->t[0]};
        st = spread(&w, err);
    }
    if (st == EMB_OK) {
        emb_case_free(&coarse);
    }
    emb_likely_free(&l);
    emb_case_free(&healthy);
    return st;
}
