/* Values set by path must give the very case that the reader gives for the same --set. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "assert_close.h"
#include "emberpipe/config.h"
#include "emberpipe/vary.h"

static const char *const demo = "configs/parked-regeneration.yaml";

static void load(const char *file, const char *set, struct emb_case *c)
{
    struct emb_err err = {EMB_OK, "", ""};
    assert_int_equal(
        emb_config_load(file, set != NULL ? &set : NULL, set != NULL ? 1 : 0, c, NULL, &err),
        EMB_OK);
}

/* Plain members only: pointers are compared by what they name. */
static void assert_same(const struct emb_case *a, const struct emb_case *b)
{
    assert_memory_equal(&a->ambient, &b->ambient, sizeof a->ambient);
    assert_memory_equal(&a->engine, &b->engine, sizeof a->engine);
    assert_memory_equal(&a->regen, &b->regen, sizeof a->regen);
    assert_memory_equal(&a->stream, &b->stream, sizeof a->stream);
    assert_true(a->start_temperature == b->start_temperature);
    assert_int_equal(a->n_line, b->n_line);
    assert_int_equal(a->duty_repeat, b->duty_repeat);
    for (size_t i = 0; i < a->n_line; i++) {
        assert_string_equal(a->line[i].name, b->line[i].name);
        assert_memory_equal(&a->line[i].u, &b->line[i].u, sizeof a->line[i].u);
    }
    for (size_t i = 0; i < a->n_duty; i++) {
        assert_memory_equal(&a->duty[i].duration, &b->duty[i].duration,
                            offsetof(struct emb_phase, cycle) -
                                offsetof(struct emb_phase, duration));
        assert_memory_equal(&a->duty[i].levers, &b->duty[i].levers, sizeof a->duty[i].levers);
    }
    for (size_t i = 0; i < a->n_target; i++) {
        assert_true(a->target[i].value == b->target[i].value);
        assert_int_equal(a->target[i].at, b->target[i].at);
    }
}

static void same_as_reader(void **state)
{
    static const char *const rows[][2] = {
        {"ambient.temperature", "-18 degC"},
        {"engine.idle_speed", "700 rpm"},
        {"line.doc.blocked", "40 %"},
        {"line[3].oxidation_catalyst.activity", "0.5"},
        {"line.dpf.filter.soot", "3 g/L"},
        {"line.doc.cells", "7"},
        {"duty.warm idle.load", "12 %"},
        {"duty.phases[1].for", "20 min"},
        {"duty.parked regeneration.regenerate", "no"},
        {"duty.repeat", "2"},
        {"regeneration.target_temperature", "590 degC"},
        {"start_temperature", "40 degF"},
        {"regeneration.levers.idle_speed", "1200 rpm"},
        {"targets.soot burns.above", "530 degC"},
        {"targets[2].below", "25 %"},
        {"engine.start_temperature", "0 degC"},
    };
    struct emb_units *u = emb_units_new();
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct emb_case base, want, got;
        struct emb_place p;
        struct emb_err err = {EMB_OK, "", ""};
        char set[300], path[160];
        double si = NAN;
        load(demo, NULL, &base);
        assert_int_equal(emb_place_find(&base, rows[i][0], &p, &err), EMB_OK);
        snprintf(path, sizeof path, "%s", p.path); /* the canonical path is one for --set too */
        snprintf(set, sizeof set, "%s=%s", path, rows[i][1]);
        load(demo, set, &want);
        assert_int_equal(emb_case_copy(&base, &got, &err), EMB_OK);
        assert_same(&base, &got);
        assert_int_equal(emb_place_parse(&p, u, rows[i][1], &si, &err), EMB_OK);
        assert_int_equal(emb_place_set(&got, &p, si, &err), EMB_OK);
        assert_int_equal(emb_case_verify(&got, &err), EMB_OK);
        assert_same(&want, &got);
        assert_true(emb_place_get(&got, &p) == si);
        emb_case_free(&base);
        emb_case_free(&want);
        emb_case_free(&got);
    }
    emb_units_free(u);
}

