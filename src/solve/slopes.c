/* slopes.c - forward sensitivities by CVODES, staggered: after each step of the states one linear
 * system for each parameter, with the same Newton matrix. They take part in the error control, so
 * the steps are other ones than without them. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <nvector/nvector_serial.h>

#include "bdf_impl.h"

static const double rtol = 1e-4; /* [-] judgement: a slope is wanted to three digits */

struct emb_slopes {
    size_t n;
    N_Vector *s, *q, *atol;
    double *q_base, *q_now; /* n x n_quad: up to the last restart; altogether */
};

static struct emb_slopes *slopes_of(struct emb_integrator *in)
{
    return ((struct emb_bdf *)in)->slopes;
}

static int call_slope(int n, realtype t, N_Vector y, N_Vector yd, int k, N_Vector s, N_Vector sd,
                      void *user, N_Vector w1, N_Vector w2)
{
    const struct emb_ode *o = ((struct emb_integrator *)user)->ode;
    double *d = N_VGetArrayPointer(sd);
    (void)n;
    (void)w1;
    (void)w2;
    const int rc = o->slope_rhs((size_t)k, t, N_VGetArrayPointer(y), N_VGetArrayPointer(yd),
                                N_VGetArrayPointer(s), d, o->user);
    for (size_t i = 0; rc == 0 && i < o->n; i++) {
        if (!isfinite(d[i])) {
            return 1;
        }
    }
    return rc;
}

static int call_quad(int n, realtype t, N_Vector y, N_Vector *s, N_Vector qd, N_Vector *sqd,
                     void *user, N_Vector w1, N_Vector w2)
{
    const struct emb_ode *o = ((struct emb_integrator *)user)->ode;
    int rc = 0;
    (void)qd;
    (void)w1;
    (void)w2;
    for (int k = 0; rc == 0 && k < n; k++) {
        rc = o->slope_quad((size_t)k, t, N_VGetArrayPointer(y), N_VGetArrayPointer(s[k]),
                           N_VGetArrayPointer(sqd[k]), o->user);
    }
    return rc;
}

static struct emb_slopes *slopes_new(const struct emb_bdf *b)
{
    const struct emb_ode *o = b->is.ode;
    const int n = (int)o->n_slope;
    struct emb_slopes *l = calloc(1, sizeof *l);
    if (l == NULL) {
        return NULL;
    }
    l->n = o->n_slope;
    l->s = N_VCloneVectorArray(n, b->y);
    l->atol = N_VCloneVectorArray(n, b->y);
    l->q = N_VCloneVectorArray(n, b->q);
    l->q_base = calloc(l->n * o->n_quad + 1, sizeof *l->q_base);
    l->q_now = calloc(l->n * o->n_quad + 1, sizeof *l->q_now);
    return l;
}

int emb_slopes_connect(struct emb_bdf *b)
{
    const struct emb_ode *o = b->is.ode;
    double none[64];
    if (o->n_slope == 0) {
        return 0;
    }
    struct emb_slopes *l = b->slopes = slopes_new(b);
    if (l == NULL || l->s == NULL || l->atol == NULL || l->q == NULL || l->q_base == NULL ||
        l->q_now == NULL || l->n > sizeof none / sizeof *none) {
        return -1;
    }
    for (size_t k = 0; k < l->n; k++) {
        memcpy(N_VGetArrayPointer(l->s[k]), o->slope0 + k * o->n, o->n * sizeof *o->slope0);
        N_VScale(1.0, b->atol, l->atol[k]);
        N_VConst(0.0, l->q[k]);
        none[k] = 1e30;
    }
    int bad = CVodeSensInit1(b->cv, (int)l->n, CV_STAGGERED1, call_slope, l->s);
    bad |= CVodeSensSVtolerances(b->cv, rtol, l->atol);
    bad |= CVodeSetSensErrCon(b->cv, SUNTRUE);
    if (o->n_quad > 0) {
        bad |= CVodeQuadSensInit(b->cv, call_quad, l->q);
        /* as with the integrals themselves: carried when the order goes up, never limiting */
        bad |= CVodeSetQuadSensErrCon(b->cv, SUNTRUE);
        bad |= CVodeQuadSensSStolerances(b->cv, 0.0, none);
    }
    return bad;
}

int emb_slopes_fetch(struct emb_bdf *b)
{
    struct emb_slopes *l = b->slopes;
    double t;
    if (l == NULL) {
        return 0;
    }
    const int bad = CVodeGetSens(b->cv, &t, l->s);
    return b->is.ode->n_quad > 0 ? bad | CVodeGetQuadSens(b->cv, &t, l->q) : bad;
}

int emb_slopes_restart(struct emb_bdf *b)
{
    struct emb_slopes *l = b->slopes;
    if (l == NULL) {
        return 0;
    }
    int bad = CVodeSensReInit(b->cv, CV_STAGGERED1, l->s);
    const size_t n = b->is.ode->n_quad;
    for (size_t k = 0; n > 0 && k < l->n; k++) {
        memcpy(l->q_base + k * n, emb_integrator_slope_quads(&b->is, k), n * sizeof *l->q_base);
        N_VConst(0.0, l->q[k]);
    }
    return n > 0 ? bad | CVodeQuadSensReInit(b->cv, l->q) : bad;
}

double *emb_integrator_slope(struct emb_integrator *in, size_t k)
{
    return N_VGetArrayPointer(slopes_of(in)->s[k]);
}

double *emb_integrator_slope_quads(struct emb_integrator *in, size_t k)
{
    struct emb_slopes *l = slopes_of(in);
    const size_t n = in->ode->n_quad;
    const double *q = N_VGetArrayPointer(l->q[k]);
    for (size_t i = 0; i < n; i++) {
        l->q_now[k * n + i] = l->q_base[k * n + i] + q[i];
    }
    return l->q_now + k * n;
}

void emb_integrator_slope_add(struct emb_integrator *in, size_t k, const double *ds,
                              const double *dq)
{
    struct emb_slopes *l = slopes_of(in);
    double *s = N_VGetArrayPointer(l->s[k]);
    for (size_t i = 0; i < in->ode->n; i++) {
        s[i] += ds[i];
    }
    for (size_t i = 0; i < in->ode->n_quad; i++) {
        l->q_base[k * in->ode->n_quad + i] += dq[i];
    }
}

void emb_integrator_slope_interpolate(struct emb_integrator *in, size_t k, double t, double *s)
{
    struct emb_bdf *b = (struct emb_bdf *)in;
    N_Vector v = N_VMake_Serial((sunindextype)in->ode->n, s, b->ctx);
    if (v == NULL || CVodeGetSensDky1(b->cv, t, 0, (int)k, v) != CV_SUCCESS) {
        memcpy(s, emb_integrator_slope(in, k), in->ode->n * sizeof *s);
    }
    if (v != NULL) {
        N_VDestroy(v);
    }
}

void emb_slopes_free(struct emb_bdf *b)
{
    struct emb_slopes *l = b->slopes;
    if (l == NULL) {
        return;
    }
    N_Vector *v[3] = {l->s, l->q, l->atol};
    for (int i = 0; i < 3; i++) {
        if (v[i] != NULL) {
            N_VDestroyVectorArray(v[i], (int)l->n);
        }
    }
    free(l->q_base);
    free(l->q_now);
    free(l);
    b->slopes = NULL;
}
