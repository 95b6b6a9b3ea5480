/* Studies: designs against published points and distributions, axes, the journal, resuming. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "assert_close.h"
#include "emberpipe/study_export.h"
#include "emberpipe/study_run.h"

/* A study file in a folder of its own; `text` follows base and set. */
struct place {
    char dir[64], study[100], journal[100], out[100];
};

static void place_new(struct place *p, const char *text)
{
    char cwd[200];
    snprintf(p->dir, sizeof p->dir, "emberpipe-study-XXXXXX");
    assert_non_null(mkdtemp(p->dir));
    snprintf(p->study, sizeof p->study, "%s/s.yaml", p->dir);
    snprintf(p->journal, sizeof p->journal, "%s/s.journal", p->dir);
    snprintf(p->out, sizeof p->out, "%s/s.csv", p->dir);
    assert_non_null(getcwd(cwd, sizeof cwd));
    FILE *f = fopen(p->study, "w");
    assert_non_null(f);
    fprintf(f,
            "base: %s/configs/quickstart.yaml\nset: [\"duty.phases[0].for=3 s\", "
            "\"duty.phases[1].for=1 s\"]\n"
            "outputs: [doc.face_temperature.end]\n%s",
            cwd, text);
    fclose(f);
}

static void place_drop(const struct place *p)
{
    static const char *const names[] = {"s.yaml",        "s.journal", "s.journal-wal",
                                        "s.journal-shm", "s.csv",     "cases.csv"};
    char path[200];
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        snprintf(path, sizeof path, "%s/%s", p->dir, names[i]);
        unlink(path);
    }
    rmdir(p->dir);
}

static void study_of(const char *text, struct place *p, struct emb_study *s)
{
    struct emb_err err = {EMB_OK, "", ""};
    place_new(p, text);
    if (emb_study_load(p->study, s, NULL, &err) != EMB_OK) {
        fail_msg("%s: %s", err.where, err.msg);
    }
}

static void sobol_points(void **state)
{
    /* first points in two dimensions: Bratley & Fox, ACM TOMS 14 (1988) 88, the origin left out */
    static const double want[][2] = {{0.5, 0.5},     {0.75, 0.25},   {0.25, 0.75},  {0.375, 0.375},
                                     {0.875, 0.875}, {0.625, 0.125}, {0.125, 0.625}};
    struct place p;
    struct emb_study s;
    double v[2];
    (void)state;
    study_of("design: sobol\nsamples: 10000\naxes:\n  - {key: ambient.humidity, from: 0, to: 1}\n"
             "  - {key: ambient.wind, from: 0 m/s, to: 10 m/s}\n",
             &p, &s);
    for (size_t i = 7; i-- > 0;) {
        emb_study_values(&s, i, v);
        assert_close(v[0], want[i][0], 1e-15, 0);
        assert_close(v[1], 10.0 * want[i][1], 1e-15, 0);
    }
    emb_study_values(&s, 9999, v); /* far ahead, then back behind the window */
    emb_study_values(&s, 1, v);
    assert_close(v[0], 0.75, 1e-15, 0);
    emb_study_free(&s);
    place_drop(&p);
}

static void hypercube_strata(void **state)
{
    enum { N = 50 };
    struct place p;
    struct emb_study s;
    bool seen[2][N] = {{false}};
    double v[2];
    (void)state;
    study_of("design: latin_hypercube\nsamples: 50\nseed: 7\naxes:\n  - {key: ambient.humidity, "
             "from: 0, to: 1}\n"
             "  - {key: ambient.underbody, from: 0, to: 1}\n",
             &p, &s);
    for (size_t i = 0; i < N; i++) {
        emb_study_values(&s, i, v);
        for (int d = 0; d < 2; d++) {
            const size_t k = (size_t)(v[d] * N);
            assert_true(k < N && !seen[d][k]);
            seen[d][k] = true;
        }
    }
    emb_study_free(&s);
    place_drop(&p);
}

