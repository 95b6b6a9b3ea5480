/* extents.h - what a cell's reactions may take from the flow. Private to the physics room. */
#ifndef EMB_EXTENTS_H
#define EMB_EXTENTS_H
#include "emberpipe/kinetics.h"

/* No species may be overdrawn where the iteration stopped short: the reactions that consume it
 * shrink, each as a whole, so that elements still balance. What one no longer makes, another may
 * lack: hence the passes.
 * n, N: flow of each species and of all [mol/s]; r: extents [mol/s]. */
void emb_extents_limit(const struct emb_surface_plan *plan, const double *n, double N, double *r);
#endif
