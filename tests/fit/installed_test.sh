#!/usr/bin/env bash
# Installs into a scratch folder and works from there: every way that an installed file names holds, and the demo plays as it does in the tree.
#   installed_test.sh BUILD_FOLDER
set -euo pipefail
build=${1:?usage: installed_test.sh BUILD_FOLDER}
root=$(mktemp -d)
trap 'rm -rf "$root"' EXIT
DESTDIR=$root cmake --install "$build" >/dev/null
prefix=$root$(sed -n 's/^CMAKE_INSTALL_PREFIX:PATH=//p' "$build/CMakeCache.txt")
share=$prefix/share/midstick
unset MIDSTICK_BOARD_IMAGE
failures=0
fail() { echo "$1"; failures=$((failures + 1)); }

# expect CODE COMMAND...
expect() {
  local code=$1 got=0 output
  shift
  output=$("$@" 2>&1) || got=$?
  [ "$got" = "$code" ] || fail "$* ended with $got, expected $code: $output"
}

for file in "$share"/mower/*.json "$share"/mower/sticks/*.json; do
  expect 0 "$prefix/bin/midstick" validate "$file"
  schema=$(sed -n 's/.*"$schema": "\([^"]*\)".*/\1/p' "$file")
  [ -n "$schema" ] && [ -e "$(dirname "$file")/$schema" ] || fail "$file names the schema \"$schema\", which is not installed"
done

doc=$prefix/share/doc/midstick
for page in "$doc"/*.md; do
  for link in $(grep -oE '\]\([^)#:]+\)' "$page" | tr -d ']()'); do
    [ -e "$doc/$link" ] || fail "$page points to $link, which is not installed"
  done
done

# The configuration names its files from the root; here the root is elsewhere.
config=$(find "$root" -path '*/etc/midstick/daemon.json')
sed -i "s#\"\(virtual:\)\{0,1\}/usr#\"\1$root/usr#; s#\"file\": \"/usr#\"file\": \"$root/usr#" "$config"
expect 0 "$prefix/bin/midstick" validate "$config"
if "$prefix/bin/midstickd" --help | grep -q -- --check; then expect 0 "$prefix/bin/midstickd" --config "$config" --check; fi

play() { timeout 100 "$prefix/bin/midstick" run "$share/mower/nightly.json" --out "$root/$1" --only "$2" --bench "virtual:$3"; }
expect 0 play correct neutral "$share/mower/controller.json"
expect 1 play hold-last signal-loss "$share/images/drive-hold-last.json"
exit $((failures > 0))
