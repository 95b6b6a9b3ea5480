/* The input room: units, fields, files that are wrong in every way, overrides, parts and cycles. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <sys/stat.h>
#include <cmocka.h>
#include "assert_close.h"
#include "emberpipe/config.h"
#include "emberpipe/csv.h"
#include "emberpipe/field.h"

#define MINIMAL                                                                                                        \
    "stream: {flow: 0.1 kg/s, temperature: 300 degC}\n"                                                                \
    "line: [{name: doc, oxidation_catalyst: {}}]\n"                                                                    \
    "duty: {phases: [{for: 10 min}]}\n"

static int setup(void **state)
{
    char made[] = "emb_input_XXXXXX";
    if (mkdtemp(made) == NULL) {
        return -1;
    }
    char *folder = malloc(sizeof made);
    if (folder == NULL) {
        return -1;
    }
    memcpy(folder, made, sizeof made);
    *state = folder;
    char parts[80];
    snprintf(parts, sizeof parts, "%s/parts", folder);
    return mkdir(parts, 0700);
}

struct file_name { char s[160]; };
static struct file_name write_bytes(const char *folder, const char *name, const char *text, size_t n)
{
    struct file_name path;
    snprintf(path.s, sizeof path.s, "%s/%s", folder, name);
    FILE *f = fopen(path.s, "wb");
    assert_non_null(f);
    assert_int_equal(fwrite(text, 1, n, f), n);
    fclose(f);
    return path;
}

static int teardown(void **state)
{
    static const char *const made[] = {"c.yaml", "t.csv", "parts/a.yaml", "parts/b.yaml", "parts", NULL};
    char path[160], *folder = *state;
    for (size_t i = 0; made[i] != NULL; i++) {
        snprintf(path, sizeof path, "%s/%s", folder, made[i]);
        remove(path);
    }
    const int left = rmdir(folder);
    free(folder);
    return left;
}

static enum emb_status load(const char *folder, const char *text, const char *set, struct emb_case *c, struct emb_problems *p)
{
    const struct file_name file = write_bytes(folder, "c.yaml", text, strlen(text));
    return emb_config_load(file.s, &set, set != NULL, c, p, NULL);
}

static void expect_problem(const char *folder, const char *text, const char *set, const char *path, int line, const char *words)
{
    struct emb_case c;
    struct emb_problems p;
    assert_int_equal(load(folder, text, set, &c, &p), EMB_ERR_CONFIG);
    bool found = false;
    for (size_t i = 0; i < p.n; i++) {
        found = found || (strcmp(p.item[i].path, path) == 0 && (line < 0 || p.item[i].line == line) &&
                          strstr(p.item[i].text, words) != NULL);
    }
    if (!found) {
        for (size_t i = 0; i < p.n; i++) {
            print_error("%s:%d: %s: %s\n", p.item[i].file, p.item[i].line, p.item[i].path, p.item[i].text);
        }
        fail_msg("missing: %s line %d: %s", path, line, words);
    }
    emb_problems_free(&p);
}

struct unit_case { const char *text; enum emb_dim dim; double si; };
/* Values: NIST Special Publication 811 (2008), appendix B.8 */
static const struct unit_case good[] = {
    {"970 degF", EMB_DIM_TEMPERATURE, (970 + 459.67) / 1.8}, {"550 °C", EMB_DIM_TEMPERATURE, 823.15},
    {"-10 degC", EMB_DIM_TEMPERATURE, 263.15}, {"300 K", EMB_DIM_TEMPERATURE, 300}, {"25 degC", EMB_DIM_DELTA, 25},
    {"18 degF", EMB_DIM_DELTA, 10}, {"12 in", EMB_DIM_LENGTH, 0.3048}, {"1 mile", EMB_DIM_LENGTH, 1609.344},
    {"1.5 mm", EMB_DIM_LENGTH, 1.5e-3}, {"2 day", EMB_DIM_TIME, 172800}, {"30 min", EMB_DIM_TIME, 1800},
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

static void test_minimal(void **state)
{
    struct emb_case c;
    assert_int_equal(load(*state, MINIMAL, NULL, &c, NULL), EMB_OK);
    assert_close(c.stream.temperature, 573.15, 1e-12, 0);
    assert_close(c.stream.x[EMB_N2], 1 - 0.10 - 0.07 - 0.07, 1e-12, 0);
    assert_close(c.line[0].u.brick.body.diameter, 0.3048, 1e-12, 0);
    assert_int_equal(c.duty[0].mode, EMB_PHASE_STREAM);
    assert_true(isnan(c.duty[0].stream.flow));
    assert_true(isnan(c.duty[0].levers.egr));
    assert_close(c.duty[0].duration, 600, 1e-12, 0);
    assert_close(c.start_temperature, 293.15, 1e-12, 0);
    emb_case_free(&c);
}

static void test_quickstart(void **state)
{
    struct emb_case c;
    struct emb_err err = {0};
    (void)state;
    const enum emb_status s = emb_config_load("configs/quickstart.yaml", NULL, 0, &c, NULL, &err);
    if (s != EMB_OK) {
        fail_msg("%s: %s", err.where, err.msg);
    }
    assert_true(c.regen.present);
    assert_int_equal(c.regen.doser, emb_case_find(&c, "injector"));
    assert_int_equal(c.regen.enable_at, emb_case_find(&c, "doc"));
    assert_int_equal(c.regen.hold_at, emb_case_find(&c, "dpf"));
    emb_case_free(&c);
}

static void test_set(void **state)
{
    struct emb_case c;
    assert_int_equal(load(*state, MINIMAL, "line.doc.blocked=40 %", &c, NULL), EMB_OK);
    assert_close(c.line[0].u.brick.blocked, 0.4, 1e-12, 0);
    emb_case_free(&c);
    assert_int_equal(load(*state, MINIMAL, "line[0].oxidation_catalyst.activity=0.5", &c, NULL), EMB_OK);
    assert_close(c.line[0].u.brick.activity, 0.5, 1e-12, 0);
    emb_case_free(&c);
    assert_int_equal(load(*state, MINIMAL, "ambient.temperature=-10 degC", &c, NULL), EMB_OK);
    assert_close(c.ambient.temperature, 263.15, 1e-12, 0);
    emb_case_free(&c);
    assert_int_equal(load(*state, MINIMAL, "duty.phases[0].for=5 s", &c, NULL), EMB_OK);
    assert_close(c.duty[0].duration, 5, 1e-12, 0);
    emb_case_free(&c);
    expect_problem(*state, MINIMAL, "line.dox.blocked=1", "--set", 0, "did you mean doc?");
    expect_problem(*state, MINIMAL, "ambient.temprature=1 K", "--set", 0, "did you mean temperature?");
    expect_problem(*state, MINIMAL, "ambient=1", "--set", 0, "holds keys");
    expect_problem(*state, MINIMAL, "title.x=1", "--set", 0, "single value");
    expect_problem(*state, MINIMAL, "duty.phases[7].for=1 s", "--set", 0, "no entry '7'");
    expect_problem(*state, MINIMAL, "nonsense", "--set", 0, "path=value");
    expect_problem(*state, MINIMAL, "ambient.wind=5", "ambient.wind", 0, "lacks a unit");
}

static void test_all_problems(void **state)
{
    static const char text[] = "stream: {flow: 0 kg/s, temprature: 300 degC}\n"
                               "ambient: {wind: 5}\n"
                               "line:\n"
                               "  - {name: doc, oxidation_catalyst: {cells: 1.5, kinetics: oxydation}}\n"
                               "  - {name: doc, sensor: {}}\n"
                               "  - {name: inj, def_doser: {}}\n"
                               "duty: {phases: [{for: 1e999 s}, {speed: 900 rpm, stream: {}, regenerate: yes}]}\n"
                               "targets: [{name: t, at: dog, above: 5 m}]\n";
    expect_problem(*state, text, NULL, "stream.flow", 1, "out of range");
    expect_problem(*state, text, NULL, "stream.temprature", 1, "did you mean temperature?");
    expect_problem(*state, text, NULL, "ambient.wind", 2, "lacks a unit");
    expect_problem(*state, text, NULL, "line[0].oxidation_catalyst.cells", 4, "whole number");
    expect_problem(*state, text, NULL, "line[0].oxidation_catalyst.kinetics", 4, "did you mean oxidation?");
    expect_problem(*state, text, NULL, "line[1].name", 5, "taken");
    expect_problem(*state, text, NULL, "line[2]", 6, "no reduction catalyst");
    expect_problem(*state, text, NULL, "duty.phases[0].for", 7, "finite");
    expect_problem(*state, text, NULL, "duty.phases[1]", 7, "two kinds");
    expect_problem(*state, text, NULL, "duty.phases[1]", 7, "needs a duration");
    expect_problem(*state, text, NULL, "duty.phases[1]", 7, "no regeneration block");
    expect_problem(*state, text, NULL, "targets[0].at", 8, "did you mean doc?");
    expect_problem(*state, text, NULL, "targets[0].above", 8, "not a unit of temperature");
}

static void test_shapes(void **state)
{
    expect_problem(*state, "", NULL, "", -1, "empty");
    expect_problem(*state, "# nothing\n", NULL, "", -1, "empty");
    expect_problem(*state, "just words\n", NULL, "", 1, "block of keys");
    expect_problem(*state, "- a\n", NULL, "", 1, "block of keys");
    expect_problem(*state, "title: a\ntitle: b\n", NULL, "title", 2, "given twice");
    expect_problem(*state, "line: 5\n", NULL, "line", 1, "must be a list");
    expect_problem(*state, "ambient:\n", NULL, "ambient", 1, "is empty");
    expect_problem(*state, "ambient: [1]\n", NULL, "ambient", 1, "is a list");
    expect_problem(*state, "title: [1]\n", NULL, "title", 1, "is a list");
    expect_problem(*state, "title: {a: 1}\n", NULL, "title", 1, "single value");
    expect_problem(*state, "title: \"a\\0b\"\n", NULL, "title", 1, "NUL");
    expect_problem(*state, "a: &x 1\nb: *x\n", NULL, "", 2, "aliases");
    expect_problem(*state, "title: a\n---\ntitle: b\n", NULL, "", -1, "one document");
    expect_problem(*state, "title: [[[[[[[[[[[[[[[[[[1]]]]]]]]]]]]]]]]]]\n", NULL, "", 1, "deeply");
    expect_problem(*state, "title: {\n", NULL, "", -1, "not readable");
    expect_problem(*state, "title: \xFF\n", NULL, "", 1, "UTF-8");
    expect_problem(*state, "title: x\n", NULL, "", -1, "no source");
    expect_problem(*state, "stream: {}\nengine: {}\n", NULL, "engine", 2, "more than one source");
    expect_problem(*state, "stream: {o2: 60 %, co2: 50 %}\n", NULL, "stream", 1, "more than 1");
    expect_problem(*state, "line: [{name: a}]\n", NULL, "line[0]", 1, "exactly one kind");
    expect_problem(*state, "line: [{name: a, pipe: {}, leak: {}}]\n", NULL, "line[0]", 1, "exactly one kind");
    expect_problem(*state, "line: [{name: a.b, pipe: {}}]\n", NULL, "line[0].name", 1, "letters");
    expect_problem(*state, "line: [{pipe: {}}]\n", NULL, "line[0].name", 1, "needs a name");
    expect_problem(*state, "line: []\n", NULL, "line", 1, "empty");
    expect_problem(*state, "regeneration: {doser: x}\n", NULL, "regeneration.doser", 1, "not in the line");
}

static void test_binary_and_large(void **state)
{
    struct emb_case c;
    struct emb_problems p;
    struct file_name file = write_bytes(*state, "c.yaml", "title: a\0b\n", 11);
    assert_int_equal(emb_config_load(file.s, NULL, 0, &c, &p, NULL), EMB_ERR_CONFIG);
    assert_non_null(strstr(p.item[0].text, "NUL"));
    emb_problems_free(&p);
    const size_t n = 4 * 1024 * 1024 + 1;
    char *big = malloc(n);
    assert_non_null(big);
    memset(big, '#', n);
    file = write_bytes(*state, "c.yaml", big, n);
    free(big);
    assert_int_equal(emb_config_load(file.s, NULL, 0, &c, &p, NULL), EMB_ERR_CONFIG);
    assert_non_null(strstr(p.item[0].text, "4 MB"));
    emb_problems_free(&p);
    assert_int_equal(emb_config_load("no/such.yaml", NULL, 0, &c, &p, NULL), EMB_ERR_CONFIG);
    assert_non_null(strstr(p.item[0].text, "cannot open"));
    emb_problems_free(&p);
}

#define WITH_PART                                                                                                      \
    "stream: {}\nline: [{name: doc, oxidation_catalyst: {use: a, length: 4 in}}]\nduty: {phases: [{for: 1 s}]}\n"
static void part(const char *folder, const char *name, const char *text)
{
    write_bytes(folder, name, text, strlen(text));
}

static void test_parts(void **state)
{
    struct emb_case c;
    part(*state, "parts/a.yaml", "use: b\nlength: 9 in\nactivity: 0.5\n");
    part(*state, "parts/b.yaml", "diameter: 10 in\nactivity: 0.9\n");
    assert_int_equal(load(*state, WITH_PART, NULL, &c, NULL), EMB_OK);
    assert_close(c.line[0].u.brick.body.length, 4 * 0.0254, 1e-12, 0);   /* given wins */
    assert_close(c.line[0].u.brick.activity, 0.5, 1e-12, 0);             /* the nearer part wins */
    assert_close(c.line[0].u.brick.body.diameter, 0.254, 1e-12, 0);
    emb_case_free(&c);
    part(*state, "parts/b.yaml", "use: a\n");
    expect_problem(*state, WITH_PART, NULL, "line[0].oxidation_catalyst.use", 2, "uses itself");
    part(*state, "parts/b.yaml", "\nactivity: 5\n");
    part(*state, "parts/a.yaml", "use: b\n");
    expect_problem(*state, WITH_PART, NULL, "line[0].oxidation_catalyst.activity", 2, "out of range");
    expect_problem(*state, "engine: {use: nowhere}\n", NULL, "engine.use", 1, "not found");
    expect_problem(*state, "engine: {use: ../../etc}\n", NULL, "engine.use", 1, "not a part name");
}

static void test_cycles(void **state)
{
    struct emb_trace t;
    struct emb_err err = {0};
    struct emb_units *u = emb_units_new();
    part(*state, "t.csv", "\xEF\xBB\xBF" "cycSecs,cycMps,cycGrade,cycRoadType\r\n5,0,0,0\r\n6,1.5,0.01,0\r\n");
    char file[160];
    snprintf(file, sizeof file, "%s/t.csv", (const char *)*state);
    assert_int_equal(emb_csv_road_cycle(file, u, &t, &err), EMB_OK);
    assert_int_equal(t.n, 2);
    assert_close(t.t[0], 0, 0, 1e-15);
    assert_close(t.t[1], 1, 1e-15, 0);
    assert_close(t.v[2], 1.5, 1e-15, 0);
    assert_close(t.v[3], 0.01, 1e-15, 0);
    free(t.t);
    free(t.v);
    part(*state, "t.csv", "time [s],n_norm,T_norm\n1,50,-1\n2,100,40\n");
    assert_int_equal(emb_csv_engine_cycle(file, u, &t, &err), EMB_OK);
    assert_close(t.v[0], 0.5, 1e-15, 0);
    assert_close(t.v[1], -1.0, 1e-15, 0);
    assert_close(t.v[3], 0.4, 1e-15, 0);
    free(t.t);
    free(t.v);
    const struct emb_recorded_cfg log = {NULL, (char[]){"time"}, (char[]){"flow"}, (char[]){"gas"}};
    part(*state, "t.csv", "gas [degC],time [min],flow [kg/h]\n100,0,360\n200,1,720\n");
    assert_int_equal(emb_csv_recorded(file, u, &log, &t, &err), EMB_OK);
    assert_close(t.t[1], 60, 1e-15, 0);
    assert_close(t.v[2], 0.2, 1e-12, 0);
    assert_close(t.v[3], 473.15, 1e-12, 0);
    free(t.t);
    free(t.v);
    emb_units_free(u);
}

static void test_cycles_bad(void **state)
{
    static const struct { const char *text, *words; } bad[] = {
        {"", "two rows"}, {"cycSecs,cycMps\n", "two rows"}, {"a,b\n1,2\n2,3\n", "no column"},
        {"cycSecs,cycMps\n0,0\n0,1\n", "line 3: time does not rise"}, {"cycSecs,cycMps\n0,0\n1,nan\n", "line 3, column 2"},
        {"cycSecs,cycMps\n0,0\n1,1,5\n", "decimal commas"}, {"cycSecs,cycMps\n0,0\n1,\n", "line 3, column 2"},
        {"cycSecs,cycMps\n0,0\n1,-5\n", "outside"}, {"cycSecs,speed [kg]\n0,0\n1,5\n", "not a unit"},
    };
    char file[160];
    struct emb_units *u = emb_units_new();
    snprintf(file, sizeof file, "%s/t.csv", (const char *)*state);
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct emb_trace t;
        struct emb_err err = {0};
        part(*state, "t.csv", bad[i].text);
        assert_int_equal(emb_csv_road_cycle(file, u, &t, &err), EMB_ERR_CONFIG);
        assert_null(t.t);
        if (strstr(err.msg, bad[i].words) == NULL) {
            fail_msg("'%s' lacks '%s'", err.msg, bad[i].words);
        }
    }
    emb_units_free(u);
}

