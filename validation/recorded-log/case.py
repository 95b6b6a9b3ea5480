import numpy as np

from lib.log import read_log, scores


def run(case):
    log = read_log(case.path("log.csv"))
    r = case.run()
    for name, threshold in (("behind_cat", 473.15), ("behind_filter", 423.15)):
        s = scores(log["time"], log[name], r.t, r[name + ".reading"], threshold)
        for key in ("rmse", "bias", "late"):
            case.claim(f"{name}-{key}", s[key])
    fitted = case.run("case.yaml", "line.cat.mat_conductance=100 W/(m2 K)", "line.filter.mat_conductance=100 W/(m2 K)")
    s = scores(log["time"], log["behind_filter"], fitted.t, fitted["behind_filter.reading"])
    case.claim("true-rmse", s["rmse"])
    t = np.arange(0.0, 500.0)
    ramp = 300.0 + t
    shifted = scores(t, ramp, t + 10.0, ramp, 450.0)
    case.claim("score-late", shifted["late"])
    case.claim("score-bias", scores(t, ramp, t, ramp + 3.0)["bias"])
    p = case.plot("Replay of a synthetic log", "time [min]", "temperature [degC]")
    for name in ("behind_cat", "behind_filter"):
        p.line(r.t / 60, r[name + ".reading"] - 273.15, name + ", computed")
        p.marks(log["time"][::15] / 60, log[name][::15] - 273.15, name + ", log")
