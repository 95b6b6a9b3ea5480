#!/bin/sh
# Prints how fast the demo cases run: tests/bench/run.sh [PROGRAM]. Not a test: absolute times drift with the machine.
program=${1:-build/emberpipe}
printf '%-24s %8s %8s %10s %12s %14s\n' case steps RHS 'wall s' 'us per RHS' 'sim s per s'
for file in configs/*.yaml; do
    out=$("$program" run "$file" --stats 2>&1) || { echo "$file failed"; exit 1; }
    echo "$out" | tr '\n' ' ' | awk -v name="$(basename "$file" .yaml)" '
        { for (i = 1; i <= NF; i++) {
              if ($i == "steps,") steps = $(i - 1)
              if ($i == "right-hand") rhs = $(i - 1)
              if ($i == "s" && $(i + 1) == "of" && $(i + 2) == "wall") wall = $(i - 1)
              if ($i == "simulated" && sim == "") { n = split($(i - 1), c, ":"); sim = 0
                  for (k = 1; k <= n; k++) sim = sim * 60 + c[k] } }
          printf "%-24s %8d %8d %10.3f %12.1f %14.0f\n", name, steps, rhs, wall, 1e6 * wall / rhs, sim / wall }'
done
