/* mass.c - turbine and manifold as one lump: late on a cold start, and the turbine's enthalpy drop.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "common.h"

struct mass {
    struct emb_mass_cfg c;
    struct emb_outside outside;
};

static void *mass_prepare(const struct emb_element_cfg *e, const struct emb_case *k, int channel)
{
    struct mass *p = calloc(1, sizeof *p);
    (void)channel;
    if (p != NULL) {
        p->c = e->u.mass;
        emb_outside_init(&p->outside, k->ambient.temperature, k->ambient.pressure,
                         sqrt(p->c.outer_area / EMB_PI)); /* a sphere of this area */
    }
    return p;
}

static void mass_shape(const void *par, struct emb_shape *s)
{
    (void)par;
    *s = (struct emb_shape){0, 1, 1, 0.0, false};
}

static void mass_describe(const void *par, size_t i, struct emb_state_info *o)
{
    (void)par;
    (void)i;
    snprintf(o->name, sizeof o->name, "metal temperature [K]");
    o->atol = 0.0;
}

static void mass_init(const void *par, double T0, double *y)
{
    (void)par;
    y[0] = T0;
}

static void mass_cell(const void *par, size_t i, const struct emb_env *env, const double *shared,
                      const double *y, const struct emb_stream *in, struct emb_stream *out,
                      double *dshared, double *d, struct emb_tally *t)
{
    const struct mass *m = par;
    const struct emb_mass_cfg *p = &m->c;
    struct emb_gas *g = &out->gas;
    struct emb_fold *fold = &out->heat;
    (void)i;
    (void)shared;
    (void)dshared;
    *out = *in;
    const double H_in = emb_fold_enthalpy(fold, g), flow = emb_gas_mass(g),
                 r = flow / p->reference_flow;
    t->work = flow * p->enthalpy_drop * r * r /
              (1.0 + r * r); /* levels off where a wastegate would open */
    emb_exchange(g, emb_fold_cp(fold, g), y[0], 0.0, p->film * p->inner_area * pow(r, 0.8));
    const double H_left = emb_fold_enthalpy(fold, g), Q = H_in - H_left;
    emb_fold_set_enthalpy(fold, g, H_left - t->work);
    t->loss = emb_outside_loss(&m->outside, &env->wind, y[0], p->outer_area, p->emissivity, 0.0);
    t->capacity = p->mass * p->heat_capacity;
    d[0] = (Q - t->loss) / t->capacity;
}

static void mass_stock(const void *par, const double *y, struct emb_stock *o)
{
    const struct emb_mass_cfg *p = &((const struct mass *)par)->c;
    o->energy += p->mass * p->heat_capacity * (y[0] - EMB_T0);
}

static const struct emb_observation mass_obs[] = {{"mean_temperature", "K", "metal temperature"}};

static void mass_observe(const void *par, const struct emb_env *env, const double *y,
                         const struct emb_gas *in, const struct emb_gas *out, double *v)
{
    (void)par;
    (void)env;
    (void)in;
    (void)out;
    v[0] = y[0];
}

const struct emb_component_type emb_mass_type = {"turbine",
                                                 "turbine and manifold as one lump of metal",
                                                 mass_prepare,
                                                 mass_shape,
                                                 mass_describe,
                                                 mass_init,
                                                 mass_cell,
                                                 mass_stock,
                                                 1,
                                                 mass_obs,
                                                 mass_observe,
                                                 NULL,
                                                 false};
