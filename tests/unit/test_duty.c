/* Phases into pieces: no gaps, no jumps inside cycles, and the lengths of published cycles. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "assert_close.h"
#include "demo_case.h"
#include "emberpipe/csv.h"
#include "emberpipe/duty.h"
#include "emberpipe/engine.h"

static const struct emb_levers rest = {NAN, NAN, NAN, NAN, NAN, NAN};

/* The demo's engine and vehicle under other phases; the phases stay the caller's. */
static struct emb_case with_duty(const void *demo, struct emb_phase *duty, size_t n, int repeat)
{
    struct emb_case c = *(const struct emb_case *)demo;
    c.source = EMB_SOURCE_ENGINE;
    c.duty = duty;
    c.n_duty = n;
    c.duty_repeat = repeat;
    c.ambient.wind = 2.0;
    c.ambient.underbody = 0.5;
    return c;
}

static struct emb_phase phase(enum emb_phase_mode mode, double duration)
{
    struct emb_phase p = {.mode = mode, .duration = duration, .repeat = 1, .speed = NAN,
                          .load = 0.0, .levers = rest};
    p.stream = (struct emb_stream_cfg){.flow = NAN, .temperature = NAN, .soot = NAN};
    for (int k = 0; k < EMB_NGAS; k++) {
        p.stream.x[k] = NAN;
    }
    return p;
}

struct walk {
    size_t n, jumps;             /* pieces, pieces that begin with a jump */
    double length;               /* [s] */
    double air;                  /* [m] way of the air past the line */
    double top;                  /* [m/s] */
    double least;                /* [N m] */
};

/* Walks a duty; checks that pieces join and that `jump` tells the truth. */
static struct walk walk_duty(const struct emb_case *c)
{
    struct emb_duty d;
    struct emb_piece p, was;
    struct walk w = {0, 0, 0.0, 0.0, 0.0, 0.0};
    emb_duty_begin(&d, c);
    for (; emb_duty_next(&d, &p); was = p, w.n++) {
        assert_true(p.t0 == w.length && p.t1 > p.t0);
        bool differs = w.n == 0;
        for (int i = 0; i < EMB_NINPUT; i++) {
            assert_true(isfinite(p.u0[i]) && isfinite(p.u1[i]));
            differs = differs || fabs(p.u0[i] - was.u1[i]) > 1e-9 * (1.0 + fabs(was.u1[i]));
        }
        assert_true(p.jump == differs);
        w.jumps += p.jump;
        w.air += 0.5 * (p.u0[EMB_U_AIR] + p.u1[EMB_U_AIR]) * (p.t1 - p.t0);
        w.top = fmax(w.top, p.u1[EMB_U_AIR]);
        w.least = fmin(w.least, p.u1[EMB_U_TORQUE]);
        w.length = p.t1;
    }
    assert_false(emb_duty_next(&d, &p));
    assert_close(w.length, emb_duty_length(c), 1e-9, 0.0);
    return w;
}

static struct emb_phase small_cycle(double duration)
{
    static double t[4] = {0.0, 10.0, 20.0, 30.0};                      /* [s] */
    static double v[8] = {0.0, 0.0, 10.0, 0.0, 10.0, 0.0, 0.0, 0.0}; /* [m/s], grade [-] */
    struct emb_phase p = phase(EMB_PHASE_ROAD_CYCLE, duration);
    p.trace = (struct emb_trace){4, 2, t, v};
    return p;
}

static void repeats_count(void **state)
{
    struct emb_phase duty[2] = {phase(EMB_PHASE_ENGINE, 100.0), phase(EMB_PHASE_ROAD, 50.0)};
    duty[0].repeat = 3;
    duty[1].road_speed = 20.0;
    const struct emb_case c = with_duty(*state, duty, 2, 2);
    const struct walk w = walk_duty(&c);
    assert_int_equal(w.n, 8);
    assert_int_equal(w.jumps, 4); /* a phase that repeats itself does not jump */
    assert_close(w.length, 700.0, 1e-12, 0.0);
    assert_close(w.air, 600.0 * 2.0 + 100.0 * 10.0, 1e-12, 0.0); /* wind, or half the road speed */
}

