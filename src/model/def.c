/* def.c - DEF doser: its water evaporates at once, a share of the urea wets the wall, melts, breaks
 * down, and in a thick or cold film turns into solids that only a hot wall gets rid of.
 * States: wetted wall temperature [K], urea film, biuret, cyanuric acid [mol].
 *
 *   urea -> NH3 + HNCO            urea + HNCO -> biuret, and back
 *   biuret + HNCO -> cyanuric acid + NH3            cyanuric acid -> 3 HNCO
 *
 * How much HNCO meets another molecule before it escapes grows with the depth of what lies on the
 * wall: half of it at `deposit_depth`, which is judgement. The three rates of breakdown and how the
 * caught HNCO divides are published (see the constants). */
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

#include "common.h"
#include "emberpipe/heat.h"
#include "emberpipe/inputs.h"
#include "emberpipe/smooth.h"

enum { WALL, UREA, BIURET, CYANURIC, N_STATE };

struct def {
    struct emb_def_cfg c;
    int channel;
};
static const double wall_cp = 460.0; /* [J/(kg K)] 409 stainless, mill data sheets (from memory) */
static const double urea_density = 1320.0; /* [kg/m3] solid urea, handbooks (from memory) */
static const double least = 1e-5;          /* [mol] below this a store counts as nearly empty */
/* [1/s] no store empties faster: judgement. The laws of breakdown go on to 1e7 1/s, where a film of
 * nothing at all would swing between making gas and taking it. */
static const double fastest = 10.0;
/* [-] how many times keener than urea on HNCO biuret may be: judgement. Above 320 degC, where the
 * law goes on to 1e4, hardly any is left. */
static const double keenest = 100.0;

/* The solids: biuret C2H5N3O2 is two urea less NH3, cyanuric acid C3H3N3O3 is three HNCO. Formation
 * enthalpies -563.7 and -703.5 kJ/mol, heat capacities 131 and 132 J/(mol K): NIST WebBook (from
 * memory). */
static double biuret_h(double T)
{
    return -563.7e3 + 131.0 * (T - EMB_T0);
}

static double cyanuric_h(double T)
{
    return -703.5e3 + 132.0 * (T - EMB_T0);
}

static double biuret_mass(void)
{
    return 2.0 * emb_species_mass(EMB_UREA) - emb_species_mass(EMB_NH3);
}

static double cyanuric_mass(void)
{
    return 3.0 * emb_species_mass(EMB_HNCO);
}

static void *def_prepare(const struct emb_element_cfg *e, const struct emb_case *k, int channel)
{
    struct def *p = malloc(sizeof *p);
    (void)k;
    if (p != NULL) {
        *p = (struct def){e->u.def, channel};
    }
    return p;
}

static void def_shape(const void *par, struct emb_shape *s)
{
    (void)par;
    *s = (struct emb_shape){0, 1, N_STATE, 0.0, false};
}

static void def_describe(const void *par, size_t i, struct emb_state_info *o)
{
    static const char *const name[N_STATE] = {"wetted wall temperature [K]", "urea film [mol]",
                                              "biuret [mol]", "cyanuric acid [mol]"};
    (void)par;
    snprintf(o->name, sizeof o->name, "%s", name[i]);
    o->atol = i == WALL ? 0.0 : 1e-8;
}

static void def_init(const void *par, double T0, double *y)
{
    (void)par;
    y[WALL] = T0;
    y[UREA] = y[BIURET] = y[CYANURIC] = 0.0;
}

/* DEF delivered [kg/s] once the gas is warm enough (rounded over 5 K): NH3 in proportion to the NOx
 * that passes, plus what the closed loop asks for. */
static double def_rate(const struct def *p, const struct emb_env *env, const struct emb_gas *g)
{
    const struct emb_def_cfg *c = &p->c;
    const double nox = g->n[EMB_NO] + g->n[EMB_NO2];                    /* [mol/s] */
    const double nh3 = c->ratio * nox + env->u[EMB_U_NH3 + p->channel]; /* [mol/s] */
    double want = 0.5 * nh3 * emb_species_mass(EMB_UREA) / c->strength; /* [kg/s] */
    if (c->control == EMB_DEF_CLOSED_LOOP) {
        want = emb_smooth_floor(want, 1e-3 * c->max_rate); /* it may ask for less than nothing */
    }
    const double rate = emb_smooth_cap(want, c->max_rate);
    const double s = fmin(fmax((g->T - c->enable_temperature) / 5.0, 0.0), 1.0);
    return c->delivery * rate * s * s * (3.0 - 2.0 * s);
}

