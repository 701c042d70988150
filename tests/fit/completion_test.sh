#!/usr/bin/env bash
# The completion as bash calls it: with the words typed so far, the answer in COMPREPLY.
#   completion_test.sh COMPLETION_FILE FOLDER_OF_PROGRAMS
set -euo pipefail
completion=${1:?usage: completion_test.sh COMPLETION_FILE FOLDER_OF_PROGRAMS} bin=$(realpath "${2:?}")
# shellcheck source=/dev/null
source "$completion"
here=$(mktemp -d)
trap 'rm -rf "$here"' EXIT
cd "$here"
mkdir plans && touch plans/nightly.json plans/soak.json
failures=0

# answer WORD...: what is offered for the last word, sorted, on one line.
answer() {
  COMP_WORDS=("$@") COMP_CWORD=$(($# - 1)) COMPREPLY=()
  _midstick "$1" "${COMP_WORDS[COMP_CWORD]}" "${COMP_WORDS[COMP_CWORD - 1]}"
  printf '%s\n' "${COMPREPLY[@]}" | sort | xargs
}
# expect "ANSWER" WORD...
expect() {
  local want=$1 got
  shift
  got=$(answer "$@")
  [ "$got" = "$want" ] || { echo "$* : expected \"$want\", got \"$got\""; failures=$((failures + 1)); }
}

# Another way to the same lists: the whole words of the help that begin a line.
listed() { "$@" --help | awk '/^Subcommands:/ {on = 1; next} on && /^  [a-z]/ {print $1}' | sort | xargs; }
options() { "$@" --help | grep -oE '^  (-h,)?--[a-z-]+' | grep -oE -- '--[a-z-]+' | sort | xargs; }

midstick=$bin/midstick
commands=$(listed "$midstick")
[ "$(wc -w <<<"$commands")" -ge 10 ] || { echo "the help of midstick lists only: $commands"; failures=$((failures + 1)); }
expect "$commands" "$midstick" ""
expect "record" "$midstick" rec
for command in $commands; do expect "$(options "$midstick" "$command")" "$midstick" "$command" -; done
expect "$(options "$bin/midstickd")" "$bin/midstickd" --
expect "--board-ppm" "$midstick" run plans/nightly.json --board-

expect "plans" "$midstick" run ""
expect "plans/nightly.json plans/soak.json" "$midstick" validate plans/
expect "plans/soak.json" "$midstick" run --mixer plans/s
expect "plans/nightly.json" "$bin/midstick-virtual" plans/n
expect "serial: virtual:" "$midstick" run --bench ""
expect "plans/nightly.json plans/soak.json" "$midstick" run --bench virtual : plans/
expect "plans" "$midstick" run --bench virtual :
expect "controller daemon mixer plan sticks" "$midstick" schema ""
expect "mixer" "$midstick" schema m
expect "release" "$midstick" rel
expect "capture.json capture.vcd junit.xml plan.json report.html report.json" "$midstick" show 17 --file ""
expect "plan.json" "$midstick" show 17 --file pl
exit $((failures > 0))
