#!/usr/bin/env bash
# The alerts by promtool: sound, come when they must, and of metrics that the daemon has.   alerts_test.sh FOLDER METRICS_SOURCE
set -euo pipefail
folder=${1:?usage: alerts_test.sh FOLDER METRICS_SOURCE} source=${2:?usage: alerts_test.sh FOLDER METRICS_SOURCE}
here=$(mktemp -d)
trap 'rm -rf "$here"' EXIT
cp "$folder"/*.yml "$(dirname "$0")/alerts_test.yml" "$here"
cd "$here"
promtool check config --lint-fatal midstick.yml
promtool check rules --lint-fatal midstick-alerts.yml
promtool test rules alerts_test.yml
failures=0
for metric in $(grep -oE 'midstick_[a-z_]+' midstick-alerts.yml | sort -u); do
  grep -q "Name(\"$metric\")" "$source" || { echo "an alert asks for $metric, which the daemon does not have"; failures=$((failures + 1)); }
done
exit $((failures > 0))
