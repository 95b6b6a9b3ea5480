#include "law.h"

#include <math.h>

#include "emberpipe/equilibrium.h"

/* A power below one has no slope at zero and would make a vanishing species react at once: below a
 * part in 1e9 the law goes over into first order. */
static const double floor_x = 1e-9; /* [-] */
static const double tiny = 1e-30;   /* [-] against division by nothing */

/* ---- what depends on temperature and coverage ---- */

static double arrhenius(const struct emb_reaction *r, const struct emb_surface *s, double inv_RT)
{
    return r->E != 0.0 ? exp(-r->E * (1.0 - r->alpha * s->theta) * inv_RT) : 1.0;
}

static double reaction_constant(const struct emb_reaction *r, const struct emb_surface *s,
                                double factor, double inv_RT)
{
    double v = r->A * factor;
    if (r->per_site) {
        v *= s->sites;
    }
    if (r->per_concentration) {
        v *= s->p * inv_RT;
    }
    if (r->store > 0) {
        v *= s->theta;
    } else if (r->store < 0) {
        v *= fmax(1.0 - s->theta, 0.0); /* an overshoot past full only lets go */
    }
    return v;
}

static void group_constants(const struct emb_inhibition *g, double T, size_t i, struct emb_law *l)
{
    const double inv_RT = 1.0 / (EMB_R * T); /* [mol/J] */
    l->T_power[i] = g->T_power == 0.0 ? 1.0 : g->T_power == 1.0 ? T : pow(T, g->T_power);
    for (int f = 0; f < g->n; f++) {
        for (int a = 0; a < g->factor[f].n; a++) {
            const struct emb_addend *d = &g->factor[f].addend[a];
            /* addends of one bracket often share their constant: species counted by weight */
            l->K[i][f][a] = (a > 0 && d->E == d[-1].E) ? l->K[i][f][a - 1] / d[-1].K * d->K
                                                       : d->K * exp(-d->E * inv_RT);
        }
    }
}

void emb_law_init(struct emb_law *l, const struct emb_surface_plan *plan,
                  const struct emb_surface *s)
{
    const struct emb_reaction_set *set = plan->set;
    const double inv_RT = 1.0 / (EMB_R * s->T); /* [mol/J] */
    double factor = 1.0;                        /* [-] */
    l->plan = plan;
    l->back = 0.0;
    for (size_t j = 0; j < set->n; j++) {
        const struct emb_reaction *r = &set->r[j];
        /* neighbours in a set often share their activation energy */
        if (j == 0 || r->E != r[-1].E || r->alpha != r[-1].alpha) {
            factor = arrhenius(r, s, inv_RT);
        }
        l->k[j] = reaction_constant(r, s, factor, inv_RT);
    }
    if (plan->reversible >= 0) {
        l->back = 1.0 / (emb_kp_no2(s->T) * sqrt(s->p / 1e5));
    }
    for (size_t i = 0; i < set->n_inhibition; i++) {
        group_constants(&set->inhibition[i], s->T, i, l);
    }
}

/* ---- what depends on the gas ---- */

static void fill_lumps(const struct emb_surface_plan *p, struct emb_rates *o)
{
    for (size_t l = 0; l < p->set->n_lump; l++) {
        double sum = 0.0; /* [-] */
        for (int a = 0; a < p->n_active; a++) {
            sum += p->lump[l][a] * o->value[a];
        }
        o->value[p->n_active + (int)l] = sum;
    }
}

/* x^order and its slope, given 1/x */
static void raise(double x, double inv, double order, double *value, double *slope)
{
    const double y = x + floor_x > 0.0 ? x + floor_x : floor_x; /* [-] */
    if (order == 2.0) {
        *value = x * x;
        *slope = 2.0 * inv;
    } else if (order == 0.5) {
        *value = x / sqrt(y);
        *slope = inv - 0.5 / y;
    } else {
        *value = x * pow(y, order - 1.0);
        *slope = inv + (order - 1.0) / y;
    }
}

static void raise_first(const struct emb_surface_plan *p, int n, struct emb_rates *o)
{
    const int first = p->n_active + (int)p->set->n_lump;
    for (int i = 0; i < n; i++) {
        const int of = p->raised[i].of;
        raise(o->value[of], o->slope[of], p->raised[i].order, &o->value[first + i],
              &o->slope[first + i]);
    }
}

