/* The only file that drives CVODE(S). Books are CVODES quadratures: they follow the same formula as
 * the states, so linear balances close to the Newton tolerance. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cvodes/cvodes.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

#include "integrator_impl.h"
#include "linear.h"
#include "vector.h"

/* [-] of the tolerance, what Newton may leave of a state. The books of the elements do not depend on
 * it; that of energy, whose capacities change with temperature, closes to 1e-6 with this. */
static const double newton_share = 0.01;

static int call_rhs(realtype t, N_Vector y, N_Vector yd, void *user)
{
    struct emb_integrator *in = user;
    double *d = N_VGetArrayPointer(yd);
    const int rc = in->ode->rhs(t, N_VGetArrayPointer(y), d, in->ode->user);
    if (rc != 0) {
        return rc;
    }
    for (size_t i = 0; i < in->ode->n; i++) {
        if (!isfinite(d[i])) {
            in->state_bad = (int)i;
            return 1; /* a smaller step may avoid it */
        }
    }
    return 0;
}

/* CVODES asks for I - gamma J; the model keeps J between calls. */
static int call_system(realtype t, N_Vector y, N_Vector fy, SUNMatrix M, booleantype keep,
                       booleantype *fresh, realtype gamma, void *user, N_Vector a, N_Vector b,
                       N_Vector c)
{
    struct emb_integrator *in = user;
    const struct emb_ode *o = in->ode;
    (void)M;
    (void)a;
    (void)b;
    (void)c;
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
    struct emb_integrator *in = user;
    return in->ode->quad(t, N_VGetArrayPointer(y), N_VGetArrayPointer(qd), in->ode->user);
}

