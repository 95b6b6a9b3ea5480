import math

import numpy as np

from lib import handbook as hb


def law(T):
    return 2.0 * math.exp(-51e3 / hb.R * (1 / T - 1 / 520.0))


def thin(r):
    """Slope of the logarithm of the film between 10 and 1 mg."""
    film = r["injector.film"]
    ok = (r.t > 75.0) & (film < 1e-5) & (film > 1e-6)
    return -np.polyfit(r.t[ok], np.log(film[ok]), 1)[0]


def run(case):
    r = case.run()
    case.claim("decay", thin(r), law(433.15))
    warm = case.run("case.yaml", "start_temperature=180 degC", "stream.temperature=180 degC")
    case.claim("warmer", thin(warm) / thin(r), law(453.15) / law(433.15))
    dosed = r.total("dosed_fuel")
    case.claim("mass", 1 - r.end("injector.film") / dosed)
    spray = [h["heat"]["value"] for h in r.report["heat"] if h["label"].startswith("evaporation")][0]
    case.claim("latent", -spray / dosed)
    # steady wet wall at 65 s: k m = dose, so Tw follows from the film that is held
    i = np.argmin(abs(r.t - 65.0))
    dose, film = r["injector.rate"][i], r["injector.film"][i]
    tw = 1 / (1 / 520.0 - math.log(dose / film / 2.0) * hb.R / 51e3)
    x, T = {"O2": .10, "CO2": .07, "H2O": .07}, 433.15
    tf = 0.5 * (T + tw)
    mu, k = hb.viscosity(tf), hb.conductivity(tf)
    nu = 1.5 * hb.gnielinski(4 * 0.1 / (math.pi * 0.1 * mu), mu * hb.mix_cp(x, T) / k)
    mcp = 0.1 * hb.mix_cp(x, T)
    taken = dose * (361e3 + 2000 * (tw - 298.15) + 1700 * 0)  # liquid warms from 25 degC, then evaporates
    vapour = dose * (case.probe(f"h FUEL {tw}")[0] - case.probe("h FUEL 298.15")[0]) / case.probe("mass FUEL")[0]
    gas = dose * (case.probe(f"h FUEL {T}")[0] - case.probe(f"h FUEL {tw}")[0]) / case.probe("mass FUEL")[0]
    need = dose * 361e3 + vapour + gas
    case.claim("wet", T - tw, need / (mcp * (1 - math.exp(-nu * k / 0.1 * 0.03 / mcp))))
    p = case.plot("Film on the wall of a doser", "time [s]", "film [g]", log_y=True)
    ok = (r["injector.film"] > 1e-8) & (r.t < 140)
    p.line(r.t[ok], 1e3 * r["injector.film"][ok], "program")
    j = np.argmin(abs(r.t - 105.0))
    t = np.linspace(105, 130, 12)
    p.marks(t, 1e3 * r["injector.film"][j] * np.exp(-law(433.15) * (t - 105)), "exp(-k t), k at gas temperature")
