/* Species: formation enthalpies, heats of reaction, fuel, urea and water against published numbers.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "assert_close.h"
#include "emberpipe/equilibrium.h"
#include "emberpipe/gas.h"

struct reaction {
    const char *name;
    double nu[EMB_NSPECIES]; /* [mol] products positive */
    double want[3];          /* [kJ/mol] at 298.15, 600, 900 K; NAN: no published value */
};

static double reaction_h(const double *nu, double T)
{
    double h = 0.0; /* [J/mol] */
    for (int k = 0; k < EMB_NSPECIES; k++) {
        h += nu[k] * emb_species_h(k, T);
    }
    return h;
}

/* Computed from NASA TM-4513 (McBride, Gordon & Reno 1993); graphite from memory. The pair for urea
 * is also that of Koebel & Strutz 2003, Ind. Eng. Chem. Res. 42:2093 (from memory). */
static const struct reaction REACTIONS[] = {
    {"CO oxidation", {[EMB_CO] = -1, [EMB_O2] = -.5, [EMB_CO2] = 1}, {-282.98, -283.64, -282.97}},
    {"propylene oxidation",
     {[EMB_C3H6] = -1, [EMB_O2] = -4.5, [EMB_CO2] = 3, [EMB_H2O] = 3},
     {-1925.7, -1923.4, -1925.8}},
    {"NO oxidation", {[EMB_NO] = -1, [EMB_O2] = -.5, [EMB_NO2] = 1}, {-57.08, -58.18, -58.07}},
    {"soot to CO", {[EMB_SOOT] = -1, [EMB_O2] = -.5, [EMB_CO] = 1}, {-110.53, -110.15, -111.42}},
    {"soot to CO2", {[EMB_SOOT] = -1, [EMB_O2] = -1, [EMB_CO2] = 1}, {-393.51, -393.79, -394.39}},
    {"soot and NO2 to CO",
     {[EMB_SOOT] = -1, [EMB_NO2] = -1, [EMB_CO] = 1, [EMB_NO] = 1},
     {-53.45, -51.97, -53.35}},
    {"soot and NO2 to CO2",
     {[EMB_SOOT] = -1, [EMB_NO2] = -2, [EMB_CO2] = 1, [EMB_NO] = 2},
     {-279.36, -277.43, -278.25}},
    {"standard SCR",
     {[EMB_NH3] = -1, [EMB_NO] = -1, [EMB_O2] = -.25, [EMB_N2] = 1, [EMB_H2O] = 1.5},
     {-408.07, -407.04, -407.67}},
    {"fast SCR",
     {[EMB_NH3] = -1, [EMB_NO] = -.5, [EMB_NO2] = -.5, [EMB_N2] = 1, [EMB_H2O] = 1.5},
     {-379.53, -377.95, -378.64}},
    {"NO2 SCR",
     {[EMB_NH3] = -4.0 / 3, [EMB_NO2] = -1, [EMB_N2] = 7.0 / 6, [EMB_H2O] = 2},
     {-456.59, -454.09, -455.03}},
    {"NH3 to N2",
     {[EMB_NH3] = -1, [EMB_O2] = -.75, [EMB_N2] = .5, [EMB_H2O] = 1.5},
     {-316.80, -315.69, -316.28}},
    {"NH3 to NO",
     {[EMB_NH3] = -1, [EMB_O2] = -1.25, [EMB_NO] = 1, [EMB_H2O] = 1.5},
     {-225.53, -224.35, -224.88}},
    {"urea thermolysis", {[EMB_UREA] = -1, [EMB_NH3] = 1, [EMB_HNCO] = 1}, {185.5, NAN, NAN}},
    {"HNCO hydrolysis",
     {[EMB_HNCO] = -1, [EMB_H2O] = -1, [EMB_NH3] = 1, [EMB_CO2] = 1},
     {-95.9, -97.2, -97.3}},
    {"urea to NH3 and CO2",
     {[EMB_UREA] = -1, [EMB_H2O] = -1, [EMB_NH3] = 2, [EMB_CO2] = 1},
     {89.5, NAN, NAN}},
};

static void test_reaction_enthalpies(void **state)
{
    (void)state;
    const double T[3] = {298.15, 600.0, 900.0}; /* [K] */
    for (size_t i = 0; i < sizeof REACTIONS / sizeof *REACTIONS; i++) {
        for (int j = 0; j < 3; j++) {
            if (!isnan(REACTIONS[i].want[j])) {
                /* the last printed digit: 0.1 for the long ones, 0.01 otherwise */
                const bool coarse = fabs(REACTIONS[i].want[j]) > 1000.0 || i > 11;
                assert_close(reaction_h(REACTIONS[i].nu, T[j]) * 1e-3, REACTIONS[i].want[j], 0.0,
                             coarse ? 0.06 : 0.02);
            }
        }
    }
}

