import glob
import math
import os
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from lib.claims import number

CELLS = (6, 12, 24)                     # of every brick and filter, at the default tolerance
TOLERANCES, FINE = (1e-4, 1e-5, 1e-6), 1e-8  # of 6 cells; the absolute one is 1000 times as many K
BRICKS = ("brick", "filter")


def distance(a, b):
    """Root mean square over time, worst of the bricks, K. The early stop of one run cuts both."""
    n = min(a.shape[1], b.shape[1])
    return float(np.sqrt(((a[:, :n] - b[:, :n])**2).mean(axis=1)).max())


class Demo:
    """Mean solid temperatures of a demo, run with other grids and tolerances."""

    def __init__(self, case, path):
        self.case, self.path, self.name = case, path, os.path.basename(path)[:-5]
        first = self.case.program.run(path)
        self.bricks = [e["name"] for e in first.report["elements"] if e["kind"] in BRICKS]
        self.length = first.report["t_end"]["value"]

    def means(self, cells, rtol):
        sets = [f"line.{b}.cells={cells}" for b in self.bricks]
        sets += [f"solver.rtol={rtol:g}", f"solver.temperature_atol={1e3 * rtol:g} K",
                 f"output.interval={self.length / 400:.9g} s"]
        r = self.case.program.run(self.path, sets)
        return np.array([r[b + ".mean_temperature"] for b in self.bricks])

    def measure(self):
        grids = [self.means(n, 1e-6) for n in CELLS]
        self.cells = [distance(a, b) for a, b in zip(grids, grids[1:])]
        self.order = math.log2(self.cells[0] / self.cells[1])
        tight = self.means(CELLS[0], FINE)
        self.loose = [distance(self.means(CELLS[0], t), tight) for t in TOLERANCES[:-1]] + [distance(grids[0], tight)]
        self.slope = math.log10(self.loose[0] / self.loose[-1]) / math.log10(TOLERANCES[0] / TOLERANCES[-1])
        return self


def run(case):
    paths = sorted(glob.glob(case.path("../../configs/*.yaml")))
    with ThreadPoolExecutor(max_workers=2) as pool:  # the work is done by the program's processes
        demos = list(pool.map(lambda path: Demo(case, path).measure(), paths))
    case.note("", "| demo | cells 6 to 12 [K] | 12 to 24 [K] | order in cells | rtol 1e-4 [K] | 1e-5 [K] | 1e-6 [K] | order in rtol |",
              "|---|---|---|---|---|---|---|---|")
    for d in demos:
        columns = [*d.cells, d.order, *d.loose, d.slope]
        case.note(f"| {d.name} | " + " | ".join(number(c, 2) for c in columns) + " |")
        case.claim(f"order-{d.name}", d.order)
        case.claim(f"default-{d.name}", d.loose[-1])
    p = case.plot("Error against tolerance, every demo", "relative tolerance", "error of the mean temperatures [K]", log_x=True, log_y=True)
    for d in demos:
        p.line(TOLERANCES, d.loose, d.name)
