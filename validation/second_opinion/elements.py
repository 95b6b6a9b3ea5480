"""Section 4 of model.md. A cell turns the gas that enters into the gas that leaves and gives the rates of its states.

cell(i, world, shared, y, stream, d) changes stream in place and fills d; it returns (heat capacity, rates of shared states).
A stream is [gas, gas in the outlet channels of a filter or None]."""
import math



import reactions
from gas import FUEL, H2O, SOOT, UREA, Gas, conductivity, diffusivity, fuel_liquid, species_cp, species_h, viscosity, water_liquid
from tables import INDEX, MASS, NGAS, R
from transfer import exchange, outside, pipe_ua, radiation, smooth, split, urea_in_gas, urea_rate, water

NH3, HNCO, O2, CO, CO2, NO, NO2 = (INDEX[n] for n in ("NH3", "HNCO", "O2", "CO", "CO2", "NO", "NO2"))
PI = math.pi


class Pipe:
    shared, states = 0, 3

    def __init__(self, c):
        self.c, self.cells = c, int(c["cells"])
        dx, od = c["length"] / self.cells, c["diameter"] + 2 * c["wall"]
        self.bare = c["cover"] == "bare"
        self.od = od + (0 if self.bare else 2 * c["cover_thickness"])
        self.area, self.out = PI * c["diameter"] * dx, PI * self.od * dx
        self.heat = PI * (c["diameter"] + c["wall"]) * c["wall"] * dx * c["density"] * c["heat_capacity"]
        self.axial = 25.0 * PI * c["diameter"] * c["wall"] / dx
        self.volume = PI / 4 * c["diameter"]**2 * dx

    def start(self, T):
        return [T, T, 0.0] * self.cells

    def to_cover(self, a, b):
        c = self.c
        if c["cover"] == "wrapped":
            r = c["diameter"] / 2 + c["wall"]
            return self.area * (a - b) * c["cover_conductivity"] / (r * math.log(1 + c["cover_thickness"] / r))
        eff = 1.0 / (2.0 / c["emissivity"] - 1.0)
        return self.area * (a - b) * (conductivity(0.5 * (a + b)) / c["cover_thickness"] + radiation(eff, a, b))

    def cell(self, i, world, shared, y, rise, stream, d):
        c, g, Tw = self.c, stream[0], y[0]
        H = g.H()
        urea_in_gas(g, self.volume * world["p"] / (g.moles() * R * g.T))
        ua = pipe_ua(g, Tw, c["diameter"], self.area, c["enhancement"])
        K = ua * g.moles() / g.C()
        exchange(g, Tw, ua, rise)
        q = water(g, world["p"], Tw, K, self.area, y[2])
        gain = H - g.H() - q * water_liquid(Tw)
        capacity = self.heat + y[2] / MASS[H2O] * 75.3
        d[2] = q * MASS[H2O]
        if self.bare:
            d[0] = (gain - outside(Tw, self.out, self.od, c["emissivity"], 0.0, world)) / capacity
            d[1] = 0.0
        else:
            across = self.to_cover(Tw, y[1])
            d[0] = (gain - across) / capacity
            d[1] = (across - outside(y[1], self.out, self.od, c["emissivity"], 0.0, world)) / (self.out * c["cover_heat"])
        return capacity, ()


class Turbine:
    shared, states, cells, axial = 0, 1, 1, 0.0

    def __init__(self, c):
        self.c = c

    def start(self, T):
        return [T]

    def cell(self, i, world, shared, y, rise, stream, d):
        c, g = self.c, stream[0]
        H, m = g.H(), g.mass()
        r = m / c["reference_flow"]
        exchange(g, y[0], c["film"] * c["inner_area"] * r**0.8)
        Q = H - g.H()
        g.set_H(g.H() - m * c["enthalpy_drop"] * r * r / (1 + r * r))
        capacity = c["mass"] * c["heat_capacity"]
        d[0] = (Q - outside(y[0], c["outer_area"], math.sqrt(c["outer_area"] / PI), c["emissivity"], 0.0, world)) / capacity
        return capacity, ()


