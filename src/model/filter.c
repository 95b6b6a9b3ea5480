/* filter.c - wall-flow particulate filter: inlet channels, wall with soot layer, outlet channels.
 * Per cell: wall temperature [K], can temperature [K], soot on the wall [kg], soot inside the wall
 * [kg]. All gas crosses the wall and takes its temperature; the outlet channel carries it past the
 * walls further down. On the way through the gas meets the share of a coating whose NO2 diffuses
 * back to the cake, the cake, the rest of the coating, and the soot inside the wall. More channel
 * gas reaches the cake by diffusion and returns: that is how the channel loses its oxygen. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "common.h"
#include "emberpipe/heat.h"
#include "emberpipe/kinetics.h"
#include "emberpipe/soot.h"
#include "emberpipe/wallflow.h"

struct filter {
    struct emb_filter_cfg c;
    struct emb_comb m;
    struct emb_outside outside;
    struct emb_diffusion gas;
    struct emb_surface_plan set;
    struct emb_wallflow wall;
    double deep_cell; /* [kg] capacity of the walls of one cell */
};
enum { NS = 4, CAKE = 2, DEEP = 3 };

static void wall_prepare(struct filter *p)
{
    const struct emb_filter_cfg *c = &p->c;
    const double pitch = p->m.dh + c->body.web;
    p->wall =
        (struct emb_wallflow){.channels = p->m.volume / (2.0 * c->body.length * pitch * pitch),
                              .length = c->body.length,
                              .opening = p->m.dh,
                              .web = c->body.web,
                              .wall_permeability = c->wall_permeability,
                              .deep_growth = c->deep_growth,
                              .soot_permeability = c->soot_permeability,
                              .soot_density = c->soot_density,
                              .ash_permeability = c->ash_permeability,
                              .ash_density = c->ash_density,
                              .ash_plug = c->ash_plug,
                              .inertia = c->inertia,
                              .end_loss = c->end_loss};
    p->deep_cell = c->deep_capacity * p->m.volume / c->body.cells;
}

static void *filter_prepare(const struct emb_element_cfg *e, const struct emb_case *k, int channel)
{
    struct filter *p = calloc(1, sizeof *p);
    (void)channel;
    if (p != NULL) {
        p->c = e->u.filter;
        emb_comb_init(&p->m, &p->c.body, 0.5); /* half of the channels are inlets */
        emb_diffusion_init(&p->gas, k);
        emb_outside_init(&p->outside, k->ambient.temperature, k->ambient.pressure,
                         p->c.body.diameter);
        emb_surface_plan_init(&p->set, p->c.coated <= 0.0 ? NULL
                                       : p->c.reactions > 0
                                           ? &k->set[p->c.reactions - 1]
                                           : emb_reaction_set_get(EMB_KIN_OXIDATION));
        wall_prepare(p);
    }
    return p;
}

static void filter_shape(const void *par, struct emb_shape *s)
{
    const struct filter *p = par;
    *s = (struct emb_shape){0, (size_t)p->c.body.cells, NS, p->m.axial, true};
}

static void filter_describe(const void *par, size_t i, struct emb_state_info *o)
{
    static const char *const name[NS] = {"wall temperature [K]", "can temperature [K]",
                                         "soot on the wall [kg]", "soot in the wall [kg]"};
    (void)par;
    snprintf(o->name, sizeof o->name, "%s", name[i]);
    o->atol = (i < 2) ? 0.0 : 1e-9;
}

/* The start is what filling a clean wall would have left, see capture(). */
static void filter_init(const void *par, double T0, double *y)
{
    const struct filter *p = par;
    const double soot = p->c.soot * p->m.volume / p->c.body.cells;
    const double deep = soot > 0.0 ? p->deep_cell * soot / (soot + p->deep_cell) : 0.0;
    for (int i = 0; i < p->c.body.cells; i++, y += NS) {
        y[0] = y[1] = T0;
        y[CAKE] = soot - deep;
        y[DEEP] = deep;
    }
}

/* Walls fill first, the cake takes over: share of a full wall left open to soot, squared. The
 * square makes the change smooth (judgement); Konstandopoulos et al. 2000 get a like curve from
 * collector spheres that grow. */
