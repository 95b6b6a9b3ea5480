/* Sensitivities: published test functions with analytic indices, through the designs and estimators
 * of the studies. */
#include <gsl/gsl_statistics.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "assert_close.h"
#include "emberpipe/sensitivity.h"
#include "emberpipe/study_local.h"
#include "study/study_impl.h"

enum { MAX_AXES = 25 };
static const double pi = 3.14159265358979323846;

struct tried {
    struct emb_sensitivity s;
    struct emb_influence axis[MAX_AXES];
};

/* f over blocks of the design, then the estimator; `lost` cases have no value. */
static void try_design(enum emb_design design, size_t dims, size_t blocks, int seed,
                       double (*f)(const double *u, size_t n), size_t lost, struct tried *out)
{
    struct emb_err err = {EMB_OK, "", ""};
    const size_t n = blocks * emb_sampler_block(design, dims);
    struct emb_sampler *sampler = emb_sampler_new(design, n, dims, seed, &err);
    double *cube = calloc(n * dims, sizeof *cube), *y = calloc(n, sizeof *y);
    assert_true(sampler != NULL && cube != NULL && y != NULL);
    for (size_t i = n; i-- > 0;) { /* in any order, as threads and ranks ask */
        emb_sampler_point(sampler, i, cube + i * dims);
        y[i] = i < lost ? NAN : f(cube + i * dims, dims);
    }
    *out = (struct tried){0};
    out->s.axis = out->axis;
    const enum emb_status st =
        design == EMB_DESIGN_SCREEN
            ? emb_screening_compute(dims, blocks, cube, y, &out->s, &err)
            : emb_variance_compute(dims, blocks, y, &out->s, &err);
    if (st != EMB_OK) {
        fail_msg("%s", err.msg);
    }
    emb_sampler_free(sampler);
    free(cube);
    free(y);
}

static double ishigami(const double *u, size_t n)
{
    const double x1 = pi * (2.0 * u[0] - 1.0), x2 = pi * (2.0 * u[1] - 1.0),
                 x3 = pi * (2.0 * u[2] - 1.0);
    (void)n;
    return sin(x1) + 7.0 * sin(x2) * sin(x2) + 0.1 * x3 * x3 * x3 * x3 * sin(x1);
}

/* Ishigami & Homma 1990, First Int. Symp. on Uncertainty Modelling and Analysis: variances in closed
 * form; printed as 0.314, 0.442, 0 and 0.558, 0.442, 0.244 in Saltelli et al. 2008, Global
 * Sensitivity Analysis: The Primer. */
static void ishigami_indices(void **state)
{
    const double a = 7.0, b = 0.1, p4 = pow(pi, 4), p8 = p4 * p4;
    const double v1 = 0.5 * (1.0 + b * p4 / 5.0) * (1.0 + b * p4 / 5.0), v2 = a * a / 8.0,
                 v13 = 8.0 * b * b * p8 / 225.0, v = v1 + v2 + v13;
    const double first[] = {v1 / v, v2 / v, 0.0},
                 total[] = {(v1 + v13) / v, v2 / v, v13 / v};
    struct tried t;
    (void)state;
    assert_close(first[0], 0.314, 0, 5e-4); /* the printed ones */
    assert_close(total[2], 0.244, 0, 5e-4);
    for (int seed = 1; seed <= 3; seed++) {
        try_design(EMB_DESIGN_VARIANCE, 3, 4096, seed, ishigami, 0, &t);
        assert_int_equal(t.s.used, 4096);
        assert_close(t.s.mean, a / 2.0, 0.01, 0);
        assert_close(t.s.sd * t.s.sd, v, 0.02, 0);
        for (size_t d = 0; d < 3; d++) {
            const struct emb_influence *f = &t.axis[d];
            assert_close(f->first.value, first[d], 0, 0.015);
            assert_close(f->total.value, total[d], 0, 0.015);
            assert_true(f->first.lo <= first[d] && first[d] <= f->first.hi);
            assert_true(f->total.lo <= total[d] && total[d] <= f->total.hi);
            assert_true(f->first.hi - f->first.lo < 0.12 && f->total.hi - f->total.lo < 0.12);
        }
    }
}

