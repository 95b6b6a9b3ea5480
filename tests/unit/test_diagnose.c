/* Known faults put into the model, its readings made noisy and holed, and the fit asked for them
 * back. The share of 95 % intervals that hold the truth must be what they promise. EMBERPIPE_TRIALS
 * sets how many (the 100 of the README: EMBERPIPE_TRIALS=100), EMBERPIPE_FIRST_TRIAL which is first. */
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
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>

#include "assert_close.h"
#include "emberpipe/config.h"
#include "emberpipe/diagnose.h"
#include "emberpipe/run.h"

enum { ROWS = 301, N_SENSOR = 3 };
static const double dt = 4.0; /* [s] */

static const char line_text[] =
    "title: short line on a bench\n"
    "ambient: {temperature: 10 degC, wind: 2 m/s}\n"
    "stream: {flow: 0.1 kg/s, temperature: 280 degC}\n"
    "line:\n"
    "  - {name: pipe, pipe: {length: 1 m, cells: 1}}\n"
    "  - {name: t_in, sensor: {}}\n"
    "  - {name: injector, fuel_doser: {}}\n"
    "  - {name: doc, oxidation_catalyst: {cells: 3, diameter: 9.5 in, length: 6 in}}\n"
    "  - {name: t_out, sensor: {}}\n"
    "  - {name: mid, pipe: {length: 1.5 m, cells: 1}}\n"
    "  - {name: t_mid, sensor: {}}\n"
    "duty: {phases: [{for: 20 min}]}\n";

static int setup(void **state)
{
    char file[] = "/tmp/emberpipe-line-XXXXXX";
    struct emb_case *c = calloc(1, sizeof *c);
    struct emb_err err = {0};
    const int fd = mkstemp(file);
    if (c == NULL || fd < 0 ||
        write(fd, line_text, sizeof line_text - 1) != (ssize_t)sizeof line_text - 1) {
        return -1;
    }
    close(fd);
    const enum emb_status st = emb_config_load(file, NULL, 0, c, NULL, &err);
    unlink(file);
    if (st != EMB_OK) {
        print_error("%s: %s\n", err.where, err.msg);
        free(c);
        return -1;
    }
    *state = c;
    return 0;
}

static int teardown(void **state)
{
    emb_case_free(*state);
    free(*state);
    return 0;
}

static void column_new(struct emb_log *l, enum emb_log_role role, const char *name,
                       const char *reads, const char *unit)
{
    struct emb_log_column *c = &l->column[l->n_column++];
    c->role = role;
    snprintf(c->name, sizeof c->name, "%s", name);
    snprintf(c->reads, sizeof c->reads, "%s", reads);
    snprintf(c->unit, sizeof c->unit, "%s", unit);
    c->v = calloc(ROWS, sizeof *c->v);
    assert_non_null(c->v);
}

/* A warm-up, then fuel in two steps: enough going on to see each knob. */
static void log_new(struct emb_log *l)
{
    *l = (struct emb_log){.n = ROWS};
    l->t = calloc(ROWS, sizeof *l->t);
    l->line = calloc(ROWS, sizeof *l->line);
    column_new(l, EMB_LOG_FLOW, "flow", "", "kg/s");
    column_new(l, EMB_LOG_INLET, "inlet", "", "K");
    column_new(l, EMB_LOG_DOSE, "dose", "", "kg/s");
    column_new(l, EMB_LOG_READING, "t_in", "t_in.reading", "K");
    column_new(l, EMB_LOG_READING, "t_out", "t_out.reading", "K");
    column_new(l, EMB_LOG_READING, "t_mid", "t_mid.reading", "K");
    for (size_t i = 0; i < ROWS; i++) {
        const double t = dt * (double)i;
        l->t[i] = t;
        l->line[i] = (unsigned)i + 2;
        l->column[0].v[i] = 0.1 + 0.02 * sin(t / 90.0);
        l->column[1].v[i] = 573.15 - 60.0 * exp(-t / 150.0) + 10.0 * sin(t / 60.0);
        l->column[2].v[i] = t < 500.0 ? 0.0 : fmin(t < 900.0 ? 0.3e-3 : 0.6e-3, 2e-5 * (t - 500.0));
        for (size_t k = 3; k < 6; k++) {
            l->column[k].v[i] = 283.15;
        }
    }
}