static double room_in_wall(const struct filter *p, double deep)
{
    const double left = p->deep_cell > 0.0 ? 1.0 - deep / p->deep_cell : 0.0;
    return left > 0.0 ? left * left : 0.0;
}

/* Soot [mol/s] taken out of the flow. */
static void capture(const struct filter *p, double deep, struct emb_gas *g, double *to_cake,
                    double *to_wall)
{
    const double room = room_in_wall(p, deep);
    const double caught = g->n[EMB_SOOT] * (1.0 - (1.0 - p->c.clean_efficiency) * room);
    g->n[EMB_SOOT] -= caught;
    *to_wall = caught * room;
    *to_cake = caught - *to_wall;
}

/* Both shares of the coating: `law` is for both. */
static void coating_init(const struct filter *p, double T, const struct emb_env *env,
                         struct emb_surface *s, struct emb_law *law)
{
    if (p->set.set == NULL) {
        return;
    }
    *s = (struct emb_surface){.T = T, .p = env->p, .close = env->close, .law = law};
    emb_law_init(law, &p->set, s);
    for (int k = 0; k < EMB_NGAS; k++) {
        s->transfer[k] = INFINITY; /* all gas passes through the wall */
    }
}

static void coating_react(const struct filter *p, struct emb_surface *s, double share,
                          struct emb_surface_hint *hint, double *n)
{
    if (p->set.set != NULL && share > 0.0) {
        s->volume = p->m.cell.volume * p->c.coated * share;
        s->hint = hint;
        emb_surface_react(&p->set, s, n);
    }
}

/* Channel gas that touches the cake by diffusion while it passes this cell [share]. */
static double touching_share(const struct filter *p, const struct emb_gas *channel, double T)
{
    const double N = emb_gas_moles(channel);
    const double Dc = p->gas.D0[EMB_O2] * emb_diffusion_moles(&p->gas, T); /* [mol/(m s)] */
    const double through = p->c.channel_diffusion * p->c.body.nusselt * Dc * p->m.cell.film;
    return N > 0.0 ? emb_one_minus_exp(through / N) : 0.0; /* Sh = Nu */
}

/* Burns the cake with the crossing gas and with what diffuses to it from the channel. */
static double burn_cake(const struct filter *p, const struct emb_soot_constants *k, const double *y,
                        struct emb_gas *cross, struct emb_gas *channel)
{
    const double share = touching_share(p, channel, y[0]);
    double mix[EMB_NSPECIES] = {0.0};
    struct emb_soot_routes by;
    for (int i = 0; i < EMB_NGAS; i++) {
        mix[i] = cross->n[i] + share * channel->n[i];
    }
    const double N_cross = emb_moles(cross->n), N_mix = emb_moles(mix);
    const double burnt = emb_soot_burn(k, y[CAKE] / emb_species_mass(EMB_SOOT), mix, &by);
    const double through = N_mix > 0.0 ? N_cross / N_mix : 0.0;
    for (int i = 0; i < EMB_NGAS; i++) {
        cross->n[i] = through * mix[i];
        channel->n[i] += (1.0 - through) * mix[i] - share * channel->n[i];
    }
    return burnt;
}

/* The gas that crosses the wall of one cell; rates of the two soot stores [mol/s]. Returns what
 * burns [mol/s]. */
static double cross_wall(const struct filter *p, const double *y, const struct emb_env *env,
                         struct emb_gas *g, struct emb_gas *channel, double *cake, double *deep)
{
    const double T = y[0], M = emb_species_mass(EMB_SOOT);
    struct emb_soot_constants k;
    struct emb_soot_routes by;
    struct emb_surface s;
    struct emb_law law;
    g->T = T;
    capture(p, y[DEEP], g, cake, deep);
    emb_soot_constants(&p->c.burning, T, &k);
    coating_init(p, T, env, &s, &law);
    coating_react(p, &s, p->c.back_diffusion, env->hint, g->n);
    const double on = burn_cake(p, &k, y, g, channel);
    coating_react(p, &s, 1.0 - p->c.back_diffusion, env->hint != NULL ? env->hint + 1 : NULL, g->n);
    const double in = emb_soot_burn(&k, y[DEEP] / M, g->n, &by);
    *cake -= on;
    *deep -= in;
    return on + in;
}

