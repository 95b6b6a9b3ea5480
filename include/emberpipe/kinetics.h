/* kinetics.h - reaction sets as data, and what a piece of catalyst does to the gas that passes it.
 *
 * Rate of reaction j, per volume of coated brick [mol/(m3 s)]:
 *   r = A exp(-E (1 - alpha theta) / (R T)) S product(x_i^order_i) / G
 * with x the mole fractions at the surface [-]; S = 1, theta, or 1 - theta for stored NH3; and
 *   G = T^t product over factors of (1 + sum of K exp(-E/RT) x_a^p x_b^q)^power
 * the inhibition group that the reaction names, if any (Langmuir-Hinshelwood). A group may count
 * several species as one: a lump, such as "hydrocarbon molecules". */
#ifndef EMB_KINETICS_H
#define EMB_KINETICS_H
#include <stdbool.h>
#include <stddef.h>
#include "emberpipe/case.h"
#include "emberpipe/gas.h"

enum {
    EMB_MAX_REACTIONS = 12,
    EMB_MAX_POWERS = 3,
    EMB_MAX_LUMPS = 2,
    EMB_MAX_ADDENDS = 3,
    EMB_MAX_FACTORS = 4,
    EMB_MAX_INHIBITIONS = 2,
    EMB_LUMP = EMB_NGAS, /* index of the first lump in a struct emb_power */
    EMB_NX = EMB_NGAS + EMB_MAX_LUMPS
};
struct emb_power { /* x^order */
    int x;         /* gas species, or EMB_LUMP + number of a lump */
    double order;  /* [-] > 0 */
};
struct emb_reaction {
    char name[48];
    double nu[EMB_NSPECIES]; /* [-] stoichiometric coefficients, < 0 consumed */
    double nu_store;         /* [-] change of stored NH3 */
    int n_power;
    struct emb_power power[EMB_MAX_POWERS];
    double A, E;            /* [mol/(m3 s)], [J/mol] */
    double alpha;           /* [-] coverage dependence of E (Temkin) */
    int store;              /* 0 none, +1 proportional to theta, -1 to 1 - theta */
    bool per_site;          /* A is [1/s] per stored mol: multiply with the site density */
    bool per_concentration; /* A is per mol/m3 of its one gas: multiply with p/(R T) */
    int inhibited;          /* 0 no, else divide by group number 1 .. n_inhibition */
    bool reversible;        /* NO + 1/2 O2 = NO2 only: bounded by equilibrium */
};
struct emb_addend {
    double K, E; /* [-] per product of mole fractions, [J/mol]; K exp(-E/RT), E < 0 adsorbs */
    int n_power;
    struct emb_power power[2];
};
struct emb_factor {
    double power; /* [-] of the bracket */
    int n;
    struct emb_addend addend[EMB_MAX_ADDENDS];
};
struct emb_inhibition {
    double T_power; /* [-] */
    int n;
    struct emb_factor factor[EMB_MAX_FACTORS];
};
struct emb_lump {
    char name[24];
    double weight[EMB_NGAS]; /* [-] */
};
struct emb_reaction_set {
    char name[48], source[200];
    size_t n;
    struct emb_reaction r[EMB_MAX_REACTIONS];
    size_t n_inhibition;
    struct emb_inhibition inhibition[EMB_MAX_INHIBITIONS];
    size_t n_lump;
    struct emb_lump lump[EMB_MAX_LUMPS];
};

/* NULL for EMB_KIN_NONE. */
const struct emb_reaction_set *emb_reaction_set_get(enum emb_kinetics kind);
/* Largest element imbalance of a reaction [mol]; *element gets its index. Stored NH3 counts as NH3.
 */
double emb_reaction_imbalance(const struct emb_reaction *r, int *element);
/* Heat of adsorption of NH3 at coverage theta: E0 (1 - alpha theta) of the set's desorption
 * [J/mol]; 0 without storage */
void emb_reaction_set_storage(const struct emb_reaction_set *s, double *E0, double *alpha);
/* Group `i` (from 0) of a set at T [K] and mole fractions x [-] (length EMB_NGAS). */
double emb_inhibition_value(const struct emb_reaction_set *s, size_t i, double T, const double *x);

/* Where to start looking for the surface: the answer a moment ago. It saves most of the search, and
 * where two answers exist, an ignited and an inhibited one, it keeps to the one the cell was on.
 * Mole fractions at the surface are kept as shares of those in the flow (plus 1e-6): these change
 * less when the engine does. */
