import math

from lib import handbook as hb

D, L, PITCH, WEB = 0.1, 0.02, 0.0254 / 20, 0.2e-3
COAT, PORES, PORE, CH4 = 60e-6, 0.1, 20e-9, 16.043e-3  # washcoat: m, -, m; kg/mol


def washcoat(T, bulk, area):
    """mol/s that the pores let through per mole fraction: Sh = 3, molecular and Knudsen diffusion in series."""
    knudsen = PORE / 3 * math.sqrt(8 * hb.R * T / (math.pi * CH4))
    return 3 * PORES / (1 / bulk + 1 / knudsen) / COAT * area * 101325 / (hb.R * T)


def exact(case, T):
    x = {"O2": 0.10, "CO2": 0.05, "H2O": 0.05}
    N = 0.040 / hb.mix_mass(x)
    face, a = math.pi / 4 * D**2, PITCH - WEB
    conductivity, diffusivity = case.probe(f"conductivity {T}", f"diffusivity CH4 {T} 101325")
    mcp = 0.040 * case.probe(f"mix_cp {T} O2=0.1 CO2=0.05 H2O=0.05")[0]
    z = a**2 * mcp / (face * (a / PITCH)**2 * conductivity * L)
    sh = 2.976 * (1 + 0.095 * z)**0.45
    area = 4 * a / PITCH**2 * face * L
    film = sh * diffusivity / a * area * 101325 / (hb.R * T)
    pores = washcoat(T, diffusivity, area)
    k = 7.326e6 * math.exp(-19000 / T) * 0.10 / T * 3 * 268.95 * 1e6  # mol/(m3 s) per mole fraction
    kinetic = k * face * L
    return 1 - math.exp(-1 / (N / kinetic + N / film)), 1 - math.exp(-kinetic / N), 1 - math.exp(-film / N), \
        1 - math.exp(-1 / (N / kinetic + N / film + N / pores)), 1 - math.exp(-1 / (N / film + N / pores))


def conversion(case, T, cells, more=""):
    sets = [f"start_temperature={T} K", f"stream.temperature={T} K", f"line.cat.cells={cells}", more]
    r = case.run("case.yaml", *[s for s in sets if s])
    return 1 - r["tailpipe.hc"][0] / 5e-6


COATED = f"line.cat.washcoat.thickness={COAT * 1e6} um"


def run(case):
    for T in (900, 1000, 1100, 1200, 1290):
        case.claim(f"x-{T}", conversion(case, T, 10), exact(case, T)[0])
    case.claim("cells", conversion(case, 1100, 40) - conversion(case, 1100, 1))
    for T in (1000, 1290):
        case.claim(f"coat-{T}", conversion(case, T, 10, COATED), exact(case, T)[3])
    instant = case.run("instant.yaml", COATED)
    case.claim("coat-fast", 1 - instant["tailpipe.hc"][0] / 5e-6, exact(case, 600)[4])
    T = list(range(850, 1291, 20))
    e = [exact(case, t) for t in T]
    p = case.plot("Conversion of traces of methane", "temperature [K]", "conversion [-]")
    p.line(T, [v[0] for v in e], "rate and film in series").line(T, [v[1] for v in e], "rate alone", True)
    p.line(T, [v[2] for v in e], "film alone", True)
    p.marks(T[::2], [conversion(case, t, 10) for t in T[::2]], "program")
    p.line(T, [v[3] for v in e], "with a washcoat of 60 um")
    p.marks(T[::4], [conversion(case, t, 10, COATED) for t in T[::4]], "program, washcoat")
