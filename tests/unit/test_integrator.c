/* The integrator on equations with known answers, with no component linked in. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdbool.h>

#include "assert_close.h"
#include "emberpipe/chain.h"
#include "emberpipe/ode.h"

static void run_to(struct emb_integrator *in, double t_stop) /* t_stop [s] */
{
    struct emb_err err = {0};
    enum emb_stop why = EMB_STOP_STEP;
    while (why != EMB_STOP_TIME) {
        assert_int_equal(emb_integrator_step(in, t_stop, &why, &err), EMB_OK);
    }
    assert_close(emb_integrator_time(in), t_stop, 1e-14, 0.0);
}

static struct emb_integrator *start(const struct emb_ode *ode, const double *y0)
{
    struct emb_err err = {0};
    struct emb_integrator *in = NULL;
    assert_int_equal(emb_integrator_new(ode, 0.0, y0, &in, &err), EMB_OK);
    return in;
}

/* --- a chain of lumps cooling: y0' = -k y0, y1' = k (y0 - y1), with the integral of k y1 --- */

static int decay_rhs(double t, const double *y, double *dydt, void *user)
{
    (void)t;
    const double k = *(const double *)user; /* [1/s] */
    dydt[0] = -k * y[0];
    dydt[1] = k * (y[0] - y[1]);
    return 0;
}

static int decay_quad(double t, const double *y, double *dqdt, void *user)
{
    (void)t;
    dqdt[0] = *(const double *)user * y[1];
    return 0;
}

static const double DECAY_ATOL[2] = {1e-12, 1e-12}; /* [-] */

static struct emb_ode decay(double *k)
{
    return (struct emb_ode){.n = 2,
                            .n_quad = 1,
                            .rhs = decay_rhs,
                            .quad = decay_quad,
                            .rtol = 1e-8,
                            .atol = DECAY_ATOL,
                            .user = k};
}

static void test_decay(void **state)
{
    (void)state;
    double k = 0.7; /* [1/s] */
    const struct emb_ode ode = decay(&k);
    const double y0[2] = {1.0, 0.0}; /* [-] */
    struct emb_integrator *in = start(&ode, y0);
    for (double t = 1.0; t < 6.0; t += 1.0) {
        run_to(in, t);
        const double e = exp(-k * t); /* exact: e, k t e [-] */
        assert_close(emb_integrator_state(in)[0], e, 1e-6, 0.0);
        assert_close(emb_integrator_state(in)[1], k * t * e, 1e-6, 0.0);
        /* what has left is what was there less what is left */
        assert_close(emb_integrator_quads(in)[0], 1.0 - e - k * t * e, 0.0, 1e-6);
    }
    emb_integrator_free(in);
}

/* Sensitivities to k of the first and of the second half of a run. */
struct halves {
    double k[2]; /* [1/s] */
    int now;
};

static int halves_rhs(double t, const double *y, double *dydt, void *user)
{
    const struct halves *h = user;
    return decay_rhs(t, y, dydt, (void *)(uintptr_t)&h->k[h->now]);
}

static int halves_quad(double t, const double *y, double *dqdt, void *user)
{
    const struct halves *h = user;
    return decay_quad(t, y, dqdt, (void *)(uintptr_t)&h->k[h->now]);
}

static int halves_slope(size_t k, double t, const double *y, const double *dydt, const double *s,
                        double *dsdt, void *user)
{
    const struct halves *h = user;
    const double rate = h->k[h->now], of = h->now == (int)k ? 1.0 : 0.0;
    (void)t;
    (void)dydt;
    dsdt[0] = -rate * s[0] - of * y[0];
    dsdt[1] = rate * (s[0] - s[1]) + of * (y[0] - y[1]);
    return 0;
}

static int halves_slope_quad(size_t k, double t, const double *y, const double *s, double *dq,
                             void *user)
{
    const struct halves *h = user;
    (void)t;
    dq[0] = h->k[h->now] * s[1] + (h->now == (int)k ? y[1] : 0.0);
    return 0;
}

