/* extents.h - what a cell's reactions may take from the flow. Private to the physics room. */
#ifndef EMB_EXTENTS_H
#define EMB_EXTENTS_H
#include "emberpipe/kinetics.h"

/* Adds rates or extents r [mol/s]. */
static inline void emb_add_terms(const struct emb_surface_terms *t, const double *r, double *to)
{
    for (int i = 0; i < t->n; i++) {
        to[t->term[i].to] += t->term[i].nu * r[t->term[i].reaction];
    }
}

/* Turns the flow n [mol/s], N in all, into what is left and made by extents r [mol/s]. No species
 * may be overdrawn where the iteration stopped short: the reactions that consume it shrink, each as
 * a whole, so that elements still balance. What one no longer makes, another may lack: hence the
 * passes. */
void emb_extents_apply(const struct emb_surface_plan *plan, double N, double *r,
                       double n[EMB_NSPECIES]);
#endif
