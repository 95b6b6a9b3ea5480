#!/bin/sh
# Cases per second of a study: tests/bench/study.sh [BUILD_DIR [STUDY]]. Not a test: absolute times drift with the machine.
# "busy" is the time spent inside runs over the time the threads or ranks had: the rest is overhead and idling.
build=${1:-build}
study=${2:-$(dirname "$0")/study.yaml}
journal=$(mktemp -u)
row() { # row NAME WORKERS COMMAND...
    name=$1 workers=$2
    shift 2
    begin=$(date +%s.%N)
    "$@" --journal "$journal" --fresh >/dev/null 2>&1 || { echo "$name failed"; return; }
    end=$(date +%s.%N)
    "$build/emberpipe" study status "$study" --journal "$journal" >/dev/null || return
    spent=$(python3 -c "import sqlite3, sys; print(sqlite3.connect(sys.argv[1]).execute('SELECT total(seconds), count(*) FROM result').fetchone())" "$journal")
    python3 -c "
import sys
(spent, n), wall, workers = eval(sys.argv[2]), float(sys.argv[4]) - float(sys.argv[3]), int(sys.argv[5])
print(f'{sys.argv[1]:12s} {n:6d} {wall:8.2f} {n / wall:10.2f} {100 * spent / (wall * workers):8.1f} %')" "$name" "$spent" "$begin" "$end" "$workers"
    rm -f "$journal" "$journal-wal" "$journal-shm"
}
printf '%-12s %6s %8s %10s %10s\n' workers cases 'wall s' 'cases/s' busy
row "1 thread" 1 "$build/emberpipe" study run "$study" --threads 1
row "2 threads" 2 "$build/emberpipe" study run "$study" --threads 2
if [ -x "$build/emberpipe-mpi" ]; then
    for n in 2 4; do
        row "$n ranks" $n mpirun --allow-run-as-root --oversubscribe -n $n "$build/emberpipe-mpi" "$study"
    done
fi
