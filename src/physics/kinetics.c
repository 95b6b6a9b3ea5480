/* Surface mole fractions are found by fixed-point iteration on first-order equivalents: each
 * species sees a linear sink (what consumes it, divided by its own mole fraction) and a source.
 * That keeps every mole fraction positive, and starting from the bulk picks the inhibited branch
 * where two exist. */
#include "emberpipe/kinetics.h"

#include <math.h>

#include "emberpipe/equilibrium.h"
#include "emberpipe/heat.h"

enum { MAX_SWEEPS = 60 };

/* fmax and fmin without their rules for NaN, which cost a call each in the innermost loop */
static inline double larger(double a, double b)
{
    return a > b ? a : b;
}
static inline double smaller(double a, double b)
{
    return a < b ? a : b;
}
static const double tiny = 1e-12; /* [-] mole fraction below which a species is treated as absent */

/* Voltz, Morgan, Liederman & Jacob 1973 (IEC Prod. Res. Dev. 12:294), constants as in Oh &
 * Cavendish 1982 */
static void inhibition_constants(double T, double K[4])
{
    const double inv = 1.0 / T;
    K[0] = 65.5 * exp(961.0 * inv);
    K[1] = 2.08e3 * exp(361.0 * inv);
    K[2] = 3.98 * exp(11611.0 * inv);
    K[3] = 4.79e5 * exp(-3733.0 * inv);
}

/* Inhibition by hydrocarbons counts molecules: a C12 fuel molecule as one propene. */
static double inhibition_with(const double *K, double T, const double *x)
{
    const double hc = x[EMB_C3H6] + x[EMB_FUEL] / 12.0, co = x[EMB_CO], no = x[EMB_NO];
    const double a = 1.0 + K[0] * co + K[1] * hc, b = co * hc;
    return T * a * a * (1.0 + K[2] * b * b) * (1.0 + (no > 0.0 ? K[3] * pow(no, 0.7) : 0.0));
}

