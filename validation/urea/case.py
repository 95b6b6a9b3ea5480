import math

from lib import handbook as hb

X = {"O2": .10, "CO2": .07, "H2O": .07}


def broken(case, degC, seconds):
    """Share of the urea that is gone behind a pipe with this residence time, from the NH3 found."""
    T = degC + 273.15
    moles = 0.1 / hb.mix_mass(X)
    length = seconds * moles * hb.R * T / 101325 / (math.pi / 4 * 0.2**2)
    r = case.run("case.yaml", f"start_temperature={degC} degC", f"stream.temperature={degC} degC",
                 f"line.pipe.length={length:.9g} m", "line.scr.activity=0")
    return r["pipe_nh3"][0] if "pipe_nh3" in r.series else r["tailpipe.nh3"][0] * moles / (
        r["dosing.def"][0] * 0.325 / 60.056e-3)


def run(case):
    case.claim("k330", broken(case, 330, 0.09))
    case.claim("k400", broken(case, 400, 0.09))
    case.claim("yim", broken(case, 350, 0.10))
    big = ["line.scr.storage=2 mol/m3", "start_temperature=280 degC", "stream.temperature=280 degC", "stream.no=200 ppm", "line.def.max_rate=10 g/s", "line.scr.length=0.6 m", "line.scr.diameter=0.3 m",
           "line.scr.cells=10", "line.scr.kinetics=copper_zeolite", "duty.phases.0.for=3 h", "line.pipe.length=0.01 m",
           "line.scr.mat_conductance=0 W/(m2 K)"]
    # NH3 beyond what the NO uses up, with three times the DEF
    r = case.run("case.yaml", *big, "line.def.ratio=3")
    moles = 0.1 / hb.mix_mass(X)
    nox = (r.end("exhaust.nox") - r.end("tailpipe.nox")) / 46.0055e-3
    made = r.end("tailpipe.nh3") * moles + nox
    case.claim("nh3", made / (r.end("dosing.def") * 0.325 / 60.056e-3))
    hot = ["start_temperature=300 degC", "stream.temperature=300 degC", "stream.no=400 ppm", "line.def.max_rate=10 g/s",
           "line.pipe.length=0.01 m", "line.pipe.diameter=1 m", "line.scr.mat_conductance=0 W/(m2 K)"]
    dosed = case.run("case.yaml", *hot)
    per = dosed["dosing.def"][0] * 1e3 / 0.1
    case.note(f"DEF dosed: {per:.3g} g per kg of exhaust.")
    drop = dosed["exhaust.temperature"][0] - dosed["def.gas_temperature"][0]
    # behind the doser the water is steam and the urea is still molten: its breakdown follows later, at 185.5 kJ/mol
    cp = hb.mix_cp(X, 573.15)
    case.claim("cool", drop / per + 1e-3 * 0.325 / 60.056e-3 * 185.5e3 / cp)
    case.claim("cool-h", drop / per + 1e-3 * 0.325 / 60.056e-3 * (185.5e3 - 95.9e3) / cp)
