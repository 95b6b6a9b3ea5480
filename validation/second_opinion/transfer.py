"""Section 3 of model.md: heat and mass transfer."""
import math

from gas import H2O, conductivity, psat, viscosity
from tables import INDEX, MASS, R, SIGMA

NH3, HNCO, UREA = INDEX["NH3"], INDEX["HNCO"], INDEX["UREA"]


def smooth(x):
    x = min(max(x, 0.0), 1.0)
    return x * x * (3.0 - 2.0 * x)


def nu_pipe(re, pr):
    if re <= 2300.0:
        return 3.66
    f = (0.790 * math.log(re) - 1.64)**-2
    turbulent = f / 8 * (re - 1000.0) * pr / (1.0 + 12.7 * math.sqrt(f / 8) * (pr**(2 / 3) - 1.0))
    return turbulent if re >= 4000.0 else 3.66 + (turbulent - 3.66) * smooth((re - 2300.0) / 1700.0)


def pipe_ua(g, Tw, d, area, enhancement):
    T = 0.5 * (g.T + Tw)
    mu, k, m = viscosity(T), conductivity(T), g.mass()
    return enhancement * nu_pipe(4.0 * m / (math.pi * d * mu), mu * g.C() / m / k) * k / d * area


def rise_along(before, T, behind):
    """Of the solid along a cell, from the neighbours' temperatures; None: there is no neighbour."""
    if before is None or behind is None:
        return 0.0 if before is behind else behind - T if before is None else T - before
    a, b = T - before, behind - T
    return (a * b + 2.0) * (a + b) / (a * a + b * b + 4.0)


def exchange(g, Tw, ua, rise=0.0):
    n = ua / g.C()
    left = math.exp(-n)
    more = (1 + left) / 2 + math.expm1(-n) / n if n > 1e-2 else n * n / 12 - n**3 / 24
    g.T = Tw + (g.T - Tw) * left + rise * more


def outside(Ts, area, d, eps, r, world):
    """Heat lost; world: T, p, air."""
    Ta, tf = world["T"], 0.5 * (Ts + world["T"])
    nu = viscosity(tf) * R * tf / (world["p"] * 28.96e-3)
    ra = 9.80665 * math.sqrt((Ts - Ta)**2 + 0.25) / tf * d**3 * 0.70 / nu**2
    free = (0.60 + 0.387 * ra**(1 / 6) / (1 + (0.559 / 0.70)**(9 / 16))**(8 / 27))**2
    forced = 0.0
    if world["air"] > 0.0:
        re = world["air"] * d / nu
        forced = 0.3 + 0.62 * math.sqrt(re) * 0.70**(1 / 3) / (1 + (0.4 / 0.70)**(2 / 3))**0.25 * (
            1 + (re / 282000.0)**0.625)**0.8
    h = (free**4 + forced**4)**0.25 * conductivity(tf) / d + radiation(eps, Ts, Ta)
    return area * (Ts - Ta) / (1.0 / h + r)


def radiation(eps, a, b):
    return eps * SIGMA * (a + b) * (a * a + b * b)


def water(g, p, Tw, K, area, m):
    """mol/s onto the wall; changes the gas."""
    if Tw > 400.0 and abs(m) < 1e-12:
        return 0.0
    N = g.moles()
    q = N * (g.n[H2O] / N - min(psat(Tw) / p, 0.95)) * (1.0 - math.exp(-K / N))
    if q < 0.0:
        q *= m / (abs(m) + 0.01 * area)
    g.n[H2O] -= q
    return q


def urea_rate(T):
    return 1.24e5 * math.exp(-54.2e3 / (R * T))


def urea_in_gas(g, tau):
    if g.n[UREA] > 0.0:
        H = g.H()
        split(g, 1.0 - math.exp(-urea_rate(g.T) * tau))
        g.set_H(H)


def split(g, share):
    x = g.n[UREA] * share
    g.n[UREA] -= x
    g.n[NH3] += x
    g.n[HNCO] += x


def fuel_mass():
    return MASS[INDEX["FUEL"]]
