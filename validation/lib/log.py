"""Scores of computed against measured series."""
import numpy as np


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
