/* species.h - what the exhaust carries, as one vector of molar flows.
 *
 * Everything that moves with the gas is a "species" with an element composition and an enthalpy
 * that includes the enthalpy of formation, so every balance is a subtraction. UREA (molten aerosol)
 * and SOOT (as graphite carbon) are carried along but take no part in the gas volume. FUEL is the
 * vapour of a diesel surrogate counted per carbon atom (CH1.718). */
#ifndef EMB_SPECIES_H
#define EMB_SPECIES_H

enum emb_species {
    EMB_N2,
    EMB_O2,
    EMB_CO2,
    EMB_H2O,
    EMB_CO,
    EMB_H2,
    EMB_CH4,
    EMB_C3H6,
    EMB_FUEL,
    EMB_NO,
    EMB_NO2,
    EMB_N2O,
    EMB_NH3,
    EMB_HNCO,
    EMB_UREA,
    EMB_SOOT,
    EMB_NSPECIES
};
enum { EMB_NGAS = EMB_UREA }; /* species 0 .. EMB_NGAS-1 fill the gas volume */
enum emb_element { EMB_EL_C, EMB_EL_H, EMB_EL_O, EMB_EL_N, EMB_NELEMENTS };

#define EMB_R  8.31446261815324 /* [J/(mol K)] CODATA 2018, exact */
#define EMB_T0 298.15           /* [K] reference temperature of formation enthalpies */

const char *emb_species_name(int k);       /* "N2", "FUEL", ...; k in 0 .. EMB_NSPECIES-1 */
int emb_species_find(const char *name);    /* index, or -1 */
double emb_species_mass(int k);            /* [kg/mol] */
const double *emb_species_elements(int k); /* [mol element / mol], order of enum emb_element */
double emb_species_cp(int k, double T);    /* [J/(mol K)], T [K] 200 .. 3000 */
double emb_species_h(int k, double T);     /* [J/mol] with formation enthalpy */
double emb_species_s(int k, double T);     /* [J/(mol K)] at 1 bar; gas species except FUEL only */
double emb_species_hf(int k);              /* [J/mol] at 298.15 K */

double emb_fuel_liquid_h(double T);  /* [J/kg] liquid diesel with formation enthalpy */
double emb_fuel_lhv(void);           /* [J/kg] net heat of combustion of the liquid, 43.098e6 */
double emb_water_liquid_h(double T); /* [J/mol] liquid water with formation enthalpy */
double emb_water_liquid_cp(void);    /* [J/(mol K)] */
double emb_water_psat(double T);     /* [Pa] saturation pressure over liquid, 240 .. 647 K */
#endif
