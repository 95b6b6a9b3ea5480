/* brick.c - flow-through catalyst: oxidation or reduction, decided by its reaction set alone.
 * Shared state: crust on the face [kg carbon]. Per cell: solid temperature [K], can temperature
 * [K], water film [kg], coverage of the sites [-]: NH3 where the set stores it, else heavy
 * hydrocarbon on an oxidation washcoat. The crust model is calibrated, not validated: no
 * published rates were found. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "common.h"
#include "emberpipe/heat.h"
#include "emberpipe/kinetics.h"

struct brick {
    struct emb_brick_cfg c;
    struct emb_comb m;
    struct emb_outside outside;
    struct emb_surface_plan set, slip;
    size_t slip_from; /* first cell of the slip zone */
    int keeps;        /* species that the sites hold: EMB_NH3 or EMB_FUEL */
    double sites;     /* [mol] left per cell after ageing; of carbon for EMB_FUEL */
    double E0, alpha; /* [J/mol], [-] heat of adsorption E0 (1 - alpha theta) */
    struct emb_diffusion gas;
    double Dk[EMB_NGAS]; /* [m2/(s K^0.5)] of Knudsen in the washcoat's pores, over sqrt(T) */
};
enum { NS = 4 };

/* Heavy hydrocarbon on a washcoat, per carbon of C12: half covered at 1000 ppm (C1) and 200 degC,
 * nearly empty at 300 degC, 80 kJ per mol of molecules. Calibrated to release from 200-300 degC
 * (from memory); the rates are fast beside the film (judgement). */
static const double fuel_heat = 80e3 / 12.0; /* [J/mol] */
static const double fuel_adsorption = 100.0; /* [1/s] per mole fraction */
static const double fuel_desorption = 0.1;   /* [1/s] at 473.15 K */
/* [1/s] no faster than pores let it out, nor in: both ways are slowed alike, so that what the sites
 * hold in the end stays. Judgement. */
static const double fuel_fastest = 2.0;

static void *brick_prepare(const struct emb_element_cfg *e, const struct emb_case *k, int channel)
{
    struct brick *p = calloc(1, sizeof *p);
    (void)channel;
    if (p != NULL) {
        p->c = e->u.brick;
        emb_comb_init(&p->m, &p->c.body, 1.0);
        emb_surface_plan_init(&p->set, p->c.reactions > 0 ? &k->set[p->c.reactions - 1]
                                                          : emb_reaction_set_get(p->c.kinetics));
        emb_surface_plan_init(&p->slip, emb_reaction_set_get(EMB_KIN_OXIDATION));
        const double n = p->c.body.cells;
        p->slip_from = (size_t)ceil(n * (1.0 - p->c.slip_zone) - 1e-9);
        emb_reaction_set_storage(p->set.set, &p->E0, &p->alpha);
        p->keeps = EMB_NH3;
        if (p->E0 <= 0.0) {
            p->keeps = EMB_FUEL;
            p->E0 = fuel_heat;
        }
        p->sites =
            p->set.set != NULL ? p->c.storage * p->m.volume / n * fmax(p->c.activity, 1e-6) : 0.0;
        emb_diffusion_init(&p->gas, k);
        emb_outside_init(&p->outside, k->ambient.temperature, k->ambient.pressure,
                         p->c.body.diameter);
        for (int i = 0; i < EMB_NGAS; i++) {
            /* a third of pore times mean molecular speed: kinetic theory, round pore */
            p->Dk[i] = p->c.washcoat.pore_diameter / 3.0 *
                       sqrt(8.0 * EMB_R / (EMB_PI * emb_species_mass(i)));
        }
    }
    return p;
}

static void brick_shape(const void *par, struct emb_shape *s)
{
    const struct brick *p = par;
    *s = (struct emb_shape){1, (size_t)p->c.body.cells, NS, p->m.axial, false};
}