static double def_feed_h(const struct emb_def_cfg *c)
{
    const double Mw = emb_species_mass(EMB_H2O), Mu = emb_species_mass(EMB_UREA),
                 T = c->fluid_temperature;
    return (1.0 - c->strength) / Mw * emb_water_liquid_h(T) +
           c->strength / Mu * emb_species_h(EMB_UREA, T);
}

static double breakdown(double A, double E, double T)
{
    const double k = A * exp(-E / (EMB_R * T)); /* [1/s] */
    return k / (1.0 + k / fastest);
}

struct film { /* [mol/s] */
    double nh3, hnco, dy[N_STATE];
};

/* What the film does by itself; y[UREA] and beyond not below zero. */
static struct film film_rates(const struct def *p, const double *y)
{
    const double T = y[WALL];
    const double u = y[UREA], b = y[BIURET], a = y[CYANURIC];
    /* 8.5e6 1/s, 84 kJ/mol; 1.5e19 1/s, 260 kJ/mol: Ebrahimian et al. 2012, and 1.107e20 1/s,
     * 208.23 kJ/mol: Brack et al. 2014; both in the tables of hindawi jchem 2019/6853638 */
    const double urea = u * breakdown(8.5e6, 84e3, T),
                 biuret = b * breakdown(1.107e20, 208.23e3, T),
                 cyanuric = a * breakdown(1.5e19, 260e3, T);
    const double mass = u * emb_species_mass(EMB_UREA) + b * biuret_mass() + a * cyanuric_mass();
    const double depth = mass / (urea_density * p->c.wall_area); /* [m] */
    const double caught = (urea + biuret) * depth / (depth + p->c.deposit_depth);
    /* biuret against urea as a partner of HNCO: 9.397e20 over 3.517e11, 158.68 less 75.45 kJ/mol,
     * Brack et al. 2014 (same table), orders taken as one */
    const double keener = 9.397e20 / 3.517e11 * exp(-(158.68e3 - 75.45e3) / (EMB_R * T));
    const double q = b * keener / (1.0 + keener / keenest);
    const double grow = caught * q / (u + q + least), join = caught - grow;
    return (struct film){urea + grow,
                         urea + biuret - caught + 3.0 * cyanuric,
                         {0.0, biuret - urea - join, join - biuret - grow, grow - cyanuric}};
}

/* The same for any y. An overshoot below empty is the mirror image of as much above, about what is
 * left without it: it heals as fast as it would have gone, no slope jumps for Newton, and elements
 * are kept. */
static struct film film_of(const struct def *p, const double *y)
{
    double left[N_STATE] = {[WALL] = y[WALL]}, above[N_STATE] = {[WALL] = y[WALL]};
    bool below = false;
    for (int i = UREA; i < N_STATE; i++) {
        left[i] = fmax(y[i], 0.0);
        above[i] = fabs(y[i]);
        below = below || y[i] < 0.0;
    }
    struct film f = film_rates(p, left);
    if (below) {
        const struct film m = film_rates(p, above);
        f.nh3 = 2.0 * f.nh3 - m.nh3;
        f.hnco = 2.0 * f.hnco - m.hnco;
        for (int i = UREA; i < N_STATE; i++) {
            f.dy[i] = 2.0 * f.dy[i] - m.dy[i];
        }
    }
    return f;
}

/* Energy of what lies on the wall [J, or W with rates]. */
static double film_heat(const double *y, double T)
{
    return y[UREA] * emb_species_h(EMB_UREA, T) + y[BIURET] * biuret_h(T) +
           y[CYANURIC] * cyanuric_h(T);
}

static void def_feed(const struct emb_def_cfg *c, struct emb_tally *t, double *water, double *urea)
{
    *water = t->def * (1.0 - c->strength) / emb_species_mass(EMB_H2O);
    *urea = t->def * c->strength / emb_species_mass(EMB_UREA);
    t->feed_H = t->def * def_feed_h(c);
    for (int k = 0; k < EMB_NELEMENTS; k++) {
        t->feed[k] =
            *water * emb_species_elements(EMB_H2O)[k] + *urea * emb_species_elements(EMB_UREA)[k];
    }
}

