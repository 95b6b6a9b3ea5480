/* The shop's room: texts changed in place, quick cases, readings. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <cmocka.h>

#include "assert_close.h"
#include "emberpipe/config.h"
#include "emberpipe/edit.h"
#include "emberpipe/quick.h"
#include "emberpipe/readings.h"
#include "emberpipe/run.h"
#include "emberpipe/shelf.h"

static char *copy(const char *text)
{
    char *s = malloc(strlen(text) + 1);
    assert_non_null(s);
    return memcpy(s, text, strlen(text) + 1);
}

struct edit_row {
    const char *name, *text, *path, *value, *want;
};
static const struct edit_row edits[] = {
    {"replace in braces", "a: {b: 1 m, c: 2 m} # x\n", "a.b", "3 m", "a: {b: 3 m, c: 2 m} # x\n"},
    {"replace in a block", "a:\n  b: 1 m   # why\n", "a.b", "3 m", "a:\n  b: 3 m   # why\n"},
    {"behind wide characters", "# 10 °C, naïve ☃\na: {b: 1}\n", "a.b", "2",
     "# 10 °C, naïve ☃\na: {b: 2}\n"},
    {"behind a byte-order mark",
     "\xEF\xBB\xBF"
     "a: 1\n",
     "a", "2",
     "\xEF\xBB\xBF"
     "a: 2\n"},
    {"add to empty braces", "a: {}\n", "a.b", "1", "a: {b: 1}\n"},
    {"add to braces", "a: {c: 2}\n", "a.b", "1", "a: {b: 1, c: 2}\n"},
    {"add to a block", "a:\n    c: 2\n", "a.b", "1", "a:\n    b: 1\n    c: 2\n"},
    {"add blocks on the way", "a: {}\n", "a.b.c", "1", "a: {b: {c: 1}}\n"},
    {"entry by name, kind left out", "line:\n  - name: doc\n    pipe: {wall: 1 mm}\n",
     "line.doc.wall", "2 mm", "line:\n  - name: doc\n    pipe: {wall: 2 mm}\n"},
    {"key of a kind that is absent", "line:\n  - name: doc\n    pipe: {}\n", "line.doc.wall",
     "2 mm", "line:\n  - name: doc\n    pipe: {wall: 2 mm}\n"},
    {"entry by number", "p: [{x: 1}, {x: 2}]\n", "p[1].x", "5", "p: [{x: 1}, {x: 5}]\n"},
    {"quotes where YAML needs them", "a: {b: 1}\n", "a.b", "it's, so: {",
     "a: {b: 'it''s, so: {'}\n"},
    {"negative quantity stays plain", "a: {b: 1}\n", "a.b", "-5 degC", "a: {b: -5 degC}\n"},
};

static void edit_one(void **state)
{
    const struct edit_row *r = *state;
    char *text = copy(r->text), value[80];
    struct emb_err err = {EMB_OK, "", ""};
    assert_int_equal(emb_edit_set(&text, r->path, r->value, &err), EMB_OK);
    assert_string_equal(text, r->want);
    assert_true(emb_edit_get(text, r->path, value, sizeof value));
    assert_string_equal(value, r->value); /* YAML reads back what was meant */
    free(text);
}

static void edit_refuses(void **state)
{
    (void)state;
    const char *given = "a: {b: 1}\nline:\n  - name: doc\n    pipe: {}\n";
    char *text = copy(given);
    struct emb_err err = {EMB_OK, "", ""};
    assert_int_not_equal(emb_edit_set(&text, "a", "1", &err), EMB_OK); /* a block */
    assert_int_not_equal(emb_edit_set(&text, "a.b.c", "1", &err), EMB_OK);
    assert_int_not_equal(emb_edit_set(&text, "line.scr.length", "1 m", &err), EMB_OK);
    assert_int_not_equal(emb_edit_set(&text, "line[4].name", "x", &err), EMB_OK);
    assert_string_equal(text, given);
    free(text);
    text = copy("a: {b");
    assert_int_not_equal(emb_edit_set(&text, "a", "1", &err), EMB_OK);
    free(text);
}

static void edit_merges(void **state)
{
    (void)state;
    char *text = copy("engine: {idle_speed: 700 rpm}\nline:\n  - name: a\n    pipe: {length: 2 m}\n"
                      "  - name: b\n    turbine: {}\n");
    struct emb_err err = {EMB_OK, "", ""};
    assert_int_equal(emb_edit_merge(&text,
                                    "engine: {idle_speed: 1 rpm, boost: 2}\n"
                                    "pipe: {length: 9 m, wall: 3 mm}\nfilter: {soot: 1 g/L}\n",
                                    &err),
                     EMB_OK);
    assert_string_equal(text, "engine: {boost: 2, idle_speed: 700 rpm}\nline:\n  - name: a\n"
                              "    pipe: {wall: 3 mm, length: 2 m}\n  - name: b\n"
                              "    turbine: {}\n");
    free(text);
}