static void brick_describe(const void *par, size_t i, struct emb_state_info *o)
{
    static const char *const name[NS + 1] = {"solid temperature [K]", "can temperature [K]",
                                             "water film [kg]", "coverage [-]", "crust [kg]"};
    static const double atol[NS + 1] = {0.0, 0.0, 1e-6, 1e-6, 1e-9};
    (void)par;
    snprintf(o->name, sizeof o->name, "%s", name[i]);
    o->atol = atol[i];
}

static void brick_init(const void *par, double T0, double *y)
{
    const struct brick *p = par;
    *y++ = 0.0;
    for (int i = 0; i < p->c.body.cells; i++, y += NS) {
        y[0] = y[1] = T0;
        y[2] = 0.0;
        y[3] = p->c.stored;
    }
}

/* Share of the face that is closed. Half of what is left closes at 0.3 kg/m2 of crust: judgement.
 */
static double closed_share(const struct brick *p, double crust)
{
    return p->c.blocked + (0.95 - p->c.blocked) * crust / (fabs(crust) + 0.3 * p->m.face);
}

/* Crust grows while the face is cold and burns off when hot (soot oxidation by O2, same constants
 * as the filter). */
static void crust_rates(const struct brick *p, double T, double crust, struct emb_gas *g,
                        double *dcrust, double *burnt)
{
    const double M = emb_species_mass(EMB_SOOT), s = fmin(fmax((573.15 - T) / 100.0, 0.0), 1.0);
    const double fuel = g->n[EMB_FUEL], soot = g->n[EMB_SOOT];
    const double wet = soot > 0.0 ? fuel / (fuel + soot) : 0.0; /* heavy HC makes the soot stick */
    const double stick = p->c.crust_rate * wet * s * s * (3.0 - 2.0 * s) * soot;
    /* catalysed by contact: 2.15e7 exp(-168 kJ/RT) sped up 10 x, judgement */
    const double burn = 2.15e8 * exp(-168e3 / (EMB_R * T)) * crust / M;
    const double most = 0.5 * g->n[EMB_O2] + 1e-12, limited = burn * most / (fabs(burn) + most);
    g->n[EMB_SOOT] -= stick;
    g->n[EMB_O2] -= limited;
    g->n[EMB_CO2] += limited;
    *dcrust += (stick - limited) * M;
    *burnt = limited * M;
}

static double film_transfer(const struct brick *p, double cp, double T, double open,
                            struct emb_surface *s)
{
    const double k = emb_gas_conductivity(T);
    /* d_h/L Re Pr = d_h (m cp)/(A_open k L) */
    const double z = p->m.dh * p->m.dh * cp / (p->m.face * p->m.open * open * k * p->c.body.length);
    const double far = p->c.body.nusselt,
                 nu = p->c.body.entrance ? emb_nu_duct_laminar(far, z) : far;
    const double by_D = nu * p->m.cell.film * open * emb_diffusion_moles(&p->gas, T); /* Sh = Nu */
    for (int i = 0; i < EMB_NGAS; i++) {
        s->transfer[i] = by_D * p->gas.D0[i];
    }
    return nu * p->m.cell.film * open * k;
}

/* Pores in series with the film. A constant internal Sherwood number is exact for slow reaction;
 * for a fast one it resists too much, because the reaction then needs only the outermost pores. */
static void add_washcoat(const struct brick *p, double p_gas, double T, double open,
                         struct emb_surface *s)
{
    const struct emb_washcoat_cfg *w = &p->c.washcoat;
    if (w->thickness <= 0.0) {
        return;
    }
    const double area = p->m.cell.area * open;
    const double scale = emb_diffusion_factor(&p->gas, T, p_gas), c = p_gas / (EMB_R * T);
    const double out = w->sherwood * w->pores / w->thickness * area * c; /* [mol/m2] times D */
    for (int i = 0; i < EMB_NGAS; i++) {
        const double D =
            1.0 / (1.0 / (p->gas.D0[i] * scale) + 1.0 / (p->Dk[i] * sqrt(T))); /* [m2/s] */
        s->transfer[i] = 1.0 / (1.0 / s->transfer[i] + 1.0 / (out * D));
    }
}

