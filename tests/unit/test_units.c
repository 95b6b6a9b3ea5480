/* Quantities with units, and the defaults of the field table. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>
#include "assert_close.h"
#include "emberpipe/field.h"

struct unit_case { const char *text; enum emb_dim dim; double si; };
/* Values: NIST Special Publication 811 (2008), appendix B.8 */
static const struct unit_case good[] = {
    {"970 degF", EMB_DIM_TEMPERATURE, (970 + 459.67) / 1.8}, {"550 °C", EMB_DIM_TEMPERATURE, 823.15},
    {"-10 degC", EMB_DIM_TEMPERATURE, 263.15}, {"300 K", EMB_DIM_TEMPERATURE, 300}, {"25 degC", EMB_DIM_DELTA, 25},
    {"18 degF", EMB_DIM_DELTA, 10}, {"12 in", EMB_DIM_LENGTH, 0.3048}, {"1 mile", EMB_DIM_LENGTH, 1609.344},
    {"1.5 mm", EMB_DIM_LENGTH, 1.5e-3}, {"40 um", EMB_DIM_LENGTH, 4e-5},
    {"20 nm", EMB_DIM_LENGTH, 2e-8}, {"2 day", EMB_DIM_TIME, 172800}, {"30 min", EMB_DIM_TIME, 1800},
    {"1 lb", EMB_DIM_MASS, 0.45359237}, {"25 t", EMB_DIM_MASS, 25000}, {"1 psi", EMB_DIM_PRESSURE, 6894.757293168},
    {"1 inH2O", EMB_DIM_PRESSURE, 249.0889}, {"1 atm", EMB_DIM_PRESSURE, 101325}, {"36 km/h", EMB_DIM_SPEED, 10},
    {"1 mph", EMB_DIM_SPEED, 0.44704}, {"60 rpm", EMB_DIM_ROTATION, 6.283185307179586},
    {"1 lbf ft", EMB_DIM_TORQUE, 1.3558179483}, {"7 Nm", EMB_DIM_TORQUE, 7}, {"7 N m", EMB_DIM_TORQUE, 7},
    {"1 hp", EMB_DIM_POWER, 745.69987}, {"1 gal", EMB_DIM_VOLUME, 3.785411784e-3}, {"5 cc", EMB_DIM_VOLUME, 5e-6},
    {"6 g/L", EMB_DIM_DENSITY, 6}, {"36 kg/h", EMB_DIM_MASS_FLOW, 0.01}, {"60 g/min", EMB_DIM_MASS_FLOW, 1e-3},
    {"3 mg/s", EMB_DIM_MASS_FLOW, 3e-6}, {"400 cpsi", EMB_DIM_CELL_DENSITY, 400 / 0.00064516},
    {"2 kJ/mol", EMB_DIM_MOLAR_ENERGY, 2000}, {"45 g/kg", EMB_DIM_INDEX, 0.045}, {"40 %", EMB_DIM_FRACTION, 0.4},
    {"250ppm", EMB_DIM_FRACTION, 250e-6}, {"0.4", EMB_DIM_FRACTION, 0.4}, {"1e3 1/s", EMB_DIM_RATE, 1000},
    {"0.5 m2 K/W", EMB_DIM_INSULATION, 0.5}, {"3 W/(m2 K)", EMB_DIM_CONDUCTANCE, 3},
};

static void test_units_good(void **state)
{
    (void)state;
    struct emb_units *u = emb_units_new();
    assert_non_null(u);
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) {
        char msg[EMB_UNIT_MSG] = "";
        double si = NAN;
        if (emb_quantity_parse(u, good[i].text, good[i].dim, &si, msg) != 0) {
            fail_msg("%s: %s", good[i].text, msg);
        }
        assert_close(si, good[i].si, 1e-6, 0.0);
    }
    emb_units_free(u);
}

