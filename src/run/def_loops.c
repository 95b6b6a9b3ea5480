/* def_loops.c - connects the closed-loop DEF controls to the running line. */
#include <math.h>
#include <stdint.h>

#include "emberpipe/def_loop.h"
#include "emberpipe/inputs.h"
#include "sim.h"

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
            s->loop[s->n_loop++] = (struct emb_loop){i, k, 0.0, 0.0, 0.0, 0.0};
        }
    }
}

static double command(const struct emb_sim *s, const struct emb_loop *l)
{
    const struct emb_brick_cfg *b = &s->c->line[l->catalyst].u.brick;
    const double volume =
        0.25 * 3.14159265358979 * b->body.diameter * b->body.diameter * b->body.length; /* [m3] */
    const struct emb_def_signals in = {
        s->observed[emb_sim_observation(s, l->catalyst, "coverage")],
        s->observed[emb_sim_observation(s, l->catalyst, "mean_temperature")],
        b->storage * b->activity * volume};
    return emb_def_loop_sample(&s->c->line[l->doser].u.def, &in);
}

void emb_sim_loops_sample(struct emb_sim *s, double t)
{
    for (size_t i = 0; i < s->n_loop; i++) {
        struct emb_loop *l = &s->loop[i];
        if (t < l->t1 - 1e-9) {
            continue;
        }
        emb_sim_look(s, t, emb_sim_state(s));
        /* the doser ramps to the new command within one sample: a bend, not a jump */
        *l = (struct emb_loop){l->doser,      l->catalyst, l->b,
                               command(s, l), t,           t + s->c->line[l->doser].u.def.sample};
    }
}

double emb_sim_loops_next(const struct emb_sim *s)
{
    double t = INFINITY;
    for (size_t i = 0; i < s->n_loop; i++) {
        t = fmin(t, s->loop[i].t1);
    }
    return t;
}

void emb_sim_loops_apply(const struct emb_sim *s, double t, double *u)
{
    for (size_t i = 0; i < s->n_loop; i++) {
        const struct emb_loop *l = &s->loop[i];
        const double span = l->t1 - l->t0,
                     f = span > 0.0 ? fmin(fmax((t - l->t0) / span, 0.0), 1.0) : 1.0;
        u[EMB_U_NH3 + s->line.slot[l->doser].channel] = l->a + f * (l->b - l->a);
    }
}
