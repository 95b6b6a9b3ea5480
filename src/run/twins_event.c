/* twins_event.c - times that depend on the state: decisions of the regeneration, thresholds of
 * targets. An event g(t, y, p) = 0 of the base moves by -(dg/dp) / (dg/dt) of the twin's nudge. */
#include <math.h>
#include <string.h>

#include "twins_impl.h"

static const double back = 1e-3; /* [s] for slopes in time, well inside a step */

static void controls_take(const struct emb_sim *s, struct emb_controls *c)
{
    *c = (struct emb_controls){s->dose, s->levers, s->regen, s->regen_running};
}

static void controls_put(struct emb_sim *s, const struct emb_controls *c)
{
    s->dose = c->dose;
    s->levers = c->levers;
    s->regen = c->regen;
    s->regen_running = c->regen_running;
    emb_sim_forget(s);
}

void emb_twins_before(struct emb_sim *s)
{
    if (s->twins != NULL) {
        controls_take(s, &s->twins->before);
    }
}

/* The base a moment ago, by interpolation within its last step. */
static int look_back(struct emb_sim *s, double t)
{
    emb_integrator_interpolate(s->in, t - back, s->twins->room[0]);
    return emb_sim_look(s, t - back, s->twins->room[0]);
}

/* What decided: how far past its threshold, and its rate per second. */
struct margin {
    double base, twin; /* [unit of the signal] */
    double rate;       /* [unit of the signal per s] */
};

static double shift(const struct margin *m)
{
    return -(m->twin - m->base) / m->rate;
}

/* What the control of the base saw at a sample. */
static int saw(struct emb_sim *s, double t, struct emb_regen_signals *g)
{
    struct emb_controls set;
    controls_take(s, &set);
    controls_put(s, &s->twins->before);
    const int rc = emb_sim_look(s, t, emb_integrator_state(s->in));
    *g = emb_sim_signals(s, t);
    controls_put(s, &set);
    return rc;
}

/* Time that the twin takes a decision later than the base has [s]; NaN: cannot be said. */
static double decision_shift(struct emb_sim *s, struct emb_sim *w, double t)
{
    const struct emb_controls was = s->twins->before;
    const struct emb_regen_cfg *c = &s->c->regen, *d = &w->c->regen;
    const enum emb_regen_stage from = was.regen.stage, to = s->regen.stage;
    const struct emb_regen_signals h = emb_sim_signals(w, t);
    const struct emb_regen_signals e = s->twins->last;
    struct emb_regen_signals g;
    const double since = w->regen.since - was.regen.since; /* [s] */
    if (from == EMB_REGEN_OFF || !s->piece.regenerate) {
        return 0.0; /* with a piece of the duty, whose times are the same */
    }
    if (saw(s, t, &g) != 0) {
        return NAN;
    }
    const double span = t - e.t; /* [s] it fell somewhere in between */
    if (from == EMB_REGEN_COOLDOWN) {
        return since + d->cooldown - c->cooldown;
    }
    const bool soot = from == EMB_REGEN_DOSE && g.soot <= c->stop_soot;
    if (from == EMB_REGEN_DOSE && to == EMB_REGEN_COOLDOWN && !soot) {
        return since + d->time_limit - c->time_limit;
    }
    if (from == EMB_REGEN_WARMUP && to == EMB_REGEN_ABORTED && g.hottest <= c->abort_temperature) {
        return since + d->warmup_limit - c->warmup_limit;
    }
    if (!soot && !(from == EMB_REGEN_WARMUP && to == EMB_REGEN_DOSE)) {
        return NAN;
    }
    const struct margin m =
        soot ? (struct margin){g.soot - c->stop_soot, h.soot - d->stop_soot,
                               (g.soot - e.soot) / span}
             : (struct margin){g.face - c->enable_temperature, h.face - d->enable_temperature,
                               (g.face - e.face) / span};
    return shift(&m);
}

/* The rates of states and integrals under these controls, the doser at the end of its ramp. */
static int rates(struct emb_sim *s, double t, const struct emb_controls *c, double *f, double *q)
{
    struct emb_controls now;
    controls_take(s, &now);
    controls_put(s, c);
    s->dose.a = s->dose.b;
    int rc = emb_sim_march(s, t, emb_integrator_state(s->in), f);
    rc = rc == 0 ? emb_sim_integrands(s, t, emb_integrator_state(s->in), q) : rc;
    controls_put(s, &now);
    return rc;
}

/* For a while dt the twin runs on under the old controls: its sensitivity jumps. */
static void state_jump(struct emb_sim *s, size_t k, double t, double dt)
{
    struct emb_twins *tw = s->twins;
    const size_t n = s->line.n_state;
    double *f = tw->room[1], *g = tw->room[2];
    struct emb_controls now;
    controls_take(s, &now);
    if (rates(s, t, &tw->before, f, f + n) != 0 || rates(s, t, &now, g, g + n) != 0) {
        emb_twin_lose(&tw->item[k], "its state is out of range");
        return;
    }
    for (size_t i = 0; i < n + s->ode.n_quad; i++) {
        f[i] = (f[i] - g[i]) * dt / tw->nudge;
    }
    emb_integrator_slope_add(s->in, k, f, f + n);
    emb_twin_look(s, k);
}

/* What the integral part of the law would grow by from one sample to the next, had it begun [kg/s]. */
static double first_growth(const struct emb_sim *w, double t)
{
    const struct emb_regen_signals g = emb_sim_signals(w, t);
    struct emb_regen_state s = {.stage = EMB_REGEN_DOSE, .since = t, .cold_since = NAN};
    emb_regen_sample(&w->c->regen, &g, &s);
    return s.integral;
}

