/* The filter's two pure parts, pressure drop and soot burning, against published arithmetic. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "assert_close.h"
#include "emberpipe/gas.h"
#include "emberpipe/soot.h"
#include "emberpipe/wallflow.h"

/* 12 x 12 in, 200 cpsi, 12 mil; the numbers were worked out by hand from the formula printed in
 * Konstandopoulos & Johnson 1989 (SAE 890405). */
static const struct emb_wallflow twelve_inch = {.channels = 11309.7,
                                                .length = 0.3048,
                                                .opening = 1.4913e-3,
                                                .web = 0.3048e-3,
                                                .wall_permeability = 2.5e-13,
                                                .deep_growth = 1.0,
                                                .soot_permeability = 1.5e-14,
                                                .soot_density = 100.0,
                                                .ash_permeability = 1e-13,
                                                .ash_density = 400.0,
                                                .ash_plug = 0.5};
static const double flow = 0.47667, viscosity = 3.3e-5, density = 0.5245; /* m3/s, Pa s, kg/m3 */

static struct emb_wallflow_drop drop_at(const struct emb_wallflow *w, double g_per_litre)
{
    const struct emb_wallflow_load load = {.cake = g_per_litre * 22.24e-3};
    struct emb_wallflow_drop d;
    emb_wallflow_drop(w, &load, flow, viscosity, density, &d);
    return d;
}

static void pressure_drop_as_published(void **state)
{
    (void)state;
    struct emb_wallflow_drop d = drop_at(&twelve_inch, 0.0);
    assert_close(d.wall, 932.7, 5e-3, 0.0);
    assert_close(d.friction, 1626.1, 5e-3, 0.0);
    assert_close(d.total, 2558.8, 5e-3, 0.0);
    assert_close(drop_at(&twelve_inch, 2.0).total, 3798.5, 5e-3, 0.0);
    d = drop_at(&twelve_inch, 4.0);
    assert_close(d.soot, 2345.2, 5e-3, 0.0);
    assert_close(d.friction, 1853.6, 5e-3, 0.0);
    assert_close(d.total, 5131.5, 5e-3, 0.0);
}

/* One velocity head of a pipe's entrance and exit each way: zeta rho u^2/2, textbook identity. */
static void ends_and_inertia_add_velocity_heads(void **state)
{
    (void)state;
    struct emb_wallflow w = twelve_inch;
    w.end_loss = 3.0;
    w.inertia = 1.5e8;
    const struct emb_wallflow_drop a = drop_at(&twelve_inch, 0.0), b = drop_at(&w, 0.0);
    const double u = flow / (w.channels * w.opening * w.opening);
    const double v = flow / (w.channels * 4.0 * w.opening * w.length);
    assert_close(b.ends, 3.0 * 0.5 * density * u * u, 1e-9, 0.0);
    assert_close(b.wall - a.wall, 1.5e8 * density * v * v * w.web, 1e-9, 0.0);
}

static void ash_takes_length_and_width(void **state)
{
    (void)state;
    struct emb_wallflow w = twelve_inch;
    struct emb_wallflow_load load = {.ash = 40.0 * 22.24e-3};
    struct emb_wallflow_drop layer, plug;
    w.ash_plug = 1.0; /* all at the rear: the same filter, shorter, with longer outlets */
    emb_wallflow_drop(&w, &load, flow, viscosity, density, &plug);
    const double lost = load.ash / (w.channels * w.opening * w.opening * w.ash_density);
    assert_close(plug.wall, 932.7 * w.length / (w.length - lost), 5e-3, 0.0);
    assert_close(plug.ash, 0.0, 0.0, 1e-9);
    assert_close(plug.open, 1.0, 1e-12, 0.0);
    w.ash_plug = 0.0;
    emb_wallflow_drop(&w, &load, flow, viscosity, density, &layer);
    assert_true(layer.ash > 0.0 && layer.open < 1.0 && layer.friction > 1626.1);
    /* twice the channel's volume does not fit, and says so */
    load.ash = 2.0 * w.channels * w.opening * w.opening * w.length * w.ash_density;
    emb_wallflow_drop(&w, &load, flow, viscosity, density, &layer);
    assert_true(layer.open < 0.0 && isfinite(layer.total));
}

static const struct emb_soot_cfg plain = {.o2_a = 2.15e7,
                                          .o2_e = 168e3,
                                          .o2_order = 0.85,
                                          .no2_a = 4.4e3,
                                          .no2_e = 55e3,
                                          .coop_a = 6.6e3,
                                          .coop_e = 55e3,
                                          .coop_order = 0.3,
                                          .co_share = 0.3,
                                          .co_e = 51.9e3};

