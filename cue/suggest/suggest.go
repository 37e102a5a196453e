// Package suggest asks where a show's designer might want something else. The program hears no music: these are
// questions, not problems.
package suggest

import (
	"cmp"
	"fmt"
	"slices"

	"backfield/cue"
	"backfield/cue/compile"
	"backfield/cue/timeline"
	"backfield/layout/source"
)

// Suggestion is a place in the score where a designer might want something else.
type Suggestion struct {
	TimeS float64
	Span  source.Span
	Text  string
}

// When something is worth a suggestion.
const (
	shortGapCounts   = 8  // a mic closed for less was hardly worth closing
	longOpenCounts   = 96 // a mic open for longer most likely rests in between
	manyWaypoints    = 3  // a cue that needs as many might be cut by hand
	pressedTooCloseS = 2.0
)

// list gathers suggestions.
type list struct {
	*compile.Result
	found []Suggestion
}

func (x *list) add(c *timeline.TimedCue, format string, args ...any) {
	x.found = append(x.found, Suggestion{x.Clock.Seconds(c.At), c.Cue.ID.Span, fmt.Sprintf(format, args...)})
}

// List lists, in order of time, where the designer might want cues of their own: cues too close to be pressed, walks
// that need many waypoints, mics that close and open again within a few counts, mics that stay open for so long that
// their players rest in between.
func List(r *compile.Result) []Suggestion {
	x := &list{Result: r}
	for i := range r.Cues {
		x.close(i)
		x.waypoints(i)
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
		x.add(c, "cue %q comes %.2f s after cue %q: make them one, or let this one go by itself (after)",
			c.Cue.ID.V, gap, before.Cue.ID.V)
	}
}

// waypoints asks about a cue that needs many.
func (x *list) waypoints(i int) {
	most := 0
	var names []string // of the worn mics that walk
	for n, pc := range x.Pieces {
		if pc.Cue != i {
			continue
		}
		most = max(most, pc.N)
		for _, w := range x.Derivations[n] {
			if w.Kind == cue.Worn && w.Place.Start != w.Place.End && !slices.Contains(names, w.Name) {
				names = append(names, w.Name)
			}
		}
	}
	if most < manyWaypoints {
		return
	}
	who := "who walks"
	if len(names) > 0 {
		who = timeline.Few(names)
	}
	c := &x.Cues[i]
	x.add(c, "cue %q needs %d follow-ons for %s: a cue of your own where the picture turns might read better",
		c.Cue.ID.V, most, who)
}

// mics asks about worn mics that were hardly closed, and about those that are open for long.
func (x *list) mics() {
	opened, closed := map[int]int{}, map[int]int{} // by line: the cue that last did; a line that is open is in opened
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
				if last, ok := closed[l]; ok && x.Clock.Counts(x.Cues[last].At, c.At) < shortGapCounts {
					quick = append(quick, o.Name)
				}
				opened[l] = i
			case !open && was:
				if x.Clock.Counts(x.Cues[since].At, c.At) > longOpenCounts {
					long = append(long, x.Cues[i-1].Open[l].Name)
				}
				delete(opened, l)
				closed[l] = i
			}
		}
		if len(quick) > 0 {
			x.add(c, "cue %q opens %s again within %d counts of closing: keep open, or open later",
				c.Cue.ID.V, timeline.Few(quick), shortGapCounts)
		}
		if len(long) > 0 {
			x.add(c, "%s stayed open for more than %d counts up to cue %q: where they rest, a cue could close them",
				timeline.Few(long), longOpenCounts, c.Cue.ID.V)
		}
	}
	x.toTheEnd(opened)
}

// toTheEnd asks about worn mics that have been open for long when the show ends.
func (x *list) toTheEnd(opened map[int]int) {
	var long []string
	for _, l := range timeline.Sorted(opened) {
		if x.Clock.Counts(x.Cues[opened[l]].At, x.Clock.End()) > longOpenCounts {
			long = append(long, x.Cues[len(x.Cues)-1].Open[l].Name)
		}
	}
	if len(long) == 0 {
		return
	}
	verb := "stay"
	if len(long) == 1 {
		verb = "stays"
	}
	x.add(&x.Cues[len(x.Cues)-1],
		"%s %s open for more than %d counts to the end of the show: where they rest, a cue could close them",
		timeline.Few(long), verb, longOpenCounts)
}
