"""Studies as people use them: check.py PROGRAM WHAT [MPI_PROGRAM] (from the top folder).

kill: kill -9 at random moments, resume, nothing finished is lost, the numbers are those of an undisturbed run.
full: the disk is full (a file size limit), then there is room again.
analyse: sensitivities from a journal.
map: every number is in the picture.  search: as good as a fine grid.
stop: Ctrl-C ends cleanly.  netcdf: ncdump reads what the CSV says.
mpi: four ranks, killed and resumed with three, same bytes as one thread."""
import csv, json, os, random, re, resource, shlex, shutil, signal, sqlite3, subprocess, sys, tempfile, time, xml.dom.minidom

PROGRAM, WHAT = os.path.abspath(sys.argv[1]), sys.argv[2]
MPI = os.path.abspath(sys.argv[3]) if len(sys.argv) > 3 else None
STUDY = os.path.abspath("tests/study/tiny.yaml")
N = 30


def words(verb, *more):
    return [PROGRAM, "study", verb, STUDY, *more]


def call(command, folder, **more):
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=200, **more)
    return done.returncode, done.stdout, done.stderr


def must(ok, what):
    if not ok:
        sys.exit("FAILED: " + what)


def finished(folder):
    """Ids in the journal, read by another SQLite: python's."""
    path = os.path.join(folder, "tiny.journal")
    if not os.path.exists(path):
        return set()
    db = sqlite3.connect(path)
    try:
        must(db.execute("PRAGMA integrity_check").fetchone()[0] == "ok", "journal is damaged")
        there = db.execute("SELECT count(*) FROM sqlite_master WHERE name = 'result'").fetchone()[0]
        return {row[0] for row in db.execute("SELECT id FROM result")} if there else set()
    finally:
        db.close()


def table(folder, name="a.csv"):
    code, out, err = call(words("export", "--out", name), folder)
    must(code == 0, "export: " + err)
    with open(os.path.join(folder, name), "rb") as f:
        return f.read()


def reference(folder):
    code, out, err = call(words("run", "--threads", "1"), folder)
    must(code == 0 and f"{N} of {N} cases done, 0 of them failed" in out, "reference: " + out + err)
    bytes_ = table(folder)
    os.remove(os.path.join(folder, "tiny.journal"))
    return bytes_


def kill_and_resume(command, folder, want, kills, longest):
    """A study that has ended before its kill is thrown away and begun anew: how fast the machine is must not matter."""
    random.seed(1)
    kept, landed, most = set(), 0, 0
    for attempt in range(10 * kills):
        p = subprocess.Popen(command, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                             start_new_session=True)
        while attempt % 3 and len(finished(folder)) == len(kept) and p.poll() is None:
            time.sleep(0.01)  # every third kill at any moment, the others once there is something to lose
        time.sleep(random.uniform(0.0, longest))
        if p.poll() is None:
            os.killpg(p.pid, signal.SIGKILL)
            landed += 1
        p.wait()
        now = finished(folder)
        must(kept <= now, f"lost {kept - now}")
        kept, most = now, max(most, len(now))
        if len(kept) == N:
            os.remove(os.path.join(folder, "tiny.journal"))
            kept = set()
        if landed >= kills:
            break
    code, out, err = call(command, folder)
    must(code == 0, "resume: " + out + err)
    must(table(folder) == want, "other numbers than in an undisturbed run")
    print(f"{landed} kills hit a running study, up to {most} cases were done by then")
    must(landed >= kills and most > 0, "too few kills hit a running study to say anything")


def check_kill(folder):
    want = reference(folder)
    kill_and_resume(words("run", "--threads", "2"), folder, want, 12, 0.15)


