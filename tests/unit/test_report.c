/* Reports of a result made by hand: what is said, how it is escaped, and folders that are whole or
 * absent. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <cmocka.h>

#include "emberpipe/report.h"
#include "emberpipe/words.h"

static const struct emb_report_options plain = {false, NULL, NULL, 0};

struct fixture {
    struct emb_result r;
    struct emb_column column[3];
    double row[6];
    struct emb_verdict verdict[4];
    struct emb_book book[2];
    struct emb_heat_item heat[2];
    struct emb_warning warning[1];
    struct emb_total total[2];
    struct emb_note note[1];
    struct emb_span span[1];
    struct emb_element_note element[1];
};

static void fill(struct fixture *x)
{
    *x = (struct fixture){
        .column = {{"time", "s", "time"},
                   {"doc.mean_temperature", "K", "brick"},
                   {"od\"d,.reading", "K", "sensor"}},
        .row = {0.0, 273.15, 300.0, 120.0, 373.15, NAN},
        .verdict = {{"hot", "doc", "mean temperature above 521 °C (970 °F)", true, false, 794.15,
                     0.0, false, NAN, 585.15, 1390.0, 0.0, "too cold", "K"},
                    {"warm", "doc", "mean temperature above 50 °C", true, false, 323.15, 0.0, true,
                     65.0, 585.15, 60.0, 30.0, "", "K"},
                    {"held", "doc", "mean temperature above 300 °C for 60 s", true, false, 573.15,
                     60.0, false, NAN, 585.15, 60.0, 24.0, "", "K"},
                    {"dose", "inj", "fuel dosing above 2 g/s", false, false, 2e-3, 0.0, false, NAN,
                     1.5e-3, 60.0, 0.0, "", "kg/s"}},
        .book = {{"energy", "J", 1e6, 5e5, 5e5, 1e-3, 1e-9},
                 {"soot", "kg", 1.0, 0.5, 0.4, 0.1, 0.1}},
        .heat = {{"engine", 3.6e6}, {"lost", -1.8e6}},
        .warning = {{"it \"is\" cold", "warm it"}},
        .total = {{"dosed_fuel", "kg", "fuel dosed", 1.7}, {"soot_out", "kg", "soot out", 0.0}},
        .note = {{61.0, "regeneration: warming\tup"}},
        .span = {{"idle", 0.0, 120.0}},
        .element = {{"doc", "brick", 400.0, 90.0, 380.0}},
    };
    x->r = (struct emb_result){.title = "by hand",
                               .complete = true,
                               .t_end = 120.0,
                               .n_column = 3,
                               .n_row = 2,
                               .column = x->column,
                               .row = x->row,
                               .n_verdict = 4,
                               .verdict = x->verdict,
                               .n_book = 2,
                               .book_limit = 1e-6,
                               .book = x->book,
                               .n_heat = 2,
                               .heat = x->heat,
                               .n_warning = 1,
                               .warning = x->warning,
                               .n_total = 2,
                               .total = x->total,
                               .n_note = 1,
                               .note = x->note,
                               .n_span = 1,
                               .span = x->span,
                               .n_element = 1,
                               .element = x->element};
}

static char *told(const char *writer, const struct emb_result *r)
{
    FILE *f = tmpfile();
    assert_non_null(f);
    emb_report_find(writer)->write(r, &plain, f);
    const long size = ftell(f);
    char *text = calloc((size_t)size + 1, 1);
    assert_non_null(text);
    rewind(f);
    assert_int_equal(fread(text, 1, (size_t)size, f), size);
    fclose(f);
    return text;
}

static void assert_has(const char *text, const char *part)
{
    if (strstr(text, part) == NULL) {
        print_error("missing: %s\nin:\n%s\n", part, text);
        fail();
    }
}

static void test_text_verdicts(void **state)
{
    struct fixture x;
    (void)state;
    fill(&x);
    char *t = told("text", &x.r);
    /* 312 °C = 594 °F and 482 - 273 = 209 K = 376 °F: definitions of the scales, 1.8 °F per K */
    assert_int_equal(strncmp(t, "hot: ", 5), 0);
    assert_has(
        t, "never reached: best 312 °C (594 °F) at 23:10, 209 K (376 °F) short\n  why: too cold\n");
    assert_has(t, "reached at 01:05\n");
    assert_has(t, "never held: best 312 °C (594 °F) at 01:00, held for 24 s of the 60 s asked for");
    assert_has(t, "best 1.5 g/s at 01:00, 0.5 g/s short");
    free(t);
}

