import os
import sys
from concurrent.futures import ProcessPoolExecutor

import numpy as np

HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, os.path.join(HERE, "..", "second_opinion"))

import truck  # noqa: E402

RTOL = 1e-6  # of SciPy; the program has 1e-8
# case, method, from and to [s]; Radau only where dosing begins and the first brick behind it ignites, else it takes too long
JOBS = [("far", "LSODA", 0.0, 960.0), ("parked", "LSODA", 0.0, 960.0), ("far", "Radau", 645.0, 720.0),
        ("parked", "Radau", 0.0, 220.0)]
WATCHED = ("doc", "scr", "doc2", "dpf")


def compare(case, r, name, method, t, mean, soot):
    n = len(t)
    apart = {e: np.abs(mean[e] - r[e + ".mean_temperature"][:n]) for e in truck.SEEN}
    case.claim(f"{name}-{method}", max(a.max() for a in apart.values()))
    if method == "LSODA":
        case.claim(f"{name}-500", r.reached("dpf 500"), truck.crossing(t, mean["dpf"], 773.15))
        case.claim(f"{name}-soot", r.end("dpf.soot"), soot[-1])
        p = case.plot(f"'{name}': the program (lines) and the second opinion (circles)", "time [min]", "mean of the solid [degC]")
        for e in WATCHED:
            p.line(r.t / 60, r[e + ".mean_temperature"] - 273.15, e + ", program")
            p.marks(t[::12] / 60, mean[e][::12] - 273.15, e + ", SciPy LSODA")
        p = case.plot(f"'{name}': how far they are apart", "time [min]", "difference of the means [K]", log_y=True)
        for e in WATCHED:
            p.line(t / 60, np.maximum(apart[e], 1e-6), e)


def run(case):
    jobs = [(case.program.program, *job, RTOL) for job in JOBS]
    with ProcessPoolExecutor(max_workers=2) as pool:
        answers = pool.map(truck.opinion, jobs)
        runs = {name: case.run(name + ".yaml") for name in ("far", "parked")}
        for (name, method, *_), answer in zip(JOBS, answers):
            compare(case, runs[name], name, method, *answer)