/* What the sensors of the faulty line read, without noise. */
static void truth_fill(const struct emb_case *c, struct emb_log *l, const struct emb_knob *knob,
                       double value)
{
    struct emb_case driven;
    struct emb_result r = {0};
    struct emb_err err = {0};
    assert_int_equal(emb_replay_case(c, l, 0.0, &driven, NULL, &err), EMB_OK);
    if (knob != NULL) {
        emb_knob_apply(knob, value, &driven);
    }
    driven.output_interval = dt;
    assert_int_equal(emb_run(&driven, NULL, &r, &err), EMB_OK);
    assert_true(r.n_row >= ROWS);
    for (size_t k = 3; k < 6; k++) {
        const int at = emb_result_find(&r, l->column[k].reads);
        const bool off = knob != NULL && knob->kind == EMB_KNOB_OFFSET && knob->at == (int)k - 3;
        for (size_t i = 0; i < ROWS; i++) {
            l->column[k].v[i] = r.row[i * r.n_column + (size_t)at] + (off ? value : 0.0);
        }
    }
    emb_result_free(&r);
    emb_case_free(&driven);
}

/* Noise of 2 K on readings, 1 K and 1 % on what drives; readings drop out for up to a minute. */
static void noise_add(struct emb_log *l, gsl_rng *rng)
{
    for (size_t i = 0; i < ROWS; i++) {
        l->column[0].v[i] *= 1.0 + gsl_ran_gaussian(rng, 0.01);
        l->column[1].v[i] += gsl_ran_gaussian(rng, 1.0);
        for (size_t k = 3; k < 6; k++) {
            l->column[k].v[i] += gsl_ran_gaussian(rng, 2.0);
        }
    }
    for (int hole = 0; hole < 9; hole++) {
        const size_t from = gsl_rng_uniform_int(rng, ROWS), k = 3 + gsl_rng_uniform_int(rng, 3);
        for (size_t i = from; i < from + 15 && i < ROWS; i++) {
            l->column[k].v[i] = NAN;
        }
    }
}

static double fault_size(enum emb_knob_kind kind, gsl_rng *rng)
{
    static const double range[EMB_N_KNOB_KIND][2] = {
        [EMB_KNOB_ACTIVITY] = {2, 8},    [EMB_KNOB_BLOCKED] = {8, 20},
        [EMB_KNOB_DELIVERY] = {40, 90},  [EMB_KNOB_FLOW] = {75, 125},
        [EMB_KNOB_LOSS] = {150, 300},    [EMB_KNOB_INLET] = {-20, 20},
        [EMB_KNOB_OFFSET] = {-20, 20}};
    return range[kind][0] + (range[kind][1] - range[kind][0]) * gsl_rng_uniform(rng);
}

struct trial {
    struct emb_knob knob;
    double truth;
    const struct emb_fitted *fit; /* of that knob alone */
    const struct emb_explanation *as;
};

static void diagnose(const struct emb_case *c, const struct emb_log *l, struct emb_diagnosis *d)
{
    struct emb_err err = {0};
    const struct emb_diagnose_options o = {0, NULL, NULL};
    const enum emb_status st = emb_diagnose(c, l, &o, d, &err);
    if (st != EMB_OK) {
        print_error("%s\n", err.msg);
    }
    assert_int_equal(st, EMB_OK);
}

static size_t knobs_get(const struct emb_case *c, const struct emb_log *l, struct emb_knob *knob)
{
    struct emb_replay compared = {0};
    struct emb_case driven;
    struct emb_result r = {0};
    assert_int_equal(emb_replay_case(c, l, 0.0, &driven, NULL, NULL), EMB_OK);
    assert_int_equal(emb_run(&driven, NULL, &r, NULL), EMB_OK);
    assert_int_equal(emb_replay_compare(&driven, l, &r, &compared, NULL), EMB_OK);
    const size_t n = emb_knob_list(&driven, l, &compared, knob);
    emb_replay_free(&compared);
    emb_result_free(&r);
    emb_case_free(&driven);
    return n;
}

