/* The page, the comparison and the picture: what survives thinning, what a string can do, what a
 * tick says. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "emberpipe/config.h"
#include "emberpipe/plot.h"
#include "emberpipe/run.h"
#include "assert_close.h"
#include "report/page.h"
#include "report/plot.h"
#include "report/write.h"

static char *written(void (*write)(const void *what, FILE *f), const void *what)
{
    char *text = NULL;
    size_t n = 0;
    FILE *f = open_memstream(&text, &n);
    assert_non_null(f);
    write(what, f);
    fclose(f);
    return text;
}

static void write_page_text(const void *what, FILE *f)
{
    emb_json_text(what, true, f);
}

static void no_string_leaves_its_place(void **state)
{
    (void)state;
    static const char *const pairs[][2] = {
        {"</script>", "\"\\u003c/script\\u003e\""},
        {"<!--&", "\"\\u003c!--\\u0026\""},
        {"a\xE2\x80\xA8z\xE2\x80\xA9", "\"a\\u2028z\\u2029\""},
        {"say \"x\\\"", "\"say \\\"x\\\\\\\"\""},
        {"\x01\xFF\xC3", "\"\\u0001\\ufffd\\ufffd\""},
        {"\xF0\x9F\x94\xA5", "\"\xF0\x9F\x94\xA5\""},
    };
    for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++) {
        char *text = written(write_page_text, pairs[i][0]);
        assert_string_equal(text, pairs[i][1]);
        free(text);
    }
}

/* 4000 rows of a slow ramp with one row of a peak, and one of a dip. */
static void thinning_keeps_peaks(void **state)
{
    enum { N = 4000 };
    struct emb_column column[2] = {{"time", "s", ""}, {"x", "K", ""}};
    double *row = calloc(2 * N, sizeof *row);
    size_t kept[EMB_PAGE_ROWS];
    bool peak = false, dip = false;
    (void)state;
    assert_non_null(row);
    for (size_t i = 0; i < N; i++) {
        row[2 * i] = (double)i;
        row[2 * i + 1] = 300.0 + 0.1 * (double)i + (i == 1777 ? 200.0 : i == 3001 ? -200.0 : 0.0);
    }
    const struct emb_result r = {.n_column = 2, .n_row = N, .column = column, .row = row};
    const size_t n = emb_page_rows(&r, kept);
    assert_true(n <= EMB_PAGE_ROWS);
    assert_int_equal(kept[0], 0);
    assert_int_equal(kept[n - 1], N - 1);
    for (size_t i = 0; i < n; i++) {
        assert_true(i == 0 || kept[i] > kept[i - 1]);
        peak = peak || kept[i] == 1777;
        dip = dip || kept[i] == 3001;
    }
    assert_true(peak && dip);
    free(row);
}

static void ticks_read_well(void **state)
{
    static const struct {
        double lo, hi;
        int most;
        bool time;
        double step;
        const char *first;
    } rows[] = {
        {0.0, 60.0, 6, true, 10.0, "0"},      {0.0, 480.0, 8, true, 60.0, "0"},
        {10.0, 620.0, 7, false, 100.0, "0"},  {0.0, 0.0032, 5, false, 0.001, "0.000"},
        {-12.0, 37.0, 5, false, 10.0, "-10"}, {5.0, 5.0, 4, false, 0.5, "4.5"},
    };
    char buf[32];
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct emb_axis a = {0};
        emb_axis_choose(&a, rows[i].lo, rows[i].hi, rows[i].most, rows[i].time);
        assert_close(a.step, rows[i].step, 1e-12, 0.0);
        assert_string_equal(emb_axis_text(&a, emb_axis_first(&a), buf), rows[i].first);
        assert_true(a.lo <= rows[i].lo && a.hi >= rows[i].hi);
    }
}

static void write_plot(const void *what, FILE *f)
{
    emb_plot_svg(what, f);
}

static void a_picture_survives_its_names(void **state)
{
    struct emb_column column[2] = {{"time", "s", ""}, {"a<b>&\"'.x", "K", ""}};
    double row[6] = {0.0, 300.0, 1.0, NAN, 2.0, 310.0};
    struct emb_verdict v[1] = {{.name = "<hot>", .is_temperature = true, .value = 305.0}};
    const struct emb_result r = {.n_column = 2, .n_row = 3, .column = column, .row = row,
                                 .n_verdict = 1, .verdict = v};
    const struct emb_plot p = {.result = &r, .title = "</svg>&", .width = 600.0, .height = 400.0,
                               .x = {0, {"s", 1.0, 0.0}}, .n_series = 1,
                               .series = {{1, {"°C", 1.0, -273.15}}}};
    (void)state;
    char *svg = written(write_plot, &p);
    assert_non_null(strstr(svg, "&lt;/svg&gt;&amp;"));
    assert_non_null(strstr(svg, "&lt;hot&gt;: 32 °C"));
    assert_null(strstr(svg, "nan"));
    assert_null(strstr(svg, "<b>"));
    free(svg);
}

