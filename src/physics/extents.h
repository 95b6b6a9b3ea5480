/* extents.h - what a cell's reactions may take from the flow. Private to the physics room. */
#ifndef EMB_EXTENTS_H
#define EMB_EXTENTS_H
#include "emberpipe/kinetics.h"

/* Sum of rates or extents r [mol/s] over the terms of one place. */
static inline double emb_flux(const struct emb_surface_terms *t, int place, const double *r)
{
    double sum = 0.0; /* [mol/s] */
    for (int i = t->from[place]; i < t->from[place + 1]; i++) {
        sum += t->term[i].nu * r[t->term[i].reaction];
    }
    return sum;
}

/* Turns the flow n [mol/s], N in all, into what is left and made by extents r [mol/s]. No species
 * may be overdrawn where the iteration stopped short: the reactions that consume it shrink, each as
 * a whole, so that elements still balance. What one no longer makes, another may lack: hence the
 * passes. */
void emb_extents_apply(const struct emb_surface_plan *plan, double N, double *r,
                       double n[EMB_NSPECIES]);
#endif
