#!/bin/sh
# Calls that depend on the locale, keep hidden state, or cannot be told how much room there is. And no tabs.
words='setlocale|atof|atoi|strtok|sprintf|vsprintf|strcpy|strcat|gets|rand|srand|asctime|ctime|localtime|gmtime|system|abort|alloca'
bad=$(grep -nE "(^|[^A-Za-z0-9_])($words) *\(" -r src include --include='*.[ch]')
# only main() ends the program, only the programs (cli, mpi) talk to the terminal
bad="$bad$(grep -nE '(^|[^A-Za-z0-9_])exit *\(' -r src include --include='*.[ch]')"
bad="$bad$(grep -nE '(^|[^A-Za-z0-9_])(printf|puts|putchar|perror) *\(|stderr|stdout' -r src include --include='*.[ch]' | grep -vE '^src/(cli|mpi)/')"
bad="$bad$(grep -nP '\t' -r src include --include='*.[ch]')"
[ -z "$bad" ] || { echo "$bad"; exit 1; }
