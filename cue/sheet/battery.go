package sheet

import (
	"cmp"
	"math"
	"slices"

	"backfield/layout/source"
)

// What the plan takes for granted. All of it is said on the sheet.
const (
	LineUpMin   = 45  // packs go on before a show's downbeat: worn, checked, marched in
	PackUpMin   = 15  // and are off after its end
	ChangeMin   = 15  // a change of all batteries takes
	Reserve     = 0.2 // of the run time is never planned with: cold, worn cells, a delayed show
	leastRunMin = 30
)

// Fitting is a moment at which all packs get fresh batteries.
type Fitting struct {
	AtMin  int
	When   string // in words
	RanMin int    // how long those that come out have run, 0 at the first
	Within bool   // in the midst of a rehearsal, for no break comes in time
}

// Run is a time that all packs are on without a pause.
type Run struct {
	FromMin, ToMin int
	Show           bool
}

// Batteries is a day's plan.
type Batteries struct {
	LifeMin   int // what a set of batteries is said to run
	UsableMin int // what is planned with: LifeMin less the reserve
	Runs      []Run
	Fittings  []Fitting
	LastMin   int // how long the last set has run when the day is over
}

// Plan finds when all packs get fresh batteries: at the day's beginning, before each show, and so that none runs for
// longer than lifeMin less the reserve. Packs are on through each entry and off between. Of all ways it takes one with
// the fewest changes within rehearsals, of these one with the fewest in all, and of these the one whose last set has
// run for the least. What cannot be goes to p.
func Plan(day []Span, lifeMin int, p *source.Problems) Batteries {
	b := Batteries{LifeMin: lifeMin, UsableMin: int(float64(lifeMin)*(1-Reserve) + 1e-9)}
	ways := []way{{}}
	over := 0 // when the packs go off after the entry before
	for i, s := range day {
		free := math.MaxInt
		if i > 0 {
			free = s.FromMin - over
		}
		if s.Show {
			run := showRun(s, free)
			over = run.ToMin
			if problem := misfit(s, run, free, b.UsableMin); problem != nil {
				p.Add(*problem)
				continue
			}
			b.Runs = append(b.Runs, run)
			ways = []way{slices.MinFunc(ways, byChanges).show(run)}
			continue
		}
		run := Run{s.FromMin, s.ToMin, false}
		if i > 0 && run.FromMin < over { // they are on still, after a show
			run.FromMin, run.ToMin = over, max(over, run.ToMin)
		}
		over = run.ToMin
		b.Runs = append(b.Runs, run)
		ways = rehearse(ways, run, free, b.UsableMin)
	}
	best := slices.MinFunc(ways, byChanges)
	b.Fittings, b.LastMin = best.fittings, best.ranMin
	return b
}

// showRun is how long the packs are on for a show that begins free minutes after they went off. Where that is too short
// for a change and the line-up, they go on as soon as they are changed.
func showRun(s Span, free int) Run {
	run := Run{s.FromMin - LineUpMin, s.ToMin + PackUpMin, true}
	if free < LineUpMin+ChangeMin {
		run.FromMin = s.FromMin - free + ChangeMin
	}
	return run
}

// misfit is why no batteries can be planned for a show; nil where they can.
func misfit(s Span, run Run, free, usableMin int) *source.Problem {
	length := run.ToMin - run.FromMin
	switch {
	case free < ChangeMin:
		problem := noTimeToChange(s, free)
		return &problem
	case length > usableMin:
		problem := showTooLong(s, length, usableMin)
		return &problem
	}
	return nil
}

// rehearse leads all ways through a rehearsal that begins free minutes after the packs went off. Of those whose last
// set has run for the same time only the best goes on.
func rehearse(ways []way, run Run, free, usableMin int) []way {
	var next []way
	for _, w := range ways {
		if len(w.fittings) == 0 {
			fresh := w.fit(run.FromMin-ChangeMin, "before the first rehearsal", false)
			next = append(next, fresh.through(run, usableMin))
			continue
		}
		next = append(next, w.through(run, usableMin))
		if free >= ChangeMin {
			next = append(next, w.fit(run.FromMin-ChangeMin, "in the break", false).through(run, usableMin))
		}
	}
	slices.SortStableFunc(next, func(a, b way) int {
		return cmp.Or(cmp.Compare(a.ranMin, b.ranMin), byChanges(a, b))
	})
	return slices.CompactFunc(next, func(a, b way) bool { return a.ranMin == b.ranMin })
}

// way is a plan for the day so far: its changes, and how long the last set has run.
type way struct {
	ranMin   int
	fittings []Fitting
}

func byChanges(a, b way) int {
	return cmp.Or(cmp.Compare(a.within(), b.within()), cmp.Compare(len(a.fittings), len(b.fittings)),
		cmp.Compare(a.ranMin, b.ranMin))
}

// within is how many changes are in the midst of rehearsals.
func (w way) within() (n int) {
	for _, f := range w.fittings {
		if f.Within {
			n++
		}
	}
	return n
}

// fit is the way with one change more.
func (w way) fit(atMin int, when string, within bool) way {
	return way{0, append(slices.Clip(w.fittings), Fitting{atMin, when, w.ranMin, within})}
}

// show is the way with fresh batteries for a show.
func (w way) show(run Run) way {
	w = w.fit(run.FromMin-ChangeMin, "before the show", false)
	w.ranMin = run.ToMin - run.FromMin
	return w
}

// through goes through a rehearsal: each change as late as it can be, so that they are few and the last set runs for
// the least.
func (w way) through(run Run, usableMin int) way {
	at := run.FromMin
	for w.ranMin+run.ToMin-at > usableMin {
		at += usableMin - w.ranMin
		w.ranMin = usableMin
		w = w.fit(at, "in the rehearsal", true)
	}
	w.ranMin += run.ToMin - at
	return w
}
