/* A user's own reaction set: read as printed, and refused with reaction and key where it is wrong. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "assert_close.h"
#include "emberpipe/config.h"
#include "emberpipe/kinetics.h"

static enum emb_status load_set(const char *reactions, struct emb_case *c, struct emb_problems *p)
{
    char file[] = "test_reactions-XXXXXX";
    const int fd = mkstemp(file);
    FILE *f = fd >= 0 ? fdopen(fd, "w") : NULL;
    assert_non_null(f);
    fprintf(f, "stream: {}\nline:\n  - name: doc\n    oxidation_catalyst: {reactions: %s}\n"
               "duty: {phases: [{for: 1 s}]}\n", reactions);
    assert_int_equal(fclose(f), 0);
    *p = (struct emb_problems){0, NULL};
    const enum emb_status st = emb_config_load(file, NULL, 0, c, p, NULL);
    assert_int_equal(unlink(file), 0);
    return st;
}

/* CO and C3H6 rates per platinum area [mol/(cm2 s)] computed by hand from the law printed in Oh &
 * Cavendish 1982; diesel-like feed, 10 % O2. */
static void set_from_yaml_gives_the_published_rates(void **state)
{
    static const double T[] = {400, 450, 500, 550, 600};
    static const double r[] = {4.662e-12, 1.327e-10, 1.573e-9, 1.031e-8, 4.504e-8};
    const double x[EMB_NGAS] = {
        [EMB_CO] = 500e-6, [EMB_C3H6] = 100e-6, [EMB_NO] = 300e-6, [EMB_O2] = 0.10};
    struct emb_case c;
    struct emb_problems p;
    (void)state;
    assert_int_equal(load_set("{use: reactions-oh-cavendish}", &c, &p), EMB_OK);
    assert_int_equal(c.n_set, 1);
    assert_int_equal(c.line[0].u.brick.reactions, 1);
    const struct emb_reaction_set *s = &c.set[0];
    for (int i = 0; i < 5; i++) {
        const double A = s->r[0].A / (26895.0 * 1e4); /* per brick volume -> per cm2 of platinum */
        const double v = A * exp(-s->r[0].E / (EMB_R * T[i])) * x[EMB_CO] * x[EMB_O2] /
                         emb_inhibition_value(s, 0, T[i], x);
        assert_close(v, r[i], 2e-3, 0.0);
    }
    emb_case_free(&c);
    emb_problems_free(&p);
}

static void copies_own_their_sets(void **state)
{
    struct emb_case a, b;
    struct emb_problems p;
    (void)state;
    assert_int_equal(load_set("{use: reactions-oh-cavendish}", &a, &p), EMB_OK);
    assert_int_equal(emb_case_copy(&a, &b, NULL), EMB_OK);
    assert_ptr_not_equal(a.set, b.set);
    assert_close(b.set[0].r[2].A, a.set[0].r[2].A, 0.0, 0.0);
    emb_case_free(&a);
    emb_case_free(&b);
    emb_problems_free(&p);
}

/* The storage steps as Olsson, Sjovall & Blint 2008 have them (from memory): a concentration, so that the
 * rate per mole fraction falls with the gas density. */
static void adsorption_follows_the_concentration(void **state)
{
    struct emb_case c;
    struct emb_problems p;
    (void)state;
    assert_int_equal(load_set("{steps: [{equation: NH3 -> NH3*, A: 0.93 m3/(mol s), coverage: free}, "
                              "{equation: NH3* -> NH3, A: 1e11 1/s, E: 181.5 kJ/mol, coverage: stored}]}", &c, &p),
                     EMB_OK);
    struct emb_surface_plan plan;
    emb_surface_plan_init(&plan, &c.set[0]);
    double got[2]; /* [mol/s] */
    for (int i = 0; i < 2; i++) {
        struct emb_surface s = {.T = 400.0 * (i + 1), .p = i == 0 ? 40e3 : 160e3, .volume = 1e-9, .sites = 200.0};
        double n[EMB_NSPECIES] = {[EMB_N2] = 1.0, [EMB_NH3] = 500e-6};
        for (int k = 0; k < EMB_NGAS; k++) {
            s.transfer[k] = INFINITY;
        }
        got[i] = emb_surface_react(&plan, &s, n);
    }
    const double x = 500e-6 / (1.0 + 500e-6);
    assert_close(got[0], 0.93 * 200e-9 * x * 40e3 / (EMB_R * 400.0), 1e-5, 0.0);
    assert_close(got[1], 0.93 * 200e-9 * x * 160e3 / (EMB_R * 800.0), 1e-5, 0.0);
    emb_case_free(&c);
    emb_problems_free(&p);
}

struct bad {
    const char *reactions, *path, *says;
};
#define CO "equation: CO + 0.5 O2 -> CO2"

