/* def_loops.c - connects the closed-loop DEF controls to the running line. */
#include <math.h>
#include <stdint.h>

#include "emberpipe/def_loop.h"
#include "emberpipe/inputs.h"
#include "sim.h"

/* [-] of coverage, which a command that is off the law's may be worth. Judgement: NH3 and NOx move
 * by about as much */
static const double closely = 1e-4;

void emb_sim_loops_begin(struct emb_sim *s)
{
    s->n_loop = 0;
    for (size_t i = 0; i < s->line.n_slot; i++) {
        const struct emb_element_cfg *e = &s->c->line[i];
        if (e->kind != EMB_DEF || e->u.def.control != EMB_DEF_CLOSED_LOOP ||
            s->n_loop == EMB_MAX_DOSERS) {
            continue;
        }
        size_t k = i + 1;
        while (k < s->line.n_slot && s->c->line[k].kind != EMB_REDCAT) {
            k++;
        }
        if (k < s->line.n_slot) {
            s->loop[s->n_loop++] = (struct emb_loop){.doser = i, .catalyst = k};
        }
    }
}

static struct emb_def_signals signals(const struct emb_sim *s, const struct emb_loop *l)
{
    const struct emb_brick_cfg *b = &s->c->line[l->catalyst].u.brick;
    const double volume =
        0.25 * 3.14159265358979 * b->body.diameter * b->body.diameter * b->body.length; /* [m3] */
    return (struct emb_def_signals){emb_sim_seen(s, l->catalyst, EMB_SPOT_COVERAGE),
                                    emb_sim_seen(s, l->catalyst, EMB_SPOT_MEAN),
                                    b->storage * b->activity * volume};
}

struct rehearsal { /* the law between two looks */
    const struct emb_def_cfg *c;
    struct emb_def_signals from, to;
};

static double sample(void *state, double share, bool *decides)
{
    const struct rehearsal *r = state;
    const struct emb_def_signals *a = &r->from, *b = &r->to;
    const struct emb_def_signals g = {.coverage = emb_stretch_at(a->coverage, b->coverage, share),
                                      .T = emb_stretch_at(a->T, b->T, share),
                                      .sites = b->sites};
    *decides = false;
    return emb_def_loop_sample(r->c, &g);
}

/* No stretch goes on past a look of the regeneration, whose decisions make inputs jump. */
static double may_jump(const struct emb_sim *s, double interval)
{
    const double t = s->piece.t1; /* [s] */
    return s->regen_running ? fmin(t, s->dose.t1 + interval) : t;
}

static void take_samples(struct emb_sim *s, struct emb_loop *l, bool jump)
{
    const struct emb_def_cfg *c = &s->c->line[l->doser].u.def;
    struct rehearsal r = {c, l->saw, signals(s, l)};
    const struct emb_sampled_law law = {c->sample, emb_sim_longest_stretch(s),
                                        closely * r.to.sites / c->fill_time, sample, &r};
    emb_stretch_close(&l->nh3, &law);
    l->saw = r.to;
    emb_stretch_open(&l->nh3, jump ? 0.0 : may_jump(s, c->sample), &law);
}

void emb_sim_loops_sample(struct emb_sim *s, double t, bool jump)
{
    for (size_t i = 0; i < s->n_loop; i++) {
        struct emb_loop *l = &s->loop[i];
        if (t >= l->nh3.t1 - 1e-9) {
            emb_sim_look(s, t, emb_sim_state(s));
            take_samples(s, l, jump);
        }
        if (jump) {
            emb_stretch_break(&l->nh3);
        }
    }
}

double emb_sim_loops_next(const struct emb_sim *s)
{
    double t = INFINITY;
    for (size_t i = 0; i < s->n_loop; i++) {
        t = fmin(t, s->loop[i].nh3.t1);
    }
    return t;
}

void emb_sim_loops_apply(const struct emb_sim *s, double t, double *u)
{
    for (size_t i = 0; i < s->n_loop; i++) {
        const struct emb_loop *l = &s->loop[i];
        u[EMB_U_NH3 + s->line.slot[l->doser].channel] = emb_stretch_value(&l->nh3, t);
    }
}