static const char *text_at(const struct emb_input_values *v, const char *path, bool *given)
{
    for (size_t i = 0; i < v->n; i++) {
        if (strcmp(v->item[i].path, path) == 0) {
            *given = v->item[i].given;
            return v->item[i].text;
        }
    }
    return NULL;
}

static void inputs_are_told_as_used(void **state)
{
    const char *const sets[] = {"ambient.wind=9 m/s"};
    struct emb_input_values v;
    struct emb_err err = {EMB_OK, "", ""};
    bool given = false;
    (void)state;
    assert_int_equal(emb_config_values("configs/parked-regeneration.yaml", sets, 1, &v, &err), EMB_OK);
    assert_string_equal(text_at(&v, "ambient.wind", &given), "9 m/s");
    assert_true(given);
    assert_string_equal(text_at(&v, "engine.cylinders", &given), "6"); /* from its part */
    assert_true(given);
    assert_string_equal(text_at(&v, "line.downpipe.pipe.length", &given), "1.2 m");
    assert_true(given);
    assert_string_equal(text_at(&v, "ambient.pressure", &given), "101.325 kPa");
    assert_false(given);
    assert_null(text_at(&v, "stream.flow", &given)); /* there is an engine instead */
    assert_null(text_at(&v, "regeneration.levers.brake", &given)); /* left as it is */
    emb_input_values_free(&v);
    assert_int_equal(emb_config_values("configs/none.yaml", NULL, 0, &v, &err), EMB_ERR_CONFIG);
}

static void the_line_is_in_the_result(void **state)
{
    struct emb_case c;
    struct emb_result r;
    struct emb_err err = {EMB_OK, "", ""};
    const char *const sets[] = {"duty.phases.idle.for=60 s"};
    (void)state;
    assert_int_equal(emb_config_load("configs/idle-all-day.yaml", sets, 1, &c, NULL, &err), EMB_OK);
    assert_int_equal(emb_run(&c, NULL, &r, &err), EMB_OK);
    assert_int_equal(r.n_place, c.n_line);
    size_t cells = 0;
    for (size_t i = 0; i < r.n_place; i++) {
        assert_string_equal(r.place[i].name, c.line[i].name);
        assert_int_equal(r.place[i].first, cells);
        cells += r.place[i].n_cell;
    }
    assert_int_equal(r.n_cell, cells);
    const int doc = emb_case_find(&c, "doc"), col = emb_result_find(&r, "doc.mean_temperature");
    const struct emb_part *p = &r.place[doc];
    assert_string_equal(p->kind, "oxidation_catalyst");
    assert_close(p->length, 0.127, 1e-9, 0.0); /* 5 in */
    for (size_t k = 0; k < r.n_row; k++) { /* the profile agrees with the recorded mean */
        double sum = 0.0;
        for (size_t i = 0; i < p->n_cell; i++) {
            sum += (double)r.profile[k * r.n_cell + p->first + i];
        }
        assert_close(sum / (double)p->n_cell, r.row[k * r.n_column + (size_t)col], 1e-5, 0.0);
    }
    emb_result_free(&r);
    emb_case_free(&c);
}

static void a_comparison_names_what_differs(void **state)
{
    struct emb_input_value a[2] = {{"x", (char[]){"1 m"}, true, "", NULL}, {"y", (char[]){"2"}, true, "", NULL}},
                           b[2] = {{"x", (char[]){"1 m"}, true, "", NULL}, {"z", (char[]){"3"}, true, "", NULL}};
    const struct emb_input_values va = {2, a}, vb = {2, b};
    const struct emb_result r = {.complete = true};
    const struct emb_page_case c[2] = {{"a", &r, &va}, {"b", &r, &vb}};
    size_t n = 0;
    (void)state;
    struct emb_difference *d = emb_differences(c, 2, &n);
    assert_int_equal(n, 2);
    assert_string_equal(d[0].path, "y");
    assert_string_equal(d[0].text[0], "2");
    assert_null(d[0].text[1]);
    assert_string_equal(d[1].path, "z");
    emb_differences_free(d, n);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_string_leaves_its_place), cmocka_unit_test(thinning_keeps_peaks),
        cmocka_unit_test(ticks_read_well),            cmocka_unit_test(a_picture_survives_its_names),
        cmocka_unit_test(inputs_are_told_as_used),    cmocka_unit_test(the_line_is_in_the_result),
        cmocka_unit_test(a_comparison_names_what_differs),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
