"""A truck that regenerates while parked: the line, the engine and the control of model.md, integrated by SciPy from sample to
sample. The figures are those of parked.yaml and far.yaml in validation/second-opinion-regenerations."""
import numpy as np

from configuration import Defaults, si
from control import Regeneration
from elements import Comb, DefDoser, Filter, FuelDoser
from engine import block, engine, torque_limit
from line import Line, integrate
from pressure import drop

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

    def accept(self, t, y):
        """After every step."""
        self.feel(t, y)
        self.line.accept()

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

    def feel(self, t, y):
        """Back pressure, with its dead band."""
        now = self.look(t, y)[2]
        if abs(now - self.back) > 20.0:
            self.back = now

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

    def run(self, method, times, until, rtol=1e-6, since=0.0):
        """All states at `times`, a column each. LSODA takes the line to `since`, the method from there."""
        y = self.line.start(453.15)
        y[0] = si("80 degC")
        atol = self.tolerances(1e2 * rtol)
        regen, out, t = Regeneration(self.c), [], 0.0
        stops = [180.0 + 5.0 * k for k in range(205)]
        for stop in stops:
            if t >= until:
                break
            if t >= 180.0:
                self.speed, self.load = self.e["idle_speed"], 0.0
                self.feel(t, y)
                if t == 180.0:
                    regen.begin(t)
                was = regen.rate
                self.sample(t, y, regen)
                self.levers = regen.stage in ("warming up", "dosing")
                self.ramp = (t, t + self.c["sample"], was, regen.rate if regen.stage == "dosing" else 0.0)
            else:
                self.speed, self.load = 1100 * np.pi / 30, 0.05
                self.feel(t, y)
            now = [x for x in times if t <= x < stop or (x == stop and stop >= min(until, stops[-1]))]
            by = method if t >= since else "LSODA"
            values, solver = integrate(by, self.rates, t, stop, y, rtol, atol, now,
                                       self.jacobian if by == "LSODA" else None,  # Radau insists on an exact one
                                       accept=self.accept)
            out.append(values)
            y, t = solver.y, stop
        return np.hstack(out)

    def means(self, y):
        """Mean temperature of every solid in SEEN, K."""
        return {n: self.line.temperatures(n, y).mean(axis=0) for n in SEEN}

    def soot(self, y):
        """In the filter, kg/m3."""
        i = self.line.names.index("dpf")
        part, a = self.line.parts[i], self.line.offset[i]
        n = a + part.cells * part.states
        return (y[a + 2:n:4].sum(axis=0) + y[a + 3:n:4].sum(axis=0)) / part.volume

    def tolerances(self, kelvin):
        """Of temperatures, and of films, soot and coverages, which are small numbers."""
        atol = np.full(self.line.size, kelvin)
        for p, a in zip(self.line.parts, self.line.offset):
            atol[a:a + p.shared] = 1e-10
            for i in range(p.cells):
                b = a + p.shared + i * p.states
                atol[b + (1 if isinstance(p, (FuelDoser, DefDoser)) else 2):b + p.states] = 1e-8
        return atol


def crossing(t, T, value):
    """Time at which T first passes the value: a quintic through the six rows around it."""
    i = int(np.argmax(T > value))
    a = slice(i - 3, i + 3)
    fine = np.linspace(t[i - 1], t[i], 500)
    return float(np.interp(value, np.polyval(np.polyfit(t[a] - t[i], T[a], 5), fine - t[i]), fine))


def opinion(job):
    """For a process of its own: times every 5 s, mean temperatures and soot."""
    program, name, method, since, until, rtol = job
    t = np.arange(0.0, until + 1.0, 5.0)
    truck = Truck(program, name == "far")
    y = truck.run(method, list(t), until, rtol, since)
    return t, truck.means(y), truck.soot(y)
