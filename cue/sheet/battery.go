package sheet

import (
	"cmp"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"backfield/layout/source"
)

// Span is a part of the day: a rehearsal from one clock time to another, or the show with its downbeat. Times are
// minutes since midnight; of a show ToMin is when it is over.
type Span struct {
	FromMin, ToMin int
	Show           bool
	Span           source.Span
}

var (
	rehearsalForm = regexp.MustCompile(`^(\d{1,2}):(\d{2})\s*[-–]\s*(\d{1,2}):(\d{2})$`)
	showForm      = regexp.MustCompile(`^(\d{1,2}):(\d{2})\s+(?i:show)$`)
)

// ReadDay reads a day's schedule, "9:00-12:00,13:00-17:00,20:30 show", for a show that lasts showS seconds. What is
// wrong with it goes to p, each at its place.
func ReadDay(f *source.File, showS float64, p *source.Problems) []Span {
	var day []Span
	at := 0
	for _, entry := range strings.Split(f.Text, ",") {
		text := strings.TrimSpace(entry)
		lo := at + strings.Index(entry, text)
		span := source.Span{File: f, Start: lo, End: lo + len(text)}
		at += len(entry) + 1
		if s, ok := readSpan(text, span, showS, p); ok {
			if n := len(day); n > 0 && s.FromMin < day[n-1].ToMin {
				p.Error("bad-day", span, fmt.Sprintf("%s begins before the entry ahead of it is over, at %s", text, ClockText(day[n-1].ToMin)), "write the day in order, without overlap",
					source.Note{Span: day[n-1].Span, Text: "the entry ahead of it"})
				continue
			}
			day = append(day, s)
		}
	}
	return day
}

func readSpan(text string, at source.Span, showS float64, p *source.Problems) (s Span, ok bool) {
	const form = `write "9:00-12:00" for a rehearsal, or "20:30 show"; commas between`
	minutes := func(hours, mins string) int {
		h, _ := strconv.Atoi(hours)
		m, _ := strconv.Atoi(mins)
		if m > 59 || 60*h+m > 24*60 {
			p.Error("bad-day", at, fmt.Sprintf("%s:%s is no time of day", hours, mins), "hours go from 0 to 24, minutes from 00 to 59")
			ok = false
		}
		return 60*h + m
	}
	ok = true
	if m := rehearsalForm.FindStringSubmatch(text); m != nil {
		s = Span{FromMin: minutes(m[1], m[2]), ToMin: minutes(m[3], m[4]), Span: at}
		if ok && s.ToMin <= s.FromMin {
			p.Error("bad-day", at, fmt.Sprintf("%s ends before it begins", text), "write the earlier time first, on a clock of 24 hours; a rehearsal past midnight is another day's")
			ok = false
		}
		return s, ok
	}
	if m := showForm.FindStringSubmatch(text); m != nil {
		s = Span{FromMin: minutes(m[1], m[2]), Show: true, Span: at}
		s.ToMin = s.FromMin + int(math.Ceil(showS/60))
		return s, ok
	}
	if text == "" {
		p.Error("bad-day", at, "an entry of the day is empty", form)
	} else {
		p.Error("bad-day", at, fmt.Sprintf("%q is no part of a day", text), form)
	}
	return s, false
}

// ClockText words minutes since midnight as a time of day: "9:05"; before it, "23:50 the day before".
func ClockText(min int) string {
	if min < 0 {
		return ClockText(min+24*60) + " the day before"
	}
	return fmt.Sprintf("%d:%02d", min/60%24, min%60)
}

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
		run := Run{s.FromMin, s.ToMin, s.Show}
		free := math.MaxInt
		if i > 0 {
			free = s.FromMin - over
		}
		if s.Show {
			run.FromMin, run.ToMin = s.FromMin-LineUpMin, s.ToMin+PackUpMin
			if free < LineUpMin+ChangeMin { // then they go on as soon as they are changed
				run.FromMin = s.FromMin - free + ChangeMin
			}
			length := run.ToMin - run.FromMin
			over = run.ToMin
			switch {
			case free < ChangeMin:
				p.Error("bad-day", s.Span, fmt.Sprintf("only %s before the show at %s: no time to change the batteries", source.Count(float64(max(free, 0)), "minute"), ClockText(s.FromMin)),
					fmt.Sprintf("leave %d minutes before it", ChangeMin))
				continue
			case length > b.UsableMin:
				p.Error("bad-day", s.Span, fmt.Sprintf("from line-up to pack-up the show takes %s, and the batteries are good for %s", Hours(length), Hours(b.UsableMin)),
					fmt.Sprintf("take batteries that run for %s or more", Hours(int(math.Ceil(float64(length)/(1-Reserve))))))
				continue
			}
			w := slices.MinFunc(ways, byChanges).fit(run.FromMin-ChangeMin, "before the show", false)
			w.ranMin = length
			ways = []way{w}
			b.Runs = append(b.Runs, run)
			continue
		}
		if i > 0 && run.FromMin < over { // they are on still, after a show
			run.FromMin, run.ToMin = over, max(over, run.ToMin)
		}
		over = run.ToMin
		var next []way
		for _, w := range ways {
			if len(w.fittings) == 0 {
				next = append(next, w.fit(run.FromMin-ChangeMin, "before the first rehearsal", false).through(run, b.UsableMin))
				continue
			}
			next = append(next, w.through(run, b.UsableMin))
			if free >= ChangeMin {
				next = append(next, w.fit(run.FromMin-ChangeMin, "in the break", false).through(run, b.UsableMin))
			}
		}
		slices.SortStableFunc(next, func(a, b way) int { return cmp.Or(cmp.Compare(a.ranMin, b.ranMin), byChanges(a, b)) })
		ways = slices.CompactFunc(next, func(a, b way) bool { return a.ranMin == b.ranMin })
		b.Runs = append(b.Runs, run)
	}
	best := slices.MinFunc(ways, byChanges)
	b.Fittings, b.LastMin = best.fittings, best.ranMin
	return b
}

// way is a plan for the day so far: its changes, and how long the last set has run.
type way struct {
	ranMin   int
	fittings []Fitting
}

func byChanges(a, b way) int {
	return cmp.Or(cmp.Compare(a.within(), b.within()), cmp.Compare(len(a.fittings), len(b.fittings)), cmp.Compare(a.ranMin, b.ranMin))
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

// Hours words minutes: "4 h", "1 h 30 min", "45 min".
func Hours(min int) string {
	switch h, m := min/60, min%60; {
	case h == 0:
		return fmt.Sprintf("%d min", m)
	case m == 0:
		return fmt.Sprintf("%d h", h)
	default:
		return fmt.Sprintf("%d h %d min", h, m)
	}
}

// CheckLife reports a run time that no pack has.
func CheckLife(lifeS float64) (lifeMin int, fault *source.Fault) {
	lifeMin = int(lifeS / 60)
	if lifeMin < leastRunMin || lifeMin > 7*24*60 {
		return 0, &source.Fault{What: fmt.Sprintf("batteries that run for %s", Hours(lifeMin)), Do: `write how long a pack runs on fresh ones, such as "5 h" or "4.5 h"`}
	}
	return lifeMin, nil
}
