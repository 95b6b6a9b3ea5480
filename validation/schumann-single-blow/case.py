import math

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import ive

D, WEB, PITCH, FLOW = 0.15, 0.3e-3, 0.0254 / math.sqrt(200), 0.05


def theta_gas(xi, eta):
    f = lambda u: ive(0, 2 * math.sqrt(u * eta)) * math.exp(-(math.sqrt(u) - math.sqrt(eta))**2)  # noqa: E731
    return 1 - quad(f, 0, xi, limit=200)[0]


class Comb:
    """Geometry and film of the honeycomb; cp and k of the gas are those of the program, checked in gas-properties."""

    def __init__(self, case):
        T = 302.5
        self.k = case.probe(f"conductivity {T}")[0]
        self.mcp = FLOW * case.probe(f"mix_cp {T} O2=0.1 CO2=0.07")[0]
        self.face, self.a = math.pi / 4 * D**2, PITCH - WEB
        self.open = (self.a / PITCH)**2

    def ntu(self, length):
        z = self.a**2 * self.mcp / (self.face * self.open * self.k * length)
        nu = 2.976 * (1 + 0.095 * z)**0.45  # Hawthorn 1974
        return nu * self.k / self.a * 4 * self.a / PITCH**2 * self.face * length / self.mcp

    def transit(self, length):
        return 2500.0 * (1 - self.open) * self.face * length * 1000.0 / self.mcp


def blow(case, comb, xi, cells):
    length = brentq(lambda x: comb.ntu(x) - xi, 1e-3, 3.0)
    r = case.run("case.yaml", f"line.comb.length={length:.12g} m", f"line.comb.cells={cells}",
                 f"duty.phases.0.for={2.2 * comb.transit(length):.6g} s",
                 f"output.interval={comb.transit(length) / 100:.6g} s")
    return r.t / comb.transit(length), (r["comb.gas_temperature"] - 300) / 5, (r["comb.rear_temperature"] - 300) / 5


def run(case):
    comb = Comb(case)
    for xi in (1, 2, 5, 10):
        tau, gas, solid = blow(case, comb, xi, 200)
        for c in case.claims:
            kind, *at = c.id.split("-")
            if kind in "gs" and at and float(at[0]) == xi:
                case.claim(c.id, np.interp(float(at[1]), tau, gas if kind == "g" else solid))
    at = np.linspace(0.2, 2.0, 19)
    few, exact = np.interp(at, *blow(case, comb, 5, 4)[:2]), [theta_gas(5, 5 * v) for v in at]
    case.claim("four", max(few - exact, key=abs))
    p = case.plot("Single blow, 5 transfer units", "time / transit time [-]", "gas leaving [-]")
    for n in (4, 200):
        tau, gas, _ = blow(case, comb, 5, n)
        p.line(tau, gas, f"program, {n} cells", n == 4)
    x = np.linspace(0.1, 2.1, 21)
    p.marks(x, [theta_gas(5, 5 * v) for v in x], "Schumann 1929")
