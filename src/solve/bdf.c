/* bdf.c - CVODES' BDF, of variable order and step; the only file that drives CVODES, with slopes.c.
 * Books are CVODES quadratures: they follow the same formula as the states, so linear balances
 * close to the Newton tolerance. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cvodes/cvodes.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

#include "bdf_impl.h"
#include "linear.h"
#include "vector.h"

/* [-] of the tolerance, what Newton may leave of a state. The books of the elements do not depend
 * on it; that of energy, whose capacities change with temperature, closes to 1e-6 with the
 * smaller one. Coarse runs, whose books are not that good anyway, are a tenth cheaper with the
 * larger. */
static double newton_share(double rtol)
{
    return rtol > 1e-5 ? 0.1 : 0.01;
}

static const double standing = 1e-14; /* [-] of the time; a step that is not longer leads nowhere */
enum { PATIENCE = 100 };              /* such steps in a row */

static int call_rhs(realtype t, N_Vector y, N_Vector yd, void *user)
{
    return emb_integrator_rates(user, t, N_VGetArrayPointer(y), N_VGetArrayPointer(yd));
}

/* CVODES asks for I - gamma J; the model keeps J between calls. */
static int call_system(realtype t, N_Vector y, N_Vector fy, SUNMatrix M, booleantype keep,
                       booleantype *fresh, realtype gamma, void *user, N_Vector w1, N_Vector w2,
                       N_Vector w3)
{
    const struct emb_ode *o = ((struct emb_integrator *)user)->ode;
    (void)M;
    (void)w1;
    (void)w2;
    (void)w3;
    *fresh = !keep;
    if (!keep) {
        const int rc = o->jacobian(t, N_VGetArrayPointer(y), N_VGetArrayPointer(fy), o->user);
        if (rc != 0) {
            return rc;
        }
    }
    return o->factor(gamma, o->user) == 0 ? 0 : 1;
}

static int call_quad(realtype t, N_Vector y, N_Vector qd, void *user)
{
    const struct emb_ode *o = ((struct emb_integrator *)user)->ode;
    return o->quad(t, N_VGetArrayPointer(y), N_VGetArrayPointer(qd), o->user);
}

static int call_roots(realtype t, N_Vector y, realtype *g, void *user)
{
    const struct emb_ode *o = ((struct emb_integrator *)user)->ode;
    return o->roots(t, N_VGetArrayPointer(y), g, o->user);
}

static void keep_words(int code, const char *module, const char *function, char *msg, void *user)
{
    struct emb_integrator *in = user;
    (void)module;
    (void)function;
    if (code < 0) {
        snprintf(in->say, sizeof in->say, "%s", msg);
    }
}

static void bdf_free(struct emb_integrator *in)
{
    struct emb_bdf *b = (struct emb_bdf *)in;
    if (b->cv != NULL) {
        CVodeFree(&b->cv);
    }
    emb_slopes_free(b);
    if (b->ls != NULL) {
        SUNLinSolFree(b->ls);
    }
    if (b->A != NULL) {
        SUNMatDestroy(b->A);
    }
    N_Vector v[3] = {b->y, b->atol, b->q};
    for (int i = 0; i < 3; i++) {
        if (v[i] != NULL) {
            N_VDestroy(v[i]);
        }
    }
    if (b->ctx != NULL) {
        SUNContext_Free(&b->ctx);
    }
    free(b->is.roots);
    free(b->q_base);
    free(b->q_now);
    free(b);
}

