"""Recorded logs: a CSV whose headers name their units, and scores of computed against measured series."""
import csv

import numpy as np

TO_SI = {"s": (1, 0), "min": (60, 0), "ms": (1e-3, 0), "K": (1, 0), "degC": (1, 273.15), "degF": (5 / 9, 459.67 * 5 / 9),
         "kg/s": (1, 0), "g/s": (1e-3, 0), "kg/h": (1 / 3600, 0), "lb/min": (0.45359237 / 60, 0), "-": (1, 0), "%": (.01, 0),
         "ppm": (1e-6, 0), "kPa": (1e3, 0), "Pa": (1, 0), "g/L": (1, 0)}


def read_log(path):
    """{name: array in SI}. A header is `name [unit]`; an empty cell is a gap (NaN)."""
    with open(path, encoding="utf-8-sig", newline="") as f:
        rows = list(csv.reader(line for line in f if not line.startswith("#")))
    out = {}
    for j, head in enumerate(rows[0]):
        name, _, unit = head.strip().rstrip("]").partition("[")
        if unit.strip() not in TO_SI:
            raise ValueError(f"{path}: column '{head.strip()}' needs a unit in brackets, one of {', '.join(TO_SI)}")
        slope, origin = TO_SI[unit.strip()]
        out[name.strip()] = np.array([float(r[j]) * slope + origin if j < len(r) and r[j].strip() else np.nan for r in rows[1:]])
    return out


def scores(t_measured, measured, t, computed, threshold=None):
    """rmse, bias (computed less measured), largest, and the error of the time at which a threshold is first passed for good."""
    ok = np.isfinite(measured)
    e = np.interp(t_measured[ok], t, computed) - measured[ok]
    s = {"rmse": float(np.sqrt((e * e).mean())), "bias": float(e.mean()), "largest": float(np.abs(e).max())}
    if threshold is not None:
        s["late"] = passes(t, computed, threshold) - passes(t_measured[ok], measured[ok], threshold)
    return s


def passes(t, y, threshold, window=10.0):
    """Noise crosses a threshold many times: the series is smoothed over a window of seconds first."""
    n = max(int(round(window / np.median(np.diff(t)))), 1)
    smooth = np.convolve(y, np.ones(n) / n, mode="valid")
    centre = np.convolve(t, np.ones(n) / n, mode="valid")
    i = int(np.argmax(smooth > threshold))
    if smooth[i] <= threshold or i == 0:
        return float("nan")
    return float(np.interp(threshold, smooth[i - 1:i + 1], centre[i - 1:i + 1]))
