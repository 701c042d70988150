#!/usr/bin/env bash
# The manual's pages are sound mdoc: mandoc's warnings are faults.   lint_manual_test.sh PAGE...
set -euo pipefail
planted=$(mktemp)
trap 'rm -f "$planted"' EXIT
mandoc -T lint -W warning "$@" || { echo "mandoc finds faults in the pages"; exit 1; }
sed 's/^\.El$//' "$1" >"$planted"
! mandoc -T lint -W warning "$planted" >/dev/null || { echo "a list without an end went unseen"; exit 1; }
