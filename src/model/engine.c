/* Mean-value engine. Air from displacement and boost, fuel from a Willans line, exhaust heat as a share of the fuel's.
 * Emission indices are correlations: judgement, not validated for any engine. Elements balance exactly: products are
 * complete combustion less what the indices leave unburnt; the coolant takes the energy that is left. */
#include "emberpipe/engine.h"

#include <math.h>
#include <string.h>

static double mix(double idle, double full, double load) { return idle + (full - idle) * load; }

static double load_share(const struct emb_engine_cfg *e, double torque)
{
    return fmin(fmax(torque / e->peak_torque, 0.0), 1.0);
}

struct work { double load, air, fuel, brake_power; }; /* [-], [kg/s] fresh air, [kg/s] burnt in the cylinder, [W] */

static struct work cycle_work(const struct emb_engine_cfg *e, const struct emb_ambient *a, const double *u, double T_engine,
                              double back_pressure)
{
    const double w = u[EMB_U_SPEED], swept = e->displacement * w / (4.0 * 3.14159265358979323846); /* [m3/s] four-stroke */
    const double brake = u[EMB_U_TORQUE] * w + e->accessory + u[EMB_U_BRAKE] * 0.1 * e->peak_torque * w;
    const double cold = fmin(fmax((e->warm_temperature - T_engine) / (e->warm_temperature - 253.15), 0.0), 1.5);
    const double fmep = (e->friction + e->friction_speed * w) * (1.0 + e->cold_friction * cold);
    const double pumping = back_pressure + 60e3 * u[EMB_U_THROTTLE]; /* 60 kPa at a shut throttle: judgement */
    const double need = brake + (fmep + pumping) * swept;
    const double load = load_share(e, u[EMB_U_TORQUE]), boost = (e->boost - 1.0) * (1.0 - e->boost_leak);
    const double p = a->pressure * (1.0 + boost * load * fmin(w / e->rated_speed, 1.0)) * (1.0 - u[EMB_U_THROTTLE]);
    const double T = a->temperature + e->charge_temperature_rise;
    const double charge = e->volumetric_efficiency * p * swept / (287.0 * T); /* 287 J/(kg K): dry air */
    const double egr = fmin(mix(e->egr_idle, e->egr_full, load) * u[EMB_U_EGR], 0.6);
    struct work k = {load, charge * (1.0 - egr), 0.0, brake};
    const double firing = 1.0 - (double)e->dead_cylinders / e->cylinders;
    const double most = firing > 0.0 ? k.air * firing / 16.0 : 0.0; /* smoke limit: air/fuel 16 by mass, judgement */
    k.fuel = fmin(fmax(need, 0.0) / (e->indicated_efficiency * emb_fuel_lhv()), most);
    return k;
}

static void fresh_air(const struct emb_ambient *a, double mass, double *n)
{
    const double xw = a->humidity * emb_water_psat(a->temperature) / a->pressure;
    const double dry = 0.20946 * emb_species_mass(EMB_O2) + 0.79054 * emb_species_mass(EMB_N2); /* argon counted as N2 */
    const double N = mass / ((1.0 - xw) * dry + xw * emb_species_mass(EMB_H2O));
    memset(n, 0, EMB_NSPECIES * sizeof *n);
    n[EMB_O2] = 0.20946 * (1.0 - xw) * N;
    n[EMB_N2] = 0.79054 * (1.0 - xw) * N;
    n[EMB_H2O] = xw * N;
}