/* Urea aerosol that meets the hot wall: 40 x the gas-phase rate, judgement. */
static void urea_on_wall(const struct brick *p, double open, double pressure, struct emb_gas *g)
{
    if (g->n[EMB_UREA] <= 0.0) {
        return;
    }
    const double tau =
        p->m.cell.volume * p->m.open * open * pressure / (emb_gas_moles(g) * EMB_R * g->T);
    const double x = g->n[EMB_UREA] * emb_one_minus_exp(40.0 * emb_urea_rate(g->T) * tau);
    g->n[EMB_UREA] -= x;
    g->n[EMB_NH3] += x;
    g->n[EMB_HNCO] += x;
}

/* Heavy hydrocarbon kept by the washcoat [mol C/s, net], film and sites in series, exact along the
 * cell. */
static double keep_fuel(const struct brick *p, double T, double theta, double open, double km,
                        struct emb_gas *g)
{
    const double N = emb_gas_moles(g), sites = p->sites * open;
    const double out = fuel_desorption * exp(-fuel_heat * 12.0 / EMB_R * (1.0 / T - 1.0 / 473.15));
    const double slowed = sites / (1.0 + out / fuel_fastest); /* [mol] */
    const double room = fmax(1.0 - theta, 0.0); /* an overshoot past full only lets go */
    const double ka = fuel_adsorption * slowed * room, kd = out * slowed * theta;
    const double series = km / (km + ka), z = ka * series / N;
    const double kept = series * (ka * g->n[EMB_FUEL] / N - kd) * emb_sink_mean(z);
    g->n[EMB_FUEL] -= kept;
    return kept;
}

/* The reaction set on sites; returns what they gain [mol/s]. An overshoot below empty is the mirror
 * image of as much above, about what empty sites do: it heals at the rate at which sites empty, no
 * slope jumps for Newton, and elements are kept. */
static double react_on_sites(const struct brick *p, const struct emb_surface *s, double *n)
{
    if (s->theta >= 0.0) {
        return emb_surface_react(&p->set, s, n);
    }
    struct emb_surface empty = *s, above = *s;
    double mirror[EMB_NSPECIES];
    memcpy(mirror, n, sizeof mirror);
    above.theta = -s->theta;
    empty.theta = 0.0;
    const double stored_above = emb_surface_react(&p->set, &above, mirror);
    const double stored_empty = emb_surface_react(&p->set, &empty, n);
    for (int k = 0; k < EMB_NSPECIES; k++) {
        n[k] = 2.0 * n[k] - mirror[k];
    }
    return 2.0 * stored_empty - stored_above;
}

/* Chemistry of one cell; returns what the sites gain [mol/s]. */
static double react(const struct brick *p, size_t i, struct emb_surface *s, double open,
                    struct emb_gas *g)
{
    double stored = 0.0;
    if (p->set.set == NULL || s->volume <= 0.0) {
        return 0.0;
    }
    if (p->keeps == EMB_FUEL && p->sites > 0.0) {
        stored = keep_fuel(p, s->T, s->theta, open, s->transfer[EMB_FUEL], g);
        emb_surface_react(&p->set, s, g->n);
    } else {
        stored = react_on_sites(p, s, g->n);
    }
    if (i >= p->slip_from) {
        s->volume *= 0.3; /* a thin layer: judgement */
        s->hint = s->hint != NULL ? s->hint + 1 : NULL;
        emb_surface_react(&p->slip, s, g->n);
    }
    return stored;
}

