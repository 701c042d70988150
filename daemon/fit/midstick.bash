# Completion of midstick, midstickd and midstick-virtual for bash. Commands, options and fixed values come from the program's own --help, so
# they are always those of the program at hand; everything else is completed as a file.

# _midstick_words TEXT PATTERN: what sed's PATTERN takes out of the help, commas as spaces.
_midstick_words() { sed -n "$2" <<<"$1" | tr ',' ' '; }

# _midstick_help PROGRAM [COMMAND]: its help, a set of values that goes over several lines on one.
_midstick_help() {
  "$@" --help 2>/dev/null | sed -e ':join' -e '/{[^}]*$/{N;s/\n *//' -e 'b join' -e '}'
}

_midstick() {
  local program=${1/#\~/$HOME} current=$2 previous=$3 help commands word words="" command=""
  COMPREPLY=()
  help=$(_midstick_help "$program")
  [[ -n $help ]] || return
  commands=" $(_midstick_words "$help" '/^Subcommands:/,$ s/^  \([a-z][a-z-]*\) .*/\1/p' | tr '\n' ' ') "
  for word in "${COMP_WORDS[@]:1:COMP_CWORD-1}"; do
    [[ $commands == *" $word "* ]] && command=$word && break
  done
  [[ -z $command ]] || help=$(_midstick_help "$program" "$command")

  # bash ends a word at a colon, as in serial:/dev/ttyACM0; what follows one is a file.
  [[ $current != : ]] || current=""
  if [[ $previous == -* && $help == *$'\n'"  $previous "[A-Z]* ]]; then
    words=$(_midstick_words "$help" "s/^  $previous [A-Z]*:{\([^}]*\)}.*/\1/p")
    [[ $previous != --bench || $help != *"$previous TEXT"*serial:* ]] || words="serial: virtual:"
  elif [[ $current == -* ]]; then
    words=$(_midstick_words "$help" 's/^  \(-[a-zA-Z],\)\{0,1\}\(--[a-z][a-z-]*\).*/\2/p')
  elif [[ -z ${commands// /} || -n $command ]]; then
    words=$(_midstick_words "$help" 's/^  [A-Z]* [A-Z]*:{\([^}]*\)}.*/\1/p')
  elif [[ $previous != : ]]; then
    words=$commands
  fi

  if [[ -n $words ]]; then
    mapfile -t COMPREPLY < <(compgen -W "$words" -- "$current")
    [[ ${COMPREPLY[0]:-} != *: ]] || compopt -o nospace 2>/dev/null
  else
    mapfile -t COMPREPLY < <(compgen -f -- "$current")
    compopt -o filenames 2>/dev/null
  fi
}
complete -F _midstick midstick midstickd midstick-virtual
