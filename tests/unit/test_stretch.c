/* Samples taken in one go: against the same samples one by one, and against what a line can do. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "assert_close.h"
#include "emberpipe/regen.h"
#include "emberpipe/stretch.h"
#include "run_case.h"

/* --- the regeneration's law, run through a stretch ------------------------------------------- */

static const struct emb_regen_cfg cfg = {
    .present = true,
    .enable_temperature = 533.15, /* [K] */
    .target_temperature = 873.15, /* [K] */
    .max_rate = 2e-3,             /* [kg/s] */
    .slew = 2e-5,                 /* [kg/s2] */
    .gain = 1e-6,                 /* [kg/(s K)] */
    .integral = 1e-8,             /* [kg/(s2 K)] */
    .sample = 2.0,                /* [s] */
    .warmup_limit = 600.0,        /* [s] */
    .time_limit = 1800.0,         /* [s] */
    .stop_soot = 0.1,             /* [-] */
    .cooldown = 120.0,            /* [s] */
    .abort_temperature = 1073.15, /* [K] */
    .fade_time = 30.0,            /* [s] */
};

struct dosing {
    struct emb_regen_signals from, to;
    struct emb_regen_state state;
};

static double dose(void *of, double share, bool *decides)
{
    struct dosing *d = of;
    const struct emb_regen_signals *a = &d->from, *b = &d->to;
    const struct emb_regen_signals g = {emb_stretch_at(a->t, b->t, share),
                                        emb_stretch_at(a->face, b->face, share),
                                        emb_stretch_at(a->hold, b->hold, share),
                                        emb_stretch_at(a->soot, b->soot, share),
                                        emb_stretch_at(a->hottest, b->hottest, share),
                                        emb_stretch_at(a->flow, b->flow, share),
                                        emb_stretch_at(a->cp, b->cp, share)};
    struct emb_regen_state next = d->state;
    emb_regen_sample(&cfg, &g, &next);
    *decides = next.stage != d->state.stage;
    if (!*decides || share == 1.0) {
        d->state = next;
    }
    return next.rate;
}

/* Signals on straight lines; every number is exact in binary, so equal means equal. */
static struct emb_regen_signals at(double t)
{
    return (struct emb_regen_signals){.t = t,
                                      .face = 600.0 + 0.25 * t,
                                      .hold = 700.0 + 0.5 * t,
                                      .soot = 0.75 - t / 1024.0,
                                      .hottest = 800.0,
                                      .flow = 0.125,
                                      .cp = 1024.0};
}

static void samples_of_a_stretch_are_single_samples(void **state)
{
    (void)state;
    const int lengths[] = {1, 2, 4, 8, 16};
    struct emb_regen_state one = {.stage = EMB_REGEN_DOSE, .cold_since = NAN};
    struct dosing d = {.from = at(0.0), .state = one};
    struct emb_stretch x = {0};
    const struct emb_sampled_law law = {cfg.sample, 32.0, 1e-7, dose, &d};
    double t = 0.0; /* [s] */
    for (size_t i = 0; i < sizeof lengths / sizeof *lengths; i++) {
        for (int k = 1; k <= lengths[i]; k++) {
            const struct emb_regen_signals g = at(t + k * cfg.sample);
            emb_regen_sample(&cfg, &g, &one);
        }
        x.t0 = t;
        x.t1 = t += lengths[i] * cfg.sample;
        x.n = lengths[i];
        d.to = at(t);
        emb_stretch_close(&x, &law);
        d.from = d.to;
        assert_true(d.state.rate == one.rate && d.state.integral == one.integral);
        assert_true(x.command == one.rate && one.rate > 0.0);
    }
}

/* --- a law that follows one signal ------------------------------------------------------------ */

struct follower {
    double (*signal)(double t);
    bool blind;      /* it commands nothing, whatever it sees */
    double from, to; /* [-] what was seen */
    double limit;    /* [-] from here on it decides */
    bool decided;
    double late; /* [s] last look */
    int looks;
    double worst; /* [-] furthest the actuator was from the law, at a sample */
};

static double follow(void *of, double share, bool *decides)
{
    struct follower *f = of;
    const double v = emb_stretch_at(f->from, f->to, share);
    *decides = !f->decided && v >= f->limit;
    f->decided = f->decided || (*decides && share == 1.0);
    return f->blind ? 0.0 : v;
}

static const double interval = 2.0, longest = 32.0, bound = 1e-3; /* [s], [s], [-] */

