/* control.c - connects the sampled regeneration sequence to the running line. */
#include <math.h>
#include <stdint.h>
#include <stdio.h>

#include "sim.h"

struct emb_regen_signals emb_sim_signals(const struct emb_sim *s, double t)
{
    const struct emb_case *c = s->c;
    struct emb_regen_signals g = {.t = t};
    g.face = s->march.slot[c->regen.enable_at].in.T;
    g.hold = s->march.slot[c->regen.hold_at].in.T;
    for (size_t i = 0; i < s->line.n_slot; i++) {
        if (c->line[i].kind == EMB_FILTER) {
            g.soot = fmax(g.soot, s->observed[emb_sim_observation(s, i, "soot_share")]);
        }
        if (emb_sim_observation(s, i, "hottest") != SIZE_MAX) {
            g.hottest = fmax(g.hottest, emb_sim_hottest(s, i));
        }
    }
    g.flow = emb_gas_mass(&s->march.source);
    g.cp = emb_gas_cp(&s->march.source) / g.flow;
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

/* Called at sample times and at every new piece. *jump is set when inputs jump, not when they only
 * bend. */
void emb_sim_control(struct emb_sim *s, double t, bool *jump)
{
    const struct emb_regen_cfg *c = &s->c->regen;
    if (!c->present) {
        return;
    }
    emb_sim_look(s, t, emb_sim_state(s));
    const enum emb_regen_stage was = s->regen.stage;
    const double rate_was = s->regen_running ? s->dose_b : 0.0;
    if (s->piece.regenerate && !s->regen_asked) {
        emb_regen_begin(c, &s->regen, t);
        s->regen_running = s->regen_asked = true;
        s->next_sample = t;
    } else if (!s->piece.regenerate) {
        if (s->regen_running) {
            s->regen.stage = EMB_REGEN_ABORTED;
            snprintf(s->regen.reason, sizeof s->regen.reason, "the phase that asked for it ended");
        }
        s->regen_asked = false;
    }
    if (s->regen_running && !over(s->regen.stage) && t >= s->next_sample - 1e-9) {
        const struct emb_regen_signals g = emb_sim_signals(s, t);
        emb_regen_sample(c, &g, &s->regen);
        s->next_sample = t + c->sample;
    }
    announce(s, t, was);
    const bool dosing = s->regen_running && s->regen.stage == EMB_REGEN_DOSE;
    const double rate = dosing ? s->regen.rate : 0.0;
    const struct emb_levers *levers =
        (s->regen_running && !over(s->regen.stage) && s->regen.stage != EMB_REGEN_COOLDOWN)
            ? &c->levers
            : NULL;
    *jump = *jump || levers != s->levers;
    s->levers = levers;
    s->dose_a = rate_was;
    s->dose_b = rate;
    s->dose_t0 = t;
    s->dose_t1 =
        t +
        c->sample; /* the doser ramps to the new command within one sample: a bend, not a jump */
    if (s->regen_running && over(s->regen.stage)) {
        s->regen_running = false;
        if (rate_was > 0.0) {
            *jump = true;
        }
        s->dose_a = s->dose_b = 0.0;
    }
}
