#!/usr/bin/env bash
# systemd's own checks of the unit: that it understands every line, and that nobody loosens its sandbox unseen.
#   unit_test.sh UNIT_FILE      whose ExecStart= is a program that exists
set -euo pipefail
unit=$(realpath "${1:?usage: unit_test.sh UNIT_FILE}")
here=$(mktemp -d)
trap 'rm -rf "$here"' EXIT
export SYSTEMD_LOG_TARGET=console SYSTEMD_COLORS=0
failures=0
fail() { echo "$1"; failures=$((failures + 1)); }

# verify UNIT: systemd ends with 0 where it only warns of a line that it ignores, so whatever it prints is a fault.
verify() { timeout 60 systemd-analyze verify --man=no "$1" 2>&1; }

output=$(verify "$unit") || true
[ -z "$output" ] || fail "systemd-analyze verify: $output"

mkdir "$here/planted"
sed 's/^ProtectSystem=/ProtectSytem=/' "$unit" >"$here/planted/midstickd.service"
grep -q 'ProtectSytem' <<<"$(verify "$here/planted/midstickd.service")" || fail "a misspelt line in the unit went unseen"

# Exposure in tenths, 0 to 100. 16 is what serial ports, the page's socket and make and compilers in a prepare command cost.
threshold=16
output=$(timeout 60 systemd-analyze security --no-pager --offline=true --threshold=$threshold "$unit" 2>&1) ||
  fail "systemd-analyze security: more than $threshold tenths of exposure: $(tail -n 1 <<<"$output")"
exit $((failures > 0))
