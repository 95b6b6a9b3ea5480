/* The input room: files that are wrong in every way, overrides, parts and cycles. */
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
        cmocka_unit_test(test_minimal),
        cmocka_unit_test(test_quickstart),    cmocka_unit_test(test_set),
        cmocka_unit_test(test_all_problems),  cmocka_unit_test(test_shapes),
        cmocka_unit_test(test_binary_and_large), cmocka_unit_test(test_parts),
        cmocka_unit_test(test_cycles),        cmocka_unit_test(test_cycles_bad),
        cmocka_unit_test(test_explain),
    };
    return cmocka_run_group_tests(tests, setup, teardown);
}
