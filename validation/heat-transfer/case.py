import math

import numpy as np

from lib import handbook as hb


def run(case):
    r = case.run()
    t_half = r.crossing("bead.reading", 25 + 273.15 + 175 * (1 - math.exp(-1)))
    t_199 = r.crossing("bead.reading", 199 + 273.15)
    T, d = 473.15, 4.5e-3
    re = 0.1 / (math.pi / 4 * 0.1**2) * d / hb.viscosity(T)
    h = hb.churchill_bernstein(re, 0.7) * hb.conductivity(T) / d
    case.claim("sensor-tau", t_half, 3.9e6 * d / (4 * h))
    case.claim("ex51-time", t_199 / t_half)
    case.claim("ex73-h", case.probe("nu_cross 6071 0.70")[0] * 0.030 / 0.0127)
    case.claim("ex73-measured", case.probe("nu_cross 6071 0.70")[0] * 0.030 / 0.0127)
    hi = case.probe("nu_pipe 20385 0.70")[0] * 0.030 / 0.15
    q = 77.0 / (1 / hi + 1 / 6.0)
    case.claim("ex86-q", q)
    case.claim("ex86-ts", 77.0 - q / hi)
    re = np.logspace(2.5, 5, 60)
    nu = case.probe(*[f"nu_pipe {x} 0.69" for x in re])
    p = case.plot("Pipe: laminar, blend, turbulent", "Reynolds number", "Nusselt number", log_x=True, log_y=True)
    p.line(re, nu, "program")
    turbulent = re[re > 4000]
    p.marks(turbulent[::3], hb.gnielinski(turbulent, 0.69)[::3], "Gnielinski 1976")