class FuelDoser:
    shared, states, cells, axial = 0, 2, 1, 0.0

    def __init__(self, c):
        self.c = c

    def start(self, T):
        return [T, 0.0]

    def cell(self, i, world, shared, y, rise, stream, d):
        c, g = self.c, stream[0]
        f = world["dose"] * c["delivery"]
        air = f * (1 - c["wall_share"]) * smooth((g.T - 423.15) / 100.0)
        wall, cold = f - air, fuel_liquid(c["fuel_temperature"])
        H = g.H() + air * cold
        g.n[FUEL] += air / MASS[FUEL]
        g.set_H(H)
        H = g.H()
        exchange(g, y[0], pipe_ua(g, y[0], 0.1, c["wall_area"], 1.5))
        rate = y[1] * 2.0 * math.exp(min(-51e3 / R * (1 / y[0] - 1 / 520.0), 2.0))
        g.n[FUEL] += rate / MASS[FUEL]
        d[1] = wall - rate
        capacity = c["wall_mass"] * 460.0 + y[1] * 2000.0
        d[0] = (H - g.H() + wall * cold - d[1] * fuel_liquid(y[0])) / capacity
        return capacity, ()


class DefDoser:
    shared, states, cells, axial = 0, 4, 1, 0.0

    def __init__(self, c):
        self.c = c

    def start(self, T):
        return [T, 0.0, 0.0, 0.0]

    def film(self, y):
        """NH3 and HNCO given off, rates of urea, biuret, cyanuric acid; mol/s."""
        there = self.film_above(y[0], *(max(m, 0.0) for m in y[1:4]))
        if min(y[1:4]) >= 0.0:
            return there
        return [2 * v - m for v, m in zip(there, self.film_above(y[0], *(abs(m) for m in y[1:4])))]

    def film_above(self, T, u, b, a):
        RT = R * T
        slow = lambda A, E: 1 / (math.exp(E / RT) / A + 1 / 10.0)  # noqa: E731
        ku, kb, ka = u * slow(8.5e6, 84e3), b * slow(1.107e20, 208.23e3), a * slow(1.5e19, 260e3)
        mass = u * MASS[UREA] + b * (2 * MASS[UREA] - MASS[NH3]) + a * 3 * MASS[HNCO]
        depth = mass / (1320.0 * self.c["wall_area"])
        caught = (ku + kb) * depth / (depth + self.c["deposit_depth"])
        q = b / (3.517e11 / 9.397e20 * math.exp(83.23e3 / RT) + 1 / 100.0)
        grow = caught * q / (u + q + 1e-5)
        return ku + grow, ku + kb - caught + 3 * ka, kb - ku - (caught - grow), caught - 2 * grow - kb, grow - ka

    def cell(self, i, world, shared, y, rise, stream, d):
        c, g = self.c, stream[0]
        want = c["ratio"] * (g.n[NO] + g.n[NO2]) / 2 * MASS[UREA] / c["strength"]
        want /= (1 + (want / c["max_rate"])**8)**0.125
        dose = c["delivery"] * want * smooth((g.T - c["enable_temperature"]) / 5.0)
        wet, urea = dose * (1 - c["strength"]) / MASS[H2O], dose * c["strength"] / MASS[UREA]
        wall, cold = urea * c["wall_share"], species_h(UREA, c["fluid_temperature"])
        H = g.H() + wet * water_liquid(c["fluid_temperature"]) + (urea - wall) * cold
        g.n[H2O] += wet
        g.n[UREA] += urea - wall
        g.set_H(H)
        H = g.H()
        exchange(g, y[0], pipe_ua(g, y[0], 0.1, c["wall_area"], 1.5))
        nh3, hnco, *own = self.film(y)
        g.n[NH3] += nh3
        g.n[HNCO] += hnco
        d[1], d[2], d[3] = wall + own[0], own[1], own[2]
        capacity = c["wall_mass"] * 460.0 + y[1] * species_cp(UREA, y[0]) + y[2] * 131.0 + y[3] * 132.0
        kept = (d[1] * species_h(UREA, y[0]) + d[2] * (-563.7e3 + 131.0 * (y[0] - 298.15))
                + d[3] * (-703.5e3 + 132.0 * (y[0] - 298.15)))
        d[0] = (H - g.H() + wall * cold - kept) / capacity
        return capacity, ()


