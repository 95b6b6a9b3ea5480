/* The row-by-row rule on one lump, T' = -k (T - u), whose input u runs straight from row to row.
 * Exact along a straight input u = a + b s: T = a + b (s - 1/k) + (T0 - a + b/k) exp(-k s), by
 * hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdbool.h>

#include "assert_close.h"
#include "emberpipe/ode.h"

enum { ROWS = 60 };

struct lump {
    double k;             /* [1/s] */
    double t0, u0, slope; /* [s], [K], [K/s] of the row we are in */
    double J, gamma;      /* [1/s], [s] */
    double threshold;     /* [K] */
    bool broken;
};

static double input(const struct lump *l, double t)
{
    return l->u0 + l->slope * (t - l->t0);
}

static int rhs(double t, const double *y, double *f, void *user)
{
    const struct lump *l = user;
    f[0] = -l->k * (y[0] - input(l, t));
    return l->broken ? 1 : 0;
}

static int jacobian(double t, const double *y, const double *f, void *user)
{
    struct lump *l = user;
    (void)t;
    (void)y;
    (void)f;
    l->J = -l->k;
    return 0;
}

static int factor(double gamma, void *user)
{
    ((struct lump *)user)->gamma = gamma;
    return 0;
}

static void solve(double *b, void *user)
{
    const struct lump *l = user;
    b[0] /= 1.0 - l->gamma * l->J;
}

/* What the lump takes up, which is what its temperature rises by. */
static int quad(double t, const double *y, double *q, void *user)
{
    return rhs(t, y, q, user);
}

static int roots(double t, const double *y, double *g, void *user)
{
    (void)t;
    g[0] = y[0] - ((const struct lump *)user)->threshold;
    return 0;
}

static const double atol[1] = {1e-3}; /* [K] */

static struct emb_ode lump_ode(struct lump *l)
{
    return (struct emb_ode){.method = EMB_METHOD_TRAPEZOID,
                            .n = 1,
                            .n_quad = 1,
                            .rhs = rhs,
                            .jacobian = jacobian,
                            .factor = factor,
                            .solve = solve,
                            .quad = quad,
                            .roots = roots,
                            .rtol = 1e-6,
                            .atol = atol,
                            .user = l};
}

static struct emb_integrator *start(const struct emb_ode *ode, double T0)
{
    struct emb_err err = {0};
    struct emb_integrator *in = NULL;
    assert_int_equal(emb_integrator_new(ode, 0.0, &T0, &in, &err), EMB_OK);
    return in;
}

/* Rows without a pattern: multiples of the golden section between 480 and 560 K. The first is flat,
 * so that the start, which is of first order, has nothing to do. */
static double row(int i)
{
    return 480.0 + 80.0 * fmod(0.61803398875 * (i > 0 ? i : 1), 1.0);
}

static void enter_row(struct lump *l, int i)
{
    l->t0 = i;
    l->u0 = row(i);
    l->slope = row(i + 1) - row(i);
}

/* Largest error over all rows; each row is passed in `parts` steps at least. */
static double worst_error(double k, int parts, struct emb_counters *c)
{
    struct lump l = {.k = k};
    const struct emb_ode ode = lump_ode(&l);
    struct emb_integrator *in = start(&ode, row(0));
    double exact = row(0), worst = 0.0; /* [K] */
    for (int i = 0; i < ROWS; i++) {
        struct emb_err err = {0};
        enter_row(&l, i);
        for (int p = 1; p <= parts; p++) {
            enum emb_stop why = EMB_STOP_STEP;
            while (why != EMB_STOP_TIME) {
                assert_int_equal(emb_integrator_step(in, i + p / (double)parts, &why, &err),
                                 EMB_OK);
            }
        }
        const double lag = l.slope / k; /* [K] */
        exact = l.u0 + l.slope - lag + (exact - l.u0 + lag) * exp(-k);
        worst = fmax(worst, fabs(emb_integrator_state(in)[0] - exact));
    }
    assert_close(emb_integrator_quads(in)[0], emb_integrator_state(in)[0] - row(0), 0.0, 1e-9);
    *c = emb_integrator_counters(in);
    emb_integrator_free(in);
    return worst;
}

