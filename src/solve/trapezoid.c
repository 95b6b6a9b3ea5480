/* trapezoid.c - the trapezoidal rule, y1 = y0 + h ((1 - w) f0 + w f1) with w a little above 1/2,
 * for inputs given as rows that run straight from one to the next.
 *
 * A step never passes a row, and remembers of what was before only the rates at its start. So a
 * bend costs nothing, where a formula that looks back takes it for curvature, and a straight input
 * is integrated exactly. The rates are asked for once or twice a step (an implicit Runge-Kutta
 * method asks twice or more): at the guess y0 + h f0; a solution with Newton's matrix turns guess
 * and rates into y1 and f1, and f1 is the next step's f0. The integrals go by the same rule with
 * the same correction, so the books of what is linear in the states close to rounding. With w = 1/2
 * a stiff state would swing for ever; w moves the inputs by (w - 1/2) h. */
#include "trapezoid_impl.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "emberpipe/carve.h"
#include "emberpipe/tolerance.h"

static const double damped = 0.52;   /* [-] w: judgement */
static const double slack = 1000.0;  /* [-] what a step may be off, in tolerances: judgement */
static const double coarsest = 3e-3; /* [-] relative; with more, cells catch fire that should not */
static const double sure = 0.2;      /* [-] of that: a correction below it is not made twice */
static const double hopeless = 0.9;  /* [-] shrinkage of a correction that is not worth a third */
static const double first = 0.1;     /* [s] step after a jump */
enum { CORRECTIONS = 4, TRIES = 40 };

static double size_of(const struct emb_trapezoid *z, const double *v)
{
    return emb_tolerance_size(z->is.ode->n, v, z->weight);
}

double emb_ode_slack(const struct emb_ode *o)
{
    return o->method == EMB_METHOD_TRAPEZOID ? fmin(slack, coarsest / o->rtol) : 1.0;
}

static void weigh(struct emb_trapezoid *z)
{
    const struct emb_ode *o = z->is.ode;
    emb_tolerance_weights(o->n, emb_ode_slack(o), o->rtol, o->atol, z->to.y, z->weight);
}

static int rates_at(struct emb_trapezoid *z, double t, const double *y, double *f)
{
    z->done.rhs++;
    return emb_integrator_rates(&z->is, t, y, f);
}

/* Newton's matrix for gamma; its derivatives may be old ones. */
static int make_matrix(struct emb_trapezoid *z, double t, double gamma)
{
    const struct emb_ode *o = z->is.ode;
    if (z->stale) {
        if (o->jacobian(t, z->guess, z->rates, o->user) != 0) {
            return 1;
        }
        z->done.jac++;
        z->stale = false;
        z->gamma = 0.0;
    }
    if (gamma != z->gamma && o->factor(gamma, o->user) != 0) {
        return 1;
    }
    z->gamma = gamma;
    return 0;
}

/* One correction of the guess, in z->b. */
static int correct_once(struct emb_trapezoid *z, double h, double w)
{
    const struct emb_ode *o = z->is.ode;
    const struct emb_end *a = &z->to;
    if (rates_at(z, a->t + h, z->guess, z->rates) != 0 || make_matrix(z, a->t + h, w * h) != 0) {
        return 1;
    }
    for (size_t i = 0; i < o->n; i++) {
        z->b[i] = a->y[i] - z->guess[i] + h * ((1.0 - w) * a->f[i] + w * z->rates[i]);
    }
    o->solve(z->b, o->user);
    for (size_t i = 0; i < o->n; i++) {
        z->guess[i] += z->b[i];
    }
    return 0;
}

/* From the guess to y1. A correction is not made again once what the next one would change, going
 * by how they shrink, is small. 0: done. */
static int correct(struct emb_trapezoid *z, double h, double w)
{
    double before = 0.0; /* [-] */
    for (int k = 0; k < CORRECTIONS; k++) {
        if (correct_once(z, h, w) != 0) {
            return 1;
        }
        const double size = size_of(z, z->b), shrinks = k > 0 ? size / before : 1.0; /* [-] */
        if (size * shrinks < sure) {
            return 0;
        }
        if (!(shrinks < hopeless || k == 0)) {
            return 1; /* not a number, too */
        }
        before = size;
    }
    return 1;
}