static void wrong_sets_are_refused(void **state)
{
    static const struct bad rows[] = {
        {"{steps: [{equation: CO + O2 -> CO2, A: 1 mol/(m3 s)}]}", "steps[0].equation", "oxygen"},
        {"{steps: [{equation: NO -> N2O, A: 1 mol/(m3 s)}]}", "steps[0].equation", "nitrogen"},
        {"{steps: [{" CO ", A: -1 mol/(m3 s)}]}", "steps[0].A", "negative"},
        {"{steps: [{" CO ", A: 1e90 mol/(m3 s)}]}", "steps[0].A", "overflows"},
        {"{steps: [{" CO ", A: 1 mol/(m3 s), E: -600 kJ/mol}]}", "steps[0].E", "overflows"},
        {"{steps: [{" CO ", A: 1 mol/(m2 s)}]}", "steps[0].A", "rate per volume"},
        {"{area: 100 1/m, steps: [{" CO ", A: 1 mol/(m3 s)}]}", "steps[0].A", "rate per area"},
        {"{steps: [{" CO ", A: 1}]}", "steps[0].A", "lacks a unit"},
        {"{steps: [{equation: CX + 0.5 O2 -> CO2, A: 1 mol/(m3 s)}]}", "steps[0].equation", "CX"},
        {"{steps: [{" CO ", A: 1 mol/(m3 s), orders: CO 1 O2 1}]}", "steps[0].orders", "commas"},
        {"{steps: [{" CO ", A: 1 mol/(m3 s), inhibited_by: x}]}", "steps[0].inhibited_by", "'x'"},
        {"{steps: [{" CO ", A: 1 mol/(m3 s), equilibrium: yes}]}", "steps[0].equilibrium", "NO"},
        {"{steps: [{equation: NH3* -> NH3, A: 1 mol/(m3 s), E: 9 kJ/mol}]}", "steps[0].coverage", "empties"},
        {"{steps: [{equation: CO + -0.5 O2 -> CO2, A: 1 mol/(m3 s)}]}", "steps[0].equation", "number of O2"},
        {"{steps: [{equation: CO + 0 O2 -> CO2, A: 1 mol/(m3 s)}]}", "steps[0].equation", "number of O2"},
        {"{steps: [{equation: CO + nan O2 -> CO2, A: 1 mol/(m3 s)}]}", "steps[0].equation", "'nan'"},
        {"{steps: [{" CO ", A: nan mol/(m3 s)}]}", "steps[0].A", "finite"},
        {"{steps: [{" CO ", A: 1 mol/(m3 s), E: 60}]}", "steps[0].E", "lacks a unit"},
        {"{steps: [{" CO ", A: 1 mol/(m3 s), E: nan J/mol}]}", "steps[0].E", "finite"},
        {"{steps: [{" CO ", A: 1 mol/(m3 s), orders: CO nan}]}", "steps[0].orders", "above 0"},
        {"{steps: [{" CO ", A: 1 mol/(m3 s), orders: CO -1}]}", "steps[0].orders", "above 0"},
        {"{steps: [{" CO ", A: 1 mol/(m3 s), inhibited_by: g}], inhibition: [{group: g, K: -3, of: CO 1}]}",
         "inhibition[0].K", "out of range"},
        {"{steps: [{" CO ", A: 1 mol/(m3 s), inhibited_by: g}], inhibition: [{group: g, K: nan, of: CO 1}]}",
         "inhibition[0].K", "finite"},
        {"{steps: [{" CO ", A: 1 mol/(m3 s), inhibited_by: g}], inhibition: [{group: g, K: 3, of: CX 1}]}",
         "inhibition[0].of", "'CX'"},
        {"{area: -3 1/m, steps: [{" CO ", A: 1 mol/(m2 s)}]}", "reactions.area", "out of range"},
        {"{steps: [{equation: NH3 -> NH3*, A: 0.93 m3/(mol s), coverage: free, orders: NH3 2}, {equation: NH3* -> NH3, "
         "A: 1e11 1/s, E: 9 kJ/mol, coverage: stored}]}", "steps[0].A", "first order"},
        {"{}", "reactions", "1 to 12 steps"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct emb_case c;
        struct emb_problems p;
        bool found = false;
        assert_int_not_equal(load_set(rows[i].reactions, &c, &p), EMB_OK);
        for (size_t k = 0; k < p.n; k++) {
            found = found || (strstr(p.item[k].path, rows[i].path) != NULL &&
                              strstr(p.item[k].text, rows[i].says) != NULL);
        }
        if (!found || p.n != 1) {
            fail_msg("%s: wanted '%s' at %s, got %s: %s", rows[i].reactions, rows[i].says,
                     rows[i].path, p.n > 0 ? p.item[0].path : "", p.n > 0 ? p.item[0].text : "");
        }
        emb_problems_free(&p);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(set_from_yaml_gives_the_published_rates),
        cmocka_unit_test(copies_own_their_sets),
        cmocka_unit_test(adsorption_follows_the_concentration),
        cmocka_unit_test(wrong_sets_are_refused),
    };
    setenv("EMBERPIPE_CONFIGS", "configs", 1);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
