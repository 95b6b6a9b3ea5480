import math

from scipy.optimize import brentq

from lib import handbook as hb

X = {"O2": 0.10, "CO2": 0.07, "H2O": 0.02}
D, WALL, L, TA = 0.125, 1.6e-3, 3.0, 293.15


def cell(T, flow, wind, wrap):
    """Wall temperature and heat flow per metre."""
    od = D + 2 * WALL + 2 * wrap

    def inside(tw):
        tf = 0.5 * (T + tw)
        mu, k = hb.viscosity(tf), hb.conductivity(tf)
        re, pr = 4 * flow / (math.pi * D * mu), mu * hb.mix_cp(X, T) / k
        return 1.5 * hb.gnielinski(re, pr) * k / D * math.pi * D * (T - tw)

    def outside(ts):
        return (hb.h_outside(ts, TA, od, wind) + hb.h_radiation(0.85, ts, TA)) * math.pi * od * (ts - TA)

    if wrap == 0.0:
        tw = brentq(lambda t: inside(t) - outside(t), TA + 1e-6, T)
        return tw, inside(tw)
    # conduction through a cylinder, 0.08 W/(m K), referred to the inner diameter's area over the outer radius of the wall
    r = D / 2 + WALL
    conduct = math.pi * D * 0.08 / (r * math.log((r + wrap) / r))
    q = brentq(lambda q: cover(q, inside, T) - q / conduct - brentq(lambda t: outside(t) - q, TA, T), 1e-3, 1e4)
    return cover(q, inside, T), q


def cover(q, inside, T):
    return brentq(lambda t: inside(t) - q, TA - 500, T)


def exact(Tin, flow, wind, wrap):
    T, walls, lost, n = Tin, 0.0, 0.0, 2000
    for _ in range(n):
        tw, q = cell(T, flow, wind, wrap)
        walls += tw / n
        lost += q * L / n
        T -= q * L / n / (flow * hb.mix_cp(X, T))
    return T, walls, lost


def run(case):
    for name, flow, t, wind, wrap in (("idle", 0.06, 150, 0, 0.0), ("road", 0.25, 400, 20, 0.0),
                                      ("wrapped", 0.25, 400, 20, 12e-3)):
        sets = [f"stream.flow={flow} kg/s", f"stream.temperature={t} degC", f"ambient.wind={wind} m/s"]
        if wrap:
            sets += ["line.front.cover=wrapped", "line.rear.cover=wrapped"]
        r = case.run("case.yaml", *sets)
        T, wall, lost = exact(t + 273.15, flow, wind, wrap)
        case.claim(f"{name}-gas", r.end("rear.gas_temperature") - 273.15, T - 273.15)
        case.claim(f"{name}-wall", 0.5 * (r.end("front.mean_temperature") + r.end("rear.mean_temperature")) - 273.15,
                   wall - 273.15)
        drop = t + 273.15 - r.end("rear.gas_temperature")
        case.claim(f"{name}-loss", flow * hb.mix_cp(X, t + 273.15 - drop / 2) * drop, lost)
        if name == "road":
            ends = math.sqrt((t + 273.15 - TA) * (r.end("rear.gas_temperature") - TA)) + TA
            case.claim("half", r.end("front.gas_temperature") - 273.15, ends - 273.15)
            p = case.plot("Warm-up of the gas leaving the pipe", "time [min]", "temperature [degC]")
            p.line(r.t[:40] / 60, r["rear.gas_temperature"][:40] - 273.15, "program")
            p.line([0, r.t[39] / 60], [T - 273.15] * 2, "steady, integrated anew", True)
