package compile

import (
	"cmp"
	"fmt"
	"slices"

	"backfield/cue"
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
	manyFollowOns    = 3  // a cue that needs as many might be cut by hand
	pressedTooCloseS = 2.0
)

// Suggest lists, in order of time, where the designer might want cues of his own: mics that close and open again
// within a few counts, cues too close to be pressed by hand, mics that stay open for so long that their players
// rest in between, walks that need many follow-ons. The program hears no music: these are questions.
func (r *Result) Suggest() []Suggestion {
	var list []Suggestion
	add := func(m *Moment, format string, args ...any) {
		list = append(list, Suggestion{r.Clock.Seconds(m.At), m.Cue.ID.Span, fmt.Sprintf(format, args...)})
	}
	follow := map[int]int{}
	for _, pc := range r.pieces {
		follow[pc.cue] = max(follow[pc.cue], pc.n)
	}
	since := map[int]int{} // by line: the cue that opened it
	closed := map[int]int{}
	for i := range r.Cues {
		m := &r.Cues[i]
		if i > 0 {
			before := &r.Cues[i-1]
			if gap := r.Clock.Seconds(m.At) - r.Clock.Seconds(before.At); gap < pressedTooCloseS && !m.Cue.Auto {
				add(m, "cue %q comes %.2f s after cue %q: make them one, or let this one go by itself (after)", m.Cue.ID.V, gap, before.Cue.ID.V)
			}
		}
		if n := follow[i]; n >= manyFollowOns {
			add(m, "cue %q needs %d follow-ons for %s: a cue of your own where the picture turns might read better", m.Cue.ID.V, n, r.walkers(i))
		}
		var quick, long []string
		for l := range r.lines {
			if r.lines[l].fixed != nil {
				continue
			}
			o, open := m.open[l]
			_, was := since[l]
			switch {
			case open && !was:
				if c, ok := closed[l]; ok && r.Clock.Counts(r.Cues[c].At, m.At) < shortGapCounts {
					quick = append(quick, o.name)
				}
				since[l] = i
			case !open && was:
				if n := r.Clock.Counts(r.Cues[since[l]].At, m.At); n > longOpenCounts {
					long = append(long, r.Cues[i-1].open[l].name)
				}
				delete(since, l)
				closed[l] = i
			}
		}
		if len(quick) > 0 {
			add(m, "cue %q opens %s again within %d counts of closing: keep open, or open later", m.Cue.ID.V, few(quick), shortGapCounts)
		}
		if len(long) > 0 {
			add(m, "%s stayed open for more than %d counts up to cue %q: where they rest, a cue could close them", few(long), longOpenCounts, m.Cue.ID.V)
		}
	}
	if n := len(r.Cues); n > 0 {
		var long []string
		for _, l := range sorted(since) {
			if r.Clock.Counts(r.Cues[since[l]].At, r.Clock.End()) > longOpenCounts {
				long = append(long, r.Cues[n-1].open[l].name)
			}
		}
		if len(long) > 0 {
			verb := "stay"
			if len(long) == 1 {
				verb = "stays"
			}
			add(&r.Cues[n-1], "%s %s open for more than %d counts to the end of the show: where they rest, a cue could close them", few(long), verb, longOpenCounts)
		}
	}
	slices.SortStableFunc(list, func(a, b Suggestion) int { return cmp.Compare(a.TimeS, b.TimeS) })
	return list
}

// walkers names the worn mics that are open in a cue and walk.
func (r *Result) walkers(i int) string {
	var names []string
	for n, pc := range r.pieces {
		if pc.cue != i {
			continue
		}
		for _, w := range r.works[n] {
			if w.Kind == cue.Worn && w.Start != w.End && !slices.Contains(names, w.Name) {
				names = append(names, w.Name)
			}
		}
	}
	if len(names) == 0 {
		return "who walks"
	}
	return few(names)
}
