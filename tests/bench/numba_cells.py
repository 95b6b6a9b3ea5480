"""Cells of the second opinion as an expert would write them for speed: flat functions over arrays, compiled by Numba. Each fills
the rates d of its states y, changes the stream n and returns its heat capacity; c holds the figures of the second opinion's own
object, w those of the surroundings, W room for intermediate arrays. See validation/second_opinion/elements.py."""
import math

from gas import FUEL, H2O, SOOT, UREA
from numba_gas import (NS, conductivity, enthalpy, fuel_liquid, heat_flow, jit, mass, mixture, moles, nu_pipe, outside, psat,
                       radiation, smooth, species_cp, species_h, total, urea_rate, viscosity, warmed, water_liquid)
from numba_surface import oxidise, ratio, reduce_nox
from tables import D0, INDEX, MASS, NGAS, R, T0

NH3, HNCO, O2, CO, CO2, NO, NO2 = (INDEX[n] for n in ("NH3", "HNCO", "O2", "CO", "CO2", "NO", "NO2"))


@jit
def pipe_ua(n, C, T, Tw, d, area, enhancement):
    tf, m = 0.5 * (T + Tw), mass(n)
    mu, k = viscosity(tf), conductivity(tf)
    return enhancement * nu_pipe(4.0 * m / (math.pi * d * mu), mu * C / m / k) * k / d * area


@jit
def film_water(n, p, Tw, K, area, m):
    if Tw > 400.0 and abs(m) < 1e-12:
        return 0.0
    N = moles(n)
    q = N * (n[H2O] / N - min(psat(Tw) / p, 0.95)) * (1.0 - math.exp(-K / N))
    if q < 0.0:
        q *= m / (abs(m) + 0.01 * area)
    n[H2O] -= q
    return q


@jit
def split(n, share):
    x = n[UREA] * share
    n[UREA] -= x
    n[NH3] += x
    n[HNCO] += x


@jit
def past_slope(C, T, Tw, rise, ua):
    """Temperature of the gas, of heat flow C, behind a wall that is hotter by `rise` at its end than at its beginning."""
    N = ua / C
    left = math.exp(-N)
    more = (1 + left) / 2 - (1 - left) / N if N > 1e-2 else N * N / 12 - N**3 / 24
    return Tw + (T - Tw) * left + rise * more


@jit
def pipe(c, w, n, y, rise, d):
    T, Tw, H = n[NS], y[0], total(n, n[NS])
    if n[UREA] > 0.0:
        split(n, 1.0 - math.exp(-urea_rate(T) * (c.volume * w.p / (moles(n) * R * T))))
        T = warmed(n, T, H)
    C = heat_flow(mixture(n, T), T)
    ua = pipe_ua(n, C, T, Tw, c.diameter, c.area, c.enhancement)
    K = ua * moles(n) / C
    n[NS] = past_slope(C, T, Tw, rise, ua)
    q = film_water(n, w.p, Tw, K, c.area, y[2])
    gain = H - total(n, n[NS]) - q * water_liquid(Tw)
    capacity = c.heat + y[2] / MASS[H2O] * 75.3
    d[2] = q * MASS[H2O]
    if c.bare:
        d[0], d[1] = (gain - outside(Tw, c.out, c.od, c.emissivity, 0.0, w)) / capacity, 0.0
        return capacity
    if c.wrapped:
        r = c.diameter / 2 + c.wall
        across = c.area * (Tw - y[1]) * c.cover_conductivity / (r * math.log(1 + c.cover_thickness / r))
    else:
        eff = 1.0 / (2.0 / c.emissivity - 1.0)
        across = c.area * (Tw - y[1]) * (conductivity(0.5 * (Tw + y[1])) / c.cover_thickness + radiation(eff, Tw, y[1]))
    d[0] = (gain - across) / capacity
    d[1] = (across - outside(y[1], c.out, c.od, c.emissivity, 0.0, w)) / (c.out * c.cover_heat)
    return capacity


