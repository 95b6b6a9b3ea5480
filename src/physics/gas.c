/* gas.c - balances and transport properties of a flowing mixture.
 *
 * These run millions of times. The flow is folded into one polynomial first, cheap to evaluate
 * after; the table lies species by species so that the inner loop over coefficients vectorises. */
#include "emberpipe/gas.h"

#include <math.h>

#include "species_data.h"

_Static_assert(EMB_NGAS % 2 == 0, "emb_moles goes by twos");
_Static_assert((int)EMB_FOLD_TERMS == (int)EMB_NASA_H,
               "a fold is the enthalpy part of a NASA-7 polynomial");

/* The polynomial of the whole flow in one range: c = sum of n a. */
static void gas_mix(const struct emb_gas *g, int range, double c[EMB_NASA_H])
{
    double sum[EMB_NASA_H] = {0.0}; /* [mol/s] times the units of the table */
    for (int k = 0; k < EMB_NSPECIES; k++) {
        const double *a = emb_species_table[k].a[range];
        const double n = g->n[k]; /* [mol/s] */
        for (int j = 0; j < EMB_NASA_H; j++) {
            sum[j] += n * a[j];
        }
    }
    for (int j = 0; j < EMB_NASA_H; j++) {
        c[j] = sum[j];
    }
}

/* ---- folded flows ---- */

static void fold_for(const struct emb_gas *g, int range, struct emb_fold *f)
{
    f->range = range;
    gas_mix(g, range, f->c);
}

void emb_gas_fold(const struct emb_gas *g, struct emb_fold *f)
{
    fold_for(g, emb_nasa_range(emb_nasa_clamp(g->T)), f);
}

/* Makes f good for temperature Tc. */
static inline void renew(struct emb_fold *f, const struct emb_gas *g, double Tc)
{
    if (f->range != emb_nasa_range(Tc)) {
        fold_for(g, emb_nasa_range(Tc), f);
    }
}

void emb_fold_add(struct emb_fold *f, const struct emb_gas *both, const struct emb_fold *more)
{
    if (f->range != more->range) {
        emb_gas_fold(both, f);
        return;
    }
    for (int j = 0; j < EMB_FOLD_TERMS; j++) {
        f->c[j] += more->c[j];
    }
}

double emb_fold_enthalpy(struct emb_fold *f, const struct emb_gas *g)
{
    const double Tc = emb_nasa_clamp(g->T); /* [K] */
    renew(f, g, Tc);
    const double h = emb_nasa_h(f->c, Tc); /* [W] */
    return g->T == Tc ? h : h + emb_nasa_cp(f->c, Tc) * (g->T - Tc);
}

double emb_fold_cp(struct emb_fold *f, const struct emb_gas *g)
{
    const double Tc = emb_nasa_clamp(g->T); /* [K] */
    renew(f, g, Tc);
    return emb_nasa_cp(f->c, Tc);
}

void emb_fold_set_enthalpy(struct emb_fold *f, struct emb_gas *g, double H)
{
    const double Tmin = 150.0, Tmax = 4000.0; /* [K] promised by the header */
    if (isnan(H)) {
        g->T = H; /* a clamp would hide a broken balance from whoever checks the result */
        return;
    }
    double T = g->T > Tmin ? (g->T < Tmax ? g->T : Tmax) : Tmin; /* [K]; also catches NaN */
    /* Enthalpy is nearly straight in T: two steps do from nearby, five from anywhere. The rest is
     * for a root within a rounding of the seam at 1000 K, where the ranges may take turns. */
    for (int i = 0; i < 10; i++) {
        const double Tc = emb_nasa_clamp(T); /* [K] */
        renew(f, g, Tc);
        const double cp = emb_nasa_cp(f->c, Tc); /* [W/K] */
        if (!(cp > 0.0)) {
            return; /* nothing flows: any temperature is right */
        }
        const double dT = (H - emb_nasa_h(f->c, Tc)) / cp - (T - Tc); /* [K] */
        T += dT;
        T = T > Tmin ? (T < Tmax ? T : Tmax) : Tmin;
        /* Newton squares its error: heat capacity changes by some 1e-4 in a kelvin, so that behind
         * a step of 1e-3 K the next would be 1e-10 K. */
        if (fabs(dT) < 1e-3) {
            break;
        }
    }
    g->T = T;
}

/* ---- the same of a flow that is asked only once ---- */

double emb_gas_enthalpy(const struct emb_gas *g)
{
    struct emb_fold f;
    emb_gas_fold(g, &f);
    return emb_fold_enthalpy(&f, g);
}

double emb_gas_cp(const struct emb_gas *g)
{
    struct emb_fold f;
    emb_gas_fold(g, &f);
    return emb_fold_cp(&f, g);
}

void emb_gas_set_enthalpy(struct emb_gas *g, double H)
{
    struct emb_fold f;
    emb_gas_fold(g, &f);
    emb_fold_set_enthalpy(&f, g, H);
}

double emb_gas_formation(const struct emb_gas *g)
{
    double c[EMB_NASA_H]; /* [mol/s] times the units of the table */
    gas_mix(g, 0, c);
    return emb_nasa_h(c, EMB_T0);
}

double emb_gas_mass(const struct emb_gas *g)
{
    double m = 0.0; /* [kg/s] */
    for (int k = 0; k < EMB_NSPECIES; k++) {
        m += g->n[k] * emb_species_table[k].mass;
    }
    return m;
}

double emb_gas_moles(const struct emb_gas *g)
{
    return emb_moles(g->n);
}

void emb_gas_elements(const struct emb_gas *g, double el[EMB_NELEMENTS])
{
    double sum[EMB_NELEMENTS] = {0.0}; /* [mol/s] */
    for (int k = 0; k < EMB_NSPECIES; k++) {
        const double *e = emb_species_table[k].elements;
        for (int j = 0; j < EMB_NELEMENTS; j++) {
            sum[j] += g->n[k] * e[j];
        }
    }
    for (int j = 0; j < EMB_NELEMENTS; j++) {
        el[j] = sum[j];
    }
}

double emb_gas_viscosity(double T)
{
    return EMB_SUTHERLAND_C * T * sqrt(T) / (T + EMB_SUTHERLAND_S);
}

double emb_gas_conductivity(double T)
{
    /* Fitted here to Incropera, Fundamentals of Heat and Mass Transfer, Table A.4 (air): within 1 %
     * from 300 to 1200 K, and of a form that stays tame outside. */
    return 1.00734e-4 * T / (1.0 + 4.98333e-4 * T);
}

double emb_gas_diffusivity(int k, double T, double p)
{
    const double t = T / EMB_T0; /* [-] */
    /* T^1.75: Fuller, Schettler & Giddings 1966, Ind. Eng. Chem. 58(5):18 */
    return emb_species_table[k].D0 * (t * t / sqrt(sqrt(t))) * (101325.0 / p);
}
