package rig

import (
	"fmt"
	"maps"
	"slices"

	"backfield/layout/field"
	"backfield/layout/source"
	"backfield/layout/stands"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// The messages of this package, one function each: what is wrong, in the reader's terms, and what to do.

func venueAdds(at source.Span, name string) source.Problem {
	return source.WarningAt("venue-adds", at,
		fmt.Sprintf("this venue adds %q, which the rig does not have", name),
		"fix the name if it should move one of the rig's")
}

func unknownFeed(feed table.Text) source.Problem {
	return source.ErrorAt("bad-choice", feed.Span,
		fmt.Sprintf("unknown feed %q", feed.V),
		`it is "stereo" or "zones"`)
}

func noReference(file *source.File) source.Problem {
	return source.ErrorAt("no-reference", file.Whole(),
		"there is no [reference] seat",
		"add [reference] with the x, y and z of the press box")
}

func noStack(file *source.File) source.Problem {
	return source.ErrorAt("no-stack", file.Whole(),
		"the rig has no loudspeaker stack",
		"add [[stack]] entries (subs alone do not count)")
}

func hashesCross(at source.Span) source.Problem {
	return source.ErrorAt("out-of-range", at,
		"the hashes cross: each is measured from its own sideline",
		"give the distance from the front sideline to the front hash")
}

func badMiddleYard(at source.Span, yard int) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("%d cannot be the middle yard line", yard),
		"yard lines come every 5 yards; most fields have the 50 in the middle")
}

func unknownField(at source.Span, code string) source.Problem {
	return source.ErrorAt("bad-choice", at,
		fmt.Sprintf("unknown field %q", code),
		source.DidYouMean(code, field.Codes(),
			"it is "+source.OneOf(field.Codes())+", or a table with length, width and hash"))
}

func unknownGrid(grid table.Text) source.Problem {
	return source.ErrorAt("bad-choice", grid.Span,
		fmt.Sprintf("unknown grid %q", grid.V),
		`it is "true" (steps of 22.5 in everywhere) or "28" (28 steps in depth reach the hash)`)
}

func twoHeights(at source.Span) source.Problem {
	return source.ErrorAt("double-height", at,
		"this place has both a z and a height",
		"keep one of the two")
}

func badDot(dot table.Text, fault *source.Fault) source.Problem {
	return source.ErrorAt("bad-dot", table.Inside(dot, fault.Lo, fault.Hi),
		fault.What,
		fault.Do)
}

func seatsAndSpacing(at source.Span) source.Problem {
	return source.ErrorAt("stands-seats", at,
		"rows of the stands have either a number of seats or a spacing",
		"write seats = 80, or spacing = \"0.5 m\", and not both")
}

func badRows(at source.Span, rows int) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("stands of %d rows", rows),
		"the stands have at least one row")
}

func badSeats(at source.Span, seats int) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("rows of %d seats", seats),
		"a row has at least one seat")
}

func badSeatWeight(at source.Span, weight float64) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("a weight of %g", weight),
		"a seat counts once (1), more, or not at all (0)")
}

func tooManySeats(file *source.File, seats int) source.Problem {
	return source.ErrorAt("too-large", file.Whole(),
		fmt.Sprintf("the stands have %d seats", seats),
		fmt.Sprintf("at most %d can be used: halve the seats of each row and give them a weight of 2", stands.Limit))
}

func panUnused(at source.Span, name string) source.Problem {
	return source.WarningAt("zones-pan", at,
		fmt.Sprintf("fixed mic %q has a pan, but this rig feeds its stacks by zones", name),
		"the pan is not used, since the sends come from the mic's place; remove the key")
}

func noZone(at source.Span, name string) source.Problem {
	return source.ErrorAt("no-zone", at,
		fmt.Sprintf("stack %q has no zone", name),
		"write zone = the number of the mix bus that feeds it, as {zone} in the mixer's [send]")
}

func zoneTwice(first, k Stack) source.Problem {
	return source.ErrorAt("zone-twice", k.ZoneAt,
		fmt.Sprintf("zone %d feeds both stack %q and stack %q", k.Zone, first.Name, k.Name),
		"give each stack its own bus",
		source.Note{Span: first.ZoneAt, Text: "first here"})
}

func badZone(at source.Span, zone int) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("zone %d", zone),
		fmt.Sprintf("zones are numbered from 1 to %d", mostZones))
}

