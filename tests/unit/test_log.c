/* Logs as recorders write them: read correctly, or refused with line and column. */
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
#include "demo_case.h"
#include "emberpipe/log.h"

static enum emb_status read_text(void **state, const char *text, size_t n, const char *map_text,
                                 struct emb_log *log, struct emb_err *err)
{
    char file[] = "/tmp/emberpipe-log-XXXXXX", map_file[] = "/tmp/emberpipe-map-XXXXXX";
    struct emb_log_map map;
    const int fd = mkstemp(file), map_fd = mkstemp(map_file);
    assert_true(fd >= 0 && map_fd >= 0);
    assert_int_equal(write(fd, text, n), (ssize_t)n);
    if (map_text != NULL) {
        assert_int_equal(write(map_fd, map_text, strlen(map_text)), (ssize_t)strlen(map_text));
    }
    close(fd);
    close(map_fd);
    *err = (struct emb_err){0};
    enum emb_status st = emb_log_map_load(map_text != NULL ? map_file : NULL, &map, NULL, err);
    if (st == EMB_OK) {
        st = emb_log_read(file, *state, &map, log, err);
        emb_log_map_free(&map);
    }
    unlink(file);
    unlink(map_file);
    return st;
}

static void check_good(void **state, const char *text, const char *map, struct emb_log *log)
{
    struct emb_err err;
    const enum emb_status st = read_text(state, text, strlen(text), map, log, &err);
    if (st != EMB_OK) {
        print_error("%s: %s\n", err.where, err.msg);
    }
    assert_int_equal(st, EMB_OK);
}

static void check_values(const struct emb_log *log)
{
    assert_int_equal(log->n, 3);
    assert_close(log->t[2], 2.0, 0, 1e-12);
    assert_close(emb_log_find(log, EMB_LOG_FLOW)->v[1], 0.1, 1e-12, 0);
    assert_close(emb_log_find(log, EMB_LOG_INLET)->v[1], 473.65, 1e-12, 0);
    assert_close(emb_log_find(log, EMB_LOG_READING)->v[2], 423.15, 1e-12, 0);
    assert_string_equal(emb_log_find(log, EMB_LOG_READING)->reads, "doc.gas_temperature");
}

/* The same three rows in the dialects of recorders. */
static void test_dialects(void **state)
{
    static const char *const texts[] = {
        "time [s],flow [kg/s],inlet_temperature [degC],doc [degC]\n0,0.1,200,20\n1,0.1,200.5,100\n"
        "2,0.1,201,150\n",
        "\xEF\xBB\xBFtime [s],flow [kg/h],inlet_temperature [\xC2\xB0" "C],doc [C]\r\n"
        "10,360,200,20\r\n11,360,200.5,100\r\n\r\n12,360,201,150\r\n",
        "sep=;\nTime [s];Flow [g/s];Inlet_Temperature [degF];doc [K]\n0;100;392;293,15\n"
        "1;100;392,9;373,15\n2;100;393,8;423,15\n",
        "time [min]\tflow [kg/s]\ttemperature (degC)\tdoc.gas_temperature [degC]\n0\t0,1\t200\t20\n"
        "0,01666666666666666667\t0,1\t200,5\t100\n0,03333333333333333333\t0,1\t201\t150\n",
        "time,exhaust.flow [kg/s],exhaust.temperature [K],doc [degC],\n23:59:59,0.1,473.15,20,\n"
        "00:00:00,0.1,473.65,100,\n00:00:01,0.1,474.15,150,\n",
        /* spreadsheets: dates, twelve hours, empty rows below, line ends of old computers, units */
        "time,flow [KG/HR],temperature [ \xC2\xBA" "C ],doc [Celsius]\r2026-11-25T23:59:59.0Z,360,200,20\r"
        "2026-11-26T00:00:00.0Z,360,200.5,100\r2026-11-26T00:00:01.0Z,360,201,150\r,,,\r,,,\r",
        "time;flow [g/sec];temperature [deg C];doc [C]\n11/25/2026 12:59:59 PM;100;200;20\n"
        "11/25/2026 1:00:00 PM;100;200,5;100\n11/25/2026 1:00:01 PM;100;201;150\n",
        "time;flow [kg/s];temperature [degC];doc [degC]\n25.11.2026 09:00:00,250;0,1;200;20\n"
        "25.11.2026 09:00:01,250;0,1;200,5;100\n25.11.2026 09:00:02,250;0,1;201;150\n",
        /* units in a line of their own */
        "Time;Flow;Temperature;doc\ns;kg/h;\xC2\xB0" "C;\xC2\xB0" "C\n0;360;200;20\n1;360;200,5;100\n"
        "2;360;201;150\n",
        /* whole seconds on the clock, two rows each */
        "time [s],flow [kg/s],temperature [degC],doc [degC]\n0,0.1,200,20\n0,0.1,200,20\n"
        "1,0.1,200,99\n1,0.1,201,101\n2,0.1,201,150\n2,0.1,201,150\n",
        "t [s],Aftertreatment 1 Exhaust Gas Mass Flow Rate [kg/h],Engine Exhaust Gas Temperature "
        "[degC],Aftertreatment 1 Diesel Oxidation Catalyst Outlet Gas Temperature [degC]\n"
        "0,360,200,20\n1,360,200.5,100\n2,360,201,150\n",
    };
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        struct emb_log log;
        check_good(state, texts[i], NULL, &log);
        check_values(&log);
        emb_log_free(&log);
    }
}

