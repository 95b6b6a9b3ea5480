/* The regeneration sequence, stage by stage, and every way of giving up. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "assert_close.h"
#include "emberpipe/regen.h"

static const struct emb_regen_cfg cfg = {
    .present = true,
    .enable_temperature = 533.15, /* [K] 260 degC, 500 degF */
    .target_temperature = 873.15, /* [K] */
    .max_rate = 2e-3,             /* [kg/s] */
    .slew = 2e-4,                 /* [kg/s2] */
    .gain = 1e-6,                 /* [kg/(s K)] */
    .integral = 1e-8,             /* [kg/(s2 K)] */
    .sample = 1.0,                /* [s] */
    .warmup_limit = 600.0,        /* [s] */
    .time_limit = 1800.0,         /* [s] */
    .stop_soot = 0.1,             /* [-] */
    .cooldown = 120.0,            /* [s] */
    .abort_temperature = 1073.15, /* [K] 800 degC */
    .fade_time = 30.0,            /* [s] */
};

static struct emb_regen_signals seen(double t, double face)
{
    return (struct emb_regen_signals){.t = t, .face = face, .hold = face, .soot = 0.8,
                                      .hottest = face, .flow = 0.1, .cp = 1080.0};
}

/* Samples once a second from t to t1 under fixed signals; returns t1. */
static double pass(struct emb_regen_state *s, struct emb_regen_signals g, double t1)
{
    for (; g.t < t1; g.t += cfg.sample) {
        emb_regen_sample(&cfg, &g, s);
    }
    return t1;
}

static void begin_dosing(struct emb_regen_state *s)
{
    emb_regen_begin(&cfg, s, 0.0);
    assert_int_equal(s->stage, EMB_REGEN_WARMUP);
    assert_true(s->rate == 0.0 && s->reason[0] == '\0');
    pass(s, seen(0.0, 500.0), 100.0);
    assert_int_equal(s->stage, EMB_REGEN_WARMUP);
    assert_true(s->rate == 0.0);
    pass(s, seen(100.0, 540.0), 101.0);
    assert_int_equal(s->stage, EMB_REGEN_DOSE);
    assert_close(s->since, 100.0, 0.0, 1e-12);
}

static void gave_up(const struct emb_regen_state *s, const char *a, const char *b)
{
    assert_int_equal(s->stage, EMB_REGEN_ABORTED);
    assert_true(s->rate == 0.0);
    assert_non_null(strstr(s->reason, a));
    assert_non_null(strstr(s->reason, b));
}

static void off_stays_off(void **state)
{
    (void)state;
    struct emb_regen_state s;
    memset(&s, 0, sizeof s);
    pass(&s, seen(0.0, 900.0), 100.0);
    assert_int_equal(s.stage, EMB_REGEN_OFF);
    assert_true(s.rate == 0.0);
}

static void whole_course(void **state)
{
    (void)state;
    struct emb_regen_state s;
    begin_dosing(&s);
    double t = pass(&s, seen(101.0, 540.0), 400.0); /* [s] */
    assert_int_equal(s.stage, EMB_REGEN_DOSE);
    struct emb_regen_signals g = seen(t, 540.0);
    g.soot = 0.1;
    t = pass(&s, g, t + 1.0);
    assert_int_equal(s.stage, EMB_REGEN_COOLDOWN);
    assert_true(s.rate == 0.0);
    assert_non_null(strstr(s.reason, "10 %"));
    g.t = t;
    t = pass(&s, g, t + 118.0);
    assert_int_equal(s.stage, EMB_REGEN_COOLDOWN);
    g.t = t;
    pass(&s, g, t + 5.0);
    assert_int_equal(s.stage, EMB_REGEN_DONE);
}

static void feed_forward_is_the_heat_balance(void **state)
{
    (void)state;
    struct emb_regen_state s;
    begin_dosing(&s);
    struct emb_regen_signals g = seen(101.0, 573.15);
    g.hold = cfg.target_temperature; /* no error: feed-forward alone */
    pass(&s, g, 150.0);
    /* 300 K times flow heat capacity over 43.098 MJ/kg: 40 CFR 1036.550 Table 1 */
    assert_close(s.rate, 0.1 * 1080.0 * 300.0 / 43.098e6, 1e-9, 0.0);
}