static void test_slopes_carry_over_restarts(void **state)
{
    (void)state;
    struct halves h = {{0.7, 0.1}, 0};
    const double y0[2] = {1.0, 0.0}, slope0[4] = {0.0}; /* [-] */
    const struct emb_ode ode = {.n = 2,
                                .n_quad = 1,
                                .rhs = halves_rhs,
                                .quad = halves_quad,
                                .rtol = 1e-8,
                                .atol = DECAY_ATOL,
                                .n_slope = 2,
                                .slope0 = slope0,
                                .slope_rhs = halves_slope,
                                .slope_quad = halves_slope_quad,
                                .user = &h};
    struct emb_integrator *in = start(&ode, y0);
    struct emb_err err = {0};
    double at[2];
    run_to(in, 1.0);
    h.now = 1;
    assert_int_equal(emb_integrator_restart(in, &err), EMB_OK);
    run_to(in, 4.0);
    /* with x = 0.7 * 1 s + 0.1 * 3 s: y0 = exp(-x), y1 = x exp(-x), integral 1 - y0 - y1 */
    const double x = 1.0, e = exp(-x), span[2] = {1.0, 3.0}; /* [-], [-], [s] */
    for (size_t k = 0; k < 2; k++) {
        const double *s = emb_integrator_slope(in, k);
        assert_close(s[0], -span[k] * e, 1e-3, 0.0);
        assert_close(s[1], span[k] * (1.0 - x) * e, 0.0, 1e-3);
        assert_close(emb_integrator_slope_quads(in, k)[0], span[k] * x * e, 1e-3, 0.0);
        emb_integrator_slope_interpolate(in, k, 4.0, at);
        assert_close(at[0], s[0], 1e-6, 0.0);
    }
    emb_integrator_free(in);
}

static void test_books_close(void **state)
{
    (void)state;
    /* Quadratures follow the formula of the states, so what opens a linear balance is the residual
     * of Newton's iteration alone: a hundredth of the tolerance in each of some tens of steps. */
    double k = 0.7; /* [1/s] */
    struct emb_ode ode = decay(&k);
    ode.rtol = 1e-5;
    const double y0[2] = {1.0, 0.0}; /* [-] */
    struct emb_integrator *in = start(&ode, y0);
    run_to(in, 5.0);
    const double *y = emb_integrator_state(in);
    assert_close(y[0] + y[1] + emb_integrator_quads(in)[0], 1.0, 0.0, 0.5 * ode.rtol);
    emb_integrator_free(in);
}

static void test_restart_keeps_state_and_books(void **state)
{
    (void)state;
    double k = 0.7; /* [1/s] */
    const struct emb_ode ode = decay(&k);
    const double y0[2] = {1.0, 0.0}; /* [-] */
    struct emb_integrator *in = start(&ode, y0);
    struct emb_err err = {0};
    run_to(in, 1.0);
    const long before = emb_integrator_counters(in).steps;
    k = 0.1; /* the input jumps; time in units of 1/k runs on */
    assert_int_equal(emb_integrator_restart(in, &err), EMB_OK);
    run_to(in, 4.0);
    const double x = 0.7 + 0.3, e = exp(-x); /* [-] */
    assert_close(emb_integrator_state(in)[0], e, 1e-6, 0.0);
    assert_close(emb_integrator_state(in)[1], x * e, 1e-6, 0.0);
    assert_close(emb_integrator_quads(in)[0], 1.0 - e - x * e, 0.0, 1e-6);
    const struct emb_counters c = emb_integrator_counters(in);
    assert_int_equal(c.restarts, 1);
    assert_true(c.steps > before && c.rhs >= c.steps);
    emb_integrator_free(in);
}

