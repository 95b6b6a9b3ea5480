"""Pressure drop of catalysts and filters, section 4.8 of model.md."""
import math

import numpy as np

from elements import Catalyst, Filter
from gas import viscosity
from tables import R


def drop(part, y, g, p):
    """y: states of the element, g: the gas that leaves it."""
    T = float(np.mean(y[part.shared::part.states]))
    Q, mu, c, a = g.moles() * R * T / p, viscosity(T), part.c, part.dh
    if isinstance(part, Catalyst):
        m = max(y[0], 0.0)
        o = 1 - c["blocked"] - (0.95 - c["blocked"]) * m / (m + 0.3 * part.face)
        return 0.5 * 56.908 * mu * Q / (part.face * part.open * o) * c["length"] / a**2
    if not isinstance(part, Filter):
        return 0.0
    cake, deep = float(np.sum(y[2::4])), float(np.sum(y[3::4]))
    rho = g.mass() / Q
    N = part.volume / (2 * c["length"] * part.pitch**2)
    ash = c["ash"] * part.volume
    plug = min(c["ash_plug"] * ash / (N * a * a * c["ash_density"]), 0.95 * c["length"])
    L = c["length"] - plug
    layer = (1 - c["ash_plug"]) * ash / (N * L * c["ash_density"])
    bare = max(a * a - layer, 0.01 * a * a)
    room = max(a * a - layer - cake / (N * L * c["soot_density"]), 0.01 * a * a)
    per, u = mu * Q / (4 * N * L), Q / (4 * N * a * L)
    full = part.deep * part.cells
    wall = per * c["web"] / (c["wall_permeability"] * a) * (1 + c["deep_growth"] * (deep / full if full > 0 else 0.0))
    wall += c["inertia"] * rho * u * u * c["web"]
    layers = per * math.log(a * a / bare) / (4 * c["ash_permeability"]) + per * math.log(bare / room) / (4 * c["soot_permeability"])
    friction = per * 4 * 28.454 * (L * L / 3 * (1 / room**2 + 1 / a**4) + L * plug / a**4)
    ends = c["end_loss"] * rho / 4 * ((Q / (N * room))**2 + (Q / (N * a * a))**2)
    return wall + layers + friction + ends