static void test_text_numbers(void **state)
{
    struct fixture x;
    (void)state;
    fill(&x);
    char *t = told("text", &x.r);
    assert_has(t, "    00:00     0 (  32)");
    assert_has(t, "    01:00    50 ( 122)"); /* half way between the rows */
    assert_has(t, "    02:00   100 ( 212)");
    assert_has(t, "fuel dosed: 2.00 L"); /* 1.7 kg at 0.85 kg/L */
    assert_has(t, "+1.000    +3.60   +100.0 %");
    assert_has(t, "-0.500    -1.80    -50.0 %");
    assert_has(t, "THE soot BOOK DOES NOT CLOSE");
    assert_null(strstr(t, "THE energy BOOK"));
    assert_has(t, "try: warm it");
    assert_has(t, "carbon monoxide");
    assert_null(strstr(t, "soot out")); /* nothing happened, no line */
    free(t);
}

static void test_text_no_caution_without_heat_work(void **state)
{
    struct fixture x;
    (void)state;
    fill(&x);
    x.r.n_total = x.r.n_note = 0;
    char *t = told("text", &x.r);
    assert_null(strstr(t, "SAFETY"));
    free(t);
}

static void test_incomplete_is_said_first(void **state)
{
    struct fixture x;
    (void)state;
    fill(&x);
    x.r.complete = false;
    snprintf(x.r.message, sizeof x.r.message, "step too small");
    char *t = told("text", &x.r);
    assert_int_equal(strncmp(t, "INCOMPLETE: stopped at 02:00: step too small\n", 45), 0);
    free(t);
    t = told("json", &x.r);
    assert_has(t, "\"complete\": false");
    assert_has(t, "step too small");
    free(t);
}

static void test_long_runs_keep_16_rows(void **state)
{
    static const double length[] = {1.0, 59.0, 119.0, 841.0, 3600.0, 5399.0, 86400.0, 3e6};
    struct fixture x;
    (void)state;
    for (size_t i = 0; i < sizeof length / sizeof *length; i++) {
        fill(&x);
        x.row[3] = length[i];
        char *t = told("text", &x.r), *from = strstr(t, "\nTemperatures"),
             *to = strstr(t, "\nHottest");
        size_t lines = 0;
        for (char *p = from + 1; p < to; p++) {
            lines += *p == '\n';
        }
        assert_in_range(lines, 5, 16 + 3); /* title and two header lines */
        free(t);
    }
}

static void test_json_escapes(void **state)
{
    struct fixture x;
    (void)state;
    fill(&x);
    snprintf(x.r.title, sizeof x.r.title, "a\"b\\c\n\xC2"); /* ends in half a character */
    char *t = told("json", &x.r);
    assert_has(t, "\"title\": \"a\\\"b\\\\c\\u000a\\ufffd\"");
    assert_has(t, "\"values\": [300,null]");
    assert_has(t, "\"t_reached\": {\"value\": null, \"unit\": \"s\"}");
    assert_has(t, "warming\\u0009up");
    assert_has(t, "\"best\": {\"value\": 0.0015, \"unit\": \"kg/s\"}");
    assert_null(strstr(t, "wall_time")); /* would differ from run to run */
    free(t);
}

static void test_csv(void **state)
{
    struct fixture x;
    (void)state;
    fill(&x);
    char *t = told("csv", &x.r);
    assert_string_equal(
        t,
        "time [s],doc.mean_temperature [K],\"od\"\"d,.reading [K]\"\n0,273.15,300\n120,373.15,\n");
    free(t);
}

static void test_empty_result(void **state)
{
    struct emb_result r;
    (void)state;
    memset(&r, 0, sizeof r);
    for (int i = 0; i < EMB_N_REPORT; i++) {
        free(told(emb_report_writers[i].name, &r));
    }
    emb_result_free(&r);
    emb_result_free(NULL);
    assert_null(emb_report_find("xml"));
}

static void test_find(void **state)
{
    struct fixture x;
    (void)state;
    fill(&x);
    assert_int_equal(emb_result_find(&x.r, "doc.mean_temperature"), 1);
    assert_int_equal(emb_result_find(&x.r, "doc"), -1);
}

