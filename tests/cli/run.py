"""Runs every row of cases.tsv against the program: run.py PROGRAM (from the top folder)."""
import csv, io, json, os, shlex, shutil, subprocess, sys, tempfile, xml.dom.minidom

HERE = os.path.dirname(os.path.abspath(__file__))


def call(program, arguments):
    arguments, _, typed = arguments.partition(" <<")  # what is typed, | for Enter
    full = arguments.endswith(">/dev/full")
    words = shlex.split(arguments[:-len(">/dev/full")] if full else arguments)
    with open("/dev/full" if full else os.devnull, "wb") as sink:
        done = subprocess.run([program] + words, stdout=sink if full else subprocess.PIPE, stderr=subprocess.PIPE,
                              input=typed.replace("|", "\n").encode(), timeout=600)  # a sanitizer build on a busy machine is slow
    return done.returncode, (done.stdout or b"").decode("utf-8"), done.stderr.decode("utf-8")


def units_everywhere(item, path=""):
    """Every number of the JSON report must have a unit beside it."""
    if isinstance(item, dict):
        for key, value in item.items():
            if isinstance(value, (int, float)) and not isinstance(value, bool) and "unit" not in item:
                return path + "." + key
            if key == "values" and "unit" not in item:
                return path + "." + key
            bad = units_everywhere(value, path + "." + key) if key != "values" else None
            if bad:
                return bad
    elif isinstance(item, list):
        for value in item:
            bad = units_everywhere(value, path + "[]")
            if bad:
                return bad
    return None


def no_constant(text):
    raise ValueError(f"{text} is no JSON")


def special(name, program, arguments, out, folder):
    if name == "@json":
        data = json.loads(out, parse_constant=no_constant)
        bad = units_everywhere(data)
        lengths = {len(s["values"]) for s in data["series"]}
        return f"no unit at {bad}" if bad else None if len(lengths) == 1 and lengths.pop() > 1 else "ragged series"
    if name == "@csv":
        rows = list(csv.reader(io.StringIO(out)))
        if any(len(r) != len(rows[0]) for r in rows) or len(rows) < 3:
            return "ragged table"
        return None if all(c.endswith("]") for c in rows[0]) else "a header without a unit"
    if name == "@same":
        return None if call(program, arguments)[1] == out else "a second run gave other bytes"
    if name == "@folder":
        names = sorted(os.listdir(os.path.join(folder, "res")))
        want = ["case.yaml", "report.txt", "result.json", "series.csv"]
        beside = sorted(os.listdir(folder))
        return None if names == want and beside == ["foreign", "res"] and out == "" else f"got {names} {beside}"
    if name == "@made":
        made = os.path.join(folder, "a.yaml")
        code, said, _ = call(program, "check " + made)
        if code != 0 or "ok" not in said:
            return f"the case written does not pass check: {said[-300:]}"
        text = open(made, encoding="utf-8").read()
        if "use:" in text or "# Written by" not in text:
            return "the case written leans on parts, or has lost its comments"
        again = call(program, arguments)  # an existing file is never replaced unasked
        left = [n for n in os.listdir(folder) if n not in ("a.yaml", "foreign")]
        return None if again[0] == 5 and not left and open(made, encoding="utf-8").read() == text else "not kept"
    if name == "@page":
        text = open(os.path.join(folder, "page.html"), encoding="utf-8").read()
        data = text.split('<script type="application/json" id="data">')[1].split("</script>")[0]
        json.loads(data, parse_constant=no_constant)
        beside = sorted(os.listdir(folder))
        return None if text.startswith("<!DOCTYPE html>") and beside == ["foreign", "page.html"] else f"got {beside}"
    if name == "@pictures":
        for ending, start in (("svg", b"<svg"), ("png", b"\x89PNG"), ("pdf", b"%PDF")):
            path = os.path.join(folder, "p." + ending)
            code, _, err = call(program, arguments.replace("p.svg", "p." + ending))
            if code != 0 or not open(path, "rb").read().startswith(start):
                return f"{ending}: exit {code} {err[-200:]}"
        xml.dom.minidom.parse(os.path.join(folder, "p.svg"))
        return None
    return f"unknown check {name}"


def check_text(what, text, want):
    if want == "!":
        return f"{what} should be empty: {text[:300]!r}" if text else None
    return None if want in text else f"{what} lacks {want!r}: {text[-400:]!r}"


def check_row(program, row):
    name, arguments, code, out_want, err_want = row
    folder = tempfile.mkdtemp(prefix="emberpipe-cli-")
    try:
        open(os.path.join(folder, "foreign"), "w").close()
        arguments = arguments.replace("%T", folder)
        got, out, err = call(program, arguments)
        if got != int(code):
            return f"exit {got}, not {code}: {err[-400:]}"
        if out_want.startswith("@"):
            bad = special(out_want, program, arguments, out, folder)
        else:
            bad = check_text("stdout", out, out_want)
        return bad or check_text("stderr", err, err_want)
    finally:
        shutil.rmtree(folder)


def main():
    failed = 0
    with open(os.path.join(HERE, "cases.tsv"), encoding="utf-8") as f:
        rows = [line.rstrip("\n").split("\t") for line in f if line.strip() and not line.startswith("#")]
    for row in rows:
        bad = check_row(os.path.abspath(sys.argv[1]), row)
        failed += bad is not None
        print(f"{'FAIL' if bad else 'ok  '} {row[0]}{': ' + bad if bad else ''}")
    print(f"{len(rows) - failed} of {len(rows)} passed")
    return 1 if failed else 0


sys.exit(main())
