/* sensitivity.c - elementary effects and variance-based indices with bootstrap intervals.
 *
 * First: Saltelli et al. 2010, Comput. Phys. Commun. 181:259, Table 2 (b); total: Jansen 1999, ibid.
 * (f). Outputs are centred first, which takes most of the noise out of (b). */
#include "emberpipe/sensitivity.h"

#include <gsl/gsl_rng.h>
#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { RESAMPLES = 1000, LEAST_BLOCKS = 4 }; /* judgement: percentiles of 2.5 % are steady by then */

/* Blocks without a gap go to the front of `whole`; returns how many there are. */
static size_t whole_blocks(size_t n, size_t size, const double *y, size_t *whole)
{
    size_t kept = 0;
    for (size_t b = 0; b < n; b++) {
        bool ok = true;
        for (size_t k = 0; k < size; k++) {
            ok = ok && isfinite(y[b * size + k]);
        }
        if (ok) {
            whole[kept++] = b;
        }
    }
    return kept;
}

/* Percentiles of the resampled values of item i of n; values: RESAMPLES x n, strided; scratch:
 * RESAMPLES. */
static void band_read(const double *values, size_t n, size_t i, double *scratch,
                      struct emb_band *band)
{
    for (size_t r = 0; r < RESAMPLES; r++) {
        scratch[r] = values[r * n + i];
        if (!isfinite(scratch[r])) {
            band->lo = band->hi = NAN;
            return;
        }
    }
    gsl_sort(scratch, 1, RESAMPLES);
    band->lo = gsl_stats_quantile_from_sorted_data(scratch, 1, RESAMPLES, 0.025);
    band->hi = gsl_stats_quantile_from_sorted_data(scratch, 1, RESAMPLES, 0.975);
}

/* What is estimated from terms, a row of them for each block; weight: how often a block counts. */
struct estimate {
    size_t n_axis, n, n_term; /* terms of a block */
    const double *terms;
    size_t n_value;
    void (*compute)(const struct estimate *e, const double *weight, double *value);
};

/* values: RESAMPLES x n_value. */
static enum emb_status bootstrap(const struct estimate *e, double *values, struct emb_err *err)
{
    double *weight = calloc(e->n + 1, sizeof *weight);
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    if (weight == NULL || rng == NULL) {
        free(weight);
        gsl_rng_free(rng);
        return emb_fail(err, EMB_ERR_NOMEM, "analysis", "out of memory");
    }
    for (size_t r = 0; r < RESAMPLES; r++) {
        memset(weight, 0, e->n * sizeof *weight);
        for (size_t i = 0; i < e->n; i++) {
            weight[gsl_rng_uniform_int(rng, (unsigned long)e->n)] += 1.0;
        }
        e->compute(e, weight, values + r * e->n_value);
    }
    gsl_rng_free(rng);
    free(weight);
    return EMB_OK;
}

static void moments(const double *x, size_t n, struct emb_sensitivity *out)
{
    out->mean = gsl_stats_mean(x, 1, n);
    out->sd = gsl_stats_sd_m(x, 1, n, out->mean);
}

/* ---- screening: one term an axis, its elementary effect ---- */
static void mean_sizes(const struct estimate *e, const double *weight, double *value)
{
    memset(value, 0, e->n_value * sizeof *value);
    for (size_t b = 0; b < e->n; b++) {
        for (size_t d = 0; d < e->n_axis; d++) {
            value[d] += weight[b] * fabs(e->terms[b * e->n_axis + d]) / (double)e->n;
        }
    }
}

static void path_effects(size_t n_axis, const double *cube, const double *y, double *effect)
{
    for (size_t k = 0; k < n_axis; k++) {
        for (size_t d = 0; d < n_axis; d++) {
            const double moved = cube[(k + 1) * n_axis + d] - cube[k * n_axis + d];
            if (fabs(moved) > 1e-6) {
                effect[d] = (y[k + 1] - y[k]) / moved;
            }
        }
    }
}

static enum emb_status screening_fill(const struct estimate *e, double *values, double *scratch,
                                      struct emb_sensitivity *out, struct emb_err *err)
{
    enum emb_status st = bootstrap(e, values, err);
    for (size_t d = 0; st == EMB_OK && d < e->n_axis; d++) {
        struct emb_influence *a = &out->axis[d];
        double sum = 0.0;
        for (size_t b = 0; b < e->n; b++) {
            sum += fabs(e->terms[b * e->n_axis + d]);
        }
        a->effect.value = sum / (double)e->n;
        a->drift = gsl_stats_mean(e->terms + d, e->n_axis, e->n);
        a->uneven = gsl_stats_sd_m(e->terms + d, e->n_axis, e->n, a->drift);
        band_read(values, e->n_value, d, scratch, &a->effect);
    }
    return st;
}

/* ---- variance: terms f(A), f(B), and two products an axis ---- */
static void shares(const struct estimate *e, const double *weight, double *value)
{
    const size_t k = e->n_axis;
    double sum = 0.0, square = 0.0;
    memset(value, 0, e->n_value * sizeof *value);
    for (size_t b = 0; b < e->n; b++) {
        const double *t = e->terms + b * e->n_term;
        sum += weight[b] * (t[0] + t[1]);
        square += weight[b] * (t[0] * t[0] + t[1] * t[1]);
        for (size_t d = 0; d < 2 * k; d++) {
            value[d] += weight[b] * t[2 + d];
        }
    }
    const double n = (double)e->n, mean = sum / (2.0 * n), v = square / (2.0 * n) - mean * mean;
    for (size_t d = 0; d < 2 * k; d++) {
        value[d] = v > 0.0 ? value[d] / (n * v) : NAN;
    }
}

