/* surface_plan.c - which species of a reaction set have to be solved for at the surface, and how.
 */
#include <math.h>

#include "emberpipe/kinetics.h"

static bool inhibits(const struct emb_reaction_set *set, int k)
{
    for (size_t i = 0; i < set->n_inhibition; i++) {
        for (int f = 0; f < set->inhibition[i].n; f++) {
            for (int a = 0; a < set->inhibition[i].factor[f].n; a++) {
                const struct emb_addend *d = &set->inhibition[i].factor[f].addend[a];
                for (int p = 0; p < d->n_power; p++) {
                    const int x = d->power[p].x;
                    if (x == k || (x >= EMB_LUMP && set->lump[x - EMB_LUMP].weight[k] != 0.0)) {
                        return true;
                    }
                }
            }
        }
    }
    return false;
}

/* In how many rate laws does species k appear? */
static int appearances(const struct emb_reaction_set *set, int k)
{
    int n = 0;
    for (size_t j = 0; j < set->n; j++) {
        for (int p = 0; p < set->r[j].n_power; p++) {
            n += set->r[j].power[p].x == k;
        }
    }
    return n;
}

static bool follows(const struct emb_reaction_set *set, int k)
{
    for (size_t j = 0; j < set->n; j++) {
        if (set->r[j].reversible && set->r[j].nu[k] != 0.0) {
            return true; /* NO2, the partner of NO */
        }
    }
    return appearances(set, k) > 0;
}

static void add_active(struct emb_surface_plan *p, int k)
{
    p->place[k] = p->n_active;
    p->active[p->n_active++] = k;
}

/* ---- values ---- */

static int one(const struct emb_surface_plan *p)
{
    return p->n_active + (int)p->set->n_lump + EMB_MAX_RAISED;
}

/* Number of the value that stands for a power; it joins the list if it is not there yet. */
static int value_of(struct emb_surface_plan *p, const struct emb_power *w)
{
    const int of = w->x < EMB_LUMP ? p->place[w->x] : p->n_active + w->x - EMB_LUMP;
    const int first = p->n_active + (int)p->set->n_lump;
    if (w->order == 1.0) {
        return of;
    }
    for (int i = 0; i < p->n_raised; i++) {
        if (p->raised[i].of == of && p->raised[i].order == w->order) {
            return first + i;
        }
    }
    p->raised[p->n_raised] = (struct emb_surface_raised){of, w->order};
    return first + p->n_raised++;
}

static void add_product(struct emb_surface_plan *p, size_t j)
{
    const struct emb_reaction *r = &p->set->r[j];
    p->rate[j].n = r->n_power;
    p->rate[j].group = r->inhibited;
    for (int q = 0; q < EMB_MAX_POWERS; q++) {
        p->rate[j].value[q] = q < r->n_power ? value_of(p, &r->power[q]) : one(p);
    }
}

static void add_inhibition(struct emb_surface_plan *p, size_t i)
{
    const struct emb_inhibition *g = &p->set->inhibition[i];
    for (int f = 0; f < g->n; f++) {
        for (int a = 0; a < g->factor[f].n; a++) {
            const struct emb_addend *d = &g->factor[f].addend[a];
            for (int q = 0; q < 2; q++) {
                p->addend[i][f][a][q] = q < d->n_power ? value_of(p, &d->power[q]) : one(p);
            }
        }
    }
}

static void add_values(struct emb_surface_plan *p)
{
    const int first = p->n_active + (int)p->set->n_lump;
    for (size_t l = 0; l < p->set->n_lump; l++) {
        for (int a = 0; a < p->n_active; a++) {
            p->lump[l][a] = p->set->lump[l].weight[p->active[a]];
        }
    }
    for (size_t j = 0; j < p->set->n; j++) {
        add_product(p, j);
    }
    p->n_raised_in_rates = p->n_raised;
    for (size_t i = 0; i < p->set->n_inhibition; i++) {
        add_inhibition(p, i);
    }
    for (int v = 0; v < EMB_MAX_VALUES; v++) {
        p->made_of[v] = v < first ? v : v < first + p->n_raised ? p->raised[v - first].of : -1;
    }
}

/* ---- fluxes ---- */

static void add_term(struct emb_surface_terms *t, size_t reaction, int to, double nu)
{
    if (nu > 0.0) {
        t->term[t->n++] = (struct emb_surface_term){(int)reaction, to, nu};
    }
}

static void list_terms(struct emb_surface_plan *p, size_t j)
{
    const struct emb_reaction *r = &p->set->r[j];
    for (int k = 0; k < EMB_NSPECIES; k++) {
        if (r->nu[k] != 0.0) {
            p->change.term[p->change.n++] = (struct emb_surface_term){(int)j, k, r->nu[k]};
        }
        if (k < EMB_NGAS && p->place[k] >= 0 && !r->reversible) {
            add_term(&p->sink, j, p->place[k], -r->nu[k]);
            add_term(&p->source, j, p->place[k], r->nu[k]);
        }
    }
}

static bool follower(const struct emb_surface_plan *p, int k)
{
    return p->place[k] >= p->n_coupled;
}

/* Does one pass leave followers unsettled: since a law is not straight in its follower, or since a
 * reaction of one follower makes another? */
static bool chains(const struct emb_surface_plan *p, const struct emb_reaction *r)
{
    for (int q = 0; q < r->n_power; q++) {
        const int from = r->power[q].x;
        if (from >= EMB_NGAS || !follower(p, from)) {
            continue;
        }
        if (r->power[q].order != 1.0) {
            return true;
        }
        for (int k = 0; k < EMB_NGAS; k++) {
            if (k != from && r->nu[k] != 0.0 && follower(p, k)) {
                return true;
            }
        }
    }
    return false;
}

static void choose_active(struct emb_surface_plan *p)
{
    for (int k = 0; k < EMB_NGAS; k++) {
        p->place[k] = -1;
    }
    for (int k = 0; k < EMB_NGAS; k++) {
        if (appearances(p->set, k) > 1 || inhibits(p->set, k)) {
            add_active(p, k);
        }
    }
    p->n_coupled = p->n_active;
    for (int k = 0; k < EMB_NGAS; k++) {
        if (p->place[k] < 0 && follows(p->set, k)) {
            add_active(p, k);
        }
    }
}

void emb_surface_plan_init(struct emb_surface_plan *p, const struct emb_reaction_set *set)
{
    *p = (struct emb_surface_plan){.set = set, .reversible = -1};
    if (set == NULL) {
        return;
    }
    choose_active(p);
    add_values(p);
    for (size_t j = 0; j < set->n; j++) {
        list_terms(p, j);
        p->reversible = set->r[j].reversible ? (int)j : p->reversible;
        p->chained = p->chained || chains(p, &set->r[j]);
    }
    for (int a = 0; p->reversible >= 0 && a < p->n_active; a++) {
        if (set->r[p->reversible].nu[p->active[a]] != 0.0) {
            p->turned[p->n_turned++] = a;
        }
    }
    p->no = p->place[EMB_NO];
}

unsigned emb_surface_listens(const struct emb_surface_plan *p)
{
    unsigned bits = 0;
    for (int a = 0; a < p->n_active; a++) {
        bits |= 1u << p->active[a];
    }
    return bits;
}
