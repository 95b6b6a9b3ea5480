#!/usr/bin/env python3
"""How far the number of cells moves the answers: tests/bench/converge.py [PROGRAM [CASE.yaml ...]].

Runs each case with half, once and twice the default cells of every pipe and brick; cells that a case sets itself are not
seen. Prints, for each target that is reached, the time, its change from default to double, and the observed order of the
error (from three runs: log2 of the ratio of the two changes). For a target that is never reached the best value is
compared. Not a test: it takes minutes."""
import json
import math
import subprocess
import sys

PROGRAM = sys.argv[1] if len(sys.argv) > 1 else "build/emberpipe"
NAMES = ("parked-regeneration dosing-far-downstream weak-heat front-blocked cold-soak idle-all-day stop-and-go highway "
         "quickstart")
KEYS = {"pipe": "pipe", "brick": "oxidation_catalyst", "filter": "filter"}  # reduction catalysts have the same default
CASES = sys.argv[2:] or [f"configs/{name}.yaml" for name in NAMES.split()]


def call(*args):
    return subprocess.run([PROGRAM, *args], capture_output=True, text=True, check=True).stdout


def default_cells(kind):
    for line in call("explain", f"line.{kind}.cells").splitlines():
        if line.split()[:1] == ["default"]:
            return int(line.split()[1])
    raise SystemExit(f"no default cells of '{kind}'")


def run(case, cells, factor):
    sets = [a for name, n in cells.items() for a in ("--set", f"line.{name}.cells={max(1, round(n * factor))}")]
    verdicts = json.loads(call("run", case, "--format", "json", *sets))["verdicts"]
    return [(v["name"], v["reached"], (v["t_reached"] if v["reached"] else v["best"])["value"]) for v in verdicts]


def main():
    kinds = {}
    print(f"{'case':<22} {'target':<26} {'half':>9} {'default':>9} {'double':>9} {'change':>8}  order")
    for case in CASES:
        parts = json.loads(call("run", case, "--format", "json"))["elements"]
        cells = {}
        for e in parts:
            kind = e["kind"]
            if kind in KEYS:
                kinds[kind] = kinds.get(kind) or default_cells(KEYS[kind])
                cells[e["name"]] = kinds[kind]
        rows = zip(*(run(case, cells, f) for f in (0.5, 1, 2)))
        for (name, r0, a), (_, r1, b), (_, r2, c) in rows:
            order = math.log2(abs((a - b) / (b - c))) if a != b and b != c else math.nan
            what = f"{100 * (c - b) / b:+7.2f} %" if b else "      -"
            kind = "" if r0 == r1 == r2 == True else " (best value)" if not (r0 or r1 or r2) else " (reached or not)"  # noqa: E712
            print(f"{case.split('/')[-1][:-5]:<22} {name:<26} {a:9.4g} {b:9.4g} {c:9.4g} {what}  {order:5.2f}{kind}",
                  flush=True)


main()
