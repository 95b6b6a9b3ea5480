/* trapezoid_impl.h - what trapezoid.c and crossing.c share. */
#ifndef EMB_TRAPEZOID_IMPL_H
#define EMB_TRAPEZOID_IMPL_H
#include <stdbool.h>

#include "integrator_impl.h"

/* One end of a step: states and their rates, integrals and their integrands, values of the roots.
 */
struct emb_end {
    double t, *y, *f, *q, *qd, *g;
};

struct emb_trapezoid {
    struct emb_integrator is;
    struct emb_end from, to;   /* of the last step; `to` is where we are, is.y is its y */
    double *guess, *rates, *b; /* of the step that is tried: y1 in the end, f at it, correction */
    double *weight;            /* [1/unit of each state] 1 over what a step may be off */
    double *low, *now;         /* values of the roots while one is closed in on */
    double next, gamma;        /* [s] step to try; of the factored matrix, 0: none */
    bool fresh, stale;         /* nothing of before counts; derivatives are to be taken anew */
    struct emb_counters done;
    double *room; /* behind all of these */
};

/* crossing.c. 0, or > 0 where the roots cannot be evaluated. */
int emb_crossing_begin(struct emb_trapezoid *z);
/* Was a root crossed in the last step? Then the step is cut there, and is.roots says which. */
int emb_crossing_find(struct emb_trapezoid *z, bool *found);
/* States at t within the last step, by the cubic through both ends. */
void emb_crossing_between(const struct emb_trapezoid *z, double t, double *y);
#endif
