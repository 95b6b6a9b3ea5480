#!/bin/sh
# Each header compiles alone, and twice in a row: headers.sh COMPILER
cc=${1:-cc}
bad=0
for h in include/emberpipe/*.h; do
    printf '#include "%s"\n#include "%s"\ntypedef int emb_unit_not_empty;\n' "${h#include/}" "${h#include/}" |
        "$cc" -std=c17 -Wall -Wextra -Wpedantic -Werror -Iinclude -fsyntax-only -x c - || { echo "$h"; bad=1; }
done
exit $bad
