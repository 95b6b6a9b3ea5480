/* Heat transfer correlations against worked examples of the literature. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>

#include "assert_close.h"
#include "emberpipe/gas.h"
#include "emberpipe/heat.h"
#include "emberpipe/outside.h"
#include "model/common.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_odeiv2.h>

/* ---- gas along a wall whose temperature rises straight ---- */

struct along {
    double n, wall, rise; /* [-] transfer units, [K], [K] */
};

static int warms(double x, const double *T, double *slope, void *user)
{
    const struct along *a = user;
    *slope = a->n * (a->wall + a->rise * (x - 0.5) - *T);
    return GSL_SUCCESS;
}

/* GSL's Runge-Kutta 8(9) along the same wall. */
static double by_gsl(struct along *a, double T)
{
    gsl_odeiv2_system sys = {warms, NULL, 1, a};
    gsl_odeiv2_driver *d =
        gsl_odeiv2_driver_alloc_y_new(&sys, gsl_odeiv2_step_rk8pd, 1e-4, 1e-12, 1e-13);
    double x = 0.0;
    assert_non_null(d);
    assert_int_equal(gsl_odeiv2_driver_apply(d, &x, 1.0, &T), GSL_SUCCESS);
    gsl_odeiv2_driver_free(d);
    return T;
}

static void test_exchange_along_a_slope(void **state)
{
    static const double n[] = {1e-4, 9e-3, 1.1e-2, 0.3, 1.0, 5.0, 40.0},
                        rise[] = {-120.0, 0.0, 3.0, 250.0};
    (void)state;
    for (size_t i = 0; i < sizeof n / sizeof *n; i++) {
        for (size_t k = 0; k < sizeof rise / sizeof *rise; k++) {
            struct along a = {n[i], 600.0, rise[k]};
            struct emb_gas g = {.T = 450.0};
            emb_exchange(&g, 20.0, a.wall, a.rise, 20.0 * a.n);
            assert_close(g.T, by_gsl(&a, 450.0), 1e-10, 0.0);
        }
    }
}

/* van Albada, van Leer & Roberts 1982: of two rises that agree it makes their mean, where one is
 * none it makes next to none, and which comes first does not matter. */
static void test_rise(void **state)
{
    (void)state;
    assert_close(emb_rise(80.0, 80.0), 80.0, 1e-3, 0.0);
    assert_close(emb_rise(1e-3, 3e-3), 2e-3, 1e-5, 0.0); /* small ones are not limited */
    for (double a = -400.0; a <= 400.0; a += 50.0) {
        assert_close(emb_rise(a, 0.0), 0.0, 0.0, 1.0);
        assert_close(emb_rise(a, -a), 0.0, 0.0, 1e-12);
        for (double b = -390.0; b <= 400.0; b += 50.0) {
            assert_close(emb_rise(a, b), emb_rise(b, a), 1e-12, 1e-12);
            assert_true(fabs(emb_rise(a, b)) <= 1.21 * fmax(fabs(a), fabs(b)));
            /* a b > 0: (a b)(a + b)/(a^2 + b^2) lies below both doubled, which keeps a front from
             * overshooting (Sweby 1984, SIAM J. Numer. Anal. 21:995) */
            if (a * b > 0.0) {
                assert_true(fabs(emb_rise(a, b)) <= 2.0 * fmin(fabs(a), fabs(b)) + 1.0);
            }
        }
    }
}

static void test_laminar_duct(void **state)
{
    (void)state;
    /* Hawthorn 1974, AIChE Symp. Ser. 70; check points computed from the formula (from memory) */
    assert_close(emb_nu_duct_laminar(2.976, 0.5308), 3.0426, 2e-5, 0.0);
    assert_close(emb_nu_duct_laminar(3.66, 0.5308), 3.7419, 2e-5, 0.0);
    assert_close(emb_nu_duct_laminar(2.976, 1.0615), 3.1075, 2e-5, 0.0);
    assert_close(emb_nu_duct_laminar(2.976, 2.625), 3.2896, 2e-5, 0.0);
    assert_close(emb_nu_duct_laminar(2.976, 0.0), 2.976, 1e-15, 0.0);
    assert_finite(emb_nu_duct_laminar(2.976, -20.0));
}

