from lib import handbook as hb


def run(case):
    T = list(range(300, 1201, 25))
    p = case.plot("Specific heat", "temperature [K]", "cp [J/(kg K)]")
    p.line(T, case.probe(*[f"mix_cp {t} O2=0.2095" for t in T]), "air, program")
    p.line(T, case.probe(*[f"mix_cp {t} O2=0.085 CO2=0.085 H2O=0.075" for t in T]), "exhaust at load, program")
    air = [c for c in case.claims if c.id.startswith("cp-") and c.id[3:].isdigit()]
    p.marks([int(c.id[3:]) for c in air], [c.reference for c in air], "air, Incropera Table A.4")
    x = {"O2": 0.085, "CO2": 0.085, "H2O": 0.075}
    steam = [t for t in T if 500 <= t <= 1200]  # the Shomate set of steam begins at 500 K
    p.marks(steam[::2], [hb.mix_cp(x, t) for t in steam[::2]], "exhaust, NIST WebBook")