/* Turns burnt [mol C/s] of fuel into products with the unburnt shares taken out; elements balance by construction. */
static void combust(const struct emb_engine_cfg *e, double load, double egr, double afr, double fuel, double raw, double *n)
{
    const double M = emb_species_mass(EMB_FUEL), h = emb_species_elements(EMB_FUEL)[EMB_EL_H];
    const double rich = 1.0 + 9.0 / (1.0 + exp(2.0 * (afr - 19.0))); /* soot and CO rise near the smoke limit: judgement */
    const double soot = fuel * mix(e->soot_index_idle, e->soot_index_full, load) * rich / emb_species_mass(EMB_SOOT);
    const double co = fuel * mix(e->co_index_idle, e->co_index_full, load) * rich / emb_species_mass(EMB_CO);
    const double hc = fuel * mix(e->hc_index_idle, e->hc_index_full, load);
    const double heavy = hc * e->heavy_hc_share / M, light = hc * (1.0 - e->heavy_hc_share) / emb_species_mass(EMB_C3H6);
    const double nox = fuel * mix(e->nox_index_idle, e->nox_index_full, load) * exp(-4.0 * egr) / emb_species_mass(EMB_NO2);
    const double no2 = nox * mix(e->no2_share_idle, e->no2_share_full, load);
    const double C = fuel / M - soot - co - heavy - 3.0 * light, H = fuel / M * h - heavy * h - 6.0 * light;
    n[EMB_SOOT] += soot;
    n[EMB_CO] += co;
    n[EMB_FUEL] += heavy + raw / M;
    n[EMB_C3H6] += light;
    n[EMB_CO2] += C;
    n[EMB_H2O] += 0.5 * H;
    n[EMB_NO] += nox - no2;
    n[EMB_NO2] += no2;
    n[EMB_N2] -= 0.5 * nox;
    n[EMB_O2] -= C + 0.5 * co + 0.25 * H + 0.5 * (nox - no2) + no2;
}

void emb_engine_eval(const struct emb_engine_cfg *e, const struct emb_ambient *a, const double *u, double T_engine,
                     double back_pressure, struct emb_engine_out *out)
{
    const struct work k = cycle_work(e, a, u, T_engine, back_pressure);
    const double egr = mix(e->egr_idle, e->egr_full, k.load) * u[EMB_U_EGR];
    const double dead = (double)e->dead_cylinders / e->cylinders;
    const double room = fmax(k.air * (1.0 - dead) / 15.0 - k.fuel, 0.0);          /* O2 left for the post-injections */
    const double close = fmin(u[EMB_U_CLOSE_POST], room), late = u[EMB_U_LATE_POST];
    const double late_burnt = fmin(0.1 * late, room - close);                       /* 10 % burns: judgement */
    const double skipped = (dead > 0.0 && dead < 1.0 && e->dead_fuelled) ? k.fuel * dead / (1.0 - dead) : 0.0;
    const double raw = late - late_burnt + u[EMB_U_CLOSE_POST] - close + skipped + e->oil_burn;
    const double burnt = k.fuel + close + late_burnt;
    memset(out, 0, sizeof *out);
    out->fuel = burnt + raw;
    out->air = k.air;
    out->power = k.brake_power;
    out->afr = k.air / fmax(out->fuel, 1e-9);
    fresh_air(a, k.air, out->air_n);
    memcpy(out->gas.n, out->air_n, sizeof out->gas.n);
    combust(e, k.load, egr, k.air / fmax(burnt, 1e-9), burnt, raw, out->gas.n);
    /* exhaust heat above intake: a share of the main fuel's, 85 % of post fuel that burns late (common practice, no source) */
    const double cold = fmin(fmax((e->warm_temperature - T_engine) / 100.0, 0.0), 1.0);
    const double share = mix(e->exhaust_share_idle, e->exhaust_share, k.load) * (1.0 - 0.3 * cold);
    const double heat = emb_fuel_lhv() * (share * k.fuel + 0.85 * (close + late_burnt)) - raw * 0.36e6;
    out->gas.T = a->temperature + 0.4 * e->charge_temperature_rise;
    const double cp = emb_gas_cp(&out->gas);
    emb_gas_set_enthalpy(&out->gas, emb_gas_enthalpy(&out->gas) + fmax(heat, -20.0 * cp));
    struct emb_gas air = {.T = a->temperature};
    memcpy(air.n, out->air_n, sizeof air.n);
    out->coolant = emb_gas_enthalpy(&air) + out->fuel * emb_fuel_liquid_h(a->temperature) - k.brake_power -
                   emb_gas_enthalpy(&out->gas);
}