class Sensor:
    shared, states, cells, axial = 0, 1, 1, 0.0

    def __init__(self, c):
        self.c = c

    def start(self, T):
        return [T]

    def cell(self, i, world, shared, y, rise, stream, d):
        g, dia = stream[0], self.c["diameter"]
        re = g.mass() / (PI / 4 * 0.1**2) * dia / viscosity(g.T)
        nu = 0.3 + 0.62 * math.sqrt(re) * 0.7**(1 / 3) / (1 + (0.4 / 0.7)**(2 / 3))**0.25 * (1 + (re / 282000.0)**0.625)**0.8
        d[0] = 4 * nu * conductivity(g.T) / dia * (g.T - y[0]) / (3.9e6 * dia)
        return 1.0, ()


class Comb:
    def __init__(self, c, halves):
        pitch = 1 / math.sqrt(c["cell_density"])
        self.c, self.cells, self.pitch = c, int(c["cells"]), pitch
        self.dh = pitch - c["web"]
        self.open = (self.dh / pitch)**2
        self.face = PI / 4 * c["diameter"]**2
        self.volume = self.face * c["length"]
        self.solid = c["solid_density"] * (1 - self.open) * self.volume
        self.surface = halves * 4 * self.dh / pitch**2
        self.axial = c["conductivity"] * (1 - self.open) * self.face / (c["length"] / self.cells)
        self.can = PI * c["diameter"] * c["length"] / self.cells
        self.surfaces = [(reactions.Surface(), reactions.Surface()) for _ in range(self.cells)]

    def cp(self, T):
        return self.c["cp_a"] + self.c["cp_b"] * T + self.c["cp_c"] / T**2

    def mat(self, T, Tc, world, d):
        """Heat from the solid into the can; fills the can's rate."""
        q = self.c["mat_conductance"] * self.can * (T - Tc)
        lost = outside(Tc, self.can, self.c["diameter"], self.c["emissivity"], self.c["insulation"], world)
        d[1] = (q - lost) / (self.can * self.c["can_heat"])
        return q


