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
type BatteryChange struct {
	AtMin           int
	When            string // in words
	RanMin          int    // how long those that come out have run, 0 at the first
	DuringRehearsal bool   // in the midst of a rehearsal, for no break comes in time
}

// Run is a time that all packs are on without a pause.
type PowerOn struct {
	FromMin, ToMin int
	Show           bool
}

// Batteries is a day's plan.
type Batteries struct {
	LifeMin   int // what a set of batteries is said to run
	UsableMin int // what is planned with: LifeMin less the reserve
	On        []PowerOn
	Changes   []BatteryChange
	LastMin   int // how long the last set has run when the day is over
}

// Plan finds when all packs get fresh batteries: at the day's beginning, before each show, and so that none runs for
// longer than lifeMin less the reserve. Packs are on through each entry and off between. Of all ways it takes one with
// the fewest changes within rehearsals, of these one with the fewest in all, and of these the one whose last set has
// run for the least. What cannot be goes to p.
func Plan(day []DayEntry, lifeMin int, p *source.Problems) Batteries {
	b := Batteries{LifeMin: lifeMin, UsableMin: int(float64(lifeMin)*(1-Reserve) + 1e-9)}
	ways := []dayPlan{{}}
	over := 0 // when the packs go off after the entry before
	for i, s := range day {
		free := math.MaxInt
		if i > 0 {
			free = s.FromMin - over
		}
		if s.Show {
			run := showRun(s, free)
			over = run.ToMin
			if problem := cannotPower(s, run, free, b.UsableMin); problem != nil {
				p.Add(*problem)
				continue
			}
			b.On = append(b.On, run)
			ways = []dayPlan{slices.MinFunc(ways, byChanges).show(run)}
			continue
		}
		run := PowerOn{s.FromMin, s.ToMin, false}
		if i > 0 && run.FromMin < over { // they are on still, after a show
			run.FromMin, run.ToMin = over, max(over, run.ToMin)
		}
		over = run.ToMin
		b.On = append(b.On, run)
		ways = rehearse(ways, run, free, b.UsableMin)
	}
	best := slices.MinFunc(ways, byChanges)
	b.Changes, b.LastMin = best.changes, best.ranMin
	return b
}

// showRun is how long the packs are on for a show that begins free minutes after they went off. Where that is too short
// for a change and the line-up, they go on as soon as they are changed.
func showRun(s DayEntry, free int) PowerOn {
	run := PowerOn{s.FromMin - LineUpMin, s.ToMin + PackUpMin, true}
	if free < LineUpMin+ChangeMin {
		run.FromMin = s.FromMin - free + ChangeMin
	}
	return run
}

// misfit is why no batteries can be planned for a show; nil where they can.
func cannotPower(s DayEntry, run PowerOn, free, usableMin int) *source.Problem {
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
func rehearse(ways []dayPlan, run PowerOn, free, usableMin int) []dayPlan {
	var next []dayPlan
	for _, w := range ways {
		if len(w.changes) == 0 {
			fresh := w.fit(run.FromMin-ChangeMin, "before the first rehearsal", false)
			next = append(next, fresh.through(run, usableMin))
			continue
		}
		next = append(next, w.through(run, usableMin))
		if free >= ChangeMin {
			next = append(next, w.fit(run.FromMin-ChangeMin, "in the break", false).through(run, usableMin))
		}
	}
	slices.SortStableFunc(next, func(a, b dayPlan) int {
		return cmp.Or(cmp.Compare(a.ranMin, b.ranMin), byChanges(a, b))
	})
	return slices.CompactFunc(next, func(a, b dayPlan) bool { return a.ranMin == b.ranMin })
}

// way is a plan for the day so far: its changes, and how long the last set has run.
type dayPlan struct {
	ranMin  int
	changes []BatteryChange
}

func byChanges(a, b dayPlan) int {
	return cmp.Or(cmp.Compare(a.within(), b.within()), cmp.Compare(len(a.changes), len(b.changes)),
		cmp.Compare(a.ranMin, b.ranMin))
}

// within is how many changes are in the midst of rehearsals.
func (w dayPlan) within() (n int) {
	for _, f := range w.changes {
		if f.DuringRehearsal {
			n++
		}
	}
	return n
}

// fit is the way with one change more.
func (w dayPlan) fit(atMin int, when string, within bool) dayPlan {
	return dayPlan{0, append(slices.Clip(w.changes), BatteryChange{atMin, when, w.ranMin, within})}
}

// show is the way with fresh batteries for a show.
func (w dayPlan) show(run PowerOn) dayPlan {
	w = w.fit(run.FromMin-ChangeMin, "before the show", false)
	w.ranMin = run.ToMin - run.FromMin
	return w
}

// through goes through a rehearsal: each change as late as it can be, so that they are few and the last set runs for
// the least.
func (w dayPlan) through(run PowerOn, usableMin int) dayPlan {
	at := run.FromMin
	for w.ranMin+run.ToMin-at > usableMin {
		at += usableMin - w.ranMin
		w.ranMin = usableMin
		w = w.fit(at, "in the rehearsal", true)
	}
	w.ranMin += run.ToMin - at
	return w
}