@jit
def turbine(c, w, n, y, d):
    mix, T, m = mixture(n, n[NS]), n[NS], mass(n)
    H, C, r = enthalpy(mix, T), heat_flow(mix, T), m / c.reference_flow
    T = past_slope(C, T, y[0], 0.0, c.film * c.inner_area * r**0.8)
    left = total(n, T)
    n[NS] = warmed(n, T, left - m * c.enthalpy_drop * r * r / (1 + r * r))
    capacity = c.mass * c.heat_capacity
    lost = outside(y[0], c.outer_area, math.sqrt(c.outer_area / math.pi), c.emissivity, 0.0, w)
    d[0] = (H - left - lost) / capacity
    return capacity


@jit
def past_wall(n, T, Tw, area):
    """Temperature of the gas behind the wall of a doser."""
    C = heat_flow(mixture(n, T), T)
    return past_slope(C, T, Tw, 0.0, pipe_ua(n, C, T, Tw, 0.1, area, 1.5))


@jit
def fuel_doser(c, w, n, y, d):
    T, f, cold = n[NS], w.dose * c.delivery, fuel_liquid(c.fuel_temperature)
    air = f * (1 - c.wall_share) * smooth((T - 423.15) / 100.0)
    wall, H = f - air, total(n, T) + air * cold
    n[FUEL] += air / MASS[FUEL]
    T = past_wall(n, warmed(n, T, H), y[0], c.wall_area)
    rate = y[1] * 2.0 * math.exp(min(-51e3 / R * (1 / y[0] - 1 / 520.0), 2.0))
    n[FUEL] += rate / MASS[FUEL]
    n[NS] = T
    d[1] = wall - rate
    capacity = c.wall_mass * 460.0 + y[1] * 2000.0
    d[0] = (H - total(n, T) + wall * cold - d[1] * fuel_liquid(y[0])) / capacity
    return capacity


@jit
def breakdown(A, E, RT):
    k = A * math.exp(-E / RT)
    return k / (1 + k / 10.0)


@jit
def urea_film(c, T, u, b, a, by, n, d):
    """What a film of u, b, a, none below zero, adds to the gas n and the rates d, times by."""
    RT = R * T
    ku, kb, ka = u * breakdown(8.5e6, 84e3, RT), b * breakdown(1.107e20, 208.23e3, RT), a * breakdown(1.5e19, 260e3, RT)
    depth = (u * MASS[UREA] + b * (2 * MASS[UREA] - MASS[NH3]) + a * 3 * MASS[HNCO]) / (1320.0 * c.wall_area)
    caught = (ku + kb) * depth / (depth + c.deposit_depth)
    keener = 9.397e20 / 3.517e11 * math.exp(-83.23e3 / RT)
    q = b * keener / (1 + keener / 100.0)
    grow = caught * q / (u + q + 1e-5)
    n[NH3] += by * (ku + grow)
    n[HNCO] += by * (ku + kb - caught + 3 * ka)
    d[1] += by * (kb - ku - (caught - grow))
    d[2] += by * (caught - 2 * grow - kb)
    d[3] += by * (grow - ka)


@jit
def def_doser(c, w, n, y, d):
    T, cold = n[NS], species_h(UREA, c.fluid_temperature)
    want = c.ratio * (n[NO] + n[NO2]) / 2 * MASS[UREA] / c.strength
    want /= (1 + (want / c.max_rate)**8)**0.125
    dose = c.delivery * want * smooth((T - c.enable_temperature) / 5.0)
    wet, urea = dose * (1 - c.strength) / MASS[H2O], dose * c.strength / MASS[UREA]
    wall = urea * c.wall_share
    H = total(n, T) + wet * water_liquid(c.fluid_temperature) + (urea - wall) * cold
    n[H2O] += wet
    n[UREA] += urea - wall
    T = past_wall(n, warmed(n, T, H), y[0], c.wall_area)
    d[1], d[2], d[3] = wall, 0.0, 0.0
    below = min(y[1], y[2], y[3]) < 0.0
    urea_film(c, y[0], max(y[1], 0.0), max(y[2], 0.0), max(y[3], 0.0), 2.0 if below else 1.0, n, d)
    if below:
        urea_film(c, y[0], abs(y[1]), abs(y[2]), abs(y[3]), -1.0, n, d)
    n[NS] = T
    capacity = c.wall_mass * 460.0 + y[1] * species_cp(UREA, y[0]) + y[2] * 131.0 + y[3] * 132.0
    kept = (d[1] * species_h(UREA, y[0]) + d[2] * (-563.7e3 + 131.0 * (y[0] - 298.15))
            + d[3] * (-703.5e3 + 132.0 * (y[0] - 298.15)))
    d[0] = (H - total(n, T) + wall * cold - kept) / capacity
    return capacity


