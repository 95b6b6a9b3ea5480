/* species.c - thermodynamic functions of one species. */
#include "emberpipe/species.h"

#include <math.h>
#include <string.h>

#include "species_data.h"

const char *emb_species_name(int k)
{
    return emb_species_table[k].name;
}

int emb_species_find(const char *name)
{
    for (int k = 0; k < EMB_NSPECIES; k++) {
        if (strcmp(name, emb_species_table[k].name) == 0) {
            return k;
        }
    }
    return -1;
}

double emb_species_mass(int k)
{
    return emb_species_table[k].mass;
}

const double *emb_species_elements(int k)
{
    return emb_species_table[k].elements;
}

double emb_species_cp(int k, double T)
{
    const double Tc = emb_nasa_clamp(T); /* [K] */
    return emb_nasa_cp(emb_species_table[k].a[emb_nasa_range(Tc)], Tc);
}

double emb_species_h(int k, double T)
{
    const double Tc = emb_nasa_clamp(T); /* [K] */
    const double *a = emb_species_table[k].a[emb_nasa_range(Tc)];
    const double h = emb_nasa_h(a, Tc); /* [J/mol] */
    /* Outside its range a polynomial runs away; a straight line keeps a Newton solver alive. */
    return T == Tc ? h : h + emb_nasa_cp(a, Tc) * (T - Tc);
}

double emb_species_s(int k, double T)
{
    const double Tc = emb_nasa_clamp(T); /* [K] */
    const double *a = emb_species_table[k].a[emb_nasa_range(Tc)];
    const double p = a[1] + Tc * (a[2] / 2.0 + Tc * (a[3] / 3.0 + Tc * a[4] / 4.0)); /* [1/K] */
    const double s = EMB_R * (a[0] * log(Tc) + Tc * p + a[6]); /* [J/(mol K)] */
    return T == Tc ? s : s + emb_nasa_cp(a, Tc) * log(T / Tc);
}

double emb_species_hf(int k)
{
    return emb_nasa_h(emb_species_table[k].a[0], EMB_T0);
}

double emb_fuel_liquid_h(double T)
{
    const double h_vap = 0.36e6; /* [J/kg] at 298.15 K, as n-dodecane, from memory */
    const double cp = 2000.0;    /* [J/(kg K)] diesel, common practice, no source */
    return emb_species_hf(EMB_FUEL) / emb_species_mass(EMB_FUEL) - h_vap + cp * (T - EMB_T0);
}

double emb_fuel_lhv(void)
{
    return 43.098e6; /* 40 CFR 1036.550 Table 1: 49.3112 MJ per kg carbon, carbon fraction 0.874 */
}

double emb_water_liquid_h(double T)
{
    const double h_vap =
        44.0e3; /* [J/mol] at 298.15 K, CODATA key values give 44.00, from memory */
    return emb_species_hf(EMB_H2O) - h_vap + emb_water_liquid_cp() * (T - EMB_T0);
}

double emb_water_liquid_cp(void)
{
    return 75.3; /* at 298 K, NIST WebBook, from memory */
}

double emb_water_psat(double T)
{
    const double Tc = 647.096;                                   /* [K] IAPWS */
    const double pc = 22.064e6;                                  /* [Pa] IAPWS */
    const double Tl = T < 200.0 ? 200.0 : T > 647.0 ? 647.0 : T; /* [K] the equation ends at Tc */
    const double x = 1.0 - Tl / Tc;                              /* [-] */
    const double r = sqrt(x);                                    /* [-] */
    const double x3 = x * x * x;                                 /* [-] */
    /* Wagner & Pruss 1993, J. Phys. Chem. Ref. Data 22:783 (IAPWS supplementary release SR1-86) */
    const double sum = -7.85951783 * x + 1.84408259 * x * r - 11.7866497 * x3 +
                       22.6807411 * x3 * r - 15.9618719 * x3 * x + 1.80122502 * x3 * x3 * x * r;
    return pc * exp(Tc / Tl * sum);
}
