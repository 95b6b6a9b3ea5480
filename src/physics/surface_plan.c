/* surface_plan.c - which species of a reaction set have to be solved for at the surface, and how. */
#include <math.h>

#include "emberpipe/kinetics.h"
#include "gauss.h"

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

static void add_terms(struct emb_surface_plan *p, int j)
{
    const struct emb_reaction *r = &p->set->r[j];
    if (r->reversible) {
        p->reversible = j;
        return;
    }
    for (int k = 0; k < EMB_NGAS; k++) {
        const struct emb_surface_term t = {j, k, fabs(r->nu[k])};
        if (p->place[k] >= 0 && r->nu[k] < 0.0) {
            p->sink[p->n_sink++] = t;
        } else if (p->place[k] >= 0 && r->nu[k] > 0.0) {
            p->source[p->n_source++] = t;
        }
    }
}

/* Does one pass leave followers unsettled: since a law is not straight in its follower, or since a
 * reaction of one follower makes another? */
static bool chains(const struct emb_surface_plan *p, const struct emb_reaction *r)
{
    for (int q = 0; q < r->n_power; q++) {
        const int from = r->power[q].x;
        if (from >= EMB_NGAS || p->place[from] < 0 || p->rank[from] >= 0) {
            continue;
        }
        if (r->power[q].order != 1.0) {
            return true;
        }
        for (int k = 0; k < EMB_NGAS; k++) {
            if (k != from && r->nu[k] != 0.0 && p->place[k] >= 0 && p->rank[k] < 0) {
                return true;
            }
        }
    }
    return false;
}

void emb_surface_plan_init(struct emb_surface_plan *p, const struct emb_reaction_set *set)
{
    *p = (struct emb_surface_plan){.set = set, .reversible = -1};
    for (int k = 0; k < EMB_NX; k++) {
        p->rank[k] = p->place[k] = -1;
    }
    for (int k = 0; set != NULL && k < EMB_NGAS && p->n_coupled < EMB_SMALL; k++) {
        if (appearances(set, k) > 1 || inhibits(set, k)) {
            p->rank[k] = p->n_coupled++;
            add_active(p, k);
        }
    }
    for (int k = 0; set != NULL && k < EMB_NGAS; k++) {
        if (p->rank[k] < 0 && follows(set, k)) {
            add_active(p, k);
        }
    }
    for (size_t j = 0; set != NULL && j < set->n; j++) {
        add_terms(p, (int)j);
        p->chained = p->chained || chains(p, &set->r[j]);
    }
}

unsigned emb_surface_listens(const struct emb_surface_plan *p)
{
    unsigned bits = 0;
    for (int a = 0; a < p->n_active; a++) {
        bits |= 1u << p->active[a];
    }
    return bits;
}

