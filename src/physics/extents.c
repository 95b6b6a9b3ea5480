#include "extents.h"

#include <math.h>
#include <string.h>

/* Share of what consumes species k [mol/s] that it can stand; 1 if it is not overdrawn. */
static double bearable(const struct emb_surface_plan *plan, int k, double n, double N,
                       const double *r)
{
    double lost = 0.0, gained = n; /* [mol/s] */
    for (size_t j = 0; j < plan->set->n; j++) {
        const double f = plan->set->r[j].nu[k] * r[j];
        *(f < 0.0 ? &lost : &gained) += fabs(f);
    }
    return gained - lost < -1e-7 * N ? fmax(gained, 0.0) / lost : 1.0; /* less is tolerance */
}

static void limit(const struct emb_surface_plan *plan, const double *n, double N, double *r)
{
    bool again = true;
    for (int pass = 0; again && pass < EMB_NGAS; pass++) {
        again = false;
        for (int a = 0; a < plan->n_active; a++) {
            const int k = plan->active[a];
            const double share = bearable(plan, k, n[k], N, r);
            for (size_t j = 0; share < 1.0 && j < plan->set->n; j++) {
                r[j] *= plan->set->r[j].nu[k] * r[j] < 0.0 ? share : 1.0;
            }
            again = again || share < 1.0;
        }
    }
}

static void react(const struct emb_surface_plan *plan, const double *n, const double *r,
                  double left[EMB_NSPECIES])
{
    memcpy(left, n, EMB_NSPECIES * sizeof *n);
    emb_add_terms(&plan->change, r, left);
}

void emb_extents_apply(const struct emb_surface_plan *plan, double N, double *r,
                       double n[EMB_NSPECIES])
{
    double left[EMB_NSPECIES]; /* [mol/s] */
    bool borne = true;
    react(plan, n, r, left);
    for (int a = 0; a < plan->n_active; a++) {
        borne = borne && left[plan->active[a]] >= -1e-7 * N;
    }
    if (!borne) {
        limit(plan, n, N, r);
        react(plan, n, r, left);
    }
    memcpy(n, left, sizeof left);
}
