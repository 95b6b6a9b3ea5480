#!/bin/sh
# No writable data: globals.sh LIBRARY. Tables of pointers end in .data.rel.ro, which is read-only once loaded.
table=$(objdump -t "$1") || exit 1
bad=$(echo "$table" | awk 'NF >= 3 { s = $(NF - 2) }
    NF >= 3 && (s == "*COM*" || (s ~ /^\.(data|bss|tdata|tbss)/ && s !~ /^\.data\.rel\.ro/)) && / O |\*COM\*/')
[ -z "$bad" ] || { echo "writable data:"; echo "$bad"; exit 1; }
