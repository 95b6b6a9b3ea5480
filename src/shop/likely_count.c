/* likely_count.c - points, draws and counts: the statistics of a likelihood, without any model. */
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/likely.h"

static void latin_column(gsl_rng *rng, size_t n, size_t dims, size_t k, size_t *order, double *u)
{
    for (size_t i = 0; i < n; i++) {
        order[i] = i;
    }
    gsl_ran_shuffle(rng, order, n, sizeof *order);
    for (size_t i = 0; i < n; i++) {
        u[i * dims + k] = ((double)order[i] + gsl_rng_uniform_pos(rng)) / (double)n;
    }
}

/* A Latin hypercube (McKay, Beckman & Conover 1979). No low-discrepancy sequence: with some hundred
 * points of as many dimensions pairs of its columns go together (0.7 was seen), and an unknown
 * without any effect is then told for the one it goes with. */
bool emb_likely_points(size_t n, size_t dims, unsigned seed, double *u)
{
    size_t *order = malloc((n + 1) * sizeof *order);
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    const bool ok = order != NULL && rng != NULL;
    if (ok) {
        gsl_rng_set(rng, seed);
        for (size_t k = 0; k < dims; k++) {
            latin_column(rng, n, dims, k, order, u);
        }
    }
    if (rng != NULL) {
        gsl_rng_free(rng);
    }
    free(order);
    return ok;
}

double emb_likely_draw(double u, double value, double sigma)
{
    static const double cut = 2.5; /* [-] sigmas: what lies beyond is no truck like this, judgement */
    const double p = gsl_cdf_ugaussian_P(-cut), at = p + u * (1.0 - 2.0 * p);
    return value + sigma * gsl_cdf_ugaussian_Pinv(fmin(fmax(at, p), 1.0 - p));
}

void emb_likely_interval(size_t hits, size_t n, double *lo, double *hi)
{
    const double k = (double)hits, m = (double)n;
    *lo = hits == 0 ? 0.0 : gsl_cdf_beta_Pinv(0.025, k, m - k + 1.0);
    *hi = hits == n ? 1.0 : gsl_cdf_beta_Pinv(0.975, k + 1.0, m - k);
}

double emb_likely_rank(const double *a, const double *b, size_t n)
{
    double *x = malloc((4 * n + 1) * sizeof *x), rank = 0.0;
    size_t m = 0;
    if (x == NULL) {
        return 0.0;
    }
    double *y = x + n;
    for (size_t i = 0; i < n; i++) {
        if (isfinite(a[i]) && isfinite(b[i])) {
            x[m] = a[i];
            y[m++] = b[i];
        }
    }
    bool moved = false;
    for (size_t i = 1; i < m; i++) {
        moved = moved || y[i] != y[0];
    }
    if (m > 3 && moved) {
        rank = gsl_stats_spearman(x, 1, y, 1, m, x + 2 * n);
    }
    free(x);
    return isfinite(rank) ? rank : 0.0;
}

struct emb_range emb_likely_range(const double *v, size_t n)
{
    struct emb_range r = {0, NAN, NAN, NAN};
    double *s = malloc((n + 1) * sizeof *s);
    for (size_t i = 0; s != NULL && i < n; i++) {
        if (isfinite(v[i])) {
            s[r.n++] = v[i];
        }
    }
    if (r.n > 0) {
        gsl_sort(s, 1, r.n);
        r.low = gsl_stats_quantile_from_sorted_data(s, 1, r.n, 0.1);
        r.mid = gsl_stats_quantile_from_sorted_data(s, 1, r.n, 0.5);
        r.high = gsl_stats_quantile_from_sorted_data(s, 1, r.n, 0.9);
    }
    free(s);
    return r;
}
