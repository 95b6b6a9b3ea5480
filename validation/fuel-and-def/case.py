from lib import handbook as hb


def run(case):
    M = dict(zip(("FUEL", "UREA", "NH3", "NO", "NO2", "H2O", "SOOT"),
                 case.probe(*[f"mass {s}" for s in ("FUEL", "UREA", "NH3", "NO", "NO2", "H2O", "SOOT")])))
    h_c = 1.718  # hydrogen per carbon of 40 CFR 1036.550's fuel, as in 13.742 g per mol C
    o2 = 1 + h_c / 4
    lhv = case.probe("fuel_lhv")[0]
    carbon = case.probe("mass SOOT")[0] / M["FUEL"]
    fuel, oxygen, co2, water = case.probe("fuel_h 298.15", "h O2 298.15", "h CO2 298.15", "h H2O 298.15")
    case.claim("lhv-balance", fuel + (o2 * oxygen - co2 - h_c / 2 * water) / M["FUEL"])
    case.claim("carbon", carbon)
    case.claim("afr", o2 * (31.998 + 0.7905 / 0.2095 * 28.16) * 1e-3 / M["FUEL"])  # nitrogen of air with its argon: 28.16
    case.claim("worked", 630.0 * 42.528e6 / (lhv / carbon * 0.870))
    urea = 0.5 * M["UREA"] / 0.325
    case.claim("def-nox", urea / M["NO2"])
    case.claim("def-no", urea / M["NO"])
    case.claim("def-nh3", 2 * M["NH3"] * 0.325 / M["UREA"])
    case.claim("c-no2", 2 * M["NO2"] / M["SOOT"])
    r = case.run()
    case.claim("def-run", r.end("dosing.def") / r.end("exhaust.nox"))
    liquid, solid = case.probe("water_h 298.15", "h UREA 298.15")
    steam, nh3, gas_co2 = case.probe("h H2O 573.15", "h NH3 573.15", "h CO2 573.15")
    w, u = 0.675 / M["H2O"], 0.325 / M["UREA"]
    sink = (w - u) * steam + u * (2 * nh3 + gas_co2) - w * liquid - u * solid
    case.claim("def-water", w * (steam - liquid))
    case.claim("def-thermolysis", u * case.probe("reaction_h 298.15 UREA=-1 NH3=1 HNCO=1")[0])
    case.claim("def-hydrolysis", -u * case.probe("reaction_h 298.15 HNCO=-1 H2O=-1 NH3=1 CO2=1")[0])
    water = 0.675 / hb.MASS["H2O"]
    urea = 0.325 / 60.056e-3
    liquid = hb.h_mol("H2O", 500.0) - 44.0e3 - 6925.0  # steam from 298.15 to 500 K takes 6.925 kJ/mol (steam tables)
    case.claim("def-sink", sink, (water - urea) * hb.h_mol("H2O", 573.15) + urea *
               (2 * hb.h_mol("NH3", 573.15) + hb.h_mol("CO2", 573.15)) - water * liquid - urea * -333.1e3)