/* Function g of Saltelli & Sobol' 1995, Reliab. Eng. Syst. Saf. 50:225: product of
 * (|4x - 2| + a)/(1 + a); partial variances 1/(3 (1 + a)^2). */
static const double g_a[] = {0.0, 1.0, 4.5, 9.0, 99.0, 99.0, 99.0, 99.0};
static double g_function(const double *u, size_t n)
{
    double product = 1.0;
    for (size_t d = 0; d < n; d++) {
        const double a = d < 8 ? g_a[d] : 99.0;
        product *= (fabs(4.0 * u[d] - 2.0) + a) / (1.0 + a);
    }
    return product;
}

static void g_check(size_t dims, double tolerance)
{
    double part[MAX_AXES], all = 1.0;
    struct tried t;
    for (size_t d = 0; d < dims; d++) {
        const double a = d < 8 ? g_a[d] : 99.0;
        part[d] = 1.0 / (3.0 * (1.0 + a) * (1.0 + a));
        all *= 1.0 + part[d];
    }
    try_design(EMB_DESIGN_VARIANCE, dims, 8192, 5, g_function, 0, &t);
    for (size_t d = 0; d < dims; d++) {
        assert_close(t.axis[d].first.value, part[d] / (all - 1.0), 0, tolerance);
        assert_close(t.axis[d].total.value, part[d] * all / (1.0 + part[d]) / (all - 1.0), 0,
                     tolerance);
    }
}

static void g_indices(void **state)
{
    (void)state;
    g_check(8, 0.015);
    g_check(MAX_AXES, 0.05); /* more coordinates than Sobol's points are good for: random ones, noise 1/sqrt(n) */
}

/* No two coordinates of the widest Sobol design go together: Pearson's correlation, by GSL. */
static void sobol_columns(void **state)
{
    enum { N = 512, D = EMB_SOBOL_AXES };
    static double x[D][N];
    double u[D], worst = 0.0; /* [-] */
    struct emb_err err;
    struct emb_sampler *s = emb_sampler_new(EMB_DESIGN_SOBOL, N, D, 1, &err);
    (void)state;
    assert_non_null(s);
    for (size_t i = 0; i < N; i++) {
        emb_sampler_point(s, i, u);
        for (size_t d = 0; d < D; d++) {
            x[d][i] = u[d];
        }
    }
    for (size_t a = 0; a < D; a++) {
        for (size_t b = 0; b < a; b++) {
            worst = fmax(worst, fabs(gsl_stats_correlation(x[a], 1, x[b], 1, N)));
        }
    }
    assert_true(worst < 0.06);
    emb_sampler_free(s);
}

static double plain(const double *u, size_t n)
{
    (void)n;
    return 3.0 * u[0] - 5.0 * u[1] + 2.0 * u[2] * u[3];
}

/* Elementary effects in closed form: 3 and -5 everywhere; of u2 it is 2 u3, where u3 is 0, 1/3, 2/3 or
 * 1 with equal chance: mean 1, standard deviation 2 sqrt(5)/6. */
static void elementary_effects(void **state)
{
    enum { PATHS = 2000 };
    struct tried t;
    (void)state;
    try_design(EMB_DESIGN_SCREEN, 5, PATHS, 1, plain, 0, &t);
    assert_close(t.axis[0].effect.value, 3.0, 1e-12, 0);
    assert_close(t.axis[1].effect.value, 5.0, 1e-12, 0);
    assert_close(t.axis[1].drift, -5.0, 1e-12, 0);
    assert_close(t.axis[1].uneven, 0.0, 0, 1e-12);
    for (size_t d = 2; d < 4; d++) {
        const double sd = sqrt(5.0) / 3.0;
        assert_close(t.axis[d].effect.value, 1.0, 0, 4.0 * sd / sqrt(PATHS));
        assert_close(t.axis[d].uneven, sd, 0.05, 0);
        /* the interval is as wide as the error of a mean: +-1.96 sd/sqrt(n) */
        assert_close(t.axis[d].effect.hi - t.axis[d].effect.lo, 3.92 * sd / sqrt(PATHS), 0.15, 0);
    }
    assert_true(t.axis[4].effect.value == 0.0 && t.axis[4].effect.hi == 0.0);
}

