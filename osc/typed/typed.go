// Package typed reads a line that an operator typed as words, and writes a name so that it is read as one word again.
package typed

import (
	"fmt"
	"slices"
	"strings"
)

// Words cuts a line at the spaces outside of quotes.
func Words(line string) ([]string, error) {
	var words []string
	var b strings.Builder
	in, quoted := false, false
	for _, c := range line {
		switch {
		case c == '"':
			quoted, in = !quoted, true
		case !quoted && (c == ' ' || c == '\t' || c == '\r'):
			if in {
				words = append(words, strings.TrimSpace(b.String()))
			}
			b.Reset()
			in = false
		case c < ' ' || c == 0x7f || c == '\uFFFD':
			return nil, fmt.Errorf("%q has characters that cannot be typed", line)
		default:
			b.WriteRune(c)
			in = true
		}
	}
	if quoted {
		return nil, fmt.Errorf("%q: the closing quote is missing", line)
	}
	if in {
		words = append(words, strings.TrimSpace(b.String()))
	}
	return slices.DeleteFunc(words, func(w string) bool { return w == "" }), nil
}

// Name is a name as one word of a line: in quotes if it has spaces.
func Name(name string) string {
	if strings.ContainsAny(name, " \t") {
		return `"` + name + `"`
	}
	return name
}
