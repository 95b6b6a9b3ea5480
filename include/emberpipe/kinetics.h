/* kinetics.h - reaction sets as data, and what a piece of catalyst does to the gas that passes it.
 *
 * Rate of reaction j, per volume of coated brick [mol/(m3 s)]:
 *   r = A exp(-E (1 - alpha theta) / (R T)) x_key x_other^order S / G
 * x mole fractions at the surface [-]; S = 1, theta, or (1 - theta) for stored NH3; G the
 * inhibition of Voltz et al. for reactions marked so. A reversible reaction is bounded by its
 * equilibrium. */
#ifndef EMB_KINETICS_H
#define EMB_KINETICS_H
#include <stdbool.h>
#include <stddef.h>
#include "emberpipe/case.h"
#include "emberpipe/gas.h"

enum { EMB_MAX_REACTIONS = 12 };
struct emb_reaction {
    const char *name;
    double nu[EMB_NSPECIES]; /* [-] stoichiometric coefficients, < 0 consumed */
    double nu_store;         /* [-] change of stored NH3 */
    int key;                 /* species of first order; -1: none */
    int other;               /* second species; -1: none */
    double order;            /* [-] of the second species */
    double A, E;             /* [mol/(m3 s)], [J/mol] */
    double alpha;            /* [-] coverage dependence of E (Temkin) */
    int store;               /* 0 none, +1 proportional to theta, -1 to 1 - theta */
    bool per_site;           /* A is [1/s] per stored mol: multiply with the site density */
    bool inhibited;          /* divide by G */
    bool reversible;         /* NO + 1/2 O2 = NO2 only: bounded by equilibrium */
};
struct emb_reaction_set {
    const char *name, *source;
    size_t n;
    struct emb_reaction r[EMB_MAX_REACTIONS];
};

/* NULL for EMB_KIN_NONE. */
const struct emb_reaction_set *emb_reaction_set_get(enum emb_kinetics kind);
/* Largest element imbalance of a reaction [mol]; *element gets its index. Stored NH3 counts as NH3.
 */
double emb_reaction_imbalance(const struct emb_reaction *r, int *element);
/* Heat of adsorption of NH3 at coverage theta: E0 (1 - alpha theta) of the set's desorption
 * [J/mol]; 0 without storage */
void emb_reaction_set_storage(const struct emb_reaction_set *s, double *E0, double *alpha);

struct emb_surface {
    double T, p;   /* [K], [Pa] of the surface */
    double volume; /* [m3] active brick volume in this cell (activity and open share included) */
    double sites;  /* [mol/m3] NH3 site density */
    double theta;  /* [-] coverage */
    double transfer[EMB_NGAS]; /* [mol/s] film coefficient x area x total concentration; INFINITY:
                                  no film */
};
/* What a sweep over a set needs, worked out once: which species take part, and each reaction's own
 * terms. */
struct emb_surface_plan {
    const struct emb_reaction_set *set; /* NULL: nothing reacts */
    int n_active, active[EMB_NGAS];     /* species whose surface fraction matters */
    struct {
        int n, species[6];
        double nu[6];
    } term[EMB_MAX_REACTIONS]; /* active species of each reaction */
};
void emb_surface_plan_init(struct emb_surface_plan *p, const struct emb_reaction_set *set);

/* Reacts the flow n [mol/s] in place over one cell: exact exponentials along the cell, film and
 * surface in series, surface mole fractions consistent with the rates. Returns the net rate of
 * stored NH3 [mol/s]. */
double emb_surface_react(const struct emb_surface_plan *plan, const struct emb_surface *s,
                         double n[EMB_NSPECIES]);
/* Inhibition term of Voltz et al. 1973 as used by Oh & Cavendish 1982, T included [K]. */
double emb_inhibition(double T, double co, double hc, double no);
#endif