static double rate_at_end(const struct emb_trapezoid *z, size_t i, double h, double w)
{
    return ((z->guess[i] - z->to.y[i]) / h - (1.0 - w) * z->to.f[i]) / w;
}

/* By how much the step may be off: for what w moves, and for a curvature that shows as a change of
 * the rates. At a start f0 may be that of a stiff state, which is gone at once; the whole change is
 * taken instead. */
static double misjudged(struct emb_trapezoid *z, double h, double w)
{
    const double share = w - 0.5 + 1.0 / 12.0; /* [-] */
    for (size_t i = 0; i < z->is.ode->n; i++) {
        const double end = rate_at_end(z, i, h, w); /* [unit/s] */
        z->b[i] = h * (z->fresh ? 0.5 * end : share * (end - z->to.f[i]));
    }
    return size_of(z, z->b);
}

static void swap(double **a, double **b)
{
    double *keep = *a;
    *a = *b;
    *b = keep;
}

/* The step is good: what was its end is its start now. */
static int accept(struct emb_trapezoid *z, double t, double h, double w)
{
    const struct emb_ode *o = z->is.ode;
    struct emb_end *a = &z->from, *b = &z->to;
    for (size_t i = 0; i < o->n; i++) {
        z->rates[i] = rate_at_end(z, i, h, w);
    }
    memcpy(a->y, b->y, o->n * sizeof *a->y); /* copied: callers hold the place of the state */
    memcpy(b->y, z->guess, o->n * sizeof *b->y);
    swap(&a->f, &b->f);
    swap(&b->f, &z->rates);
    swap(&a->q, &b->q);
    swap(&a->qd, &b->qd);
    swap(&a->g, &b->g);
    a->t = b->t;
    b->t = z->is.t = t;
    z->fresh = false;
    z->done.steps++;
    if (o->n_quad > 0 && o->quad(t, b->y, b->qd, o->user) != 0) {
        return 1;
    }
    for (size_t i = 0; i < o->n_quad; i++) {
        b->q[i] = a->q[i] + h * ((1.0 - w) * a->qd[i] + w * b->qd[i]);
    }
    return 0;
}

static int begin(struct emb_trapezoid *z)
{
    const struct emb_ode *o = z->is.ode;
    struct emb_end *p = &z->to;
    z->next = first;
    if (rates_at(z, p->t, p->y, p->f) != 0 ||
        (o->n_quad > 0 && o->quad(p->t, p->y, p->qd, o->user) != 0)) {
        return 1;
    }
    return emb_crossing_begin(z);
}

/* One step of (t_stop - t)/parts; parts are made more until it is good. 0: done. */
static int try_steps(struct emb_trapezoid *z, double t_stop, double parts)
{
    const size_t n = z->is.ode->n;
    const double w = z->fresh ? 1.0 : damped, left = t_stop - z->to.t; /* [-], [s] */
    for (int k = 0; k < TRIES; k++) {
        const double h = left / parts; /* [s] */
        for (size_t i = 0; i < n; i++) {
            z->guess[i] = z->to.y[i] + (z->fresh ? 0.0 : h * z->to.f[i]);
        }
        if (correct(z, h, w) != 0) {
            z->done.newton_fails++;
            parts *= z->stale || k > 0 ? 4.0 : 1.0; /* at first only with fresh derivatives */
            z->stale = true;
            continue;
        }
        const double off = misjudged(z, h, w); /* [-] */
        if (off <= 1.0) {
            z->next = h * fmin(4.0, 0.9 / sqrt(fmax(off, 1e-6)));
            return accept(z, parts > 1.0 ? z->to.t + h : t_stop, h, w);
        }
        z->done.err_fails++;
        parts = ceil(parts * fmin(fmax(1.1 * sqrt(off), 2.0), 10.0));
    }
    return 1;
}

