"""Runs the program and the probe, and reads what they say."""
import csv
import json
import os
import subprocess

import numpy as np


class Run:
    """One finished run: series as arrays in SI, and the rest of the JSON report as it is."""

    def __init__(self, report):
        self.report = report
        self.series = {s["name"]: np.array([np.nan if v is None else v for v in s["values"]])
                       for s in report["series"]}
        self.t = self.series["time"]

    def __getitem__(self, name):
        return self.series[name]

    def at(self, name, t):
        return float(np.interp(t, self.t, self.series[name]))

    def end(self, name):
        return float(self.series[name][-1])

    def total(self, name):
        for t in self.report["totals"]:
            if t["name"] == name:
                return t["total"]["value"]
        raise KeyError(name)

    def reached(self, target):
        for v in self.report["verdicts"]:
            if v["name"] == target:
                return np.nan if v["t_reached"]["value"] is None else v["t_reached"]["value"]
        raise KeyError(target)

    def crossing(self, name, value):
        """First time at which the series passes the value, by linear interpolation."""
        y = self.series[name] - value
        i = np.flatnonzero(np.signbit(y[1:]) != np.signbit(y[:-1]))
        if len(i) == 0:
            return float("nan")
        i = i[0]
        return float(self.t[i] + (self.t[i + 1] - self.t[i]) * y[i] / (y[i] - y[i + 1]))


class Program:
    def __init__(self, program, probe):
        self.program, self.probe_path = os.path.abspath(program), os.path.abspath(probe)
        self.runs = 0

    def run(self, case, sets=(), timeout=300):
        command = [self.program, "run", case, "--format", "json", "--quiet"]
        for s in sets:
            command += ["--set", s]
        self.runs += 1
        done = subprocess.run(command, capture_output=True, text=True, timeout=timeout)
        if done.returncode != 0:
            raise RuntimeError(f"{' '.join(command[1:])}: exit {done.returncode}: {done.stderr.strip()[:400]}")
        return Run(json.loads(done.stdout))

    def replay(self, case, log, sets=()):
        """{column: array} of what `emberpipe replay` says: time, and each sensor measured and computed, SI."""
        command = [self.program, "replay", case, log, "--format", "csv", "--quiet"]
        for s in sets:
            command += ["--set", s]
        self.runs += 1
        done = subprocess.run(command, capture_output=True, text=True, timeout=300)
        if done.returncode != 0:
            raise RuntimeError(f"{' '.join(command[1:])}: exit {done.returncode}: {done.stderr.strip()[:400]}")
        rows = list(csv.reader(done.stdout.splitlines()))
        return {head.rpartition(" [")[0]: np.array([float(v) if v else np.nan for v in column])
                for head, column in zip(rows[0], zip(*rows[1:]))}

    def probe(self, calls):
        """One number per call, in order."""
        done = subprocess.run([self.probe_path], input="\n".join(calls) + "\n", capture_output=True, text=True,
                              timeout=120)
        if done.returncode != 0:
            raise RuntimeError("probe: " + done.stderr.strip()[:400])
        values = [float(x) for x in done.stdout.split()]
        if len(values) != len(calls):
            raise RuntimeError(f"probe: {len(calls)} calls, {len(values)} answers")
        return values