static void cycles_bend_and_do_not_jump(void **state)
{
    struct emb_phase duty[1] = {small_cycle(NAN)};
    const struct emb_case c = with_duty(*state, duty, 1, 3);
    const struct walk w = walk_duty(&c);
    assert_int_equal(w.n, 9);
    assert_int_equal(w.jumps, 1);
    assert_close(w.length, 90.0, 1e-12, 0.0);
}

static void cycles_are_cut_where_the_phase_ends(void **state)
{
    struct emb_phase duty[1] = {small_cycle(14.0)};
    const struct emb_case c = with_duty(*state, duty, 1, 1);
    struct emb_phase whole[1] = {small_cycle(NAN)};
    const struct emb_case o = with_duty(*state, whole, 1, 1);
    struct emb_duty d, e;
    struct emb_piece p, q;
    emb_duty_begin(&d, &c);
    emb_duty_begin(&e, &o);
    for (int i = 0; i < 2; i++) {
        assert_true(emb_duty_next(&d, &p) && emb_duty_next(&e, &q));
    }
    assert_close(p.t1, 14.0, 1e-12, 0.0);
    for (int i = 0; i < EMB_NINPUT; i++) { /* four tenths of the way to the next row */
        assert_close(p.u1[i], 0.6 * q.u0[i] + 0.4 * q.u1[i], 1e-12, 1e-12);
    }
    assert_false(emb_duty_next(&d, &p));
    duty[0].duration = 10.0; /* exactly at a row */
    assert_int_equal(walk_duty(&c).n, 1);
    duty[0].duration = 1000.0; /* longer than the cycle: the cycle */
    assert_close(walk_duty(&c).length, 30.0, 1e-12, 0.0);
}

/* Rows of a vehicle that stands are one piece; the first that moves begins another. */
static void straight_rows_are_one_piece(void **state)
{
    static double t[] = {0.0, 1.0, 2.0, 3.0, 4.0, 5.0};  /* [s] */
    static double v[] = {0.0, 0.0, 0.0, 0.0, 2.0, 5.0};  /* [m/s] */
    struct emb_phase duty[1] = {phase(EMB_PHASE_ROAD_CYCLE, NAN)};
    duty[0].trace = (struct emb_trace){.n = 6, .n_col = 1, .t = t, .v = v};
    const struct emb_case c = with_duty(*state, duty, 1, 1);
    struct emb_duty d;
    struct emb_piece p;
    emb_duty_begin(&d, &c);
    assert_true(emb_duty_next(&d, &p) && p.parked);
    assert_close(p.t1, 3.0, 1e-12, 0.0);
    assert_close(walk_duty(&c).length, 5.0, 1e-12, 0.0);
}

static void raised_idle_only_when_parked(void **state)
{
    struct emb_phase duty[3] = {phase(EMB_PHASE_ENGINE, 10.0), phase(EMB_PHASE_ROAD, 10.0),
                                phase(EMB_PHASE_ROAD, 10.0)};
    const struct emb_case c = with_duty(*state, duty, 3, 1);
    const double raised = 1.7 * c.engine.idle_speed; /* [rad/s] */
    duty[2].road_speed = 1.0;
    for (int i = 0; i < 3; i++) {
        duty[i].levers.idle_speed = raised;
    }
    struct emb_duty d;
    struct emb_piece p;
    emb_duty_begin(&d, &c);
    assert_true(emb_duty_next(&d, &p) && p.parked && p.u0[EMB_U_SPEED] == raised);
    assert_true(emb_duty_next(&d, &p) && p.parked && p.u0[EMB_U_SPEED] == raised);
    assert_true(emb_duty_next(&d, &p) && !p.parked && p.u0[EMB_U_SPEED] < raised);
    assert_true(p.u0[EMB_U_EGR] == 1.0 && p.u0[EMB_U_THROTTLE] == 0.0);
}

