#!/usr/bin/env python3
"""Runs the validation cases and writes the report.

    validation/run.py --program build/emberpipe --probe build/emb_probe --out build/validation

Every folder beside this file that holds a claims.csv is a case. Exit code 0: all claims hold; 1: one does not, or the
table in README.md is out of date; 2: could not run.
"""
import argparse
import importlib.util
import os
import sys
import time
import traceback

HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, HERE)
sys.dont_write_bytecode = True
try:
    import numpy  # noqa: F401
    import scipy  # noqa: F401
except ImportError as missing:
    sys.exit(f"{missing}: this needs Debian's python3-numpy and python3-scipy; run it with /usr/bin/python3")

from lib import report  # noqa: E402
from lib.claims import load_claims  # noqa: E402
from lib.plot import Plot  # noqa: E402
from lib.program import Program  # noqa: E402


class Case:
    """What case.py gets to work with, and what the report reads."""

    def __init__(self, name, program):
        self.name, self.folder, self.program = name, os.path.join(HERE, name), program
        with open(os.path.join(self.folder, "README.md"), encoding="utf-8") as f:
            lines = f.read().split("\n")
        self.title, self.text = lines[0].lstrip("# "), [line for line in lines[1:]]
        self.claims = load_claims(os.path.join(self.folder, "claims.csv"))
        self.plots, self.notes, self.error = [], [], ""

    def path(self, name):
        return os.path.join(self.folder, name)

    def run(self, config="case.yaml", *sets, timeout=300):
        return self.program.run(self.path(config), sets, timeout)

    def probe(self, *calls):
        return self.program.probe(list(calls))

    def claim(self, id, here, reference=None):
        """Fills in the value of a claim of claims.csv, and its reference where that is computed."""
        for c in self.claims:
            if c.id == id:
                c.here = float(here)
                if reference is not None:
                    c.reference = float(reference)
                return
        raise KeyError(f"claims.csv of {self.name} has no claim '{id}'")

    def plot(self, title, x, y, **options):
        self.plots.append(Plot(title, x, y, **options))
        return self.plots[-1]

    def note(self, *lines):
        self.notes += list(lines)

    def evaluate(self):
        try:
            probed = [c for c in self.claims if c.probe]
            if probed:
                for c, v in zip(probed, self.program.probe([c.probe for c in probed])):
                    c.here = v
            script = os.path.join(self.folder, "case.py")
            if os.path.exists(script):
                spec = importlib.util.spec_from_file_location("case_" + self.name.replace("-", "_"), script)
                module = importlib.util.module_from_spec(spec)
                spec.loader.exec_module(module)
                module.run(self)
        except Exception as e:  # one broken case must not hide the others
            self.error = f"{type(e).__name__}: {e}"
            traceback.print_exc()

    def passed(self):
        return not self.error and bool(self.claims) and all(c.passed() for c in self.claims)


def case_names():
    return sorted(n for n in os.listdir(HERE) if os.path.exists(os.path.join(HERE, n, "claims.csv")))


def arguments():
    p = argparse.ArgumentParser(description="Runs the validation cases and writes the report.")
    p.add_argument("--program", default="build/emberpipe")
    p.add_argument("--probe", default="build/emb_probe")
    p.add_argument("--out", default="build/validation", help="folder of the report")
    p.add_argument("--only", default="", help="names of cases, separated by commas")
    p.add_argument("--readme", default=os.path.join(HERE, "..", "README.md"))
    p.add_argument("--write-readme", action="store_true", help="put the table into README.md")
    p.add_argument("--check-readme", action="store_true", help="fail if README.md's table is out of date")
    return p.parse_args()


def main():
    a = arguments()
    for path in (a.program, a.probe):
        if not os.path.exists(path):
            print(f"{path} does not exist: build first (cmake -S . -B build -G Ninja && ninja -C build), or give its "
                  "place with --program and --probe", file=sys.stderr)
            return 2
    names = [n for n in a.only.split(",") if n] or case_names()
    unknown = [n for n in names if n not in case_names()]
    if unknown:
        print(f"no case '{unknown[0]}'; there are {', '.join(case_names())}", file=sys.stderr)
        return 2
    program, cases = Program(a.program, a.probe), []
    for name in names:
        begin = time.monotonic()
        case = Case(name, program)
        case.evaluate()
        cases.append(case)
        ok = sum(c.holds() for c in case.claims)
        print(f"{'pass' if case.passed() else 'FAIL'}  {name}: {ok} of {len(case.claims)} claims, "
              f"{time.monotonic() - begin:.1f} s" + (f"  ({case.error})" if case.error else ""), flush=True)
        for c in case.claims:
            if not c.passed():
                print("      " + ("marked as a known deviation, but holds: " if c.holds() else "") + f"{c.text}: there {c.expected()} {c.unit}, here {c.here:.6g}, limit {c.tolerance()}; {c.source}")
    os.makedirs(a.out, exist_ok=True)
    report.write_markdown(a.out, cases)
    report.write_html(a.out, cases)
    report.write_tables(a.out, cases)
    good = all(c.passed() for c in cases)
    print(f"{'all claims hold' if good else 'some claims FAIL'}; report in {os.path.join(a.out, 'report.html')}")
    if a.write_readme:
        report.write_readme(a.readme, cases)
    if a.check_readme and not a.only and not report.check_readme(a.readme, cases):
        print("the table in README.md is out of date: run validation/run.py --write-readme", file=sys.stderr)
        good = False
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