def check_full(folder):
    want = reference(folder)

    def limit():
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (60000, resource.RLIM_INFINITY))

    code, out, err = call(words("run", "--threads", "2"), folder, preexec_fn=limit, restore_signals=False)
    must(code == 5 and "safe" in err, f"full disk: exit {code}: {err}")
    before = finished(folder)
    must(0 < len(before) < N, f"{len(before)} cases before the disk was full")
    code, out, err = call(words("run"), folder)
    must(code == 0 and table(folder) == want, "after making room: " + err)
    code, out, err = call(words("export", "--out", "/dev/full/x.csv"), folder)
    must(code == 5, "export to nowhere")
    resource_limited = call(words("export", "--out", "b.nc"), folder,
                            preexec_fn=lambda: (signal.signal(signal.SIGXFSZ, signal.SIG_IGN),
                                                resource.setrlimit(resource.RLIMIT_FSIZE, (2000, 2000))),
                            restore_signals=False)
    must(resource_limited[0] == 5, f"export to a full disk: exit {resource_limited[0]} {resource_limited[2]}")
    must(not [n for n in os.listdir(folder) if n.startswith("b.nc")], "half an export was left behind")


def check_stop(folder):
    p = subprocess.Popen(words("run", "--threads", "1"), cwd=folder, stdout=subprocess.PIPE,
                         stderr=subprocess.PIPE, text=True)
    while len(finished(folder)) < 2 and p.poll() is None:
        time.sleep(0.02)
    p.send_signal(signal.SIGINT)
    out, err = p.communicate(timeout=60)
    must(p.returncode == 8 and "run it again to go on" in err, f"Ctrl-C: exit {p.returncode} {err}")
    code, out, err = call(words("status"), folder)
    must(code == 0 and f"of {N} cases done" in out, "status: " + out)
    code, out, err = call(words("run"), folder)
    must(code == 0 and f"{N} of {N} cases done" in out, "resume: " + err)


def check_netcdf(folder):
    code, out, err = call(words("run"), folder)
    must(code == 0, err)
    rows = list(csv.reader(table(folder).decode().splitlines()))
    code, out, err = call(words("export"), folder)
    must(code == 0 and os.path.exists(os.path.join(folder, "tiny.nc")), "export: " + err)
    must(call(["cp", "tiny.nc", "first.nc"], folder)[0] == 0 and call(words("export"), folder)[0] == 0, "again")
    must(call(["cmp", "tiny.nc", "first.nc"], folder)[0] == 0, "two exports differ")
    dump = call(["ncdump", "-p", "9,17", "tiny.nc"], folder)
    must(dump[0] == 0, "ncdump: " + dump[2])
    text = dump[1]

    def values(name):
        body = text.split("data:", 1)[1].split(f"\n {name} =", 1)[1].split(";", 1)[0]
        return [float("nan") if v.strip() in ("_", "NaN") else float(v) for v in body.split(",")]

    want = [float(r[3]) for r in rows[1:]]
    must(values("doc_face_temperature_end") == want, "ncdump and CSV disagree")
    must(values("ambient_temperature") == sorted({float(r[1]) for r in rows[1:]}), "coordinates")
    must(set(values("status")) == {0.0}, "status")
    must(len(values("doc_face_temperature")) == N * 5, "traces")
    for part in ('units = "K"', 'Conventions = "CF-', "emberpipe ", "trace_interval: 2 s", '"downpipe"'):
        must(part in text, f"no {part} in the file")


