"""Mixtures and engine of the second opinion (validation/second_opinion) for Numba. Short formulas and the engine are compiled as
they stand there, so that no figure is written twice."""
import types

from numba import float64, njit
from numba.experimental import jitclass

import engine as engine_page
import gas
import transfer
from tables import HIGH, LOW, MASS, NAMES, NGAS

NS = len(NAMES)  # a stream is an array of NS flows, mol/s, and its temperature, K
jit = njit(error_model="numpy")


def compiled(module, names, **known):
    """Functions of the second opinion as they stand; each may call those before it and `known`."""
    out = {}
    for name in names.split():
        f = getattr(module, name)
        out[name] = jit(types.FunctionType(f.__code__, {**f.__globals__, **known, **out}, name, f.__defaults__))
    return out


GAS = compiled(gas, "_h _cp species_h species_cp _g viscosity conductivity fuel_liquid water_liquid psat")
HEAT = compiled(transfer, "smooth nu_pipe radiation outside urea_rate", **GAS)
_h, _cp, species_h, species_cp, _g, viscosity, conductivity, fuel_liquid, water_liquid, psat = GAS.values()
smooth, nu_pipe, radiation, outside, urea_rate = HEAT.values()
gibbs = _g


@jit
def mixture(n, T):
    """Coefficients of the heat capacity and enthalpy of all that flows."""
    a = HIGH if T > 1000.0 else LOW
    c0 = c1 = c2 = c3 = c4 = c5 = 0.0
    for k in range(NS):
        v = n[k]
        c0 += v * a[k, 0]
        c1 += v * a[k, 1]
        c2 += v * a[k, 2]
        c3 += v * a[k, 3]
        c4 += v * a[k, 4]
        c5 += v * a[k, 5]
    return c0, c1, c2, c3, c4, c5


@jit
def enthalpy(c, T):
    Tc = min(max(T, 200.0), 3000.0)
    return _h(c, Tc) + _cp(c, Tc) * (T - Tc)


@jit
def heat_flow(c, T):
    return _cp(c, min(max(T, 200.0), 3000.0))


@jit
def total(n, T):
    return enthalpy(mixture(n, T), T)


@jit
def warmed(n, T, H):
    """Temperature at which the flow carries H."""
    c = mixture(n, T)
    for _ in range(20):
        hot, step = T > 1000.0, (H - enthalpy(c, T)) / heat_flow(c, T)
        T += step
        if (T > 1000.0) != hot:
            c = mixture(n, T)
        if abs(step) < 1e-8:
            break
    return T


@jit
def moles(n):
    s = 0.0
    for k in range(NGAS):
        s += n[k]
    return s


@jit
def mass(n):
    s = 0.0
    for k in range(NS):
        s += n[k] * MASS[k]
    return s


@jitclass([("T", float64), ("n", float64[::1])])
class Exhaust:
    """What engine.py asks of a Gas."""

    def __init__(self, T, n):
        self.T, self.n = T, n

    def H(self):
        return total(self.n, self.T)

    def C(self):
        return heat_flow(mixture(self.n, self.T), self.T)

    def set_H(self, H):
        self.T = warmed(self.n, self.T, H)


ENGINE = compiled(engine_page, "cut mix air_flow engine block", psat=psat, Gas=Exhaust, fuel_liquid=fuel_liquid, NAMES=tuple(NAMES))
_, _, _, run_engine, engine_block = ENGINE.values()