static enum emb_status trapezoid_step(struct emb_integrator *in, double t_stop, enum emb_stop *why,
                                      struct emb_err *err)
{
    struct emb_trapezoid *z = (struct emb_trapezoid *)in;
    const double left = t_stop - in->t; /* [s] */
    bool found = false;
    *why = EMB_STOP_TIME;
    if (!(left > 1e-12 * fabs(t_stop))) {
        return EMB_OK; /* a root lay on it */
    }
    if (z->fresh && begin(z) != 0) {
        return emb_fail(err, EMB_ERR_SOLVER, "", "no rates at t = %.6g s (state %d)", in->t,
                        in->state_bad);
    }
    weigh(z);
    if (try_steps(z, t_stop, fmax(1.0, ceil(left / z->next - 1e-6))) != 0 ||
        emb_crossing_find(z, &found) != 0) {
        return emb_fail(err, EMB_ERR_SOLVER, "",
                        "integration failed at t = %.6g s (state %d): steps too small", in->t,
                        in->state_bad);
    }
    *why = found ? EMB_STOP_ROOT : in->t == t_stop ? EMB_STOP_TIME : EMB_STOP_STEP;
    return EMB_OK;
}

static enum emb_status trapezoid_restart(struct emb_integrator *in, struct emb_err *err)
{
    struct emb_trapezoid *z = (struct emb_trapezoid *)in;
    (void)err;
    z->fresh = z->stale = true;
    z->done.restarts++;
    return EMB_OK;
}

static const double *trapezoid_quads(struct emb_integrator *in)
{
    return ((struct emb_trapezoid *)in)->to.q;
}

static void trapezoid_interpolate(struct emb_integrator *in, double t, double *y)
{
    emb_crossing_between((const struct emb_trapezoid *)in, t, y);
}

static struct emb_counters trapezoid_counters(const struct emb_integrator *in)
{
    return ((const struct emb_trapezoid *)in)->done;
}

static void trapezoid_free(struct emb_integrator *in)
{
    free(((struct emb_trapezoid *)in)->room);
    free(in->roots);
    free(in);
}

static void share_out(struct emb_trapezoid *z)
{
    const struct emb_ode *o = z->is.ode;
    struct emb_end *const end[2] = {&z->from, &z->to};
    double *next = z->room;
    for (int i = 0; i < 2; i++) {
        end[i]->y = emb_carve(&next, o->n);
        end[i]->f = emb_carve(&next, o->n);
        end[i]->q = emb_carve(&next, o->n_quad);
        end[i]->qd = emb_carve(&next, o->n_quad);
        end[i]->g = emb_carve(&next, o->n_root);
    }
    z->guess = emb_carve(&next, o->n);
    z->rates = emb_carve(&next, o->n);
    z->b = emb_carve(&next, o->n);
    z->weight = emb_carve(&next, o->n);
    z->low = emb_carve(&next, o->n_root);
    z->now = emb_carve(&next, o->n_root);
}

struct emb_integrator *emb_trapezoid_new(const struct emb_ode *ode, double t0, const double *y0)
{
    static const struct emb_way way = {trapezoid_step,        trapezoid_restart,  trapezoid_quads,
                                       trapezoid_interpolate, trapezoid_counters, trapezoid_free};
    struct emb_trapezoid *z = calloc(1, sizeof *z);
    if (z == NULL) {
        return NULL;
    }
    z->is = (struct emb_integrator){.way = &way, .ode = ode, .t = t0, .state_bad = -1};
    z->is.roots = calloc(ode->n_root + 1, sizeof *z->is.roots);
    z->room = calloc(8 * ode->n + 4 * ode->n_quad + 4 * ode->n_root, sizeof *z->room);
    if (z->is.roots == NULL || z->room == NULL) {
        trapezoid_free(&z->is);
        return NULL;
    }
    share_out(z);
    memcpy(z->to.y, y0, ode->n * sizeof *y0);
    z->is.y = z->to.y;
    z->to.t = t0;
    z->fresh = z->stale = true;
    if (ode->jacobian == NULL) {
        snprintf(z->is.say, sizeof z->is.say, "the trapezoid needs the model's own Newton matrix");
    }
    return &z->is;
}
