import numpy as np

from lib.log import scores

TRUE = ("line.cat.mat_conductance=100 W/(m2 K)", "line.filter.mat_conductance=100 W/(m2 K)")


def run(case):
    def replay(*sets):
        return case.program.replay(case.path("case.yaml"), case.path("log.csv"), sets)

    def score(r, name, threshold=None):
        return scores(r["time"], r[name + " measured"], r["time"], r[name + " computed"], threshold)

    r = replay()
    for name, threshold in (("behind_cat", 473.15), ("behind_filter", 423.15)):
        s = score(r, name, threshold)
        for key in ("rmse", "bias", "late"):
            case.claim(f"{name}-{key}", s[key])
    case.claim("true-rmse", score(replay(*TRUE), "behind_filter")["rmse"])
    t = np.arange(0.0, 500.0)
    ramp = 300.0 + t
    case.claim("score-late", scores(t, ramp, t + 10.0, ramp, 450.0)["late"])
    case.claim("score-bias", scores(t, ramp, t, ramp + 3.0)["bias"])
    p = case.plot("A synthetic log (circles) and what the program computes (lines)", "time [min]", "temperature [degC]")
    for name in ("behind_cat", "behind_filter"):
        p.line(r["time"] / 60, r[name + " computed"] - 273.15, name + ", computed")
        p.marks(r["time"][::15] / 60, r[name + " measured"][::15] - 273.15, name + ", log", same=True)