static void test_explain(void **state)
{
    (void)state;
    FILE *f = tmpfile();
    struct emb_err err = {0};
    assert_non_null(f);
    assert_int_equal(emb_explain(f, NULL, &err), EMB_OK);
    assert_int_equal(emb_explain(f, "engine.egr_idle", &err), EMB_OK);
    assert_int_equal(emb_explain(f, "line[].filter.soot", &err), EMB_OK);
    assert_int_equal(emb_explain(f, "storage", &err), EMB_OK);
    assert_int_equal(emb_schema_write(f, &err), EMB_OK);
    assert_int_equal(emb_explain(f, "engine.egr_idel", &err), EMB_ERR_USAGE);
    assert_non_null(strstr(err.msg, "egr_idle"));
    fclose(f);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_units_good),    cmocka_unit_test(test_units_bad),
        cmocka_unit_test(test_defaults_are_sound), cmocka_unit_test(test_minimal),
        cmocka_unit_test(test_quickstart),    cmocka_unit_test(test_set),
        cmocka_unit_test(test_all_problems),  cmocka_unit_test(test_shapes),
        cmocka_unit_test(test_binary_and_large), cmocka_unit_test(test_parts),
        cmocka_unit_test(test_cycles),        cmocka_unit_test(test_cycles_bad),
        cmocka_unit_test(test_explain),
    };
    return cmocka_run_group_tests(tests, setup, teardown);
}