static const struct emb_explanation *single_of(const struct emb_diagnosis *d, size_t knob)
{
    for (size_t i = 0; i < d->n_explanation; i++) {
        if (d->explanation[i].n == 1 && d->explanation[i].part[0].knob == knob) {
            return &d->explanation[i];
        }
    }
    return NULL;
}

/* Width of the interval that is still of use: a third of a factor, 5 K of an offset. */
static bool narrow(const struct emb_knob *k, const struct emb_fitted *p)
{
    return k->unit[0] == 'K' ? p->hi - p->lo < 5.0 : p->hi - p->lo < 0.35 * p->value;
}

static bool trial_run(const struct emb_case *c, unsigned long seed, const struct emb_knob *knob,
                      size_t n_knob, bool *is_narrow, bool *is_best)
{
    struct emb_log l;
    struct emb_diagnosis d;
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, seed);
    const size_t k = seed % n_knob;
    const double truth = fault_size(knob[k].kind, rng);
    log_new(&l);
    truth_fill(c, &l, &knob[k], truth);
    noise_add(&l, rng);
    diagnose(c, &l, &d);
    const struct emb_explanation *e = single_of(&d, k);
    const bool held = e != NULL && e->part[0].lo <= truth && truth <= e->part[0].hi;
    *is_narrow = e != NULL && narrow(&knob[k], &e->part[0]);
    *is_best = e != NULL && e->as_good;
    print_message("%3lu %-45s truth %7.2f fit %7.2f (%7.2f to %7.2f) left %.2f K%s%s%s\n", seed,
                  knob[k].what, truth, e != NULL ? e->part[0].value : NAN,
                  e != NULL ? e->part[0].lo : NAN, e != NULL ? e->part[0].hi : NAN,
                  e != NULL ? e->rms : NAN, held ? "" : " MISSED", *is_narrow ? "" : " WIDE",
                  *is_best ? "" : " NOT BEST");
    emb_diagnosis_free(&d);
    emb_log_free(&l);
    gsl_rng_free(rng);
    return held;
}

static void test_recovery(void **state)
{
    const char *text = getenv("EMBERPIPE_TRIALS"), *from = getenv("EMBERPIPE_FIRST_TRIAL");
#ifdef __SANITIZE_ADDRESS__
    const unsigned long few = 1; /* slow there, and the numbers are the same */
#else
    const unsigned long few = 2;
#endif
    const unsigned long trials = text != NULL ? strtoul(text, NULL, 10) : few;
    struct emb_knob knob[EMB_MAX_KNOBS];
    struct emb_log l;
    unsigned long held = 0, narrow_ones = 0, best = 0;
    log_new(&l);
    truth_fill(*state, &l, NULL, 0.0);
    const size_t n_knob = knobs_get(*state, &l, knob);
    emb_log_free(&l);
    assert_int_equal(n_knob, 9);
    const unsigned long first = from != NULL ? strtoul(from, NULL, 10) : 0;
    for (unsigned long i = first; i < first + trials; i++) {
        bool is_narrow = false, is_best = false;
        held += trial_run(*state, i, knob, n_knob, &is_narrow, &is_best);
        narrow_ones += is_narrow;
        best += is_best;
    }
    print_message("%lu of %lu within their intervals, %lu narrow, %lu as good as the best\n", held,
                  trials, narrow_ones, best);
    assert_true(10 * held >= 9 * trials); /* 90 of 100 */
    assert_true(10 * narrow_ones >= 9 * trials);
    assert_true(10 * best >= 9 * trials);
}

/* No fault: no explanation may be called for. */
static void test_healthy(void **state)
{
    struct emb_log l;
    struct emb_diagnosis d;
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, 77);
    log_new(&l);
    truth_fill(*state, &l, NULL, 0.0);
    noise_add(&l, rng);
    diagnose(*state, &l, &d);
    bool healthy = false;
    for (size_t i = 0; i < d.n_explanation; i++) {
        healthy = healthy || (d.explanation[i].n == 0 && d.explanation[i].as_good);
    }
    assert_true(healthy);
    emb_diagnosis_free(&d);
    emb_log_free(&l);
    gsl_rng_free(rng);
}