static void normal_and_log(void **state)
{
    enum { N = 20000 };
    struct place p;
    struct emb_study s;
    double v[3], sum = 0.0, square = 0.0, log_sum = 0.0;
    int level[3] = {0};
    (void)state;
    study_of("design: monte_carlo\nsamples: 20000\naxes:\n"
             "  - {key: engine.indicated_efficiency, distribution: normal}\n"
             "  - {key: ambient.wind, from: 0.1 m/s, to: 10 m/s, spacing: log}\n"
             "  - {key: line.doc.kinetics, values: [oxidation, none, oxidation]}\n",
             &p, &s);
    for (size_t i = 0; i < N; i++) {
        emb_study_values(&s, i, v);
        sum += v[0];
        square += v[0] * v[0];
        log_sum += log10(v[1]);
        level[(int)v[2]]++;
    }
    const double mean = sum / N, sd = sqrt(square / N - mean * mean);
    /* four standard errors of N draws: sd/sqrt(N), sd/sqrt(2N); the field table's 0.45 +- 4 % */
    assert_close(mean, 0.45, 0, 4.0 * 0.018 / sqrt(N));
    assert_close(sd, 0.018, 0, 4.0 * 0.018 / sqrt(2.0 * N));
    assert_close(log_sum / N, 0.0, 0, 4.0 * sqrt(4.0 / 12.0 / N)); /* uniform over two decades */
    for (int k = 0; k < 3; k++) {
        assert_close(level[k], N / 3.0, 0, 4.0 * sqrt(N * 2.0 / 9.0));
    }
    emb_study_free(&s);
    place_drop(&p);
}

static void grid_and_choices(void **state)
{
    struct place p;
    struct emb_study s;
    struct emb_case c;
    struct emb_err err = {EMB_OK, "", ""};
    double v[2];
    (void)state;
    study_of("axes:\n  - {key: line.injector.before, values: [doc, downpipe]}\n"
             "  - {key: engine.idle_speed, also: [duty.warm up.speed], from: 600 rpm, to: 900 rpm, "
             "steps: 4}\n",
             &p, &s);
    assert_int_equal(s.n, 8);
    emb_study_values(&s, 6, v);
    assert_true(v[0] == 1.0);
    assert_int_equal(emb_study_make(&s, v, &c, &err), EMB_OK);
    assert_string_equal(c.line[emb_case_find(&c, "injector") + 1].name, "downpipe");
    assert_close(c.engine.idle_speed, 800.0 * 2.0 * 3.14159265358979 / 60.0, 1e-12, 0);
    assert_true(c.duty[0].speed == c.engine.idle_speed);
    emb_case_free(&c);
    emb_study_free(&s);
    place_drop(&p);
}

static void table_of_cases(void **state)
{
    struct place p;
    struct emb_study s;
    struct emb_err err = {EMB_OK, "", ""};
    char path[200];
    double v[3];
    (void)state;
    place_new(&p, "design: table\ntable: cases.csv\n");
    snprintf(path, sizeof path, "%s/cases.csv", p.dir);
    FILE *f = fopen(path, "w");
    fputs("ambient.temperature [degC], line.injector.before ,ambient.humidity\n"
          "-10,doc,0.2\n20 , downpipe,0.3\r\n\n30,doc,0.4\n",
          f);
    fclose(f);
    assert_int_equal(emb_study_load(p.study, &s, NULL, &err), EMB_OK);
    assert_int_equal(s.n, 3);
    assert_int_equal(s.base.n, 2);
    emb_study_values(&s, 1, v);
    assert_close(v[0], 293.15, 1e-14, 0);
    assert_true(v[1] == 1.0 && v[2] == 0.3);
    emb_study_values(&s, 2, v);
    assert_true(v[1] == 0.0);
    emb_study_free(&s);
    f = fopen(path, "w");
    fputs("ambient.temperature [degC]\n5\nwarm\n", f);
    fclose(f);
    assert_int_equal(emb_study_load(p.study, &s, NULL, &err), EMB_ERR_CONFIG);
    assert_non_null(strstr(err.msg, "case 1"));
    place_drop(&p);
}

