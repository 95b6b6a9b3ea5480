from scipy.optimize import brentq

from lib import handbook as hb


def rise(case, ppm, *sets):
    r = case.run("case.yaml", *sets)
    return (r.end("cat.gas_temperature") - r.end("exhaust.temperature")) * 1000.0 / ppm, r


def run(case):
    case.claim("co", rise(case, 1000, "stream.co=1000 ppm")[0])
    case.claim("c3h6", rise(case, 500, "stream.c3h6=500 ppm")[0])
    fuel, r = rise(case, 1000, "stream.fuel=1000 ppm")
    case.claim("fuel", fuel)
    hot = ("start_temperature=500 degC", "stream.temperature=500 degC")
    case.claim("fuel-500", rise(case, 1000, "stream.fuel=1000 ppm", *hot)[0])
    _, r2 = rise(case, 1000, "stream.co=2 %")
    x = {"O2": .135, "CO2": .05, "H2O": .05, "CO": .02}
    before = sum(v * hb.h_mol(k, 573.15) for k, v in hb.mix(x).items())
    after = hb.mix(x)
    after.update(O2=.125, CO2=.07, CO=0.0)
    T = brentq(lambda t: sum(v * hb.h_mol(k, t) for k, v in after.items() if v) - before, 600, 1200)
    case.claim("co-exact", r2.end("cat.gas_temperature") - 273.15, T - 273.15)
    case.claim("burnt", r2.end("tailpipe.co") / .02)
    case.claim("gain-oc", rise(case, 1000, "start_temperature=600 K", "stream.temperature=600 K", "stream.co=2 %",
                               "stream.c3h6=450 ppm", "stream.h2=0.667 %", "stream.o2=5 %", "stream.co2=0", "stream.h2o=0",
                               "stream.no=500 ppm")[0])
    p = case.plot("1000 ppm of fuel carbon from 300 degC", "time [min]", "gas leaving [degC]")
    p.line(r.t / 60, r["cat.gas_temperature"] - 273.15, "program")
    p.line([0, 60], [300 + 18.9] * 2, "heat of combustion over heat capacity", True)