@jit
def crust(c, n, T, m):
    wet = n[FUEL] / (n[FUEL] + n[SOOT]) if n[SOOT] > 0 else 0.0
    stick = c.crust_rate * wet * smooth((573.15 - T) / 100) * n[SOOT]
    burn, most = 2.15e8 * math.exp(-168e3 / (R * T)) * m / MASS[SOOT], 0.5 * n[O2] + 1e-12
    burn *= most / (abs(burn) + most)
    n[SOOT] -= stick
    n[O2] -= burn
    n[CO2] += burn
    return (stick - burn) * MASS[SOOT]


@jit
def keep_fuel(c, n, T, theta, o, film):
    N, out = moles(n), 0.1 * math.exp(-80e3 / R * (1 / T - 1 / 473.15))
    n_s = c.sites * o / (1 + out / 2.0)
    ka, kd = 100.0 * n_s * max(1 - theta, 0.0), out * n_s * theta
    b = film / (film + ka)
    kept = b * (ka * n[FUEL] / N - kd) * ratio(b * ka / N)
    n[FUEL] -= kept
    return kept


@jit
def on_sites(n, T, p, volume, film, sites, theta, kept, found, W):
    """Sites below empty do the mirror image of what they would above."""
    if theta >= 0.0:
        return reduce_nox(n, T, p, volume, film, sites, theta, kept, found, W)
    turned = W[11]
    turned[:] = n
    held = reduce_nox(turned, T, p, volume, film, sites, -theta, kept, found, W)
    gained = reduce_nox(n, T, p, volume, film, sites, 0.0, kept, found, W)
    for j in range(NS):
        n[j] = 2 * n[j] - turned[j]
    return 2 * gained - held


@jit
def react(c, i, n, T, p, theta, o, film, kept, found, W):
    volume, gained = c.volume / c.cells * o * c.activity, 0.0
    if c.set == 0 or volume <= 0:
        return 0.0
    if c.set == 1:
        if c.sites > 0:
            gained = keep_fuel(c, n, T, theta, o, film[FUEL])
            oxidise(n, T, p, volume, film, 0.0, 0.0, kept[0], found[0], W)
        else:
            gained = oxidise(n, T, p, volume, film, c.storage * c.activity, theta, kept[0], found[0], W)
    else:
        gained = on_sites(n, T, p, volume, film, c.storage * c.activity, theta, kept[0], found[0], W)
    if i >= c.slip_from:
        oxidise(n, T, p, 0.3 * volume, film, 0.0, 0.0, kept[1], found[1], W)
    return gained


@jit
def mat(c, T, w, y, d):
    q = c.mat_conductance * c.can * (T - y[1])
    d[1] = (q - outside(y[1], c.can, c.diameter, c.emissivity, c.insulation, w)) / (c.can * c.can_heat)
    return q


