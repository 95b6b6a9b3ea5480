#!/bin/sh
# Folders depend one way only; only solve may know the integrator library, only input the YAML and unit libraries.
awk -f tests/rules/layers.awk tests/rules/layers.txt include/emberpipe/*.h src/*/*.[ch] || exit 1
bad=$(grep -nE '#include *<(cvodes?|sundials|sunmatrix|sunlinsol|nvector)' -r src include | grep -v '^src/solve/'
      grep -nE '#include *<(cyaml|yaml|udunits)' -r src include | grep -v '^src/input/')
[ -z "$bad" ] || { echo "$bad"; exit 1; }