static void start_follows_only_if_not_given(void **state)
{
    struct emb_case c;
    struct emb_place ambient, start;
    struct emb_err err = {EMB_OK, "", ""};
    (void)state;
    load(demo, NULL, &c);
    assert_int_equal(emb_place_find(&c, "ambient.temperature", &ambient, &err), EMB_OK);
    assert_int_equal(emb_place_find(&c, "start_temperature", &start, &err), EMB_OK);
    assert_int_equal(emb_place_set(&c, &ambient, 250.0, &err), EMB_OK);
    assert_true(c.start_temperature == 250.0 && c.engine.start_temperature == 250.0);
    assert_int_equal(emb_place_set(&c, &start, 300.0, &err), EMB_OK);
    assert_int_equal(emb_place_set(&c, &ambient, 260.0, &err), EMB_OK);
    assert_true(c.start_temperature == 300.0 && c.engine.start_temperature == 300.0);
    emb_case_free(&c);
}

static void refusals(void **state)
{
    static const char *const rows[][2] = {
        {"ambient.temprature", "did you mean temperature?"},
        {"enigne.idle_speed", "did you mean engine"},
        {"line.dco.blocked", "did you mean doc"},
        {"line.doc.bloked", "did you mean blocked?"},
        {"line.doc", "name a key of the entry"},
        {"engine", "holds keys"},
        {"ambient.temperature.x", "holds no keys"},
        {"line.doc.filter.soot", "not a filter"},
        {"duty.nothing.load", "no key 'nothing'"},
        {"stream.flow", "the source of the case is an engine"},
        {"duty.warm idle.road_speed", "the phase is of another kind"},
        {"targets.soot burns.below", "asked the other way"},
        {"", "no path"},
    };
    struct emb_case c;
    struct emb_place p;
    (void)state;
    load(demo, NULL, &c);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct emb_err err = {EMB_OK, "", ""};
        assert_int_equal(emb_place_find(&c, rows[i][0], &p, &err), EMB_ERR_CONFIG);
        if (strstr(err.msg, rows[i][1]) == NULL) {
            fail_msg("%s: '%s' lacks '%s'", rows[i][0], err.msg, rows[i][1]);
        }
    }
    struct emb_err err = {EMB_OK, "", ""};
    assert_int_equal(emb_place_find(&c, "line.doc.kinetics", &p, &err), EMB_OK);
    assert_false(p.numeric);
    assert_int_equal(emb_place_set(&c, &p, 1.0, &err), EMB_ERR_CONFIG);
    assert_int_equal(emb_place_find(&c, "line.doc.blocked", &p, NULL), EMB_OK);
    assert_int_equal(emb_place_set(&c, &p, 0.99, NULL), EMB_ERR_CONFIG);
    assert_int_equal(emb_place_set(&c, &p, NAN, NULL), EMB_ERR_CONFIG);
    assert_int_equal(emb_place_find(&c, "engine.dead_cylinders", &p, NULL), EMB_OK);
    assert_int_equal(emb_place_set(&c, &p, 1.5, NULL), EMB_ERR_CONFIG);
    assert_int_equal(emb_place_set(&c, &p, 6.0, NULL), EMB_OK);
    assert_int_equal(emb_case_verify(&c, NULL), EMB_ERR_CONFIG); /* six of six dead */
    emb_case_free(&c);
}

static void nitrogen_is_the_rest(void **state)
{
    struct emb_case c;
    struct emb_place p;
    struct emb_err err = {EMB_OK, "", ""};
    (void)state;
    load(demo, NULL, &c);
    c.source = EMB_SOURCE_STREAM;
    assert_int_equal(emb_place_find(&c, "stream.o2", &p, &err), EMB_OK);
    assert_int_equal(emb_place_set(&c, &p, 0.05, &err), EMB_OK);
    double sum = 0.0;
    for (int k = 0; k < EMB_NGAS; k++) {
        sum += c.stream.x[k];
    }
    assert_close(sum, 1.0, 0, 1e-15);
    assert_true(c.stream.x[EMB_O2] == 0.05);
    emb_case_free(&c);
}

