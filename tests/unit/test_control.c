/* Engine, duty and regeneration sequence. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <math.h>
#include <string.h>

#include "demo_case.h"
#include "emberpipe/duty.h"
#include "emberpipe/engine.h"
#include "emberpipe/regen.h"

static void engine_at(const struct emb_case *c, double rpm, double load, double throttle, double T, struct emb_engine_out *o)
{
    double u[EMB_NINPUT] = {0};
    u[EMB_U_SPEED] = rpm * 3.14159265358979 / 30.0;
    u[EMB_U_TORQUE] = load * emb_engine_torque_limit(&c->engine, u[EMB_U_SPEED]);
    u[EMB_U_THROTTLE] = throttle;
    u[EMB_U_EGR] = 1.0;
    emb_engine_eval(&c->engine, &c->ambient, u, T, 2000.0, o);
}

static void engine_conserves_elements(void **state)
{
    const double load[4] = {0.0, 0.2, 0.6, 1.0};
    for (int i = 0; i < 4; i++) {
        struct emb_engine_out o;
        double out[EMB_NELEMENTS], in[EMB_NELEMENTS];
        engine_at(*state, 1300.0, load[i], 0.0, 358.0, &o);
        struct emb_gas air = {.T = 300.0};
        memcpy(air.n, o.air_n, sizeof air.n);
        emb_gas_elements(&o.gas, out);
        emb_gas_elements(&air, in);
        for (int e = 0; e < EMB_NELEMENTS; e++) {
            in[e] += o.fuel / emb_species_mass(EMB_FUEL) * emb_species_elements(EMB_FUEL)[e];
            assert_true(fabs(out[e] - in[e]) <= 1e-12 * (fabs(in[e]) + 1e-9));
        }
        assert_true(o.gas.n[EMB_O2] > 0.0);
    }
}

/* Long-duration idle of heavy trucks: about 0.82 gal/h = 0.73 g/s of fuel, EPA420-R-02-025 (from its abstract, memory). */
static void idle_burns_what_trucks_burn(void **state)
{
    struct emb_engine_out o;
    engine_at(*state, 650.0, 0.0, 0.0, 358.0, &o);
    assert_true(o.fuel > 0.4e-3 && o.fuel < 1.1e-3);
    assert_true(o.gas.T > 370.0 && o.gas.T < 480.0);
    assert_true(o.coolant > 0.0);
}

static void throttle_and_load_raise_exhaust_temperature(void **state)
{
    struct emb_engine_out a, b, c;
    engine_at(*state, 1100.0, 0.05, 0.0, 358.0, &a);
    engine_at(*state, 1100.0, 0.05, 0.5, 358.0, &b);
    engine_at(*state, 1100.0, 0.50, 0.0, 358.0, &c);
    assert_true(b.gas.T > a.gas.T + 30.0);
    assert_true(c.gas.T > a.gas.T + 30.0);
}

static void pieces_cover_the_duty_without_gaps(void **state)
{
    struct emb_duty d;
    struct emb_piece p;
    double t = 0.0;
    emb_duty_begin(&d, *state);
    while (emb_duty_next(&d, &p)) {
        assert_true(p.t0 == t && p.t1 > p.t0);
        t = p.t1;
    }
    assert_true(fabs(t - emb_duty_length(*state)) < 1e-9);
    assert_true(fabs(t - 3600.0) < 1e-9);
}

static void road_load_matches_the_force_balance(void **state)
{
    const struct emb_case *c = *state;
    double omega, torque;
    emb_road_load(&c->vehicle, &c->engine, 20.0, 0.0, 0.0, &omega, &torque);
    const struct emb_vehicle_cfg *v = &c->vehicle;
    const double force = v->mass * 9.80665 * v->rolling + 0.5 * 1.2 * v->drag_area * 400.0; /* textbook road load */
    assert_true(fabs(omega * torque * v->driveline_efficiency / (force * 20.0) - 1.0) < 1e-9);
}

static struct emb_regen_signals signals(double t, double face, double soot, double hottest)
{
    return (struct emb_regen_signals){t, face, face, soot, hottest, 0.1, 1050.0};
}

static void regeneration_runs_its_course_and_gives_up(void **state)
{
    const struct emb_regen_cfg *c = &((struct emb_case *)*state)->regen;
    struct emb_regen_state s;
    emb_regen_begin(c, &s, 0.0);
    struct emb_regen_signals g = signals(1.0, 400.0, 0.8, 400.0);
    emb_regen_sample(c, &g, &s);
    assert_int_equal(s.stage, EMB_REGEN_WARMUP);
    g = signals(10.0, c->enable_temperature + 1.0, 0.8, 600.0);
    emb_regen_sample(c, &g, &s);
    emb_regen_sample(c, &g, &s);
    assert_int_equal(s.stage, EMB_REGEN_DOSE);
    assert_true(s.rate > 0.0 && s.rate <= c->max_rate);
    struct emb_regen_state hot = s;
    g.hottest = c->abort_temperature + 1.0;
    emb_regen_sample(c, &g, &hot);
    assert_int_equal(hot.stage, EMB_REGEN_ABORTED);
    assert_true(hot.reason[0] != '\0' && hot.rate == 0.0);
    g = signals(20.0, c->enable_temperature + 1.0, c->stop_soot / 2.0, 600.0);
    emb_regen_sample(c, &g, &s);
    assert_int_equal(s.stage, EMB_REGEN_COOLDOWN);
    g.t += c->cooldown + 1.0;
    emb_regen_sample(c, &g, &s);
    assert_int_equal(s.stage, EMB_REGEN_DONE);
    emb_regen_begin(c, &s, 0.0);
    g = signals(c->warmup_limit + 1.0, 400.0, 0.8, 400.0);
    emb_regen_sample(c, &g, &s);
    assert_int_equal(s.stage, EMB_REGEN_ABORTED);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(engine_conserves_elements),
        cmocka_unit_test(idle_burns_what_trucks_burn),
        cmocka_unit_test(throttle_and_load_raise_exhaust_temperature),
        cmocka_unit_test(pieces_cover_the_duty_without_gaps),
        cmocka_unit_test(road_load_matches_the_force_balance),
        cmocka_unit_test(regeneration_runs_its_course_and_gives_up),
    };
    return cmocka_run_group_tests(tests, demo_case_load, demo_case_unload);
}