static void def_cell(const void *par, size_t i, const struct emb_env *env, const double *shared,
                     const double *y, const struct emb_stream *in, struct emb_stream *out,
                     double *dshared, double *d, struct emb_tally *t)
{
    const struct def *p = par;
    const struct emb_def_cfg *c = &p->c;
    struct emb_gas *g = &out->gas;
    struct emb_fold *fold = &out->heat;
    double water, urea; /* [mol/s] */
    (void)i;
    (void)shared;
    (void)dshared;
    *out = *in;
    t->def = def_rate(p, env, g);
    def_feed(c, t, &water, &urea);
    const double wall = urea * c->wall_share;
    const double h_wall = emb_species_h(EMB_UREA, c->fluid_temperature);
    const double H = emb_fold_enthalpy(fold, g) + t->feed_H - wall * h_wall;
    g->n[EMB_H2O] += water;
    g->n[EMB_UREA] += urea - wall;
    emb_gas_fold(g, fold);
    emb_fold_set_enthalpy(fold, g, H);
    const double cp = emb_fold_cp(fold, g), H0 = emb_fold_enthalpy(fold, g);
    emb_exchange(g, cp, y[WALL], 0.0, emb_pipe_conductance(g, cp, y[WALL], 0.1, c->wall_area, 1.5));
    const struct film f = film_of(p, y);
    g->n[EMB_NH3] += f.nh3;
    g->n[EMB_HNCO] += f.hnco;
    emb_gas_fold(g, fold);
    d[UREA] = wall + f.dy[UREA];
    d[BIURET] = f.dy[BIURET];
    d[CYANURIC] = f.dy[CYANURIC];
    t->capacity = c->wall_mass * wall_cp + y[UREA] * emb_species_cp(EMB_UREA, y[WALL]) +
                  y[BIURET] * 131.0 + y[CYANURIC] * 132.0;
    d[WALL] =
        (H0 - emb_fold_enthalpy(fold, g) + wall * h_wall - film_heat(d, y[WALL])) / t->capacity;
}

static void def_stock(const void *par, const double *y, struct emb_stock *o)
{
    const struct def *p = par;
    const double *u = emb_species_elements(EMB_UREA), *a = emb_species_elements(EMB_NH3),
                 *h = emb_species_elements(EMB_HNCO);
    o->energy += p->c.wall_mass * wall_cp * (y[WALL] - EMB_T0) + film_heat(y, y[WALL]);
    for (int k = 0; k < EMB_NELEMENTS; k++) {
        o->el[k] += y[UREA] * u[k] + y[BIURET] * (2.0 * u[k] - a[k]) + y[CYANURIC] * 3.0 * h[k];
    }
}

static const struct emb_observation def_obs[] = {
    {"rate", "kg/s", "DEF delivered"},
    {"film", "kg", "urea on the wall"},
    {"deposit", "kg", "solid deposit on the wall (biuret, cyanuric acid); depth is judgement"},
    {"wall_temperature", "K", "wetted wall behind the DEF doser"},
    {"face_temperature", "K", "gas at the DEF doser"},
};

static void def_observe(const void *par, const struct emb_env *env, const double *y,
                        const struct emb_gas *in, const struct emb_gas *out, double *v)
{
    const struct def *p = par;
    (void)out;
    v[0] = def_rate(p, env, in);
    v[1] = y[UREA] * emb_species_mass(EMB_UREA);
    v[2] = y[BIURET] * biuret_mass() + y[CYANURIC] * cyanuric_mass();
    v[3] = y[WALL];
    v[4] = in->T;
}

static unsigned def_listens(const void *par)
{
    (void)par;
    return 1u << EMB_NO | 1u << EMB_NO2 | 1u << EMB_UREA;
}

const struct emb_component_type emb_def_type = {"def_doser",
                                                "DEF doser: water, urea, deposit",
                                                def_prepare,
                                                def_shape,
                                                def_describe,
                                                def_init,
                                                def_cell,
                                                def_stock,
                                                sizeof def_obs / sizeof *def_obs,
                                                def_obs,
                                                def_observe,
                                                def_listens,
                                                false};