/* The stage is the base's; numbers that go on in time are the twin's own. */
static void stage_force(const struct emb_sim *s, struct emb_sim *w, const struct emb_controls *old,
                        double t, double dt)
{
    w->regen = s->regen;
    w->regen.since = s->regen.since + dt;
    w->regen_running = s->regen_running;
    w->levers = s->levers != NULL ? &w->c->regen.levers : NULL;
    w->dose = s->dose;
    w->dose.a = s->dose.a > 0.0 ? old->dose.b : s->dose.a;
    if (s->regen.stage == EMB_REGEN_DOSE) { /* both parts of the law begin to rise so much later */
        w->regen.integral = s->regen.integral - first_growth(w, t) * dt / w->c->regen.sample;
        w->regen.rate = s->regen.rate - w->c->regen.slew * dt;
        w->dose.b = w->regen.rate;
    }
    emb_sim_forget(w);
}

/* It would have decided a sample before the base: it waits, and follows the base meanwhile. */
static void stage_keep(const struct emb_sim *s, struct emb_sim *w, const struct emb_controls *old)
{
    const struct emb_regen_state *was = &s->twins->before.regen;
    controls_put(w, old);
    w->regen.rate += s->regen.rate - was->rate;
    w->regen.integral += s->regen.integral - was->integral;
    w->dose = s->dose;
    w->dose.a = old->dose.b;
    w->dose.b = old->dose.b + s->dose.b - s->dose.a;
}

static void twin_control(struct emb_sim *s, size_t k, double t, bool jump)
{
    struct emb_twins *tw = s->twins;
    struct emb_twin *w = &tw->item[k];
    const struct emb_controls *was = &tw->before;
    struct emb_controls old;
    bool own = false;
    if (w->nb->lost || emb_twin_look(s, k) != 0) {
        return;
    }
    emb_sim_loops_sample(&w->sim, t, jump);
    controls_take(&w->sim, &old);
    const bool decided = was->regen.stage != s->regen.stage;
    const double dt = decided ? decision_shift(s, &w->sim, t) : 0.0; /* [s] */
    emb_sim_control(&w->sim, t, &own);
    w->sim.dose.t1 = s->dose.t1; /* sampled with the base */
    if (!decided && isnan(was->regen.cold_since) != isnan(s->regen.cold_since)) {
        emb_twin_lose(w, "dosing was held back on a cold face");
    } else if (!isfinite(dt)) {
        emb_twin_lose(w, "the regeneration was broken off");
    } else if (!decided && w->sim.regen.stage != s->regen.stage) {
        stage_keep(s, &w->sim, &old);
    } else if (decided) {
        stage_force(s, &w->sim, &old, t, dt);
        if (jump && dt != 0.0) {
            state_jump(s, k, t, dt);
        }
    }
    if (jump) {
        emb_sim_forget(&w->sim);
        emb_memory_jump(w->sim.memory);
    }
}

void emb_twins_control(struct emb_sim *s, double t, bool jump)
{
    for (size_t k = 0; s->twins != NULL && k < s->twins->n; k++) {
        twin_control(s, k, t, jump);
    }
    if (s->twins != NULL && s->regen_running) {
        saw(s, t, &s->twins->last);
    }
    if (s->twins != NULL) {
        emb_sim_forget(s);
    }
}

/* How much later the twin crosses the threshold of a target [s]. */
static double crossing_shift(struct emb_sim *s, const struct emb_sim *w, size_t i, double t)
{
    const struct emb_target *g = &s->c->target[i], *h = &w->c->target[i];
    struct margin m = {emb_sim_target_value(s, g) - g->value, emb_sim_target_value(w, h) - h->value,
                       0.0};
    const double now = m.base;
    if (look_back(s, t) != 0) {
        return NAN;
    }
    m.rate = (now - (emb_sim_target_value(s, g) - g->value)) / back;
    emb_sim_look(s, t, emb_integrator_state(s->in));
    return shift(&m);
}

static void target_watch(struct emb_sim *s, struct emb_twin *w, size_t i, double t, bool crossed)
{
    const struct emb_track *b = &s->track[i];
    struct emb_track *k = &w->sim.track[i];
    const double dt = crossed && b->on != k->on ? crossing_shift(s, &w->sim, i, t) : 0.0; /* [s] */
    if (!isfinite(dt)) {
        emb_twin_lose(w, "a threshold is only touched");
        return;
    }
    if (b->t_best == t) {
        k->best = emb_sim_target_value(&w->sim, &w->sim.c->target[i]);
        k->t_best = t;
    }
    if (b->on && !k->on) {
        k->since = t + dt;
    }
    if ((b->on || k->on) && b->longest == t - b->since) {
        k->longest = t + (b->on ? 0.0 : dt) - k->since;
    }
    if (isnan(k->reached) && !isnan(b->reached)) {
        k->reached = k->since + w->sim.c->target[i].hold;
    }
    k->on = b->on;
}

void emb_twins_watch(struct emb_sim *s, double t, const int *crossed)
{
    for (size_t k = 0; s->twins != NULL && k < s->twins->n; k++) {
        struct emb_twin *w = &s->twins->item[k];
        if (w->nb->lost || emb_twin_look(s, k) != 0) {
            continue;
        }
        for (size_t i = 0; !w->nb->lost && i < s->c->n_target; i++) {
            target_watch(s, w, i, t, crossed != NULL && crossed[i] != 0);
        }
    }
}