void emb_law_values(const struct emb_law *l, struct emb_rates *o)
{
    const struct emb_surface_plan *p = l->plan;
    const int first = p->n_active + (int)p->set->n_lump, one = EMB_MAX_RAISED + first;
    fill_lumps(p, o);
    for (int v = 0; v < first; v++) {
        o->slope[v] = 1.0 / (o->value[v] > tiny ? o->value[v] : tiny);
    }
    raise_first(p, p->n_raised, o);
    o->value[one] = 1.0;
    o->slope[one] = 0.0;
}

void emb_law_raise(const struct emb_law *l, struct emb_rates *o)
{
    raise_first(l->plan, l->plan->n_raised_in_rates, o);
}

/* One bracket to its power; its slopes are added to those of its group, lumps behind the places. */
static double bracket(const struct emb_law *l, size_t i, int f, const struct emb_rates *o,
                      double *dlnG)
{
    const struct emb_factor *b = &l->plan->set->inhibition[i].factor[f];
    double sum = 1.0, term[EMB_MAX_ADDENDS]; /* [-] */
    for (int a = 0; a < b->n; a++) {
        const int *v = l->plan->addend[i][f][a];
        term[a] = l->K[i][f][a] * o->value[v[0]] * o->value[v[1]];
        sum += term[a];
    }
    const double by = b->power / sum; /* [-] */
    for (int a = 0; a < b->n; a++) {
        for (int q = 0; q < 2; q++) {
            const int v = l->plan->addend[i][f][a][q], of = l->plan->made_of[v];
            if (of >= 0) {
                dlnG[of] += by * term[a] * o->slope[v];
            }
        }
    }
    return b->power == 1.0 ? sum : b->power == 2.0 ? sum * sum : pow(sum, b->power);
}

static void group_value(const struct emb_law *l, size_t i, struct emb_rates *o)
{
    const struct emb_surface_plan *p = l->plan;
    double G = l->T_power[i], *dlnG = o->dlnG[i]; /* [K^t], [-] */
    for (int k = 0; k < EMB_NX; k++) {
        dlnG[k] = 0.0;
    }
    for (int f = 0; f < p->set->inhibition[i].n; f++) {
        G *= bracket(l, i, f, o, dlnG);
    }
    o->by_G[1 + i] = o->volume / G;
    for (int m = 0; m < (int)p->set->n_lump; m++) {
        for (int a = 0; a < p->n_coupled; a++) { /* followers do not inhibit */
            dlnG[a] += p->lump[m][a] * dlnG[p->n_active + m];
        }
    }
}

void emb_law_groups(const struct emb_law *l, struct emb_rates *o)
{
    o->by_G[0] = o->volume;
    for (size_t i = 0; i < l->plan->set->n_inhibition; i++) {
        group_value(l, i, o);
    }
}

void emb_law_rates(const struct emb_law *l, struct emb_rates *o)
{
    const struct emb_surface_plan *p = l->plan;
    for (size_t j = 0; j < p->set->n; j++) {
        const struct emb_surface_product *f = &p->rate[j];
        o->v[j] = o->r[j] = (l->k[j] * o->by_G[f->group]) *
                            (o->value[f->value[0]] * o->value[f->value[1]] * o->value[f->value[2]]);
    }
    if (p->reversible >= 0) {
        /* NO relaxes towards its equilibrium with the NOx that is there: both directions at once */
        const int j = p->reversible;
        o->r[j] -= o->volume * l->k[j] * l->back * (o->nox - o->value[p->no]);
    }
}

double emb_inhibition_value(const struct emb_reaction_set *s, size_t i, double T, const double *x)
{
    struct emb_surface_plan p;
    struct emb_law l = {.plan = &p};
    struct emb_rates o = {.volume = 1.0};
    emb_surface_plan_init(&p, s);
    for (int a = 0; a < p.n_active; a++) {
        o.value[a] = x[p.active[a]];
    }
    group_constants(&s->inhibition[i], T, i, &l);
    emb_law_values(&l, &o);
    group_value(&l, i, &o);
    return 1.0 / o.by_G[1 + i];
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