static int call_roots(realtype t, N_Vector y, realtype *g, void *user)
{
    struct emb_integrator *in = user;
    return in->ode->roots(t, N_VGetArrayPointer(y), g, in->ode->user);
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

void emb_integrator_free(struct emb_integrator *in)
{
    if (in == NULL) {
        return;
    }
    if (in->cv != NULL) {
        CVodeFree(&in->cv);
    }
    emb_slopes_free(in);
    if (in->ls != NULL) {
        SUNLinSolFree(in->ls);
    }
    if (in->A != NULL) {
        SUNMatDestroy(in->A);
    }
    N_Vector v[3] = {in->y, in->atol, in->q};
    for (int i = 0; i < 3; i++) {
        if (v[i] != NULL) {
            N_VDestroy(v[i]);
        }
    }
    if (in->ctx != NULL) {
        SUNContext_Free(&in->ctx);
    }
    free(in->roots);
    free(in->q_base);
    free(in->q_now);
    free(in);
}

static int make_parts(struct emb_integrator *in, const double *y0)
{
    const struct emb_ode *o = in->ode;
#if SUNDIALS_VERSION_MAJOR >= 7
    SUNContext_Create(SUN_COMM_NULL, &in->ctx);
#else
    SUNContext_Create(NULL, &in->ctx);
#endif
    if (in->ctx == NULL) {
        return -1;
    }
    in->y = emb_vector_new((sunindextype)o->n, in->ctx);
    in->atol = emb_vector_new((sunindextype)o->n, in->ctx);
    in->q = emb_vector_new((sunindextype)(o->n_quad > 0 ? o->n_quad : 1), in->ctx);
    const sunindextype n = (sunindextype)o->n;
    in->A = o->jacobian != NULL ? emb_matrix_token(in->ctx) : SUNDenseMatrix(n, n, in->ctx);
    if (in->A != NULL && in->y != NULL) {
        in->ls = o->jacobian != NULL ? emb_linear_new(o, in->ctx)
                                     : SUNLinSol_Dense(in->y, in->A, in->ctx);
    }
    in->cv = CVodeCreate(CV_BDF, in->ctx);
    in->roots = calloc(o->n_root + 1, sizeof *in->roots);
    in->q_base = calloc(o->n_quad + 1, sizeof *in->q_base);
    in->q_now = calloc(o->n_quad + 1, sizeof *in->q_now);
    if (!in->y || !in->atol || !in->q || !in->A || !in->ls || !in->cv || !in->roots ||
        !in->q_base || !in->q_now) {
        return -1;
    }
    memcpy(N_VGetArrayPointer(in->y), y0, o->n * sizeof *y0);
    memcpy(N_VGetArrayPointer(in->atol), o->atol, o->n * sizeof *y0);
    N_VConst(0.0, in->q);
    return 0;
}

static int connect_parts(struct emb_integrator *in)
{
    const struct emb_ode *o = in->ode;
    int bad = CVodeInit(in->cv, call_rhs, in->t, in->y);
    bad |= CVodeSetUserData(in->cv, in);
    bad |= CVodeSetErrHandlerFn(in->cv, keep_words, in);
    bad |= CVodeSVtolerances(in->cv, o->rtol, in->atol);
    bad |= CVodeSetLinearSolver(in->cv, in->ls, in->A);
    if (o->jacobian != NULL) {
        bad |= CVodeSetLinSysFn(in->cv, call_system);
        /* every solution is Newton's own, for the step it is in: the books rest on that */
        bad |= CVodeSetLinearSolutionScaling(in->cv, SUNFALSE);
        bad |= CVodeSetDeltaGammaMaxLSetup(in->cv, 0.0);
    }
    bad |= CVodeSetMaxNumSteps(in->cv, -1);
    bad |= CVodeSetNonlinConvCoef(in->cv, newton_share);
    bad |= CVodeSetMaxErrTestFails(in->cv, 20);
    bad |= CVodeSetMaxConvFails(in->cv, 30);
    if (o->n_quad > 0) {
        bad |= CVodeQuadInit(in->cv, call_quad, in->q);
        /* Without error control CVODES 6 forgets to carry an integral's part when the order goes up,
         * and the books open; with tolerances that nothing exceeds, it carries and never limits. */
        bad |= CVodeSetQuadErrCon(in->cv, SUNTRUE);
        bad |= CVodeQuadSStolerances(in->cv, 0.0, 1e30);
    }
    if (o->n_root > 0) {
        bad |= CVodeRootInit(in->cv, (int)o->n_root, call_roots);
        bad |= CVodeSetNoInactiveRootWarn(in->cv);
    }
    return bad | emb_slopes_connect(in);
}

enum emb_status emb_integrator_new(const struct emb_ode *ode, double t0, const double *y0,
                                   struct emb_integrator **out, struct emb_err *err)
{
    struct emb_integrator *in = calloc(1, sizeof *in);
    *out = NULL;
    if (in == NULL) {
        return emb_fail(err, EMB_ERR_NOMEM, "solver", "out of memory");
    }
    in->ode = ode;
    in->t = t0;
    in->state_bad = -1;
    if (make_parts(in, y0) != 0) {
        emb_integrator_free(in);
        return emb_fail(err, EMB_ERR_NOMEM, "solver", "out of memory for %zu states", ode->n);
    }
    if (connect_parts(in) != 0) {
        enum emb_status s =
            emb_fail(err, EMB_ERR_BUG, "solver", "cannot start the integrator: %s", in->say);
        emb_integrator_free(in);
        return s;
    }
    *out = in;
    return EMB_OK;
}

static struct emb_counters since_restart(const struct emb_integrator *in)
{
    long steps = 0, rhs = 0, jac = 0, ef = 0, nf = 0, g = 0;
    CVodeGetNumSteps(in->cv, &steps);
    CVodeGetNumRhsEvals(in->cv, &rhs);
    CVodeGetNumJacEvals(in->cv, &jac);
    CVodeGetNumErrTestFails(in->cv, &ef);
    CVodeGetNumNonlinSolvConvFails(in->cv, &nf);
    CVodeGetNumGEvals(in->cv, &g);
    return (struct emb_counters){steps, rhs, jac, 0, ef, nf, g};
}

struct emb_counters emb_integrator_counters(const struct emb_integrator *in)
{
    const struct emb_counters a = in->base, b = since_restart(in);
    return (struct emb_counters){a.steps + b.steps,
                                 a.rhs + b.rhs,
                                 a.jac + b.jac,
                                 a.restarts,
                                 a.err_fails + b.err_fails,
                                 a.newton_fails + b.newton_fails,
                                 a.roots + b.roots};
}

enum emb_status emb_integrator_restart(struct emb_integrator *in, struct emb_err *err)
{
    in->base = emb_integrator_counters(in); /* ReInit zeroes the library's counters */
    in->base.restarts++;
    int bad = CVodeReInit(in->cv, in->t, in->y);
    if (in->ode->n_quad > 0) {
        memcpy(in->q_base, emb_integrator_quads(in), in->ode->n_quad * sizeof *in->q_base);
        N_VConst(0.0, in->q);
        bad |= CVodeQuadReInit(in->cv, in->q);
    }
    bad |= emb_slopes_restart(in);
    return bad == 0 ? EMB_OK : emb_fail(err, EMB_ERR_BUG, "solver", "cannot restart: %s", in->say);
}

enum emb_status emb_integrator_step(struct emb_integrator *in, double t_stop, enum emb_stop *why,
                                    struct emb_err *err)
{
    double t = in->t;
    CVodeSetStopTime(in->cv, t_stop);
    int rc = CVode(in->cv, t_stop, in->y, &t, CV_ONE_STEP);
    if (rc == CV_ILL_INPUT && in->ode->n_root > 0) {
        /* "root very near": a value rests on its threshold; a fresh start sets that root aside
         * until it moves */
        if (emb_integrator_restart(in, err) != EMB_OK) {
            return EMB_ERR_BUG;
        }
        rc = CVode(in->cv, t_stop, in->y, &t, CV_ONE_STEP);
    }
    in->t = t;
    if (rc < 0) {
        return emb_fail(err, EMB_ERR_SOLVER, "", "integration failed at t = %.6g s (state %d): %s",
                        t, in->state_bad, in->say);
    }
    if (in->ode->n_quad > 0) {
        double tq;
        CVodeGetQuad(in->cv, &tq, in->q);
    }
    emb_slopes_fetch(in);
    if (rc == CV_ROOT_RETURN) {
        CVodeGetRootInfo(in->cv, in->roots);
        *why = EMB_STOP_ROOT;
    } else {
        *why = (rc == CV_TSTOP_RETURN || t >= t_stop) ? EMB_STOP_TIME : EMB_STOP_STEP;
    }
    return EMB_OK;
}

double emb_integrator_time(const struct emb_integrator *in)
{
    return in->t;
}
double *emb_integrator_state(struct emb_integrator *in)
{
    return N_VGetArrayPointer(in->y);
}
const int *emb_integrator_roots_found(struct emb_integrator *in)
{
    return in->roots;
}

const double *emb_integrator_quads(struct emb_integrator *in)
{
    const double *q = N_VGetArrayPointer(in->q);
    for (size_t i = 0; i < in->ode->n_quad; i++) {
        in->q_now[i] = in->q_base[i] + q[i];
    }
    return in->q_now;
}

void emb_integrator_interpolate(struct emb_integrator *in, double t, double *y)
{
    N_Vector v = N_VMake_Serial((sunindextype)in->ode->n, y, in->ctx);
    if (v == NULL || CVodeGetDky(in->cv, t, 0, v) != CV_SUCCESS) {
        memcpy(y, N_VGetArrayPointer(in->y), in->ode->n * sizeof *y);
    }
    if (v != NULL) {
        N_VDestroy(v);
    }
}
