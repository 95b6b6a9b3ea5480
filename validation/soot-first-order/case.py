import math

import numpy as np

from lib import handbook as hb


def rate(r):
    """Early rate, 1/s, from the first tenth that burns."""
    m = r["dpf.soot_share"]
    ok = m > 0.9
    return -np.polyfit(r.t[ok], np.log(m[ok]), 1)[0]


def run(case):
    r = case.run()
    k = 2.15e7 * math.exp(-168e3 / (hb.R * 873.15))
    case.claim("t90", r.crossing("dpf.soot_share", 0.1) / 60)
    case.claim("t50", r.crossing("dpf.soot_share", 0.5), math.log(2) / k)
    cold = case.run("case.yaml", "start_temperature=550 degC", "stream.temperature=550 degC")
    case.claim("ea", hb.R * math.log(rate(r) / rate(cold)) / (1 / 823.15 - 1 / 873.15))
    lean = case.run("case.yaml", "stream.o2=5 %")
    case.claim("order", math.log2(rate(r) / rate(lean)))
    carbon = [b for b in r.report["books"] if b["name"] == "carbon"][0]
    case.claim("stoich", (carbon["out"]["value"] - carbon["in"]["value"]) / -carbon["stored"]["value"])
    p = case.plot("Soot in a hot filter, 10 % O2", "time [min]", "soot left [-]")
    p.line(r.t / 60, r["dpf.soot_share"], "600 degC").line(cold.t / 60, cold["dpf.soot_share"], "550 degC")
    p.marks(r.t[::60] / 60, np.exp(-k * r.t[::60]), "exp(-k t)")
