import math

import numpy as np

from lib import handbook as hb


def run(case):
    mcp = 0.1 * hb.mix_cp({"O2": 0.135, "CO2": 0.05, "H2O": 0.05}, 340.0)
    ntu = 10.0 / mcp
    tau = 2500.0 / (mcp * (1 - math.exp(-ntu)))
    r = case.run()
    excess = (r["lump.mean_temperature"] - 330.0) / 20.0
    case.claim("tau1", np.interp(tau, r.t, excess))
    case.claim("tau3", np.interp(3 * tau, r.t, excess))
    case.claim("tau", -1.0 / np.polyfit(r.t[:400], np.log(excess[:400]), 1)[0], tau)
    case.claim("gas", (r.at("lump.gas_temperature", 100.0) - 330.0) / (20.0 * np.interp(100.0, r.t, excess)),
               1 - math.exp(-ntu))
    case.plot("Lumped cooling", "time [s]", "temperature excess [-]").line(r.t, excess, "program") \
        .marks(r.t[::50], np.exp(-r.t[::50] / tau), "exp(-t/tau)")