static void streams_fall_back_to_the_case(void **state)
{
    struct emb_phase duty[1] = {phase(EMB_PHASE_STREAM, 10.0)};
    struct emb_case c = with_duty(*state, duty, 1, 1);
    c.source = EMB_SOURCE_STREAM;
    c.stream = (struct emb_stream_cfg){.flow = 0.1, .temperature = 500.0, .soot = 1e-6};
    c.stream.x[EMB_O2] = 0.1;
    duty[0].stream.temperature = 700.0;
    struct emb_duty d;
    struct emb_piece p;
    emb_duty_begin(&d, &c);
    assert_true(emb_duty_next(&d, &p));
    assert_true(p.u0[EMB_U_FLOW] == 0.1 && p.u1[EMB_U_TEMPERATURE] == 700.0);
    assert_true(p.u0[EMB_U_SOOT] == 1e-6 && p.u0[EMB_U_X + EMB_O2] == 0.1);
}

/* Power at the wheels by hand; downhill the engine gives no more than its own drag. */
static void road_load_by_hand(void **state)
{
    const struct emb_case *c = *state;
    const struct emb_vehicle_cfg *v = &c->vehicle;
    double omega, torque;
    for (double speed = 2.0; speed < 25.0; speed += 0.5) {
        emb_road_load(v, &c->engine, speed, 0.0, 0.0, &omega, &torque);
        const double force = v->mass * 9.80665 * v->rolling +
                             0.5 * 1.2 * v->drag_area * speed * speed; /* [N] */
        assert_close(torque * omega, force * speed / v->driveline_efficiency, 1e-9, 0.0);
        assert_true(omega >= c->engine.idle_speed && omega <= 1.1 * c->engine.rated_speed);
        emb_road_load(v, &c->engine, speed, -3.0, -0.1, &omega, &torque);
        assert_close(torque, -emb_engine_drag_torque(&c->engine, omega), 1e-12, 0.0);
    }
}

/* Reads a published cycle into a phase; false, and says so, where the data is not at hand. */
static bool published(const char *name, bool road, struct emb_phase *p)
{
    char file[200];
    struct emb_err err = {EMB_OK, "", ""};
    snprintf(file, sizeof file, "../shared/data/%s", name);
    if (access(file, R_OK) != 0) {
        print_message("%s is not at hand: skipped\n", name);
        return false;
    }
    struct emb_units *u = emb_units_new();
    assert_non_null(u);
    *p = phase(road ? EMB_PHASE_ROAD_CYCLE : EMB_PHASE_ENGINE_CYCLE, NAN);
    const enum emb_status s = road ? emb_csv_road_cycle(file, u, &p->trace, &err)
                                   : emb_csv_engine_cycle(file, u, &p->trace, &err);
    emb_units_free(u);
    if (s != EMB_OK) {
        fail_msg("%s: %s", err.where, err.msg);
    }
    return true;
}

static void forget(struct emb_trace *t)
{
    free(t->t);
    free(t->v);
}

/* The air past the line, in still air and all of the road speed, is the road itself. */
static void road_cycle_is(const void *demo, const char *name, double length, double km,
                          double digit, double top)
{
    struct emb_phase duty[1];
    if (!published(name, true, &duty[0])) {
        return;
    }
    struct emb_case c = with_duty(demo, duty, 1, 1);
    c.ambient.wind = 0.0;
    c.ambient.underbody = 1.0;
    const struct walk w = walk_duty(&c);
    assert_close(w.length, length, 0.0, 1.0);
    assert_close(w.air / 1000.0, km, 0.0, 0.5 * digit); /* as published, to its last digit */
    if (top > 0.0) {
        assert_close(w.top * 3.6, top, 0.0, 0.06);
    }
    assert_true(w.jumps == 1 && w.least < 0.0);
    forget(&duty[0].trace);
}

