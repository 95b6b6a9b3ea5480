# One-way dependencies of the folders. From the top folder:
#   awk -f tests/rules/layers.awk tests/rules/layers.txt include/emberpipe/*.h src/*/*.[ch]
FNR == NR && /^[a-z]/ { split($0, c, ":"); d = c[1]; gsub(/ /, "", d); n = split(c[2], h, " ")
  for (i = 1; i <= n; i++) owner[h[i]] = d; may[d] = " " d " " c[3] " "; next }
FNR == NR { next }
/^#include "emberpipe\// { inc = $2; gsub(/"emberpipe\/|"|\.h/, "", inc); split(FILENAME, p, "/"); d = p[2]
  if (p[1] == "include") { self = p[3]; sub(/\.h$/, "", self); d = owner[self] }
  if (!(inc in owner)) msg = "header in no folder"
  else if (index(may[d], " all ") || index(may[d], " " owner[inc] " ")) next
  else msg = d " must not include " owner[inc]
  printf "%s:%d: %s (%s)\n", FILENAME, FNR, msg, inc; bad = 1 }
END { exit bad }
