package score

import (
	"fmt"
	"slices"
	"strings"

	"backfield/layout/level"
	"backfield/layout/osctype"
	"backfield/layout/source"
	"backfield/layout/table"
)

// The messages of this package, one function each: what is wrong, in the reader's terms, and what to do.

func badArgument(at source.Span, kind table.Kind) source.Problem {
	return source.ErrorAt("wrong-type", at,
		fmt.Sprintf("an argument must be a number, a string, true or false, but this is %s", kind),
		`write args like [1, 0.5, "on", true]`)
}

func tooManyExtra(at source.Span) source.Problem {
	return source.ErrorAt("too-large", at,
		fmt.Sprintf("a cue sends at most %d extra messages", mostRaw),
		"let a scene or a macro of the mixer do the rest")
}

func unknownType(at source.Span, tag rune) source.Problem {
	return source.ErrorAt("raw-type", at,
		fmt.Sprintf("no OSC type %q is known here", tag),
		"one letter for each argument, of "+strings.Join(osctype.LettersByKind(), " "))
}

func typesForArguments(types table.Text, args int) source.Problem {
	return source.ErrorAt("raw-type", types.Span,
		fmt.Sprintf("%s for %s", source.Count(float64(len(types.V)), "type"),
			source.Count(float64(args), "argument")),
		"write one letter for each argument, or leave `types` out")
}

func otherTruth(at source.Span, tag byte) source.Problem {
	return source.ErrorAt("raw-type", at,
		fmt.Sprintf("this value does not match type %c", tag),
		"T is true, F is false; or leave `types` out, and the value decides")
}

func noString(at source.Span, tag byte, kind table.Kind) source.Problem {
	return source.ErrorAt("raw-type", at,
		fmt.Sprintf("type %c is a string, but this is %s", tag, kind),
		"put it in quotes")
}

func notASCII(at source.Span) source.Problem {
	return source.ErrorAt("raw-type", at,
		"an OSC string can only have printable ASCII characters",
		"write it without accents and special characters")
}

func noNumber(at source.Span, tag byte, kind table.Kind) source.Problem {
	return source.ErrorAt("raw-type", at,
		fmt.Sprintf("type %c is a number, but this is %s", tag, kind),
		"write a number, or another type")
}

func numberDoesNotFit(at source.Span, tag byte, v float64) source.Problem {
	return source.ErrorAt("raw-type", at,
		fmt.Sprintf("type %c cannot hold %v", tag, v),
		"write a number that fits, or another type")
}

func notMusic(at source.Span, text string) source.Problem {
	return source.ErrorAt("bad-music", at,
		fmt.Sprintf("%q is not a music file", text),
		"write a tempo as a bare number, without quotes")
}

func noSets(at source.Span) source.Problem {
	return source.ErrorAt("missing-key", at,
		`the key "sets" is missing`,
		"add it; if the sheet of dots has the counts too, say so in [drill.columns]")
}

func badPanWidth(at source.Span, width float64) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("pan width is %g", width),
		"it must be from 0 (all in the middle) to 1 (hard left and right)")
}

func unknownPan(by table.Text, ways []string) source.Problem {
	if by.V == "stand-fit" { // its name before 0.6.0
		return source.ErrorAt("bad-choice", by.Span, `the pan "stand-fit" is now called "stands"`, `write "stands"`)
	}
	return source.ErrorAt("bad-choice", by.Span,
		fmt.Sprintf("unknown way to pan %q", by.V),
		source.DidYouMean(by.V, ways, "it is "+source.OneOf(ways)))
}

func badZones(at source.Span, most int) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("%d stacks for one player", most),
		"write 1 or 2: one stack carries a player, or the two nearest do")
}

func badMostOpen(at source.Span, mostOpen int) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("most_open = %d", mostOpen),
		"it is the number of mics that may be open at once")
}

func directionsBegin(at source.Span) source.Problem {
	return source.ErrorAt("out-of-range", at,
		"the first direction is not 0 dB at 0 degrees",
		"begin with { angle = 0, db = [0, 0, 0, 0, 0, 0, 0] }: all others are in dB from there")
}

func directionsRise(at source.Span, deg, beforeDeg float64) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("%g degrees cannot come after %g", deg, beforeDeg),
		"write the directions by rising angle, the last at 180")
}