/* A stream has no road load, but its phase may say how fast the air passes. */
static void stream_on_the_road(void **state)
{
    struct emb_phase duty[2] = {phase(EMB_PHASE_STREAM, 60.0), phase(EMB_PHASE_STREAM, 60.0)};
    duty[0].road_speed = 20.0; /* half of it reaches the line; the other phase has the wind */
    struct emb_case c = with_duty(*state, duty, 2, 1);
    c.source = EMB_SOURCE_STREAM;
    assert_close(walk_duty(&c).air, 60.0 * 10.0 + 60.0 * 2.0, 1e-12, 0.0);
}

static void published_road_cycles(void **state)
{
    /* UN GTR No. 15, class 3b: 1800 s, 23.27 km, 131.3 km/h */
    road_cycle_is(*state, "regulatory_road_cycles/wltc_3b.csv", 1800.0, 23.27, 0.01, 131.3);
    /* heavy-duty transient of the greenhouse gas rule, 40 CFR 1037 App. A: 668 s, 47.5 mph */
    road_cycle_is(*state, "day_cycles/EPA_Ph2_transient.csv", 668.0, 4.57, 0.01, 76.5);
    /* one refuse truck day of the National Renewable Energy Laboratory's T3CO: 28 487 s, 141 km */
    road_cycle_is(*state, "day_cycles/RefuseDriveCycle.csv", 28487.0, 141.0, 1.0, -1.0);
}

/* WHTC, UN GTR No. 4 Annex 1: 1800 s, motoring included, idle at both ends of the speed scale. */
static void published_engine_cycle(void **state)
{
    struct emb_phase duty[1];
    if (!published("whtc/WHTC_normalised.csv", false, &duty[0])) {
        return;
    }
    const struct emb_case c = with_duty(*state, duty, 1, 1);
    const struct walk w = walk_duty(&c);
    assert_close(w.length, 1800.0, 0.0, 1.0);
    assert_int_equal(w.jumps, 1);
    const double most = emb_engine_drag_torque(&c.engine, c.engine.rated_speed); /* [N m] */
    assert_true(w.least < -0.5 * most && w.least >= -1.2 * most);
    forget(&duty[0].trace);
}

/* WHSC, UN GTR No. 4 (from memory): speed [%], torque [%], time [s]; 1895 s in all. */
static void published_steady_cycle(void **state)
{
    static const double mode[13][3] = {{0, 0, 210},   {55, 100, 50}, {55, 25, 250}, {55, 70, 75},
                                       {35, 100, 50}, {25, 25, 200}, {45, 70, 75},  {45, 25, 150},
                                       {55, 50, 125}, {75, 100, 50}, {35, 50, 200}, {35, 25, 250},
                                       {0, 0, 210}};
    struct emb_phase duty[13];
    const struct emb_engine_cfg *e = &((const struct emb_case *)*state)->engine;
    for (int i = 0; i < 13; i++) {
        duty[i] = phase(EMB_PHASE_ENGINE, mode[i][2]);
        duty[i].speed = e->idle_speed + 0.01 * mode[i][0] * (e->rated_speed - e->idle_speed);
        duty[i].load = 0.01 * mode[i][1];
    }
    const struct emb_case c = with_duty(*state, duty, 13, 1);
    assert_close(emb_duty_length(&c), 1895.0, 1e-12, 0.0);
    const struct walk w = walk_duty(&c);
    assert_true(w.n == 13 && w.jumps == 13);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(repeats_count),
        cmocka_unit_test(cycles_bend_and_do_not_jump),
        cmocka_unit_test(cycles_are_cut_where_the_phase_ends),
        cmocka_unit_test(straight_rows_are_one_piece),
        cmocka_unit_test(raised_idle_only_when_parked),
        cmocka_unit_test(streams_fall_back_to_the_case),
        cmocka_unit_test(road_load_by_hand),
        cmocka_unit_test(stream_on_the_road),
        cmocka_unit_test(published_road_cycles),
        cmocka_unit_test(published_engine_cycle),
        cmocka_unit_test(published_steady_cycle),
    };
    return cmocka_run_group_tests(tests, demo_case_load, demo_case_unload);
}
