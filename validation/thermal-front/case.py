import math

import numpy as np

from lib import handbook as hb

OPEN = ((0.0254 / 20 - 0.2e-3) / (0.0254 / 20))**2  # 400 cells per square inch, 0.2 mm web
FULL = 2500 * (1 - OPEN) * math.pi / 4 * 0.3048**2  # kg per metre of length


def run(case):
    cp = hb.mix_cp({"O2": .10, "CO2": .07, "H2O": .07}, 473.15)
    for name, kg, flow in (("idle", 4.5, 0.06), ("brick", 13.0, 0.06), ("load", 13.0, 0.25)):
        r = case.run("case.yaml", f"line.brick.length={kg / FULL:.10g} m", f"stream.flow={flow} kg/s")
        lag = (493.15 - r["brick.gas_temperature"]) / 40.0
        transit = np.trapz(lag, r.t)
        case.claim(f"{name}-transit", transit, kg * 950 / (flow * cp))
        if name == "brick":
            case.claim("table", transit * cp / 1050.0)
            case.claim("half", r.crossing("brick.gas_temperature", 473.15) / transit)
            p = case.plot("Step at the inlet of a 13 kg brick, 0.06 kg/s", "time [s]", "gas leaving [degC]")
            p.line(r.t[:600], r["brick.gas_temperature"][:600] - 273.15, "program")
            p.line([kg * 950 / (flow * cp)] * 2, [180, 220], "M c / (m cp)", True)
