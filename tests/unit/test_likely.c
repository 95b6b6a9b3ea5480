/* The counting of a likelihood on distributions whose answer is known, and on one case. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <gsl/gsl_cdf.h>

#include "assert_close.h"
#include "demo_case.h"
#include "emberpipe/likely.h"

/* Exact binomial intervals as R's binom.test gives them: 8 of 10, 0 of 10, 87 of 100. */
static void test_interval(void **state)
{
    double lo = 0.0, hi = 0.0;
    (void)state;
    emb_likely_interval(8, 10, &lo, &hi);
    assert_close(lo, 0.4439045, 0, 1e-6);
    assert_close(hi, 0.9747893, 0, 1e-6);
    emb_likely_interval(0, 10, &lo, &hi);
    assert_close(lo, 0.0, 0, 0);
    assert_close(hi, 1.0 - pow(0.025, 0.1), 0, 1e-9); /* (1 - p)^10 = 0.025 */
    emb_likely_interval(10, 10, &lo, &hi);
    assert_close(lo, pow(0.025, 0.1), 0, 1e-9);
    assert_close(hi, 1.0, 0, 0);
}

/* The draw is a normal distribution cut at 2.5 sigma: its moments are known in closed form. */
static void test_draw(void **state)
{
    enum { N = 20000 };
    double mean = 0.0, var = 0.0, most = 0.0;
    (void)state;
    for (int i = 0; i < N; i++) {
        const double x = emb_likely_draw((i + 0.5) / N, 3.0, 2.0);
        mean += x / N;
        var += (x - 3.0) * (x - 3.0) / N;
        most = fmax(most, fabs(x - 3.0));
    }
    const double phi = exp(-0.5 * 2.5 * 2.5) / sqrt(2.0 * 3.14159265358979323846);
    const double mass = 1.0 - 2.0 * gsl_cdf_ugaussian_Q(2.5);
    assert_close(mean, 3.0, 0, 1e-6);
    assert_close(var, 4.0 * (1.0 - 2.0 * 2.5 * phi / mass), 1e-3, 0); /* truncated normal */
    assert_true(most <= 5.0);
}

/* y = sum of w_k x_k with x uniform: P(y below its median) is 1/2, and with one dimension P(x < p)
 * is p. Of 100 seeds at least 90 intervals must hold the truth. */
static void test_calibrated(void **state)
{
    enum { N = 200, DIMS = 60, SEEDS = 100 };
    double *u = malloc(sizeof *u * N * DIMS);
    int half = 0, rare = 0, late = 0;
    (void)state;
    assert_non_null(u);
    for (unsigned seed = 0; seed < SEEDS; seed++) {
        size_t below = 0, low = 0, far = 0;
        double lo = 0.0, hi = 0.0;
        assert_true(emb_likely_points(N, DIMS, seed, u));
        for (int i = 0; i < N; i++) {
            double y = 0.0;
            for (int k = 0; k < DIMS; k++) {
                assert_true(u[i * DIMS + k] >= 0.0 && u[i * DIMS + k] <= 1.0);
                y += (u[i * DIMS + k] - 0.5) / (1.0 + k);
            }
            below += y < 0.0;
            low += u[i * DIMS] < 0.1;
            far += u[i * DIMS + 50] < 0.8;
        }
        emb_likely_interval(below, N, &lo, &hi);
        half += lo <= 0.5 && 0.5 <= hi;
        emb_likely_interval(low, N, &lo, &hi);
        rare += lo <= 0.1 && 0.1 <= hi;
        emb_likely_interval(far, N, &lo, &hi);
        late += lo <= 0.8 && 0.8 <= hi;
    }
    free(u);
    assert_true(half >= 90 && rare >= 90 && late >= 90);
}

/* Of independent unknowns no two may go together by more than chance: correlations scatter by
 * 1/sqrt(N - 1), and of these 6903 pairs none passes five times that once in 200 seeds. */