struct emb_surface_hint {
    bool known;         /* false: start from the bulk */
    double x[EMB_NGAS]; /* [-] shares to start from */
    bool answered;
    double answer[EMB_NGAS]; /* [-] left here by every search */
};
struct emb_surface {
    double T, p;   /* [K], [Pa] of the surface */
    double volume; /* [m3] active brick volume in this cell (activity and open share included) */
    double sites;  /* [mol/m3] NH3 site density */
    double theta;  /* [-] coverage */
    double transfer[EMB_NGAS]; /* [mol/s] film coefficient x area x total concentration; INFINITY:
                                  no film */
    struct emb_surface_hint *hint; /* NULL: start from the bulk */
    double close; /* [-] the search ends with a step so small, whose square is left; 0: 1e-5 */
    const struct emb_law *law; /* of a surface that differs in volume and gas alone; NULL: none */
};
/* What the solver needs of a set, worked out once. Active species are those whose surface fraction
 * matters: first those that others depend on (coupled: solved together), then those that only their
 * own reaction depends on (they follow). A species' place is its number among the active.
 *
 * Rates are products of values, numbered like this: mole fractions by place, lumps, powers other
 * than one of these (each once, however many laws it is in), and last a plain one, which fills up
 * short products so that no loop asks how long they are. */
enum {
    EMB_MAX_RAISED = EMB_MAX_REACTIONS * EMB_MAX_POWERS +
                     EMB_MAX_INHIBITIONS * EMB_MAX_FACTORS * EMB_MAX_ADDENDS * 2,
    EMB_MAX_VALUES = EMB_NX + EMB_MAX_RAISED + 1
};
struct emb_surface_terms { /* what reactions do to species or places, without the zeros */
    int n;
    struct emb_surface_term {
        int reaction, to;
        double nu; /* [-] */
    } term[EMB_MAX_REACTIONS * EMB_NSPECIES];
};
struct emb_surface_plan {
    const struct emb_reaction_set *set; /* NULL: nothing reacts */
    int n_coupled, n_active, active[EMB_NGAS];
    int place[EMB_NGAS];             /* or -1 */
    int no;                          /* place of NO where a reaction runs back */
    int n_raised_in_rates, n_raised; /* those that rates need come first */
    struct emb_surface_raised {
        int of; /* place or lump */
        double order;
    } raised[EMB_MAX_RAISED];
    int made_of[EMB_MAX_VALUES];          /* place or lump; -1: nothing */
    double lump[EMB_MAX_LUMPS][EMB_NGAS]; /* [-] weights, by place */
    struct emb_surface_product { /* a rate: its values, of which the first n are no plain ones */
        int value[EMB_MAX_POWERS], n, group;
    } rate[EMB_MAX_REACTIONS];
    int addend[EMB_MAX_INHIBITIONS][EMB_MAX_FACTORS][EMB_MAX_ADDENDS][2];
    struct emb_surface_terms sink, source; /* what irreversible reactions do to active species */
    struct emb_surface_terms change;       /* what all reactions do to all species, by species */
    int reversible;                        /* the one reaction that may run back, or -1 */
    int n_turned, turned[EMB_NGAS];        /* places of what it changes */
    bool chained;                          /* followers need more than one pass to settle */
};
/* What the laws of a set do not owe to the gas: T, p, sites and theta of the surface tell it. */
struct emb_law {
    const struct emb_surface_plan *plan;
    double k[EMB_MAX_REACTIONS];                                     /* [mol/(m3 s)] */
    double K[EMB_MAX_INHIBITIONS][EMB_MAX_FACTORS][EMB_MAX_ADDENDS]; /* [-] */
    double T_power[EMB_MAX_INHIBITIONS];                             /* [K^t] */
    double back; /* [-] reverse over forward rate of NO oxidation, per mole fractions */
};
void emb_law_init(struct emb_law *l, const struct emb_surface_plan *plan,
                  const struct emb_surface *s);
/* Bit k: species k takes part. */
unsigned emb_surface_listens(const struct emb_surface_plan *p);
void emb_surface_plan_init(struct emb_surface_plan *p, const struct emb_reaction_set *set);

/* Reacts the flow n [mol/s] in place over one cell: exact exponentials along the cell, film and
 * surface in series, surface mole fractions consistent with the rates. Returns the net rate of
 * stored NH3 [mol/s]. */
double emb_surface_react(const struct emb_surface_plan *plan, const struct emb_surface *s,
                         double n[EMB_NSPECIES]);
#endif
