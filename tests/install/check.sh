#!/bin/sh
# Installs into an empty prefix and uses it from there: check.sh BUILD_DIR COMPILER CMAKE
set -eu
build=$1 cc=$2 cmake=$3
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
DESTDIR= "$cmake" --install "$build" --prefix "$work/prefix" >"$work/log"
pc=$(find "$work/prefix" -name emberpipe.pc)
lib=$(dirname "$(dirname "$pc")")
export PKG_CONFIG_PATH="$lib/pkgconfig${PKG_CONFIG_PATH:+:$PKG_CONFIG_PATH}"
case=$work/prefix/share/emberpipe/configs/quickstart.yaml
"$work/prefix/bin/emberpipe" check "$case"
# shellcheck disable=SC2046
"$cc" -std=c17 tests/install/use.c -o "$work/use" $(pkg-config --cflags --libs emberpipe)
LD_LIBRARY_PATH="$lib" "$work/use" "$case"
# shellcheck disable=SC2046
"$cc" -std=c17 tests/install/study.c -o "$work/study" $(pkg-config --cflags --libs emberpipe) -lm
LD_LIBRARY_PATH="$lib" "$work/study" tests/study/tiny.yaml "$work/tiny.journal"
"$cmake" -S tests/install -B "$work/b" -G Ninja -DCMAKE_PREFIX_PATH="$work/prefix" -DCMAKE_C_COMPILER="$cc" >>"$work/log"
"$cmake" --build "$work/b" >>"$work/log" || { cat "$work/log"; exit 1; }
"$work/b/use_shared" "$case"
"$work/b/use_static" "$case"
