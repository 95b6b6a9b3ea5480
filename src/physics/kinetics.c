/* Surface mole fractions are found by fixed-point iteration on first-order equivalents: each species sees a linear
 * sink (what consumes it, divided by its own mole fraction) and a source. That keeps every mole fraction positive, and
 * starting from the bulk picks the inhibited branch where two exist. */
#include "emberpipe/kinetics.h"

#include <math.h>

#include "emberpipe/equilibrium.h"
#include "emberpipe/heat.h"

enum { MAX_SWEEPS = 60 };
static const double tiny = 1e-12; /* [-] mole fraction below which a species is treated as absent */

double emb_inhibition(double T, double co, double hc, double no)
{
    /* Voltz, Morgan, Liederman & Jacob 1973 (IEC Prod. Res. Dev. 12:294), constants as in Oh & Cavendish 1982 */
    const double K1 = 65.5 * exp(961.0 / T), K2 = 2.08e3 * exp(361.0 / T), K3 = 3.98 * exp(11611.0 / T),
                 K4 = 4.79e5 * exp(-3733.0 / T);
    const double a = 1.0 + K1 * co + K2 * hc, b = co * hc;
    return T * a * a * (1.0 + K3 * b * b) * (1.0 + K4 * pow(no, 0.7));
}

double emb_reaction_imbalance(const struct emb_reaction *r, int *element)
{
    double worst = 0.0;
    for (int e = 0; e < EMB_NELEMENTS; e++) {
        double sum = r->nu_store * emb_species_elements(EMB_NH3)[e];
        for (int k = 0; k < EMB_NSPECIES; k++) {
            sum += r->nu[k] * emb_species_elements(k)[e];
        }
        if (fabs(sum) > worst) {
            worst = fabs(sum);
            *element = e;
        }
    }
    return worst;
}

void emb_reaction_set_storage(const struct emb_reaction_set *s, double *E0, double *alpha)
{
    *E0 = *alpha = 0.0;
    for (size_t j = 0; s != NULL && j < s->n; j++) {
        if (s->r[j].nu_store < 0.0 && s->r[j].nu[EMB_NH3] > 0.0) {
            *E0 = s->r[j].E;
            *alpha = s->r[j].alpha;
        }
    }
}

/* Rate constants of the cell [mol/s], everything but the gas dependence. */
static void rate_constants(const struct emb_reaction_set *set, const struct emb_surface *s, double *k)
{
    for (size_t j = 0; j < set->n; j++) {
        const struct emb_reaction *r = &set->r[j];
        const double E = r->E * (1.0 - r->alpha * s->theta);
        double v = r->A * s->volume * (E != 0.0 ? exp(-E / (EMB_R * s->T)) : 1.0);
        if (r->per_site) {
            v *= s->sites;
        }
        if (r->store > 0) {
            v *= fmax(s->theta, 0.0);
        } else if (r->store < 0) {
            v *= fmax(1.0 - s->theta, 0.0);
        }
        k[j] = v;
    }
}

struct rates { double r[EMB_MAX_REACTIONS], sink[EMB_NGAS], source[EMB_NGAS]; };

/* Inhibition by hydrocarbons counts molecules: a C12 fuel molecule as one propene. */
static double inhibition_at(double T, const double *x)
{
    return emb_inhibition(T, x[EMB_CO], x[EMB_C3H6] + x[EMB_FUEL] / 12.0, x[EMB_NO]);
}

static double rate_of(const struct emb_reaction *r, double k, double inv_G, const double *x, double kp, double sqrt_p,
                      double *back)
{
    double v = k * (r->inhibited ? inv_G : 1.0);
    *back = 0.0;
    if (r->reversible) {
        const double f = v * sqrt(fmax(x[EMB_O2], 0.0));
        *back = v / (kp * sqrt_p); /* per NO2 mole fraction; zero net rate at x_NO2 = Kp x_NO sqrt(x_O2 p) */
        return f * x[r->key];
    }
    if (r->key >= 0) {
        v *= x[r->key];
    }
    if (r->other >= 0) {
        v *= (r->order == 1.0) ? x[r->other] : pow(x[r->other], r->order);
    }
    return v;
}