static void rate_respects_slew_and_limit(void **state)
{
    (void)state;
    struct emb_regen_state s;
    begin_dosing(&s);
    struct emb_regen_signals g = seen(101.0, 540.0);
    g.flow = 1.0; /* asks for more than there is */
    double was = s.rate; /* [kg/s] */
    for (int i = 0; i < 200; i++, g.t += 1.0) {
        emb_regen_sample(&cfg, &g, &s);
        assert_true(fabs(s.rate - was) <= cfg.slew * cfg.sample * (1.0 + 1e-12));
        was = s.rate;
    }
    assert_close(s.rate, cfg.max_rate, 1e-12, 0.0);
    assert_true(s.integral == 0.0); /* at the limit all along: nothing wound up */
}

static void integral_finds_its_way_back(void **state)
{
    (void)state;
    struct emb_regen_state s;
    begin_dosing(&s);
    s.integral = cfg.max_rate; /* as if wound up */
    struct emb_regen_signals g = seen(101.0, 600.0);
    g.hold = cfg.target_temperature + 30.0;
    g.flow = 0.2;
    pass(&s, g, 102.0);
    assert_true(s.integral < cfg.max_rate);
}

static void cold_face_stops_fuel_at_once(void **state)
{
    (void)state;
    struct emb_regen_state s;
    begin_dosing(&s);
    double t = pass(&s, seen(101.0, 540.0), 200.0); /* [s] */
    assert_true(s.rate > 0.0);
    t = pass(&s, seen(t, 515.0), t + 60.0); /* less than 20 K below: goes on */
    assert_true(s.stage == EMB_REGEN_DOSE && s.rate > 0.0);
    const double integral = s.integral; /* [kg/s] */
    t = pass(&s, seen(t, 510.0), t + 20.0);
    assert_true(s.stage == EMB_REGEN_DOSE && s.rate == 0.0 && s.integral == integral);
    t = pass(&s, seen(t, 540.0), t + 20.0); /* back in time: the fade clock starts anew */
    assert_true(s.stage == EMB_REGEN_DOSE && s.rate > 0.0);
    t = pass(&s, seen(t, 510.0), t + 20.0);
    assert_int_equal(s.stage, EMB_REGEN_DOSE);
    pass(&s, seen(t, 510.0), t + 20.0);
    gave_up(&s, "237 °C (458 °F)", "30 s");
}

static void warm_up_takes_too_long(void **state)
{
    (void)state;
    struct emb_regen_state s;
    emb_regen_begin(&cfg, &s, 50.0);
    double t = pass(&s, seen(50.0, 523.15), 300.0); /* [s] 250 degC at best, later colder */
    t = pass(&s, seen(t, 423.15), 650.0);
    assert_int_equal(s.stage, EMB_REGEN_WARMUP);
    pass(&s, seen(t, 423.15), 653.0);
    gave_up(&s, "250 °C (482 °F)", "needs 260 °C (500 °F)");
}

static void too_hot(void **state)
{
    (void)state;
    struct emb_regen_state s;
    begin_dosing(&s);
    struct emb_regen_signals g = seen(101.0, 540.0);
    g.hottest = cfg.abort_temperature;
    pass(&s, g, 110.0);
    assert_int_equal(s.stage, EMB_REGEN_DOSE);
    g.hottest += 1.0;
    pass(&s, g, 102.0);
    gave_up(&s, "801 °C (1474 °F)", "800 °C (1472 °F)");
}

static void out_of_time(void **state)
{
    (void)state;
    struct emb_regen_state s;
    begin_dosing(&s);
    const double t = pass(&s, seen(101.0, 540.0), 1901.0); /* [s] */
    assert_int_equal(s.stage, EMB_REGEN_DOSE);
    pass(&s, seen(t, 540.0), t + 1.0);
    assert_int_equal(s.stage, EMB_REGEN_COOLDOWN);
    assert_non_null(strstr(s.reason, "time limit of 30 min, 80 % soot left"));
}

static void stages_have_names(void **state)
{
    (void)state;
    for (int i = EMB_REGEN_OFF; i <= EMB_REGEN_ABORTED; i++) {
        assert_true(emb_regen_stage_name((enum emb_regen_stage)i)[0] != '\0');
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(off_stays_off),
        cmocka_unit_test(whole_course),
        cmocka_unit_test(feed_forward_is_the_heat_balance),
        cmocka_unit_test(rate_respects_slew_and_limit),
        cmocka_unit_test(integral_finds_its_way_back),
        cmocka_unit_test(cold_face_stops_fuel_at_once),
        cmocka_unit_test(warm_up_takes_too_long),
        cmocka_unit_test(too_hot),
        cmocka_unit_test(out_of_time),
        cmocka_unit_test(stages_have_names),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