class Catalyst(Comb):
    shared, states = 1, 4

    def __init__(self, c):
        super().__init__(c, 1.0)
        self.set = {"none": None, "oxidation": reactions.OXIDATION, "copper_zeolite": reactions.COPPER}[c["kinetics"]]
        self.stores = NH3 if self.set is not None and self.set.E0 > 0 else FUEL
        self.E0, self.alpha = (self.set.E0, self.set.alpha) if self.stores == NH3 else (80e3 / 12, 0.0)
        self.sites = 0.0 if self.set is None else c["storage"] * self.volume / self.cells * max(c["activity"], 1e-6)
        self.slip_from = math.ceil(self.cells * (1 - c["slip_zone"]) - 1e-9)

    def start(self, T):
        return [0.0] + [T, T, 0.0, self.c["stored"]] * self.cells

    def crust(self, T, m, g):
        wet = g.n[FUEL] / (g.n[FUEL] + g.n[SOOT]) if g.n[SOOT] > 0 else 0.0
        stick = self.c["crust_rate"] * wet * smooth((573.15 - T) / 100) * g.n[SOOT]
        burn, most = 2.15e8 * math.exp(-168e3 / (R * T)) * m / MASS[SOOT], 0.5 * g.n[O2] + 1e-12
        burn *= most / (abs(burn) + most)
        g.n[SOOT] -= stick
        g.n[O2] -= burn
        g.n[CO2] += burn
        return (stick - burn) * MASS[SOOT]

    def keep(self, T, theta, o, film, g):
        N, out = g.moles(), 0.1 * math.exp(-80e3 / R * (1 / T - 1 / 473.15))
        n_s = self.sites * o / (1 + out / 2.0)
        ka, kd = 100.0 * n_s * max(1 - theta, 0.0), out * n_s * theta
        b = film / (film + ka)
        z = b * ka / N
        kept = b * (ka * g.n[FUEL] / N - kd) * (-math.expm1(-z) / z if z > 1e-8 else 1 - z / 2)
        g.n[FUEL] -= kept
        return kept

    def react(self, i, T, p, theta, o, film, g):
        volume, gained = self.volume / self.cells * o * self.c["activity"], 0.0
        first, second = self.surfaces[i]
        if self.set is None or volume <= 0:
            return 0.0
        if self.stores == FUEL and self.sites > 0:
            gained = self.keep(T, theta, o, film[FUEL], g)
            self.set.react(g.n, T, p, volume, film, surface=first)
        else:
            gained = self.set.on_sites(g.n, T, p, volume, film, self.c["storage"] * self.c["activity"], theta, first)
        if i >= self.slip_from:
            reactions.OXIDATION.react(g.n, T, p, 0.3 * volume, film, surface=second)
        return gained

    def cell(self, i, world, shared, y, rise, stream, d):
        c, g, T, p, n = self.c, stream[0], y[0], world["p"], self.cells
        m = shared[0]
        o = 1 - c["blocked"] - (0.95 - c["blocked"]) * m / (abs(m) + 0.3 * self.face)
        H, crust = g.H(), 0.0
        if i == 0:
            crust = self.crust(T, shared[0], g)
        tf = 0.5 * (g.T + T)
        k, area = conductivity(tf), self.surface * self.volume / n * o
        nu = 2.976 * (1 + 0.095 * self.dh**2 * g.C() / (self.face * self.open * o * k * c["length"]))**0.45
        film = (nu * diffusivity(tf, p) / self.dh * area * p / (R * tf)).tolist()
        exchange(g, T, nu * k / self.dh * area, rise)
        if g.n[UREA] > 0:
            tau = self.volume / n * self.open * o * p / (g.moles() * R * g.T)
            split(g, 1 - math.exp(-40 * urea_rate(g.T) * tau))
        X = self.react(i, T, p, y[3], o, film, g)
        q = water(g, p, T, film[H2O], area, y[2])
        d[2] = q * MASS[H2O]
        d[3] = X / self.sites if self.sites > 0 else 0.0
        gain = (H - g.H() - q * water_liquid(T) - X * (species_h(self.stores, T) - self.E0 * (1 - self.alpha * y[3]))
                - crust / MASS[SOOT] * species_h(SOOT, T))
        capacity = (self.solid / n * self.cp(T) + y[2] / MASS[H2O] * 75.3
                    + self.sites * y[3] * species_cp(self.stores, T)
                    + (shared[0] / MASS[SOOT] * species_cp(SOOT, T) if i == 0 else 0.0))
        d[0] = (gain - self.mat(T, y[1], world, d)) / capacity
        return capacity, (crust,)


