#!/bin/sh
# Cases per second of a study: tests/bench/study.sh [BUILD_DIR [STUDY]]. Not a test: times drift with the machine.
# "busy" is the time spent inside runs over the time the threads or ranks had: the rest is overhead and idling. Ranks beyond
# the cores wait inside runs too. On a shared machine compare cases per second of processor time (all threads and ranks).
build=${1:-build}
study=${2:-$(dirname "$0")/study.yaml}
journal=$(mktemp -u)
timed='
import resource, sqlite3, subprocess, sys, time
name, workers, journal = sys.argv[1], int(sys.argv[2]), sys.argv[3]
begin = time.monotonic()
quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
if subprocess.run(sys.argv[4:] + ["--journal", journal, "--fresh"], **quiet).returncode != 0:
    sys.exit(f"{name} failed")
wall = time.monotonic() - begin
used = resource.getrusage(resource.RUSAGE_CHILDREN)
cpu = used.ru_utime + used.ru_stime
spent, n = sqlite3.connect(journal).execute("SELECT total(seconds), count(*) FROM result").fetchone()
print(f"{name:12s} {n:6d} {wall:8.2f} {n / wall:10.2f} {n / cpu:10.2f} {100 * spent / (wall * workers):8.1f} %")
'
row() { # row NAME WORKERS COMMAND...
    name=$1 workers=$2
    shift 2
    python3 -c "$timed" "$name" "$workers" "$journal" "$@"
    rm -f "$journal" "$journal-wal" "$journal-shm"
}
printf '%-12s %6s %8s %10s %10s %10s\n' workers cases 'wall s' 'cases/s' 'per cpu s' busy
row "1 thread" 1 "$build/emberpipe" study run "$study" --threads 1
row "2 threads" 2 "$build/emberpipe" study run "$study" --threads 2
if [ -x "$build/emberpipe-mpi" ]; then
    for n in 2 4; do
        row "$n ranks" $n mpirun --allow-run-as-root --oversubscribe -n $n "$build/emberpipe-mpi" "$study"
    done
fi