@jit
def catalyst(c, i, w, n, m, y, rise, d, kept, found, W):
    """Returns the heat capacity and the rate of the crust on the face."""
    T, Tg, film = y[0], n[NS], W[10]
    o = 1 - c.blocked - (0.95 - c.blocked) * m / (abs(m) + 0.3 * c.face)
    H, grown = total(n, Tg), crust(c, n, T, m) if i == 0 else 0.0
    C, tf = heat_flow(mixture(n, Tg), Tg), 0.5 * (Tg + T)
    k, area = conductivity(tf), c.surface * c.volume / c.cells * o
    nu = 2.976 * (1 + 0.095 * c.dh**2 * C / (c.face * c.open * o * k * c.length))**0.45
    each = nu * (tf / T0)**1.75 * (101325.0 / w.p) / c.dh * area * w.p / (R * tf)
    for j in range(NGAS):
        film[j] = D0[j] * each
    Tg = past_slope(C, Tg, T, rise, nu * k / c.dh * area)
    n[NS] = Tg
    if n[UREA] > 0:
        tau = c.volume / c.cells * c.open * o * w.p / (moles(n) * R * Tg)
        split(n, 1 - math.exp(-40 * urea_rate(Tg) * tau))
    X = react(c, i, n, T, w.p, y[3], o, film, kept, found, W)
    q = film_water(n, w.p, T, film[H2O], area, y[2])
    d[2], d[3] = q * MASS[H2O], X / c.sites if c.sites > 0 else 0.0
    stores = int(c.stores)
    gain = (H - total(n, Tg) - q * water_liquid(T) - X * (species_h(stores, T) - c.E0 * (1 - c.alpha * y[3]))
            - grown / MASS[SOOT] * species_h(SOOT, T))
    capacity = (c.solid / c.cells * (c.cp_a + c.cp_b * T + c.cp_c / T**2) + y[2] / MASS[H2O] * 75.3
                + c.sites * y[3] * species_cp(stores, T) + (m / MASS[SOOT] * species_cp(SOOT, T) if i == 0 else 0.0))
    d[0] = (gain - mat(c, T, w, y, d)) / capacity
    return capacity, grown


@jit
def burn(c, T, carbon, n):
    N, RT = moles(n), R * T
    r = c.co_share / (1 - c.co_share) * math.exp(c.co_e / R * (1 / 873.15 - 1 / T))
    s, xo, xn = r / (1 + r), max(n[O2], 0.0) / N, max(n[NO2], 0.0) / N
    kn, kc = c.no2_a * math.exp(-c.no2_e / RT) * carbon, c.coop_a * math.exp(-c.coop_e / RT) * carbon
    ko, w = c.o2_a * math.exp(-c.o2_e / RT) * carbon, (xo + 1e-4) / 0.1
    kc *= xo / 0.1 * w**(c.coop_order - 1)
    ko *= xo / 0.1 * w**(c.o2_order - 1)
    fn = ratio((2 * kn + kc) / N)
    coop = kc * xn * fn
    fo = ratio(((1 - s / 2) * ko + coop / 2) / (N * xo)) if xo > 0 else 0.0
    a, both, o = kn * xn * fn, coop * fo, ko * fo
    n[NO2] -= 2 * a + both
    n[NO] += 2 * a + both
    n[O2] -= both / 2 + (1 - s / 2) * o
    n[CO] += s * o
    n[CO2] += a + both + (1 - s) * o
    return a + both + o


@jit
def through_wall(c, T, w, y, n, x, mixed, kept, found, W, d):
    """x passes cake and wall; what the gas n in the channel loses to the coated cake diffuses back."""
    room = max(1 - y[3] / c.deep, 0.0)**2 if c.deep > 0 else 0.0
    caught = x[SOOT] * (1 - (1 - c.clean_efficiency) * room)
    x[SOOT] -= caught
    part = c.volume / c.cells * c.coated
    if c.coated * c.back_diffusion > 0:
        oxidise(x, T, w.p, part * c.back_diffusion, None, 0.0, 0.0, kept[0], found[0], W)
    channel, touch = moles(n), 0.0
    if channel > 1e-12:
        D = D0[O2] * (T / T0)**1.75 * (101325.0 / w.p)
        touch = 1 - math.exp(-c.channel_diffusion * 2.976 * D / c.dh * c.surface * c.volume / c.cells * w.p / (R * T) / channel)
    mixed[:NS] = x[:NS]
    for j in range(NGAS):
        mixed[j] += touch * n[j]
    through = moles(x) / moles(mixed)
    on = burn(c, T, y[2] / MASS[SOOT], mixed)
    for j in range(NGAS):
        n[j] += (1 - through) * mixed[j] - touch * n[j]
        x[j] = through * mixed[j]
    if c.coated * (1 - c.back_diffusion) > 0:
        oxidise(x, T, w.p, part * (1 - c.back_diffusion), None, 0.0, 0.0, kept[1], found[1], W)
    within = burn(c, T, y[3] / MASS[SOOT], x)
    d[2], d[3] = (caught * (1 - room) - on) * MASS[SOOT], (caught * room - within) * MASS[SOOT]


