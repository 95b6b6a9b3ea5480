/* Measures against a result made by hand, whose peaks, means and integrals are known. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "assert_close.h"
#include "demo_case.h"
#include "emberpipe/measure.h"

/* y = t^2 at 0, 1, 3 s: trapezoids 0.5 + 10 = 10.5; z falls from 4 to -2 */
static double table[] = {0, 0, 4, 1, 1, 1, 3, 9, -2};
static struct emb_column columns[] = {
    {"time", "s", ""}, {"a.y", "kg/s", "a flow"}, {"b.z", "K", ""}};
static struct emb_verdict verdicts[] = {{.name = "soot below 2.5 %",
                                         .unit = "-",
                                         .reached = false,
                                         .best = 0.3,
                                         .t_best = 2,
                                         .t_reached = NAN},
                                        {.name = "hot",
                                         .is_temperature = true,
                                         .reached = true,
                                         .best = 900,
                                         .t_best = 3,
                                         .t_reached = 1.5,
                                         .longest = 0.7}};
static struct emb_total totals[] = {{"fuel", "kg", "all fuel", 2.5}, {"dpf.soot", "kg/m3", "", 4}};
static struct emb_book books[] = {{"energy", "J", 1, 1, 0, 1, 3e-7}};

static struct emb_result result(void)
{
    return (struct emb_result){.n_column = 3,
                               .n_row = 3,
                               .column = columns,
                               .row = table,
                               .n_verdict = 2,
                               .verdict = verdicts,
                               .n_total = 2,
                               .total = totals,
                               .n_book = 1,
                               .book = books,
                               .t_end = 3};
}

static void values_and_units(void **state)
{
    static const struct {
        const char *text;
        double want;
        const char *unit;
    } rows[] = {
        {"a.y.peak", 9, "kg/s"},
        {"a.y.min", 0, "kg/s"},
        {"a.y.end", 9, "kg/s"},
        {"a.y.integral", 10.5, "kg"},
        {"a.y.mean", 3.5, "kg/s"},
        {"b.z.peak_time", 0, "s"},
        {"b.z.min", -2, "K"},
        {"b.z.integral", 1.0 * 2.5 + 2.0 * -0.5, "K s"},
        {"target.hot.reached", 1, "1"},
        {"target.hot.time", 1.5, "s"},
        {"target.hot.best", 900, "K"},
        {"target.hot.longest", 0.7, "s"},
        {"target.soot below 2.5 %.reached", 0, "1"},
        {"target.soot below 2.5 %.best", 0.3, "1"},
        {"total.fuel", 2.5, "kg"},
        {"total.dpf.soot", 4, "kg/m3"},
        {"book.energy", 3e-7, "1"},
        {"run.time", 3, "s"},
        {"target.soot below 2.5 %.time", NAN, "s"},
        {"c.nothing.peak", NAN, NULL},
    };
    const struct emb_result r = result();
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct emb_measure m;
        struct emb_err err = {EMB_OK, "", ""};
        char unit[32];
        assert_int_equal(emb_measure_parse(rows[i].text, &m, &err), EMB_OK);
        assert_int_equal(emb_measure_check(&m, &r, &err),
                         rows[i].unit != NULL ? EMB_OK : EMB_ERR_CONFIG);
        const double got = emb_measure_value(&m, &r);
        if (isnan(rows[i].want)) {
            assert_true(isnan(got));
        } else {
            assert_close(got, rows[i].want, 1e-14, 0);
        }
        if (rows[i].unit != NULL) {
            assert_string_equal(emb_measure_unit(&m, &r, unit, sizeof unit), rows[i].unit);
        }
    }
}

static void nothing_there(void **state)
{
    const struct emb_result none = {0};
    static const char *const rows[] = {
        "a.y.peak",   "a.y.mean",    "target.hot.time", "target.hot.reached",
        "total.fuel", "book.energy", "run.time"};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct emb_measure m;
        assert_int_equal(emb_measure_parse(rows[i], &m, NULL), EMB_OK);
        assert_true(isnan(emb_measure_value(&m, &none)));
    }
}

static void refusals(void **state)
{
    static const char *const rows[][2] = {
        {"doc.mean_temperature.peek", "must end in one of .peak, .min"},
        {"peak", "must end in"},
        {"target.hot.when", ".reached, .time"},
        {"run.speed", "must end in"},
        {"total.", "no measure"},
        {"", "must end in"}};
    static const char *const near[][2] = {{"target.hat.time", "did you mean hot?"},
                                          {"a.yy.peak", "did you mean a.y?"},
                                          {"book.qqqqqqqq", "there are energy"}};
    const struct emb_result r = result();
    struct emb_measure m;
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct emb_err err = {EMB_OK, "", ""};
        assert_int_equal(emb_measure_parse(rows[i][0], &m, &err), EMB_ERR_CONFIG);
        assert_non_null(strstr(err.msg, rows[i][1]));
    }
    for (size_t i = 0; i < sizeof near / sizeof *near; i++) {
        struct emb_err err = {EMB_OK, "", ""};
        assert_int_equal(emb_measure_parse(near[i][0], &m, &err), EMB_OK);
        assert_int_equal(emb_measure_check(&m, &r, &err), EMB_ERR_CONFIG);
        assert_non_null(strstr(err.msg, near[i][1]));
    }
}

static void sample_has_all_names(void **state)
{
    struct emb_result r;
    struct emb_measure m;
    struct emb_err err = {EMB_OK, "", ""};
    static const char *const rows[] = {"dpf.mean_temperature.peak", "target.hot enough.time",
                                       "total.dosed_fuel", "book.soot"};
    assert_int_equal(emb_measure_sample(*state, &r, &err), EMB_OK);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        assert_int_equal(emb_measure_parse(rows[i], &m, &err), EMB_OK);
        assert_int_equal(emb_measure_check(&m, &r, &err), EMB_OK);
    }
    emb_result_free(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(values_and_units),
        cmocka_unit_test(nothing_there),
        cmocka_unit_test(refusals),
        {.name = "sample_has_all_names",
         .test_func = sample_has_all_names,
         .setup_func = demo_case_load,
         .teardown_func = demo_case_unload},
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
