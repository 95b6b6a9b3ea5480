/* equilibrium.c - equilibrium constants from the Gibbs energies of the NASA-7 polynomials. */
#include "emberpipe/equilibrium.h"

#include <math.h>

#include "species_data.h"

double emb_kp_no2(double T)
{
    const double Tc = emb_nasa_clamp(T); /* [K] */
    const int r = emb_nasa_range(Tc);
    const double *no = emb_species_table[EMB_NO].a[r];
    const double *no2 = emb_species_table[EMB_NO2].a[r];
    const double *o2 = emb_species_table[EMB_O2].a[r];
    double d[EMB_NASA_N]; /* [mixed] the polynomial of the reaction, products minus reactants */
    for (int j = 0; j < EMB_NASA_N; j++) {
        d[j] = no2[j] - no[j] - 0.5 * o2[j];
    }
    /* ln Kp = -dG/(RT) = dS/R - dH/(RT), term by term: one log and one exp are enough. */
    const double poly =
        Tc * (d[1] / 2.0 + Tc * (d[2] / 6.0 + Tc * (d[3] / 12.0 + Tc * (d[4] / 20.0)))); /* [-] */
    return exp(d[0] * (log(Tc) - 1.0) + poly + d[6] - d[5] / Tc);
}
