// Package suggest asks where a show's designer might want a different cue. The program cannot hear the music: these
// are questions, not problems.
package suggest

import (
	"cmp"
	"fmt"
	"slices"

	"backfield/cue/compile"
	"backfield/cue/timeline"
	"backfield/layout/source"
)

// Suggestion is a place in the score where the designer might want a different cue.
type Suggestion struct {
	TimeS float64
	Span  source.Span
	Text  string
}

// When something is worth a suggestion.
const (
	shortGapCounts   = 8  // a mic closed for less is hardly worth closing
	longOpenCounts   = 96 // the player of a mic that is open for longer probably rests in between
	pressedTooCloseS = 2.0
)

// list collects suggestions.
type list struct {
	*compile.Result
	found []Suggestion
}

func (x *list) add(c *timeline.TimedCue, format string, args ...any) {
	x.found = append(x.found, Suggestion{x.Clock.Seconds(c.At), c.Cue.ID.Span, fmt.Sprintf(format, args...)})
}

// List lists suggestions in order of time: cues that are hard to press in a row, mics that
// close for a moment, and mics that are open for so long that their players probably rest in between.
func List(r *compile.Result) []Suggestion {
	x := &list{Result: r}
	for i := range r.Cues {
		x.close(i)
	}
	x.mics()
	slices.SortStableFunc(x.found, func(a, b Suggestion) int { return cmp.Compare(a.TimeS, b.TimeS) })
	return x.found
}

// close asks about a cue that comes too soon after the one before it.
func (x *list) close(i int) {
	if i == 0 || x.Cues[i].Cue.Auto {
		return
	}
	c, before := &x.Cues[i], &x.Cues[i-1]
	if gap := x.Clock.Seconds(c.At) - x.Clock.Seconds(before.At); gap < pressedTooCloseS {
		x.add(c, "cue %q comes %.2f s after cue %q: make them one, or make this one automatic (after)",
			c.Cue.ID.V, gap, before.Cue.ID.V)
	}
}

// mics asks about worn mics that close for a moment, and about those that are open for long.
func (x *list) mics() {
	opened := map[int]int{} // by line: the cue that opened it, if it is open
	closed := map[int]int{} // by line: the cue that last closed it
	for i := range x.Cues {
		c := &x.Cues[i]
		var quick, long []string
		for l := range x.Lines.List {
			if x.Lines.List[l].Fixed != nil {
				continue
			}
			o, open := c.Open[l]
			since, was := opened[l]
			switch {
			case open && !was:
				last, ok := closed[l]
				ok = ok && x.Cues[last].At.Movement == c.At.Movement // it closes at the end of a movement
				if ok && x.Clock.Counts(x.Cues[last].At, c.At) < shortGapCounts {
					quick = append(quick, o.Name)
				}
				opened[l] = i
			case !open && was:
				if x.Clock.Counts(x.Cues[since].At, c.At) > longOpenCounts && !x.known(since, i, l) {
					long = append(long, x.Cues[i-1].Open[l].Name)
				}
				delete(opened, l)
				closed[l] = i
			}
		}
		if len(quick) > 0 {
			x.add(c, "cue %q opens %s within %d counts of closing them: keep them open, or open them later",
				c.Cue.ID.V, timeline.Few(quick), shortGapCounts)
		}
		if len(long) > 0 {
			x.add(c, "%s: open for over %d counts up to cue %q; where they rest, a cue could close the mics",
				timeline.Few(long), longOpenCounts, c.Cue.ID.V)
		}
	}
	x.toTheEnd(opened)
}

// known reports whether the music says what the player of a line plays while it is open: then check warns about long rests
// (open-resting), and there is nothing to guess.
func (x *list) known(from, to, line int) bool {
	for i := from; i < to; i++ {
		if x.Setup.Lanes.Of(x.Cues[i].Open[line].Name, x.Cues[i].At.Movement) == nil {
			return false
		}
	}
	return true
}

// toTheEnd asks about worn mics that have been open for long at the end of the show.
func (x *list) toTheEnd(opened map[int]int) {
	var long []string
	for _, l := range timeline.Sorted(opened) {
		if x.Clock.Counts(x.Cues[opened[l]].At, x.Clock.End()) > longOpenCounts && !x.known(opened[l], len(x.Cues), l) {
			long = append(long, x.Cues[len(x.Cues)-1].Open[l].Name)
		}
	}
	if len(long) == 0 {
		return
	}
	x.add(&x.Cues[len(x.Cues)-1],
		"%s: open for over %d counts up to the end of the show; where they rest, a cue could close the mics",
		timeline.Few(long), longOpenCounts)
}