/* Heat of the solids: the brick with its water, what its sites hold and the crust on its face. */
static void cell_heat(const struct brick *p, const struct emb_env *env, const double *y,
                      double crust, double gain, double *d, struct emb_tally *t)
{
    const double T = y[0], M = emb_species_mass(EMB_H2O), mat = p->m.cell.mat * (T - y[1]);
    t->capacity = p->m.cell.solid * emb_comb_cp(&p->m, T) + y[2] / M * emb_water_liquid_cp() +
                  p->sites * y[3] * emb_species_cp(p->keeps, T);
    if (crust != 0.0) {
        t->capacity += crust / emb_species_mass(EMB_SOOT) * emb_species_cp(EMB_SOOT, T);
    }
    t->loss = emb_outside_loss(&p->outside, &env->wind, y[1], p->m.cell.can, p->c.body.emissivity,
                               p->c.body.insulation);
    d[0] = (gain - mat) / t->capacity;
    d[1] = (mat - t->loss) / p->m.cell.shell;
}

static void brick_cell(const void *par, size_t i, const struct emb_env *env, const double *shared,
                       const double *y, const struct emb_stream *in, struct emb_stream *out,
                       double *dshared, double *d, struct emb_tally *t)
{
    const struct brick *p = par;
    struct emb_gas *g = &out->gas;
    struct emb_fold *fold = &out->heat;
    const double T = y[0], open = 1.0 - closed_share(p, shared[0]);
    double crust = 0.0;
    out->gas = in->gas;
    out->heat = in->heat;
    const double H_in = emb_fold_enthalpy(fold, g);
    if (i == 0) {
        crust_rates(p, T, shared[0], g, &crust, &t->soot_burnt);
        dshared[0] += crust;
        emb_gas_fold(g, fold);
    }
    struct emb_surface s = {.T = T,
                            .p = env->p,
                            .volume = p->m.cell.volume * open * p->c.activity,
                            .sites = p->c.storage * p->c.activity,
                            .theta = y[3],
                            .hint = env->hint,
                            .close = env->close};
    const double T_film = p->c.properties_at == EMB_FILM_GAS ? g->T : 0.5 * (g->T + T);
    const double cp = emb_fold_cp(fold, g);
    emb_exchange(g, cp, T, emb_rise_in(env, T), film_transfer(p, cp, T_film, open, &s));
    const double to_water = s.transfer[EMB_H2O]; /* [mol/s] it condenses on the outside */
    add_washcoat(p, env->p, T, open, &s);
    urea_on_wall(p, open, env->p, g);
    const double stored = react(p, i, &s, open, g);
    d[2] = emb_water_exchange(g, env->p, T, to_water, p->m.cell.area * open, y[2]);
    d[3] = (p->sites > 0.0) ? stored / p->sites : 0.0;
    const double q_ads = emb_species_h(p->keeps, T) - p->E0 * (1.0 - p->alpha * y[3]);
    emb_gas_fold(g, fold);
    const double gain = H_in - emb_fold_enthalpy(fold, g) -
                        d[2] / emb_species_mass(EMB_H2O) * emb_water_liquid_h(T) - stored * q_ads;
    const double settled = crust / emb_species_mass(EMB_SOOT); /* [mol/s] */
    cell_heat(p, env, y, i == 0 ? shared[0] : 0.0,
              i == 0 ? gain - settled * emb_species_h(EMB_SOOT, T) : gain, d, t);
}

static void brick_stock(const void *par, const double *y, struct emb_stock *o)
{
    const struct brick *p = par;
    const double n = p->c.body.cells, M = emb_species_mass(EMB_H2O),
                 crust = y[0] / emb_species_mass(EMB_SOOT);
    y++;
    o->energy += crust * emb_species_h(EMB_SOOT, y[0]);
    o->el[EMB_EL_C] += crust;
    for (int i = 0; i < p->c.body.cells; i++, y += NS) {
        const double th = y[3];
        o->energy += p->m.solid / n * emb_comb_heat(&p->m, y[0]) +
                     p->m.can_area / n * p->c.body.can_heat * (y[1] - EMB_T0) +
                     y[2] / M * emb_water_liquid_h(y[0]) +
                     p->sites * (th * emb_species_h(p->keeps, y[0]) -
                                 p->E0 * (th - 0.5 * p->alpha * th * th));
        for (int e = 0; e < EMB_NELEMENTS; e++) {
            o->el[e] += y[2] / M * emb_species_elements(EMB_H2O)[e] +
                        p->sites * th * emb_species_elements(p->keeps)[e];
        }
    }
}

