package sheet

import (
	"cmp"
	"math"
	"slices"

	"backfield/layout/source"
)

// What the plan assumes, which the sheet says too.
const (
	LineUpMin   = 45  // how long before a show's downbeat the packs go on, to be put on, checked and marched in
	PackUpMin   = 15  // how long after its end they go off
	ChangeMin   = 15  // how long it takes to change all batteries
	Reserve     = 0.2 // the share of the run time that is not used: for cold, old cells, a late start
	leastRunMin = 30
)

// BatteryChange is a time at which all packs get fresh batteries.
type BatteryChange struct {
	AtMin           int
	When            string // in words
	RanMin          int    // how long the old ones have run, 0 for the first change
	DuringRehearsal bool   // no break comes in time
}

// PowerOn is a time during which all packs are on.
type PowerOn struct {
	FromMin, ToMin int
	Show           bool
}

// Batteries is the plan for a day.
type Batteries struct {
	LifeMin   int // how long a set of batteries runs, by the maker
	UsableMin int // LifeMin without the reserve
	On        []PowerOn
	Changes   []BatteryChange
	LastMin   int // how long the last set has run at the end of the day
}

// Plan finds when all packs get fresh batteries: at the beginning of the day, before each show, and so that no set runs
// longer than lifeMin without the reserve. Packs are on through each entry and off in between. Of all plans it takes one
// with the fewest changes during rehearsals, of these one with the fewest in all, and of these the one whose last set
// has run the shortest. What is impossible goes to p.
func Plan(day []DayEntry, lifeMin int, p *source.Problems) Batteries {
	b := Batteries{LifeMin: lifeMin, UsableMin: int(float64(lifeMin)*(1-Reserve) + 1e-9)}
	plans := []dayPlan{{}}
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
			plans = []dayPlan{slices.MinFunc(plans, byChanges).show(run)}
			continue
		}
		run := PowerOn{s.FromMin, s.ToMin, false}
		if i > 0 && run.FromMin < over { // they are still on after a show
			run.FromMin, run.ToMin = over, max(over, run.ToMin)
		}
		over = run.ToMin
		b.On = append(b.On, run)
		plans = rehearse(plans, run, free, b.UsableMin)
	}
	best := slices.MinFunc(plans, byChanges)
	b.Changes, b.LastMin = best.changes, best.ranMin
	return b
}

// showRun is when the packs are on for a show that begins free minutes after they went off. If that is too short for a
// change and the line-up, they go on as soon as the batteries are changed.
func showRun(s DayEntry, free int) PowerOn {
	run := PowerOn{s.FromMin - LineUpMin, s.ToMin + PackUpMin, true}
	if free < LineUpMin+ChangeMin {
		run.FromMin = s.FromMin - free + ChangeMin
	}
	return run
}

// cannotPower is why there is no plan for a show; nil if there is one.
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

// rehearse continues all plans through a rehearsal that begins free minutes after the packs went off. Of those whose
// last set has run for the same time, only the best is kept.
func rehearse(plans []dayPlan, run PowerOn, free, usableMin int) []dayPlan {
	var next []dayPlan
	for _, w := range plans {
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

// dayPlan is a plan for the day up to some entry: its changes, and how long the last set has run.
type dayPlan struct {
	ranMin  int
	changes []BatteryChange
}

func byChanges(a, b dayPlan) int {
	return cmp.Or(cmp.Compare(a.within(), b.within()), cmp.Compare(len(a.changes), len(b.changes)),
		cmp.Compare(a.ranMin, b.ranMin))
}

// within is how many changes are during rehearsals.
func (w dayPlan) within() (n int) {
	for _, f := range w.changes {
		if f.DuringRehearsal {
			n++
		}
	}
	return n
}

// fit adds a change to the plan.
func (w dayPlan) fit(atMin int, when string, within bool) dayPlan {
	return dayPlan{0, append(slices.Clip(w.changes), BatteryChange{atMin, when, w.ranMin, within})}
}

// show adds a show, with fresh batteries.
func (w dayPlan) show(run PowerOn) dayPlan {
	w = w.fit(run.FromMin-ChangeMin, "before the show", false)
	w.ranMin = run.ToMin - run.FromMin
	return w
}

// through adds a rehearsal. Each change is as late as it can be, so that there are few and the last set runs the
// shortest.
func (w dayPlan) through(run PowerOn, usableMin int) dayPlan {
	at := run.FromMin
	for w.ranMin+run.ToMin-at > usableMin {
		at += usableMin - w.ranMin
		w.ranMin = usableMin
		w = w.fit(at, "during the rehearsal", true)
	}
	w.ranMin += run.ToMin - at
	return w
}