static void all_rates(const struct emb_reaction_set *set, const double *k, double T, const double *x, double nox, double kp,
                      double sqrt_p, struct rates *o)
{
    const double inv_G = set->r[0].inhibited ? 1.0 / inhibition_at(T, x) : 1.0;
    for (int i = 0; i < EMB_NGAS; i++) {
        o->sink[i] = o->source[i] = 0.0;
    }
    for (size_t j = 0; j < set->n; j++) {
        const struct emb_reaction *r = &set->r[j];
        double back;
        const double v = rate_of(r, k[j], inv_G, x, kp, sqrt_p, &back);
        if (r->reversible) {
            /* relax NO towards its equilibrium with the NOx that is there: both directions at once */
            o->r[j] = v - back * (nox - x[EMB_NO]);
            o->sink[EMB_NO] += v + back * x[EMB_NO];
            o->source[EMB_NO] += back * nox;
            o->source[EMB_NO2] += fmax(o->r[j], 0.0);
            o->sink[EMB_NO2] += fmax(-o->r[j], 0.0);
            continue;
        }
        o->r[j] = v;
        for (int i = 0; i < EMB_NGAS; i++) {
            if (r->nu[i] < 0.0) {
                o->sink[i] -= r->nu[i] * v;
            } else {
                o->source[i] += r->nu[i] * v;
            }
        }
    }
}

/* Surface mole fraction of one species from its first-order equivalent a [mol/s] and source P [mol/s]. */
static double surface_fraction(double N, double x_in, double km, double a, double P)
{
    const double serial = isinf(km) ? a : a * km / (a + km);
    const double b = isinf(km) ? P : P * km / (km + a);
    const double z = serial / N;
    const double phi = (z > 1e-8) ? emb_one_minus_exp(z) / z : 1.0 - 0.5 * z; /* mean over inlet */
    const double mean = (z > 1e-8) ? b / serial + (x_in - b / serial) * phi : x_in + 0.5 * b / N;
    return isinf(km) ? mean : (km * mean + P) / (km + a);
}

double emb_surface_react(const struct emb_reaction_set *set, const struct emb_surface *s, double n[EMB_NSPECIES])
{
    double N = 0.0, x_in[EMB_NGAS], x[EMB_NGAS], k[EMB_MAX_REACTIONS];
    for (int i = 0; i < EMB_NGAS; i++) {
        N += n[i];
    }
    for (int i = 0; i < EMB_NGAS; i++) {
        x_in[i] = x[i] = fmax(n[i] / N, 0.0);
    }
    rate_constants(set, s, k);
    const double kp = emb_kp_no2(s->T), sqrt_p = sqrt(s->p / 1e5), nox = x_in[EMB_NO] + x_in[EMB_NO2];
    struct rates o;
    for (int sweep = 0; sweep < MAX_SWEEPS; sweep++) {
        double change = 0.0;
        all_rates(set, k, s->T, x, nox, kp, sqrt_p, &o);
        for (int i = 0; i < EMB_NGAS; i++) {
            if (o.sink[i] == 0.0 && o.source[i] == 0.0) {
                continue;
            }
            const double a = o.sink[i] / fmax(x[i], tiny);
            const double v = surface_fraction(N, x_in[i], s->transfer[i], a, o.source[i]);
            change = fmax(change, fabs(v - x[i]) / (1e-6 + x[i]));
            x[i] = v;
        }
        if (change < 1e-9) {
            break;
        }
    }
    all_rates(set, k, s->T, x, nox, kp, sqrt_p, &o);
    double stored = 0.0;
    for (size_t j = 0; j < set->n; j++) {
        for (int i = 0; i < EMB_NSPECIES; i++) {
            n[i] += set->r[j].nu[i] * o.r[j];
        }
        stored += set->r[j].nu_store * o.r[j];
    }
    return stored;
}
