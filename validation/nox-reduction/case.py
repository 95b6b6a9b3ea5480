import numpy as np


def at(case, degC, *sets):
    return case.run("case.yaml", f"start_temperature={degC} degC", f"stream.temperature={degC} degC", *sets)


def run(case):
    degC = (150, 175, 200, 250, 300, 350, 400, 450, 500, 550)
    cu = {t: at(case, t).end("scr.conversion_nox") for t in degC}
    fe = {t: at(case, t, "line.scr.kinetics=iron_zeolite").end("scr.conversion_nox") for t in degC}
    for c in case.claims:
        kind, _, t = c.id.partition("-")
        if kind in ("cu", "fe"):
            case.claim(c.id, (cu if kind == "cu" else fe)[int(t)])
        elif kind == "cap":
            full = at(case, int(t), "stream.no=0", "stream.o2=0")
            case.claim(c.id, full.end("scr.coverage") * 200.0 * 17.03e-3)  # 200 mol/m3 of sites, kg/m3 = g/L
    fast = at(case, 200, "line.scr.kinetics=iron_zeolite", "stream.no=250 ppm", "stream.no2=250 ppm")
    case.claim("fast", fast.end("scr.conversion_nox") / fe[200])
    p = case.plot("NOx conversion, 30,000 1/h", "temperature [degC]", "conversion [-]")
    p.line(degC, [cu[t] for t in degC], "copper, program").line(degC, [fe[t] for t in degC], "iron, program")
    for kind, name in (("cu", "copper"), ("fe", "iron")):
        b = [c for c in case.claims if c.id.startswith(kind + "-")]
        p.band([int(c.id[3:]) for c in b], [c.low for c in b], [c.high for c in b], name + ", published band")
