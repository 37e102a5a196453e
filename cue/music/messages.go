package music

import (
	"fmt"

	"backfield/cue/score"
	"backfield/layout/source"
)

// The messages of this package, one function each: what is wrong, in the reader's terms, and what to do.

func oddQuarter(at source.Span, path string, fine, over, under uint8) source.Problem {
	return source.WarningAt("music-meter", at,
		fmt.Sprintf("%s says that %d 32nd notes make a quarter note, at its time signature %d/%d", path, fine, over,
			under),
		"Backfield uses 8, since the last byte of the time signature is probably wrong; check the measures")
}

func noMIDITempo(at source.Span, path string) source.Problem {
	return source.WarningAt("music-tempo", at,
		fmt.Sprintf("%s has no tempo at its beginning", path),
		"Backfield uses 120 quarter notes a minute, as MIDI files do by default; write the tempo in the music")
}

func cutMeasure(at source.Span, path string, measure int, from, to meter, cutQuarters float64) source.Problem {
	return source.WarningAt("music-meter", at,
		fmt.Sprintf("%s changes to %s after %s of measure %d of %s", path, to, quarterNotes(cutQuarters),
			measure, from),
		"it counts as a short measure; fix the meter if that is wrong")
}

func badFile(at source.Span, path, what, do string) source.Problem {
	return source.ErrorAt("bad-music", at,
		fmt.Sprintf("%s %s", path, what),
		do)
}

func twoTempos(at source.Span, path string, a, b fileTempo, notes []source.Note) source.Problem {
	return source.ErrorAt("music-tempo", at,
		fmt.Sprintf("%s has two tempos at one point, %.4g and %.4g quarter notes a minute, %s into it", path,
			a.quarters, b.quarters, quarterNotes(b.at)),
		"keep one",
		notes...)
}

func tooLong(at source.Span, name string, least float64) source.Problem {
	return source.ErrorAt("bad-music", at,
		fmt.Sprintf("%s lasts %g counts; the limit for a movement is %d", name, least, mostCounts),
		"check that it is the right file")
}

func ownNumbers(at source.Span, name string) source.Problem {
	return source.ErrorAt("bad-music", at,
		fmt.Sprintf("%s has measure numbers of its own", name),
		"remove first, or change the numbers in the music")
}

func maybePickup(at source.Span, name string, first, second meter) source.Problem {
	return source.ErrorAt("music-pickup", at,
		fmt.Sprintf("%s begins with one measure of %s before %s: is it a pickup?", name, first, second),
		"write first = 0 if it is, so that count 1 is the downbeat after it, or first = 1: "+asTable)
}

func whichBeat(at source.Span, name string, b bar, notes []source.Note) source.Problem {
	return source.ErrorAt("music-beat", at,
		fmt.Sprintf("%s has measures of %s (m. %s): what is one count of the drill there?", name, b.meter, b.number),
		`write beat = "meter" (the beat of each meter: in 6/8 a dotted quarter), "quarter", "eighth", "half", `+
			`"dotted-quarter" or "dotted-half": `+asTable,
		notes...)
}

func unknownBeat(at source.Span, beat string, names []string) source.Problem {
	return source.ErrorAt("bad-choice", at,
		fmt.Sprintf("unknown beat %q", beat),
		source.DidYouMean(beat, names, "it is "+source.OneOf(names)))
}

func badTempo(at source.Span, name string, bpm float64, count string) source.Problem {
	return source.ErrorAt("music-tempo", at,
		fmt.Sprintf("%s has a tempo of %.4g counts a minute, with %s as one count", name, bpm, count),
		fmt.Sprintf("a tempo is %d to %d counts a minute", slowest, fastest))
}

func unreadableCount(at source.Span, fault *source.Fault) source.Problem {
	return source.ErrorAt("unreadable-count", at, fault.What, fault.Do)
}

func beforeMusic(from score.MusicPlace) source.Problem {
	return source.ErrorAt("unreadable-count", from.Span,
		fmt.Sprintf("%s is before the music begins", from.V),
		"name a place in the music")
}

func fromAtEnd(from score.MusicPlace) source.Problem {
	return source.ErrorAt("unreadable-count", from.Span,
		fmt.Sprintf("%s is at the end of the music, or after it", from.V),
		"name a place in the music")
}