static void test_interpolate(void **state)
{
    (void)state;
    double k = 0.7; /* [1/s] */
    const struct emb_ode ode = decay(&k);
    const double y0[2] = {1.0, 0.0}; /* [-] */
    struct emb_integrator *in = start(&ode, y0);
    struct emb_err err = {0};
    enum emb_stop why = EMB_STOP_STEP;
    double t0 = 0.0; /* [s] */
    while (why != EMB_STOP_TIME) {
        assert_int_equal(emb_integrator_step(in, 3.0, &why, &err), EMB_OK);
        const double t = 0.5 * (t0 + emb_integrator_time(in)); /* [s] */
        double y[2];                                           /* [-] */
        emb_integrator_interpolate(in, t, y);
        assert_close(y[0], exp(-k * t), 1e-6, 0.0);
        t0 = emb_integrator_time(in);
    }
    emb_integrator_free(in);
}

/* --- Robertson's kinetics: the classic stiff problem --- */

static int robertson_rhs(double t, const double *y, double *dydt, void *user)
{
    (void)t;
    (void)user;
    dydt[0] = -0.04 * y[0] + 1e4 * y[1] * y[2];
    dydt[2] = 3e7 * y[1] * y[1];
    dydt[1] = -dydt[0] - dydt[2];
    return 0;
}

/* The model's own Newton matrix: one link of three states. */
static int robertson_jacobian(double t, const double *y, const double *dydt, void *user)
{
    struct emb_chain *c = user;
    (void)t;
    (void)dydt;
    const double row0[3] = {-0.04, 1e4 * y[2], 1e4 * y[1]}; /* [1/s] */
    const double row2[3] = {0.0, 6e7 * y[1], 0.0};          /* [1/s] */
    for (size_t j = 0; j < 3; j++) {
        c->link[0].A[j] = row0[j];
        c->link[0].A[3 + j] = -row0[j] - row2[j];
        c->link[0].A[6 + j] = row2[j];
    }
    return 0;
}

static int robertson_factor(double gamma, void *user)
{
    return emb_chain_factor(user, gamma) == 0 ? 0 : 1;
}

static void robertson_solve(double *b, void *user)
{
    emb_chain_solve(user, b);
}

static void check_robertson(bool with_jac)
{
    /* SUNDIALS CVODE documentation, example cvRoberts_dns, tabulated to four digits at t = 0.4, 4,
     * 40; t = 4e10: Hairer & Wanner, Solving ODEs II, and the IVP test set at 1e11 (all from
     * memory). */
    static const double rows[][4] = {{0.4, 9.8517e-01, 3.3864e-05, 1.4794e-02},
                                     {4.0, 9.0552e-01, 2.2405e-05, 9.4458e-02},
                                     {40.0, 7.1583e-01, 9.1856e-06, 2.8416e-01},
                                     {1e11, 2.0833e-08, 8.3334e-14, 1.0}};
    const double atol[3] = {1e-14, 1e-18, 1e-12}; /* [-] */
    const struct emb_link shape = {.n = 3};
    struct emb_chain *chain = emb_chain_new(1, &shape);
    const struct emb_ode ode = {.n = 3,
                                .rhs = robertson_rhs,
                                .jacobian = with_jac ? robertson_jacobian : NULL,
                                .factor = robertson_factor,
                                .solve = robertson_solve,
                                .rtol = 1e-7,
                                .atol = atol,
                                .user = chain};
    const double y0[3] = {1.0, 0.0, 0.0}; /* [-] */
    struct emb_integrator *in = start(&ode, y0);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        run_to(in, rows[i][0]);
        const double *y = emb_integrator_state(in);
        for (int j = 0; j < 3; j++) {
            assert_close(y[j], rows[i][1 + j], 1e-4, 0.0);
        }
        assert_close(y[0] + y[1] + y[2], 1.0, 0.0, 1e-10);
    }
    assert_true(emb_integrator_counters(in).steps < 5000);
    emb_integrator_free(in);
    emb_chain_free(chain);
}

static void test_robertson(void **state)
{
    (void)state;
    check_robertson(true);
}

static void test_robertson_without_jacobian(void **state)
{
    (void)state;
    check_robertson(false);
}

/* --- a ball that bounces: events, found from above, and a jump of the state --- */