/* Film conductance of the channels on one side of the wall in this cell [W/K]. */
static double channel_ua(const struct filter *p, double T)
{
    return p->c.body.nusselt * emb_gas_conductivity(T) * p->m.cell.film;
}

static void split_flow(struct emb_gas *whole, struct emb_gas *part, double f)
{
    part->T = whole->T;
    for (int k = 0; k < EMB_NSPECIES; k++) {
        part->n[k] = f * whole->n[k];
        whole->n[k] -= part->n[k];
    }
}

/* Two flows, each with its fold, become one; H [W] is what the first brings. */
static void merge_flow(struct emb_gas *into, struct emb_fold *heat, double H,
                       const struct emb_gas *more, struct emb_fold *more_heat)
{
    const double H_more = emb_fold_enthalpy(more_heat, more);
    const double c = emb_fold_cp(heat, into), c_more = emb_fold_cp(more_heat, more);
    for (int k = 0; k < EMB_NSPECIES; k++) {
        into->n[k] += more->n[k];
    }
    if (c + c_more > 0.0) {
        into->T =
            (c * into->T + c_more * more->T) / (c + c_more); /* close: a start for the search */
    }
    emb_fold_add(heat, into, more_heat);
    emb_fold_set_enthalpy(heat, into, H + H_more);
}

/* Heat of the solids: wall, ash (cp as the wall's) and soot; the can is the loss. */
static void cell_heat(const struct filter *p, const struct emb_env *env, const double *y,
                      double gain, double *d, struct emb_tally *t)
{
    const double T = y[0], M = emb_species_mass(EMB_SOOT), mat = p->m.cell.mat * (T - y[1]);
    t->loss = emb_outside_loss(&p->outside, &env->wind, y[1], p->m.cell.can, p->c.body.emissivity,
                               p->c.body.insulation);
    t->capacity = (p->m.cell.solid + p->c.ash * p->m.cell.volume) * emb_comb_cp(&p->m, T) +
                  (y[CAKE] + y[DEEP]) / M * emb_species_cp(EMB_SOOT, T);
    d[0] = (gain - mat - (d[CAKE] + d[DEEP]) / M * emb_species_h(EMB_SOOT, T)) / t->capacity;
    d[1] = (mat - t->loss) / p->m.cell.shell;
}

static void filter_cell(const void *par, size_t i, const struct emb_env *env, const double *shared,
                        const double *y, const struct emb_stream *in, struct emb_stream *out,
                        double *dshared, double *d, struct emb_tally *t)
{
    const struct filter *p = par;
    const double n = p->c.body.cells, M = emb_species_mass(EMB_SOOT);
    const double ua = channel_ua(p, y[0]), rise = emb_rise_in(env, y[0]); /* [W/K], [K] */
    struct emb_fold *fold = &out->heat, *wall = &out->wall_heat, cross_heat;
    double cake, deep;
    struct emb_gas cross;
    (void)shared;
    (void)dshared;
    out->gas = in->gas;
    out->heat = in->heat;
    double H_in = emb_fold_enthalpy(fold, &out->gas);
    emb_exchange(&out->gas, emb_fold_cp(fold, &out->gas), y[0], rise, ua);
    split_flow(&out->gas, &cross, 1.0 / (n - (double)i));
    t->soot_burnt = cross_wall(p, y, env, &cross, &out->gas, &cake, &deep) * M;
    d[CAKE] = cake * M;
    d[DEEP] = deep * M;
    emb_gas_fold(&cross, &cross_heat);
    if (i == 0) {
        out->wall = cross;
        *wall = cross_heat;
    } else {
        out->wall = in->wall;
        *wall = in->wall_heat;
        const double H_wall = emb_fold_enthalpy(wall, &out->wall); /* [W] */
        H_in += H_wall;
        merge_flow(&out->wall, wall, H_wall, &cross, &cross_heat);
        emb_exchange(&out->wall, emb_fold_cp(wall, &out->wall), y[0], rise, ua);
    }
    double H_out = emb_fold_enthalpy(wall, &out->wall);
    if (i + 1 < (size_t)p->c.body.cells) {
        emb_gas_fold(&out->gas, fold);
        H_out += emb_fold_enthalpy(fold, &out->gas);
    } else {
        out->gas = out->wall; /* end of the filter: the outlet channels are the stream again */
        *fold = *wall;
    }
    cell_heat(p, env, y, H_in - H_out, d, t);
}

