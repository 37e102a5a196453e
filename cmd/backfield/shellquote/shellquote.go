// Package shellquote lets the completion scripts of shells offer names with spaces, which most players have. The
// scripts themselves are cobra's.
package shellquote

import (
	"io"
	"strings"
)

// Bash goes after cobra's bash script, and lets it offer names with spaces: several at once as they must be typed, and
// after an opening quote without quotes of their own.
const Bash = `
__backfield_names() {
    local word=${COMP_WORDS[COMP_CWORD]} quote= i
    case $word in
        \"*|\'*) quote=${word:0:1}; COMP_WORDS[COMP_CWORD]=$(printf '%q' "${word:1}") ;;
    esac
    __start_backfield "$@"
    for i in "${!COMPREPLY[@]}"; do
        if [[ -n $quote ]]; then
            [[ ${#COMPREPLY[@]} -gt 1 ]] || COMPREPLY[i]=${COMPREPLY[i]//\\/}
        elif [[ ${#COMPREPLY[@]} -gt 1 && ${COMPREPLY[i]} != *')' ]]; then
            COMPREPLY[i]=$(printf '%q' "${COMPREPLY[i]}")
        fi
    done
}
complete -o default -F __backfield_names backfield
`

// zshQuoting and fishQuoting do the same for the scripts of zsh and fish, which take a name with a space as two words,
// and an open quote as part of it. The words before the last are passed on as typed, since the scripts evaluate them.
var (
	zshQuoting = strings.NewReplacer(`words=("${=words[1,CURRENT]}")`, `words=("${(@)words[1,CURRENT]}")
    [[ ${words[-1]} != [\"\']* ]] || words[-1]=${(q)words[-1][2,-1]}`)
	fishQuoting = strings.NewReplacer(
		"set -l args (commandline -opc)",
		`set -l args (commandline -opc | string replace -ra '([^\w./~$:=,+@%-])' '\\\\$1')`,
		"set -l lastArg (string escape -- (commandline -ct))",
		`set -l lastArg (commandline -ct | string replace -r '^["\']' '' | string replace -ra '\\\\(.)' '$1' `+
			`| string escape)`,
	)
)

// Zsh writes the script of zsh that write makes, with its lines about words replaced.
func Zsh(out io.Writer, write func(w io.Writer) error) error { return requoted(out, zshQuoting, write) }

// Fish writes the script of fish that write makes, with its lines about words replaced.
func Fish(out io.Writer, write func(w io.Writer) error) error {
	return requoted(out, fishQuoting, write)
}

// requoted writes a script with its lines about words replaced.
func requoted(out io.Writer, quoting *strings.Replacer, write func(w io.Writer) error) error {
	var script strings.Builder
	if err := write(&script); err != nil {
		return err
	}
	_, err := quoting.WriteString(out, script.String())
	return err
}
