#!/usr/bin/env python3
"""How fast, against what, and how far from the limit.

    /usr/bin/python3 tests/bench/run.py BUILD_DIR [--only PART,...] [--json FILE]   a table, and all numbers as JSON
    python3 tests/bench/run.py BUILD_DIR --counters        golden work counters only: exit code 1 if a demo needs more work
    python3 tests/bench/run.py BUILD_DIR --write-golden    keep today's counters as golden ones

Times are processor time of one process, so that other work on the machine disturbs little; still, only ratios within one run
count. Parts: demos, overhead, dense, scipy, numba, precision, cells, time, limit, day. Some minutes in all; scipy needs
NumPy and SciPy, numba python3-numba too."""
import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.dirname(os.path.dirname(HERE))
GOLDEN = os.path.join(HERE, "golden.json")
DEMOS = ("parked-regeneration dosing-far-downstream weak-heat front-blocked cold-soak highway stop-and-go idle-all-day "
         "quickstart light-off").split()
COUNTED = ("parked-regeneration", "dosing-far-downstream", "cold-soak", "front-blocked", "quickstart")
TOLERANCE = {"steps": 0.15, "rhs": 0.15, "jac": 0.30}  # judgement: other compilers round differently, regressions are larger
PARKED, PHASE = "parked-regeneration", "duty.phases.parked regeneration.for"
BRICKS = ("doc", "scr", "doc2", "dpf")


def demo(name):
    return os.path.join(ROOT, "configs", name + ".yaml")


def children():
    """Processor time of all finished children [s]."""
    r = resource.getrusage(resource.RUSAGE_CHILDREN)
    return r.ru_utime + r.ru_stime


class Bench:
    def __init__(self, build):
        self.program, self.bench = os.path.join(build, "emberpipe"), os.path.join(build, "emb_bench")

    def run(self, case, *options, timeout=300, **sets):
        """None if it takes longer than `timeout`."""
        command = [self.bench, *options]
        for key, value in sets.get("sets", {}).items():
            command += ["--set", f"{key}={value}"]
        try:
            done = subprocess.run(command + [case], capture_output=True, text=True, timeout=timeout)
        except subprocess.TimeoutExpired:
            return None
        if done.returncode != 0:
            raise SystemExit(f"{case}: {done.stderr.strip()}")
        return json.loads(done.stdout)

    def series(self, case, sets, timeout=300):
        command = [self.program, "run", case, "--format", "json", "--quiet"]
        for key, value in sets.items():
            command += ["--set", f"{key}={value}"]
        before = children()
        try:
            done = subprocess.run(command, capture_output=True, text=True, timeout=timeout)
        except subprocess.TimeoutExpired:
            return None, timeout
        if done.returncode != 0:
            raise SystemExit(f"{case}: {done.stderr.strip()}")
        seconds = children() - before
        columns = {s["name"]: s["values"] for s in json.loads(done.stdout)["series"]
                   if s["name"] == "time" or s["name"].endswith(("_temperature", ".reading"))}
        return columns, seconds


def say(*cells):
    print("| " + " | ".join(str(c) for c in cells) + " |", flush=True)


def head(text, *columns):
    print(f"\n{text}\n")
    say(*columns)
    say(*["---"] * len(columns))


def demos(b):
    head("Demo cases", "case", "steps", "RHS", "Jacobians", "processor s", "us per RHS", "simulated s per s")
    out = {}
    for name in DEMOS:
        r = b.run(demo(name))
        if r is None:
            say(name, "not done in 5 min", *[""] * 5)
            continue
        each = 1e6 * r["inside"]["rhs"]["s"] / r["inside"]["rhs"]["calls"]
        out[name] = dict(r, us_per_rhs=each, speed=r["simulated_s"] / r["run_s"])
        say(name, r["steps"], r["rhs"], r["jac"], f"{r['run_s']:.2f}", f"{each:.0f}", f"{out[name]['speed']:.0f}")
    return out


def best(command, times=10):
    """Least time by the clock and of the processor from exec to exit [ms]: what else the machine does only adds."""
    walls, busy = [], []
    for _ in range(times):
        begin, before = time.monotonic(), children()
        subprocess.run(command, stdout=subprocess.DEVNULL, check=True)
        walls.append(1e3 * (time.monotonic() - begin))
        busy.append(1e3 * (children() - before))
    return min(walls), min(busy)