static void test_mapping(void **state)
{
    struct emb_log log;
    check_good(state, "Zeit;Abgas;T1;T2;x\n0;360;200;20;q\n1;360;200,5;100;q\n2;360;201;150;q\n",
               "columns:\n"
               "  - {column: Zeit, is: time, unit: s}\n"
               "  - {column: Abgas, is: flow, unit: kg/h}\n"
               "  - {column: T1, is: inlet_temperature, unit: degC}\n"
               "  - {column: T2, is: doc, unit: degC}\n",
               &log);
    check_values(&log);
    assert_non_null(strstr(log.note[0], "not used: x"));
    emb_log_free(&log);
}

static void test_missing_and_average(void **state)
{
    struct emb_log log;
    check_good(state,
               "time [s],flow [kg/s],temperature [degC],doc [degC]\n0,0.1,200,20\n10,,,NaN\n"
               "20,0.3,220,30\n20.1,0.1,,50\n30,0.1,200,\n",
               NULL, &log);
    assert_int_equal(log.n, 4);
    assert_close(emb_log_find(&log, EMB_LOG_FLOW)->v[1], 0.1 + 0.1 * 10 / 20.05, 1e-12, 0);
    assert_close(emb_log_find(&log, EMB_LOG_INLET)->v[1], 483.13, 0, 0.1);
    assert_true(isnan(emb_log_find(&log, EMB_LOG_READING)->v[1]));
    assert_close(emb_log_find(&log, EMB_LOG_READING)->v[2], 313.15, 1e-12, 0);
    assert_int_equal(emb_log_find(&log, EMB_LOG_READING)->n_missing, 2);
    emb_log_free(&log);
}

static void check_bad(void **state, const char *text, const char *map, const char *part)
{
    struct emb_log log;
    struct emb_err err;
    assert_int_equal(read_text(state, text, strlen(text), map, &log, &err), EMB_ERR_CONFIG);
    if (strstr(err.msg, part) == NULL) {
        print_error("'%s' lacks '%s'\n", err.msg, part);
    }
    assert_non_null(strstr(err.msg, part));
}