/* Rate per carbon [1/s] of a trace of soot in plenty of gas. */
static double rate_at(double T, double o2, double no2, struct emb_soot_routes *by)
{
    struct emb_soot_constants k;
    double n[EMB_NSPECIES] = {[EMB_N2] = 1.0 - o2 - no2, [EMB_O2] = o2, [EMB_NO2] = no2};
    emb_soot_constants(&plain, T, &k);
    return emb_soot_burn(&k, 1e-6, n, by) / 1e-6;
}

/* Thermogravimetry: peak of a 10 K/min burn at 630 degC in 10 % O2, and 90 % burnt within 20 min
 * at 600 degC, both following from one first-order rate with E = 168 kJ/mol (Neeft et al. 1997). */
static void burn_time_meets_the_yardstick(void **state)
{
    struct emb_soot_routes by;
    double left = 1.0, best = 0.0, at = 0.0;
    (void)state;
    for (double T = 600.0; T < 1100.0; T += 0.01) {
        const double r = left * rate_at(T, 0.1, 0.0, &by); /* 10 K/min */
        left -= r * 0.01 * 6.0;
        if (r > best) {
            best = r;
            at = T;
        }
    }
    assert_close(at - 273.15, 630.0, 0.0, 4.0);
    assert_close(log(10.0) / rate_at(873.15, 0.1, 0.0, &by) / 60.0, 20.0, 0.05, 0.0);
    const double E = EMB_R * log(rate_at(900.0, 0.1, 0.0, &by) / rate_at(850.0, 0.1, 0.0, &by)) /
                     (1.0 / 850.0 - 1.0 / 900.0);
    assert_close(E, 168e3, 1e-6, 0.0);
}

/* C. R. Chimie 17 (2014) 672: C-NO2 and C-NO2-O2 dominate 300-450 degC, C-O2 contributes above
 * 450 and rules above 600. NO2 of a 400 ppm NOx exhaust at equilibrium with 10 % O2 (NASA
 * TM-4513). */
static void routes_take_turns_as_published(void **state)
{
    static const double degC[] = {300, 400, 450, 500, 600, 650};
    static const double share[] = {.873, .528, .353, .226, .094, .063};
    double direct[6];
    (void)state;
    for (int i = 0; i < 6; i++) {
        struct emb_soot_routes by;
        const double r = rate_at(degC[i] + 273.15, 0.1, 400e-6 * share[i], &by);
        direct[i] = by.o2 / 1e-6 / r;
        print_message("direct share at %.0f degC: %.3f\n", degC[i], direct[i]);
    }
    assert_true(direct[0] < 0.01 && direct[1] < 0.05 && direct[2] < 0.15);
    assert_true(direct[3] > 0.15 && direct[4] > 0.85 && direct[5] > 0.95);
}

static void burning_conserves_and_never_overdraws(void **state)
{
    struct emb_soot_constants k;
    struct emb_soot_routes by;
    (void)state;
    for (double T = 500.0; T < 1600.0; T += 50.0) {
        struct emb_gas g = {T, {[EMB_N2] = 0.9, [EMB_O2] = 0.02, [EMB_NO2] = 2e-3, [EMB_CO] = 1e-4}};
        double before[EMB_NELEMENTS], after[EMB_NELEMENTS];
        emb_soot_constants(&plain, T, &k);
        emb_gas_elements(&g, before);
        const double burnt = emb_soot_burn(&k, 50.0, g.n, &by);
        emb_gas_elements(&g, after);
        before[EMB_EL_C] += burnt;
        for (int e = 0; e < EMB_NELEMENTS; e++) {
            assert_close(after[e], before[e], 1e-12, 1e-15);
        }
        assert_true(g.n[EMB_O2] > -1e-15 && g.n[EMB_NO2] > -1e-15); /* round-off */
        assert_close(by.o2 + by.no2 + by.coop, burnt, 1e-12, 0.0);
    }
}

/* CO/CO2 = 10^3.4 exp(-51.9 kJ/mol / RT): Arthur 1951 (from memory), with the plain set's growth. */
static void selectivity_grows_as_published(void **state)
{
    struct emb_soot_constants cold, hot;
    (void)state;
    emb_soot_constants(&plain, 723.15, &cold);
    emb_soot_constants(&plain, 923.15, &hot);
    const double a = cold.co / (1.0 - cold.co), b = hot.co / (1.0 - hot.co);
    assert_close(b / a, exp(-51.9e3 / EMB_R * (1.0 / 923.15 - 1.0 / 723.15)), 1e-9, 0.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pressure_drop_as_published),
        cmocka_unit_test(ends_and_inertia_add_velocity_heads),
        cmocka_unit_test(ash_takes_length_and_width),
        cmocka_unit_test(burn_time_meets_the_yardstick),
        cmocka_unit_test(routes_take_turns_as_published),
        cmocka_unit_test(burning_conserves_and_never_overdraws),
        cmocka_unit_test(selectivity_grows_as_published),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
