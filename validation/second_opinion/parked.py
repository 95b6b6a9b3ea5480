#!/usr/bin/env python3
"""Second opinion on two regenerations:

    /usr/bin/python3 validation/second_opinion/parked.py build/emberpipe [parked|far] [LSODA|Radau] [SECONDS]

Without the rest it runs both cases with both methods to their end, some minutes each. Each row goes into outcome.md beside
this file, in the place of the same row of an earlier run; exit code 1 if a limit is passed."""
import os
import sys

import numpy as np

HERE = os.path.dirname(os.path.abspath(__file__))
sys.path[:0] = [HERE, os.path.join(HERE, "..")]
sys.dont_write_bytecode = True

from configuration import Defaults, si  # noqa: E402
from control import Regeneration  # noqa: E402
from elements import Comb, Filter  # noqa: E402
from engine import block, engine, torque_limit  # noqa: E402
from lib.program import Program  # noqa: E402
from line import Line, integrate  # noqa: E402
from pressure import drop  # noqa: E402

LIMIT_K, LIMIT_S = 0.1, 0.1
SEEN = ("turbine", "downpipe", "doc", "mixer", "scr", "doc2", "dpf", "tailpipe")


def elements(d, far):
    e = lambda name, kind, **changes: (name, kind, d.block("line[]." + kind, **changes))  # noqa: E731
    doser = [e("injector", "fuel_doser")]
    ahead = [e("turbine", "turbine"), e("downpipe", "pipe", length="1.2 m", cells="2", cover="wrapped")]
    middle = [e("doc", "oxidation_catalyst", cells="4"), e("def", "def_doser"),
              e("mixer", "pipe", length="0.6 m", cells="1", cover="wrapped"), e("scr", "reduction_catalyst", cells="4")]
    rear = [e("doc2", "oxidation_catalyst", cells="3"),
            e("dpf", "filter", cells="4", soot="4 g/L", coated="0.3", burning=d.block("line[].filter.burning")),
            e("tailpipe", "pipe", length="1.5 m", cells="1")]
    return ahead + middle + doser + rear if far else ahead + doser + middle + rear


class Truck:
    def __init__(self, program, far):
        d = Defaults(program)
        self.line = Line(elements(d, far), first=1)
        self.e = d.block("engine", start_temperature="80 degC")
        self.amb = {"T": 283.15, "p": 101325.0, "air": 2.0, "humidity": si(d.value["ambient.humidity"]), "dose": 0.0}
        self.c = d.block("regeneration", sample="5 s", target_temperature="600 degC")
        if far:  # between two samples of the face, so that no millikelvin decides when dosing begins
            self.c["enable_temperature"] = si("259.7 degC")
        self.face, self.hold = ("doc2" if far else "doc"), "dpf"
        self.back, self.levers, self.speed, self.load = 0.0, False, 0.0, 0.0
        self.ramp = (0.0, 1.0, 0.0, 0.0)  # from t0 to t1, rate a to b

    def inputs(self):
        w = max(self.speed, 1100 * np.pi / 30) if self.levers else self.speed
        u = dict(w=w, M=self.load * torque_limit(self.e, self.speed), throttle=0.0, egr=1.0, brake=0.0, close_post=0.0, late_post=0.0)
        if self.levers:
            u.update(throttle=0.45, egr=0.0, close_post=0.25e-3)
        return u

    def dose(self, t):
        t0, t1, a, b = self.ramp
        return a + (b - a) * min(max((t - t0) / (t1 - t0), 0.0), 1.0)

    def rates(self, t, y):
        g, coolant = engine(self.e, self.amb, self.inputs(), y[0], self.back)
        d = np.zeros(self.line.size)
        d[0] = block(self.e, self.amb, y[0], coolant)
        return self.line.march(g, dict(self.amb, dose=self.dose(t)), y, d)

    def jacobian(self, t, y):
        """Each cell's own states and its next neighbour's answer; convergence needs no more."""
        g, _ = engine(self.e, self.amb, self.inputs(), y[0], self.back)
        J = self.line.jacobian(g, dict(self.amb, dose=self.dose(t)), y)
        h = 1e-3
        J[:, 0] = (self.rates(t, np.concatenate(([y[0] + h], y[1:]))) - self.rates(t, y)) / h
        return J

    def look(self, t, y):
        """Gas entering every element, and the pressure drop of all."""
        seen = {}
        g, _ = engine(self.e, self.amb, self.inputs(), y[0], self.back)
        self.line.march(g.copy(), dict(self.amb, dose=self.dose(t)), y, None, lambda n, s: seen.__setitem__(n, s.copy()))
        names = self.line.names + ["tailpipe end"]
        total = 0.0
        for name, after, part, a in zip(names, names[1:], self.line.parts, self.line.offset):
            n = part.shared + part.cells * part.states
            if isinstance(part, Comb):
                total += drop(part, y[a:a + n], seen[after], self.amb["p"])
        return g, seen, total

    def sample(self, t, y, regen):
        g, seen, _ = self.look(t, y)
        soot, hottest = 0.0, 0.0
        for name, part, a in zip(self.line.names, self.line.parts, self.line.offset):
            n = part.shared + part.cells * part.states
            if isinstance(part, Filter):
                soot = sum(y[a + 2:a + n:4]) + sum(y[a + 3:a + n:4])
                soot /= part.volume * part.c["full_load"]
            if isinstance(part, Comb):
                hottest = max(hottest, float(np.max(y[a + part.shared:a + n:part.states])))
        regen.sample(t, seen[self.face].T, seen[self.hold].T, soot, hottest, g.C())

    def run(self, method, times, until, rtol=1e-6):
        y = self.line.start(453.15)
        y[0] = si("80 degC")
        atol = self.tolerances()
        regen, out, t = Regeneration(self.c), [], 0.0
        stops = [180.0] + [180.0 + 5.0 * k for k in range(1, 205)]
        for stop in stops:
            if t >= until:
                break
            if t >= 180.0:
                self.speed, self.load = self.e["idle_speed"], 0.0
                if t == 180.0:
                    self.back = self.look(t, y)[2]
                    regen.begin(t)
                else:
                    self.back = self.look(t, y)[2]
                was = regen.rate
                self.sample(t, y, regen)
                self.levers = regen.stage in ("warming up", "dosing")
                self.ramp = (t, t + self.c["sample"], was, regen.rate if regen.stage == "dosing" else 0.0)
            else:
                self.speed, self.load = 1100 * np.pi / 30, 0.05
                self.back = self.look(t, y)[2]
            now = [x for x in times if t <= x < stop or (x == stop and stop >= min(until, stops[-1]))]
            values, solver = integrate(method, self.rates, t, stop, y, rtol, atol, now,
                                       self.jacobian if method == "LSODA" else None)  # Radau insists on an exact one
            out.append(values)
            y, t = solver.y, stop
            if round(t) % 60 == 0:
                print(f"{method} {t:.0f} s: {regen.stage}, {1e3 * self.dose(t):.3f} g/s", file=sys.stderr, flush=True)
        return np.hstack(out)

    def tolerances(self):
        atol = np.full(self.line.size, 1e-4)
        for p, a in zip(self.line.parts, self.line.offset):
            atol[a:a + p.shared] = 1e-10
            for i in range(p.cells):
                b = a + p.shared + i * p.states
                atol[b + 1] = 1e-8 if p.states == 2 else atol[b + min(1, p.states - 1)]
                atol[b + 2:b + p.states] = 1e-8
        return atol