static void filter_stock(const void *par, const double *y, struct emb_stock *o)
{
    const struct filter *p = par;
    const double n = p->c.body.cells;
    for (int i = 0; i < p->c.body.cells; i++, y += NS) {
        const double mol = (y[CAKE] + y[DEEP]) / emb_species_mass(EMB_SOOT);
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
    {"hottest_at", "-", "place of the hottest cell, share of the length"},
    {"soot", "kg/m3", "soot per filter volume"},
    {"soot_share", "-", "soot relative to the configured full load"},
    {"deep_bed", "-", "soot inside the walls relative to what they hold when full"},
    {"channel_open", "-", "clear share of the inlet channels; zero: the load does not fit"},
    {"pressure_drop", "Pa", "over the filter"},
    {"pressure_wall", "Pa", "share of the wall and the soot in it"},
    {"pressure_deposit", "Pa", "share of the soot and ash layers"},
    {"pressure_channel", "Pa", "share of channel friction, entrance and exit"},
};

/* Sums over the cells: mean and hottest temperature, place of the hottest, soot. */
struct filter_sum {
    double mean, hot, at, cake, deep; /* [K], [K], [-], [kg], [kg] */
};

static struct filter_sum sum_up(const struct filter *p, const double *y)
{
    const int n = p->c.body.cells;
    struct filter_sum s = {0};
    for (int i = 0; i < n; i++, y += NS) {
        s.mean += y[0] / n;
        if (y[0] > s.hot) {
            s.hot = y[0];
            s.at = (i + 0.5) / n;
        }
        s.cake += y[CAKE];
        s.deep += y[DEEP];
    }
    return s;
}

static void filter_observe(const void *par, const struct emb_env *env, const double *y,
                           const struct emb_gas *in, const struct emb_gas *out, double *v)
{
    const struct filter *p = par;
    const int n = p->c.body.cells;
    const struct filter_sum s = sum_up(p, y);
    const double full = p->deep_cell * n;
    const double Q = emb_gas_moles(out) * EMB_R * s.mean / env->p; /* [m3/s] */
    const struct emb_wallflow_load load = {s.cake, p->c.ash * p->m.volume,
                                           full > 0.0 ? s.deep / full : 0.0};
    struct emb_wallflow_drop drop;
    (void)in;
    emb_wallflow_drop(&p->wall, &load, Q, emb_gas_viscosity(s.mean),
                      Q > 0.0 ? emb_gas_mass(out) / Q : 0.0, &drop);
    const double values[] = {y[0],
                             s.mean,
                             y[NS * (n - 1)],
                             s.hot,
                             s.at,
                             (s.cake + s.deep) / p->m.volume,
                             (s.cake + s.deep) / p->m.volume / p->c.full_load,
                             load.deep,
                             drop.open,
                             drop.total,
                             drop.wall,
                             drop.ash + drop.soot,
                             drop.friction + drop.ends};
    memcpy(v, values, sizeof values);
}

static unsigned filter_listens(const void *par)
{
    const struct filter *p = par;
    return emb_surface_listens(&p->set) | 1u << EMB_O2 | 1u << EMB_NO | 1u << EMB_NO2 |
           1u << EMB_SOOT;
}

const struct emb_component_type emb_filter_type = {"filter",
                                                   "wall-flow particulate filter",
                                                   filter_prepare,
                                                   filter_shape,
                                                   filter_describe,
                                                   filter_init,
                                                   filter_cell,
                                                   filter_stock,
                                                   sizeof filter_obs / sizeof *filter_obs,
                                                   filter_obs,
                                                   filter_observe,
                                                   filter_listens,
                                                   true};
