/* control.c - connects the sampled regeneration sequence to the running line. */
#include <math.h>
#include <stdint.h>
#include <stdio.h>

#include "sim.h"

/* [K] by which the fuel that is off the law's may heat or cool the exhaust. Judgement: times of
 * targets move by less than a second, and more would save no work */
static const double closely = 0.05;

struct emb_regen_signals emb_sim_signals(const struct emb_sim *s, double t)
{
    const struct emb_case *c = s->c;
    struct emb_regen_signals g = {.t = t};
    g.face = s->now.march.slot[c->regen.enable_at].in.T;
    g.hold = s->now.march.slot[c->regen.hold_at].in.T;
    for (size_t i = 0; i < s->line.n_slot; i++) {
        g.soot = fmax(g.soot, emb_sim_seen(s, i, EMB_SPOT_SOOT)); /* fmax passes over NAN */
        g.hottest = fmax(g.hottest, emb_sim_seen(s, i, EMB_SPOT_HOTTEST));
    }
    g.flow = emb_gas_mass(&s->now.march.source);
    g.cp = emb_gas_cp(&s->now.march.source) / g.flow;
    return g;
}

static bool over(enum emb_regen_stage stage)
{
    return stage == EMB_REGEN_OFF || stage == EMB_REGEN_DONE || stage == EMB_REGEN_ABORTED;
}

static void announce(struct emb_sim *s, double t, enum emb_regen_stage was)
{
    const struct emb_regen_state *r = &s->regen;
    if (r->stage != was) {
        emb_sim_note(s, t, "regeneration: %s%s%s", emb_regen_stage_name(r->stage),
                     r->reason[0] ? ": " : "", r->reason);
    }
}

struct rehearsal { /* the law between two looks */
    const struct emb_regen_cfg *c;
    struct emb_regen_signals from, to;
    struct emb_regen_state state;
};

static double sample(void *state, double share, bool *decides)
{
    struct rehearsal *r = state;
    const struct emb_regen_signals *a = &r->from, *b = &r->to;
    const struct emb_regen_signals g = {.t = emb_stretch_at(a->t, b->t, share),
                                        .face = emb_stretch_at(a->face, b->face, share),
                                        .hold = emb_stretch_at(a->hold, b->hold, share),
                                        .soot = emb_stretch_at(a->soot, b->soot, share),
                                        .hottest = emb_stretch_at(a->hottest, b->hottest, share),
                                        .flow = emb_stretch_at(a->flow, b->flow, share),
                                        .cp = emb_stretch_at(a->cp, b->cp, share)};
    struct emb_regen_state next = r->state;
    emb_regen_sample(r->c, &g, &next);
    *decides = next.stage != r->state.stage || isnan(next.cold_since) != isnan(r->state.cold_since);
    if (!*decides || share == 1.0) {
        r->state = next;
    }
    return next.rate;
}

double emb_sim_longest_stretch(const struct emb_sim *s)
{
    const bool each = s->exact || s->ode.method == EMB_METHOD_TRAPEZOID;
    return each ? 0.0 : s->c->stretch;
}

double emb_sim_next_look(const struct emb_sim *s)
{
    const double t = emb_sim_loops_next(s); /* [s] */
    return s->regen_running ? fmin(t, s->dose.t1) : t;
}

void emb_sim_stretches_break(struct emb_sim *s)
{
    emb_stretch_break(&s->dose);
    for (size_t i = 0; i < s->n_loop; i++) {
        emb_stretch_break(&s->loop[i].nh3);
    }
}

/* Takes the samples up to now and leads the doser on. */
static void take_samples(struct emb_sim *s, double t)
{
    const struct emb_regen_cfg *c = &s->c->regen;
    struct rehearsal r = {c, s->dose_saw, emb_sim_signals(s, t), s->regen};
    const struct emb_sampled_law law = {c->sample, emb_sim_longest_stretch(s),
                                        emb_regen_fuel(&r.to, closely), sample, &r};
    emb_stretch_close(&s->dose, &law);
    s->regen = r.state;
    s->dose_saw = r.to;
    emb_stretch_open(&s->dose, s->piece.t1, &law);
}

void emb_sim_control_watch(struct emb_sim *s, double t)
{
    if (s->regen_running && s->dose.n > 1) {
        const struct emb_regen_signals now = emb_sim_signals(s, t);
        struct rehearsal r = {&s->c->regen, now, now, s->regen};
        bool decides = false;
        sample(&r, 1.0, &decides);
        if (decides) {
            emb_stretch_shorten(&s->dose, t);
        }
    }
}

/* Called where a stretch ends and at every new piece. *jump is set when inputs jump, not when they
 * only bend. */
void emb_sim_control(struct emb_sim *s, double t, bool *jump)
{
    const struct emb_regen_cfg *c = &s->c->regen;
    if (!c->present) {
        return;
    }
    emb_sim_look(s, t, emb_sim_state(s));
    const enum emb_regen_stage was = s->regen.stage;
    if (s->piece.regenerate && !s->regen_asked) {
        emb_regen_begin(c, &s->regen, t);
        emb_stretch_begin(&s->dose, t);
        s->regen_running = s->regen_asked = true;
    } else if (!s->piece.regenerate) {
        if (s->regen_running) {
            s->regen.stage = EMB_REGEN_ABORTED;
            snprintf(s->regen.reason, sizeof s->regen.reason, "the phase that asked for it ended");
        }
        s->regen_asked = false;
    }
    if (s->regen_running && !over(s->regen.stage) && t >= s->dose.t1 - 1e-9) {
        take_samples(s, t);
    }
    announce(s, t, was);
    const struct emb_levers *levers =
        (s->regen_running && !over(s->regen.stage) && s->regen.stage != EMB_REGEN_COOLDOWN)
            ? &c->levers
            : NULL;
    *jump = *jump || levers != s->levers;
    s->levers = levers;
    if (s->regen_running && over(s->regen.stage)) {
        s->regen_running = false;
        *jump = *jump || emb_stretch_value(&s->dose, t) > 0.0;
        emb_stretch_begin(&s->dose, t);
    }
    if (*jump) {
        emb_stretch_break(&s->dose);
    }
}