static void refusals(void **state)
{
    static const char *const rows[][2] = {
        {"axes:\n  - {key: ambient.temprature, from: 0 degC, to: 1 degC, steps: 2}\n",
         "did you mean temperature?"},
        {"axes:\n  - {key: ambient.temperature, from: 0 degC, to: 400 degC, steps: 2}\n",
         "out of range"},
        {"axes:\n  - {key: ambient.temperature, from: 0, to: 1 degC, steps: 2}\n", "lacks a unit"},
        {"axes:\n  - {key: ambient.temperature, from: 9 degC, to: 1 degC, steps: 2}\n",
         "from must be below to"},
        {"axes:\n  - {key: ambient.temperature, from: 0 degC, to: 1 degC}\n", "needs steps"},
        {"axes:\n  - {key: ambient.temperature}\n",
         "needs steps (2 or more) or values|needs values"},
        {"axes:\n  - {key: line.injector.before, from: doc, to: dpf, steps: 2}\n", "is no number"},
        {"axes:\n  - {key: line.injector.before, values: [doc, dfp]}\n", "did you mean doc or dpf"},
        {"axes:\n  - {key: ambient.wind, also: [ambient.humidity], values: [1 m/s]}\n",
         "is no speed"},
        {"design: sobol\naxes:\n  - {key: ambient.humidity, from: 0, to: 1}\n", "needs samples"},
        {"design: sobol\nsamples: 5\naxes:\n  - {key: engine.displacement, distribution: normal}\n",
         "no spread of its own"},
        {"design: sobbol\naxes:\n  - {key: ambient.humidity, from: 0, to: 1}\n",
         "did you mean sobol?"},
        {"axis:\n  - {key: ambient.humidity, from: 0, to: 1}\n", "did you mean axes"},
        {"axes:\n  - {key: ambient.humidity, values: 0.5}\n", "must be a list"},
        {"axes:\n  - {key: ambient.humidity, values: [0.5]}\ntraces: [doc.mean_temp]\n",
         "did you mean doc.mean_temperature"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct place p;
        struct emb_study s;
        struct emb_err err = {EMB_OK, "", ""};
        char want[100];
        place_new(&p, rows[i][0]);
        assert_int_equal(emb_study_load(p.study, &s, NULL, &err), EMB_ERR_CONFIG);
        snprintf(want, sizeof want, "%.*s", (int)strcspn(rows[i][1], "|"), rows[i][1]);
        const char *other = strchr(rows[i][1], '|');
        if (strstr(err.msg, want) == NULL &&
            (other == NULL || strstr(err.msg, other + 1) == NULL)) {
            fail_msg("'%s' lacks '%s'", err.msg, rows[i][1]);
        }
        place_drop(&p);
    }
}

static void stop_after_two(const struct emb_study_progress *p, void *user)
{
    atomic_store((atomic_bool *)user, p->fresh >= 2);
}

static const char *const six =
    "axes:\n  - {key: ambient.temperature, from: -10 degC, to: 40 degC, steps: 6}\n"
    "traces: [doc.face_temperature]\ntrace_interval: 1 s\n";

static void journal_resumes(void **state)
{
    struct place p;
    struct emb_study s;
    struct emb_study_progress done;
    struct emb_err err = {EMB_OK, "", ""};
    struct emb_journal *j;
    struct emb_record r;
    atomic_bool stop = false;
    bool more = true;
    double before = 0.0;
    (void)state;
    study_of(six, &p, &s);
    struct emb_study_options o = {.journal = p.journal,
                                  .threads = 1,
                                  .stop = &stop,
                                  .progress = stop_after_two,
                                  .user = &stop};
    assert_int_equal(emb_study_run(&s, &o, &done, &err), EMB_OK);
    assert_int_equal(done.done, 2);
    o = (struct emb_study_options){.journal = p.journal, .threads = 2};
    assert_int_equal(emb_study_run(&s, &o, &done, &err), EMB_OK);
    assert_true(done.done == 6 && done.fresh == 4 && done.failed == 0);
    assert_int_equal(emb_study_run(&s, &o, &done, &err), EMB_OK);
    assert_int_equal(done.fresh, 0);
    assert_int_equal(emb_journal_read(p.journal, &j, &err), EMB_OK);
    assert_int_equal(emb_record_make(1, 1, 5, &r, &err), EMB_OK);
    for (size_t i = 0; i < 6; i++) {
        assert_int_equal(emb_journal_next(j, &r, &more, &err), EMB_OK);
        assert_true(more && r.id == i);
        assert_close(r.values[0], 263.15 + 10.0 * (double)i, 1e-14, 0);
        assert_true(r.outputs[0] > before); /* warmer air, warmer catalyst */
        assert_close(r.traces[0], r.values[0], 1e-6, 0);
        assert_close(r.traces[4], r.outputs[0], 1e-6, 0);
        before = r.outputs[0];
    }
    assert_int_equal(emb_journal_next(j, &r, &more, &err), EMB_OK);
    assert_false(more);
    assert_int_equal(emb_study_export_csv(j, p.out, &err), EMB_OK);
    emb_record_drop(&r);
    emb_journal_close(j);
    emb_study_free(&s);
    place_drop(&p);
}

static void another_study_is_refused(void **state)
{
    struct place p;
    struct emb_study s;
    struct emb_journal *j, *second;
    struct emb_err err = {EMB_OK, "", ""};
    (void)state;
    study_of(six, &p, &s);
    assert_int_equal(emb_journal_open(p.journal, &s, false, false, &j, &err), EMB_OK);
    assert_int_equal(emb_journal_open(p.journal, &s, false, false, &second, &err), EMB_ERR_IO);
    assert_non_null(strstr(err.msg, "another run"));
    emb_journal_close(j);
    s.digest++;
    err = (struct emb_err){EMB_OK, "", ""};
    assert_int_equal(emb_journal_open(p.journal, &s, false, false, &j, &err), EMB_ERR_CONFIG);
    assert_int_equal(emb_journal_open(p.journal, &s, true, false, &j, NULL), EMB_OK);
    emb_journal_close(j);
    assert_int_equal(emb_journal_open(p.study, &s, true, false, &j, NULL),
                     EMB_ERR_IO); /* no journal */
    emb_study_free(&s);
    place_drop(&p);
}

/* Three cases of which the second fails: recorded with its status and reason, the others done. */
static void second_of_three_fails(const char *keys, enum emb_status status, const char *reason)
{
    struct place p;
    struct emb_study s;
    struct emb_study_progress done;
    struct emb_err err = {EMB_OK, "", ""};
    struct emb_journal *j;
    struct emb_record r;
    bool more = true;
    study_of(keys, &p, &s);
    const struct emb_study_options o = {.journal = p.journal, .threads = 2};
    assert_int_equal(emb_study_run(&s, &o, &done, &err), EMB_OK);
    assert_true(done.done == 3 && done.failed == 1);
    assert_int_equal(emb_journal_read(p.journal, &j, &err), EMB_OK);
    assert_int_equal(emb_record_make(1, 1, 0, &r, &err), EMB_OK);
    while (emb_journal_next(j, &r, &more, &err) == EMB_OK && more) {
        assert_int_equal(r.status, r.id == 1 ? status : EMB_OK);
        assert_true((r.id == 1) == (strstr(r.reason, reason) != NULL));
        assert_true((r.id == 1) == isnan(r.outputs[0]));
    }
    emb_record_drop(&r);
    emb_journal_close(j);
    emb_study_free(&s);
    place_drop(&p);
}

static void failures_are_kept(void **state)
{
    (void)state;
    /* an idle above the rated speed is allowed by itself, not together */
    second_of_three_fails(
        "axes:\n  - {key: engine.rated_speed, values: [1900 rpm, 600 rpm, 2000 rpm]}\n",
        EMB_ERR_CONFIG, "must be above the idle speed");
}

static void endless_cases_are_given_up(void **state)
{
    (void)state;
    second_of_three_fails(
        "axes:\n  - {key: duty.warm up.for, values: [1 s, 600 s, 2 s]}\nmax_steps: 100\n",
        EMB_ERR_SOLVER, "after max_steps = 100 steps");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sobol_points),      cmocka_unit_test(hypercube_strata),
        cmocka_unit_test(normal_and_log),    cmocka_unit_test(grid_and_choices),
        cmocka_unit_test(table_of_cases),    cmocka_unit_test(refusals),
        cmocka_unit_test(journal_resumes),   cmocka_unit_test(another_study_is_refused),
        cmocka_unit_test(failures_are_kept), cmocka_unit_test(endless_cases_are_given_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