/* Every path moves every axis once, by 2/3, on the four levels, and uses all of them. */
static void paths_are_paths(void **state)
{
    enum { DIMS = 6, PATHS = 400 };
    struct emb_err err = {EMB_OK, "", ""};
    struct emb_sampler *s =
        emb_sampler_new(EMB_DESIGN_SCREEN, PATHS * (DIMS + 1), DIMS, 3, &err);
    int level[4] = {0}, first[DIMS] = {0};
    (void)state;
    assert_non_null(s);
    for (size_t p = 0; p < PATHS; p++) {
        double before[DIMS], now[DIMS];
        int moves[DIMS] = {0};
        emb_sampler_point(s, p * (DIMS + 1), before);
        for (size_t k = 1; k <= DIMS; k++) {
            size_t moved = 0;
            emb_sampler_point(s, p * (DIMS + 1) + k, now);
            for (size_t d = 0; d < DIMS; d++) {
                const double by = fabs(now[d] - before[d]);
                assert_true(by < 1e-12 || fabs(by - 2.0 / 3.0) < 1e-12);
                assert_true(now[d] > -1e-12 && now[d] < 1.0 + 1e-12);
                moved += by > 0.5;
                moves[d] += by > 0.5;
                first[d] += k == 1 && by > 0.5;
                level[(int)(3.0 * now[d] + 0.5)]++;
                before[d] = now[d];
            }
            assert_int_equal(moved, 1);
        }
        for (size_t d = 0; d < DIMS; d++) {
            assert_int_equal(moves[d], 1);
        }
    }
    for (int l = 0; l < 4; l++) { /* four standard errors of a fair coin of four sides */
        assert_close(level[l], 0.25 * PATHS * DIMS * DIMS, 0.12, 0);
    }
    for (size_t d = 0; d < DIMS; d++) {
        assert_close(first[d], PATHS / 6.0, 0, 4.0 * sqrt(PATHS * 5.0 / 36.0));
    }
    emb_sampler_free(s);
}

/* Slopes of functions whose derivatives are known; exact for a cubic, and for others the error told
 * is not smaller than the true one. */
static void local_slopes(void **state)
{
    const double h = 0.1, at[4] = {1.0 + h, 1.0 - h, 1.0 + h / 2.0, 1.0 - h / 2.0};
    double cubic[4], sine[4], slope, error;
    (void)state;
    for (size_t i = 0; i < 4; i++) {
        cubic[i] = 2.0 * at[i] * at[i] * at[i] - at[i];
        sine[i] = sin(at[i]);
    }
    emb_local_slope(cubic, h, &slope, &error);
    assert_close(slope, 5.0, 1e-12, 0); /* 6 x^2 - 1 */
    assert_close(error, 2.0 * h * h / 4.0, 1e-9, 0); /* third derivative, 12, times (h/2)^2/6 */
    emb_local_slope(sine, h, &slope, &error);
    assert_close(slope, cos(1.0), 1e-6, 0);
    assert_true(error >= fabs(slope - cos(1.0)));
}

static double constant(const double *u, size_t n)
{
    (void)u;
    (void)n;
    return 0.1;
}

static void gaps_and_constants(void **state)
{
    struct emb_err err = {EMB_OK, "", ""};
    struct tried t;
    const double y[10] = {NAN, 1, 2, 3, 4, 5, 6, 7, NAN, 9};
    (void)state;
    try_design(EMB_DESIGN_VARIANCE, 3, 512, 1, ishigami, 11, &t); /* two blocks and a bit */
    assert_true(t.s.used == 509 && t.s.absent == 3);
    try_design(EMB_DESIGN_VARIANCE, 2, 64, 1, constant, 0, &t);
    assert_true(isnan(t.axis[0].first.value) && isnan(t.axis[1].total.value));
    try_design(EMB_DESIGN_SCREEN, 2, 8, 1, constant, 0, &t);
    assert_true(t.axis[0].effect.value == 0.0);
    t.s.axis = t.axis;
    assert_int_equal(emb_variance_compute(3, 2, y, &t.s, &err), EMB_ERR_CONFIG);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ishigami_indices),   cmocka_unit_test(g_indices), cmocka_unit_test(sobol_columns),
        cmocka_unit_test(elementary_effects), cmocka_unit_test(paths_are_paths),
        cmocka_unit_test(local_slopes),       cmocka_unit_test(gaps_and_constants),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
