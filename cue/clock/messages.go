package clock

import (
	"fmt"

	"backfield/layout/source"
)

// The messages of this package, one function each: what is wrong, in the reader's terms, and what to do.

func noSuchSet(set string, labels []string) *source.Fault {
	return &source.Fault{
		What: fmt.Sprintf("no set %q in the list of sets", set),
		Do:   source.DidYouMean(set, labels, "fix the set's number"),
	}
}

func noSuchMovement(movement, movements int) *source.Fault {
	return &source.Fault{
		What: fmt.Sprintf("the show has no movement %d", movement),
		Do:   fmt.Sprintf("it has %d", movements),
	}
}

func beforeDownbeat(p ShowCount, byCounts float64, movement int) *source.Fault {
	return &source.Fault{
		What: fmt.Sprintf("%s is %s before the downbeat of movement %d", p, source.Count(byCounts, "count"),
			movement),
		Do: "count from something in the movement before",
	}
}

func pastLastCount(movement int, counts float64) *source.Fault {
	return &source.Fault{
		What: fmt.Sprintf("movement %d has only %s", movement, source.Count(counts, "count")),
		Do:   "fix the count, or the sets' counts",
	}
}

func pastEnd(p ShowCount, byCounts float64, movement int) *source.Fault {
	return &source.Fault{
		What: fmt.Sprintf("%s is %s past the end of movement %d", p, source.Count(byCounts, "count"), movement),
		Do:   "count from something in the next movement",
	}
}

func noMeasure(name, measure, first, last string) *source.Fault {
	return &source.Fault{
		What: fmt.Sprintf("%s has no measure %q", name, measure),
		Do:   fmt.Sprintf("its measures are numbered from %s to %s", first, last),
	}
}

func measureTwice(name string, a, b Measure) *source.Fault {
	return &source.Fault{
		What: fmt.Sprintf("%s has two measures %q, at counts %s and %s", name, a.Number, trim(a.From+1),
			trim(b.From+1)),
		Do: "write the count, or number the measures in the music",
	}
}

func noBeat(x Measure, beat float64, countWords string) *source.Fault {
	return &source.Fault{
		What: fmt.Sprintf("m. %s has no beat %s: it lasts %s", x.Number, trim(beat), source.Count(x.Counts, "count")),
		Do:   "a beat is one count, here " + countWords,
	}
}

func noMark(name, mark string, names []string) *source.Fault {
	return &source.Fault{
		What: fmt.Sprintf("%s has no mark %q", name, mark),
		Do: source.DidYouMean(mark, names,
			source.OneOfOr(names, "it has no rehearsal marks; write a measure, a set or a count")),
	}
}

func markTwice(m *Music, name string, a, b Mark) *source.Fault {
	return &source.Fault{
		What: fmt.Sprintf("%s has mark %q twice, at counts %s (%s) and %s (%s)", m.Name, name, trim(a.At+1),
			m.Place(a.At),
			trim(b.At+1), m.Place(b.At)),
		Do: "write the measure",
	}
}

func noMusicHere(movement int) *source.Fault {
	return &source.Fault{
		What: fmt.Sprintf("movement %d has no music file", movement),
		Do:   `name one with tempo = "FILE.mid", or write a count or a set`,
	}
}

func whichMovement(p ShowCount, why string, a, b int) *source.Fault {
	return &source.Fault{
		What: fmt.Sprintf("%s of which movement? %s", p, why),
		Do:   fmt.Sprintf(`write "%d:%s" or "%d:%s"`, a, p, b, p),
	}
}

func noMusicAtAll(p ShowCount) *source.Fault {
	return &source.Fault{
		What: fmt.Sprintf("%s: no movement has a music file", p),
		Do:   `name one with tempo = "FILE.mid", or write a count or a set`,
	}
}

func noMeasureAnywhere(measure string) *source.Fault {
	return &source.Fault{
		What: fmt.Sprintf("no movement's music has a measure %q", measure),
		Do:   "fix the number",
	}
}

func noMarkAnywhere(mark string, names []string) *source.Fault {
	return &source.Fault{
		What: fmt.Sprintf("no movement's music has a mark %q", mark),
		Do: source.DidYouMean(mark, names,
			source.OneOfOr(names, "the files have no rehearsal marks; write a measure, a set or a count")),
	}
}