func pastEnd(to score.MusicPlace, byCounts float64) source.Problem {
	return source.ErrorAt("unreadable-count", to.Span,
		fmt.Sprintf("%s is %s past the end of the music", to.V, source.Count(byCounts, "count")),
		"name a place in the music")
}

func noCounts(at source.Span, begin, end string) source.Problem {
	return source.ErrorAt("unreadable-count", at,
		fmt.Sprintf("the movement ends at %s and begins at %s", end, begin),
		"a movement has at least one count")
}

func pauseOutside(at source.Span, count, counts float64) source.Problem {
	return source.ErrorAt("unreadable-count", at,
		fmt.Sprintf("this pause is at count %g, and the movement has %s", count, source.Count(counts, "count")),
		"name a place in the movement")
}

func openFermata(at source.Span, where, pauseAt string, musicAt source.Span) source.Problem {
	return source.WarningAt("music-fermata", at,
		fmt.Sprintf("a fermata in %s, but nothing says how long it is held", where),
		fmt.Sprintf(`write pauses = [{ at = %q, pause = "2 s" }], or pause = 0 if it is not held: %s`, pauseAt,
			asTable),
		source.Note{Span: musicAt, Text: "the movement's music"})
}

func badXML(at source.Span, err error, named source.Span) source.Problem {
	return source.ErrorAt("bad-music", at,
		err.Error(),
		"export it again",
		source.Note{Span: named, Text: "named here"})
}

func unclearRepeats(at source.Span, where string, fault *source.Fault, named source.Span) source.Problem {
	return source.ErrorAt("music-repeats", at, where+": "+fault.What, fault.Do,
		source.Note{Span: named, Text: "named here"})
}

func timedAndJump() *source.Fault {
	return &source.Fault{What: "this note is played at some times of a repeat only (time-only), and the music has " +
		"a jump",
		Do: "write the repeats out in your notation program (often called unrolling or expanding repeats), and " +
			"export that"}
}

func onlySometimes(at source.Span, where, words string, named source.Span) source.Problem {
	return source.WarningAt("music-repeats", at,
		fmt.Sprintf("%s: %q is for one time of a repeat, but Backfield has these notes played each time",
			where, words),
		"write the repeats out in your notation program (often called unrolling or expanding repeats), and "+
			"export that",
		source.Note{Span: named, Text: "named here"})
}

func openTimes(at source.Span, where, words string, named source.Span) source.Problem {
	return source.WarningAt("music-repeats", at,
		fmt.Sprintf("%s: %q leaves open how often this is played, but Backfield counts it as the file plays it",
			where, words),
		"write it out as often as you will play it",
		source.Note{Span: named, Text: "named here"})
}

func unclearMetronome(at, named source.Span) source.Problem {
	return source.ErrorAt("music-tempo", at,
		"this tempo is not a number",
		`write one such as "quarter note = 132"`,
		source.Note{Span: named, Text: "named here"})
}

func metronomeDiffers(at source.Span, mark, plays float64, soundAt source.Span) source.Problem {
	return source.WarningAt("music-tempo", at,
		fmt.Sprintf("this mark says %.4g quarter notes a minute, but the file plays %.4g here",
			mark, plays),
		"Backfield uses the one that plays; fix the music if the mark is right",
		source.Note{Span: soundAt, Text: "the tempo"})
}

func measureLength(b bar, meantQuarters float64, isFirst bool, named source.Span) source.Problem {
	do := "it counts as long as its notes; fix the music, or mark the measure as irregular there"
	if isFirst {
		do = "count 1 is its beginning; if it is a pickup, mark it so in the music, or write from = \"m. 2\": " +
			asTable
	}
	return source.WarningAt("music-meter", b.span,
		fmt.Sprintf("measure %s has %s, but %s has %s", b.number, quarterNotes(b.length), b.meter,
			quarterNotes(meantQuarters)),
		do,
		source.Note{Span: named, Text: "named here"})
}

func emptyMeasure(at source.Span, number string, named source.Span) source.Problem {
	return source.ErrorAt("bad-music", at,
		fmt.Sprintf("measure %q is empty, and no time signature says how long it is", clip(number)),
		"give the music a time signature",
		source.Note{Span: named, Text: "named here"})
}

func noTempo(at, named source.Span) source.Problem {
	return source.ErrorAt("music-tempo", at,
		"the music has no tempo at its beginning",
		"write a metronome mark in its first measure",
		source.Note{Span: named, Text: "named here"})
}