static void test_turbulent_pipe(void **state)
{
    (void)state;
    /* Gnielinski 1976 with Petukhov's friction factor at Pr 0.69, computed from the formulas */
    static const double rows[][2] = {{4e3, 13.409}, {1e4, 29.605}, {2e4, 50.966}, {5e4, 103.286}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        assert_close(emb_nu_gnielinski(rows[i][0], 0.69), rows[i][1], 5e-5, 0.0);
        assert_close(emb_nu_pipe(rows[i][0], 0.69), rows[i][1], 5e-5, 0.0);
    }
    /* Dittus-Boelter is within some 25 % of it: Nu 57.9 at Re 20385, cooling (Incropera Ex. 8.6,
     * from memory) */
    assert_close(emb_nu_pipe(20385.0, 0.70), 57.9, 0.15, 0.0);
}

static void test_pipe_blend_is_smooth(void **state)
{
    (void)state;
    assert_close(emb_nu_pipe(0.0, 0.7), 3.66, 0.0, 0.0);
    assert_close(emb_nu_pipe(2300.0, 0.7), 3.66, 0.0, 0.0);
    double before = emb_nu_pipe(0.0, 0.7), slope = 0.0; /* [-] */
    for (double Re = 10.0; Re < 1e4; Re += 10.0) {
        const double now = emb_nu_pipe(Re, 0.7);       /* [-] */
        assert_true(now >= before);                    /* never falls */
        assert_close(now - before, slope, 0.0, 0.004); /* no kink: mean slope is 0.04 per step */
        slope = now - before;
        before = now;
    }
}

static void test_cylinders(void **state)
{
    (void)state;
    /* Bergman et al. 2011, Example 7.3: Re 6071, Pr 0.70 -> 40.6 by Churchill & Bernstein, 96 W/(m2
     * K) */
    assert_close(emb_nu_churchill_bernstein(6071.0, 0.70), 40.637, 2e-5, 0.0);
    assert_close(emb_nu_churchill_bernstein(6071.0, 0.70) * 0.030 / 0.0127, 96.0, 2e-3, 0.0);
    assert_close(emb_nu_churchill_bernstein(0.0, 0.70), 0.3, 1e-15, 0.0);
    /* Churchill & Chu 1975 in a textbook example 9.2: Gr 2.63e9, Pr 0.69 -> 139.13494 */
    assert_close(emb_nu_churchill_chu(2.63e9 * 0.69, 0.69), 139.13494, 1e-7, 0.0);
    assert_close(emb_nu_churchill_chu(0.0, 0.69), 0.36, 1e-14, 0.0);
}

static void test_outside_of_hot_pipe(void **state)
{
    (void)state;
    /* Bare 127 mm pipe, wall 300 degC, air 20 degC: 9.5, 23, 63 W/(m2 K) at 1, 5, 25 m/s by
     * Churchill & Bernstein alone; free convection adds at 1 m/s, so that one is a lower bound. */
    const double Ts = 573.15, Ta = 293.15, d = 0.127, p = 101325.0; /* [K], [K], [m], [Pa] */
    const double slow = emb_h_outside(Ts, Ta, d, 1.0, p);           /* [W/(m2 K)] */
    assert_true(slow > 9.4 && slow < 9.5 * 1.19);                   /* 2^(1/4): equal shares */
    assert_close(emb_h_outside(Ts, Ta, d, 5.0, p), 23.0, 0.02, 0.0);
    assert_close(emb_h_outside(Ts, Ta, d, 25.0, p), 63.0, 0.02, 0.0);
    assert_close(emb_h_radiation(0.85, Ts, Ta), 17.3, 0.003, 0.0);
    /* Still air: 5 .. 10 W/(m2 K), the range of every textbook */
    const double still = emb_h_outside(Ts, Ta, d, 0.0, p);
    assert_true(still > 5.0 && still < 10.0);
}

