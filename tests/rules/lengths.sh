#!/bin/sh
# Files stay short enough to read in one sitting.
bad=$(wc -l src/*/*.c src/*/*.h include/emberpipe/*.h | awk '$2 != "total" && $1 > 400 {print $2 ": " $1 " lines, limit 400"}')
[ -z "$bad" ] || { echo "$bad"; exit 1; }