static void block_terms(size_t n_axis, const double *y, double mean, double *t)
{
    t[0] = y[0] - mean;
    t[1] = y[1] - mean;
    for (size_t d = 0; d < n_axis; d++) {
        const double moved = y[2 + d] - mean;
        t[2 + d] = t[1] * (moved - t[0]);
        t[2 + n_axis + d] = 0.5 * (t[0] - moved) * (t[0] - moved);
    }
}

static enum emb_status variance_fill(const struct estimate *e, double *values, double *scratch,
                                     struct emb_sensitivity *out, struct emb_err *err)
{
    double *weight = scratch; /* first as ones: n or RESAMPLES long, whichever is more */
    for (size_t b = 0; b < e->n; b++) {
        weight[b] = 1.0;
    }
    e->compute(e, weight, values);
    for (size_t d = 0; d < e->n_axis; d++) {
        /* what is rounding of a constant is no variance */
        const bool varies = out->sd > 1e-9 * fabs(out->mean);
        out->axis[d].first.value = varies ? values[d] : NAN;
        out->axis[d].total.value = varies ? values[e->n_axis + d] : NAN;
    }
    enum emb_status st = bootstrap(e, values, err);
    for (size_t d = 0; st == EMB_OK && d < e->n_axis; d++) {
        band_read(values, e->n_value, d, scratch, &out->axis[d].first);
        band_read(values, e->n_value, e->n_axis + d, scratch, &out->axis[d].total);
    }
    return st;
}

struct room { /* memory of one computation */
    size_t *whole;
    double *terms, *values, *scratch, *plain;
};

static enum emb_status room_make(size_t n, size_t n_term, size_t n_value, size_t n_plain,
                                 struct room *m, struct emb_err *err)
{
    m->whole = calloc(n + 1, sizeof *m->whole);
    m->terms = calloc(n * n_term + 1, sizeof *m->terms);
    m->values = calloc((size_t)RESAMPLES * n_value + 1, sizeof *m->values);
    m->scratch = calloc(n + RESAMPLES, sizeof *m->scratch);
    m->plain = calloc(n * n_plain + 1, sizeof *m->plain);
    return m->whole != NULL && m->terms != NULL && m->values != NULL && m->scratch != NULL &&
                   m->plain != NULL
               ? EMB_OK
               : emb_fail(err, EMB_ERR_NOMEM, "analysis", "out of memory");
}

static void room_free(struct room *m)
{
    free(m->whole);
    free(m->terms);
    free(m->values);
    free(m->scratch);
    free(m->plain);
}

static enum emb_status too_few(size_t used, size_t n, struct emb_err *err)
{
    return emb_fail(err, EMB_ERR_CONFIG, "analysis",
                    "only %zu of %zu blocks are whole; %d are needed: finish the study, or take an "
                    "output that exists in every case (.best instead of .time)",
                    used, n, (int)LEAST_BLOCKS);
}

/* The blocks that can be used; an error when they are too few. */
static enum emb_status blocks_find(size_t n, size_t size, const double *y, size_t *whole,
                                   struct emb_sensitivity *out, struct emb_err *err)
{
    out->used = whole_blocks(n, size, y, whole);
    out->absent = n - out->used;
    return out->used < LEAST_BLOCKS ? too_few(out->used, n, err) : EMB_OK;
}

enum emb_status emb_screening_compute(size_t n_axis, size_t n, const double *cube, const double *y,
                                      struct emb_sensitivity *out, struct emb_err *err)
{
    const size_t size = n_axis + 1;
    struct room m = {0};
    enum emb_status st = room_make(n, n_axis, n_axis, size, &m, err);
    if (st == EMB_OK) {
        st = blocks_find(n, size, y, m.whole, out, err);
    }
    if (st == EMB_OK) {
        for (size_t b = 0; b < out->used; b++) {
            const size_t at = m.whole[b] * size;
            memcpy(m.plain + b * size, y + at, size * sizeof *y);
            path_effects(n_axis, cube + at * n_axis, y + at, m.terms + b * n_axis);
        }
        moments(m.plain, out->used * size, out);
        const struct estimate e = {n_axis, out->used, n_axis, m.terms, n_axis, mean_sizes};
        st = screening_fill(&e, m.values, m.scratch, out, err);
    }
    room_free(&m);
    return st;
}

enum emb_status emb_variance_compute(size_t n_axis, size_t n, const double *y,
                                     struct emb_sensitivity *out, struct emb_err *err)
{
    const size_t size = n_axis + 2, n_term = 2 * n_axis + 2;
    struct room m = {0};
    enum emb_status st = room_make(n, n_term, 2 * n_axis, 2, &m, err);
    if (st == EMB_OK) {
        st = blocks_find(n, size, y, m.whole, out, err);
    }
    if (st == EMB_OK) {
        for (size_t b = 0; b < out->used; b++) {
            memcpy(m.plain + 2 * b, y + m.whole[b] * size, 2 * sizeof *y);
        }
        moments(m.plain, 2 * out->used, out);
        for (size_t b = 0; b < out->used; b++) {
            block_terms(n_axis, y + m.whole[b] * size, out->mean, m.terms + b * n_term);
        }
        const struct estimate e = {n_axis, out->used, n_term, m.terms, 2 * n_axis, shares};
        st = variance_fill(&e, m.values, m.scratch, out, err);
    }
    room_free(&m);
    return st;
}