def check_analyse(folder):
    """The table, the CSV, and that an unfinished study is analysed as far as it is."""
    study = os.path.abspath("tests/study/screen.yaml")
    code, out, err = call([PROGRAM, "study", "run", study, "--quiet"], folder)
    must(code == 0, err)
    code, out, err = call([PROGRAM, "study", "analyse", study, "--out", "a.csv"], folder)
    must(code == 0 and "6 of 6 paths" in out and "1.  " in out, "analyse: " + out + err)
    must("too few whole paths" in out, "an output that never exists must be told: " + out)
    rows = list(csv.DictReader(open(os.path.join(folder, "a.csv"))))
    must(len(rows) == 8, f"{len(rows)} rows")
    by = {(r["output"], r["axis"]): r for r in rows}
    fuel = by["total.engine_fuel", "ambient.temperature"]
    must(float(fuel["mean_change"]) < 0 and float(fuel["effect_low"]) <= float(fuel["effect"]) <= float(fuel["effect_high"]),
         f"a colder engine burns more: {fuel}")
    db = sqlite3.connect(os.path.join(folder, "screen.journal"))
    db.execute("DELETE FROM result WHERE id = 7")
    db.commit()
    db.close()
    code, out, err = call([PROGRAM, "study", "analyse", study], folder)
    must(code == 0 and "5 of 6 paths" in out and "1 left out" in out, "a gap: " + out + err)
    code, out, err = call([PROGRAM, "study", "analyse", study, "--to", "bars.svg"], folder)
    must(code == 0, err)
    picture = open(os.path.join(folder, "bars.svg")).read()
    must("ambient temperature" in picture and "hot enough" not in picture, "bars: only what can be drawn")
    code, out, err = call([PROGRAM, "study", "local", study, "--out", "l.csv"], folder)
    must(code == 0, err)
    slopes = {(r["output"], r["axis"]): r for r in csv.DictReader(open(os.path.join(folder, "l.csv")))}
    fuel = slopes["total.engine_fuel", "ambient.temperature"]
    short = ["--set", "duty.phases[0].for=6 s", "--set", "duty.phases[1].for=2 s", "--set", "line.injector.before=turbine"]
    by_hand = []
    for kelvin in (287.65, 288.65):  # half a kelvin around 15 degC, through another command
        code, out, err = call([PROGRAM, "run", os.path.abspath("configs/quickstart.yaml"), *short, "--format", "json",
                               "--set", f"ambient.temperature={kelvin} K"], folder)
        must(code == 0, err)
        by_hand.append([t for t in json.loads(out)["totals"] if t["name"] == "engine_fuel"][0]["total"]["value"])
    slope = by_hand[1] - by_hand[0]
    must(abs(float(fuel["slope"]) - slope) < 0.02 * abs(slope), f"slope {fuel['slope']}, by hand {slope}")
    changed = os.path.join(folder, "screen.yaml")
    with open(study) as f, open(changed, "w") as g:
        g.write(f.read().replace("../../configs", os.path.abspath("configs")).replace("samples: 6", "samples: 7"))
    code, out, err = call([PROGRAM, "study", "analyse", changed], folder)
    must(code == 3 and "has changed" in err, "a changed study: " + err)


def check_local(folder):
    """Forward sensitivities against differences of whole runs: two ways to the same derivative."""
    for name, tolerance in (("local", 0.015), ("late", 0.05)):  # late: steps of 0.5 s of the decision are in the differences
        study = os.path.abspath(f"tests/study/{name}.yaml")
        code, out, err = call([PROGRAM, "study", "local", study, "--out", "l.csv"], folder)
        must(code == 0, err)
        rows = list(csv.DictReader(open(os.path.join(folder, "l.csv"))))
        told = [r for r in rows if r["sensitivity"] != ""]
        must(len(told) == (15 if name == "local" else 2), f"{len(told)} sensitivities")
        for r in told:
            a, b = float(r["slope"]), float(r["sensitivity"])
            must(a != 0 and abs(a - b) < tolerance * abs(a), f"{r['output']} by {r['axis']}: {a} by differences, sensitivity {b}")
        must(("no sensitivities to duty.warm up.for: the times of its duty differ" in out) == (name == "local"), out)


def check_search(folder):
    """The answer against a grid of the same axes that is run case by case, and its command line run by hand."""
    study = os.path.abspath("tests/study/search.yaml")
    code, out, err = call([PROGRAM, "study", "search", study], folder)
    must(code == 0 and "the same numbers" in out and "0 better" in out, "search: " + out + err)
    line = out[out.index("try it:"):].splitlines()[1]
    speed = float(re.search(r"engine.idle_speed=([0-9.]+) rad/s", line).group(1))
    grid = os.path.join(folder, "grid.yaml")
    text = open(study).read().replace("../../configs", os.path.abspath("configs")).replace("design: search", "design: grid")
    text = re.sub(r"search:\n(  .*\n)+", "", text).replace("to: 1200 rpm", "to: 1200 rpm, steps: 25")
    with open(grid, "w") as f:
        f.write(text)
    code, out, err = call([PROGRAM, "study", "run", grid, "--quiet"], folder)
    must(code == 0, "grid: " + err)
    code, out, err = call([PROGRAM, "study", "export", grid, "--out", "g.csv"], folder)
    rows = list(csv.DictReader(open(os.path.join(folder, "g.csv"))))
    must(len(rows) == 50, "grid of 50")
    temperature, fuel = "doc.face_temperature.end [K]", "total.engine_fuel [kg]"
    rpm = [k for k in rows[0] if k.startswith("engine.idle_speed")][0]
    good = [r for r in rows if float(r[fuel]) <= 0.055]
    must(0 < len(good) < 50, "the limit must cut the grid")
    best = max(good, key=lambda r: float(r[temperature]))
    must(abs(speed - float(best[rpm])) < 1.01 * 25 * 3.14159265 / 30, f"{speed} is not near the grid's best {best}")
    code, out, err = call([PROGRAM] + shlex.split(line)[1:] + ["--format", "json"], folder)
    must(code == 0, "its command line: " + err)
    found = [t for t in json.loads(out)["totals"] if t["name"] == "engine_fuel"][0]["total"]["value"]
    must(0.0545 < found <= 0.05501, f"the limit is not used up: {found} kg")


