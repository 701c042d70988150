#!/usr/bin/env bash
# scripts/flash refuses what cannot work, with its own exit codes, and hands avrdude the right words. avrdude is a stand-in here.
set -u
cd "$(dirname "$0")/../.."
here=$(mktemp -d)
trap 'rm -rf "$here"' EXIT
failures=0

# expect EXIT TEXT ARGUMENTS...: run scripts/flash and hold its exit code and output to that.
expect() {
  local code=$1 text=$2
  shift 2
  local output got
  output=$(PATH="$here/bin:$PATH" scripts/flash "$@" 2>&1)
  got=$?
  if [ "$got" != "$code" ] || [[ $output != *"$text"* ]]; then
    echo "scripts/flash $*: exit $got, expected $code and \"$text\" in: $output"
    failures=$((failures + 1))
  fi
}

mkdir "$here/bin"
printf '#!/bin/sh\necho "stand-in: $*"\nexit "${FAKE_EXIT:-0}"\n' >"$here/bin/avrdude"
chmod +x "$here/bin/avrdude"
echo ":00000001FF" >"$here/good.hex"
echo "not hex" >"$here/bad.hex"

expect 64 "which port?"
expect 64 "unknown option --fast" --fast /dev/null
expect 64 "one port only" /dev/null /dev/zero
expect 65 "is missing; build it" --image "$here/none.hex" /dev/null
expect 65 "no Intel hex file" --image "$here/bad.hex" /dev/null
expect 3 "no port" --image "$here/good.hex" /dev/no-such-port
expect 3 "not a serial port" --image "$here/good.hex" "$here/good.hex"
expect 0 "would run: avrdude -p atmega2560 -c wiring -P /dev/null" --dry-run --image "$here/good.hex" /dev/null
expect 0 "motors disconnected" --dry-run --image "$here/good.hex" /dev/null
expect 0 "stand-in: -p atmega2560 -c wiring -P /dev/null -b 115200 -D -q -U flash:w:$here/good.hex:i" --image "$here/good.hex" /dev/null
FAKE_EXIT=1 expect 3 "did not take the firmware" --image "$here/good.hex" /dev/null
exit $((failures > 0))
