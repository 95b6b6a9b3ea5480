"""Section 5 of model.md: a reaction set over one cell."""
import math

from gas import kp_no2
from tables import INDEX, NGAS, R, oxidation, reduction

CO, C3H6, FUEL, NO, NO2, O2 = (INDEX[n] for n in ("CO", "C3H6", "FUEL", "NO", "NO2", "O2"))


def power(x, order):
    return x if order == 1.0 else x * (x + 1e-9)**(order - 1.0)


class Surface:
    """What one surface was at the last accepted step, and what the last search found."""

    def __init__(self):
        self.kept = self.found = None

    def start(self, x_in):
        return list(x_in) if self.kept is None else [max(a, 1e-6 * b) for a, b in zip(self.kept, x_in)]

    def accept(self):
        self.kept = self.found


class Set:
    def __init__(self, reactions):
        self.r = reactions
        self.inhibited = any(r["inhibited"] for r in reactions)
        for r in reactions:
            r["terms"] = [(k, v) for k, v in enumerate(r["nu"]) if v and k < NGAS]
        needed = {k for r in reactions for k, _ in r["orders"]} | ({CO, C3H6, FUEL, NO} if self.inhibited else set())
        self.active = sorted(needed)
        self.E0, self.alpha = next(((r["E"], r["alpha"]) for r in reactions if r["gain"] < 0 and r["sites"]), (0.0, 0.0))

    def constants(self, T, p, volume, sites, theta):
        out = []
        for r in self.r:
            k = volume * r["A"] * math.exp(-r["E"] * (1.0 - r["alpha"] * theta) / (R * T))
            k *= sites if r["sites"] else 1.0
            k *= p / (R * T) if r.get("concentration") else 1.0
            k *= theta if r["store"] > 0 else max(1.0 - theta, 0.0) if r["store"] < 0 else 1.0
            out.append(k)
        return out

    def rates(self, k, T, x, nox, back, K):
        inv = 1.0
        if self.inhibited:
            hc = x[C3H6] + x[FUEL] / 12.0
            inv = 1.0 / (T * (1 + K[0] * x[CO] + K[1] * hc)**2 * (1 + K[2] * x[CO]**2 * hc**2)
                         * (1 + K[3] * power(x[NO], 0.7)))
        v = []
        for j, r in enumerate(self.r):
            s = k[j] * (inv if r["inhibited"] else 1.0)
            for i, order in r["orders"]:
                s *= power(x[i], order)
            v.append(s)
        return v

    def react(self, n, T, p, volume, film=None, sites=0.0, theta=0.0, surface=None):
        """Changes n; returns what the sites gain, mol/s. film: mol/s per species, None for none."""
        N = float(n[:NGAS].sum())
        x_in = [max(v, 0.0) / N for v in n[:NGAS].tolist()]
        x = list(x_in) if surface is None else surface.start(x_in)
        for i in range(NGAS):
            x[i] = x[i] if i in self.active else x_in[i]
        k = self.constants(T, p, volume, sites, theta)
        nox, back = x_in[NO] + x_in[NO2], 1.0 / (kp_no2(T) * math.sqrt(p / 1e5))
        K = (65.5 * math.exp(961 / T), 2.08e3 * math.exp(361 / T), 3.98 * math.exp(11611 / T), 4.79e5 * math.exp(-3733 / T))
        before = None
        for _ in range(400):
            v = self.rates(k, T, x, nox, back, K)
            sink, source = dict.fromkeys(self.active, 0.0), dict.fromkeys(self.active, 0.0)
            for j, r in enumerate(self.r):
                net = v[j]
                if r["reversible"]:
                    rev = k[j] * back
                    net = v[j] - rev * (nox - x[NO])
                    sink[NO] += v[j] + rev * x[NO]
                    source[NO] += rev * nox
                for i, nu in r["terms"]:
                    if i not in sink or (r["reversible"] and i == NO):
                        continue
                    if nu * net < 0.0:
                        sink[i] -= nu * net
                    else:
                        source[i] += nu * net
            to = [along(N, x_in[i], None if film is None else film[i], sink[i] / max(x[i], 1e-12), source[i])
                  for i in self.active]
            apart = [new - x[i] for new, i in zip(to, self.active)]
            size = [1e-6 + x[i] for i in self.active]
            ahead = 0.0
            if before is not None:  # Anderson's acceleration, one step deep
                turn = [(a - b) / s for a, b, s in zip(apart, before[0], size)]
                long = sum(v * v for v in turn)
                ahead = sum(v * a / s for v, a, s in zip(turn, apart, size)) / long if long > 0.0 else 0.0
            for m, i in enumerate(self.active):
                new = to[m] - (ahead * (to[m] - before[1][m]) if before is not None else 0.0)
                x[i] = max(new, 0.1 * to[m])
            before = (apart, to)
            if max(abs(a) / s for a, s in zip(apart, size)) < 1e-9:
                break
        if surface is not None:
            surface.found = x
        v = self.rates(k, T, x, nox, back, K)
        extent = [v[j] - (k[j] * back * (nox - x[NO]) if r["reversible"] else 0.0) for j, r in enumerate(self.r)]
        stored = 0.0
        for j, r in enumerate(self.r):
            for i, nu in r["terms"]:
                n[i] += nu * extent[j]
            stored += r["gain"] * extent[j]
        return stored

    def on_sites(self, n, T, p, volume, film, sites, theta, surface):
        """The same with the mirror image of sites below empty."""
        if theta >= 0.0:
            return self.react(n, T, p, volume, film, sites, theta, surface)
        turned = n.copy()
        held = self.react(turned, T, p, volume, film, sites, -theta, surface)
        gained = self.react(n, T, p, volume, film, sites, 0.0, surface)
        n += n - turned
        return 2.0 * gained - held


def along(N, x_in, film, a, P):
    w, v = (1.0, 0.0) if film is None else (film / (film + a), 1.0 / (film + a))
    z = a * w / N
    if z < 1e-4:
        phi, psi = 1 - z / 2 + z * z / 6, 0.5 - z / 6 + z * z / 24
    else:
        phi = -math.expm1(-z) / z
        psi = (1.0 - phi) / z
    return w * (x_in * phi + P * psi * w / N) + v * P


OXIDATION = Set(oxidation())
COPPER = Set(reduction("copper"))
