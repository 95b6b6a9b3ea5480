/* soot.h - how soot burns in a gas that flows through it. Pure.
 *
 *   direct      C + (1 - s/2) O2 -> s CO + (1 - s) CO2    k x_O2^n
 *   NO2         C + 2 NO2        -> CO2 + 2 NO            k x_NO2
 *   cooperative C + NO2 + 1/2 O2 -> CO2 + NO              k x_NO2 x_O2^n
 *
 * The rates hold per carbon atom of soot. The gas is used up exponentially on its way through the
 * layer, so neither O2 nor NO2 can be overdrawn however fast the soot would burn. */
#ifndef EMB_SOOT_H
#define EMB_SOOT_H
#include "emberpipe/case.h"

struct emb_soot_constants {      /* everything that depends on the temperature alone */
    double o2, no2, coop;        /* [1/s] at x_O2 = 0.1; the NO2 routes per mole fraction of NO2 */
    double co;                   /* [-] s, carbon of the direct route that leaves as CO */
    double o2_order, coop_order; /* [-] */
};
struct emb_soot_routes {
    double o2, no2, coop; /* [mol/s] of carbon burnt by each route */
};

void emb_soot_constants(const struct emb_soot_cfg *c, double T, struct emb_soot_constants *k);
/* Burns soot [mol] with the flow n [mol/s], which is changed. Returns the carbon burnt [mol/s]. */
double emb_soot_burn(const struct emb_soot_constants *k, double soot, double n[EMB_NSPECIES],
                     struct emb_soot_routes *by);
#endif