def check_map(folder):
    """Every value of the CSV stands in the picture of the map."""
    code, out, err = call(words("run", "--quiet"), folder)
    must(code == 0, err)
    code, out, err = call(words("map", "--of", "doc.face_temperature.end", "--to", "m.svg"), folder)
    must(code == 0, "map: " + err)
    picture = xml.dom.minidom.parse(os.path.join(folder, "m.svg"))
    texts = [t.firstChild.data for t in picture.getElementsByTagName("text") if t.firstChild]
    rows = list(csv.reader(table(folder).decode().splitlines()))[1:]
    values = [float(r[3]) - 273.15 for r in rows]
    digits = 0 if max(values) - min(values) >= 20 else 1 if max(values) - min(values) >= 2 else 2
    want = sorted(f"{v:.{digits}f}" for v in values)
    for w in set(want):
        must(texts.count(w) >= want.count(w), f"{w} is not in the map")
    must("-20 °C (-4 °F)" in texts and "turbine" in texts, f"labels: {texts}")
    for v in values:
        must(f"{1.8 * v + 32:.0f} °F" in texts, f"{v} °C is not in the map in °F")
    code, out, err = call(words("map", "--of", "target.hot enough.time", "--to", "t.svg"), folder)
    text = open(os.path.join(folder, "t.svg")).read()
    best = [float(r[6]) - 273.15 for r in rows]
    must(code == 0 and "never; how close it came" in text and all(f">{v:.0f} °C<" in text for v in best), "targets never reached: " + err)
    code, out, err = call(words("map", "--of", "target.light-off.time", "--to", "l.svg"), folder)
    text = open(os.path.join(folder, "l.svg")).read()  # warm enough all the 8 s, which are not the 60 s asked for
    must(code == 0 and "how long it held" in text and text.count(">8 s<") == len(rows), "targets held too briefly: " + err)
    code, out, err = call(words("map", "--of", "doc.face_temprature.end", "--to", "n.svg"), folder)
    must(code == 2 and "did you mean doc.face_temperature.end" in err and not os.path.exists(os.path.join(folder, "n.svg")), err)


def check_mpi(folder):
    want = reference(folder)
    run = ["mpirun", "--allow-run-as-root", "--oversubscribe", "-n", "4", MPI, STUDY]
    kill_and_resume(run, folder, want, 3, 0.2)
    os.remove(os.path.join(folder, "tiny.journal"))
    p = subprocess.Popen(run, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True)
    while len(finished(folder)) < 5 and p.poll() is None:
        time.sleep(0.02)
    if p.poll() is None:
        os.killpg(p.pid, signal.SIGKILL)
    p.wait()
    some = finished(folder)
    code, out, err = call(run[:4] + ["3"] + run[5:], folder)
    must(code == 0 and f"{N} of {N} cases done" in out, "three ranks: " + out + err)
    must(table(folder) == want, "three ranks after four gave other bytes than one thread")
    print(f"{len(some)} cases by four ranks, the rest by three")


folder = tempfile.mkdtemp(prefix="emberpipe-study-")
try:
    {"kill": check_kill, "full": check_full, "stop": check_stop, "netcdf": check_netcdf, "analyse": check_analyse, "local": check_local, "map": check_map, "search": check_search,
     "mpi": check_mpi}[WHAT](folder)
finally:
    shutil.rmtree(folder)
print("ok")
