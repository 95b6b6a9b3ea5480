import numpy as np

DEGC = np.arange(100, 321, 10)


def curves(case, *sets):
    """Conversion of CO and hydrocarbons over temperature."""
    runs = [case.run("case.yaml", f"start_temperature={t} degC", f"stream.temperature={t} degC", *sets) for t in DEGC]
    return [np.array([r["cat.conversion_" + k][0] for r in runs]) for k in ("co", "hc")]


def half(y):
    i = np.argmax(y > 0.5)
    return float(DEGC[i - 1] + (DEGC[i] - DEGC[i - 1]) * (0.5 - y[i - 1]) / (y[i] - y[i - 1]))


def run(case):
    co, hc = curves(case)
    _, fuel = curves(case, "stream.fuel=6000 ppm")
    case.claim("co", half(co))
    case.claim("hc", half(hc))
    case.claim("fuel", half(fuel))
    case.claim("max-hot", np.interp(300, DEGC, fuel))
    case.claim("inhibit", half(curves(case, "stream.co=1000 ppm")[0]) - half(curves(case, "stream.co=200 ppm")[0]))
    case.claim("no", half(curves(case, "stream.no=500 ppm")[1]) - half(curves(case, "stream.no=0")[1]))
    case.claim("aged", half(curves(case, "line.cat.activity=0.25")[0]) - half(co))
    p = case.plot("Light-off, 40,000 1/h", "temperature [degC]", "conversion [-]")
    p.line(DEGC, co, "CO").line(DEGC, hc, "propene").line(DEGC, fuel, "propene and 6000 ppm fuel carbon")
    p.line([130, 180], [0.5, 0.5], "published band, CO").line([150, 220], [0.48, 0.48], "published band, propene")
    p.line([200, 260], [0.46, 0.46], "band of practice, fuel vapour")