static void test_outside_edges(void **state)
{
    (void)state;
    assert_finite(emb_h_outside(293.15, 293.15, 0.1, 0.0, 101325.0));
    assert_true(emb_h_outside(293.15, 293.15, 0.1, 0.0, 101325.0) > 0.0);
    /* Through Ts = Ta and through v = 0 without a step */
    assert_close(emb_h_outside(293.15 + 1e-6, 293.15, 0.1, 0.0, 101325.0),
                 emb_h_outside(293.15 - 1e-6, 293.15, 0.1, 0.0, 101325.0), 1e-7, 0.0);
    assert_close(emb_h_outside(400.0, 293.15, 0.1, 1e-9, 101325.0),
                 emb_h_outside(400.0, 293.15, 0.1, 0.0, 101325.0), 1e-3, 0.0);
    /* Warming and cooling are alike but for the film properties */
    assert_close(emb_h_outside(303.15, 293.15, 0.1, 0.0, 101325.0),
                 emb_h_outside(293.15, 303.15, 0.1, 0.0, 101325.0), 1e-12, 0.0);
    /* Radiation becomes 4 eps sigma T^3 */
    assert_close(emb_h_radiation(0.5, 500.0, 500.0), 0.5 * 4.0 * EMB_SIGMA * 1.25e8, 1e-14, 0.0);
}

/* The table against the correlation that fills it, within and beyond its range, and across seams.
 */
static void test_outside_table(void **state)
{
    static const double d[] = {0.02, 0.127, 0.6}, v[] = {0.0, 0.3, 4.0, 40.0}; /* [m], [m/s] */
    static struct emb_outside o;
    (void)state;
    for (int i = 0; i < 12; i++) {
        const double Ta = 233.15 + 30.0 * (i % 4), p = 101325.0 - 1e4 * (i % 2);
        const struct emb_wind w = emb_wind_of(v[i % 4]);
        emb_outside_init(&o, Ta, p, d[i / 4]);
        for (double over = -30.0; over < 1300.0; over += 0.37) { /* [K] */
            assert_close(emb_outside_h(&o, &w, Ta + over),
                         emb_h_outside(Ta + over, Ta, d[i / 4], v[i % 4], p), 1e-8, 0.0);
        }
        for (double seam = 4.0; seam < 1100.0; seam *= 2.0) {
            assert_close(emb_outside_h(&o, &w, Ta + seam * (1.0 - 1e-12)),
                         emb_outside_h(&o, &w, Ta + seam * (1.0 + 1e-12)), 2e-11, 0.0);
        }
    }
}

static void test_one_minus_exp(void **state)
{
    (void)state;
    assert_close(emb_one_minus_exp(0.0), 0.0, 0.0, 0.0);
    assert_close(emb_one_minus_exp(1e-12), 1e-12, 1e-11, 0.0);
    assert_close(emb_one_minus_exp(1.0), 0.63212055882855767, 1e-15, 0.0); /* 1 - 1/e */
    assert_close(emb_one_minus_exp(800.0), 1.0, 0.0, 0.0);
    for (double z = 1e-9; z < 700.0; z *= 1.07) { /* the C library's own, over the seam at 0.02 */
        assert_close(emb_sink_mean(z), -expm1(-z) / z, 2e-14, 0.0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_exchange_along_a_slope), cmocka_unit_test(test_rise),
        cmocka_unit_test(test_laminar_duct),           cmocka_unit_test(test_turbulent_pipe),
        cmocka_unit_test(test_pipe_blend_is_smooth),   cmocka_unit_test(test_cylinders),
        cmocka_unit_test(test_outside_of_hot_pipe),    cmocka_unit_test(test_outside_edges),
        cmocka_unit_test(test_outside_table),          cmocka_unit_test(test_one_minus_exp),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
