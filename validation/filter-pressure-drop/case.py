import math

from lib import handbook as hb

X = {"O2": .135, "CO2": .05, "H2O": .05}


def run(case):
    flow = 0.25 / hb.mix_mass(X) * hb.R * 673.15 / 101325
    scale = hb.viscosity(673.15) * flow / (3.3e-5 * 0.47667)
    loads, drops = (0, 1, 2, 3, 4, 6), []
    for load in loads:
        drops.append(case.run("case.yaml", f"line.dpf.soot={load} g/L")["dpf.pressure_drop"][0])
    for load in (0, 2, 4):
        case.claim(f"dp-{load}", drops[loads.index(load)] / scale)
    half = case.run("case.yaml", "line.dpf.soot=4 g/L", "stream.flow=0.125 kg/s")["dpf.pressure_drop"][0]
    case.claim("linear", half / drops[loads.index(4)])
    ends = case.run("case.yaml", "line.dpf.end_loss=3")["dpf.pressure_drop"][0] - drops[0]
    a, pitch = 0.0254 / math.sqrt(200) - 0.3048e-3, 0.0254 / math.sqrt(200)
    u = flow / (math.pi / 4 * 0.3048**2 / (2 * pitch**2) * a**2)
    case.claim("ends", ends, 1.5 * 0.5 * 0.25 / flow * 2 * u**2)
    p = case.plot("12 x 12 inch filter, 0.25 kg/s at 400 degC", "soot [g/L]", "pressure drop [kPa]")
    p.line(loads, [d / 1e3 for d in drops], "program")
    p.marks((0, 2, 4), [v * scale / 1e3 for v in (2558.8, 3798.5, 5131.5)], "published formula, worked by hand")
