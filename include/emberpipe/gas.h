/* gas.h - a flowing mixture and its properties. Ideal gas; T [K], n [mol/s]. */
#ifndef EMB_GAS_H
#define EMB_GAS_H
#include "emberpipe/species.h"

struct emb_gas {
    double T;               /* [K] */
    double n[EMB_NSPECIES]; /* [mol/s] flow of each species */
};

double emb_gas_enthalpy(const struct emb_gas *g); /* [W] total, with formation enthalpy */
double emb_gas_formation(
    const struct emb_gas *g); /* [W] the part that is formation enthalpy at 298.15 K */
double emb_gas_cp(const struct emb_gas *g);    /* [W/K] heat capacity flow */
double emb_gas_mass(const struct emb_gas *g);  /* [kg/s] everything carried */
double emb_gas_moles(const struct emb_gas *g); /* [mol/s] of gas species only */
void emb_gas_elements(const struct emb_gas *g, double el[EMB_NELEMENTS]); /* [mol/s] */
/* Sets T so that the enthalpy flow is H [W]; T stays within 150 .. 4000 K. */
void emb_gas_set_enthalpy(struct emb_gas *g, double H);

double emb_gas_viscosity(double T);                    /* [Pa s] as air, Sutherland */
double emb_gas_conductivity(double T);                 /* [W/(m K)] as air */
double emb_gas_diffusivity(int k, double T, double p); /* [m2/s] of species k in air */
#endif
