import os
import sys
from concurrent.futures import ProcessPoolExecutor

import numpy as np

HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, os.path.join(HERE, "..", "second_opinion"))

import truck  # noqa: E402

RTOL = 1e-6  # of SciPy; the program has 1e-8
# case, method, from and to [s]: dosing begins and what stands behind the doser lights off. All the way takes Python too long, and
# Radau, which wants an exact Jacobian, still longer.
JOBS = [("far", "LSODA", 0.0, 780.0), ("parked", "LSODA", 0.0, 360.0), ("parked", "Radau", 0.0, 215.0),
        ("far", "Radau", 655.0, 690.0)]
LIT = {"far": ("doc2", 673.15), "parked": ("doc", 773.15)}  # passes this temperature on the way
WATCHED = ("doc", "scr", "doc2", "dpf")


def compare(case, r, name, method, t, mean, soot):
    n = len(t)
    apart = {e: np.abs(mean[e] - r[e + ".mean_temperature"][:n]) for e in truck.SEEN}
    case.claim(f"{name}-{method}", max(a.max() for a in apart.values()))
    if method == "LSODA":
        element, value = LIT[name]
        case.claim(f"{name}-lit", r.reached("lit"), truck.crossing(t, mean[element], value))
        case.claim(f"{name}-soot", r["dpf.soot"][n - 1], soot[-1])
        p = case.plot(f"'{name}': the program (lines) and the second opinion (circles)", "time [min]", "mean of the solid [degC]")
        for e in WATCHED:
            p.line(t / 60, r[e + ".mean_temperature"][:n] - 273.15, e + ", program")
            p.marks(t[::6] / 60, mean[e][::6] - 273.15, e + ", SciPy LSODA", same=True)
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
