/* Mean-value engine. Air from displacement and boost, fuel from a Willans line, exhaust heat as a
 * share of the fuel's. Emission indices are correlations: judgement, not validated for any engine.
 * Elements balance exactly: products are complete combustion less what the indices leave unburnt;
 * the coolant takes the energy that is left. */
#include "emberpipe/engine.h"

#include <math.h>
#include <string.h>

static const double pi = 3.14159265358979323846;
static const double dry_o2 = 0.20946; /* [-] of dry air, US Standard Atmosphere 1976; from memory */

static double mix(double idle, double full, double load)
{
    return idle + (full - idle) * load;
}

static double clamp(double v, double low, double high)
{
    return fmin(fmax(v, low), high);
}

/* What the shaft asks for and what the cylinders do about it. */
struct work {
    double load, egr, firing; /* [-] share of peak torque, of the charge, of the cylinders */
    double air;               /* [kg/s] fresh, humid */
    double oxygen;            /* [mol/s] in the firing cylinders */
    double fuel;              /* [kg/s] burnt in the cylinders as main injection */
    double power;             /* [W] at the shaft, with the accessories */
};

static double friction_pressure(const struct emb_engine_cfg *e, double w) /* [Pa] warm */
{
    return e->friction + e->friction_speed * w;
}

double emb_engine_drag_torque(const struct emb_engine_cfg *e, double omega)
{
    return friction_pressure(e, omega) * e->displacement / (4.0 * pi);
}

static void fresh_air(const struct emb_ambient *a, double mass, double *n)
{
    const double xw = a->humidity * emb_water_psat(a->temperature) / a->pressure; /* [-] */
    const double dry = dry_o2 * emb_species_mass(EMB_O2) +
                       (1.0 - dry_o2) * emb_species_mass(EMB_N2); /* [kg/mol] argon as N2 */
    const double N = mass / ((1.0 - xw) * dry + xw * emb_species_mass(EMB_H2O)); /* [mol/s] */
    memset(n, 0, EMB_NSPECIES * sizeof *n);
    n[EMB_O2] = dry_o2 * (1.0 - xw) * N;
    n[EMB_N2] = (1.0 - dry_o2) * (1.0 - xw) * N;
    n[EMB_H2O] = xw * N;
}

/* Oxygen [mol] that a kilogram of fuel can use up at most: complete combustion and all of its NOx.
 */
static double oxygen_per_fuel(const struct emb_engine_cfg *e)
{
    const double *el = emb_species_elements(EMB_FUEL);
    return (el[EMB_EL_C] + 0.25 * el[EMB_EL_H]) / emb_species_mass(EMB_FUEL) +
           fmax(e->nox_index_idle, e->nox_index_full) / emb_species_mass(EMB_NO2);
}

/* Share of the boost that is there at a speed over rated speed [-]: it grows with the gas that
 * drives the turbine and is held from 65 % on, so that the air per cycle follows the torque:
 * judgement. */
static double boost_reached(double r)
{
    return fmin(sqrt(fmax(r, 0.0) / 0.65), 1.0);
}

/* Fresh air, and what of it reaches the cylinders that fire. */
static void breathe(const struct emb_engine_cfg *e, const struct emb_ambient *a, const double *u,
                    double swept, struct work *k, double *air_n)
{
    const double boost = (e->boost - 1.0) * (1.0 - e->boost_leak) * k->load *
                         boost_reached(u[EMB_U_SPEED] / e->rated_speed);      /* [-] */
    const double p = a->pressure * (1.0 + boost) * (1.0 - u[EMB_U_THROTTLE]); /* [Pa] */
    const double T = a->temperature + e->charge_temperature_rise;             /* [K] */
    const double charge = e->volumetric_efficiency * p * swept / (287.0 * T); /* dry air J/(kg K) */
    k->egr = fmin(mix(e->egr_idle, e->egr_full, k->load) * u[EMB_U_EGR], 0.6);
    k->firing = 1.0 - (double)e->dead_cylinders / e->cylinders;
    k->air = charge * (1.0 - k->egr);
    fresh_air(a, k->air, air_n);
    k->oxygen = air_n[EMB_O2] * k->firing;
}