static void test_rows(void **state)
{
    struct emb_counters c;
    (void)state;
    /* a brick's front, 10 s: inputs go up and down by 50 K from row to row */
    const double whole = worst_error(0.1, 1, &c);
    assert_true(whole < 0.06); /* w = 0.52 moves them by 0.02 s, the lump changes by 3 K/s */
    assert_true(c.steps < ROWS + 12 && c.rhs < 2 * ROWS + 24); /* the start takes a few */
    assert_true(c.jac <= 2);
    const double quarter = worst_error(0.1, 4, &c);
    assert_true(quarter < 0.02);
}

/* A state faster than the rows by far is carried along, and does not swing about its input. */
static void test_stiff(void **state)
{
    struct lump l = {.k = 1e4, .u0 = 500.0};
    const struct emb_ode ode = lump_ode(&l);
    struct emb_integrator *in = start(&ode, 300.0);
    struct emb_err err = {0};
    (void)state;
    for (int i = 1; i < 20; i++) {
        enum emb_stop why = EMB_STOP_STEP;
        while (why != EMB_STOP_TIME) {
            assert_int_equal(emb_integrator_step(in, i, &why, &err), EMB_OK);
        }
    }
    assert_close(emb_integrator_state(in)[0], 500.0, 0.0, 0.1);
    l.u0 = 400.0; /* a jump */
    assert_int_equal(emb_integrator_restart(in, &err), EMB_OK);
    enum emb_stop why = EMB_STOP_STEP;
    while (why != EMB_STOP_TIME) {
        assert_int_equal(emb_integrator_step(in, 20.0, &why, &err), EMB_OK);
    }
    assert_close(emb_integrator_state(in)[0], 400.0, 0.0, 0.1);
    assert_int_equal(emb_integrator_counters(in).restarts, 1);
    emb_integrator_free(in);
}

static void test_root(void **state)
{
    struct lump l = {.k = 0.1, .u0 = 300.0, .threshold = 350.0};
    struct emb_ode ode = lump_ode(&l);
    const double tight[1] = {1e-5}; /* [K] */
    ode.n_root = 1;
    ode.rtol = 1e-9;
    ode.atol = tight;
    struct emb_integrator *in = start(&ode, 400.0);
    struct emb_err err = {0};
    enum emb_stop why = EMB_STOP_STEP;
    (void)state;
    while (why == EMB_STOP_STEP) {
        assert_int_equal(emb_integrator_step(in, 60.0, &why, &err), EMB_OK);
    }
    assert_int_equal(why, EMB_STOP_ROOT);
    assert_int_equal(emb_integrator_roots_found(in)[0], -1);
    assert_close(emb_integrator_time(in), log(2.0) / 0.1, 0.0, 0.02); /* half is gone */
    assert_close(emb_integrator_state(in)[0], 350.0, 0.0, 1e-3);
    assert_close(emb_integrator_quads(in)[0], -50.0, 0.0, 1e-3);
    double y;
    emb_integrator_interpolate(in, emb_integrator_time(in) - 0.01, &y);
    assert_close(y, 350.05, 0.0, 2e-3); /* 5 K/s there */
    why = EMB_STOP_STEP;
    while (why != EMB_STOP_TIME) {
        assert_int_equal(emb_integrator_step(in, 60.0, &why, &err), EMB_OK);
        assert_int_not_equal(why, EMB_STOP_ROOT); /* not once more */
    }
    assert_close(emb_integrator_state(in)[0], 300.0 + 100.0 * exp(-6.0), 0.0, 0.05);
    assert_close(emb_integrator_quads(in)[0], emb_integrator_state(in)[0] - 400.0, 0.0, 1e-9);
    emb_integrator_free(in);
}

static void test_refusals(void **state)
{
    struct lump l = {.k = 0.1, .broken = true};
    struct emb_ode ode = lump_ode(&l);
    struct emb_err err = {0};
    enum emb_stop why;
    (void)state;
    struct emb_integrator *in = start(&ode, 400.0);
    assert_int_equal(emb_integrator_step(in, 1.0, &why, &err), EMB_ERR_SOLVER);
    emb_integrator_free(in);
    ode.jacobian = NULL;
    const double T0 = 400.0; /* [K] */
    assert_int_not_equal(emb_integrator_new(&ode, 0.0, &T0, &in, &err), EMB_OK);
    assert_null(in);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_rows), cmocka_unit_test(test_stiff),
                                       cmocka_unit_test(test_root),
                                       cmocka_unit_test(test_refusals)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
