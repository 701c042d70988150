#!/usr/bin/env bash
# Judging a stored run against sigrok-cli decoding the same capture: processor seconds of whole programs, five runs each in turn, medians and their ratio.
#   tests/bench/against_sigrok.sh RUN_FOLDER        (needs build/bin/midstick and sigrok-cli)
# midstick reads capture.json, judges every check and writes all reports; sigrok-cli reads capture.vcd and measures every pulse of every wire.
set -euo pipefail
run=${1:?usage: tests/bench/against_sigrok.sh RUN_FOLDER}
midstick=$(dirname "$0")/../../build/bin/midstick
wires=$(sed -n 's/^\$var wire 1 [^ ]* \([a-z_]*\) \$end/\1/p' "$run/capture.vcd" | sort -u)
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
TIMEFORMAT='%U %S'
seconds() { { time "$@" >/dev/null 2>&1 || true; } 2>&1 | awk '{print $1 + $2}'; }
ours() { "$midstick" judge "$run" --out "$out/reports"; }
theirs() {
  local decoders=() w
  for w in $wires; do decoders+=(-P "timing:data=$w"); done
  sigrok-cli -I vcd:skip=0 -i "$run/capture.vcd" "${decoders[@]}" --protocol-decoder-samplenum
}
for _ in 1 2 3 4 5; do
  seconds ours >>"$out/ours"
  seconds theirs >>"$out/theirs"
done
median() { sort -n "$1" | sed -n 3p; }
edges=$(grep -c '^[01][!-~]*$' "$run/capture.vcd")
awk -v n="$edges" -v a="$(median "$out/ours")" -v b="$(median "$out/theirs")" 'BEGIN {
  printf "%d edges; midstick judge and reports %.2f s (%.0f edges a second); sigrok-cli decode %.2f s; ratio sigrok/midstick %.1f\n", n, a, n / a, b, b / a }'