static void readings_all(struct emb_log *l, double K)
{
    for (size_t k = 3; k < 6; k++) {
        for (size_t i = 0; i < ROWS; i++) {
            l->column[k].v[i] = K;
        }
    }
}

/* A line in its steady state, no fuel dosed, and only the sensor behind the catalyst left: one number,
 * all the time. A loss 2.5 times that of the case and an inlet sensor that reads too high give the
 * same; both must be called as good, and be named as what cannot be told apart. */
/* A healthy log of which one reading holds degF but says degC: taken for degF it fits. */
static void test_fahrenheit_in_disguise(void **state)
{
    struct emb_log l;
    struct emb_replay compared = {0};
    char text[4000] = "";
    log_new(&l);
    truth_fill(*state, &l, NULL, 0.0);
    for (size_t i = 0; i < ROWS; i++) {
        l.column[4].v[i] = 1.8 * (l.column[4].v[i] - 273.15) + 32.0 + 273.15; /* NIST SP 811 */
    }
    assert_int_equal(emb_replay(*state, &l, NULL, &compared, NULL), EMB_OK);
    assert_true(compared.sensor[1].rmse > 100.0);
    /* the line starts as warm as the readings say: not quite the same */
    assert_true(compared.sensor[1].rmse_if_degF < 10.0);
    assert_true(compared.sensor[2].rmse < 10.0 && compared.sensor[2].rmse_if_degF > 50.0);
    FILE *f = fmemopen(text, sizeof text, "w");
    assert_non_null(f);
    emb_replay_text(&compared, f);
    fclose(f);
    assert_non_null(strstr(text, "'t_out' would be"));
    assert_null(strstr(text, "'t_mid' would be"));
    emb_replay_free(&compared);
    emb_log_free(&l);
}

static void test_alike(void **state)
{
    struct emb_log l;
    struct emb_diagnosis d;
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, 78);
    log_new(&l);
    for (size_t i = 0; i < ROWS; i++) {
        l.column[0].v[i] = 0.1;
        l.column[1].v[i] = 563.15;
        l.column[2].v[i] = 0.0;
    }
    const struct emb_knob loss = {.kind = EMB_KNOB_LOSS, .at = -1};
    readings_all(&l, 553.15); /* where the parts start, as they are read warm */
    for (int i = 0; i < 2; i++) {
        truth_fill(*state, &l, &loss, 250.0);
        if (i == 0) {
            readings_all(&l, l.column[4].v[ROWS - 1]);
        }
    }
    noise_add(&l, rng);
    free(l.column[3].v);
    free(l.column[5].v);
    l.column[3] = l.column[4];
    l.n_column = 4;
    diagnose(*state, &l, &d);
    bool by_inlet = false, by_loss = false;
    for (size_t i = 0; i < d.n_explanation; i++) {
        const struct emb_explanation *e = &d.explanation[i];
        const enum emb_knob_kind kind = d.knob[e->part[0].knob].kind;
        by_inlet = by_inlet || (e->n == 1 && e->as_good && kind == EMB_KNOB_INLET);
        by_loss = by_loss || (e->n == 1 && e->as_good && kind == EMB_KNOB_LOSS);
    }
    char *text = NULL;
    size_t size = 0;
    FILE *f = open_memstream(&text, &size);
    assert_non_null(f);
    emb_diagnosis_text(&d, f);
    fclose(f);
    assert_true(by_inlet && by_loss);
    assert_non_null(strstr(text, "as well (marked *)"));
    assert_non_null(strstr(text, "nearly the same way"));
    free(text);
    emb_diagnosis_free(&d);
    emb_log_free(&l);
    gsl_rng_free(rng);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_healthy),
        cmocka_unit_test(test_alike),
        cmocka_unit_test(test_fahrenheit_in_disguise),
        cmocka_unit_test(test_recovery),
    };
    return cmocka_run_group_tests(tests, setup, teardown);
}
