/* law.h - rates of a reaction set at given surface mole fractions. Private to the physics room. */
#ifndef EMB_LAW_H
#define EMB_LAW_H
#include "emberpipe/kinetics.h"

/* Everything about a set that does not depend on the gas, at one temperature and coverage. */
struct emb_law {
    const struct emb_reaction_set *set;
    double k[EMB_MAX_REACTIONS];                                     /* [mol/s] */
    double K[EMB_MAX_INHIBITIONS][EMB_MAX_FACTORS][EMB_MAX_ADDENDS]; /* [-] */
    double T_power[EMB_MAX_INHIBITIONS];                             /* [K^t] */
    double back; /* [-] reverse over forward rate of NO oxidation, per mole fractions */
    double nox;  /* [-] NO + NO2 that share the equilibrium */
};
struct emb_rates {
    double v[EMB_MAX_REACTIONS];              /* [mol/s] forward rate */
    double r[EMB_MAX_REACTIONS];              /* [mol/s] net rate */
    double inv_G[EMB_MAX_INHIBITIONS];        /* [1/K^t] */
    double dlnG[EMB_MAX_INHIBITIONS][EMB_NX]; /* [-] per mole fraction */
};

void emb_law_init(struct emb_law *l, const struct emb_reaction_set *set,
                  const struct emb_surface *s, const double *x);
/* Inhibition at x (length EMB_NX; its lumps are filled here). */
void emb_law_groups(const struct emb_law *l, double *x, struct emb_rates *o);
/* Rates at x, with the inhibition found last. */
void emb_law_rates(const struct emb_law *l, const double *x, struct emb_rates *o);
/* d ln(x^order)/dx as the law sees it [-]. */
double emb_law_log_slope(double x, double order);
#endif