static const struct emb_observation brick_obs[] = {
    {"face_temperature", "K", "solid at the face"},
    {"mean_temperature", "K", "mean of the solid"},
    {"rear_temperature", "K", "solid at the rear"},
    {"hottest", "K", "hottest cell of the solid"},
    {"hottest_at", "-", "place of the hottest cell, share of the length"},
    {"conversion_co", "-", "CO converted over the brick"},
    {"conversion_hc", "-", "hydrocarbon carbon converted or stored over the brick"},
    {"conversion_nox", "-", "NOx converted over the brick"},
    {"no2_share", "-", "NO2 in NOx behind the brick"},
    {"coverage", "-", "mean coverage of the storage sites, by NH3 or heavy hydrocarbon"},
    {"stored", "kg", "NH3 or heavy hydrocarbon held by the sites"},
    {"closed_share", "-", "share of the face closed; crust calibrated, not validated"},
    {"pressure_drop", "Pa", "laminar friction in the open channels"},
};

static double conversion(double a, double b)
{
    return a > 1e-12 ? 1.0 - b / a : 0.0;
}

static void brick_observe(const void *par, const struct emb_env *env, const double *y,
                          const struct emb_gas *in, const struct emb_gas *out, double *v)
{
    const struct brick *p = par;
    const int n = p->c.body.cells;
    const double *c = y + 1, open = 1.0 - closed_share(p, y[0]);
    double mean = 0.0, hot = 0.0, at = 0.0, theta = 0.0;
    for (int i = 0; i < n; i++) {
        mean += c[NS * i] / n;
        if (c[NS * i] > hot) {
            hot = c[NS * i];
            at = (i + 0.5) / n;
        }
        theta += c[NS * i + 3] / n;
    }
    const double hc_in = in->n[EMB_FUEL] + 3.0 * in->n[EMB_C3H6],
                 hc_out = out->n[EMB_FUEL] + 3.0 * out->n[EMB_C3H6];
    const double nox_in = in->n[EMB_NO] + in->n[EMB_NO2], nox = out->n[EMB_NO] + out->n[EMB_NO2];
    const double u =
        emb_gas_moles(out) * EMB_R * mean / env->p / (p->m.face * p->m.open * open); /* [m/s] */
    v[0] = c[0];
    v[1] = mean;
    v[2] = c[NS * (n - 1)];
    v[3] = hot;
    v[4] = at;
    v[5] = conversion(in->n[EMB_CO], out->n[EMB_CO]);
    v[6] = conversion(hc_in, hc_out);
    v[7] = conversion(nox_in, nox);
    v[8] = nox > 1e-12 ? out->n[EMB_NO2] / nox : 0.0;
    v[9] = theta;
    v[10] = theta * p->sites * n * emb_species_mass(p->keeps);
    v[11] = 1.0 - open;
    /* Darcy f Re = 56.908 in a square duct, Shah & London 1978 */
    v[12] = 0.5 * 56.908 * emb_gas_viscosity(mean) * u * p->c.body.length / (p->m.dh * p->m.dh);
}

static unsigned brick_listens(const void *par)
{
    const struct brick *p = par;
    const unsigned slip = p->c.slip_zone > 0.0 ? emb_surface_listens(&p->slip) : 0u;
    return emb_surface_listens(&p->set) | slip | 1u << p->keeps | 1u << EMB_H2O | 1u << EMB_UREA |
           1u << EMB_SOOT;
}

const struct emb_component_type emb_brick_type = {"brick",
                                                  "flow-through catalyst",
                                                  brick_prepare,
                                                  brick_shape,
                                                  brick_describe,
                                                  brick_init,
                                                  brick_cell,
                                                  brick_stock,
                                                  sizeof brick_obs / sizeof *brick_obs,
                                                  brick_obs,
                                                  brick_observe,
                                                  brick_listens,
                                                  true};
