#!/usr/bin/env python3
"""Makes the synthetic log of this case: /usr/bin/python3 validation/recorded-log/make_log.py build/emberpipe

The "vehicle" is the second opinion's model (Python) with parts that differ from the case and sensors with noise: the log is
NOT a measurement on a vehicle."""
import os
import sys

import numpy as np

HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, os.path.join(HERE, "..", "second_opinion"))
sys.dont_write_bytecode = True

from configuration import Defaults  # noqa: E402
from gas import stream  # noqa: E402
from line import Line, integrate  # noqa: E402

X = {"O2": 0.10, "CO2": 0.07, "H2O": 0.07}
KNOTS = [(0, 60, 120), (60, 60, 130), (70, 180, 260), (240, 200, 320), (250, 80, 240), (330, 75, 200), (345, 240, 300),
         (600, 260, 380), (615, 60, 260), (720, 60, 170), (740, 200, 280), (1000, 220, 360), (1200, 220, 360)]  # s, g/s, degC


def main():
    d = Defaults(sys.argv[1] if len(sys.argv) > 1 else "build/emberpipe")
    e = lambda name, kind, **c: (name, kind, d.block("line[]." + kind, **c))  # noqa: E731
    line = Line([e("downpipe", "pipe", length="1.1 m", cells="3"),
                 e("cat", "oxidation_catalyst", kinetics="none", cells="6", diameter="10 in", length="5 in", storage="0 mol/m3",
                   mat_conductance="100 W/(m2 K)"),
                 e("behind_cat", "sensor"),
                 e("filter", "filter", cells="6", diameter="10 in", length="11 in", burning=d.block("line[].filter.burning"),
                   mat_conductance="100 W/(m2 K)"),
                 e("behind_filter", "sensor")])
    k = np.array(KNOTS, float)
    flow, temperature = (lambda t: np.interp(t, k[:, 0], k[:, 1]) * 1e-3), (lambda t: np.interp(t, k[:, 0], k[:, 2]) + 273.15)
    world = {"T": 288.15, "p": 101325.0, "air": 4.0, "dose": 0.0}
    y, t = line.start(288.15), np.arange(0.0, 1201.0, 2.0)
    out = []
    for a, b in zip(k[:-1, 0], k[1:, 0]):
        now = [x for x in t if a <= x < b or x == b == 1200]
        values, solver = integrate("LSODA", lambda s, y: line.march(stream(flow(s), temperature(s), X), world, y), a, b, y, 1e-6,
                                   np.full(line.size, 1e-6), now)
        out.append(values)
        y = solver.y
    y, noise = np.hstack(out), np.random.default_rng(4)
    columns = {"time [s]": t, "flow [kg/h]": flow(t) * 3600, "temperature [degF]": (temperature(t) - 273.15) * 1.8 + 32}
    for name in ("behind_cat", "behind_filter"):
        T = line.temperatures(name, y)[0] + noise.normal(0.0, 1.5, len(t))
        columns[name + " [degF]"] = (T - 273.15) * 1.8 + 32
    with open(os.path.join(HERE, "log.csv"), "w", encoding="utf-8") as f:
        f.write(",".join(columns) + "\n")
        for i in range(len(t)):
            f.write(",".join(f"{v[i]:.1f}" if j else f"{v[i]:g}" for j, v in enumerate(columns.values())) + "\n")


main()