static int make_parts(struct emb_bdf *b, const double *y0)
{
    const struct emb_ode *o = b->is.ode;
#if SUNDIALS_VERSION_MAJOR >= 7
    SUNContext_Create(SUN_COMM_NULL, &b->ctx);
#else
    SUNContext_Create(NULL, &b->ctx);
#endif
    if (b->ctx == NULL) {
        return -1;
    }
    b->y = emb_vector_new((sunindextype)o->n, b->ctx);
    b->atol = emb_vector_new((sunindextype)o->n, b->ctx);
    b->q = emb_vector_new((sunindextype)(o->n_quad > 0 ? o->n_quad : 1), b->ctx);
    const sunindextype n = (sunindextype)o->n;
    b->A = o->jacobian != NULL ? emb_matrix_token(b->ctx) : SUNDenseMatrix(n, n, b->ctx);
    if (b->A != NULL && b->y != NULL) {
        b->ls =
            o->jacobian != NULL ? emb_linear_new(o, b->ctx) : SUNLinSol_Dense(b->y, b->A, b->ctx);
    }
    b->cv = CVodeCreate(CV_BDF, b->ctx);
    b->is.roots = calloc(o->n_root + 1, sizeof *b->is.roots);
    b->q_base = calloc(o->n_quad + 1, sizeof *b->q_base);
    b->q_now = calloc(o->n_quad + 1, sizeof *b->q_now);
    if (!b->y || !b->atol || !b->q || !b->A || !b->ls || !b->cv || !b->is.roots || !b->q_base ||
        !b->q_now) {
        return -1;
    }
    b->is.y = N_VGetArrayPointer(b->y);
    memcpy(b->is.y, y0, o->n * sizeof *y0);
    memcpy(N_VGetArrayPointer(b->atol), o->atol, o->n * sizeof *y0);
    N_VConst(0.0, b->q);
    return 0;
}

static int connect_parts(struct emb_bdf *b)
{
    const struct emb_ode *o = b->is.ode;
    int bad = CVodeInit(b->cv, call_rhs, b->is.t, b->y);
    bad |= CVodeSetUserData(b->cv, b);
    bad |= CVodeSetErrHandlerFn(b->cv, keep_words, b);
    bad |= CVodeSVtolerances(b->cv, o->rtol, b->atol);
    bad |= CVodeSetLinearSolver(b->cv, b->ls, b->A);
    if (o->jacobian != NULL) {
        bad |= CVodeSetLinSysFn(b->cv, call_system);
        /* every solution is Newton's own, for the step it is in: the books rest on that */
        bad |= CVodeSetLinearSolutionScaling(b->cv, SUNFALSE);
        bad |= CVodeSetDeltaGammaMaxLSetup(b->cv, 0.0);
        /* derivatives cost as much as some twelve marches: renewed when Newton fails, seldom for
         * age; saves 3 % of the work over demos in six weathers */
        bad |= CVodeSetJacEvalFrequency(b->cv, 200);
    }
    bad |= CVodeSetMaxNumSteps(b->cv, -1);
    bad |= CVodeSetNonlinConvCoef(b->cv, newton_share(o->rtol));
    bad |= CVodeSetMaxErrTestFails(b->cv, 20);
    bad |= CVodeSetMaxConvFails(b->cv, 30);
    if (o->n_quad > 0) {
        bad |= CVodeQuadInit(b->cv, call_quad, b->q);
        /* Without error control CVODES 6 forgets to carry an integral's part when the order goes
         * up, and the books open; with tolerances that nothing exceeds, it carries and never
         * limits. */
        bad |= CVodeSetQuadErrCon(b->cv, SUNTRUE);
        bad |= CVodeQuadSStolerances(b->cv, 0.0, 1e30);
    }
    if (o->n_root > 0) {
        bad |= CVodeRootInit(b->cv, (int)o->n_root, call_roots);
        bad |= CVodeSetNoInactiveRootWarn(b->cv);
    }
    return bad | emb_slopes_connect(b);
}

static struct emb_counters since_restart(const struct emb_bdf *b)
{
    long steps = 0, rhs = 0, jac = 0, ef = 0, nf = 0, g = 0;
    CVodeGetNumSteps(b->cv, &steps);
    CVodeGetNumRhsEvals(b->cv, &rhs);
    CVodeGetNumJacEvals(b->cv, &jac);
    CVodeGetNumErrTestFails(b->cv, &ef);
    CVodeGetNumNonlinSolvConvFails(b->cv, &nf);
    CVodeGetNumGEvals(b->cv, &g);
    return (struct emb_counters){steps, rhs, jac, 0, ef, nf, g};
}

static struct emb_counters bdf_counters(const struct emb_integrator *in)
{
    const struct emb_bdf *b = (const struct emb_bdf *)in;
    const struct emb_counters a = b->base, c = since_restart(b);
    return (struct emb_counters){a.steps + c.steps,
                                 a.rhs + c.rhs,
                                 a.jac + c.jac,
                                 a.restarts,
                                 a.err_fails + c.err_fails,
                                 a.newton_fails + c.newton_fails,
                                 a.roots + c.roots};
}