static int ball_rhs(double t, const double *y, double *dydt, void *user)
{
    (void)t;
    (void)user;
    dydt[0] = y[1];
    dydt[1] = -9.81;
    return 0;
}

static int ball_root(double t, const double *y, double *g, void *user)
{
    (void)t;
    (void)user;
    g[0] = y[0];
    return 0;
}

static void test_bouncing_ball(void **state)
{
    (void)state;
    const double g = 9.81, h0 = 10.0, loss = 0.8; /* [m/s2], [m], [-] */
    const double atol[2] = {1e-10, 1e-10};        /* [m], [m/s] */
    const struct emb_ode ode = {
        .n = 2, .n_root = 1, .rhs = ball_rhs, .roots = ball_root, .rtol = 1e-10, .atol = atol};
    const double y0[2] = {h0, 0.0}; /* [m], [m/s] */
    struct emb_integrator *in = start(&ode, y0);
    struct emb_err err = {0};
    double t = sqrt(2.0 * h0 / g), v = g * t; /* [s], [m/s] exact first impact */
    int bounces = 0;
    while (bounces < 6) {
        enum emb_stop why = EMB_STOP_STEP;
        assert_int_equal(emb_integrator_step(in, 100.0, &why, &err), EMB_OK);
        if (why != EMB_STOP_ROOT) {
            continue;
        }
        assert_close(emb_integrator_time(in), t, 1e-7, 0.0);
        assert_int_equal(emb_integrator_roots_found(in)[0], -1);
        double *y = emb_integrator_state(in);
        assert_close(y[1], -v, 1e-7, 0.0);
        v *= loss;
        y[0] = 0.0;
        y[1] = v;
        assert_int_equal(emb_integrator_restart(in, &err), EMB_OK);
        t += 2.0 * v / g;
        bounces++;
    }
    assert_int_equal(emb_integrator_counters(in).restarts, 6);
    emb_integrator_free(in);
}

/* --- trouble --- */

static int failing_rhs(double t, const double *y, double *dydt, void *user)
{
    (void)user;
    dydt[0] = -y[0];
    return t > 0.5 ? -1 : 0;
}

static int blow_up_rhs(double t, const double *y, double *dydt, void *user)
{
    (void)t;
    (void)user;
    dydt[0] = y[0] * y[0]; /* infinite at t = 1 */
    return isfinite(dydt[0]) ? 0 : 1;
}

static void check_failure(int (*rhs)(double, const double *, double *, void *), double t_max)
{
    const double atol[1] = {1e-9}; /* [-] */
    const struct emb_ode ode = {.n = 1, .rhs = rhs, .rtol = 1e-6, .atol = atol};
    const double y0[1] = {1.0}; /* [-] */
    struct emb_integrator *in = start(&ode, y0);
    struct emb_err err = {0};
    enum emb_stop why = EMB_STOP_STEP;
    enum emb_status status = EMB_OK;
    for (int i = 0; i < 100000 && status == EMB_OK && why != EMB_STOP_TIME; i++) {
        status = emb_integrator_step(in, 10.0, &why, &err);
    }
    assert_int_equal(status, EMB_ERR_SOLVER);
    assert_int_equal(err.status, EMB_ERR_SOLVER);
    assert_true(err.msg[0] != '\0');
    assert_true(emb_integrator_time(in) <= t_max); /* what came before is kept */
    emb_integrator_free(in);
}

static void test_failures_are_reported(void **state)
{
    (void)state;
    check_failure(failing_rhs, 0.5);
    check_failure(blow_up_rhs, 1.001);
    emb_integrator_free(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_decay),
        cmocka_unit_test(test_slopes_carry_over_restarts),
        cmocka_unit_test(test_books_close),
        cmocka_unit_test(test_restart_keeps_state_and_books),
        cmocka_unit_test(test_interpolate),
        cmocka_unit_test(test_robertson),
        cmocka_unit_test(test_robertson_without_jacobian),
        cmocka_unit_test(test_bouncing_ball),
        cmocka_unit_test(test_failures_are_reported),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