/* Runs to t_end and looks at every sample how far the actuator is from the law's last command. */
static void drive(struct follower *f, double until, double t_end)
{
    struct emb_stretch x;
    emb_stretch_begin(&x, 0.0);
    f->from = f->to = f->signal(0.0);
    f->looks = 0;
    f->worst = 0.0;
    while (x.t1 < t_end && !f->decided) {
        struct follower ahead;
        f->to = f->signal(x.t1);
        struct emb_sampled_law law = {interval, longest, bound, follow, f};
        emb_stretch_close(&x, &law);
        ahead = *f;
        law.state = &ahead;
        f->late = x.t1;
        emb_stretch_open(&x, until, &law);
        f->from = f->to;
        f->looks++;
        assert_true(x.t1 - x.t0 <= longest);
        assert_true(x.n == 1 || x.t1 < until);
        for (int k = 1; k <= x.n && x.t1 < t_end; k++) {
            const double off =
                emb_stretch_value(&x, x.t0 + k * interval) - f->signal(x.t0 + (k - 1) * interval);
            f->worst = fmax(f->worst, f->blind ? 0.0 : fabs(off));
        }
    }
}

static double constant(double t)
{
    (void)t;
    return 0.5;
}

static double swing(double t)
{
    return sin(t / 100.0);
}

static double gather(double t)
{
    return 1e-6 * t * t;
}

static double step(double t)
{
    return t < 301.0 ? 0.0 : 1.0;
}

static void a_stretch_of_one_is_the_law_to_the_letter(void **state)
{
    (void)state;
    struct follower f = {.signal = swing, .limit = INFINITY};
    drive(&f, 0.0, 200.0); /* signals may jump at once: no stretch of several */
    assert_int_equal(f.looks, 100);
    assert_true(f.worst < 1e-15);
}

static void nothing_new_needs_few_looks(void **state)
{
    (void)state;
    struct follower f = {.signal = constant, .limit = INFINITY};
    drive(&f, INFINITY, 2000.0);
    /* one sample across the start, then 1, 2, 4, 8 and 16: 64 s; of 32 s from there on */
    assert_true(f.looks <= 6 + 62);
}

/* Known in the limit: of a line over a swing of amplitude 1 and angular speed w, (w T)^2/8 remains
 * half way; carried on from a chord before it, it misses by (w T)^2. */
static void the_line_stays_with_the_law(void **state)
{
    (void)state;
    struct follower f = {.signal = swing, .limit = INFINITY};
    drive(&f, INFINITY, 2000.0);
    assert_true(f.worst < 8.0 * bound);
    assert_true(f.looks < 1000 / 2);
    struct follower once = {.signal = step, .limit = INFINITY};
    drive(&once, INFINITY, 2000.0);
    assert_true(once.looks < 200);
}

static void what_is_in_sight_is_decided_in_time(void **state)
{
    (void)state;
    const double limits[] = {0.1, 0.317, 0.5, 0.77, 0.9, 0.99};
    for (size_t i = 0; i < sizeof limits / sizeof *limits; i++) {
        struct follower f = {.signal = swing, .limit = limits[i]};
        drive(&f, INFINITY, 2000.0);
        assert_true(f.decided);
        const double due = interval * ceil(100.0 * asin(limits[i]) / interval); /* [s] */
        assert_close(f.late, due, 0.0, 1e-9);
    }
}

/* Twice as far as a stretch goes is enough for a signal that gathers speed; its command, which does
 * not move, would allow any length. */
static void what_gathers_speed_is_decided_in_time(void **state)
{
    (void)state;
    for (double limit = 0.0105; limit < 1.0; limit += 0.013) {
        struct follower f = {.signal = gather, .blind = true, .limit = limit};
        drive(&f, INFINITY, 2000.0);
        assert_true(f.decided);
        assert_close(f.late, interval * ceil(1000.0 * sqrt(limit) / interval), 0.0, 1e-9);
    }
}

/* Nobody can see a step coming: found where the stretch ends, or at the sample that is told. */
static void what_was_not_in_sight_shortens(void **state)
{
    (void)state;
    struct follower f = {.signal = step, .limit = 0.5};
    drive(&f, INFINITY, 2000.0);
    assert_true(f.decided && f.late >= 302.0 && f.late <= 301.0 + longest);
    struct emb_stretch x = {.t0 = 100.0, .t1 = 132.0, .a = 1.0, .b = 17.0, .n = 16};
    emb_stretch_shorten(&x, 107.5);
    assert_int_equal(x.n, 4);
    assert_close(x.t1, 108.0, 0.0, 1e-12);
    assert_close(x.b, 5.0, 0.0, 1e-12);
    emb_stretch_shorten(&x, 107.5); /* it was that already */
    assert_int_equal(x.n, 4);
}

