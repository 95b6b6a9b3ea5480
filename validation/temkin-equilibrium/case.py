import math

import numpy as np
from scipy.optimize import brentq

from lib import handbook as hb


def exact(T, ppm=500, p=101325):
    c = ppm * 1e-6 * p / (hb.R * T)
    return brentq(lambda h: 0.93 * c * (1 - h) - 1e11 * math.exp(-181.5e3 * (1 - 0.98 * h) / (hb.R * T)) * h, 1e-9, 1 - 1e-9)


def run(case):
    degC = list(range(150, 501, 50))
    here = []
    for t in degC:
        r = case.run("case.yaml", f"start_temperature={t} degC", f"stream.temperature={t} degC")
        here.append(r.at("scr.coverage", 1790.0))
        case.claim(f"t-{t}", here[-1])
        if t in (150, 250, 400, 500):
            case.claim(f"own-{t}", here[-1], exact(t + 273.15))
        if t == 250:
            full = r
    r = case.run("case.yaml", "ambient.pressure=80 kPa")
    case.claim("high", r.at("scr.coverage", 1790.0), exact(523.15, p=80e3))
    # NH3 that leaves in the second phase, against what was stored: 200 mol/m3 x volume x coverage
    ok = full.t > 1800.0
    N = 0.020 / (0.05 * 18.015e-3 + 0.95 * 28.0134e-3)
    x = full["tailpipe.nh3"][ok]
    given = np.trapz(x / (1.0 - x), full.t[ok]) * N
    stored = 200 * math.pi / 4 * 0.1**2 * 0.1 * (full.at("scr.coverage", 1800.0) - full.end("scr.coverage"))
    case.claim("release", given / stored)
    p = case.plot("Coverage in 500 ppm NH3", "temperature [degC]", "coverage [-]")
    t = np.arange(150, 501, 10)
    p.line(t, [exact(x + 273.15) for x in t], "equilibrium, solved anew").marks(degC, here, "program")