static void test_unknowns_are_independent(void **state)
{
    enum { N = 128, DIMS = 118 };
    double *u = malloc(sizeof *u * N * DIMS), a[N], b[N];
    (void)state;
    assert_non_null(u);
    for (unsigned seed = 1; seed < 4; seed++) {
        assert_true(emb_likely_points(N, DIMS, seed, u));
        for (int k = 0; k < DIMS; k++) {
            for (int j = 0; j < k; j++) {
                for (int i = 0; i < N; i++) {
                    a[i] = u[i * DIMS + k];
                    b[i] = u[i * DIMS + j];
                }
                assert_true(fabs(emb_likely_rank(a, b, N)) < 5.0 / sqrt(N - 1.0));
            }
        }
    }
    free(u);
}

/* y = x1 + x2/2 + 0 x3 of independent uniforms: Pearson's correlations are 2/sqrt(5), 1/sqrt(5), 0;
 * Spearman's are close to them. Missing values are left out. */
static void test_rank(void **state)
{
    enum { N = 2000 };
    double u[3 * N], x[3][N], y[N];
    (void)state;
    assert_true(emb_likely_points(N, 3, 7, u));
    for (int i = 0; i < N; i++) {
        for (int k = 0; k < 3; k++) {
            x[k][i] = u[3 * i + k];
        }
        y[i] = x[0][i] + 0.5 * x[1][i];
    }
    y[17] = NAN;
    /* three times 1/sqrt(N - 1), by which samples of independent numbers go together */
    assert_close(emb_likely_rank(x[0], y, N), 2.0 / sqrt(5.0), 0, 0.067);
    assert_close(emb_likely_rank(x[1], y, N), 1.0 / sqrt(5.0), 0, 0.067);
    assert_close(emb_likely_rank(x[2], y, N), 0.0, 0, 0.067);
    const double same[4] = {1, 1, 1, 1};
    assert_close(emb_likely_rank(x[0], same, 4), 0.0, 0, 0);
}

static void test_range(void **state)
{
    double v[102];
    (void)state;
    for (int i = 0; i < 101; i++) {
        v[i] = (37 * i) % 101; /* 0 .. 100 in another order */
    }
    v[101] = NAN;
    const struct emb_range r = emb_likely_range(v, 102);
    assert_int_equal(r.n, 101);
    assert_close(r.low, 10.0, 0, 1e-9);
    assert_close(r.mid, 50.0, 0, 1e-9);
    assert_close(r.high, 90.0, 0, 1e-9);
}

/* What is stated stays; the same seed gives the same counts; what matters is named. */
static void test_case(void **state)
{
    struct emb_case c;
    struct emb_err err = {0};
    struct emb_likely a, b;
    static const char *const set[] = {"ambient.humidity=40 %"};
    struct emb_likely_options o = {.samples = 6, .seed = 3, .cells = 1, .set = set, .n_set = 1};
    assert_int_equal(emb_case_copy(*state, &c, &err), EMB_OK);
    c.duty[0].duration = 300.0;
    c.duty[1].duration = 300.0;
    assert_int_equal(emb_likely(&c, &o, &a, &err), EMB_OK);
    o.threads = 1;
    assert_int_equal(emb_likely(&c, &o, &b, &err), EMB_OK);
    assert_int_equal(a.n, 6);
    assert_int_equal(a.failed, 0);
    assert_int_equal(a.n_target, c.n_target);
    bool idle = false;
    for (size_t i = 0; i < a.n_input; i++) {
        assert_null(strstr(a.input[i].place.path, "ambient.wind")); /* stated in the file */
        assert_true(a.input[i].sigma > 0.0);
        idle = idle || strcmp(a.input[i].place.path, "engine.friction") == 0;
    }
    assert_true(idle);
    for (size_t k = 0; k < a.n_target; k++) {
        assert_int_equal(a.target[k].reached, b.target[k].reached);
        assert_memory_equal(a.target[k].margin, b.target[k].margin, 6 * sizeof(double));
    }
    emb_likely_free(&a);
    emb_likely_free(&b);
    emb_case_free(&c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_interval),   cmocka_unit_test(test_draw),
        cmocka_unit_test(test_calibrated), cmocka_unit_test(test_unknowns_are_independent), cmocka_unit_test(test_rank),
        cmocka_unit_test(test_range),      cmocka_unit_test(test_case),
    };
    return cmocka_run_group_tests(tests, demo_case_load, demo_case_unload);
}