static void test_elements_and_mass_balance(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof REACTIONS / sizeof *REACTIONS; i++) {
        struct emb_gas g = {.T = 298.15};
        memcpy(g.n, REACTIONS[i].nu, sizeof g.n);
        double el[EMB_NELEMENTS]; /* [mol] */
        emb_gas_elements(&g, el);
        for (int j = 0; j < EMB_NELEMENTS; j++) {
            assert_close(el[j], 0.0, 0.0, 1e-14);
        }
        assert_close(emb_gas_mass(&g), 0.0, 0.0, 1e-15);
    }
}

static void test_formation_and_heat_capacity(void **state)
{
    (void)state;
    /* CODATA key values (Cox, Wagman & Medvedev 1989), from memory: CO2 -393.51, H2O(g) -241.826,
     * CO -110.53; elements zero */
    assert_close(emb_species_hf(EMB_CO2), -393510.0, 0.0, 30.0);
    assert_close(emb_species_hf(EMB_H2O), -241826.0, 0.0, 30.0);
    assert_close(emb_species_hf(EMB_CO), -110530.0, 0.0, 30.0);
    const int zero[] = {EMB_N2, EMB_O2, EMB_H2, EMB_SOOT};
    for (size_t i = 0; i < 4; i++) {
        assert_close(emb_species_hf(zero[i]), 0.0, 0.0, 0.01);
    }
    /* Graphite 8.517 J/(mol K) at 298.15 K, CODATA, from memory */
    assert_close(emb_species_cp(EMB_SOOT, 298.15), 8.517, 0.003, 0.0);
    /* Shomate equations of the NIST WebBook (Chase 1998) at 600 K: N2 30.11, CO2 47.32, H2O 36.32
     */
    assert_close(emb_species_cp(EMB_N2, 600.0), 30.11, 0.002, 0.0);
    assert_close(emb_species_cp(EMB_CO2, 600.0), 47.32, 0.002, 0.0);
    assert_close(emb_species_cp(EMB_H2O, 600.0), 36.32, 0.003, 0.0);
    /* Standard entropies, CODATA, from memory [J/(mol K)] */
    assert_close(emb_species_s(EMB_N2, 298.15), 191.609, 5e-4, 0.0);
    assert_close(emb_species_s(EMB_O2, 298.15), 205.152, 5e-4, 0.0);
    assert_close(emb_species_s(EMB_CO2, 298.15), 213.785, 5e-4, 0.0);
}

static void test_smooth_over_seams(void **state)
{
    (void)state;
    const double seam[] = {200.0, 1000.0, 3000.0}; /* [K] */
    for (int k = 0; k < EMB_NSPECIES; k++) {
        for (int i = 0; i < 3; i++) {
            const double lo = seam[i] * (1.0 - 1e-12), hi = seam[i] * (1.0 + 1e-12); /* [K] */
            assert_close(emb_species_h(k, hi), emb_species_h(k, lo), 0.0, 0.002);
            assert_close(emb_species_cp(k, hi), emb_species_cp(k, lo), 1e-6, 0.0);
        }
        /* dh/dT = cp, inside and out of the fitted range */
        for (double T = 150.0; T < 3500.0; T += 130.0) {
            const double slope = (emb_species_h(k, T + 0.1) - emb_species_h(k, T - 0.1)) / 0.2;
            assert_close(slope, emb_species_cp(k, T), 1e-5, 0.0);
        }
    }
}

static void test_names(void **state)
{
    (void)state;
    for (int k = 0; k < EMB_NSPECIES; k++) {
        assert_int_equal(emb_species_find(emb_species_name(k)), k);
    }
    assert_int_equal(emb_species_find("XE"), -1);
    assert_close(emb_species_mass(EMB_FUEL) * 1e3, 13.742, 1e-4,
                 0.0); /* 40 CFR 1036.550, H/C 1.718 */
    assert_close(emb_species_mass(EMB_UREA) * 1e3, 60.056, 1e-12, 0.0);
}

static void test_fuel(void **state)
{
    (void)state;
    /* 40 CFR 1036.550 Table 1: 49.3112 MJ/kg carbon at 0.874 carbon = 43.098 MJ/kg fuel */
    assert_close(emb_fuel_lhv(), 49.3112e6 * 0.874, 1e-5, 0.0);
    double nu[EMB_NSPECIES] = {[EMB_O2] = -1.4295, [EMB_CO2] = 1.0, [EMB_H2O] = 0.859};
    const double M = emb_species_mass(EMB_FUEL);                                /* [kg/mol] */
    const double burn = emb_fuel_liquid_h(298.15) - reaction_h(nu, 298.15) / M; /* [J/kg] */
    assert_close(burn, emb_fuel_lhv(), 1e-12, 0.0);
    nu[EMB_FUEL] = -1.0;
    assert_close(-reaction_h(nu, 298.15) / M, emb_fuel_lhv() + 0.36e6, 1e-12, 0.0);
    /* Jet-A(g) by mass, NASA TM-4513: twelve carbon and 23 hydrogen atoms */
    const double jet =
        EMB_R *
        (2.0869217 +
         600.0 * (0.13314965 +
                  600.0 * (-8.1157452e-05 +
                           600.0 * (2.9409286e-08 - 600.0 * 6.5195213e-12)))); /* [J/(mol K)] */
    assert_close(emb_species_cp(EMB_FUEL, 600.0) / M, jet / 0.167316, 1e-9, 0.0);
}

