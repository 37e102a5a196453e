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
	at, do := p.at, "it is "+source.OneOf(known)
	if at.File == nil {
		at, do = p.span, "name the section so, or give the player an instrument in the roster: "+source.OneOf(known)
	}
	return source.ErrorAt("no-instrument", at,
		fmt.Sprintf("nobody knows how loud a %s is, and %s plays it or wears a mic", p.plays, p.name),
		source.DidYouMean(p.plays, known, do))
}

func micInside(p *castPlayer, at source.Span) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("the mic of %s is 0 m from a %s, which has no bell", p.name, p.plays),
		"write how far it is from what sounds, in meters")
}