@jit
def soot_filter(c, i, w, s, y, rise, d, kept, found, W):
    n, out, T, x, cells = s[0], s[1], y[0], W[11], int(c.cells)
    H = total(n, n[NS]) + (total(out, out[NS]) if i > 0 else 0.0)
    ua = 2.976 * conductivity(T) / c.dh * c.surface * c.volume / c.cells
    n[NS], x[NS] = past_slope(heat_flow(mixture(n, n[NS]), n[NS]), n[NS], T, rise, ua), T
    for j in range(NS):
        x[j] = n[j] / (cells - i)
        n[j] -= x[j]
    through_wall(c, T, w, y, n, x, W[12], kept, found, W, d)
    if i == 0:
        out[:] = x[:NS + 1]
    else:
        carried = total(out, out[NS]) + total(x, T)
        for j in range(NS):
            out[j] += x[j]
        Tg = warmed(out, out[NS], carried)
        out[NS] = past_slope(heat_flow(mixture(out, Tg), Tg), Tg, T, rise, ua)
    left = total(out, out[NS]) + (total(n, n[NS]) if i + 1 < cells else 0.0)
    if i + 1 == cells:
        n[:] = out
    capacity = ((c.solid + c.ash * c.volume) / c.cells * (c.cp_a + c.cp_b * T + c.cp_c / T**2)
                + (y[2] + y[3]) / MASS[SOOT] * species_cp(SOOT, T))
    gain = H - left - (d[2] + d[3]) / MASS[SOOT] * species_h(SOOT, T)
    d[0] = (gain - mat(c, T, w, y, d)) / capacity
    return capacity


@jit
def catalyst_drop(c, m, T, n, p):
    o = 1 - c.blocked - (0.95 - c.blocked) * max(m, 0.0) / (max(m, 0.0) + 0.3 * c.face)
    return 0.5 * 56.908 * viscosity(T) * (moles(n) * R * T / p) / (c.face * c.open * o) * c.length / c.dh**2


@jit
def filter_drop(c, cake, deep, T, n, p):
    Q, a = moles(n) * R * T / p, c.dh
    rho, N, ash = mass(n) / Q, c.volume / (2 * c.length * c.pitch**2), c.ash * c.volume
    plug = min(c.ash_plug * ash / (N * a * a * c.ash_density), 0.95 * c.length)
    L = c.length - plug
    layer = (1 - c.ash_plug) * ash / (N * L * c.ash_density)
    bare = max(a * a - layer, 0.01 * a * a)
    room = max(a * a - layer - cake / (N * L * c.soot_density), 0.01 * a * a)
    per, u, full = viscosity(T) * Q / (4 * N * L), Q / (4 * N * a * L), c.deep * c.cells
    wall = per * c.web / (c.wall_permeability * a) * (1 + c.deep_growth * (deep / full if full > 0 else 0.0))
    wall += c.inertia * rho * u * u * c.web
    layers = per * math.log(a * a / bare) / (4 * c.ash_permeability) + per * math.log(bare / room) / (4 * c.soot_permeability)
    friction = per * 4 * 28.454 * (L * L / 3 * (1 / room**2 + 1 / a**4) + L * plug / a**4)
    return wall + layers + friction + c.end_loss * rho / 4 * ((Q / (N * room))**2 + (Q / (N * a * a))**2)
