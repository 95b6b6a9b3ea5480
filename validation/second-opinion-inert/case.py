import os
import sys

import numpy as np

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "second_opinion"))

from configuration import Defaults  # noqa: E402
from gas import stream  # noqa: E402
from line import Line, integrate  # noqa: E402

X = {"O2": 0.09, "CO2": 0.08, "H2O": 0.07}
PHASES = [(0.0, 1200.0, 0.08, 553.15), (1200.0, 1800.0, 0.04, 393.15)]
SEEN = ("turbine", "downpipe", "cat", "midpipe", "filter", "tail")


def build(program):
    d = Defaults(program)
    e = lambda kind, **changes: (kind, d.block("line[]." + kind, **changes))  # noqa: E731
    parts = {"turbine": e("turbine", mass="15 kg"),
             "downpipe": e("pipe", length="1 m", cells="3", cover="wrapped"),
             "cat": e("oxidation_catalyst", kinetics="none", cells="6", diameter="10 in", length="5 in", storage="0 mol/m3"),
             "midpipe": e("pipe", length="0.5 m", cells="2", cover="double_walled"), "tip": e("sensor"),
             "filter": e("filter", cells="5", diameter="10 in", length="10 in",
                         burning=d.block("line[].filter.burning")),
             "tail": e("pipe", length="1 m", cells="3")}
    return Line([(name, kind, figures) for name, (kind, figures) in parts.items()])


def solve(line, method, rtol, atol, times):
    world = {"T": 278.15, "p": 101325.0, "air": 3.0, "dose": 0.0}
    y, out = line.start(278.15), []
    for t0, t1, flow, T in PHASES:
        f = lambda t, y: line.march(stream(flow, T, X), world, y)  # noqa: E731, B023
        now = [t for t in times if t0 <= t < t1 or (t == t1 == PHASES[-1][1])]
        values, solver = integrate(method, f, t0, t1, y, rtol, atol, now)
        out.append(values)
        y = solver.y
    return np.hstack(out)


def crossing(t, T, value):
    i = int(np.argmax(T > value))
    a = slice(max(i - 3, 0), i + 3)  # a cubic through six points: interpolation below 0.01 s
    return float(np.interp(value, np.array([np.polyval(np.polyfit(t[a] - t[i], T[a], 5), x) for x in np.linspace(-10, 0, 200)]),
                           t[i] + np.linspace(-10, 0, 200)))


def run(case):
    line = build(case.program.program)
    r = case.run()
    t = r.t
    mean = {}
    atol = np.full(line.size, 1e-4)
    for p, a in zip(line.parts, line.offset):  # films and soot in kg are small numbers
        for i in range(p.cells):
            b = a + p.shared + i * p.states
            atol[b + 2:b + p.states] = 1e-8
        atol[a:a + p.shared] = 1e-10
    for method in ("LSODA", "Radau"):
        y = solve(line, method, 1e-6, atol, list(t))
        mean[method] = {n: line.temperatures(n, y).mean(axis=0) for n in SEEN}
        worst = {n: np.abs(mean[method][n] - r[n + ".mean_temperature"]).max() for n in SEEN}
        case.claim(f"all-{method}", max(worst.values()))
        tip = line.temperatures("tip", y)[0]
        case.claim(f"tip-{method}", np.abs(tip - r["tip.reading"]).max())
        for target, name, value in (("catalyst 200", "cat", 473.15), ("filter 150", "filter", 423.15), ("tail 60", "tail", 333.15)):
            case.claim(f"{target}-{method}", crossing(t, mean[method][name], value) - r.reached(target))
    case.claim("methods", max(np.abs(mean["LSODA"][n] - mean["Radau"][n]).max() for n in SEEN))
    p = case.plot("Inert line: program and second opinion", "time [min]", "mean wall [degC]")
    for n in ("cat", "filter", "tail"):
        p.line(t / 60, r[n + ".mean_temperature"] - 273.15, n + ", program")
        p.marks(t[::12] / 60, mean["LSODA"][n][::12] - 273.15, n + ", second opinion (LSODA)", same=True)
