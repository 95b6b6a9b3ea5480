/* doser.c - fuel doser: spray that evaporates in flight, a wetted wall with a film, latent heat,
 * storage. States: wetted wall temperature [K], fuel film [kg]. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "common.h"
#include "emberpipe/heat.h"
#include "emberpipe/inputs.h"

struct doser {
    struct emb_element_cfg e;
    int channel;
};
static const double wall_cp = 460.0; /* [J/(kg K)] 409 stainless, mill data sheets (from memory) */

static void *doser_prepare(const struct emb_element_cfg *e, const struct emb_case *k, int channel)
{
    struct doser *p = malloc(sizeof *p);
    (void)k;
    if (p != NULL) {
        *p = (struct doser){*e, channel};
    }
    return p;
}

static void doser_shape(const void *par, struct emb_shape *s)
{
    (void)par;
    *s = (struct emb_shape){0, 1, 2, 0.0, false};
}

static void doser_describe(const void *par, size_t i, struct emb_state_info *o)
{
    (void)par;
    snprintf(o->name, sizeof o->name, "%s",
             i == 0 ? "wetted wall temperature [K]" : "fuel film [kg]");
    o->atol = (i == 0) ? 0.0 : 1e-7;
}

static void doser_init(const void *par, double T0, double *y)
{
    (void)par;
    y[0] = T0;
    y[1] = 0.0;
}

/* Share of fuel droplets that evaporates in flight: none in cold gas, all in hot: 200-250 degC,
 * common practice, no source */
static double airborne_share(double T)
{
    const double s = fmin(fmax((T - 423.15) / 100.0, 0.0), 1.0);
    return s * s * (3.0 - 2.0 * s);
}

static void fuel_cell(const void *par, size_t i, const struct emb_env *env, const double *shared,
                      const double *y, const struct emb_stream *in, struct emb_stream *out,
                      double *dshared, double *d, struct emb_tally *t)
{
    const struct doser *p = par;
    const struct emb_doser_cfg *c = &p->e.u.doser;
    struct emb_gas *g = &out->gas;
    struct emb_fold *fold = &out->heat;
    const double M = emb_species_mass(EMB_FUEL), *el = emb_species_elements(EMB_FUEL);
    (void)i;
    (void)shared;
    (void)dshared;
    *out = *in;
    t->fuel = env->u[EMB_U_DOSE + p->channel] * c->delivery;
    const double air = t->fuel * (1.0 - c->wall_share) * airborne_share(g->T), wall = t->fuel - air;
    t->feed_H = t->fuel * emb_fuel_liquid_h(c->fuel_temperature);
    for (int k = 0; k < EMB_NELEMENTS; k++) {
        t->feed[k] = t->fuel / M * el[k];
    }
    const double H = emb_fold_enthalpy(fold, g) + air * emb_fuel_liquid_h(c->fuel_temperature);
    g->n[EMB_FUEL] += air / M;
    emb_gas_fold(g, fold);
    emb_fold_set_enthalpy(fold, g, H);
    const double cp = emb_fold_cp(fold, g), H0 = emb_fold_enthalpy(fold, g);
    emb_exchange(g, cp, y[0], 0.0, emb_pipe_conductance(g, cp, y[0], 0.1, c->wall_area, 1.5));
    /* film: boils near 520 K, 51 kJ/mol molecules, 2 1/s there: mid-diesel (from memory), rate is
     * judgement */
    const double rate = y[1] * 2.0 * exp(fmin(-51e3 / EMB_R * (1.0 / y[0] - 1.0 / 520.0), 2.0));
    g->n[EMB_FUEL] +=
        rate / M; /* vapour leaves the wall; the gas carries it away at its own temperature */
    emb_gas_fold(g, fold);
    const double Q = H0 - emb_fold_enthalpy(fold, g);
    d[1] = wall - rate;
    t->capacity = c->wall_mass * wall_cp + y[1] * 2000.0; /* liquid fuel cp as in species.c */
    d[0] = (Q + wall * emb_fuel_liquid_h(c->fuel_temperature) - d[1] * emb_fuel_liquid_h(y[0])) /
           t->capacity;
}

static void fuel_stock(const void *par, const double *y, struct emb_stock *o)
{
    const struct doser *p = par;
    const double *el = emb_species_elements(EMB_FUEL), mol = y[1] / emb_species_mass(EMB_FUEL);
    o->energy +=
        p->e.u.doser.wall_mass * wall_cp * (y[0] - EMB_T0) + y[1] * emb_fuel_liquid_h(y[0]);
    for (int k = 0; k < EMB_NELEMENTS; k++) {
        o->el[k] += mol * el[k];
    }
}

static const struct emb_observation fuel_obs[] = {
    {"rate", "kg/s", "fuel delivered by the doser"},
    {"film", "kg", "liquid fuel on the wall"},
    {"face_temperature", "K", "gas at the doser"},
};

static void fuel_observe(const void *par, const struct emb_env *env, const double *y,
                         const struct emb_gas *in, const struct emb_gas *out, double *v)
{
    const struct doser *p = par;
    (void)out;
    v[0] = env->u[EMB_U_DOSE + p->channel] * p->e.u.doser.delivery;
    v[1] = y[1];
    v[2] = in->T;
}

const struct emb_component_type emb_doser_type = {"fuel_doser",
                                                  "fuel doser with wall film",
                                                  doser_prepare,
                                                  doser_shape,
                                                  doser_describe,
                                                  doser_init,
                                                  fuel_cell,
                                                  fuel_stock,
                                                  3,
                                                  fuel_obs,
                                                  fuel_observe,
                                                  NULL,
                                                  false};