static const double *bdf_quads(struct emb_integrator *in)
{
    struct emb_bdf *b = (struct emb_bdf *)in;
    const double *q = N_VGetArrayPointer(b->q);
    for (size_t i = 0; i < in->ode->n_quad; i++) {
        b->q_now[i] = b->q_base[i] + q[i];
    }
    return b->q_now;
}

static enum emb_status bdf_restart(struct emb_integrator *in, struct emb_err *err)
{
    struct emb_bdf *b = (struct emb_bdf *)in;
    b->base = bdf_counters(in); /* ReInit zeroes the library's counters */
    b->base.restarts++;
    int bad = CVodeReInit(b->cv, in->t, b->y);
    if (in->ode->n_quad > 0) {
        memcpy(b->q_base, bdf_quads(in), in->ode->n_quad * sizeof *b->q_base);
        N_VConst(0.0, b->q);
        bad |= CVodeQuadReInit(b->cv, b->q);
    }
    bad |= emb_slopes_restart(b);
    return bad == 0 ? EMB_OK : emb_fail(err, EMB_ERR_BUG, "solver", "cannot restart: %s", in->say);
}

static enum emb_status bdf_step(struct emb_integrator *in, double t_stop, enum emb_stop *why,
                                struct emb_err *err)
{
    struct emb_bdf *b = (struct emb_bdf *)in;
    double t = in->t;
    const double before = t; /* [s] */
    CVodeSetStopTime(b->cv, t_stop);
    int rc = CVode(b->cv, t_stop, b->y, &t, CV_ONE_STEP);
    if (rc == CV_ILL_INPUT && in->ode->n_root > 0) {
        /* "root very near": a value rests on its threshold; a fresh start sets that root aside
         * until it moves */
        if (bdf_restart(in, err) != EMB_OK) {
            return EMB_ERR_BUG;
        }
        rc = CVode(b->cv, t_stop, b->y, &t, CV_ONE_STEP);
    }
    in->t = t;
    b->idle = t - before > standing * fabs(t) ? 0 : b->idle + 1;
    if (b->idle > PATIENCE) { /* CVODES would go on for ever */
        return emb_fail(err, EMB_ERR_SOLVER, "", "integration stands still at t = %.6g s", t);
    }
    if (rc < 0) {
        return emb_fail(err, EMB_ERR_SOLVER, "", "integration failed at t = %.6g s (state %d): %s",
                        t, in->state_bad, in->say);
    }
    if (in->ode->n_quad > 0) {
        double tq;
        CVodeGetQuad(b->cv, &tq, b->q);
    }
    emb_slopes_fetch(b);
    if (rc == CV_ROOT_RETURN) {
        CVodeGetRootInfo(b->cv, in->roots);
        *why = EMB_STOP_ROOT;
    } else {
        *why = (rc == CV_TSTOP_RETURN || t >= t_stop) ? EMB_STOP_TIME : EMB_STOP_STEP;
    }
    return EMB_OK;
}

static void bdf_interpolate(struct emb_integrator *in, double t, double *y)
{
    struct emb_bdf *b = (struct emb_bdf *)in;
    N_Vector v = N_VMake_Serial((sunindextype)in->ode->n, y, b->ctx);
    if (v == NULL || CVodeGetDky(b->cv, t, 0, v) != CV_SUCCESS) {
        memcpy(y, in->y, in->ode->n * sizeof *y);
    }
    if (v != NULL) {
        N_VDestroy(v);
    }
}

struct emb_integrator *emb_bdf_new(const struct emb_ode *ode, double t0, const double *y0)
{
    static const struct emb_way way = {bdf_step,        bdf_restart,  bdf_quads,
                                       bdf_interpolate, bdf_counters, bdf_free};
    struct emb_bdf *b = calloc(1, sizeof *b);
    if (b == NULL) {
        return NULL;
    }
    b->is = (struct emb_integrator){.way = &way, .ode = ode, .t = t0, .state_bad = -1};
    if (make_parts(b, y0) != 0) {
        bdf_free(&b->is);
        return NULL;
    }
    if (connect_parts(b) != 0 && b->is.say[0] == '\0') {
        snprintf(b->is.say, sizeof b->is.say, "CVODES refuses its settings");
    }
    return &b->is;
}
