"""Section 2 of model.md: a flowing mixture."""
import math

import numpy as np

from tables import D0, HIGH, INDEX, LOW, MASS, NAMES, NGAS, R, T0

H2O, SOOT, FUEL, UREA = (INDEX[n] for n in ("H2O", "SOOT", "FUEL", "UREA"))


class Gas:
    __slots__ = ("T", "n")

    def __init__(self, T, n):
        self.T, self.n = T, n

    def copy(self):
        return Gas(self.T, self.n.copy())

    def moles(self):
        return float(self.n[:NGAS].sum())

    def mass(self):
        return float(self.n @ MASS)

    def _poly(self, T):
        return (self.n @ (HIGH if T > 1000.0 else LOW)).tolist()

    def H(self):
        Tc = min(max(self.T, 200.0), 3000.0)
        c = self._poly(Tc)
        return _h(c, Tc) + _cp(c, Tc) * (self.T - Tc)

    def C(self):
        Tc = min(max(self.T, 200.0), 3000.0)
        return _cp(self._poly(Tc), Tc)

    def set_H(self, H):
        for _ in range(20):
            step = (H - self.H()) / self.C()
            self.T += step
            if abs(step) < 1e-8:
                return


def _h(c, T):
    return R * (c[5] + T * (c[0] + T * (c[1] / 2 + T * (c[2] / 3 + T * (c[3] / 4 + T * c[4] / 5)))))


def _cp(c, T):
    return R * (c[0] + T * (c[1] + T * (c[2] + T * (c[3] + T * c[4]))))


def species_h(k, T):
    return _h((HIGH if T > 1000.0 else LOW)[k], T)


def species_cp(k, T):
    return _cp((HIGH if T > 1000.0 else LOW)[k], T)


def _g(k, T):
    a = (HIGH if T > 1000.0 else LOW)[k]
    s = a[6] + a[0] * math.log(T) + T * (a[1] + T * (a[2] / 2 + T * (a[3] / 3 + T * a[4] / 4)))
    return species_h(k, T) - T * R * s


def kp_no2(T):
    return math.exp(-(_g(INDEX["NO2"], T) - _g(INDEX["NO"], T) - 0.5 * _g(INDEX["O2"], T)) / (R * T))


def viscosity(T):
    return 1.716e-5 * (T / 273.15)**1.5 * (273.15 + 110.4) / (T + 110.4)


def conductivity(T):
    return 1.00734e-4 * T / (1.0 + 4.98333e-4 * T)


def diffusivity(T, p):
    return D0 * (T / T0)**1.75 * (101325.0 / p)


def fuel_liquid(T):
    return species_h(FUEL, T0) / MASS[FUEL] - 0.36e6 + 2000.0 * (T - T0)


def water_liquid(T):
    return species_h(H2O, T0) - 44.0e3 + 75.3 * (T - T0)


def psat(T):
    T = min(max(T, 200.0), 647.0)
    x = 1.0 - T / 647.096
    s = (-7.85951783 * x + 1.84408259 * x**1.5 - 11.7866497 * x**3 + 22.6807411 * x**3.5 - 15.9618719 * x**4
         + 1.80122502 * x**7.5)
    return 22.064e6 * math.exp(647.096 / T * s)


def stream(flow, T, x, soot=0.0):
    """Prescribed stream: flow includes soot, nitrogen is the rest."""
    n = np.zeros(len(NAMES))
    for k, v in x.items():
        n[INDEX[k]] = v
    n[INDEX["N2"]] = 1.0 - n.sum()
    n *= (flow - soot) / float(n @ MASS)
    n[SOOT] = soot / MASS[SOOT]
    return Gas(T, n)