class Filter(Comb):
    shared, states = 0, 4

    def __init__(self, c):
        super().__init__(c, 0.5)
        self.deep = c["deep_capacity"] * self.volume / self.cells
        self.b = c["burning"]

    def start(self, T):
        m = self.c["soot"] * self.volume / self.cells
        deep = self.deep * m / (m + self.deep) if m > 0 else 0.0
        return [T, T, m - deep, deep] * self.cells

    def ua(self, T):
        return 2.976 * conductivity(T) / self.dh * self.surface * self.volume / self.cells

    def coat(self, T, p, share, n, surface):
        if self.c["coated"] * share > 0:
            reactions.OXIDATION.react(n, T, p, self.volume / self.cells * self.c["coated"] * share, surface=surface)

    def burn(self, T, carbon, n):
        b, N = self.b, float(n[:NGAS].sum())
        rate = lambda a, e: a * math.exp(-e / (R * T))  # noqa: E731
        r = b["co_share"] / (1 - b["co_share"]) * math.exp(b["co_e"] / R * (1 / 873.15 - 1 / T))
        s, xo, xn = r / (1 + r), max(n[O2], 0.0) / N, max(n[NO2], 0.0) / N
        w = lambda order: xo / 0.1 * ((xo + 1e-4) / 0.1)**(order - 1)  # noqa: E731
        phi = lambda z: -math.expm1(-z) / z if z > 1e-8 else 1 - z / 2  # noqa: E731
        kn, kc = rate(b["no2_a"], b["no2_e"]) * carbon, rate(b["coop_a"], b["coop_e"]) * carbon * w(b["coop_order"])
        ko = rate(b["o2_a"], b["o2_e"]) * carbon * w(b["o2_order"])
        fn = phi((2 * kn + kc) / N)
        coop = kc * xn * fn
        fo = phi(((1 - s / 2) * ko + coop / 2) / (N * xo)) if xo > 0 else 0.0
        a, c, o = kn * xn * fn, coop * fo, ko * fo
        n[NO2] -= 2 * a + c
        n[NO] += 2 * a + c
        n[O2] -= c / 2 + (1 - s / 2) * o
        n[CO] += s * o
        n[CO2] += a + c + (1 - s) * o
        return a + c + o

    def cell(self, i, world, shared, y, rise, stream, d):
        c, g, T, p, n = self.c, stream[0], y[0], world["p"], self.cells
        H = g.H() + (stream[1].H() if i > 0 else 0.0)
        exchange(g, T, self.ua(T), rise)
        x = Gas(T, g.n / (n - i))
        g.n = g.n - x.n
        room = max(1 - y[3] / self.deep, 0.0)**2 if self.deep > 0 else 0.0
        caught = x.n[SOOT] * (1 - (1 - c["clean_efficiency"]) * room)
        x.n[SOOT] -= caught
        into, onto = caught * room, caught * (1 - room)
        self.coat(T, p, c["back_diffusion"], x.n, self.surfaces[i][0])
        channel = g.moles()
        touch = 0.0
        if channel > 1e-12:
            touch = 1 - math.exp(-c["channel_diffusion"] * 2.976 * diffusivity(T, p)[O2] / self.dh * self.surface
                                 * self.volume / n * p / (R * T) / channel)
        mixed = x.n.copy()
        mixed[:NGAS] += touch * g.n[:NGAS]
        before = float(mixed[:NGAS].sum())
        through = float(x.n[:NGAS].sum()) / before
        on = self.burn(T, y[2] / MASS[SOOT], mixed)
        g.n[:NGAS] += (1 - through) * mixed[:NGAS] - touch * g.n[:NGAS]
        x.n[:NGAS] = through * mixed[:NGAS]
        self.coat(T, p, 1 - c["back_diffusion"], x.n, self.surfaces[i][1])
        within = self.burn(T, y[3] / MASS[SOOT], x.n)
        if i == 0:
            stream[1] = x
        else:
            total = stream[1].H() + x.H()
            stream[1].n = stream[1].n + x.n
            stream[1].set_H(total)
            exchange(stream[1], T, self.ua(T), rise)
        left = stream[1].H()
        if i + 1 < n:
            left += g.H()
        else:
            stream[0], stream[1] = stream[1], None
        d[2], d[3] = (onto - on) * MASS[SOOT], (into - within) * MASS[SOOT]
        capacity = (self.solid + c["ash"] * self.volume) / n * self.cp(T) + (y[2] + y[3]) / MASS[SOOT] * species_cp(SOOT, T)
        gain = H - left - (d[2] + d[3]) / MASS[SOOT] * species_h(SOOT, T)
        d[0] = (gain - self.mat(T, y[1], world, d)) / capacity
        return capacity, ()


KINDS = {"pipe": Pipe, "turbine": Turbine, "fuel_doser": FuelDoser, "def_doser": DefDoser, "sensor": Sensor,
         "oxidation_catalyst": Catalyst, "reduction_catalyst": Catalyst, "filter": Filter}

