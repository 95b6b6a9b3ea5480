"""Figures and formulas from outside the program, written here from their sources. No number is taken from its code."""
import numpy as np

R = 8.314462618       # J/(mol K), CODATA 2018
SIGMA = 5.670374e-8   # W/(m2 K4), CODATA 2018
MASS = {"N2": 28.0134e-3, "O2": 31.9988e-3, "CO2": 44.0095e-3, "H2O": 18.0153e-3, "CO": 28.0101e-3,
        "CH4": 16.0425e-3, "C3H6": 42.0797e-3, "NO": 30.0061e-3, "NO2": 46.0055e-3, "H2": 2.01588e-3,
        "NH3": 17.0305e-3}  # kg/mol

# Shomate equation of the NIST Chemistry WebBook (Chase 1998): cp = A + B t + C t^2 + D t^3 + E/t^2 in J/(mol K), t = T/1000;
# H(T) - H(298.15) = A t + B t^2/2 + C t^3/3 + D t^4/4 - E/t + F - H in kJ/mol
SHOMATE = {
    "N2": [(500, (28.98641, 1.853978, -9.647459, 16.63537, 0.000117, -8.671914, 0.0)),
           (2000, (19.50583, 19.88705, -8.598535, 1.369784, 0.527601, -4.935202, 0.0))],
    "O2": [(700, (31.32234, -20.23531, 57.86644, -36.50624, -0.007374, -8.903471, 0.0)),
           (2000, (30.03235, 8.772972, -3.988133, 0.788313, -0.741599, -11.32468, 0.0))],
    "CO2": [(1200, (24.99735, 55.18696, -33.69137, 7.948387, -0.136638, -403.6075, -393.5224))],
    "H2O": [(1700, (30.09200, 6.832514, 6.793435, -2.534480, 0.082139, -250.8810, -241.8264))],
    "CO": [(1300, (25.56759, 6.096130, 4.054656, -2.671301, 0.131021, -118.0089, -110.5271))],
    "NH3": [(1400, (19.99563, 49.77119, -15.37599, 1.921168, 0.189174, -53.30667, -45.89806))],  # from memory
}


def shomate(species, T):
    for top, c in SHOMATE[species]:
        if T <= top:
            return c
    raise ValueError(f"{species} at {T} K")


def cp_mol(species, T):
    a, b, c, d, e = shomate(species, T)[:5]
    t = T / 1000.0
    return a + b * t + c * t**2 + d * t**3 + e / t**2


def h_mol(species, T):
    """With the enthalpy of formation, J/mol."""
    a, b, c, d, e, f, _ = shomate(species, T)
    t = T / 1000.0
    return 1e3 * (a * t + b * t**2 / 2 + c * t**3 / 3 + d * t**4 / 4 - e / t + f)


def mix(x):
    """Mole fractions with nitrogen as the rest."""
    full = dict(x)
    full["N2"] = 1.0 - sum(x.values())
    return full


def mix_mass(x):
    return sum(v * MASS[k] for k, v in mix(x).items())


def mix_cp(x, T):
    """J/(kg K) of a mixture of species that have Shomate coefficients."""
    m = mix(x)
    return sum(v * cp_mol(k, T) for k, v in m.items()) / sum(v * MASS[k] for k, v in m.items())


def viscosity(T):
    """Sutherland, air: White, Viscous Fluid Flow."""
    return 1.716e-5 * (T / 273.15)**1.5 * (273.15 + 110.4) / (T + 110.4)


# Incropera, Fundamentals of Heat and Mass Transfer, Table A.4, air (from memory): T K, k W/(m K)
_AIR_K = np.array([[300, .0263], [400, .0338], [500, .0407], [600, .0469], [700, .0524], [800, .0573], [900, .0620],
                   [1000, .0667], [1100, .0715], [1200, .0763]])


def conductivity(T):
    """Air, interpolated in the handbook table; straight on below 300 K."""
    if T < 300.0:
        return _AIR_K[0, 1] - (300.0 - T) * (_AIR_K[1, 1] - _AIR_K[0, 1]) / 100.0
    return float(np.interp(T, _AIR_K[:, 0], _AIR_K[:, 1]))


def gnielinski(re, pr):
    """Gnielinski 1976 with Petukhov's friction factor of a smooth pipe."""
    f = (0.790 * np.log(re) - 1.64)**-2
    return f / 8 * (re - 1000) * pr / (1 + 12.7 * np.sqrt(f / 8) * (pr**(2 / 3) - 1))


def churchill_bernstein(re, pr):
    return 0.3 + 0.62 * re**0.5 * pr**(1 / 3) / (1 + (0.4 / pr)**(2 / 3))**0.25 * (1 + (re / 282000)**0.625)**0.8


def churchill_chu(ra, pr):
    return (0.60 + 0.387 * ra**(1 / 6) / (1 + (0.559 / pr)**(9 / 16))**(8 / 27))**2


def h_outside(ts, ta, d, v, p=101325.0):
    """Free and forced convection on a horizontal cylinder, fourth powers added (Churchill 1977)."""
    tf = 0.5 * (ts + ta)
    nu = viscosity(tf) * R * tf / (p * 28.96e-3)
    ra = 9.80665 / tf * abs(ts - ta) * d**3 / nu**2 * 0.70
    free, forced = churchill_chu(ra, 0.70), churchill_bernstein(v * d / nu, 0.70) if v > 0 else 0.0
    return (free**4 + forced**4)**0.25 * conductivity(tf) / d


def h_radiation(eps, ts, ta):
    return eps * SIGMA * (ts + ta) * (ts**2 + ta**2)
