/* gas.h - a flowing mixture and its properties. Ideal gas; T [K], n [mol/s]. */
#ifndef EMB_GAS_H
#define EMB_GAS_H
#include "emberpipe/species.h"

/* Sutherland for air, mu = C T^(3/2) / (T + S): White, Viscous Fluid Flow: 1.716e-5 Pa s at
 * 273.15 K, S = 110.4 K */
#define EMB_SUTHERLAND_S 110.4 /* [K] */
#define EMB_SUTHERLAND_C                                                                           \
    (1.716e-5 * (273.15 + 110.4) /                                                                 \
     (273.15 * 16.527250225007183)) /* [Pa s/K^(1/2)] over 273.15^(3/2) */

struct emb_gas {
    double T;               /* [K] */
    double n[EMB_NSPECIES]; /* [mol/s] flow of each species */
};

/* [mol/s] of gas species in a flow; two sums side by side, neither waits for the other */
static inline double emb_moles(const double n[EMB_NSPECIES])
{
    double even = 0.0, odd = 0.0;
    for (int k = 0; k < EMB_NGAS; k += 2) {
        even += n[k];
        odd += n[k + 1];
    }
    return even + odd;
}

double emb_gas_enthalpy(const struct emb_gas *g); /* [W] total, with formation enthalpy */
double emb_gas_formation(
    const struct emb_gas *g); /* [W] the part that is formation enthalpy at 298.15 K */
double emb_gas_cp(const struct emb_gas *g);    /* [W/K] heat capacity flow */
double emb_gas_mass(const struct emb_gas *g);  /* [kg/s] everything carried */
double emb_gas_moles(const struct emb_gas *g); /* [mol/s] of gas species only */
void emb_gas_elements(const struct emb_gas *g, double el[EMB_NELEMENTS]); /* [mol/s] */
/* Sets T so that the enthalpy flow is H [W]; T stays within 150 .. 4000 K. */
void emb_gas_set_enthalpy(struct emb_gas *g, double H);

/* The heat of a flow as one polynomial in T, for where it is asked for more than once: folding
 * costs as much as several evaluations. A fold belongs to a composition, not to a temperature, and
 * renews itself where that crosses 1000 K, the seam of the polynomials. */
enum { EMB_FOLD_TERMS = 6 };
struct emb_fold {
    int range;                /* 0 below the seam, 1 above */
    double c[EMB_FOLD_TERMS]; /* [mol/s times K^-i; the last mol K/s] */
};
void emb_gas_fold(const struct emb_gas *g, struct emb_fold *f);
void emb_fold_add(struct emb_fold *f, const struct emb_gas *both,
                  const struct emb_fold *more); /* another flow joins; `both` is the sum */
double emb_fold_enthalpy(struct emb_fold *f, const struct emb_gas *g); /* [W] as above */
double emb_fold_cp(struct emb_fold *f, const struct emb_gas *g);       /* [W/K] as above */
void emb_fold_set_enthalpy(struct emb_fold *f, struct emb_gas *g, double H);

double emb_gas_viscosity(double T);                    /* [Pa s] as air, Sutherland */
double emb_gas_conductivity(double T);                 /* [W/(m K)] as air */
double emb_gas_diffusivity(int k, double T, double p); /* [m2/s] of species k in air */
#endif