func directionsEnd(at source.Span, deg float64) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("the directions end at %g degrees, not at 180", deg),
		"add one at 180: straight behind")
}

func outOfBounds(at source.Span, what string, v, lo, hi float64) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("%s cannot be %g", what, v),
		fmt.Sprintf("it is %g to %g", lo, hi))
}

func badMovementCounts(counts table.Int) source.Problem {
	return source.ErrorAt("out-of-range", counts.Span,
		fmt.Sprintf("a movement of %d counts", counts.V),
		fmt.Sprintf("a movement has 1 to %d", longestCounts))
}

func unreadableCount(at source.Span, fault *source.Fault) source.Problem {
	return source.ErrorAt("unreadable-count", at, fault.What, fault.Do)
}

func notInMusic(place string) *source.Fault {
	return &source.Fault{
		What: fmt.Sprintf("%q is not a place in this movement's music", place),
		Do:   `write a measure or a mark, such as "m. 23 beat 3" or "mark C"`}
}

func badFirstMeasure(first table.Int) source.Problem {
	return source.ErrorAt("out-of-range", first.Span,
		fmt.Sprintf("a first measure numbered %d", first.V),
		fmt.Sprintf("it is 0 (a pickup) to %d", longestCounts))
}

func badPause(at source.Span, count float64) source.Problem {
	return source.ErrorAt("bad-tempo", at,
		fmt.Sprintf("a pause at count %g", count),
		"counts are numbered from 1, the downbeat")
}

func badBPM(at source.Span, bpm float64) source.Problem {
	return source.ErrorAt("bad-tempo", at,
		fmt.Sprintf("a tempo of %g", bpm),
		fmt.Sprintf("a tempo is %d to %d counts a minute", slowestBPM, fastestBPM))
}

func badTempoCount(at source.Span, count float64) source.Problem {
	return source.ErrorAt("bad-tempo", at,
		fmt.Sprintf("a tempo entry at count %g", count),
		"counts are numbered from 1, the downbeat")
}

func firstTempoLate(at source.Span, count float64) source.Problem {
	return source.ErrorAt("bad-tempo", at,
		fmt.Sprintf("the first tempo entry is at count %g", count),
		"the first entry is the tempo at the downbeat: at = 1")
}

func tempoOverlaps(at source.Span, count, end float64) source.Problem {
	return source.ErrorAt("bad-tempo", at,
		fmt.Sprintf("this tempo entry at count %g begins before the one above has ended (count %g)", count, end),
		"put entries in order, and let a ramp end before the next begins")
}

func badRamp(at source.Span, counts float64) source.Problem {
	return source.ErrorAt("bad-tempo", at,
		fmt.Sprintf("a ramp over %g counts", counts),
		"over is the number of counts that the change takes")
}

func rampToNowhere(at source.Span) source.Problem {
	return source.ErrorAt("bad-tempo", at,
		"this ramp has no tempo to start from, or none to go to",
		"give it a bpm, and put it after the first entry")
}

func firstTempoWithoutBPM(at source.Span) source.Problem {
	return source.ErrorAt("bad-tempo", at,
		"the first tempo entry has no bpm",
		"write the tempo at the downbeat")
}

func emptyTempoEntry(at source.Span) source.Problem {
	return source.ErrorAt("bad-tempo", at,
		"this tempo entry changes nothing",
		"give it bpm, or pause")
}

func noTempos(at source.Span) source.Problem {
	return source.ErrorAt("bad-tempo", at,
		"the list of tempos is empty",
		"write tempo = 132, or a list with { at = 1, bpm = 132 }")
}

func tooManyCues(at source.Span) source.Problem {
	return source.ErrorAt("too-large", at,
		fmt.Sprintf("more than %d cues", mostCues),
		"split the show")
}

func badID(id table.Text) source.Problem {
	return source.ErrorAt("bad-id", id.Span,
		fmt.Sprintf("%q cannot be a cue id", id.V),
		"use letters and digits, such as \"12A\"")
}

func idTwice(id table.Text, first source.Span) source.Problem {
	return source.ErrorAt("duplicate-id", id.Span,
		fmt.Sprintf("there are two cues %q", id.V),
		"rename one",
		source.Note{Span: first, Text: "first here"})
}

