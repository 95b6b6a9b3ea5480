/* small.c - elements without a solid of their own: sensor and leak. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "common.h"
#include "emberpipe/heat.h"

static const double duct = 0.1; /* [m] duct diameter assumed around a sensor tip: judgement */

static void *small_prepare(const struct emb_element_cfg *e, const struct emb_case *k, int channel)
{
    struct emb_element_cfg *p = malloc(sizeof *p);
    (void)k;
    (void)channel;
    if (p != NULL) {
        *p = *e;
    }
    return p;
}

static void sensor_shape(const void *par, struct emb_shape *s)
{
    (void)par;
    *s = (struct emb_shape){0, 1, 1, 0.0, false};
}

static void sensor_describe(const void *par, size_t i, struct emb_state_info *o)
{
    (void)par;
    (void)i;
    snprintf(o->name, sizeof o->name, "sensor temperature [K]");
    o->atol = 0.0;
}

static void sensor_init(const void *par, double T0, double *y)
{
    (void)par;
    y[0] = T0;
}

/* The tip follows the gas with tau = rho c d / (4 h); its heat is too small for the books and is
 * left out of them. */
static void sensor_cell(const void *par, size_t i, const struct emb_env *env, const double *shared,
                        const double *y, const struct emb_stream *in, struct emb_stream *out,
                        double *dshared, double *d, struct emb_tally *t)
{
    const struct emb_element_cfg *e = par;
    const double dia = e->u.sensor.diameter, T = in->gas.T, m = emb_gas_mass(&in->gas);
    (void)i;
    (void)env;
    (void)shared;
    (void)dshared;
    *out = *in;
    const double mu = emb_gas_viscosity(T), k = emb_gas_conductivity(T);
    const double Re = m / (0.25 * EMB_PI * duct * duct) * dia / mu; /* G d / mu */
    const double h = emb_nu_churchill_bernstein(Re, 0.7) * k / dia;
    t->capacity = 1.0;
    d[0] = (T - y[0]) * 4.0 * h / (3.9e6 * dia); /* 3.9e6 J/(m3 K): stainless steel, from memory */
}

static void no_stock(const void *par, const double *y, struct emb_stock *o)
{
    (void)par;
    (void)y;
    (void)o;
}

static const struct emb_observation sensor_obs[] = {
    {"reading", "K", "what a scan tool would read here"}};

static void sensor_observe(const void *par, const struct emb_env *env, const double *y,
                           const struct emb_gas *in, const struct emb_gas *out, double *v)
{
    const struct emb_element_cfg *e = par;
    (void)env;
    (void)in;
    (void)out;
    v[0] = y[0] + e->u.sensor.offset;
}

const struct emb_component_type emb_sensor_type = {"sensor",
                                                   "temperature sensor with its lag and offset",
                                                   small_prepare,
                                                   sensor_shape,
                                                   sensor_describe,
                                                   sensor_init,
                                                   sensor_cell,
                                                   no_stock,
                                                   1,
                                                   sensor_obs,
                                                   sensor_observe,
                                                   NULL,
                                                   false};

static void leak_shape(const void *par, struct emb_shape *s)
{
    (void)par;
    *s = (struct emb_shape){0, 1, 0, 0.0, false};
}

static void leak_init(const void *par, double T0, double *y)
{
    (void)par;
    (void)T0;
    (void)y;
}

static void leak_cell(const void *par, size_t i, const struct emb_env *env, const double *shared,
                      const double *y, const struct emb_stream *in, struct emb_stream *out,
                      double *dshared, double *d, struct emb_tally *t)
{
    const struct emb_element_cfg *e = par;
    const double share = e->u.leak.share;
    (void)i;
    (void)env;
    (void)shared;
    (void)y;
    (void)dshared;
    (void)d;
    *out = *in;
    t->leak_H = share * emb_gas_enthalpy(&in->gas);
    emb_gas_elements(&in->gas, t->leak);
    for (int k = 0; k < EMB_NELEMENTS; k++) {
        t->leak[k] *= share;
    }
    for (int k = 0; k < EMB_NSPECIES; k++) {
        out->gas.n[k] *= 1.0 - share;
    }
    emb_gas_fold(&out->gas, &out->heat);
}

static void leak_observe(const void *par, const struct emb_env *env, const double *y,
                         const struct emb_gas *in, const struct emb_gas *out, double *v)
{
    (void)par;
    (void)env;
    (void)y;
    v[0] = emb_gas_mass(in) - emb_gas_mass(out);
}

static const struct emb_observation leak_obs[] = {{"leak", "kg/s", "exhaust that escapes here"}};

const struct emb_component_type emb_leak_type = {"leak",
                                                 "exhaust leak to the outside",
                                                 small_prepare,
                                                 leak_shape,
                                                 sensor_describe,
                                                 leak_init,
                                                 leak_cell,
                                                 no_stock,
                                                 1,
                                                 leak_obs,
                                                 leak_observe,
                                                 NULL,
                                                 false};
