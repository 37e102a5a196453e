package balance

import (
	"fmt"
	"slices"

	"backfield/cue/readings"
	"backfield/cue/score"
	"backfield/layout/level"
	"backfield/layout/rig"
	"backfield/layout/source"
	"backfield/layout/table"
)

// The messages of this package, one function each: what is wrong, in the reader's terms, and what to do.

// noInstrument is about an instrument that is neither known nor described; own are those that the score describes.
func noInstrument(p *castPlayer, own []score.GivenInstrument) source.Problem {
	var known []string
	for _, i := range level.Instruments() {
		known = append(known, i.Name)
	}
	for _, i := range own {
		known = append(known, i.Name)
	}
	at, do := p.at, "it is "+source.OneOf(known)
	if at.File == nil {
		at, do = p.span, "name the section so, or give the player an instrument in the roster: "+source.OneOf(known)
	}
	do += fmt.Sprintf("; or describe it in show.toml, under [instruments.%s]", p.plays)
	return source.ErrorAt("no-instrument", at,
		fmt.Sprintf("nobody knows how loud a %s is, and %s plays it or wears a mic", p.plays, p.name),
		source.DidYouMean(p.plays, known, do))
}

func micInside(p *castPlayer, at source.Span) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("the mic of %s is 0 m from a %s, which has no bell", p.name, p.plays),
		"write how far it is from what sounds, in meters")
}

func oddMeter(at source.Span, name string, db float64) source.Problem {
	return source.WarningAt("level-odd", at, fmt.Sprintf("the preamp of %s is %+g dB off nominal", name, db),
		"set the preamp so that forte reads nominal, or check the number")
}

func unknownCue(id table.Text, mic string, known []string) source.Problem {
	return source.ErrorAt("unknown-name", id.Span, fmt.Sprintf("no cue %q opens %s", id.V, mic),
		source.DidYouMean(id.V, known, "it is "+source.OneOf(known)))
}

func unknownStack(name table.Text, main, all []rig.Stack) source.Problem {
	var known []string
	for _, k := range main {
		known = append(known, k.Name)
	}
	if slices.ContainsFunc(all, func(k rig.Stack) bool { return k.Name == name.V }) {
		return readings.Unused(name.Span, fmt.Sprintf("%q is a sub, and subs do not count", name.V),
			"play the noise through "+source.OneOf(known))
	}
	return noneCalled("stack", name, known)
}

func unknownRing(name table.Text, list []rig.Mic) source.Problem {
	var known []string
	for i := range list {
		if hears(&list[i]) {
			known = append(known, list[i].Name)
		}
	}
	switch {
	case slices.Contains(known, name.V):
		return readings.Unused(name.Span, fmt.Sprintf("no cue opens %s", name.V), "remove the line")
	case slices.ContainsFunc(list, func(m rig.Mic) bool { return m.Name == name.V }):
		return readings.Unused(name.Span, fmt.Sprintf("%s comes in on a line, so it cannot ring", name.V),
			"remove the line")
	}
	return noneCalled("fixed mic", name, known)
}

// noneCalled is about a name of which there is none among those that are known.
func noneCalled(what string, name table.Text, known []string) source.Problem {
	return readings.Unused(name.Span, fmt.Sprintf("no %s is called %q", what, name.V),
		source.DidYouMean(name.V, known, "it is "+source.OneOf(known)))
}
