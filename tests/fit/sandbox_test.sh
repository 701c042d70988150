#!/usr/bin/env bash
# The unit's filter of system calls leaves room for the daemon's work and for a prepare command: make, compiler and a bench's run are traced,
# and every call that they make must be one that the unit allows.
#   sandbox_test.sh UNIT_FILE MIDSTICK CONTROLLER PLAN      exit 77: this machine allows no tracing
set -euo pipefail
unit=${1:?usage: sandbox_test.sh UNIT_FILE MIDSTICK CONTROLLER PLAN} midstick=${2:?} controller=${3:?} plan=${4:?}
here=$(mktemp -d)
trap 'rm -rf "$here"' EXIT
strace -qq -o /dev/null true 2>/dev/null || { echo "skipped: nothing can be traced here"; exit 77; }
failures=0

# expand NAME...: system calls by name; @NAME is one of systemd's sets, which may hold others.
expand() {
  local name
  for name; do
    # shellcheck disable=SC2046 # one name a word
    case $name in
      @*) expand $(systemd-analyze syscall-filter "$name" | sed '1d; s/^ *//; /^#/d') ;;
      *) echo "$name" ;;
    esac
  done | sort -u
}

# The lines of the filter in their order, as systemd.exec(5) has it: the first says what is allowed at all, ~ takes away, the rest adds.
: >"$here/allowed"
while read -r -a names; do
  if [[ ${names[0]} == ~* ]]; then
    names[0]=${names[0]#\~}
    comm -23 "$here/allowed" <(expand "${names[@]}") >"$here/next"
  else
    sort -u "$here/allowed" <(expand "${names[@]}") >"$here/next"
  fi
  mv "$here/next" "$here/allowed"
done < <(sed -n 's/^SystemCallFilter=//p' "$unit")
[ "$(wc -l <"$here/allowed")" -gt 200 ] || { echo "the unit allows next to nothing, or its filter was not understood"; exit 1; }

# traced WHAT COMMAND...
traced() {
  local what=$1 beyond
  shift
  strace -f -qq -o "$here/trace" "$@" >"$here/output" 2>&1 || { echo "$what: $(cat "$here/output")"; failures=$((failures + 1)); }
  beyond=$(sed -E 's/^[0-9]+ +//' "$here/trace" | grep -oE '^[a-z_0-9]+\(' | tr -d '(' | sort -u | comm -23 - "$here/allowed" | xargs)
  [ -z "$beyond" ] || { echo "$what needs calls that the unit forbids: $beyond"; failures=$((failures + 1)); }
}

cat >"$here/Makefile" <<'END'
firmware.hex: firmware.elf ; avr-objcopy -O ihex $< $@
firmware.elf: firmware.c ; avr-gcc -mmcu=atmega328p -Os -o $@ $<
END
echo 'int main(void) { for (;;) {} }' >"$here/firmware.c"
traced "make with a compiler" make -C "$here"
traced "a run on the virtual bench" "$midstick" run "$plan" --bench "virtual:$controller" --only neutral --out "$here/run"
exit $((failures > 0))