static void test_urea_solution(void **state)
{
    (void)state;
    /* Stoichiometry of a 32.5 % urea solution (ISO 22241-1), one NH3 per NOx: exact arithmetic */
    const double nh3 = 2.0 * 0.325 / emb_species_mass(EMB_UREA); /* [mol NH3 / kg solution] */
    assert_close(1.0 / (nh3 * emb_species_mass(EMB_NO2)), 2.008, 3e-4, 0.0);
    assert_close(1.0 / (nh3 * emb_species_mass(EMB_NO)), 3.079, 3e-4, 0.0);
    assert_close(nh3 * emb_species_mass(EMB_NH3), 0.1843, 3e-4, 0.0);
    /* Heat to take 1 kg from 25 degC liquid to gas at 300 degC: water part 2006 kJ, urea decomposed
     * 1004 kJ, hydrolysis -519 kJ (computed from NASA TM-4513) */
    const double water = 0.675 / emb_species_mass(EMB_H2O) *
                         (emb_species_h(EMB_H2O, 573.15) - emb_water_liquid_h(298.15)); /* [J/kg] */
    assert_close(water, 2006e3, 0.002, 0.0);
    const double u = 0.325 / emb_species_mass(EMB_UREA); /* [mol/kg] */
    assert_close(u * 185.5e3, 1004e3, 0.002, 0.0);
}

static void test_water(void **state)
{
    (void)state;
    /* Steam tables (IAPWS-95): 20 degC 2.339 kPa, 100 degC 101.42 kPa; 200 degC 1554.9, 300 degC
     * 8587.9 from memory */
    assert_close(emb_water_psat(293.15), 2339.0, 4e-4, 0.0);
    assert_close(emb_water_psat(373.15), 101420.0, 2e-4, 0.0);
    assert_close(emb_water_psat(473.15), 1554.9e3, 5e-4, 0.0);
    assert_close(emb_water_psat(573.15), 8587.9e3, 5e-4, 0.0);
    assert_finite(emb_water_psat(100.0));
    assert_finite(emb_water_psat(900.0));
    /* CODATA: H2O(l) -285.83 kJ/mol */
    assert_close(emb_water_liquid_h(298.15), -285830.0, 1e-4, 0.0);
    assert_close(emb_water_liquid_cp() / emb_species_mass(EMB_H2O), 4180.0, 0.002, 0.0);
}

static double no2_share(double T, double y_o2)
{
    const double r = emb_kp_no2(T) * sqrt(y_o2 * 1.013); /* [-] at 1.013 bar */
    return r / (1.0 + r);
}

static void test_no2_equilibrium(void **state)
{
    (void)state;
    /* Computed from NASA TM-4513: degC, Kp [bar^-1/2], NO2/NOx at 5, 8, 10, 15 % O2 and 1.013 bar
     */
    static const double rows[][6] = {
        {200, 283.0, .985, .988, .989, .991}, {250, 69.13, .940, .952, .957, .964},
        {300, 21.55, .829, .860, .873, .894}, {350, 8.091, .646, .697, .720, .759},
        {400, 3.512, .442, .500, .528, .578}, {450, 1.711, .278, .328, .353, .400},
        {500, .9150, .171, .207, .226, .263}, {550, .5281, .106, .131, .144, .171},
        {600, .3247, .068, .085, .094, .112}, {650, .2106, .045, .057, .063, .076},
    };
    static const double o2[] = {.05, .08, .10, .15}; /* [-] */
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        const double T = rows[i][0] + 273.15; /* [K] */
        assert_close(emb_kp_no2(T), rows[i][1], 5e-4, 0.0);
        for (int j = 0; j < 4; j++) {
            assert_close(no2_share(T, o2[j]), rows[i][2 + j], 0.0, 0.0006);
        }
        /* and the same from the public enthalpies and entropies */
        const double dh =
            emb_species_h(EMB_NO2, T) - emb_species_h(EMB_NO, T) - 0.5 * emb_species_h(EMB_O2, T);
        const double ds =
            emb_species_s(EMB_NO2, T) - emb_species_s(EMB_NO, T) - 0.5 * emb_species_s(EMB_O2, T);
        assert_close(log(emb_kp_no2(T)), (ds - dh / T) / EMB_R, 0.0, 1e-10);
    }
    assert_close(no2_share(407.0 + 273.15, 0.10), 0.5, 0.0, 0.002);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_reaction_enthalpies),
        cmocka_unit_test(test_elements_and_mass_balance),
        cmocka_unit_test(test_formation_and_heat_capacity),
        cmocka_unit_test(test_smooth_over_seams),
        cmocka_unit_test(test_names),
        cmocka_unit_test(test_fuel),
        cmocka_unit_test(test_urea_solution),
        cmocka_unit_test(test_water),
        cmocka_unit_test(test_no2_equilibrium),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