static void spreads(void **state)
{
    struct emb_case c;
    struct emb_place p;
    (void)state;
    load(demo, NULL, &c);
    assert_int_equal(emb_place_find(&c, "engine.indicated_efficiency", &p, NULL), EMB_OK);
    assert_close(emb_place_spread(&c, &p), 0.04 * 0.45, 1e-12, 0); /* relative */
    assert_int_equal(emb_place_find(&c, "regeneration.enable_temperature", &p, NULL), EMB_OK);
    assert_close(emb_place_spread(&c, &p), 10.0, 1e-12, 0); /* kelvin */
    assert_int_equal(emb_place_find(&c, "line.doc.blocked", &p, NULL), EMB_OK);
    assert_close(emb_place_spread(&c, &p), 0.05, 1e-12, 0); /* the default is zero: in SI */
    assert_int_equal(emb_place_find(&c, "line.dpf.ash", &p, NULL), EMB_OK);
    assert_close(emb_place_spread(&c, &p), 10.0, 1e-12, 0); /* kg/m3 */
    emb_case_free(&c);
}

static void choices(void **state)
{
    static const char *const places[] = {"doc", "scr", "doc2"}, *const covers[] = {"bare",
                                                                                   "wrapped"};
    const struct emb_choice axes[] = {{"line.injector.before", 3, places},
                                      {"line.midpipe.cover", 2, covers}};
    struct emb_variants v;
    struct emb_case far;
    struct emb_err err = {EMB_OK, "", ""};
    (void)state;
    assert_int_equal(emb_variants_load(demo, NULL, 0, axes, 2, &v, &err), EMB_OK);
    assert_int_equal(v.n, 6);
    for (size_t i = 0; i < v.n; i++) {
        const struct emb_case *c = &v.item[i];
        const int injector = emb_case_find(c, "injector"), pipe = emb_case_find(c, "midpipe");
        assert_string_equal(c->line[injector + 1].name, places[i / 2]);
        assert_int_equal(c->line[pipe].u.pipe.cover,
                         i % 2 == 0 ? EMB_COVER_BARE : EMB_COVER_WRAPPED);
        assert_int_equal(c->regen.doser, injector);
        assert_string_equal(c->line[c->target[0].at].name, "scr");
        assert_string_equal(c->line[c->regen.enable_at].name, i < 2 ? "doc" : "doc2");
    }
    /* the other demo is the same truck with the injector there */
    load("configs/dosing-far-downstream.yaml", NULL, &far);
    assert_same(&far, &v.item[5]);
    emb_case_free(&far);
    emb_variants_free(&v);
}

static void files_and_bad_choices(void **state)
{
    static const char *const files[] = {"configs/quickstart.yaml", "configs/weak-heat.yaml"};
    static const char *const bad[] = {"doc", "dco"};
    const struct emb_choice axes[] = {{"", 2, files}}, wrong[] = {{"line.injector.before", 2, bad}};
    struct emb_variants v;
    struct emb_err err = {EMB_OK, "", ""};
    (void)state;
    assert_int_equal(emb_variants_load(demo, NULL, 0, axes, 1, &v, &err), EMB_OK);
    assert_string_equal(v.item[1].file, files[1]);
    emb_variants_free(&v);
    assert_int_equal(emb_variants_load(demo, NULL, 0, wrong, 1, &v, &err), EMB_ERR_CONFIG);
    assert_non_null(strstr(err.msg, "did you mean doc"));
    assert_non_null(strstr(err.msg, "with line.injector.before=dco"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(same_as_reader),
        cmocka_unit_test(start_follows_only_if_not_given),
        cmocka_unit_test(refusals),
        cmocka_unit_test(nitrogen_is_the_rest),
        cmocka_unit_test(spreads),
        cmocka_unit_test(choices),
        cmocka_unit_test(files_and_bad_choices),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
