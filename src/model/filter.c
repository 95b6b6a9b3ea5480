/* filter.c - wall-flow particulate filter: inlet channels, wall with soot layer, outlet channels.
 * Per cell: wall temperature [K], can temperature [K], soot [kg]. All gas crosses the wall and
 * takes its temperature; the outlet channel carries it past the walls further down. Soot burns by
 * O2 and NO2 on the way through. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "common.h"
#include "emberpipe/heat.h"
#include "emberpipe/kinetics.h"

struct filter {
    struct emb_filter_cfg c;
    struct emb_comb m;
    struct emb_surface_plan set;
};
enum { NS = 3 };

static void *filter_prepare(const struct emb_element_cfg *e, const struct emb_case *k, int channel)
{
    struct filter *p = calloc(1, sizeof *p);
    (void)k;
    (void)channel;
    if (p != NULL) {
        p->c = e->u.filter;
        emb_comb_init(&p->m, &p->c.body, 0.5); /* half of the channels are inlets */
        emb_surface_plan_init(&p->set,
                              p->c.coated > 0.0 ? emb_reaction_set_get(EMB_KIN_OXIDATION) : NULL);
    }
    return p;
}

static void filter_shape(const void *par, struct emb_shape *s)
{
    const struct filter *p = par;
    *s = (struct emb_shape){0, (size_t)p->c.body.cells, NS, p->m.axial};
}

static void filter_describe(const void *par, size_t i, struct emb_state_info *o)
{
    static const char *const name[NS] = {"wall temperature [K]", "can temperature [K]",
                                         "soot [kg]"};
    (void)par;
    snprintf(o->name, sizeof o->name, "%s", name[i]);
    o->atol = (i < 2) ? 0.0 : 1e-11;
}

static void filter_init(const void *par, double T0, double *y)
{
    const struct filter *p = par;
    for (int i = 0; i < p->c.body.cells; i++, y += NS) {
        y[0] = y[1] = T0;
        y[2] = p->c.soot * p->m.volume / p->c.body.cells;
    }
}

/* Mean over a first-order sink with exponent z, relative to the inlet. */
static double mean_of_sink(double z)
{
    return z > 1e-8 ? emb_one_minus_exp(z) / z : 1.0 - 0.5 * z;
}

/* Burns soot [mol/s] with the flow n that crosses the layer at T; returns the rate. */
static double burn_soot(const struct filter *p, double T, double soot, double *n)
{
    const double mol = fmax(soot, 0.0) / emb_species_mass(EMB_SOOT);
    double N = 0.0;
    for (int i = 0; i < EMB_NGAS; i++) {
        N += n[i];
    }
    if (mol <= 0.0 || N <= 0.0) {
        return 0.0;
    }
    const double inv = -1.0 / (EMB_R * T), xo = fmax(n[EMB_O2], 0.0) / N,
                 xn = fmax(n[EMB_NO2], 0.0) / N;
    /* NO2: C + 2 NO2 -> CO2 + 2 NO, exponential depletion through the layer */
    const double kn = p->c.no2_a * exp(p->c.no2_e * inv) * mol;
    const double rn = kn * xn * mean_of_sink(2.0 * kn / N);
    /* O2: C + (1 - s/2) O2 -> s CO + (1-s) CO2 */
    const double s = p->c.co_share, need = 1.0 - 0.5 * s;
    const double ro0 = p->c.o2_a * exp(p->c.o2_e * inv) * mol * pow(xo / 0.1, p->c.o2_order);
    const double ro = (xo > 0.0) ? ro0 * mean_of_sink(need * ro0 / (N * xo)) : 0.0;
    n[EMB_NO2] -= 2.0 * rn;
    n[EMB_NO] += 2.0 * rn;
    n[EMB_CO2] += rn + (1.0 - s) * ro;
    n[EMB_CO] += s * ro;
    n[EMB_O2] -= need * ro;
    return rn + ro;
}

/* Film conductance of the channels on one side of the wall in this cell [W/K]. */
static double channel_ua(const struct filter *p, double T)
{
    const double area = p->m.gsa * p->m.volume / p->c.body.cells;
    return 2.976 * emb_gas_conductivity(T) / p->m.dh *
           area; /* fully developed square duct, Shah & London 1978 */
}

static void split_flow(struct emb_gas *whole, struct emb_gas *part, double f)
{
    part->T = whole->T;
    for (int k = 0; k < EMB_NSPECIES; k++) {
        part->n[k] = f * whole->n[k];
        whole->n[k] -= part->n[k];
    }
}

static void merge_flow(struct emb_gas *into, const struct emb_gas *more)
{
    const double H = emb_gas_enthalpy(into) + emb_gas_enthalpy(more);
    for (int k = 0; k < EMB_NSPECIES; k++) {
        into->n[k] += more->n[k];
    }
    emb_gas_set_enthalpy(into, H);
}

