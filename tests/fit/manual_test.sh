#!/usr/bin/env bash
# The manual says all that the programs say of themselves: every command and option of --help, every member of the configuration's schema.
#   manual_test.sh PAGE PROGRAM        PROGRAM may be a schema (FILE.json), which needs jq
set -euo pipefail
page=${1:?usage: manual_test.sh PAGE PROGRAM} program=${2:?usage: manual_test.sh PAGE PROGRAM}
failures=0 seen=0
fail() { echo "$page: $1"; failures=$((failures + 1)); }

# section NAME: the lines of that subsection; of the whole page where NAME is empty.
section() {
  awk -v name="$1" '/^\.S[sh] /{inside = ($0 == ".Ss " name)} inside || name == ""' "$page"
}

# says SECTION ITEM: the section, or one that it names by .Sx, has a list item with these words.
says() {
  local text name
  text=$(section "$1")
  while read -r name; do text+=$'\n'$(section "$name"); done < <(sed -n 's/^\.Sx \(.*[A-Za-z]\).*$/\1/p' <<<"$text")
  grep -Eq -- "^\.(It|Op)( .*)? ${2//$/\\$}( |$)" <<<"$text"
}

# options TEXT: the long options that a help text lists, one a line.
options() { sed -n 's/^  \(-[a-zA-Z],\)\{0,1\}--\([a-z][a-z-]*\).*/\2/p' <<<"$1"; }
# commands TEXT: the subcommands that a help text lists.
commands() { sed -n '/^Subcommands:/,$ s/^  \([a-z][a-z-]*\) .*/\1/p' <<<"$1"; }

check_program() {
  local help text option name
  help=$("$program" --help)
  for option in $(options "$help"); do
    seen=$((seen + 1))
    grep -Eq -- "Fl Fl $option( |$)" "$page" || fail "$(basename "$program") has --$option; the page does not say so"
  done
  for name in $(commands "$help"); do
    seen=$((seen + 1))
    [ -n "$(section "$name")" ] || { fail "$(basename "$program") has the command $name; the page has no section of that name"; continue; }
    text=$("$program" "$name" --help)
    for option in $(options "$text"); do
      seen=$((seen + 1))
      [ "$option" = help ] || says "$name" "Fl Fl $option" || fail "$name has --$option; its section does not say so"
    done
  done
}

# Members of an object of the schema stand under the list or object that holds them; a default stands beside its member.
check_schema() {
  local where key default
  while IFS=$'\t' read -r where key default; do
    seen=$((seen + 1))
    says "$where" "Ic (.*, |.* )?$key" || { fail "the schema has $where/$key; the page does not say so"; continue; }
    [ -z "$default" ] || section "$where" | sed -n "/^\.It Ic $key$/,/^\.It\|^\.El/p" | grep -Eq "(^|[^0-9a-z])${default//./\\.}([^0-9a-z]|$)" ||
      fail "$where/$key is $default by default; the page does not say so"
  done < <(jq -r '
    def members(where): .properties | to_entries[] | [where, .key,
      (.value.default | if type == "number" or type == "string" then tostring else "" end)] | @tsv;
    members("Members"), (.properties | (.listen | members("listen")), (.retention | members("retention")), (.log | members("log"))),
    (.definitions | (.bench | members("benches")), (.controller | members("controllers")),
      (.controller.properties.prepare | members("prepare")), (.plan | members("plans")), (.night | members("nights")),
      (.webhook | members("webhooks")))' "$program")
}

case $program in *.json) check_schema ;; *) check_program ;; esac
[ "$seen" -ge 3 ] || fail "only $seen things found in $program; is its help another now?"
exit $((failures > 0))