/* Every layout with every class is a case that loads on its own and carries the answers. */
static void quick_all(void **state)
{
    size_t n = 0, m = 0;
    char **layout = emb_shelf_names("layouts", &n), **class = emb_shelf_names("classes", &m);
    char file[] = "/tmp/emberpipe-quick-XXXXXX";
    const int fd = mkstemp(file);
    (void)state;
    assert_true(fd >= 0 && n >= 4 && m >= 3);
    close(fd);
    for (size_t i = 0; i < n * m; i++) {
        struct emb_quick q = {.answer = {layout[i / m], class[i % m], "5 L", "75 %", "14 degF",
                                         "18 km/h", "1000 rpm"},
                              .n_fault = 1,
                              .fault = {"catalyst_activity=35 %"}};
        char *text = NULL;
        struct emb_err err = {EMB_OK, "", ""};
        struct emb_case c;
        assert_int_equal(emb_quick_text(&q, &text, &err), EMB_OK);
        assert_null(strstr(text, "use:"));
        assert_int_equal(emb_quick_save(file, text, false, &err), EMB_ERR_IO); /* it exists */
        assert_int_equal(emb_quick_save(file, text, true, &err), EMB_OK);
        assert_int_equal(emb_config_load(file, NULL, 0, &c, NULL, &err), EMB_OK);
        const struct emb_filter_cfg *f = &c.line[emb_case_find(&c, "dpf")].u.filter;
        assert_close(f->soot / f->full_load, 0.75, 1e-3, 0);
        assert_close(c.ambient.temperature, 263.15, 0, 1e-9); /* 14 degF = -10 degC */
        assert_close(c.ambient.wind, 5.0, 1e-12, 0);
        assert_close(c.engine.displacement, 5e-3, 1e-12, 0);
        assert_close(c.line[emb_case_find(&c, "doc")].u.brick.activity, 0.35, 1e-12, 0);
        assert_true(c.regen.present && c.n_target >= 3);
        emb_case_free(&c);
        free(text);
    }
    unlink(file);
    emb_shelf_free(layout, n);
    emb_shelf_free(class, m);
}

static int at_most(double t, double t_end, void *user)
{
    (void)t;
    (void)t_end;
    return --*(int *)user < 0;
}

/* At an ignition a surface jumps between two answers within the step of a difference. A slope made
 * of that jump told Newton that every residual was a trifle: this case cooled its catalyst to 150 K
 * and stood still there. */
static void coarse_quick_case_comes_through(void **state)
{
    static const char *const coarse[] = {"solver.rtol=1e-3", "line.doc.cells=1", "line.dpf.cells=3",
                                         "line.downpipe.cells=1", "line.tailpipe.cells=1"};
    struct emb_quick q = {
        .answer = {"no-reduction", "heavy", NULL, "70 %", "10 degC", "2 m/s", "1100 rpm"}};
    char *text = NULL, file[] = "/tmp/emberpipe-quick-XXXXXX";
    const int fd = mkstemp(file);
    int steps = 5000;
    const struct emb_hooks hooks = {at_most, &steps};
    struct emb_err err = {EMB_OK, "", ""};
    struct emb_result r;
    struct emb_case c;
    (void)state;
    assert_true(fd >= 0);
    close(fd);
    assert_int_equal(emb_quick_text(&q, &text, &err), EMB_OK);
    assert_int_equal(emb_quick_save(file, text, true, &err), EMB_OK);
    assert_int_equal(emb_config_load(file, coarse, 5, &c, NULL, &err), EMB_OK);
    assert_int_equal(emb_run(&c, &hooks, &r, &err), EMB_OK);
    assert_true(fabs(r.book[0].relative) < 1e-3); /* energy */
    emb_result_free(&r);
    emb_case_free(&c);
    free(text);
    unlink(file);
}

static void quick_scales(void **state)
{
    struct emb_quick q = {.answer = {NULL, NULL, "6.45 L"}};
    char *text = NULL, value[80];
    struct emb_err err = {EMB_OK, "", ""};
    (void)state;
    assert_int_equal(emb_quick_text(&q, &text, &err), EMB_OK);
    assert_non_null(strstr(text, "#   class: medium")); /* nearest to 6.7 L */
    assert_true(emb_edit_get(text, "engine.displacement", value, sizeof value));
    assert_string_equal(value, "6.45 L");
    free(text);
}

static void load(const char *file, struct emb_case *c)
{
    struct emb_err err = {EMB_OK, "", ""};
    assert_int_equal(emb_config_load(file, NULL, 0, c, NULL, &err), EMB_OK);
}

static int column(const struct emb_readings *r, const char *name)
{
    for (size_t i = 0; i < r->n_column; i++) {
        if (strcmp(r->column[i].name, name) == 0) {
            return (int)i;
        }
    }
    return -1;
}

/* A sensor that lies changes nothing in the table; the lag stays in it: the step of the gas arrives
 * late, and the reading never overtakes the gas that heats it. */
