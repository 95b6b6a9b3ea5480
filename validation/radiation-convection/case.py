import math

from scipy.optimize import brentq

from lib import handbook as hb

X = {"O2": 0.10, "CO2": 0.07, "H2O": 0.02}
D, WALL, TA, T, FLOW = 0.125, 1.6e-3, 293.15, 773.15, 0.1


def inside(tw):
    """W per metre of length."""
    tf = 0.5 * (T + tw)
    mu, k = hb.viscosity(tf), hb.conductivity(tf)
    re = 4 * FLOW / (math.pi * D * mu)
    return 1.5 * hb.gnielinski(re, mu * hb.mix_cp(X, T) / k) * k / D * math.pi * D * (T - tw)


def outside(ts, od, eps, wind):
    return (hb.h_outside(ts, TA, od, wind) + hb.h_radiation(eps, ts, TA)) * math.pi * od * (ts - TA)


def run(case):
    od, walls = D + 2 * WALL, {}
    for eps, wind in ((0.0, 0), (0.85, 0), (0.0, 15), (0.85, 15)):
        r = case.run("case.yaml", f"line.pipe.emissivity={eps}", f"ambient.wind={wind} m/s")
        tw = brentq(lambda t: inside(t) - outside(t, od, eps, wind), TA, T)
        walls[eps, wind] = r.end("pipe.mean_temperature")
        case.claim(f"{eps}-{wind}", walls[eps, wind] - 273.15, tw - 273.15)
    ts = walls[0.85, 0]
    rad = lambda t: hb.h_radiation(0.85, t, TA) / (hb.h_radiation(0.85, t, TA) + hb.h_outside(t, TA, od, 0))  # noqa: E731
    here = case.probe(f"h_radiation 0.85 {ts} {TA}", f"h_outside {ts} {TA} {od} 0 101325")
    case.claim("rad-share", here[0] / sum(here), rad(ts))
    r = case.run("case.yaml", "line.pipe.cover=double_walled", "line.pipe.emissivity=0.85")
    eff, gap = 1 / (2 / 0.85 - 1), 12e-3

    def across(tw, tc):
        tm = 0.5 * (tw + tc)
        return math.pi * D * (tw - tc) * (hb.conductivity(tm) / gap + hb.h_radiation(eff, tw, tc))

    def cover(tw):
        return brentq(lambda tc: across(tw, tc) - outside(tc, od + 2 * gap, 0.85, 0), TA, tw)

    tw = brentq(lambda t: inside(t) - across(t, cover(t)), TA + 1, T)
    # the program prints the inner wall; the outer one follows from its heat flow
    here = r.end("pipe.mean_temperature")
    case.claim("double", here - 273.15, tw - 273.15)
    eps = [0.0, 0.2, 0.4, 0.6, 0.85, 1.0]
    p = case.plot("Wall of a bare pipe in still air", "emissivity [-]", "wall [degC]")
    p.line(eps, [brentq(lambda t: inside(t) - outside(t, od, e, 0), TA, T) - 273.15 for e in eps], "balance written anew")
    p.marks(eps, [case.run("case.yaml", f"line.pipe.emissivity={e}").end("pipe.mean_temperature") - 273.15 for e in eps],
            "program")