def overhead(b):
    """What a whole run costs besides the solver."""
    head("From exec to exit: smallest demo, light-off, best of 10", "what", "ms by the clock", "ms of processor")
    case, out = demo("light-off"), {}
    for name, command in (("a program that does nothing", ["true"]), ("--version", [b.program, "--version"]),
                          ("check", [b.program, "check", case]), ("run", [b.program, "run", case, "--quiet"]),
                          ("an hour of quickstart", [b.program, "run", demo("quickstart"), "--quiet"])):
        wall, busy = out[name] = best(command)
        say(name, f"{wall:.1f}", f"{busy:.1f}")
    runs, busy = [], []
    for _ in range(10):  # by turns, so that both see the same machine
        runs.append(b.run(case, "--bare"))
        busy.append(best([b.program, "run", case, "--quiet"], 1)[1])
    load, run = (1e3 * min(r[k] for r in runs) for k in ("load_s", "run_s"))
    rest = min(busy) - run
    say("the solver inside run", "", f"{run:.1f}")
    say("overhead: run less the solver", "", f"{rest:.1f}")
    print(f"\nOf the overhead {out['a program that does nothing'][1]:.1f} ms are what starting any program takes, "
          f"{load:.1f} ms reading the case.")
    return dict(out, solver_ms=run, load_ms=load, overhead_ms=rest)


def dense(b):
    head("Against CVODE's dense difference Jacobian: parked regeneration hour, 20 cells a brick, best of 2 (ours 8) by turns",
         "solver", "states", "steps", "RHS for rates", "Jacobians", "processor s", "times slower")
    sets = {f"line.{n}.cells": 20 for n in BRICKS}
    ways = {"chain (ours)": (), "dense, same Newton tolerance": ("--dense",), "dense, CVODE's Newton tolerance": ("--dense", "--loose")}
    runs, out = {name: [] for name in ways}, {}
    for _ in range(2):
        for name, options in ways.items():
            for _ in range(1 if options else 4):  # the short ones are easier disturbed
                runs[name].append(b.run(demo(PARKED), "--bare", *options, sets=sets))
    for name, all_runs in runs.items():
        if None in all_runs:
            say(name, "not done in 5 min", *[""] * 5)
            continue
        r = out[name] = min(all_runs, key=lambda r: r["run_s"])
        r["ratio"] = r["run_s"] / out["chain (ours)"]["run_s"]
        say(name, f"{r['states']:.0f}", r["steps"], r["rhs"], r["jac"], f"{r['run_s']:.2f}", f"{r['ratio']:.1f}")
    return out


def find_second_opinion():
    sys.path[:0] = [os.path.join(ROOT, "validation", d) for d in ("second_opinion", "")]
    sys.dont_write_bytecode = True


def scipy(b):
    try:
        import numpy as np
        find_second_opinion()
        import truck as opinion
    except ImportError as e:
        print(f"\nSciPy left out: {e}. Debian's /usr/bin/python3 with python3-scipy has it.")
        return {}
    head("Against SciPy: second opinion's case (coarse grid), 3 min of idle, 1 min of regeneration, both at rtol 1e-6",
         "solver", "processor s", "times slower", "furthest from the program at rtol 1e-9")
    case, times = os.path.join(ROOT, "validation", "second-opinion-regenerations", "parked.yaml"), [5.0 * k for k in range(49)]
    short = {"duty.phases.parked regeneration.for": "1 min"}
    exact = b.series(case, {**short, "solver.rtol": 1e-9, "solver.temperature_atol": "1e-7 K"})[0]
    mine = {**short, "solver.rtol": 1e-6, "solver.temperature_atol": "1e-4 K"}
    ours, worst = b.run(case, "--bare", sets=mine)["run_s"], difference(b.series(case, mine)[0], exact)
    say("emberpipe", f"{ours:.3f}", "1", f"{worst:.1e} K")
    out = {"emberpipe": {"s": ours, "error_K": worst}}
    for method in ("BDF", "LSODA"):
        truck = opinion.Truck(b.program, False)
        begin = time.process_time()
        y = truck.run(method, times, times[-1])
        spent = time.process_time() - begin
        worst = max(float(np.abs(truck.line.temperatures(n, y).mean(axis=0) - exact[n + ".mean_temperature"]).max())
                    for n in opinion.SEEN)
        out[method] = {"s": spent, "ratio": spent / ours, "error_K": worst}
        say(f"SciPy {method}", f"{spent:.1f}", f"{spent / ours:.0f}", f"{worst:.1e} K")
    print("\nSciPy's difference holds that of two programs (air properties, tables), not its integration error alone; LSODA is\n"
          "handed a Jacobian made cell by cell, BDF is not. The right-hand side was written\n"
          "to be read, cell by cell with NumPy; a user's may be faster. A compiled one: part numba.")
    return out