func silentStack(at source.Span, name string) source.Problem {
	return source.ErrorAt("silent-stack", at,
		fmt.Sprintf("stack %q gets nothing from left or right", name),
		"give it left = 1 or right = 1")
}

func badStackWeight(at source.Span, weight float64) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("a weight of %g", weight),
		"left and right are amplitudes from 0 to 1; use trim for dB")
}

func badChannel(at source.Span, channel int) source.Problem {
	return source.ErrorAt("no-such-channel", at,
		fmt.Sprintf("channel %d", channel),
		"channels are numbered from 1")
}

func unknownKind(at source.Span, kind string) source.Problem {
	return source.ErrorAt("bad-choice", at,
		fmt.Sprintf("unknown kind of fixed mic %q", kind),
		source.DidYouMean(kind, kinds, "it is "+source.OneOf(kinds)))
}

func unknownPattern(at source.Span, name string) source.Problem {
	known := slices.Sorted(maps.Keys(patterns))
	return source.ErrorAt("bad-choice", at,
		fmt.Sprintf("unknown pattern %q", name),
		source.DidYouMean(name, known, "it is "+source.OneOf(known)+", or the omni share, 0 to 1"))
}

func badPattern(at source.Span, share float64) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("a pattern of %g", share),
		"as a number it is the omni share: 1 is omni, 0.5 cardioid, 0 a figure of eight")
}

func badPan(pan table.Num) source.Problem {
	return source.ErrorAt("out-of-range", pan.Span,
		fmt.Sprintf("a pan of %g", pan.V),
		"a pan is -1 (left) to 1 (right)")
}

func longLatency(at source.Span, latencyS float64) source.Problem {
	return source.WarningAt("long-latency", at,
		fmt.Sprintf("a latency of %g ms is much more than a mixer and a wireless system take", latencyS*1000),
		"measure it from mic to loudspeaker, with every channel's delay at 0")
}

// wrongSign is what most likely puts something on the field that the audience sits or listens at.
const wrongSign = "y is negative in front of the front sideline, where the audience sits: fix the sign"

func referenceOnField(at source.Span, yM float64) source.Problem {
	return source.WarningAt("seat-on-field", at,
		fmt.Sprintf("the reference seat is %.4g m behind the front sideline, on the field", yM),
		wrongSign+"; until then no cue is checked for delays and levels")
}

func standsOnField(at source.Span, yM float64) source.Problem {
	return source.WarningAt("seat-on-field", at,
		fmt.Sprintf("these stands reach %.4g m behind the front sideline, onto the field", yM),
		wrongSign)
}

func stackOnField(k Stack) source.Problem {
	return source.WarningAt("stack-on-field", k.Span,
		fmt.Sprintf("stack %q is %.4g m behind the front sideline, on the field", k.Name, k.At.Y),
		wrongSign)
}

func airInDoubt(at source.Span, d *unit.Doubt) source.Problem {
	return source.ErrorAt("bad-quantity", at, d.What, d.Do)
}

func narrowStacks(at source.Span, spanDeg float64) source.Problem {
	return source.WarningAt("narrow-stacks", at,
		fmt.Sprintf("the stacks span %.1f degrees seen from the reference seat", spanDeg),
		"that is too narrow to pan in: check their places and the reference seat's")
}

func nameTwice(at source.Span, kind, name string, first source.Span) source.Problem {
	return source.ErrorAt("duplicate-name", at,
		fmt.Sprintf("there is another %s %q", kind, name),
		"rename one",
		source.Note{Span: first, Text: "first here"})
}

func unknownName(at source.Span, name string, known []string) source.Problem {
	return source.ErrorAt("unknown-name", at,
		fmt.Sprintf("there is no stack or fixed mic %q", name),
		source.DidYouMean(name, known, "it is "+source.OneOf(known)))
}

func outOfRange(at source.Span, what string, v, lo, hi float64, unitName string) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("%s cannot be %g %s", what, v, unitName),
		fmt.Sprintf("it is %g to %g", lo, hi))
}

func aimedAtItself(at source.Span, name string) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("stack %q aims at its own place", name),
		"write a place that it points at, such as the middle of the stands")
}

func badCover(at source.Span) source.Problem {
	return source.ErrorAt("out-of-range", at, "the coverage of this stack is not two numbers",
		"write cover = [90, 40]: degrees across, then up and down")
}