static void a_jump_is_not_carried_on(void **state)
{
    (void)state;
    struct follower f = {.signal = constant, .from = 0.0, .to = 1.0, .limit = INFINITY};
    struct emb_stretch x = {.t0 = 0.0, .t1 = 2.0, .n = 1, .command = 0.5};
    const struct emb_sampled_law law = {interval, longest, bound, follow, &f};
    emb_stretch_break(&x);
    emb_stretch_close(&x, &law);
    emb_stretch_open(&x, INFINITY, &law);
    assert_int_equal(x.n, 1);
    assert_true(x.b == 1.0);
}

/* --- whole runs, against those where every sample is a stop ------------------------------------
 */

static double total_of(const struct emb_result *r, const char *name) /* [kg] */
{
    for (size_t i = 0; i < r->n_total; i++) {
        if (strcmp(r->total[i].name, name) == 0) {
            return r->total[i].value;
        }
    }
    return NAN;
}

static double begins(const struct emb_result *r, const char *stage) /* [s] */
{
    for (size_t i = 0; i < r->n_note; i++) {
        if (strncmp(r->note[i].text, stage, strlen(stage)) == 0) {
            return r->note[i].t;
        }
    }
    return NAN;
}

static void both(const char *file, const char *const *sets, size_t n, struct emb_result *each,
                 struct emb_result *some)
{
    const char *all[8] = {"solver.stretch=0 s"};
    for (size_t i = 0; i < n; i++) {
        all[1 + i] = sets[i];
    }
    *each = run_file(file, all, n + 1);
    *some = run_file(file, sets, n);
}

static void agree(const char *file, const char *const *sets, size_t n)
{
    static const char *const stages[] = {"regeneration: dosing", "regeneration: cooling down",
                                         "regeneration: done"};
    struct emb_result a, b;
    both(file, sets, n, &a, &b);
    assert_true(b.counters.steps < 2 * a.counters.steps / 3);
    assert_close(total_of(&b, "dosed_fuel"), total_of(&a, "dosed_fuel"), 1e-4, 1e-9);
    assert_close(total_of(&b, "def"), total_of(&a, "def"), 3e-4, 1e-9);
    for (size_t i = 0; i < a.n_verdict; i++) {
        assert_int_equal(a.verdict[i].reached, b.verdict[i].reached);
        if (a.verdict[i].reached) {
            assert_close(b.verdict[i].t_reached, a.verdict[i].t_reached, 0.0, 1.0);
        }
    }
    for (size_t i = 0; i < 3 && !isnan(begins(&a, stages[i])); i++) {
        assert_close(begins(&b, stages[i]), begins(&a, stages[i]), 0.0, 0.1);
    }
    emb_result_free(&a);
    emb_result_free(&b);
}

static void runs_agree(void **state)
{
    (void)state;
    static const char *const closed[] = {"line.def.def_doser.control=closed_loop"};
    agree("configs/quickstart.yaml", NULL, 0);
    agree("configs/parked-regeneration.yaml", closed, 1);
    agree("validation/phenomena/def-control/case.yaml", NULL, 0);
}

/* Soot that catches fire while the doser is at its limit: the command says nothing, and the bricks
 * gain 200 K in the time of a stretch. */
static void fire_is_seen_in_time(void **state)
{
    (void)state;
    static const char *const fire[] = {
        "line.dpf.filter.soot=12 g/L",    "regeneration.target_temperature=820 degC",
        "regeneration.max_rate=0.58 g/s", "regeneration.levers.idle_speed=900 rpm",
        "duty.phases[1].for=6 min",       "regeneration.abort_temperature=808 degC"};
    struct emb_result a, b;
    both("configs/quickstart.yaml", fire, sizeof fire / sizeof *fire, &a, &b);
    assert_close(begins(&b, "regeneration: given up"), begins(&a, "regeneration: given up"), 0.0,
                 2.1);
    emb_result_free(&a);
    emb_result_free(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(samples_of_a_stretch_are_single_samples),
        cmocka_unit_test(a_stretch_of_one_is_the_law_to_the_letter),
        cmocka_unit_test(nothing_new_needs_few_looks),
        cmocka_unit_test(the_line_stays_with_the_law),
        cmocka_unit_test(what_is_in_sight_is_decided_in_time),
        cmocka_unit_test(what_gathers_speed_is_decided_in_time),
        cmocka_unit_test(what_was_not_in_sight_shortens),
        cmocka_unit_test(a_jump_is_not_carried_on),
        cmocka_unit_test(runs_agree),
        cmocka_unit_test(fire_is_seen_in_time),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
