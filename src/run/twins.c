/* twins.c - twins between events: built, stepped, recorded. Events are in twins_event.c. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "twins_impl.h"

/* What a twin has where the base has v and their sensitivity is s. */
static void nudged(size_t n, const double *v, const double *s, double nudge, double *out)
{
    for (size_t i = 0; i < n; i++) {
        out[i] = v[i] + nudge * s[i];
    }
}

static int slope_rhs(size_t k, double t, const double *y, const double *dydt, const double *s,
                     double *dsdt, void *user)
{
    struct emb_twins *tw = ((struct emb_sim *)user)->twins;
    struct emb_twin *w = &tw->item[k];
    const size_t n = w->sim.line.n_state;
    if (w->nb->lost) {
        memset(dsdt, 0, n * sizeof *dsdt);
        return 0;
    }
    nudged(n, y, s, tw->nudge, w->work);
    const int rc = emb_sim_march(&w->sim, t, w->work, dsdt);
    for (size_t i = 0; rc == 0 && i < n; i++) {
        dsdt[i] = (dsdt[i] - dydt[i]) / tw->nudge;
    }
    return rc;
}

static int slope_quad(size_t k, double t, const double *y, const double *s, double *dq, void *user)
{
    struct emb_sim *base = user;
    struct emb_twins *tw = base->twins;
    struct emb_twin *w = &tw->item[k];
    const size_t n = base->line.n_state, m = base->ode.n_quad;
    int rc = 0;
    if (k == 0) { /* the others follow at the same t and y */
        rc = emb_sim_integrands(base, t, y, tw->q);
    }
    if (rc != 0 || w->nb->lost) {
        memset(dq, 0, m * sizeof *dq);
        return rc;
    }
    nudged(n, y, s, tw->nudge, w->work);
    rc = emb_sim_integrands(&w->sim, t, w->work, dq);
    for (size_t i = 0; rc == 0 && i < m; i++) {
        dq[i] = (dq[i] - tw->q[i]) / tw->nudge;
    }
    emb_memory_accept(w->sim.memory, t);
    return rc;
}

void emb_twin_lose(struct emb_twin *w, const char *why)
{
    if (!w->nb->lost) {
        w->nb->lost = true;
        snprintf(w->nb->why, sizeof w->nb->why, "%s", why);
    }
}

static enum emb_status twin_begin(struct emb_sim *s, struct emb_twin *w, struct emb_neighbour *nb,
                                  struct emb_err *err)
{
    w->nb = nb;
    memset(&nb->r, 0, sizeof nb->r);
    nb->lost = false;
    enum emb_status st = emb_sim_build(&w->sim, &nb->c, &nb->r, err);
    if (st != EMB_OK) {
        return st;
    }
    const size_t n = w->sim.line.n_state;
    w->sim.exact = true;
    w->work = calloc(n + 1, sizeof *w->work);
    w->y = calloc(n + 1, sizeof *w->y);
    w->q = calloc(w->sim.ode.n_quad + 1, sizeof *w->q);
    if (w->work == NULL || w->y == NULL || w->q == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "run", "out of memory");
    }
    w->sim.twin_y = w->y;
    w->sim.twin_q = w->q;
    memcpy(w->y, w->sim.y0, n * sizeof *w->y);
    if (n != s->line.n_state || w->sim.ode.n_quad != s->ode.n_quad ||
        w->sim.ode.n_root != s->ode.n_root) {
        emb_twin_lose(w, "it has other states");
    }
    emb_duty_begin(&w->duty, &nb->c);
    return EMB_OK;
}

enum emb_status emb_twins_begin(struct emb_sim *s, struct emb_neighbour *nb, size_t n, double nudge,
                                struct emb_err *err)
{
    const size_t states = s->line.n_state;
    struct emb_twins *tw = s->twins = calloc(1, sizeof *tw);
    if (tw == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "run", "out of memory");
    }
    tw->nudge = nudge;
    tw->item = calloc(n + 1, sizeof *tw->item);
    tw->s0 = calloc(n * states + 1, sizeof *tw->s0);
    tw->q = calloc(s->ode.n_quad + 1, sizeof *tw->q);
    bool ok = tw->item != NULL && tw->s0 != NULL && tw->q != NULL;
    for (int i = 0; i < EMB_TWIN_ROOM; i++) {
        tw->room[i] = calloc(states + s->ode.n_quad + 1, sizeof *tw->room[i]);
        ok = ok && tw->room[i] != NULL;
    }
    if (!ok) {
        return emb_fail(err, EMB_ERR_NOMEM, "run", "out of memory");
    }
    enum emb_status st = EMB_OK;
    for (; st == EMB_OK && tw->n < n; tw->n++) {
        struct emb_twin *w = &tw->item[tw->n];
        st = twin_begin(s, w, &nb[tw->n], err);
        for (size_t i = 0; st == EMB_OK && !w->nb->lost && i < states; i++) {
            tw->s0[tw->n * states + i] = (w->sim.y0[i] - s->y0[i]) / nudge;
        }
    }
    s->exact = true;
    s->ode.method = EMB_METHOD_BDF; /* the other has no sensitivities */
    s->ode.n_slope = n;
    s->ode.slope0 = tw->s0;
    s->ode.slope_rhs = slope_rhs;
    s->ode.slope_quad = slope_quad;
    return st;
}