def numba(b):
    find_second_opinion()
    try:
        import numba_rhs
    except ImportError as e:
        if e.name in ("numba", "numpy", "scipy"):
            print(f"\npython3-{e.name} not installed: numba skipped (Debian's /usr/bin/python3 is the one that finds it)")
            return {}
        raise
    case = os.path.join(ROOT, "validation", "second-opinion-regenerations", "parked.yaml")
    return numba_rhs.part(b, case, 960.0, {"duty.phases.parked regeneration.for": "13 min"}, say, head)


def difference(a, b):
    return max(abs(x - y) for n in b if n != "time" for x, y in zip(a[n], b[n]) if x is not None and y is not None)


def precision(b):
    head("Work and precision: parked regeneration, first 11 min; error of all recorded temperatures against rtol 1e-8",
         "rtol", "largest error", "processor s")
    out, fixed = [], {PHASE: "1 min", "output.interval": "5 s"}
    exact, spent = b.series(demo(PARKED), {**fixed, "solver.rtol": 1e-8, "solver.temperature_atol": "1e-6 K"})
    for rtol in (1e-3, 1e-4, 1e-5, 1e-6, 1e-7):
        got, s = b.series(demo(PARKED), {**fixed, "solver.rtol": rtol, "solver.temperature_atol": f"{100 * rtol:g} K"}, 20)
        if got is None:
            out.append({"rtol": rtol, "done": False})
            say(f"{rtol:.0e}", "not done in 20 s", "")
            continue
        out.append({"rtol": rtol, "done": True, "error_K": difference(got, exact), "s": s})
        say(f"{rtol:.0e}", f"{out[-1]['error_K']:.2g} K", f"{s:.2f}")
    say("1e-08", "reference", f"{spent:.2f}")
    return out


def cells(b):
    head("Cost and number of cells: parked regeneration, first 13 min", "cells a brick", "states", "steps", "RHS", "processor s",
         "us per step and state")
    out = []
    for n in (5, 10, 20, 40):
        r = b.run(demo(PARKED), "--bare", timeout=60, sets={PHASE: "3 min", **{f"line.{k}.cells": n for k in BRICKS}})
        if r is None:
            say(n, "", "not done in 1 min", "", "", "")
            out.append({"cells": n, "done": False})
            continue
        each = 1e6 * r["run_s"] / r["steps"] / r["states"]
        out.append({"cells": n, "done": True, "us_per_step_and_state": each, **r})
        say(n, f"{r['states']:.0f}", r["steps"], r["rhs"], f"{r['run_s']:.2f}", f"{each:.2f}")
    return out


def span(b):
    head("Cost and simulated time: parked regeneration", "simulated s", "steps", "processor s", "simulated s per s")
    out = []
    for minutes in (5, 15, 50):
        r = b.run(demo(PARKED), "--bare", sets={PHASE: f"{minutes} min"})
        out.append(r)
        say(f"{r['simulated_s']:.0f}", r["steps"], f"{r['run_s']:.2f}", f"{r['simulated_s'] / r['run_s']:.0f}")
    return out


def limit(b):
    """With the 20 cells a brick of the comparisons above, and as it comes."""
    fine = {f"line.{e}.cells": 20 for e in BRICKS}
    return {"fine": distance(b, "20 cells a brick", fine), "as it comes": distance(b, "as it comes", {})}


def distance(b, how, sets):
    head(f"Distance to the limit: parked regeneration, {how}, a row every 10 min", "part", "calls", "processor s", "share of the run")
    r = b.run(demo(PARKED), sets={"output.interval": "10 min", **sets})  # what is recorded is no part of the integration
    for name, p in r["inside"].items():
        say(name, p["calls"], f"{p['s']:.3f}", f"{100 * p['s'] / r['run_s']:.0f} %")
    inside = sum(p["s"] for p in r["inside"].values())
    arithmetic = r["inside"]["rhs"]["s"] + r["inside"]["jacobian"]["s"]
    say("rest: CVODES, records, stopwatch", "", f"{r['run_s'] - inside:.3f}", f"{100 * (1 - inside / r['run_s']):.0f} %")
    print(f"\nRHS and Jacobian arithmetic: {100 * arithmetic / r['run_s']:.0f} % of the time, what rows and books ask for apart (sought: 70 %)")
    return dict(r, share=arithmetic / r["run_s"])