static void readings_heal(void **state)
{
    struct emb_case c;
    struct emb_readings a, b;
    struct emb_result r;
    struct emb_err err = {EMB_OK, "", ""};
    (void)state;
    load("configs/parked-regeneration.yaml", &c);
    c.duty[1].duration = 300.0;
    const int s = emb_case_find(&c, "t_scr_out");
    assert_int_equal(emb_readings_make(&c, 60.0, false, &a, &err), EMB_OK);
    c.line[s].u.sensor.offset = -40.0;
    assert_int_equal(emb_readings_make(&c, 60.0, false, &b, &err), EMB_OK);
    c.output_interval = 60.0;
    assert_int_equal(emb_run(&c, NULL, &r, &err), EMB_OK);
    assert_int_equal(a.n_row, 16);
    const int k = column(&a, "t_scr_out"), gas = emb_result_find(&r, "scr.gas_temperature"),
              raw = emb_result_find(&r, "t_scr_out.reading");
    for (size_t i = 0; i < a.n_row; i++) {
        const double T = a.K[i * a.n_column + (size_t)k];
        assert_close(T, b.K[i * b.n_column + (size_t)k], 1e-9, 0);
        assert_close(T, r.row[i * r.n_column + (size_t)raw] + 40.0, 0, 0.1);
        if (i == 13) { /* the gas rises fast here */
            assert_true(T < r.row[i * r.n_column + (size_t)gas]);
        }
    }
    emb_result_free(&r);
    emb_readings_free(&a);
    emb_readings_free(&b);
    emb_case_free(&c);
}

/* As new: a blocked, aged catalyst reads like the same one made sound by hand. */
static void readings_as_new(void **state)
{
    struct emb_case sound, bad;
    struct emb_readings a, b;
    struct emb_err err = {EMB_OK, "", ""};
    (void)state;
    load("configs/front-blocked.yaml", &sound);
    load("configs/front-blocked.yaml", &bad);
    struct emb_brick_cfg *doc = &sound.line[emb_case_find(&sound, "doc")].u.brick;
    assert_true(doc->blocked > 0.0 && doc->activity < 1.0);
    doc->blocked = 0.0;
    doc->activity = 1.0;
    sound.duty[1].duration = bad.duty[1].duration = 120.0;
    assert_int_equal(emb_readings_make(&sound, 60.0, false, &a, &err), EMB_OK);
    assert_int_equal(emb_readings_make(&bad, 60.0, true, &b, &err), EMB_OK);
    assert_int_equal(a.n_column, b.n_column);
    for (size_t i = 0; i < a.n_row * a.n_column; i++) {
        assert_close(a.K[i], b.K[i], 0, 1e-6);
    }
    emb_readings_free(&a);
    emb_readings_free(&b);
    emb_case_free(&sound);
    emb_case_free(&bad);
}

/* The reading lies within its band, the same seed gives the same band, and what is stated does not
 * widen it: everything starts at the stated temperature of the air. */
static void readings_band(void **state)
{
    struct emb_case c;
    struct emb_readings a, b;
    struct emb_err err = {EMB_OK, "", ""};
    const char *const set[] = {"ambient.temperature=10 degC"};
    struct emb_band_options o = {.samples = 5, .seed = 3, .set = set, .n_set = 1};
    (void)state;
    load("configs/parked-regeneration.yaml", &c);
    c.duty[0].duration = c.duty[1].duration = 300.0;
    assert_int_equal(emb_readings_make(&c, 60.0, false, &a, &err), EMB_OK);
    assert_int_equal(emb_readings_make(&c, 60.0, false, &b, &err), EMB_OK);
    assert_int_equal(emb_readings_band(&c, &o, &a, &err), EMB_OK);
    o.threads = 1;
    assert_int_equal(emb_readings_band(&c, &o, &b, &err), EMB_OK);
    assert_int_equal(a.n_band, 5);
    for (size_t i = 0; i < a.n_row * a.n_column; i++) {
        assert_true(a.low[i] <= a.K[i] && a.K[i] <= a.high[i]);
        assert_true(a.low[i] == b.low[i] && a.high[i] == b.high[i]);
    }
    const size_t brick = 1, last = (a.n_row - 1) * a.n_column;
    assert_int_equal(a.column[brick].kind, EMB_READ_BRICK);
    assert_close(a.high[brick], a.low[brick], 1e-9, 0);
    assert_true(a.high[last + brick] > a.low[last + brick] + 5.0);
    emb_readings_free(&a);
    emb_readings_free(&b);
    emb_case_free(&c);
}

int main(void)
{
    enum { N = sizeof edits / sizeof *edits };
    struct CMUnitTest tests[N + 8] = {
        cmocka_unit_test(edit_refuses),    cmocka_unit_test(edit_merges),
        cmocka_unit_test(quick_all),       cmocka_unit_test(coarse_quick_case_comes_through),
        cmocka_unit_test(quick_scales),    cmocka_unit_test(readings_heal),
        cmocka_unit_test(readings_as_new), cmocka_unit_test(readings_band)};
    size_t n = 6;
    for (size_t i = 0; i < N; i++) {
        tests[n++] =
            (struct CMUnitTest){edits[i].name, edit_one, NULL, NULL, (void *)(uintptr_t)&edits[i]};
    }
    return _cmocka_run_group_tests("shop", tests, n, NULL, NULL);
}
