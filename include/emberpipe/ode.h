/* ode.h - the narrow waist between the model and the integrator: neither knows the other. */
#ifndef EMB_ODE_H
#define EMB_ODE_H
#include <stddef.h>
#include "emberpipe/status.h"

/* How to integrate. CVODES' BDF, of variable order: for inputs that run smoothly between jumps. The
 * trapezoid: of second order, for inputs given as rows, straight from one to the next; it remembers
 * nothing across a bend and asks for the rates once or twice a row (trapezoid.c); no sensitivities.
 * Auto: whoever fills in the ode chooses; left so, it is the BDF. */
enum emb_method { EMB_METHOD_AUTO, EMB_METHOD_BDF, EMB_METHOD_TRAPEZOID };

struct emb_ode {
    enum emb_method method;
    size_t n, n_quad, n_root;
    /* 0 ok, > 0 try a smaller step, < 0 stop. No allocation, no I/O, y is never changed. */
    int (*rhs)(double t, const double *y, double *dydt, void *user);
    /* Newton's matrix belongs to the model, which knows its shape: take the Jacobian at (t, y);
     * make I - gamma J ready; b := (I - gamma J)^-1 b. All NULL: dense, by differences. */
    int (*jacobian)(double t, const double *y, const double *dydt, void *user);
    int (*factor)(double gamma, void *user);
    void (*solve)(double *b, void *user);
    int (*quad)(double t, const double *y, double *dqdt,
                void *user); /* pure integrals, e.g. the books */
    int (*roots)(double t, const double *y, double *g, void *user);
    double rtol;
    const double *atol; /* [unit of each state] length n */
    /* Forward sensitivities, n_slope of them (0: none): how the states change with a parameter.
     * dsdt := the rate of s, dq := the change of the integrands, both of the k-th at (t, y). */
    size_t n_slope;
    const double *slope0; /* [unit of each state] n_slope x n, at the start */
    int (*slope_rhs)(size_t k, double t, const double *y, const double *dydt, const double *s,
                     double *dsdt, void *user);
    int (*slope_quad)(size_t k, double t, const double *y, const double *s, double *dq, void *user);
    void *user;
};

/* [tolerances] what a step may be off: one with the BDF, many with the trapezoid. */
double emb_ode_slack(const struct emb_ode *ode);

struct emb_counters {
    long steps, rhs, jac, restarts, err_fails, newton_fails, roots;
};

struct emb_integrator;
enum emb_stop { EMB_STOP_TIME, EMB_STOP_ROOT, EMB_STOP_STEP };

/* y0 has length n. The caller keeps `ode` alive. */
enum emb_status emb_integrator_new(const struct emb_ode *ode, double t0, const double *y0,
                                   struct emb_integrator **out, struct emb_err *err);
void emb_integrator_free(struct emb_integrator *in); /* NULL is fine */
/* Start afresh after a jump of the inputs (keeps y and the integrals). */
enum emb_status emb_integrator_restart(struct emb_integrator *in, struct emb_err *err);
/* One step towards t_stop, never past it. *why: reached t_stop, hit a root, or just one step on. */
enum emb_status emb_integrator_step(struct emb_integrator *in, double t_stop, enum emb_stop *why,
                                    struct emb_err *err);
double emb_integrator_time(const struct emb_integrator *in);
double *
emb_integrator_state(struct emb_integrator *in); /* length n; may be edited only before a restart */
const double *
emb_integrator_quads(struct emb_integrator *in); /* length n_quad, integrals since the start */
/* State at an earlier time inside the last step. */
void emb_integrator_interpolate(struct emb_integrator *in, double t, double *y);
/* The k-th sensitivity of the states and of the integrals. */
double *emb_integrator_slope(struct emb_integrator *in, size_t k);
double *emb_integrator_slope_quads(struct emb_integrator *in, size_t k);
/* Makes them jump; only before a restart. */
void emb_integrator_slope_add(struct emb_integrator *in, size_t k, const double *ds,
                              const double *dq);
void emb_integrator_slope_interpolate(struct emb_integrator *in, size_t k, double t, double *s);
const int *
emb_integrator_roots_found(struct emb_integrator *in); /* length n_root: +1 rising, -1 falling, 0 */
struct emb_counters emb_integrator_counters(const struct emb_integrator *in);
#endif