DAY_FILE = os.path.join(os.path.dirname(ROOT), "shared", "data", "day_cycles", "RefuseDriveCycle.csv")
DAY = """title: a refuse day
ambient: {temperature: 0 degC}
engine: {use: engine-7l}
line:
  - name: turbine
    turbine: {}
  - name: doc
    oxidation_catalyst: {}
  - name: dpf
    filter: {}
  - name: def
    def_doser: {}
  - name: scr
    reduction_catalyst: {kinetics: copper_zeolite}
output: {interval: 10 s}
duty:
  phases:
    - {name: day, road_cycle: '%s'}
"""
SEEN = ("turbine.mean_temperature", "doc.face_temperature", "doc.rear_temperature", "scr.mean_temperature")


def rms(a, b):
    return (sum((x - y) ** 2 for x, y in zip(a, b)) / len(a)) ** 0.5


def day(b):
    """A real working day at 1 Hz, row by row and along every bend."""
    if not os.path.exists(DAY_FILE):
        print(f"\nThe refuse day left out: {DAY_FILE} is not there")
        return {}
    head("A real refuse day, 28,488 rows at 1 Hz, 20 cells; root mean square temperature differences from the BDF at rtol 1e-8",
         "how", "steps", "RHS", "Jacobians", "processor s, best of 3", "times real time", *SEEN)
    out = {}
    with tempfile.TemporaryDirectory() as folder:
        case = os.path.join(folder, "day.yaml")
        with open(case, "w", encoding="utf-8") as f:
            f.write(DAY % DAY_FILE)
        os.environ.setdefault("EMBERPIPE_CONFIGS", os.path.join(ROOT, "configs"))
        exact = b.series(case, {"solver.method": "bdf", "solver.rtol": 1e-8, "solver.temperature_atol": "1e-4 K"})[0]
        for name, times, sets in (("row by row (as it comes)", 3, {}), ("the same, tolerances a tenth", 1, {"solver.rtol": 1e-7, "solver.temperature_atol": "1e-4 K"}),
                                  ("BDF, rtol 1e-3", 1, {"solver.method": "bdf", "solver.rtol": 1e-3}),
                                  ("BDF, rtol 1e-4", 1, {"solver.method": "bdf", "solver.rtol": 1e-4}),
                                  ("BDF, default tolerance", 1, {"solver.method": "bdf"})):
            r = min((b.run(case, "--bare", sets=sets) for _ in range(times)), key=lambda r: r["run_s"])
            got = b.series(case, sets)[0]
            off = {n: rms(got[n], exact[n]) for n in SEEN}
            out[name] = dict(r, speed=r["simulated_s"] / r["run_s"], off_K=off)
            say(name, r["steps"], r["rhs"], r["jac"], f"{r['run_s']:.2f}", f"{out[name]['speed']:.0f}",
                *(f"{off[n]:.2f} K" for n in SEEN))
    return out


PARTS = {"demos": demos, "overhead": overhead, "dense": dense, "scipy": scipy, "numba": numba,
         "precision": precision, "cells": cells, "time": span, "limit": limit, "day": day}


def counters(b, write):
    now = {}
    for name in COUNTED:
        r = b.run(demo(name), "--bare")
        if r is None:
            raise SystemExit(f"{name}: not done in 5 min")
        now[name] = {k: r[k] for k in TOLERANCE}
    if write:
        with open(GOLDEN, "w", encoding="utf-8") as f:
            f.write(json.dumps(now, indent=1) + "\n")
        return 0
    with open(GOLDEN, encoding="utf-8") as f:
        golden = json.load(f)
    bad = 0
    for name in COUNTED:
        for k, tolerance in TOLERANCE.items():
            was, new = golden[name][k], now[name][k]
            if new > was * (1.0 + tolerance):
                print(f"{name}: {k} {new}, golden {was}, allowed {100 * tolerance:.0f} % more")
                bad += 1
            elif new < was * (1.0 - tolerance):
                print(f"{name}: {k} {new}, golden {was}: less work; keep it with --write-golden")
    return 1 if bad else 0


def main():
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("build")
    p.add_argument("--only", default=",".join(PARTS))
    p.add_argument("--json", help="where the numbers go; BUILD_DIR/bench.json")
    p.add_argument("--counters", action="store_true")
    p.add_argument("--write-golden", action="store_true")
    a = p.parse_args()
    b = Bench(os.path.abspath(a.build))
    if a.counters or a.write_golden:
        return counters(b, a.write_golden)
    names = a.only.split(",")
    unknown = [n for n in names if n not in PARTS]
    if unknown:
        p.error(f"no part '{unknown[0]}'; known: {', '.join(PARTS)}")
    path = a.json or os.path.join(a.build, "bench.json")
    result = {name: PARTS[name](b) for name in names}
    with open(path, "w", encoding="utf-8") as f:
        json.dump(result, f, indent=1)
    print(f"\nAll numbers: {path}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
