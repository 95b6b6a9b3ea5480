import numpy as np


def run(case):
    degC = np.arange(150, 651, 25)
    equilibrium = np.array(case.probe(*[f"no2_share {t + 273.15} 0.10" for t in degC]))
    share = np.array([case.run("case.yaml", f"start_temperature={t} degC", f"stream.temperature={t} degC")
                      .end("cat.no2_share") for t in degC])
    large = case.run("case.yaml", "start_temperature=450 degC", "stream.temperature=450 degC", "line.cat.length=1 m")
    case.claim("run-350", large.end("cat.no2_share"))
    case.claim("peak-at", degC[share.argmax()])
    case.claim("peak", share.max())
    case.claim("never", (share - equilibrium).max())
    p = case.plot("NO2 in NOx behind an oxidation catalyst", "temperature [degC]", "NO2 / NOx [-]")
    p.line(degC, equilibrium, "equilibrium, program", True).line(degC, share, "behind the catalyst, 40,000 1/h")
    table = [(200, .989), (250, .957), (300, .873), (350, .720), (400, .528), (450, .353), (500, .226), (550, .144),
             (600, .094), (650, .063)]  # NASA TM-4513, 10 % O2
    p.marks(*zip(*table), "equilibrium, from NASA TM-4513")
