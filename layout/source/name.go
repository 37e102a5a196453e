package source

import (
	"fmt"
	"strings"

	"backfield/layout/visible"
)

// CheckName warns about a name with a character that cannot be seen in it: it looks like another name, and is none.
func (p *Problems) CheckName(at Span, name string) {
	if what := visible.Strange(name); what != "" {
		p.Warn("hidden-character", at, fmt.Sprintf("this name has %s in it, which cannot be seen", what),
			"type the name again; a name that looks the same elsewhere is another one")
	}
}

// And joins words: "a, b and c".
func And(words []string) string {
	last := len(words) - 1
	if last < 1 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:last], ", ") + " and " + words[last]
}