static void test_full_disk(void **state)
{
    struct emb_err err = {EMB_OK, "", ""};
    (void)state;
    FILE *f = fopen("/dev/full", "w");
    if (f == NULL) {
        skip();
    }
    fputs("text", f);
    assert_int_equal(emb_report_flush(f, "full", &err), EMB_ERR_IO);
    assert_string_equal(err.where, "full");
    fclose(f);
}

static bool is_there(const char *dir, const char *file)
{
    char path[256];
    struct stat info;
    snprintf(path, sizeof path, "%s/%s", dir, file);
    return stat(path, &info) == 0;
}

static void test_folder(void **state)
{
    struct fixture x;
    struct emb_err err = {EMB_OK, "", ""};
    char base[] = "out-test-XXXXXX", dir[64], path[128];
    (void)state;
    fill(&x);
    assert_non_null(mkdtemp(base));
    snprintf(dir, sizeof dir, "%s/res", base);
    assert_int_equal(emb_folder_check(dir, false, &err), EMB_OK);
    assert_false(is_there(dir, "."));
    assert_int_equal(emb_folder_write(dir, false, &x.r, &plain, &err), EMB_OK);
    for (int i = 0; i < EMB_N_REPORT; i++) {
        assert_true(is_there(dir, emb_report_writers[i].file));
    }
    assert_int_equal(emb_folder_check(dir, false, &err), EMB_ERR_IO); /* not empty */
    err.status = EMB_OK;
    assert_int_equal(emb_folder_write(dir, true, &x.r, &plain, &err), EMB_OK);
    /* a case that cannot be copied: the earlier result stays, no half-written folder beside it */
    const struct emb_report_options gone = {false, "no-such-case.yaml", NULL, 0};
    assert_int_equal(emb_folder_write(dir, true, &x.r, &gone, &err), EMB_ERR_IO);
    assert_true(is_there(dir, "report.txt"));
    assert_false(is_there(base, "res.partial-0"));
    err.status = EMB_OK;
    snprintf(path, sizeof path, "%s/mine", dir);
    fclose(fopen(path, "w"));
    assert_int_equal(emb_folder_write(dir, true, &x.r, &plain, &err),
                     EMB_ERR_IO); /* holds a stranger's file */
    assert_true(is_there(dir, "mine"));
    unlink(path);
    for (int i = 0; i < EMB_N_REPORT; i++) {
        snprintf(path, sizeof path, "%s/%s", dir, emb_report_writers[i].file);
        unlink(path);
    }
    assert_int_equal(rmdir(dir), 0);
    assert_int_equal(rmdir(base), 0); /* nothing else was left behind */
}

static void test_folder_without_parent(void **state)
{
    struct emb_err err = {EMB_OK, "", ""};
    (void)state;
    assert_int_equal(emb_folder_check("no/such/parent", false, &err), EMB_ERR_IO);
}

/* Texts: Python's repr(), the shortest that reads back, in %g's notation. */
static void numbers_are_short_and_exact(void **state)
{
    static const struct {
        double v; /* [-] */
        const char *text;
    } want[] = {{0.1, "0.1"},
                {8.41, "8.41"},
                {0.1 + 0.2, "0.30000000000000004"},
                {4446238504319410.0, "4.44623850431941e+15"},
                {1.0 / 3.0, "0.3333333333333333"},
                {0.1 + 0.7, "0.7999999999999999"},
                {-573.15, "-573.15"},
                {1e22, "1e+22"},
                {0.0, "0"},
                {1.7976931348623157e308, "1.7976931348623157e+308"}};
    (void)state;
    for (size_t i = 0; i < sizeof want / sizeof want[0]; i++) {
        char got[64] = "";
        FILE *f = fmemopen(got, sizeof got, "w");
        assert_non_null(f);
        emb_write_number(want[i].v, f);
        fclose(f);
        assert_string_equal(got, want[i].text);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers_are_short_and_exact),
        cmocka_unit_test(test_text_verdicts),
        cmocka_unit_test(test_text_numbers),
        cmocka_unit_test(test_text_no_caution_without_heat_work),
        cmocka_unit_test(test_incomplete_is_said_first),
        cmocka_unit_test(test_long_runs_keep_16_rows),
        cmocka_unit_test(test_json_escapes),
        cmocka_unit_test(test_csv),
        cmocka_unit_test(test_empty_result),
        cmocka_unit_test(test_find),
        cmocka_unit_test(test_full_disk),
        cmocka_unit_test(test_folder),
        cmocka_unit_test(test_folder_without_parent),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
