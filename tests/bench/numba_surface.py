"""Reaction sets of the second opinion for Numba: the search of reactions.py from the same start, over tables
frozen into the code."""
import math

import numpy as np

import reactions
from gas import FUEL
from numba_gas import compiled, gibbs, jit, moles
from reactions import C3H6, CO, NO, NO2, O2
from tables import NGAS, R

power, along = compiled(reactions, "power along").values()


def surface_balance(chem):
    """A reaction set over one cell."""
    NR, INHIBITED, ACTIVE = len(chem.r), chem.inhibited, np.array(chem.active)
    A, E, alpha = (np.array([r[k] for r in chem.r]) for k in ("A", "E", "alpha"))
    store, gain, per_site, dense, inhibited, reversible = (
        np.array([int(r.get(k, 0)) for r in chem.r]) for k in ("store", "gain", "sites", "concentration", "inhibited", "reversible"))
    orders = [(j, i, o) for j, r in enumerate(chem.r) for i, o in r["orders"]]
    terms = [(j, i, v) for j, r in enumerate(chem.r) for i, v in r["terms"]]
    OJ, OI, OV = np.array([o[0] for o in orders]), np.array([o[1] for o in orders]), np.array([o[2] for o in orders])
    TJ, TI, TV = np.array([t[0] for t in terms]), np.array([t[1] for t in terms]), np.array([t[2] for t in terms])
    SEARCHED = np.array([i in chem.active for i in range(NGAS)])

    @jit
    def rates(k, T, x, K, v):
        inv = 1.0
        if INHIBITED:
            hc = x[C3H6] + x[FUEL] / 12.0
            inv = 1.0 / (T * (1 + K[0] * x[CO] + K[1] * hc)**2 * (1 + K[2] * x[CO]**2 * hc**2) * (1 + K[3] * power(x[NO], 0.7)))
        for j in range(NR):
            v[j] = k[j] * inv if inhibited[j] else k[j]
        for m in range(len(OJ)):
            v[OJ[m]] *= power(x[OI[m]], OV[m])

    @jit
    def sweep(k, v, x, nox, back, sink, source):
        sink[:NGAS] = 0.0
        source[:NGAS] = 0.0
        for j in range(NR):
            if reversible[j]:
                rev = k[j] * back
                sink[NO] += v[j] + rev * x[NO]
                source[NO] += rev * nox
        for m in range(len(TJ)):
            j, i = TJ[m], TI[m]
            if not SEARCHED[i] or (reversible[j] and i == NO):
                continue
            net = TV[m] * (v[j] - k[j] * back * (nox - x[NO]) if reversible[j] else v[j])
            if net < 0.0:
                sink[i] -= net
            else:
                source[i] += net

    @jit
    def answer(k, T, x, K, nox, back, N, x_in, film, W, to):
        """What the surface would be if it reacted as it does at x."""
        v, sink, source = W[3], W[4], W[5]
        rates(k, T, x, K, v)
        sweep(k, v, x, nox, back, sink, source)
        for i in ACTIVE:
            a = sink[i] / max(x[i], 1e-12)
            to[i] = along(N, x_in[i], None, a, source[i]) if film is None else along(N, x_in[i], film[i], a, source[i])

    @jit
    def search(k, T, x, K, nox, back, N, x_in, film, W):
        to, to_before, apart, apart_before = W[6], W[7], W[8], W[9]
        for turn in range(400):
            answer(k, T, x, K, nox, back, N, x_in, film, W, to)
            furthest = length = along_apart = 0.0
            for i in ACTIVE:
                apart[i], size = to[i] - x[i], 1e-6 + x[i]
                furthest = max(furthest, abs(apart[i]) / size)
                bend = (apart[i] - apart_before[i]) / size
                length += bend * bend
                along_apart += bend * apart[i] / size
            ahead = along_apart / length if turn > 0 and length > 0.0 else 0.0
            for i in ACTIVE:
                x[i] = max(to[i] - (ahead * (to[i] - to_before[i]) if turn > 0 else 0.0), 0.1 * to[i])
                to_before[i], apart_before[i] = to[i], apart[i]
            if furthest < 1e-9:
                break

    @jit
    def react(n, T, p, volume, film, sites, theta, kept, found, W):
        N, K, back = moles(n), (0.0, 0.0, 0.0, 0.0), 0.0
        x_in, x, k, v = W[0], W[1], W[2], W[3]
        for i in range(NGAS):
            x_in[i] = max(n[i], 0.0) / N
            x[i] = max(kept[i], 1e-6 * x_in[i]) if SEARCHED[i] and kept[0] >= 0.0 else x_in[i]
        for j in range(NR):
            k[j] = volume * A[j] * math.exp(-E[j] * (1.0 - alpha[j] * theta) / (R * T)) * (sites if per_site[j] else 1.0)
            k[j] *= p / (R * T) if dense[j] else 1.0
            k[j] *= theta if store[j] > 0 else max(1.0 - theta, 0.0) if store[j] < 0 else 1.0
        if INHIBITED:
            K = (65.5 * math.exp(961 / T), 2.08e3 * math.exp(361 / T), 3.98 * math.exp(11611 / T), 4.79e5 * math.exp(-3733 / T))
            back = math.exp((gibbs(NO2, T) - gibbs(NO, T) - 0.5 * gibbs(O2, T)) / (R * T)) / math.sqrt(p / 1e5)
        nox = x_in[NO] + x_in[NO2]
        search(k, T, x, K, nox, back, N, x_in, film, W)
        found[:] = x[:NGAS]
        rates(k, T, x, K, v)
        for j in range(NR):
            if reversible[j]:
                v[j] -= k[j] * back * (nox - x[NO])
        for m in range(len(TJ)):
            n[TI[m]] += TV[m] * v[TJ[m]]
        stored = 0.0
        for j in range(NR):
            stored += gain[j] * v[j]
        return stored

    return react


oxidise, reduce_nox = surface_balance(reactions.OXIDATION), surface_balance(reactions.COPPER)


@jit
def ratio(z):
    return -math.expm1(-z) / z if z > 1e-8 else 1 - z / 2
