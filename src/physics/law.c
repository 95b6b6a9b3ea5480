#include "law.h"

#include <math.h>

#include "emberpipe/equilibrium.h"
#include "emberpipe/smooth.h"

/* A power below one has no slope at zero and would make a vanishing species react at once: below a
 * part in 1e9 the law goes over into first order. */
static const double floor_x = 1e-9; /* [-] */

static double power_of(double x, double order)
{
    if (order == 1.0) {
        return x;
    }
    if (order == 2.0) {
        return x * x;
    }
    const double y = x + floor_x; /* [-] */
    return order == 0.5 ? x / sqrt(y) : x * pow(y > 0.0 ? y : floor_x, order - 1.0);
}

double emb_law_log_slope(double x, double order)
{
    const double first = 1.0 / (x > 1e-30 ? x : 1e-30);
    return order == 1.0 ? first : first + (order - 1.0) / (x + floor_x);
}

static void fill_lumps(const struct emb_reaction_set *s, double *x)
{
    for (size_t l = 0; l < s->n_lump; l++) {
        double sum = 0.0; /* [-] */
        for (int k = 0; k < EMB_NGAS; k++) {
            sum += s->lump[l].weight[k] * x[k];
        }
        x[EMB_LUMP + l] = sum;
    }
}

static double reaction_constant(const struct emb_reaction *r, const struct emb_surface *s)
{
    const double E = r->E * (1.0 - r->alpha * s->theta);
    double v = r->A * s->volume * (E != 0.0 ? exp(-E / (EMB_R * s->T)) : 1.0);
    if (r->per_site) {
        v *= s->sites;
    }
    if (r->per_concentration) {
        v *= s->p / (EMB_R * s->T);
    }
    if (r->store > 0) {
        v *= emb_smooth_drain(s->theta, 1e-5);
    } else if (r->store < 0) {
        v *= 1.0 - s->theta;
    }
    return v;
}

static void group_constants(const struct emb_inhibition *g, double T, size_t i, struct emb_law *l)
{
    l->T_power[i] = g->T_power == 0.0 ? 1.0 : g->T_power == 1.0 ? T : pow(T, g->T_power);
    for (int f = 0; f < g->n; f++) {
        for (int a = 0; a < g->factor[f].n; a++) {
            const struct emb_addend *d = &g->factor[f].addend[a];
            /* addends of one bracket often share their constant: species counted by weight */
            l->K[i][f][a] = (a > 0 && d->E == d[-1].E) ? l->K[i][f][a - 1] / d[-1].K * d->K
                                                       : d->K * exp(-d->E / (EMB_R * T));
        }
    }
}

void emb_law_init(struct emb_law *l, const struct emb_reaction_set *set,
                  const struct emb_surface *s, const double *x)
{
    l->set = set;
    l->back = l->nox = 0.0;
    for (size_t j = 0; j < set->n; j++) {
        l->k[j] = reaction_constant(&set->r[j], s);
        if (set->r[j].reversible) {
            l->back = 1.0 / (emb_kp_no2(s->T) * sqrt(s->p / 1e5));
            l->nox = x[EMB_NO] + x[EMB_NO2];
        }
    }
    for (size_t i = 0; i < set->n_inhibition; i++) {
        group_constants(&set->inhibition[i], s->T, i, l);
    }
}

static double bracket(const struct emb_factor *f, const double *K, const double *x, double *dlnG)
{
    double sum = 1.0, term[EMB_MAX_ADDENDS]; /* [-] */
    for (int a = 0; a < f->n; a++) {
        term[a] = K[a];
        for (int p = 0; p < f->addend[a].n_power; p++) {
            term[a] *= power_of(x[f->addend[a].power[p].x], f->addend[a].power[p].order);
        }
        sum += term[a];
    }
    for (int a = 0; a < f->n; a++) {
        for (int p = 0; p < f->addend[a].n_power; p++) {
            const struct emb_power *w = &f->addend[a].power[p];
            dlnG[w->x] += f->power * term[a] / sum * emb_law_log_slope(x[w->x], w->order);
        }
    }
    return f->power == 1.0 ? sum : f->power == 2.0 ? sum * sum : pow(sum, f->power);
}

static void group_value(const struct emb_law *l, size_t i, const double *x, struct emb_rates *o)
{
    const struct emb_inhibition *g = &l->set->inhibition[i];
    double G = l->T_power[i]; /* [K^t] */
    for (int k = 0; k < EMB_NX; k++) {
        o->dlnG[i][k] = 0.0;
    }
    for (int f = 0; f < g->n; f++) {
        G *= bracket(&g->factor[f], l->K[i][f], x, o->dlnG[i]);
    }
    o->inv_G[i] = 1.0 / G;
    for (size_t m = 0; m < l->set->n_lump; m++) {
        for (int k = 0; k < EMB_NGAS; k++) {
            o->dlnG[i][k] += l->set->lump[m].weight[k] * o->dlnG[i][EMB_LUMP + m];
        }
    }
}

void emb_law_groups(const struct emb_law *l, double *x, struct emb_rates *o)
{
    if (l->set->n_inhibition > 0) {
        fill_lumps(l->set, x);
    }
    for (size_t i = 0; i < l->set->n_inhibition; i++) {
        group_value(l, i, x, o);
    }
}

void emb_law_rates(const struct emb_law *l, const double *x, struct emb_rates *o)
{
    for (size_t j = 0; j < l->set->n; j++) {
        const struct emb_reaction *r = &l->set->r[j];
        double v = l->k[j]; /* [mol/s] */
        if (r->inhibited > 0) {
            v *= o->inv_G[r->inhibited - 1];
        }
        for (int p = 0; p < r->n_power; p++) {
            v *= power_of(x[r->power[p].x], r->power[p].order);
        }
        o->v[j] = v;
        /* NO relaxes towards its equilibrium with the NOx that is there: both directions at once */
        o->r[j] = r->reversible ? v - l->k[j] * l->back * (l->nox - x[EMB_NO]) : v;
    }
}

double emb_inhibition_value(const struct emb_reaction_set *s, size_t i, double T, const double *x)
{
    struct emb_law l = {.set = s};
    struct emb_rates o;
    double full[EMB_NX] = {0.0}; /* [-] */
    for (int k = 0; k < EMB_NGAS; k++) {
        full[k] = x[k];
    }
    fill_lumps(s, full);
    group_constants(&s->inhibition[i], T, i, &l);
    group_value(&l, i, full, &o);
    return 1.0 / o.inv_G[i];
}

double emb_reaction_imbalance(const struct emb_reaction *r, int *element)
{
    double worst = 0.0; /* [mol] */
    for (int e = 0; e < EMB_NELEMENTS; e++) {
        double sum = r->nu_store * emb_species_elements(EMB_NH3)[e]; /* [mol] */
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
