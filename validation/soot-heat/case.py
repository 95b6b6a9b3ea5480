import math

import numpy as np

PITCH, WEB = 0.0254 / math.sqrt(200), 0.3048e-3
SOLID = 1 - ((PITCH - WEB) / PITCH)**2  # share of the section that is wall


def heat(r, name):
    return sum(h["heat"]["value"] for h in r.report["heat"] if h["label"].startswith("chemistry") and f"'{name}'" in h["label"])


def run(case):
    r = case.run()
    case.claim("heat", heat(r, "dpf") / r.total("soot_burnt"))
    for load in (4, 6, 8):
        density = 450.0 / SOLID  # 0.45 kg per litre of filter
        b = case.run("case.yaml", f"line.dpf.soot={load} g/L", f"line.dpf.solid_density={density:.8g} kg/m3",
                     "start_temperature=650 degC", "stream.temperature=650 degC", "stream.flow=20 g/s", "stream.o2=20 %")
        bound = load * 32.76e3 / (0.45 * 1100)
        case.claim(f"bound-{load}", (b["dpf.mean_temperature"].max() - 923.15) / bound)
    burn = ["line.dpf.soot=8 g/L", "stream.flow=0.06 kg/s", "start_temperature=600 degC", "stream.temperature=620 degC"]
    calm = case.run("case.yaml", *burn)
    idle = case.run("drop.yaml", "line.dpf.soot=8 g/L")
    case.claim("drop", idle["dpf.hottest"].max() - calm["dpf.hottest"].max())
    i = idle["dpf.hottest"].argmax()
    case.claim("local", idle["dpf.hottest"][i] - idle["dpf.mean_temperature"][i])
    t = []
    for degC in (600, 650):
        s = case.run("case.yaml", "line.dpf.soot=0.5 g/L", f"start_temperature={degC} degC", f"stream.temperature={degC} degC",
                     "stream.flow=0.1 kg/s", "line.dpf.full_load=0.5 g/L")
        t.append(s.crossing("dpf.soot_share", 0.2))
    case.claim("faster", t[1] / t[0])
    p = case.plot("8 g/L burning: with and without a drop to idle", "time [min]", "hottest wall [degC]")
    p.line(calm.t / 60, calm["dpf.hottest"] - 273.15, "flow kept").line(idle.t / 60, idle["dpf.hottest"] - 273.15, "drop to idle")
