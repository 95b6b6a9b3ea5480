/* pipe.c - a pipe, bare, wrapped or double-walled.
 * States per cell: wall temperature [K], cover temperature [K] (equal to the wall's where bare),
 * water film [kg]. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "common.h"
#include "emberpipe/heat.h"

struct pipe {
    struct emb_pipe_cfg c;
    double area, outer, wall_heat, cover_heat; /* [m2], [m2], [J/K], [J/K] per cell */
    double volume;                             /* [m3] of gas per cell */
    struct emb_outside outside;
};

static void *pipe_prepare(const struct emb_element_cfg *e, const struct emb_case *k, int channel)
{
    struct pipe *p = calloc(1, sizeof *p);
    (void)channel;
    if (p != NULL) {
        const struct emb_pipe_cfg c = e->u.pipe;
        const double dx = c.length / c.cells, od = c.diameter + 2.0 * c.wall;
        p->c = c;
        p->area = EMB_PI * c.diameter * dx;
        p->outer = EMB_PI * (od + (c.cover == EMB_COVER_BARE ? 0.0 : 2.0 * c.cover_thickness)) * dx;
        p->wall_heat = EMB_PI * (c.diameter + c.wall) * c.wall * dx * c.density * c.heat_capacity;
        p->cover_heat = p->outer * c.cover_heat;
        p->volume = 0.25 * EMB_PI * c.diameter * c.diameter * dx;
        emb_outside_init(&p->outside, k->ambient.temperature, k->ambient.pressure,
                         p->outer / (EMB_PI * dx));
    }
    return p;
}

static void pipe_shape(const void *par, struct emb_shape *s)
{
    const struct pipe *p = par;
    const double dx = p->c.length / p->c.cells;
    *s = (struct emb_shape){0, (size_t)p->c.cells, 3,
                            25.0 * EMB_PI * p->c.diameter * p->c.wall / dx, false};
    /* 25 W/(m K): ferritic stainless near 100-500 degC, mill data sheets (from memory) */
}

static void pipe_describe(const void *par, size_t i, struct emb_state_info *o)
{
    static const char *const name[3] = {"wall temperature [K]", "cover temperature [K]",
                                        "water film [kg]"};
    (void)par;
    snprintf(o->name, sizeof o->name, "%s", name[i]);
    o->atol = (i < 2) ? 0.0 : 1e-6;
}

static void pipe_init(const void *par, double T0, double *y)
{
    const struct pipe *p = par;
    for (int i = 0; i < p->c.cells; i++) {
        y[3 * i] = y[3 * i + 1] = T0;
        y[3 * i + 2] = 0.0;
    }
}

/* [W] from the wall to the cover: conduction through a wrap, or radiation and conduction over an
 * air gap. */
static double pipe_to_cover(const struct pipe *p, double Tw, double Tc)
{
    if (p->c.cover == EMB_COVER_WRAPPED) {
        const double r = 0.5 * p->c.diameter + p->c.wall;
        return p->area * (Tw - Tc) * p->c.cover_conductivity /
               (r * log1p(p->c.cover_thickness / r));
    }
    const double Tm = 0.5 * (Tw + Tc),
                 eff = 1.0 / (2.0 / p->c.emissivity - 1.0); /* two equal grey surfaces */
    return p->area * (Tw - Tc) *
           (emb_gas_conductivity(Tm) / p->c.cover_thickness + emb_h_radiation(eff, Tw, Tc));
}

static void pipe_cell(const void *par, size_t i, const struct emb_env *env, const double *shared,
                      const double *y, const struct emb_stream *in, struct emb_stream *out,
                      double *dshared, double *d, struct emb_tally *t)
{
    const struct pipe *p = par;
    struct emb_gas *g = &out->gas;
    struct emb_fold *fold = &out->heat;
    const double Tw = y[0];
    (void)i;
    (void)shared;
    (void)dshared;
    *out = *in;
    const double H_in = emb_fold_enthalpy(fold, g);
    const double flow = emb_gas_moles(g) * EMB_R * g->T / env->p; /* [m3/s] */
    emb_urea_decompose(g, fold, p->volume / flow);
    const double cp = emb_fold_cp(fold, g), cp_mol = cp / emb_gas_moles(g);
    const double ua = emb_pipe_conductance(g, cp, Tw, p->c.diameter, p->area, p->c.enhancement);
    emb_exchange(g, cp, Tw, emb_rise_in(env, Tw), ua);
    d[2] =
        emb_water_exchange(g, env->p, Tw, ua / cp_mol, p->area, y[2]); /* Lewis number near one */
    emb_gas_fold(g, fold);
    const double Q = H_in - emb_fold_enthalpy(fold, g);
    const double M = emb_species_mass(EMB_H2O), wet = y[2] / M * emb_water_liquid_cp();
    t->capacity = p->wall_heat + wet;
    const double heat = Q - d[2] / M * emb_water_liquid_h(Tw);
    if (p->c.cover == EMB_COVER_BARE) {
        t->loss = emb_outside_loss(&p->outside, &env->wind, Tw, p->outer, p->c.emissivity, 0.0);
        d[0] = (heat - t->loss) / t->capacity;
        d[1] = 0.0;
        return;
    }
    const double q = pipe_to_cover(p, Tw, y[1]);
    t->loss = emb_outside_loss(&p->outside, &env->wind, y[1], p->outer, p->c.emissivity, 0.0);
    d[0] = (heat - q) / t->capacity;
    d[1] = (q - t->loss) / p->cover_heat;
}

static void pipe_stock(const void *par, const double *y, struct emb_stock *o)
{
    const struct pipe *p = par;
    const double M = emb_species_mass(EMB_H2O);
    for (int i = 0; i < p->c.cells; i++, y += 3) {
        o->energy += p->wall_heat * (y[0] - EMB_T0) + y[2] / M * emb_water_liquid_h(y[0]);
        if (p->c.cover != EMB_COVER_BARE) {
            o->energy += p->cover_heat * (y[1] - EMB_T0);
        }
        o->el[EMB_EL_H] += 2.0 * y[2] / M;
        o->el[EMB_EL_O] += y[2] / M;
    }
}

static const struct emb_observation pipe_obs[] = {
    {"mean_temperature", "K", "mean wall temperature"},
    {"water", "kg", "water film on the wall"},
};

static void pipe_observe(const void *par, const struct emb_env *env, const double *y,
                         const struct emb_gas *in, const struct emb_gas *out, double *v)
{
    const struct pipe *p = par;
    (void)env;
    (void)in;
    (void)out;
    v[0] = v[1] = 0.0;
    for (int i = 0; i < p->c.cells; i++) {
        v[0] += y[3 * i] / p->c.cells;
        v[1] += y[3 * i + 2];
    }
}

static unsigned pipe_listens(const void *par)
{
    (void)par;
    return 1u << EMB_H2O | 1u << EMB_UREA;
}

const struct emb_component_type emb_pipe_type = {"pipe",
                                                 "pipe, bare, wrapped or double-walled",
                                                 pipe_prepare,
                                                 pipe_shape,
                                                 pipe_describe,
                                                 pipe_init,
                                                 pipe_cell,
                                                 pipe_stock,
                                                 2,
                                                 pipe_obs,
                                                 pipe_observe,
                                                 pipe_listens,
                                                 true};
