"""Against the expert's version: SciPy with a right-hand side compiled by Numba, on the second opinion's line.

rates() below is the flat function; before it is timed, its derivatives are compared with those of the second opinion."""
import time
from collections import namedtuple
from unittest import mock

import numpy as np
from scipy.integrate import BDF, LSODA

import truck
from elements import Catalyst, DefDoser, Filter, FuelDoser, Pipe, Turbine
from gas import Gas
from numba_cells import catalyst, catalyst_drop, def_doser, filter_drop, fuel_doser, pipe, soot_filter, turbine
from numba_gas import NS, engine_block, jit, run_engine
from tables import NGAS
from truck import Truck

KINDS = (Pipe, Turbine, FuelDoser, DefDoser, Catalyst, Filter)
PIPE, TURBINE, FUEL_DOSER, DEF_DOSER, CATALYST, FILTER = range(6)
CONTROL = ("back", "levers", "speed", "load", "ramp")  # what the control of the truck changes
SETS = {"none": 0, "oxidation": 1, "copper_zeolite": 2}
# every figure of the line: records of one each for world, engine, inputs; of one per element for each kind; and per cell its
# kind, its element among those of the kind, its place in the element, row of its first state, its states, row of the shared
# state, the element's place in the line; axial: conductance to the neighbour cell, W/K
Figures = namedtuple("Figures", "world engine inputs pipe turbine fuel_doser def_doser catalyst filter cells axial")


@jit
def rise_along(P, k, y):
    """Of the solid along cell k, from its neighbours in the element."""
    _, _, i, row, states, _, _ = P.cells[k]
    first, last = i == 0, k + 1 == len(P.cells) or P.cells[k + 1, 2] == 0
    if first and last:
        return 0.0
    if first or last:
        return y[row + states] - y[row] if first else y[row] - y[row - states]
    a, b = y[row] - y[row - states], y[row + states] - y[row]
    return (a * b + 2.0) * (a + b) / (a * a + b * b + 4.0)


@jit
def cell(P, k, s, y, own, kept, found, W):
    """Cell k: changes the streams s, fills the rates of its states; returns its heat capacity and the shared state's rate."""
    kind, which, i, row, states, shared, _ = P.cells[k]
    w, n, mine = P.world[0], s[0], y[row:row + states]
    if kind == PIPE:
        return pipe(P.pipe[which], w, n, mine, rise_along(P, k, y), own), 0.0
    if kind == TURBINE:
        return turbine(P.turbine[which], w, n, mine, own), 0.0
    if kind == FUEL_DOSER:
        return fuel_doser(P.fuel_doser[which], w, n, mine, own), 0.0
    if kind == DEF_DOSER:
        return def_doser(P.def_doser[which], w, n, mine, own), 0.0
    if kind == FILTER:
        return soot_filter(P.filter[which], i, w, s, mine, rise_along(P, k, y), own, kept[k], found[k], W), 0.0
    return catalyst(P.catalyst[which], i, w, n, y[shared], mine, rise_along(P, k, y), own, kept[k], found[k], W)


@jit
def start(P, Te, back, s):
    """Exhaust of the engine as the first stream; returns the rate of the engine's temperature."""
    g, coolant = run_engine(P.engine[0], P.world[0], P.inputs[0], Te, back)
    s[0, :NS] = g.n
    s[0, NS] = g.T
    return engine_block(P.engine[0], P.world[0], Te, coolant)


@jit
def rates(y, back, P, kept, found, seen):
    """All rates. seen: the stream that enters each element, and the one that leaves the line."""
    d, s, W = np.zeros(len(y)), np.zeros((2, NS + 1)), np.zeros((13, NS + 1))
    d[0] = start(P, y[0], back, s)
    for k in range(len(P.cells)):
        _, _, i, row, states, shared, element = P.cells[k]
        if i == 0:
            seen[element] = s[0]
        own = d[row:row + states]
        capacity, grown = cell(P, k, s, y, own, kept, found, W)
        if shared >= 0:
            d[shared] += grown
        if i > 0:
            own[0] += P.axial[k] * (y[row - states] - y[row]) / capacity
        if k + 1 < len(P.cells) and P.cells[k + 1, 2] > 0:
            own[0] += P.axial[k] * (y[row + states] - y[row]) / capacity
    seen[-1] = s[0]
    return d


