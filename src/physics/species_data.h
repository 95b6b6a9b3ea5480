/* species_data.h - the table of species constants, shared by the physics room only. */
#ifndef EMB_SPECIES_DATA_H
#define EMB_SPECIES_DATA_H
#include "emberpipe/species.h"

#define EMB_NASA_TLOW  200.0             /* [K] below, cp is held */
#define EMB_NASA_TMID  1000.0            /* [K] the two polynomials meet here */
#define EMB_NASA_THIGH 3000.0            /* [K] above, cp is held */
enum { EMB_NASA_H = 6, EMB_NASA_N = 7 }; /* coefficients that make an enthalpy; all of them */

struct emb_species_row {
    char name[8]; /* not a pointer: keeps the table free of load-time relocations */
    double mass;  /* [kg/mol] sum over its elements, so that books close to round-off */
    double elements[EMB_NELEMENTS]; /* [mol/mol] */
    double a[2][EMB_NASA_N]; /* NASA-7 below and above 1000 K: cp/R [-, T in K], a6 [K], a7 [-] */
    double D0; /* [m2/s] diffusivity in air at 298.15 K and 1 atm; 0: does not diffuse */
};

extern const struct emb_species_row emb_species_table[EMB_NSPECIES];

/* Polynomial of an enthalpy flow or of one species: a[0..5] as above, already weighted by the
 * moles. */
static inline double emb_nasa_h(const double *a, double T) /* [J] or [W] */
{
    const double p =
        a[0] + T * (a[1] * (1.0 / 2.0) +
                    T * (a[2] * (1.0 / 3.0) + T * (a[3] * (1.0 / 4.0) + T * (a[4] * (1.0 / 5.0)))));
    return EMB_R * (a[5] + T * p);
}
static inline double emb_nasa_cp(const double *a, double T) /* [J/K] or [W/K] */
{
    return EMB_R * (a[0] + T * (a[1] + T * (a[2] + T * (a[3] + T * a[4]))));
}
static inline double emb_nasa_clamp(double T) /* [K] */
{
    return T < EMB_NASA_TLOW ? EMB_NASA_TLOW : T > EMB_NASA_THIGH ? EMB_NASA_THIGH : T;
}
static inline int emb_nasa_range(double T) /* 0 low, 1 high */
{
    return T > EMB_NASA_TMID;
}
#endif
