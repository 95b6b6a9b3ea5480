"""Section 1 of model.md: the march through the elements, and its integration."""
import numpy as np
from scipy.integrate import BDF, LSODA, Radau

from elements import KINDS
from transfer import rise_along


class Line:
    """elements: list of (name, kind, figures)."""

    def __init__(self, elements, first=0):
        self.names = [e[0] for e in elements]
        self.parts = [KINDS[kind](c) for _, kind, c in elements]
        self.offset, at = [], first
        for p in self.parts:
            self.offset.append(at)
            at += p.shared + p.cells * p.states
        self.size, self.first = at, first

    def start(self, T):
        y = [0.0] * self.first
        for p in self.parts:
            y += p.start(T)
        return np.array(y)

    def temperatures(self, name, y):
        """Of the solid, cell by cell; y may be a table with one column per time."""
        i = self.names.index(name)
        p, a = self.parts[i], self.offset[i] + self.parts[i].shared
        return y[a:a + p.cells * p.states:p.states]

    @staticmethod
    def rise(p, i, row, y):
        """Of the solid along cell i, whose temperature stands at `row`."""
        return rise_along(y[row - p.states] if i > 0 else None, y[row] if p.states > 0 else None,
                          y[row + p.states] if i + 1 < p.cells else None)

    def march(self, gas, world, y, d=None, entering=None):
        """Rates of all states behind the first ones; entering(name, gas) sees what flows into each element."""
        d = np.zeros(self.size) if d is None else d
        stream, y = [gas, None], np.asarray(y)
        for name, p, a in zip(self.names, self.parts, self.offset):
            if entering is not None:
                entering(name, stream[0])
            shared, b = y[a:a + p.shared], a + p.shared
            for i in range(p.cells):
                s = slice(b + i * p.states, b + (i + 1) * p.states)
                own = d[s]
                capacity, extra = p.cell(i, world, shared, y[s].tolist(), self.rise(p, i, s.start, y), stream, own)
                if p.axial > 0.0:
                    T, flow = y[s.start], 0.0
                    flow += y[s.start - p.states] - T if i > 0 else 0.0
                    flow += y[s.start + p.states] - T if i + 1 < p.cells else 0.0
                    own[0] += p.axial * flow / capacity
                d[a:b] += extra
        if entering is not None:
            entering("tailpipe end", stream[0])
        return d

    def accept(self):
        """What the last march found at the surfaces is where the next searches start."""
        for p in self.parts:
            for pair in getattr(p, "surfaces", ()):
                for s in pair:
                    s.accept()

    def jacobian(self, gas, world, y):
        """Each cell's own states, and the next cell's answer to what leaves it. Not exact; Newton needs no more."""
        y, J = np.asarray(y), np.zeros((self.size, self.size))
        where = [(p, i, a) for p, a in zip(self.parts, self.offset) for i in range(p.cells)]
        stream = [gas, None]
        for k, (p, i, a) in enumerate(where):
            row = a + p.shared + i * p.states
            states, entry = y[row:row + p.states].tolist(), stream
            d0, out, capacity = self._answer(p, i, a, world, y, states, entry)
            after = where[k + 1] if k + 1 < len(where) else None
            e0 = None if after is None else self._next(after, world, y, out)
            for j in range(p.states):
                step = 1e-3 if j == 0 else 1e-5 * abs(states[j]) + 1e-7
                moved = list(states)
                moved[j] += step
                d1, other, _ = self._answer(p, i, a, world, y, moved, entry)
                J[row:row + p.states, row + j] += (d1 - d0) / step
                if after is not None:
                    r, e1 = self._next(after, world, y, other)
                    J[r:r + len(e1), row + j] += (e1 - e0[1]) / step
            for other, inside in ((row - p.states, i > 0), (row + p.states, i + 1 < p.cells)):
                if inside:
                    J[row, row] -= p.axial / capacity
                    J[row, other] += p.axial / capacity
                    moved = y.copy()
                    moved[other] += 1e-3
                    J[row:row + p.states, other] += (self._answer(p, i, a, world, moved, states, entry)[0] - d0) / 1e-3
            stream = out
        return J

    def _answer(self, p, i, a, world, y, states, entry):
        stream, d = [g if g is None else g.copy() for g in entry], np.zeros(p.states)
        row = a + p.shared + i * p.states
        rise = self.rise(p, i, row, np.concatenate((y[:row], states, y[row + p.states:])))
        capacity, _ = p.cell(i, world, y[a:a + p.shared], states, rise, stream, d)
        return d, stream, capacity

    def _next(self, place, world, y, entry):
        p, i, a = place
        row = a + p.shared + i * p.states
        return row, self._answer(p, i, a, world, y, y[row:row + p.states].tolist(), entry)[0]


def integrate(method, f, t0, t1, y0, rtol, atol, times, jac=None, first_step=None, accept=None):
    """Values at `times`; methods of SciPy that suit stiff problems. accept(t, y) is called after every step."""
    kind = {"BDF": BDF, "LSODA": LSODA, "Radau": Radau}[method]
    options = {} if jac is None else {"jac": jac}
    solver = kind(f, t0, y0, t1, rtol=rtol, atol=atol, first_step=first_step, **options)
    out = np.empty((len(y0), len(times)))
    k = 0
    while k < len(times) and times[k] <= t0:
        out[:, k] = y0
        k += 1
    while solver.status == "running":
        message = solver.step()
        if solver.status == "failed":
            raise RuntimeError(f"{method}: {message} at {solver.t:.3f} s")
        if accept is not None:
            accept(solver.t, solver.y)
        if k < len(times) and times[k] <= solver.t:
            dense = solver.dense_output()
            while k < len(times) and times[k] <= solver.t:
                out[:, k] = dense(times[k])
                k += 1
    return out, solver