static void filter_cell(const void *par, size_t i, const struct emb_env *env, const double *shared,
                        const double *y, const struct emb_stream *in, struct emb_stream *out,
                        double *dshared, double *d, struct emb_tally *t)
{
    const struct filter *p = par;
    const double n = p->c.body.cells, T = y[0], M = emb_species_mass(EMB_SOOT);
    const double H_in = emb_gas_enthalpy(&in->gas) + (i > 0 ? emb_gas_enthalpy(&in->wall) : 0.0);
    struct emb_gas cross;
    (void)shared;
    (void)dshared;
    *out = *in;
    emb_exchange(&out->gas, T, channel_ua(p, T));
    split_flow(&out->gas, &cross, 1.0 / (n - (double)i));
    const double caught = cross.n[EMB_SOOT];
    cross.n[EMB_SOOT] = 0.0;
    cross.T = T;
    const double burnt = burn_soot(p, T, y[2], cross.n);
    if (p->set.set != NULL) {
        struct emb_surface s = {.T = T, .p = env->p, .volume = p->m.volume / n * p->c.coated};
        for (int k = 0; k < EMB_NGAS; k++) {
            s.transfer[k] = INFINITY; /* all gas passes through the wall */
        }
        emb_surface_react(&p->set, &s, cross.n);
    }
    if (i == 0) {
        out->wall = cross;
    } else {
        merge_flow(&out->wall, &cross);
        emb_exchange(&out->wall, T, channel_ua(p, T));
    }
    double H_out = emb_gas_enthalpy(&out->wall);
    if (i + 1 < (size_t)p->c.body.cells) {
        H_out += emb_gas_enthalpy(&out->gas);
    } else {
        out->gas = out->wall; /* end of the filter: the outlet channels are the stream again */
    }
    d[2] = (caught - burnt) * M;
    t->soot_burnt = burnt * M;
    const double can = p->m.can_area / n, mat = p->c.body.mat_conductance * can * (T - y[1]);
    t->loss = emb_outside_loss(env, y[1], can, p->c.body.diameter, p->c.body.emissivity,
                               p->c.body.insulation);
    t->capacity = (p->m.solid + p->c.ash * p->m.volume) / n * emb_comb_cp(&p->m, T) +
                  fmax(y[2], 0.0) / M * emb_species_cp(EMB_SOOT, T); /* ash: cp as the wall's */
    d[0] = (H_in - H_out - mat - d[2] / M * emb_species_h(EMB_SOOT, T)) / t->capacity;
    d[1] = (mat - t->loss) / (can * p->c.body.can_heat);
}

static void filter_stock(const void *par, const double *y, struct emb_stock *o)
{
    const struct filter *p = par;
    const double n = p->c.body.cells;
    for (int i = 0; i < p->c.body.cells; i++, y += NS) {
        const double mol = y[2] / emb_species_mass(EMB_SOOT);
        o->energy += (p->m.solid + p->c.ash * p->m.volume) / n * emb_comb_heat(&p->m, y[0]) +
                     mol * emb_species_h(EMB_SOOT, y[0]) +
                     p->m.can_area / n * p->c.body.can_heat * (y[1] - EMB_T0);
        o->el[EMB_EL_C] += mol;
    }
}

static const struct emb_observation filter_obs[] = {
    {"face_temperature", "K", "wall at the inlet end"},
    {"mean_temperature", "K", "mean of the wall"},
    {"rear_temperature", "K", "wall at the outlet end"},
    {"hottest", "K", "hottest cell of the wall"},
    {"soot", "kg/m3", "soot per filter volume"},
    {"soot_share", "-", "soot relative to the configured full load"},
    {"pressure_drop", "Pa", "over the filter"},
};

/* Konstandopoulos & Johnson 1989 (SAE 890405): wall, soot layer and channel friction; F = 2
 * x 14.227. */
static double filter_pressure(const struct filter *p, double Q, double mu, double soot_kg)
{
    const double w = p->c.body.web, a = p->m.dh, L = p->c.body.length, V = p->m.volume, F = 28.454;
    const double channels = V / (2.0 * L * (a + w) * (a + w));
    const double ash =
        p->c.ash * V / (channels * L * 400.0); /* 400 kg/m3 packed ash, from memory */
    const double room =
                     fmax(a * a - soot_kg / (channels * L * p->c.soot_density) - ash, 0.01 * a * a),
                 b = sqrt(room);
    const double layer = log(a / b) / (2.0 * p->c.soot_permeability);
    return mu * Q / (2.0 * V) * (a + w) * (a + w) *
           (w / (p->c.wall_permeability * a) + layer +
            4.0 * F * L * L / 3.0 * (1.0 / (room * room) + 1.0 / (a * a * a * a)));
}

static void filter_observe(const void *par, const struct emb_env *env, const double *y,
                           const struct emb_gas *in, const struct emb_gas *out, double *v)
{
    const struct filter *p = par;
    const int n = p->c.body.cells;
    double mean = 0.0, hot = 0.0, soot = 0.0;
    (void)in;
    for (int i = 0; i < n; i++) {
        mean += y[NS * i] / n;
        hot = fmax(hot, y[NS * i]);
        soot += y[NS * i + 2];
    }
    v[0] = y[0];
    v[1] = mean;
    v[2] = y[NS * (n - 1)];
    v[3] = hot;
    v[4] = soot / p->m.volume;
    v[5] = v[4] / p->c.full_load;
    v[6] = filter_pressure(p, emb_gas_moles(out) * EMB_R * mean / env->p, emb_gas_viscosity(mean),
                           soot);
}

const struct emb_component_type emb_filter_type = {"filter",
                                                   "wall-flow particulate filter",
                                                   filter_prepare,
                                                   filter_shape,
                                                   filter_describe,
                                                   filter_init,
                                                   filter_cell,
                                                   filter_stock,
                                                   7,
                                                   filter_obs,
                                                   filter_observe};