/* Willans line: fuel heat times indicated efficiency is the work of shaft, friction and pumping. */
static struct work cycle_work(const struct emb_engine_cfg *e, const struct emb_ambient *a,
                              const double *u, double T_engine, double back_pressure, double *air_n)
{
    const double w = u[EMB_U_SPEED], torque = u[EMB_U_TORQUE];
    const double swept = e->displacement * w / (4.0 * pi); /* [m3/s] four-stroke */
    struct work k = {.load = clamp(torque / e->peak_torque, 0.0, 1.0)};
    breathe(e, a, u, swept, &k, air_n);
    const double warm = e->warm_temperature;
    const double cold = clamp((warm - T_engine) / (warm - 253.15), 0.0, 1.5); /* [-] -20 degC: 1 */
    const double fmep = friction_pressure(e, w) * (1.0 + e->cold_friction * cold); /* [Pa] */
    const double pumping = back_pressure + 60e3 * u[EMB_U_THROTTLE]; /* [Pa] shut: judgement */
    const double loss = (fmep + pumping) * swept;                    /* [W] */
    const double shaft = torque * w + e->accessory;                  /* [W] */
    const double brake = u[EMB_U_BRAKE] * e->peak_torque * w;        /* [W] not for the shaft */
    /* In overrun the wheels turn the engine: fuel fades out down to the torque of warm friction. */
    const double fired = clamp(1.0 + torque / fmax(emb_engine_drag_torque(e, w), 1e-9), 0.0, 1.0);
    const double lambda = 1.12; /* [-] smoke limit, air/fuel about 16 by mass: judgement */
    const double heat = e->indicated_efficiency * emb_fuel_lhv(); /* [J/kg] work per fuel */
    k.fuel = fmin(fmax(shaft + loss + brake, 0.0) * fired / heat,
                  k.oxygen / (lambda * oxygen_per_fuel(e)));
    /* What the fuel cannot give the shaft does not get; what drags more than the engine does is
     * somebody else's brake. */
    k.power = fmax(fmin(shaft, k.fuel * heat - loss), -loss - brake);
    return k;
}

/* Molar flows [mol/s] of what is not burnt to the end, by the indices; `carbon` burns in all. */
struct unburnt {
    double soot, co, heavy, light;
};

static struct unburnt leave_unburnt(const struct emb_engine_cfg *e, double load, double afr,
                                    double fuel)
{
    /* soot and CO rise near the smoke limit: judgement */
    const double rich = 1.0 + 9.0 / (1.0 + exp(2.0 * (fmin(afr, 100.0) - 19.0))); /* [-] */
    const double hc = fuel * mix(e->hc_index_idle, e->hc_index_full, load);       /* [kg/s] */
    struct unburnt b = {
        .soot = fuel * rich * mix(e->soot_index_idle, e->soot_index_full, load) /
                emb_species_mass(EMB_SOOT),
        .co =
            fuel * rich * mix(e->co_index_idle, e->co_index_full, load) / emb_species_mass(EMB_CO),
        .heavy = hc * e->heavy_hc_share / emb_species_mass(EMB_FUEL),
        .light = hc * (1.0 - e->heavy_hc_share) / emb_species_mass(EMB_C3H6),
    };
    /* Wild indices must not ask for more carbon than there is: half of it always burns. */
    const double carbon = b.soot + b.co + b.heavy + 3.0 * b.light; /* [mol/s] */
    const double most = 0.5 * fuel / emb_species_mass(EMB_FUEL);   /* [mol/s] */
    const double keep = carbon > most ? most / carbon : 1.0;       /* [-] */
    b.soot *= keep;
    b.co *= keep;
    b.heavy *= keep;
    b.light *= keep;
    return b;
}

/* Turns burnt fuel [kg/s] into products less the unburnt shares; elements balance by construction.
 */
static void combust(const struct emb_engine_cfg *e, const struct work *k, double afr, double fuel,
                    double *n)
{
    const struct unburnt b = leave_unburnt(e, k->load, afr, fuel);
    const double M = emb_species_mass(EMB_FUEL), h = emb_species_elements(EMB_FUEL)[EMB_EL_H];
    /* fourfold exponential in EGR: a quarter of it takes two thirds of the NOx; judgement */
    const double nox = fuel * mix(e->nox_index_idle, e->nox_index_full, k->load) *
                       exp(-4.0 * k->egr) / emb_species_mass(EMB_NO2);           /* [mol/s] */
    const double no2 = nox * mix(e->no2_share_idle, e->no2_share_full, k->load); /* [mol/s] */
    const double C = fuel / M - b.soot - b.co - b.heavy - 3.0 * b.light;         /* [mol/s] */
    const double H = fuel / M * h - b.heavy * h - 6.0 * b.light;                 /* [mol/s] */
    n[EMB_SOOT] += b.soot;
    n[EMB_CO] += b.co;
    n[EMB_FUEL] += b.heavy;
    n[EMB_C3H6] += b.light;
    n[EMB_CO2] += C;
    n[EMB_H2O] += 0.5 * H;
    n[EMB_NO] += nox - no2;
    n[EMB_NO2] += no2;
    n[EMB_N2] -= 0.5 * nox;
    n[EMB_O2] -= C + 0.5 * b.co + 0.25 * H + 0.5 * (nox - no2) + no2;
}

