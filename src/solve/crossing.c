/* crossing.c - where in a step of the trapezoid a root is crossed: on the cubic through the values
 * and rates at both ends. Integrals follow the same cubic as the states, so the books stay closed
 * where a step is cut. */
#include <math.h>
#include <string.h>

#include "trapezoid_impl.h"

static const double near_enough = 1e-5; /* [s] */

/* Shares of y0, y1, h f0, h f1 in the cubic (or, of its slope times h) at s of the step. */
static void shares(double s, double value[4], double slope[4])
{
    const double s2 = s * s, s3 = s2 * s;
    value[0] = 1.0 - 3.0 * s2 + 2.0 * s3;
    value[1] = 3.0 * s2 - 2.0 * s3;
    value[2] = s - 2.0 * s2 + s3;
    value[3] = s3 - s2;
    slope[0] = 6.0 * (s2 - s);
    slope[1] = -slope[0];
    slope[2] = 1.0 - 4.0 * s + 3.0 * s2;
    slope[3] = 3.0 * s2 - 2.0 * s;
}

void emb_crossing_between(const struct emb_trapezoid *z, double t, double *y)
{
    const struct emb_end *a = &z->from, *b = &z->to;
    const double h = b->t - a->t; /* [s] */
    double value[4], slope[4];
    shares(h > 0.0 ? (t - a->t) / h : 1.0, value, slope);
    for (size_t i = 0; i < z->is.ode->n; i++) {
        y[i] = value[0] * a->y[i] + value[1] * b->y[i] +
               h * (value[2] * a->f[i] + value[3] * b->f[i]);
    }
}

/* Values y1 and their rates f1 at a step's end become those at s of the step. */
static void cut_back(double s, double h, size_t n, const double *y0, const double *f0, double *y1,
                     double *f1)
{
    double value[4], slope[4];
    shares(s, value, slope);
    for (size_t i = 0; i < n; i++) {
        const double y = y1[i], f = f1[i];
        y1[i] = value[0] * y0[i] + value[1] * y + h * (value[2] * f0[i] + value[3] * f);
        f1[i] = (slope[0] * y0[i] + slope[1] * y) / h + slope[2] * f0[i] + slope[3] * f;
    }
}

/* Makes t the end of the last step. */
static void cut(struct emb_trapezoid *z, double t)
{
    const struct emb_ode *o = z->is.ode;
    struct emb_end *a = &z->from, *b = &z->to;
    const double h = b->t - a->t, s = (t - a->t) / h; /* [s], [-] */
    cut_back(s, h, o->n, a->y, a->f, b->y, b->f);
    cut_back(s, h, o->n_quad, a->q, a->qd, b->q, b->qd);
    b->t = z->is.t = t;
}

static bool crossed(double before, double now)
{
    return before * now < 0.0 || (now == 0.0 && before != 0.0);
}

/* Share of the way from a to b where the first root lies, on straight lines; > 1: none does. */
static double first_root(const double *a, const double *b, size_t n)
{
    double first = 2.0; /* [-] */
    for (size_t i = 0; i < n; i++) {
        if (crossed(a[i], b[i])) {
            first = fmin(first, a[i] / (a[i] - b[i]));
        }
    }
    return first;
}

int emb_crossing_begin(struct emb_trapezoid *z)
{
    const struct emb_ode *o = z->is.ode;
    return o->n_root > 0 ? o->roots(z->to.t, z->to.y, z->to.g, o->user) : 0;
}

/* Closes in from both sides; z->low and z->now are the roots' values at the left end and in
 * between. Every third time the middle is taken, so that no end is left standing. */
static int close_in(struct emb_trapezoid *z, double *right)
{
    const struct emb_ode *o = z->is.ode;
    double left = z->from.t, *low = z->low, *now = z->now; /* [s] */
    memcpy(low, z->from.g, o->n_root * sizeof *low);
    for (int k = 1; *right - left > near_enough; k++) {
        const double share = k % 3 == 0 ? 0.5 : first_root(low, z->to.g, o->n_root);
        const double edge = 0.1 * near_enough; /* [s] */
        const double t =
            fmin(fmax(left + share * (*right - left) + edge, left + edge), *right - edge);
        emb_crossing_between(z, t, z->guess);
        z->done.roots++;
        if (o->roots(t, z->guess, now, o->user) != 0) {
            return 1;
        }
        const bool before = first_root(low, now, o->n_root) <= 1.0;
        memcpy(before ? z->to.g : low, now, o->n_root * sizeof *now);
        *(before ? right : &left) = t;
    }
    return 0;
}

int emb_crossing_find(struct emb_trapezoid *z, bool *found)
{
    const struct emb_ode *o = z->is.ode;
    *found = false;
    if (o->n_root == 0) {
        return 0;
    }
    z->done.roots++;
    if (o->roots(z->to.t, z->to.y, z->to.g, o->user) != 0) {
        return 1;
    }
    if (first_root(z->from.g, z->to.g, o->n_root) > 1.0) {
        return 0;
    }
    double right = z->to.t; /* [s] */
    if (close_in(z, &right) != 0) {
        return 1;
    }
    for (size_t i = 0; i < o->n_root; i++) {
        const bool here = crossed(z->from.g[i], z->to.g[i]);
        z->is.roots[i] = !here ? 0 : z->from.g[i] < 0.0 ? 1 : -1;
    }
    if (right < z->to.t) {
        cut(z, right);
    }
    *found = true;
    return 0;
}
