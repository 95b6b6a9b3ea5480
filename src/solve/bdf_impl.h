/* bdf_impl.h - what bdf.c and slopes.c share. */
#ifndef EMB_BDF_IMPL_H
#define EMB_BDF_IMPL_H
#include <cvodes/cvodes.h>

#include "integrator_impl.h"

struct emb_bdf {
    struct emb_integrator is;
    SUNContext ctx;
    void *cv;
    N_Vector y, atol, q;
    SUNMatrix A;
    SUNLinearSolver ls;
    double *q_base; /* integrals up to the last restart */
    double *q_now;
    int idle;                  /* steps in a row that led nowhere */
    struct emb_counters base;  /* counters up to the last restart */
    struct emb_slopes *slopes; /* NULL: none asked for */
};

/* slopes.c: forward sensitivities. 0: all is well; nothing to do where none are asked for. */
int emb_slopes_connect(struct emb_bdf *b);
int emb_slopes_fetch(struct emb_bdf *b); /* after a step */
int emb_slopes_restart(struct emb_bdf *b);
void emb_slopes_free(struct emb_bdf *b);
#endif
