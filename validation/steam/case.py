from scipy.optimize import brentq


def run(case):
    vapour, liquid, v60, l60 = case.probe("h H2O 298.15", "water_h 298.15", "h H2O 333.15", "water_h 333.15")
    case.claim("hvap-25", vapour - liquid)
    case.claim("hvap-60", v60 - l60)
    case.claim("dew", brentq(lambda T: case.probe(f"psat {T}")[0] - 0.07 * 101325, 290, 340, xtol=1e-3) - 273.15)
