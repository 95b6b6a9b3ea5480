import math
import os
import tempfile

import numpy as np

# WHSC of UN GTR No. 4 (from memory): speed %, torque %, s
WHSC = [(0, 0, 210), (55, 100, 50), (55, 25, 250), (55, 70, 75), (35, 100, 50), (25, 25, 200), (45, 70, 75), (45, 25, 150),
        (55, 50, 125), (75, 100, 50), (35, 50, 200), (35, 25, 250), (0, 0, 210)]
IDLE, RATED, PEAK, ACCESSORY = 650 * math.pi / 30, 1900 * math.pi / 30, 2300.0, 3000.0
C1 = [(1.0, 1.0, .15), (1.0, .75, .15), (1.0, .5, .15), (1.0, .1, .10), (.6, 1.0, .10), (.6, .75, .10), (.6, .5, .10),
      (None, 0.0, .15)]  # speed over rated, torque share, weight
D2 = [(1.0, 1.0, .05), (1.0, .75, .25), (1.0, .5, .30), (1.0, .25, .30), (1.0, .1, .10)]


def available(w):
    r = w / RATED
    return PEAK * (0.4 + 1.2 * r if r < 0.5 else 1.0 if r < 0.75 else 1.0 - 1.2 * (r - 0.75))


def phases(case, modes):
    lines = [open(case.path("case.yaml"), encoding="utf-8").read().split("duty:")[0], "duty:", "  phases:"]
    for n, share, weight in modes:
        speed = IDLE if n is None else n * RATED
        lines.append(f"    - {{for: {1000 * weight:g} s, speed: {speed * 30 / math.pi:.9g} rpm, load: {100 * share:g} %}}")
    work = sum(1000 * w * (share * available(IDLE if n is None else n * RATED) * (IDLE if n is None else n * RATED) + ACCESSORY)
               for n, share, w in modes)
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "modes.yaml")
        with open(path, "w", encoding="utf-8") as f:
            f.write("\n".join(lines) + "\n")
        return case.program.run(path), work


def run(case):
    r = case.run()
    end = r.t[-1]
    case.claim("whsc-length", end)
    total = sum(s for *_, s in WHSC)
    speed = (np.trapz(r["engine.speed"], r.t) / end - IDLE) / (RATED - IDLE)
    case.claim("whsc-speed", speed, sum(n * s for n, _, s in WHSC) / total / 100)
    power = 0.0
    for n, t, s in WHSC:
        w = IDLE + n / 100 * (RATED - IDLE)
        power += (t / 100 * available(w) * w) * s
    case.claim("whsc-work", r.total("engine_work") / 3.6e6, (power + ACCESSORY * total) / 3.6e6)
    case.claim("whsc-weights", (r.total("engine_work") - ACCESSORY * end) / end / (PEAK * RATED), power / total / (PEAK * RATED))
    for name, modes in (("c1", C1), ("d2", D2)):
        run_, work = phases(case, modes)
        case.claim(f"{name}-work", run_.total("engine_work") / 3.6e6, work / 3.6e6)
        if name == "c1":
            case.claim("c1-weights", run_.t[-1] / 1000.0)
    p = case.plot("WHSC as run", "time [s]", "engine speed [1/min]")
    p.line(r.t, r["engine.speed"] * 30 / math.pi, "program")
    edges = np.cumsum([0] + [s for *_, s in WHSC])
    p.marks((edges[:-1] + edges[1:]) / 2, [30 / math.pi * (IDLE + n / 100 * (RATED - IDLE)) for n, *_ in WHSC], "modes, idle to rated")
