/* law.h - rates of a reaction set at given surface mole fractions. Private to the physics room. */
#ifndef EMB_LAW_H
#define EMB_LAW_H
#include "emberpipe/kinetics.h"

/* At given mole fractions; values are numbered as the plan does. */
struct emb_rates {
    double volume;                /* [m3] of the cell */
    double nox;                   /* [-] NO + NO2 in the flow, which share the equilibrium */
    double value[EMB_MAX_VALUES]; /* [-] the first are the mole fractions */
    double slope[EMB_MAX_VALUES]; /* [-] d ln value by what it is made of */
    double v[EMB_MAX_REACTIONS];  /* [mol/s] forward rate */
    double r[EMB_MAX_REACTIONS];  /* [mol/s] net rate */
    double by_G[1 + EMB_MAX_INHIBITIONS]; /* [m3/K^t] volume over group, by its number; 0: over 1 */
    double dlnG[EMB_MAX_INHIBITIONS][EMB_NX]; /* [-] per mole fraction, by place */
};

/* Lumps, slopes and powers, once the mole fractions stand in o->value. */
void emb_law_values(const struct emb_law *l, struct emb_rates *o);
/* The powers alone that rates need, with the slopes found last. */
void emb_law_raise(const struct emb_law *l, struct emb_rates *o);
/* Inhibition of these values. */
void emb_law_groups(const struct emb_law *l, struct emb_rates *o);
/* Rates of these values, with the inhibition found last. */
void emb_law_rates(const struct emb_law *l, struct emb_rates *o);
#endif
