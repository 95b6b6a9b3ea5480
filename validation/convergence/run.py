#!/usr/bin/env python3
"""How fast the demos converge in cells and in tolerance:

    /usr/bin/python3 validation/convergence/run.py build/emberpipe [DEMO ...]

Without names all demos, a minute each. Each row goes into outcome.md beside this file, in the place of the same demo's earlier
row. Not part of the tests."""
import glob
import json
import math
import os
import subprocess
import sys

import numpy as np

HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, os.path.join(HERE, ".."))
sys.dont_write_bytecode = True

from lib.claims import number  # noqa: E402
from lib.program import Program  # noqa: E402

CONFIGS = os.path.join(HERE, "..", "..", "configs")
CELLS, TOLERANCES, FINE = (5, 10, 20), (1e-4, 1e-5, 1e-6), 1e-7
BRICKS = ("brick", "filter")


def order(coarse, middle, fine):
    """Of the differences between three grids that halve."""
    a, b = distance(coarse, middle), distance(middle, fine)
    return math.log2(a / b) if a > 0 and b > 0 else math.nan


def distance(a, b):
    """Root mean square over time, worst of the bricks, K. The early stop of one run cuts both."""
    n = min(a.shape[1], b.shape[1])
    return float(np.sqrt(((a[:, :n] - b[:, :n])**2).mean(axis=1)).max())


class Demo:
    def __init__(self, program, path):
        self.program, self.path, self.name = program, path, os.path.basename(path)[:-5]
        first = program.run(path, timeout=200)
        self.bricks = [e["name"] for e in first.report["elements"] if e["kind"] in BRICKS]
        self.length = first.report["t_end"]["value"]

    def means(self, cells, rtol):
        sets = [f"line.{b}.cells={cells}" for b in self.bricks]
        sets += [f"solver.rtol={rtol:g}", f"solver.temperature_atol={1e3 * rtol:g} K", f"output.interval={self.length / 400:.9g} s"]
        r = self.program.run(self.path, sets, timeout=200)
        return np.array([r[b + ".mean_temperature"] for b in self.bricks])


def row(demo):
    grids = [demo.means(n, 1e-6) for n in CELLS]
    p = order(grids[-3], grids[-2], grids[-1])
    cells = [distance(g, grids[-1]) for g in grids[:-1]]
    tight = demo.means(10, FINE)
    loose = [distance(demo.means(10, t), tight) for t in TOLERANCES]
    slope = math.log10(loose[0] / loose[-1]) / math.log10(TOLERANCES[0] / TOLERANCES[-1]) if min(loose) > 0 else math.nan
    return [demo.name] + [number(c, 2) for c in cells] + [number(p, 2)] + [number(c, 2) for c in loose] + [number(slope, 2)]


HEAD = ["# Convergence of the demos", "",
        "Written by `run.py`. Root mean square over the run of the difference of the mean solid temperature, worst brick, in K. Cells: every",
        "brick with 5 and 10 cells against 20 (rtol 1e-6); the order is that between the three grids. Tolerance: rtol 1e-4, 1e-5, 1e-6",
        "(absolute 1000 times as many K) against 1e-7 with 10 cells; the order is the slope. A control that switches at a sample, or a front",
        "that ignites, makes the order fall: one sample more or less is a jump.", "",
        "| demo | 5 cells | 10 | order | rtol 1e-4 | 1e-5 | 1e-6 | order |", "|---|---|---|---|---|---|---|---|"]


def record(row):
    path, rows = os.path.join(HERE, "outcome.md"), []
    if os.path.exists(path):
        with open(path, encoding="utf-8") as f:
            rows = [line.rstrip() for line in f if line.startswith("| ")][1:]
    rows = sorted([r for r in rows if r.split("|")[1] != row.split("|")[1]] + [row])
    with open(path, "w", encoding="utf-8") as f:
        f.write("\n".join(HEAD + rows) + "\n")


def main():
    program = Program(sys.argv[1] if len(sys.argv) > 1 else "build/emberpipe", "none")
    every = sorted(os.path.basename(p)[:-5] for p in glob.glob(os.path.join(CONFIGS, "*.yaml")))
    for name in sys.argv[2:] or every:
        try:
            line = "| " + " | ".join(row(Demo(program, os.path.join(CONFIGS, name + ".yaml")))) + " |"
        except (RuntimeError, subprocess.TimeoutExpired, json.JSONDecodeError) as e:
            line = f"| {name} | could not be run: {type(e).__name__} | | | | | | |"
        record(line)
        print(line, flush=True)


if __name__ == "__main__":
    main()