/* How the injected fuel is shared out [kg/s]. */
struct fuel {
    double post, raw, burnt;
}; /* post: burns late; raw: stays vapour; burnt: in all */

static struct fuel share_fuel(const struct emb_engine_cfg *e, const struct work *k, const double *u)
{
    const double close = u[EMB_U_CLOSE_POST], late = u[EMB_U_LATE_POST];
    /* post-injections may use up all oxygen but a rest: lambda 1.04, judgement */
    const double room = fmax(k->oxygen / (1.04 * oxygen_per_fuel(e)) - k->fuel, 0.0);
    const double post = fmin(close + 0.1 * late, room); /* 10 % of the late one burns: judgement */
    const double dead =
        k->firing > 0.0 && e->dead_fuelled ? k->fuel * (1.0 - k->firing) / k->firing : 0.0;
    return (struct fuel){post, close + late - post + dead + e->oil_burn, k->fuel + post};
}

/* Exhaust heat above the intake [W]: a share of the main fuel's and three quarters of what burns
 * late (it yields next to no work, the cylinder walls get the rest: judgement), less what the
 * vapour takes. */
static double exhaust_heat(const struct emb_engine_cfg *e, const struct work *k,
                           const struct fuel *f, double T_engine)
{
    const double cold = clamp((e->warm_temperature - T_engine) / 100.0, 0.0, 1.0); /* [-] */
    /* a stone-cold block keeps 30 % of it: judgement */
    /* squared: light loads heat the walls nearly as much as idling does, judgement */
    const double share = mix(e->exhaust_share_idle, e->exhaust_share, k->load * k->load) *
                         (1.0 - 0.3 * cold); /* [-] */
    return emb_fuel_lhv() * (share * k->fuel + 0.75 * f->post) -
           f->raw * 0.36e6; /* [J/kg] heat of vaporisation, as n-dodecane, from memory */
}

void emb_engine_eval(const struct emb_engine_cfg *e, const struct emb_ambient *a, const double *u,
                     double T_engine, double back_pressure, struct emb_engine_out *out)
{
    memset(out, 0, sizeof *out);
    const struct work k = cycle_work(e, a, u, T_engine, back_pressure, out->air_n);
    const struct fuel f = share_fuel(e, &k, u);
    out->fuel = f.burnt + f.raw;
    out->air = k.air;
    out->power = k.power;
    out->afr = k.air / fmax(out->fuel, 1e-9);
    memcpy(out->gas.n, out->air_n, sizeof out->gas.n);
    combust(e, &k, k.air * k.firing / fmax(f.burnt, 1e-9), f.burnt, out->gas.n);
    out->gas.n[EMB_FUEL] += f.raw / emb_species_mass(EMB_FUEL);
    const double intake = a->temperature + 0.4 * e->charge_temperature_rise; /* [K] */
    /* air that is only pumped through leaves half-way to the block's temperature; that fades with
     * the fuel and is gone at idle (air/fuel 90): judgement */
    const double pumped = 0.5 * exp(-500.0 * f.burnt / fmax(k.air, 1e-9)); /* [-] */
    out->gas.T = intake + pumped * (T_engine - intake);
    const double heat = exhaust_heat(e, &k, &f, T_engine); /* [W] */
    const double floor = -20.0 * emb_gas_cp(&out->gas);    /* [W] spray cools by 20 K at most */
    emb_gas_set_enthalpy(&out->gas, emb_gas_enthalpy(&out->gas) + fmax(heat, floor));
    struct emb_gas air = {.T = a->temperature};
    memcpy(air.n, out->air_n, sizeof air.n);
    out->coolant = emb_gas_enthalpy(&air) + out->fuel * emb_fuel_liquid_h(a->temperature) -
                   k.power - emb_gas_enthalpy(&out->gas);
}