func atAndAfter(at source.Span) source.Problem {
	return source.ErrorAt("two-counts", at,
		"this cue has both at and after",
		"keep at for a cue that you press, after for an automatic cue")
}

func firstCueAfter(at source.Span) source.Problem {
	return source.ErrorAt("two-counts", at,
		"this is the first cue, so there is nothing for it to follow",
		`write at = "1:1"`)
}

func badAfter(at source.Span, counts float64) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("%g counts after the cue before", counts),
		"write a number over 0")
}

func noAt(at source.Span) source.Problem {
	return source.ErrorAt("missing-key", at,
		"the key \"at\" is missing",
		"add it, or after = \"8 counts\" for an automatic cue")
}

// secondsForCounts is about the value of fade, after or over.
func secondsForCounts(n *table.Node, number string) source.Problem {
	what := "this"
	if n.Key.File != nil {
		what = n.Key.File.Text[n.Key.Start:n.Key.End]
	}
	return source.ErrorAt("wrong-type", n.Span,
		what+" is in counts, not seconds",
		fmt.Sprintf("write %s or \"%s counts\"", number, number))
}

func badFade(at source.Span, counts float64) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("a fade of %g counts", counts),
		fmt.Sprintf("a fade lasts from 0 to %d counts", longestFade))
}

func waypointsGone(at source.Span, name string) source.Problem {
	return source.ErrorAt("waypoints-gone", at,
		fmt.Sprintf("[%s] is gone: an open channel's delay and pan now glide along a path, without waypoints", name),
		"delete the table; how closely a path is followed is knot under [delay] and [pan]")
}

func cueWaypointsGone(at source.Span, name string) source.Problem {
	return source.ErrorAt("waypoints-gone", at,
		fmt.Sprintf("%q is gone: an open channel's delay and pan now glide along a path, without waypoints", name),
		"delete the line; for a mixer whose delay must not move while open, write moves = \"closed\" in mixer.toml")
}

func freeRenamed(at source.Span, yes bool) source.Problem {
	do := "delete the line: the press box always has a bound, unless you write box = \"free\""
	if yes {
		do = "write box = \"free\""
	}
	return source.ErrorAt("unknown-key", at, "delay.free is now called delay.box", do)
}

func maskedRenamed(at source.Span) source.Problem {
	return source.ErrorAt("unknown-key", at, "check.masked is now called check.best, and means something else",
		"delete the line, or write how far the featured players should be over the others in their best band, "+
			"as best = 0")
}

func unknownBox(at source.Span, word string) source.Problem {
	return source.ErrorAt("bad-choice", at,
		fmt.Sprintf("unknown bound at the press box %q", word),
		"write the least and the greatest arrival gap there, [\"5 ms\", \"20 ms\"], or \"free\" for no bound")
}

func boxBackward(at source.Span, boundMS [2]float64) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("the press box's bound goes from %g to %g ms", boundMS[0], boundMS[1]),
		"write the smaller delay first, and a greater one after it")
}

func unevenKnot(at source.Span, ms float64) source.Problem {
	return source.ErrorAt("out-of-range", at,
		fmt.Sprintf("a knot of %g ms", ms),
		"it is a multiple of 0.1 ms, such as 0.5 or 1")
}

func takenRole(name table.Text) source.Problem {
	return source.ErrorAt("taken-role", name.Span,
		fmt.Sprintf("a role cannot be called %q, which means something else in [balance]", name.V),
		"give the role another name")
}

func targetWithoutRole(name table.Text, roles []string) source.Problem {
	known := append(slices.Clone(ownBalanceKeys), roles...)
	return source.ErrorAt("unknown-role", name.Span, fmt.Sprintf("no role %q in [mix], and no such limit", name.V),
		source.DidYouMean(name.V, known, "it is "+source.OneOf(known)))
}

func unknownDynamics(at source.Span, mark string) source.Problem {
	marks := level.DynamicsNames()
	return source.ErrorAt("bad-choice", at, fmt.Sprintf("unknown dynamic mark %q", mark),
		source.DidYouMean(mark, marks, "it is "+source.OneOf(marks)+", or a number of dB from forte"))
}