void emb_twins_free(struct emb_sim *s)
{
    struct emb_twins *tw = s->twins;
    if (tw == NULL) {
        return;
    }
    for (size_t k = 0; tw->item != NULL && k < tw->n; k++) {
        emb_sim_drop(&tw->item[k].sim);
        free(tw->item[k].work);
        free(tw->item[k].y);
        free(tw->item[k].q);
    }
    for (int i = 0; i < EMB_TWIN_ROOM; i++) {
        free(tw->room[i]);
    }
    free(tw->item);
    free(tw->s0);
    free(tw->q);
    free(tw);
    s->twins = NULL;
}

void emb_twins_piece(struct emb_sim *s)
{
    for (size_t k = 0; s->twins != NULL && k < s->twins->n; k++) {
        struct emb_twin *w = &s->twins->item[k];
        const struct emb_piece *p = &w->sim.piece;
        if (w->nb->lost) {
            continue;
        }
        const bool any = emb_duty_next(&w->duty, &w->sim.piece);
        if (!any || p->t0 != s->piece.t0 || p->t1 != s->piece.t1 || p->jump != s->piece.jump ||
            p->regenerate != s->piece.regenerate) {
            emb_twin_lose(w, "the times of its duty differ");
        }
        emb_sim_forget(&w->sim);
    }
}

void emb_twins_feel(struct emb_sim *s)
{
    for (size_t k = 0; s->twins != NULL && k < s->twins->n; k++) {
        struct emb_twin *w = &s->twins->item[k];
        if (!w->nb->lost && emb_twin_look(s, k) == 0) {
            w->sim.back_pressure = emb_sim_back_pressure(&w->sim);
            emb_sim_forget(&w->sim);
        }
    }
    if (s->twins != NULL) {
        emb_sim_forget(s); /* differences to it count: it must be seen with what it feels now */
    }
}

int emb_twin_look(struct emb_sim *s, size_t k)
{
    struct emb_twin *w = &s->twins->item[k];
    if (s->in != NULL) {
        nudged(s->line.n_state, emb_integrator_state(s->in), emb_integrator_slope(s->in, k),
               s->twins->nudge, w->y);
    }
    const double t = s->in != NULL ? emb_integrator_time(s->in) : 0.0;
    const int rc = emb_sim_look(&w->sim, t, w->y);
    if (rc != 0) {
        emb_twin_lose(w, "its state is out of range");
    }
    return rc;
}

/* Its state at a time within the last step, into w->work. */
static void twin_at(struct emb_sim *s, size_t k, double t)
{
    const double *y = emb_integrator_state(s->in), *ds = emb_integrator_slope(s->in, k);
    double *work = s->twins->item[k].work, *room = s->twins->room[0];
    if (t < emb_integrator_time(s->in)) {
        emb_integrator_interpolate(s->in, t, work);
        emb_integrator_slope_interpolate(s->in, k, t, room);
        y = work;
        ds = room;
    }
    nudged(s->line.n_state, y, ds, s->twins->nudge, work);
}

int emb_twins_record(struct emb_sim *s, double t)
{
    for (size_t k = 0; s->twins != NULL && k < s->twins->n; k++) {
        struct emb_twin *w = &s->twins->item[k];
        if (w->nb->lost) {
            continue;
        }
        twin_at(s, k, t);
        if (emb_sim_look(&w->sim, t, w->work) != 0) {
            emb_twin_lose(w, "its state is out of range");
        } else if (emb_sim_record(&w->sim, t) != 0) {
            return -1;
        }
    }
    return 0;
}

void emb_twins_finish(struct emb_sim *s)
{
    const double *q = emb_sim_quads(s);
    for (size_t k = 0; s->twins != NULL && k < s->twins->n; k++) {
        struct emb_twin *w = &s->twins->item[k];
        if (w->nb->lost || emb_twin_look(s, k) != 0) {
            continue;
        }
        nudged(s->ode.n_quad, q, emb_integrator_slope_quads(s->in, k), s->twins->nudge, w->q);
        emb_sim_books(&w->sim);
        emb_sim_verdicts(&w->sim);
        w->nb->r.t_end = s->out->t_end;
        w->nb->r.complete = s->out->complete;
    }
}