@jit
def jacobian(y, back, P, kept, found, seen):
    """Each cell's own states and the next cell's answer, by differences; line.py hands SciPy the same."""
    size, cells, W = len(y), len(P.cells), np.zeros((13, NS + 1))
    J, y = np.zeros((size, size)), y.copy()
    entry, out, s, d0, e0, d1 = (np.zeros((2, NS + 1)), np.zeros((2, NS + 1)), np.zeros((2, NS + 1)), np.zeros(4), np.zeros(4),
                                 np.zeros(4))
    start(P, y[0], back, entry)
    for k in range(cells):
        row, states, last = P.cells[k, 3], P.cells[k, 4], k + 1 == cells
        out[:] = entry
        capacity, _ = cell(P, k, out, y, d0, kept, found, W)
        if not last:
            after, more = P.cells[k + 1, 3], P.cells[k + 1, 4]
            s[:] = out
            cell(P, k + 1, s, y, e0, kept, found, W)
        for j in range(states):
            was, step = y[row + j], 1e-3 if j == 0 else 1e-5 * abs(y[row + j]) + 1e-7
            y[row + j] += step
            s[:] = entry
            cell(P, k, s, y, d1, kept, found, W)
            y[row + j] = was
            for m in range(states):
                J[row + m, row + j] += (d1[m] - d0[m]) / step
            if not last:
                cell(P, k + 1, s, y, d1, kept, found, W)
                for m in range(more):
                    J[after + m, row + j] += (d1[m] - e0[m]) / step
        for other, inside in ((row - states, P.cells[k, 2] > 0), (row + states, not last and P.cells[k + 1, 2] > 0)):
            if inside:
                J[row, row] -= P.axial[k] / capacity
                J[row, other] += P.axial[k] / capacity
                y[other] += 1e-3
                s[:] = entry
                cell(P, k, s, y, d1, kept, found, W)
                y[other] -= 1e-3
                for m in range(states):
                    J[row + m, other] += (d1[m] - d0[m]) / 1e-3
        entry[:] = out
    h = 1e-3
    before = rates(y, back, P, kept, found, seen)
    y[0] += h
    J[:, 0] = (rates(y, back, P, kept, found, seen) - before) / h
    return J


@jit
def back_pressure(y, P, seen):
    """Pressure drop of catalysts and filters; seen as rates() left it."""
    drop = 0.0
    for k in range(len(P.cells)):
        kind, which, i, row, states, shared, element = P.cells[k]
        if i > 0 or (kind != CATALYST and kind != FILTER):
            continue
        T = cake = deep = 0.0
        n, p = seen[element + 1], P.world[0].p
        cells = int(P.catalyst[which].cells if kind == CATALYST else P.filter[which].cells)
        for j in range(cells):
            T += y[row + j * states] / cells
            cake += y[row + j * states + 2]
            deep += y[row + j * states + 3]
        if kind == CATALYST:
            drop += catalyst_drop(P.catalyst[which], y[shared], T, n, p)
        else:
            drop += filter_drop(P.filter[which], cake, deep, T, n, p)
    return drop


def records(figures):
    """Dictionaries with the same keys as a table; words are left out."""
    keys = [k for k, v in figures[0].items() if isinstance(v, (int, float, np.floating, np.integer))]
    table = np.zeros(len(figures), dtype=[(k, np.float64) for k in keys])
    for row, f in zip(table, figures):
        for k in keys:
            row[k] = f[k]
    return table


def figures_of(part):
    """What the second opinion's element knows, its case's figures and what it worked out of them."""
    out = {**part.c, **part.c.get("burning", {}), **{k: v for k, v in vars(part).items() if k != "c"}}
    if isinstance(part, Pipe):
        out["wrapped"] = part.c["cover"] == "wrapped"
    if isinstance(part, Catalyst):
        out["set"] = SETS[part.c["kinetics"]]
    return out


class Compiled(Truck):
    """The second opinion's truck; what its line does is compiled, its control is not (it acts every 5 s)."""

    def __init__(self, program):
        super().__init__(program, False)
        of_kind, cells, axial = [[] for _ in KINDS], [], []
        for place, (p, a) in enumerate(zip(self.line.parts, self.line.offset)):
            kind = KINDS.index(type(p))
            for i in range(p.cells):
                cells.append([kind, len(of_kind[kind]), i, a + p.shared + i * p.states, p.states, a if p.shared else -1, place])
                axial.append(p.axial)
            of_kind[kind].append(figures_of(p))
        self.P = Figures(records([self.amb]), records([self.e]), records([Truck.inputs(self)]), *map(records, of_kind),
                         np.array(cells), np.array(axial))
        self.kept, self.found = np.full((2, len(cells), 2, NGAS), -1.0)
        self.seen, self.set_for = np.zeros((len(self.line.parts) + 1, NS + 1)), None

    def prepare(self, t):
        now = (self.speed, self.load, self.levers)
        if self.set_for != now:
            self.P.inputs[:] = records([self.inputs()])
            self.set_for = now
        self.P.world["dose"] = self.dose(t)

    def rates(self, t, y):
        self.prepare(t)
        return rates(y, self.back, self.P, self.kept, self.found, self.seen)

    def jacobian(self, t, y):
        self.prepare(t)
        return jacobian(y, self.back, self.P, self.kept, self.found, self.seen)

    def accept(self, t, y):
        self.feel(t, y)
        self.kept[:] = self.found

    def feel(self, t, y):
        """As in the second opinion, without what only its samples need."""
        self.rates(t, y)
        now = back_pressure(y, self.P, self.seen)
        if abs(now - self.back) > 20.0:
            self.back = now

    def look(self, t, y):
        self.rates(t, y)
        gases = [Gas(s[NS], s[:NS].copy()) for s in self.seen]
        return gases[0], dict(zip(self.line.names + ["tailpipe end"], gases)), back_pressure(y, self.P, self.seen)

    def rows(self, method, rtol, until, going):
        """Mean temperatures every 5 s; going: a bend of the inputs at a sample does not stop the integrator."""
        with mock.patch.object(truck, "integrate", Going(self) if going else truck.integrate):
            return self.means(self.run(method, [5.0 * k for k in range(int(until / 5) + 1)], until, rtol))


