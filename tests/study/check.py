"""Studies as people use them: check.py PROGRAM WHAT [MPI_PROGRAM] (from the top folder).

kill: kill -9 at random moments, resume, nothing finished is lost, the numbers are those of an undisturbed run.
full: the disk is full (a file size limit), then there is room again.
stop: Ctrl-C ends cleanly.  netcdf: ncdump reads what the CSV says.
mpi: four ranks, killed and resumed with three, same bytes as one thread."""
import csv, os, random, resource, shutil, signal, sqlite3, subprocess, sys, tempfile, time

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
    {"kill": check_kill, "full": check_full, "stop": check_stop, "netcdf": check_netcdf, "mpi": check_mpi}[WHAT](folder)
finally:
    shutil.rmtree(folder)
print("ok")
