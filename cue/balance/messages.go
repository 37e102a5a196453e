package balance

import (
	"fmt"

	"backfield/layout/level"
	"backfield/layout/source"
)

// The messages of this package, one function each: what is wrong, in the reader's terms, and what to do.

func noInstrument(p *castPlayer) source.Problem {
	var known []string
	for _, i := range level.Instruments() {
		known = append(known, i.Name)
	}
	return source.ErrorAt("no-instrument", p.span,
		fmt.Sprintf("nobody knows how loud a %s is: %s plays, or wears a mic", p.section, p.name),
		source.DidYouMean(p.section, known, "name the section "+source.OneOf(known)))
}