class Going:
    """line.integrate, but one integrator for as long as the levers stand: restarted only where inputs jump."""

    def __init__(self, owner):
        self.owner, self.solver, self.levers = owner, None, None

    def __call__(self, method, f, t0, t1, y0, rtol, atol, times, jac=None, first_step=None, accept=None):
        now = (self.owner.speed, self.owner.load, self.owner.levers)
        if self.levers != now:
            kind, self.levers = {"BDF": BDF, "LSODA": LSODA}[method], now
            self.solver = kind(f, t0, y0, t1, rtol=rtol, atol=atol, first_step=first_step, **({} if jac is None else {"jac": jac}))
        s = self.solver
        s.t_bound, s.status = t1, "running"
        if method == "LSODA":
            s._lsoda_solver._integrator.rwork[0] = t1  # where it must not step past; SciPy sets it once only
        out = [y0 for t in times if t <= t0]
        while s.status == "running":
            message = s.step()
            if s.status == "failed":
                raise RuntimeError(f"{method}: {message} at {s.t:.3f} s")
            accept(s.t, s.y)
            dense = s.dense_output() if len(out) < len(times) and times[len(out)] <= s.t else None
            while len(out) < len(times) and times[len(out)] <= s.t:
                out.append(dense(times[len(out)]))
        return np.array(out).reshape(-1, len(y0)).T, s


class Watched(Compiled):
    """Keeps what the second opinion needs to give its own rates at some accepted steps."""

    def watch(self, times):
        self.left, self.kept_states = list(times), []

    def accept(self, t, y):
        if self.left and t >= self.left[0]:
            self.left.pop(0)
            self.prepare(t)
            d = rates(y, self.back, self.P, self.kept, self.found, self.seen)
            self.kept_states.append((t, y.copy(), d, self.kept.copy(), {k: getattr(self, k) for k in CONTROL}))
        super().accept(t, y)


def difference(program, until):
    """Largest difference of the compiled rates from the second opinion's at a dozen states of a run. Each over its rate, or over
    a hundredth of the largest that state has in the dozen, where its own is smaller."""
    compiled, opinion = Watched(program), Truck(program, False)
    compiled.watch(np.linspace(1.0, until - 1.0, 12))
    compiled.run("LSODA", [0.0], until)
    ours, theirs = [], []
    for t, y, d, kept, control in compiled.kept_states:
        vars(opinion).update(control)
        surfaces = [pair for p in opinion.line.parts for pair in (getattr(p, "surfaces", None) or [None] * p.cells)]
        for pair, start in zip(surfaces, kept):
            for s, x in zip(pair or (), start):
                s.kept = x.tolist() if x[0] >= 0.0 else None
        ours.append(d)
        theirs.append(opinion.rates(t, y))
    ours, theirs = np.array(ours), np.array(theirs)
    scale = np.maximum(np.abs(theirs), 1e-2 * np.abs(theirs).max(axis=0))
    return float((np.abs(ours - theirs) / np.where(scale > 0.0, scale, 1.0)).max()), compiled


def seconds_per_call(compiled, repeat=100):
    """Processor time of one call of the right-hand side from Python, s, mean over the dozen states."""
    begin = time.process_time()
    for _, y, _, _, control in compiled.kept_states:
        vars(compiled).update(control)
        for _ in range(repeat):
            compiled.rates(0.0, y)
    return (time.process_time() - begin) / repeat / len(compiled.kept_states)


VARIANTS = (("BDF", True, 1e-6), ("BDF", True, 1e-7), ("LSODA", False, 1e-6), ("LSODA", False, 1e-7), ("LSODA", True, 1e-5),
            ("LSODA", True, 1e-6), ("LSODA", True, 1e-7))
