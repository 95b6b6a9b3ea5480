"""Section 6 of model.md: the engine."""
import math

import numpy as np

from gas import FUEL, SOOT, Gas, fuel_liquid, psat
from tables import ELEMENTS, INDEX, MASS, NAMES

N2, O2, CO2, H2O, CO, C3H6, NO, NO2 = (INDEX[n] for n in ("N2", "O2", "CO2", "H2O", "CO", "C3H6", "NO", "NO2"))
LHV = 43.098e6


def cut(x, a, b):
    return min(max(x, a), b)


def mix(a, b, x):
    return a + (b - a) * x


def torque_limit(e, w):
    r = w / e["rated_speed"]
    f = 0.4 + 1.2 * r if r < 0.5 else 1.0 if r < 0.75 else 1.0 - 1.2 * (r - 0.75)
    return e["peak_torque"] * cut(f, 0.1, 1.0)


def air_flow(mass, amb):
    xw = amb["humidity"] * psat(amb["T"]) / amb["p"]
    n = np.zeros(len(NAMES))
    n[O2], n[N2], n[H2O] = 0.20946 * (1 - xw), (1 - 0.20946) * (1 - xw), xw
    return n * (mass / float(n @ MASS))


def engine(e, amb, u, Te, back):
    """u: w, M, throttle, egr, brake, close_post, late_post. Returns the exhaust and the heat left to the coolant."""
    w, M = u["w"], u["M"]
    L = cut(M / e["peak_torque"], 0.0, 1.0)
    swept = e["displacement"] * w / (4 * math.pi)
    boost = (e["boost"] - 1) * (1 - e["boost_leak"]) * L * min(math.sqrt(w / e["rated_speed"] / 0.65), 1.0)
    p_in = amb["p"] * (1 + boost) * (1 - u["throttle"])
    charge = e["volumetric_efficiency"] * p_in * swept / (287.0 * (amb["T"] + e["charge_temperature_rise"]))
    egr = min(mix(e["egr_idle"], e["egr_full"], L) * u["egr"], 0.6)
    air = charge * (1 - egr)
    n_air = air_flow(air, amb)
    firing = 1.0 - e["dead_cylinders"] / e["cylinders"]
    oxygen = n_air[O2] * firing
    Tw = e["warm_temperature"]
    warm = e["friction"] + e["friction_speed"] * w
    fmep = warm * (1 + e["cold_friction"] * cut((Tw - Te) / (Tw - 253.15), 0.0, 1.5))
    loss = (fmep + back + 60e3 * u["throttle"]) * swept
    shaft, brake = M * w + e["accessory"], u["brake"] * e["peak_torque"] * w
    fired = cut(1 + M / (warm * e["displacement"] / (4 * math.pi)), 0.0, 1.0)
    h = ELEMENTS[FUEL][1]
    per = (1 + h / 4) / MASS[FUEL] + max(e["nox_index_idle"], e["nox_index_full"]) / MASS[NO2]
    eta = e["indicated_efficiency"] * LHV
    fuel = min(max(shaft + loss + brake, 0.0) * fired / eta, oxygen / (1.12 * per))
    power = max(min(shaft, fuel * eta - loss), -loss - brake)
    post = min(u["close_post"] + 0.1 * u["late_post"], max(oxygen / (1.04 * per) - fuel, 0.0))
    dead = fuel * (1 - firing) / firing if firing > 0 and e["dead_fuelled"] else 0.0
    raw = u["close_post"] + u["late_post"] - post + dead + e["oil_burn"]
    burnt = fuel + post
    n = n_air.copy()
    rich = 1 + 9 / (1 + math.exp(2 * (min(air * firing / max(burnt, 1e-9), 100.0) - 19)))
    soot = burnt * rich * mix(e["soot_index_idle"], e["soot_index_full"], L) / MASS[SOOT]
    co = burnt * rich * mix(e["co_index_idle"], e["co_index_full"], L) / MASS[CO]
    hc = burnt * mix(e["hc_index_idle"], e["hc_index_full"], L)
    heavy, light = hc * e["heavy_hc_share"] / MASS[FUEL], hc * (1 - e["heavy_hc_share"]) / MASS[C3H6]
    carbon = soot + co + heavy + 3 * light
    keep = min(0.5 * burnt / MASS[FUEL] / carbon, 1.0) if carbon > 0 else 1.0
    soot, co, heavy, light = soot * keep, co * keep, heavy * keep, light * keep
    nox = burnt * mix(e["nox_index_idle"], e["nox_index_full"], L) * math.exp(-4 * egr) / MASS[NO2]
    no2 = nox * mix(e["no2_share_idle"], e["no2_share_full"], L)
    C = burnt / MASS[FUEL] - soot - co - heavy - 3 * light
    H = burnt / MASS[FUEL] * h - heavy * h - 6 * light
    n[SOOT] += soot
    n[CO] += co
    n[FUEL] += heavy + raw / MASS[FUEL]
    n[C3H6] += light
    n[CO2] += C
    n[H2O] += H / 2
    n[NO] += nox - no2
    n[NO2] += no2
    n[N2] -= nox / 2
    n[O2] -= C + co / 2 + H / 4 + (nox - no2) / 2 + no2
    intake = amb["T"] + 0.4 * e["charge_temperature_rise"]
    g = Gas(intake + 0.5 * math.exp(-500 * burnt / max(air, 1e-9)) * (Te - intake), n)
    share = mix(e["exhaust_share_idle"], e["exhaust_share"], L * L) * (1 - 0.3 * cut((Tw - Te) / 100, 0.0, 1.0))
    heat = LHV * (share * fuel + 0.75 * post) - 0.36e6 * raw
    g.set_H(g.H() + max(heat, -20.0 * g.C()))
    coolant = Gas(amb["T"], n_air).H() + (burnt + raw) * fuel_liquid(amb["T"]) - power - g.H()
    return g, coolant


def block(e, amb, Te, coolant):
    return (coolant - 8000.0 * max(Te - e["warm_temperature"], 0.0) - 60.0 * (Te - amb["T"])) / e["thermal_mass"]