static void test_units_bad(void **state)
{
    static const struct { const char *text; enum emb_dim dim; } bad[] = {
        {"1,5 m", EMB_DIM_LENGTH}, {"nan m", EMB_DIM_LENGTH}, {"inf m", EMB_DIM_LENGTH}, {"1e999 m", EMB_DIM_LENGTH},
        {"0x10 m", EMB_DIM_LENGTH}, {" 1 m", EMB_DIM_LENGTH}, {"1 m ", EMB_DIM_LENGTH}, {"", EMB_DIM_LENGTH},
        {"m", EMB_DIM_LENGTH}, {"1", EMB_DIM_LENGTH}, {"1 kg", EMB_DIM_LENGTH}, {"5 10 m", EMB_DIM_LENGTH},
        {"5 m 10", EMB_DIM_LENGTH}, {"1_000 m", EMB_DIM_LENGTH}, {"1 m\n", EMB_DIM_LENGTH}, {"1 ~", EMB_DIM_LENGTH},
        {"1 F", EMB_DIM_TEMPERATURE}, {"1 C", EMB_DIM_TEMPERATURE}, {"5 rad/s", EMB_DIM_RATE},
        {"5 1/s", EMB_DIM_ROTATION}, {"2 s", EMB_DIM_RATE}, {"3 1/m", EMB_DIM_LENGTH}, {"1 rad", EMB_DIM_FRACTION},
        {"12abc", EMB_DIM_FRACTION}, {"--1", EMB_DIM_FRACTION}, {"1e", EMB_DIM_FRACTION}, {"+", EMB_DIM_FRACTION},
        {"1 m @ 5", EMB_DIM_LENGTH}, {"1 ((((m", EMB_DIM_LENGTH}, {"1 \xC2\xB0", EMB_DIM_TEMPERATURE},
    };
    (void)state;
    struct emb_units *u = emb_units_new();
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        char msg[EMB_UNIT_MSG] = "";
        double si = NAN;
        if (emb_quantity_parse(u, bad[i].text, bad[i].dim, &si, msg) == 0) {
            fail_msg("accepted '%s' as %g", bad[i].text, si);
        }
        assert_true(strlen(msg) > 10);
    }
    emb_units_free(u);
}

static void walk_defaults(const struct emb_units *u, const struct emb_block *b)
{
    for (size_t i = 0; i < b->n; i++) {
        const struct emb_field *f = &b->field[i];
        assert_non_null(f->help);
        if (f->kind == EMB_FIELD_QUANTITY && f->def != NULL && strcmp(f->def, EMB_UNSET) != 0) {
            char msg[EMB_UNIT_MSG] = "";
            double si = NAN;
            if (emb_quantity_parse(u, f->def, f->dim, &si, msg) != 0 || si < f->min || si > f->max) {
                fail_msg("default of %s.%s: %s", b->name, f->key, msg);
            }
        }
        assert_true(f->min <= f->max);
        if (f->block != NULL) {
            walk_defaults(u, f->block);
        }
    }
}

static void test_defaults_are_sound(void **state)
{
    (void)state;
    struct emb_units *u = emb_units_new();
    walk_defaults(u, &emb_block_case);
    emb_units_free(u);
}

/* Short numbers take a way of their own; the C library is the reference (IEEE 754, correctly
 * rounded), bit for bit. */
static void test_numbers_as_the_library_reads_them(void **state)
{
    static const char *const texts[] = {
        "0", "-0", "+1", "1.", ".5", "0.1", "-273.15", "123456789012345", "0.000000000000001",
        "99999.9999999999", "1234567890123456", "0.1234567890123456789", "1e3", "1.5e-7", "4503599627370497.5"};
    unsigned seed = 1;
    (void)state;
    for (size_t i = 0; i < 2000; i++) {
        char text[40];
        double got = -1.0;
        seed = seed * 1664525U + 1013904223U; /* Numerical Recipes, ch. 7.1 */
        snprintf(text, sizeof text, "%s%u.%0*u", seed % 3 == 0 ? "-" : "", seed % 100000U,
                 1 + (int)(seed % 9U), (seed >> 8) % 1000U);
        const char *t = i < sizeof texts / sizeof *texts ? texts[i] : text;
        const double want = strtod(t, NULL);
        assert_int_equal(emb_number_parse(t, &got, NULL), 0);
        assert_memory_equal(&got, &want, sizeof got);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_units_good),
        cmocka_unit_test(test_units_bad),
        cmocka_unit_test(test_numbers_as_the_library_reads_them),
        cmocka_unit_test(test_defaults_are_sound),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