OURS = (1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8)
TARGETS, LIMIT, ROUNDS = (0.1, 0.01), 1e-8, 3


def apart(a, b):
    return max(float(np.abs(np.asarray(a[n]) - np.asarray(b[n])).max()) for n in b)


def ours_at(b, case, rtol, phase):
    """Mean temperatures by the program, every 5 s, and what emb_bench needs for the same run."""
    sets = {**phase, "solver.rtol": rtol, "solver.temperature_atol": f"{100 * rtol:g} K"}
    seen = b.series(case, sets)[0]
    return {n: seen[n + ".mean_temperature"] for n in truck.SEEN}, sets


def measure(b, case, until, phase):
    """Times and errors of both, each against its own tight run; all times in turn, the smallest of some rounds."""
    tight, going = ours_at(b, case, 1e-9, phase)[0], Compiled(b.program).rows("LSODA", 1e-9, until, False)
    ours, theirs, out = {}, {}, {"two_programs_K": apart(going, tight)}
    for rtol in OURS:
        seen, sets = ours_at(b, case, rtol, phase)
        ours[rtol] = {"rtol": rtol, "error_K": apart(seen, tight), "sets": sets, "s": np.inf}
    for _ in range(ROUNDS):
        for row in ours.values():
            row["s"] = min(row["s"], b.run(case, "--bare", sets=row["sets"])["run_s"])
        for v in VARIANTS:
            driven = Compiled(b.program)
            begin = time.process_time()
            seen = driven.rows(v[0], v[2], until, v[1])
            spent = time.process_time() - begin
            row = theirs.setdefault(v, {"method": v[0], "going": v[1], "rtol": v[2], "error_K": apart(seen, going), "s": np.inf})
            row["s"] = min(row["s"], spent)
    for row in theirs.values():
        row["same_tolerance"] = row["s"] / ours[row["rtol"]]["s"]
    for row in ours.values():
        del row["sets"]
    return dict(out, emberpipe=list(ours.values()), scipy=list(theirs.values()))


def reaching(rows, kelvin):
    return min((r["s"] for r in rows if r["error_K"] <= kelvin), default=None)


def part(b, case, until, phase, say, head):
    """The part `numba` of run.py."""
    begin = time.process_time()
    compiled_once = Compiled(b.program)
    compiled_once.rows("LSODA", 1e-4, 5.0, False)
    compiling = time.process_time() - begin
    apart_by, watched = difference(b.program, until)
    print(f"\nNumba: compiled in {compiling:.0f} s of processor, not counted below; rates within {apart_by:.1e} of the second opinion's "
          f"at a dozen states (limit {LIMIT:.0e})")
    if not apart_by <= LIMIT:
        raise SystemExit("numba: not the same equations as validation/second_opinion: not timed")
    out = {"compile_s": compiling, "rates_apart": apart_by, **measure(b, case, until, phase)}
    head(f"Against SciPy with Numba: second opinion's case (coarse grid), {until / 60:.0f} min",
         "solver", "rtol", "processor s", "error against its own tight run", "over ours at the same rtol")
    for r in out["emberpipe"]:
        say("emberpipe", f"{r['rtol']:.0e}", f"{r['s']:.3f}", f"{r['error_K']:.1e} K", "1")
    for r in out["scipy"]:
        say(f"SciPy {r['method']}, " + ("restarted at jumps" if r["going"] else "restarted at every sample"), f"{r['rtol']:.0e}",
            f"{r['s']:.2f}", f"{r['error_K']:.1e} K", f"{r['same_tolerance']:.0f}")
    out["same_accuracy"] = {}
    for kelvin in TARGETS:
        mine, other = reaching(out["emberpipe"], kelvin), reaching(out["scipy"], kelvin)
        if mine is not None and other is not None:
            out["same_accuracy"][str(kelvin)] = other / mine
            print(f"\nWithin {kelvin:g} K: fastest SciPy {other:.2f} s, fastest of ours {mine:.3f} s: {other / mine:.1f} times slower")
    call = min(seconds_per_call(watched) for _ in range(ROUNDS))
    inside = [b.run(case, sets={**phase, "solver.rtol": 1e-6})["inside"]["rhs"] for _ in range(ROUNDS)]
    own = min(i["s"] / i["calls"] for i in inside)
    out["us_per_rhs"] = {"numba": 1e6 * call, "emberpipe": 1e6 * own}
    print(f"\nOne right-hand side: Numba {1e6 * call:.0f} us, ours {1e6 * own:.0f} us. Tight runs of the two programs: within "
          f"{out['two_programs_K']:.1e} K.\nLSODA is handed a Jacobian made cell by cell, compiled too; SciPy makes BDF's by differences.")
    return out
