#include "extents.h"

#include <math.h>

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

/* The usual case, told at once: nothing is overdrawn. */
static bool all_borne(const struct emb_surface_plan *p, const double *n, double N, const double *r)
{
    bool borne = true;
    for (int a = 0, i = 0, o = 0; a < p->n_active; a++) {
        const int k = p->active[a];
        double left = n[k]; /* [mol/s] */
        for (; i < p->sink_end[a]; i++) {
            left -= p->sink[i].nu * r[p->sink[i].reaction];
        }
        for (; o < p->source_end[a]; o++) {
            left += p->source[o].nu * r[p->source[o].reaction];
        }
        if (p->reversible >= 0) {
            left += p->set->r[p->reversible].nu[k] * r[p->reversible];
        }
        borne = borne && left >= -1e-7 * N;
    }
    return borne;
}

void emb_extents_limit(const struct emb_surface_plan *plan, const double *n, double N, double *r)
{
    bool again = !all_borne(plan, n, N, r);
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
