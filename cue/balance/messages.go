package balance

import (
	"fmt"

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

func nearBackground(at source.Span, dba, backgroundDBA float64) source.Problem {
	return source.ErrorAt("level-noise", at,
		fmt.Sprintf("%g dBA is less than 3 dB above the background of %g dBA, so it says nothing", dba, backgroundDBA),
		"read again when it is quieter, or play the noise louder; or remove this reading")
}

// odd is a reading that may be right, and most likely is not.
func odd(at source.Span, what, do string) source.Problem {
	return source.WarningAt("level-odd", at, what, do)
}

func oddNominal(at source.Span, db float64) source.Problem {
	return odd(at, fmt.Sprintf("by this, noise at nominal has %.0f dB at 1 m from the stack: usual is 80 to 125", db),
		"check the fader (0), the channel's meter, the stack and its trim, and read again")
}

func oddBand(at source.Span, db float64) source.Problem {
	return odd(at, fmt.Sprintf("by this, everybody is %+.0f dB against the table: usual is -6 to 12", db),
		"check who played, at which dots and how loudly, and that the loudspeakers were off")
}

func oddRing(at source.Span, db float64) source.Problem {
	return odd(at, fmt.Sprintf("by this, the mic rings %.0f dB from where it is computed to", db),
		"check the fader, the mic's place and its preamp, and that all other mics were closed")
}

func oddMeter(at source.Span, name string, db float64) source.Problem {
	return odd(at, fmt.Sprintf("the preamp of %s is %+g dB off nominal", name, db),
		"set the preamp so that forte reads nominal, or check the number")
}

func unknownStack(name table.Text, list []rig.Stack) source.Problem {
	var known []string
	for _, k := range list {
		known = append(known, k.Name)
	}
	return unknownIn(name, "stack other than subs", known)
}

func unknownRing(name table.Text, list []rig.Mic) source.Problem {
	var known []string
	for i := range list {
		if hears(&list[i]) {
			known = append(known, list[i].Name)
		}
	}
	return unknownIn(name, "fixed mic that a cue opens", known)
}

func unknownIn(name table.Text, what string, known []string) source.Problem {
	return source.ErrorAt("unknown-name", name.Span, fmt.Sprintf("no %s %q", what, name.V),
		source.DidYouMean(name.V, known, "it is "+source.OneOf(known)))
}

func unknownBrass(name table.Text, sections []string) source.Problem {
	return source.ErrorAt("unknown-section", name.Span, fmt.Sprintf("no section %q in the roster", name.V),
		source.DidYouMean(name.V, sections, "it is "+source.OneOf(sections)))
}

func unknownSoloist(name table.Text, players []string) source.Problem {
	return source.ErrorAt("unknown-player", name.Span, fmt.Sprintf("no player %q in the roster", name.V),
		source.DidYouMean(name.V, players, "write a player of the roster"))
}

func unknownSetOf(label table.Text, labels []string) source.Problem {
	return source.ErrorAt("unknown-set", label.Span, fmt.Sprintf("no set %q in the drill", label.V),
		source.DidYouMean(label.V, labels, "write the set in which they stood"))
}

func unknownMark(mark table.Text) source.Problem {
	marks := level.DynamicsNames()
	return source.ErrorAt("bad-choice", mark.Span, fmt.Sprintf("unknown dynamic mark %q", mark.V),
		source.DidYouMean(mark.V, marks, "it is "+source.OneOf(marks)))
}

func nobodyThere(name table.Text, set string) source.Problem {
	return source.ErrorAt("no-dot", name.Span,
		fmt.Sprintf("%s has no dot in set %s, or no instrument that is known", name.V, set),
		"write the set in which they stood")
}
