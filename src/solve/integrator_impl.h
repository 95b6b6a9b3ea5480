/* integrator_impl.h - private to the solve room: what integrator.c and slopes.c share. */
#ifndef EMB_INTEGRATOR_IMPL_H
#define EMB_INTEGRATOR_IMPL_H
#include <cvodes/cvodes.h>

#include "emberpipe/ode.h"

struct emb_integrator {
    const struct emb_ode *ode;
    SUNContext ctx;
    void *cv;
    N_Vector y, atol, q;
    SUNMatrix A;
    SUNLinearSolver ls;
    int *roots;
    double t;
    double *q_base; /* integrals up to the last restart */
    double *q_now;
    struct emb_counters base; /* counters up to the last restart */
    int state_bad;            /* index of the last non-finite derivative, -1 none */
    char say[256];            /* CVODE's own words */
    struct emb_slopes *slopes; /* NULL: none asked for */
};

/* slopes.c: forward sensitivities. 0: all is well; nothing to do where none are asked for. */
int emb_slopes_connect(struct emb_integrator *in);
int emb_slopes_fetch(struct emb_integrator *in); /* after a step */
int emb_slopes_restart(struct emb_integrator *in);
void emb_slopes_free(struct emb_integrator *in);
#endif