double emb_inhibition(double T, double co, double hc, double no)
{
    double K[4];
    inhibition_constants(T, K);
    const double x[EMB_NGAS] = {[EMB_CO] = co, [EMB_C3H6] = hc, [EMB_NO] = no};
    return inhibition_with(K, T, x);
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
static void rate_constants(const struct emb_reaction_set *set, const struct emb_surface *s,
                           double *k)
{
    for (size_t j = 0; j < set->n; j++) {
        const struct emb_reaction *r = &set->r[j];
        const double E = r->E * (1.0 - r->alpha * s->theta);
        double v = r->A * s->volume * (E != 0.0 ? exp(-E / (EMB_R * s->T)) : 1.0);
        if (r->per_site) {
            v *= s->sites;
        }
        if (r->store > 0) {
            v *= larger(s->theta, 0.0);
        } else if (r->store < 0) {
            v *= larger(1.0 - s->theta, 0.0);
        }
        k[j] = v;
    }
}

struct rates {
    double r[EMB_MAX_REACTIONS], sink[EMB_NGAS], source[EMB_NGAS];
};

static double rate_of(const struct emb_reaction *r, double k, double inv_G, const double *x)
{
    double v = k * (r->inhibited ? inv_G : 1.0);
    if (r->key >= 0) {
        v *= x[r->key];
    }
    if (r->other >= 0) {
        v *= (r->order == 1.0) ? x[r->other]
                               : sqrt(x[r->other]); /* the sets use first and half order only */
    }
    return v;
}

static bool takes_part(const struct emb_reaction_set *set, int k)
{
    bool part =
        set->r[0].inhibited && (k == EMB_CO || k == EMB_C3H6 || k == EMB_FUEL || k == EMB_NO);
    for (size_t j = 0; j < set->n; j++) {
        const struct emb_reaction *r = &set->r[j];
        part = part || r->key == k || r->other == k || (r->reversible && r->nu[k] != 0.0);
    }
    return part;
}

void emb_surface_plan_init(struct emb_surface_plan *p, const struct emb_reaction_set *set)
{
    *p = (struct emb_surface_plan){.set = set};
    for (int k = 0; set != NULL && k < EMB_NGAS; k++) {
        if (!takes_part(set, k)) {
            continue;
        }
        p->active[p->n_active++] = k;
        for (size_t j = 0; j < set->n; j++) {
            if (set->r[j].nu[k] != 0.0 && p->term[j].n < 6) {
                p->term[j].species[p->term[j].n] = k;
                p->term[j].nu[p->term[j].n++] = set->r[j].nu[k];
            }
        }
    }
}

static void all_rates(const struct emb_surface_plan *plan, const double *k, const double *K,
                      double T, const double *x, double nox, double back_factor, struct rates *o)
{
    const struct emb_reaction_set *set = plan->set;
    const double inv_G = set->r[0].inhibited ? 1.0 / inhibition_with(K, T, x) : 1.0;
    for (int a = 0; a < plan->n_active; a++) {
        o->sink[plan->active[a]] = o->source[plan->active[a]] = 0.0;
    }
    for (size_t j = 0; j < set->n; j++) {
        const struct emb_reaction *r = &set->r[j];
        const double v = rate_of(r, k[j], inv_G, x);
        if (r->reversible) {
            /* relax NO towards its equilibrium with the NOx that is there: both directions at once
             */
            const double back = k[j] * back_factor;
            o->r[j] = v - back * (nox - x[EMB_NO]);
            o->sink[EMB_NO] += v + back * x[EMB_NO];
            o->source[EMB_NO] += back * nox;
            o->source[EMB_NO2] += larger(o->r[j], 0.0);
            o->sink[EMB_NO2] += larger(-o->r[j], 0.0);
            continue;
        }
        o->r[j] = v;
        for (int i = 0; i < plan->term[j].n; i++) {
            const double flux = plan->term[j].nu[i] * v;
            if (flux < 0.0) {
                o->sink[plan->term[j].species[i]] -= flux;
            } else {
                o->source[plan->term[j].species[i]] += flux;
            }
        }
    }
}

/* Surface mole fraction of one species from its first-order equivalent a [mol/s] and source P
 * [mol/s]. */
static double surface_fraction(double N, double x_in, double km, double a, double P)
{
    const double serial = isinf(km) ? a : a * km / (a + km);
    const double b = isinf(km) ? P : P * km / (km + a);
    const double z = serial / N;
    const double phi = (z > 1e-8) ? emb_one_minus_exp(z) / z : 1.0 - 0.5 * z; /* mean over inlet */
    const double mean = (z > 1e-8) ? b / serial + (x_in - b / serial) * phi : x_in + 0.5 * b / N;
    return isinf(km) ? mean : (km * mean + P) / (km + a);
}

/* Surface mole fractions by fixed-point sweeps, started from the bulk. */
static void solve_surface(const struct emb_surface_plan *plan, const struct emb_surface *s,
                          const double *k, double N, const double *x_in, double *x, struct rates *o)
{
    const double kp = emb_kp_no2(s->T), back = 1.0 / (kp * sqrt(s->p / 1e5));
    const double nox = x_in[EMB_NO] + x_in[EMB_NO2];
    double K[4], change = 1.0;
    inhibition_constants(s->T, K);
    for (int sweep = 0; sweep < MAX_SWEEPS && change > 1e-7; sweep++) {
        change = 0.0;
        all_rates(plan, k, K, s->T, x, nox, back, o);
        for (int a = 0; a < plan->n_active; a++) {
            const int i = plan->active[a];
            if (o->sink[i] == 0.0 && o->source[i] == 0.0) {
                continue;
            }
            const double v = surface_fraction(N, x_in[i], s->transfer[i],
                                              o->sink[i] / larger(x[i], tiny), o->source[i]);
            change = larger(change, fabs(v - x[i]) / (1e-5 + x[i]));
            x[i] =
                (sweep < 12)
                    ? v
                    : 0.5 * (v + x[i]); /* late sweeps only when two species limit in turn: damp */
        }
    }
    all_rates(plan, k, K, s->T, x, nox, back, o);
}

/* No species may be overdrawn where the sweeps stopped short: all extents shrink together, so
 * elements still balance. */
static void limit_extents(const struct emb_surface_plan *plan, const double *n, double N, double *r)
{
    double change[EMB_NGAS] = {0.0}, keep = 1.0;
    for (size_t j = 0; j < plan->set->n; j++) {
        for (int i = 0; i < plan->term[j].n; i++) {
            change[plan->term[j].species[i]] += plan->term[j].nu[i] * r[j];
        }
    }
    for (int a = 0; a < plan->n_active; a++) {
        const int i = plan->active[a];
        if (n[i] + change[i] < -1e-7 * N) { /* less is the tolerance of the sweeps */
            keep = smaller(keep, larger(n[i], 0.0) / -change[i]);
        }
    }
    for (size_t j = 0; keep < 1.0 && j < plan->set->n; j++) {
        r[j] *= keep;
    }
}

double emb_surface_react(const struct emb_surface_plan *plan, const struct emb_surface *s,
                         double n[EMB_NSPECIES])
{
    const struct emb_reaction_set *set = plan->set;
    double N = 0.0, x_in[EMB_NGAS], x[EMB_NGAS], k[EMB_MAX_REACTIONS];
    struct rates o;
    for (int i = 0; i < EMB_NGAS; i++) {
        N += n[i];
    }
    for (int i = 0; i < EMB_NGAS; i++) {
        x_in[i] = x[i] = larger(n[i] / N, 0.0);
    }
    rate_constants(set, s, k);
    solve_surface(plan, s, k, N, x_in, x, &o);
    limit_extents(plan, n, N, o.r);
    double stored = 0.0;
    for (size_t j = 0; j < set->n; j++) {
        for (int i = 0; i < EMB_NSPECIES; i++) {
            n[i] += set->r[j].nu[i] * o.r[j];
        }
        stored += set->r[j].nu_store * o.r[j];
    }
    return stored;
}