#define HEAD "time [s],flow [kg/s],temperature [degC],doc [degC]\n0,0.1,200,20\n"
#define CLOCK "time,flow [kg/s],temperature [degC],doc [degC]\n"
static void test_refused(void **state)
{
    static const char *const rows[][2] = {
        {HEAD "1,0.1,200,x\n", "line 3, column 4 ('doc'): 'x' is not a finite number"},
        {HEAD "1,0.1,200\n", "line 3, column 4: 3 cells, the header has 4"},
        {HEAD "1,0,1,200,20\n", "decimal commas?"},
        {HEAD "5,0.1,200,20\n3,0.1,200,20\n", "line 4, column 1 ('time'): '3'"},
        {HEAD "5,0.1,200,20\n3,0.1,200,20\n", "the clock jumps back"},
        {HEAD "5,0.1,200,20\n5,0.1,200,20\n5,0.1,200,20\n20,0.1,200,20\n",
         "line 6, column 1 ('time'): '20' comes 15 s after 3 rows of one time"},
        {HEAD "1,0.1,200,20\n1,1'105.5,200,20\n",
         "line 4, column 2 ('flow'): '1'105.5' has a thousands separator"},
        {HEAD "1,\"1,105\",200,20\n", "'1,105' has a comma, but the file uses decimal points"},
        {CLOCK "09:00,0.1,200,20\n09:00,0.1,200,20\n", "'09:00' does not come after"},
        {CLOCK "25.11.2026 09:00,0.1,200,20\n", "column 1 ('time'): '25.11.2026 09:00' has no seconds"},
        {CLOCK "2026-11-25 09:00:00,0.1,200,20\n2026-11-26 09:00:01,0.1,200,20\n",
         "line 3, column 1 ('time'): '2026-11-26 09:00:01' has another date"},
        {CLOCK "2026-11-25 23:59:59,0.1,200,20\n2026-11-25 00:00:00,0.1,200,20\n", "jumps back"},
        {CLOCK "13:00:00 PM,0.1,200,20\n", "is no clock of twelve hours"},
        {CLOCK "9h00,0.1,200,20\n", "'9h00' is no clock"},
        {CLOCK "1:2:3:4,0.1,200,20\n", "'1:2:3:4' is no clock; write h:m:s"},
        {"time [s],flow [kg/s],doc [degC],doc [K]\n", "('doc') stand for the same signal; take one"},
        {HEAD "5,0.1,200,20\n500,0.1,200,20\n", "line 4, column 2 ('flow'): no value for 495 s"},
        {HEAD "60,,200,20\n70,,200,20\n80,0.1,200,20\n", "line 4, column 2 ('flow'): no value"},
        {HEAD "1,360,200,20\n", "line 3, column 2 ('flow'): '360' is 360 kg/s, not plausible"},
        {HEAD "1,0.1,1500,20\n", "line 3, column 3 ('temperature'): '1500'"},
        {HEAD "1,0.1,200,nan\n2,0.1,200,-300\n", "line 4, column 4 ('doc'): '-300'"},
        {"time [s];flow [kg/s];temperature [degC];doc [degC]\n0;0,1;200;20\n1;0.1;200;20\n",
         "line 3, column 2 ('flow'): '0.1' has a decimal point, but the file uses decimal commas"},
        {"time [s];flow [kg/s];temperature [degC];doc [degC]\n0;0,1;1.200,5;20\n",
         "has a comma and a point"},
        {"time,flow [kg/s],temperature [degC],doc [degC]\n0,0.1,200,20\n", "without a unit"},
        {"time [s],flow [kg/s],temperature [degC],doc\n0,0.1,200,20\n", "line 1, column 4 ('doc')"},
        {"time [s],flow [kg/s],temperature [degC],what [degC]\n0,0.1,200,20\n", "not known: what"},
        {"flow [kg/s],temperature [degC],doc [degC]\n0.1,200,20\n", "no column is the time"},
        {"time [s],flow [kg/s],exhaust.flow [kg/s],doc [degC]\n", "columns 2 ('flow') and 3"},
        {"time,flow,temperature,doc\ns,kg/h,,degC\n0,0.1,200,20\n",
         "line 1, column 3 ('temperature') has no unit"},
        {"time,flow,temperature,doc\ns,degC,degC,degC\n", "line 1, column 2 ('flow'): 'degC' is not"},
        {"time,flow,temperature,doc\n0,0.1,200,20\n", "line 1, column 2 ('flow') has no unit; write it into the header as 'flow [unit]'"},
        {"unknown,columns\n", "line 1: no column is the time"},
        {HEAD, "at least two rows"},
        {"", "is empty"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        check_bad(state, rows[i][0], NULL, rows[i][1]);
    }
    check_bad(state, HEAD, "columns: [{column: doc, is: doc3}]", "'doc3' is neither a signal");
    check_bad(state, HEAD, "columns: [{column: doc}]", "needs both");
    check_bad(state, HEAD, "longest_gap: 5", "lacks a unit");
}

/* 300 s of the same inlet temperature to the last digit while the flow doubles. */
static void test_stuck_inlet(void **state)
{
    char text[8000];
    int n = snprintf(text, sizeof text, "time [s],flow [kg/s],temperature [degC],doc [degC]\n");
    for (int i = 0; i < 100; i++) {
        n += snprintf(text + n, sizeof text - (size_t)n, "%d,%.3f,%.1f,%d\n", 10 * i,
                      0.1 + 0.001 * i, i < 50 ? 200.0 + 0.1 * i : 204.9, i);
    }
    check_bad(state, text, NULL, "line 51, column 3 ('temperature'): stays at 204.9");
}

static void test_not_text(void **state)
{
    struct emb_log log;
    struct emb_err err;
    static const char bytes[] = "time [s],\0flow\n";
    assert_int_equal(read_text(state, bytes, sizeof bytes, NULL, &log, &err), EMB_ERR_CONFIG);
    assert_non_null(strstr(err.msg, "not a text table"));
    static const char wide[] = "\xFF\xFEt\0i\0m\0e\0\n\0";
    assert_int_equal(read_text(state, wide, sizeof wide, NULL, &log, &err), EMB_ERR_CONFIG);
    assert_non_null(strstr(err.msg, "UTF-16"));
    assert_int_equal(read_text(state, "PK\3\4 x", 6, NULL, &log, &err), EMB_ERR_CONFIG);
    assert_non_null(strstr(err.msg, "spreadsheet"));
}

/* Gallons per hour of fuel: 1 gal (US) = 3.785411784 L (NIST SP 811, B.8), 0.835 kg/L. */
static void test_gallons(void **state)
{
    struct emb_log log;
    check_good(state,
               "time [s],flow [lbs/hr],temperature [Fahrenheit],fuel [gal/h],doc [\xE2\x84\x89]\n"
               "0,1000,392,2,68\n1,1000,392,2,68\n",
               NULL, &log);
    assert_close(emb_log_find(&log, EMB_LOG_FUEL)->v[0], 2 * 3.785411784 * 0.835 / 3600, 1e-12, 0);
    /* 1 lb = 0.45359237 kg (NIST SP 811, B.8) */
    assert_close(emb_log_find(&log, EMB_LOG_FLOW)->v[0], 453.59237 / 3600, 1e-9, 0);
    assert_close(emb_log_find(&log, EMB_LOG_INLET)->v[0], 473.15, 1e-9, 0);
    assert_close(emb_log_find(&log, EMB_LOG_READING)->v[0], 293.15, 1e-9, 0);
    emb_log_free(&log);
}

/* A fast recorder: 100 rows a second cost the memory of two. */
static void test_many_rows(void **state)
{
    enum { ROWS = 200000, ROOM = 40 };
    char *text = malloc((size_t)ROOM * (ROWS + 2));
    assert_non_null(text);
    int n = snprintf(text, 2 * ROOM, "time [s],flow [kg/s],temperature [degC],doc [degC]\n");
    for (int i = 0; i < ROWS; i++) {
        n += snprintf(text + n, ROOM, "%.2f,0.1,200,%d\n", 0.01 * i, i % 2 == 0 ? 100 : 102);
    }
    struct emb_log log;
    check_good(state, text, NULL, &log);
    free(text);
    assert_int_equal(log.n, 4000);
    assert_close(log.t[3999], 1999.5, 0, 1e-6);
    assert_close(emb_log_find(&log, EMB_LOG_READING)->v[1234], 374.15, 1e-12, 0);
    emb_log_free(&log);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_dialects),   cmocka_unit_test(test_mapping),
        cmocka_unit_test(test_missing_and_average), cmocka_unit_test(test_refused),
        cmocka_unit_test(test_stuck_inlet), cmocka_unit_test(test_not_text),
        cmocka_unit_test(test_many_rows), cmocka_unit_test(test_gallons),
    };
    return cmocka_run_group_tests(tests, demo_case_load, demo_case_unload);
}
