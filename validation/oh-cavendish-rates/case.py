import math

from lib import handbook as hb

VOLUME = math.pi / 4 * 8.7404**2 * 10.0  # cm3
FEEDS = {"case 1": {"O2": 0.05, "CO": 0.02, "C3H6": 450e-6, "NO": 500e-6},
         "diesel": {"O2": 0.10, "CO": 500e-6, "C3H6": 100e-6, "NO": 300e-6}}


def rate(case, feed, T, species):
    """mol/(cm2 Pt s). The activity is lowered until conversion is small."""
    moles = 0.040 / hb.mix_mass(feed)
    activity = 1.0
    for _ in range(12):
        sets = [f"stream.{k.lower()}={v}" for k, v in feed.items()]
        r = case.run("case.yaml", f"start_temperature={T} K", f"stream.temperature={T} K", *sets,
                     f"line.cat.activity={activity:.6g}")
        converted = r["cat.conversion_co" if species == "CO" else "cat.conversion_hc"][0]
        if max(r["cat.conversion_co"][0], r["cat.conversion_hc"][0]) < 1e-3:  # CO gone would no longer inhibit
            break
        activity *= 0.02
    return converted * moles * feed[species] / (VOLUME * 3 * 268.95 * activity)


def run(case):
    for c in case.claims:
        name, species, T = c.id.split("-") if not c.id.startswith("no-") else ("no", "", c.id[3:])
        if name != "no":
            case.claim(c.id, rate(case, FEEDS[name], int(T), species))
        else:
            without = dict(FEEDS["diesel"], NO=0.0)
            case.claim(c.id, rate(case, without, int(T), "CO") / rate(case, FEEDS["diesel"], int(T), "CO"))
    points = [c for c in case.claims if c.id.startswith(("case 1", "diesel"))]
    p = case.plot("Rates on platinum", "temperature [K]", "rate [mol/(cm2 s)]", log_y=True)
    for name in ("case 1-CO", "case 1-C3H6", "diesel-CO"):
        mine = [c for c in points if c.id.startswith(name + "-")]
        p.line([int(c.id.split("-")[2]) for c in mine], [c.here for c in mine], "program, " + name.replace("-", ", "))
        p.marks([int(c.id.split("-")[2]) for c in mine], [c.reference for c in mine], "Oh & Cavendish 1982, " + name.replace("-", ", "))
