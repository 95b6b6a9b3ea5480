/* law.h - rates of a reaction set at given surface mole fractions. Private to the physics room. */
#ifndef EMB_LAW_H
#define EMB_LAW_H
#include "emberpipe/kinetics.h"

/* Everything about a set that does not depend on the gas, at one temperature and coverage. */
struct emb_law {
    const struct emb_surface_plan *plan;
    double k[EMB_MAX_REACTIONS];                                     /* [mol/s] */
    double K[EMB_MAX_INHIBITIONS][EMB_MAX_FACTORS][EMB_MAX_ADDENDS]; /* [-] */
    double T_power[EMB_MAX_INHIBITIONS];                             /* [K^t] */
    double back; /* [-] reverse over forward rate of NO oxidation, per mole fractions */
    double nox;  /* [-] NO + NO2 that share the equilibrium */
};
/* At given mole fractions; values are numbered as the plan does. */
struct emb_rates {
    double value[EMB_MAX_VALUES];             /* [-] the first are the mole fractions */
    double slope[EMB_MAX_VALUES];             /* [-] d ln value by what it is made of */
    double v[EMB_MAX_REACTIONS];              /* [mol/s] forward rate */
    double r[EMB_MAX_REACTIONS];              /* [mol/s] net rate */
    double inv_G[1 + EMB_MAX_INHIBITIONS];    /* [1/K^t] by number of group; 0: 1, no inhibition */
    double dlnG[EMB_MAX_INHIBITIONS][EMB_NX]; /* [-] per mole fraction, by place */
};

/* x: mole fractions of the gas by species [-]. */
void emb_law_init(struct emb_law *l, const struct emb_surface_plan *plan,
                  const struct emb_surface *s, const double *x);
/* Lumps, slopes and powers, once the mole fractions stand in o->value. */
void emb_law_values(const struct emb_law *l, struct emb_rates *o);
/* The powers alone that rates need, with the slopes found last. */
void emb_law_raise(const struct emb_law *l, struct emb_rates *o);
/* Inhibition of these values. */
void emb_law_groups(const struct emb_law *l, struct emb_rates *o);
/* Rates of these values, with the inhibition found last. */
void emb_law_rates(const struct emb_law *l, struct emb_rates *o);
#endif