def crossing(t, T, value):
    i = int(np.argmax(T > value))
    a = slice(i - 3, i + 3)
    fine = np.linspace(t[i - 1], t[i], 500)
    return float(np.interp(value, np.polyval(np.polyfit(t[a] - t[i], T[a], 5), fine - t[i]), fine))


def compare(program, name, method, until):
    r = Program(program, program).run(os.path.join(HERE, name + ".yaml"), timeout=600)
    truck = Truck(program, name == "far")
    t = r.t[r.t <= until]
    y = truck.run(method, list(t), until)
    worst, where, when = 0.0, "", 0.0
    for n in SEEN:
        e = np.abs(truck.line.temperatures(n, y).mean(axis=0) - r[n + ".mean_temperature"][:len(t)])
        if e.max() > worst:
            worst, where, when = float(e.max()), n, float(t[e.argmax()])
    a, part = truck.line.offset[truck.line.names.index("dpf")], truck.line.parts[truck.line.names.index("dpf")]
    soot = (y[a + 2:a + 16:4].sum(axis=0) + y[a + 3:a + 16:4].sum(axis=0)) / part.volume
    event = "not reached"
    if t[-1] > r.reached("dpf 500"):
        event = crossing(t, truck.line.temperatures("dpf", y).mean(axis=0), 773.15) - r.reached("dpf 500")
    return worst, where, when, event, float(np.abs(soot - r["dpf.soot"][:len(t)]).max()), t[-1]


HEAD = ["# Second opinion on the regenerations", "",
        "Written by `parked.py`. The equations of model.md, reactions, engine and control included, written again in Python; coarse grids",
        "(parked.yaml, far.yaml); the program at rtol 1e-8, SciPy at 1e-6. Limits: 0.1 K for every mean wall temperature at every",
        "recorded time, 0.1 s for the time at which the filter passes 500 degC.", "",
        "| case | method | largest difference | filter passes 500 degC | soot | |", "|---|---|---|---|---|---|"]


def record(row):
    path, rows = os.path.join(HERE, "outcome.md"), []
    if os.path.exists(path):
        with open(path, encoding="utf-8") as f:
            rows = [line.rstrip() for line in f if line.startswith("| ")][1:]
    key = row.split("|")[1:3]
    rows = sorted([r for r in rows if r.split("|")[1:3] != key] + [row])
    with open(path, "w", encoding="utf-8") as f:
        f.write("\n".join(HEAD + rows) + "\n")


def main():
    program = sys.argv[1] if len(sys.argv) > 1 else "build/emberpipe"
    cases = sys.argv[2:3] or ("parked", "far")
    methods = sys.argv[3:4] or ("LSODA", "Radau")
    until = float(sys.argv[4]) if len(sys.argv) > 4 else 1200.0
    good = True
    for name in cases:
        for method in methods:
            worst, where, when, event, soot, end = compare(program, name, method, until)
            timed = isinstance(event, float)
            ok = worst <= LIMIT_K and (not timed or abs(event) <= LIMIT_S)
            good = good and ok
            record(f"| {name}, to {end:.0f} s | {method} | {worst:.4f} K ('{where}' at {when:.0f} s) | "
                   f"{f'{event:+.4f} s' if timed else event} | {soot:.1e} g/L | {'agrees' if ok else 'DISAGREES'} |")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
