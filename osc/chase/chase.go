// Package chase follows a time that another machine sends, such as time code, as it arrives: late by what the road and
// the sender add, with gaps and jumps. It does no I/O and reads no clock.
package chase

import (
	"cmp"
	"math"
	"slices"
	"time"
)

const (
	// Window is how far back what was heard counts.
	Window = 3 * time.Second
	// Silence is how long a lock rides through without news before it says so.
	Silence = 2 * time.Second
	// LateMost is how late the last word may be for a lock that is called heard.
	LateMost = 500 * time.Millisecond

	lockSpan  = 400 * time.Millisecond // of what was heard, for a lock
	lockHeard = 5                      // how much of it
	strayS    = 0.12                   // what is farther from the line than that does not belong to it
	strays    = 5                      // in a row that agree with each other are a jump
	strayEven = 0.06                   // and are no farther from their own line than that
	strayPart = 0.3                    // and last at least this part of the time that they say has passed
	mostHeard = 512                    // in the window; of more, the oldest are forgotten
	early     = 40                     // one in so many that were heard may be ahead of the line
	lateS     = 0.03                   // what is so late counts half for the rate
	surePart  = 0.5                    // how much, in s^2, the expected rate weighs against what was heard
	stillS    = 0.3                    // the same time again and again for so long is a time that stands
)

// LockState is how well a time is known.
type LockState int

// The states.
const (
	Nothing  LockState = iota // nothing was heard, or too little so far
	Locked                    // it is heard
	Riding                    // nothing was heard for a moment; it is taken to go on
	Free                      // nothing was heard for longer than Silence; it goes on at the last rate
	Standing                  // the sender says that it stands
)

// saidTime is a time that somebody said, and when it came.
type saidTime struct {
	s  float64
	at time.Time
}

// Chaser follows one time, in seconds or in quarter notes. Rate is how fast it is expected to run, in its unit a
// second.
type Chaser struct {
	Rate float64

	list  []saidTime // in the window, of the time that is followed
	other []saidTime // what does not belong to it, in a row
	line  trend
	known bool
	stand bool
	jumps int
}

// trend is a time that runs: s0 at a moment, and rate a second from there.
type trend struct {
	s0   float64
	at   time.Time
	rate float64
}

func (l trend) when(now time.Time) float64 { return l.s0 + l.rate*now.Sub(l.at).Seconds() }

// Hear takes what the other machine says the time is, and when it came. A machine cannot say a time before it is true,
// but what it says may come late. So the time is that of what came earliest, as measured by a line through all of the
// last three seconds.
func (f *Chaser) Hear(s float64, at time.Time) {
	if math.IsNaN(s) || math.IsInf(s, 0) {
		return
	}
	if n := len(f.list); n > 0 && at.Before(f.list[n-1].at) {
		at = f.list[n-1].at // a clock that was set back
	}
	x := saidTime{s, at}
	if f.stands(x) {
		return
	}
	if f.known && math.Abs(f.line.when(at)-s) > strayS {
		f.stray(x)
		return
	}
	f.other = f.other[:0]
	f.list = append(f.list, x)
	f.fit(at)
}

// stands reports whether a time is said again, and stops the line once that has lasted.
func (f *Chaser) stands(x saidTime) bool {
	n := len(f.list)
	if n == 0 || f.list[n-1].s != x.s {
		if f.stand && n > 0 { // it goes on
			f.Forget()
		}
		return false
	}
	if !f.stand && x.at.Sub(f.list[n-1].at).Seconds() >= stillS {
		f.stand, f.known = true, true
		f.line = trend{x.s, x.at, 0}
		f.list, f.other = f.list[n-1:], f.other[:0]
	}
	return true
}

// stray takes a time that does not belong to the line: a late one, a wrong one, or the first after a jump. Where enough
// in a row agree with each other at about the expected rate, the line is theirs from now on.
func (f *Chaser) stray(x saidTime) {
	f.other = append(f.other, x)
	if n := len(f.other); n > strays {
		f.other = f.other[n-strays:]
	}
	if len(f.other) < strays {
		return
	}
	first := f.other[0]
	passed := x.at.Sub(first.at).Seconds()
	said := (x.s - first.s) / f.line.rateOr(f.Rate)
	if said <= 0 || passed < strayPart*said { // a jam that has come loose says much at once
		return
	}
	for _, o := range f.other {
		if math.Abs((o.s-first.s)/f.line.rateOr(f.Rate)-o.at.Sub(first.at).Seconds()) > strayEven {
			return
		}
	}
	f.jumps++
	f.list = append(f.list[:0], f.other...)
	f.other, f.known, f.stand = f.other[:0], false, false
	f.fit(x.at)
	f.known = true // it was locked before: a jump needs no new lock
}

// rateOr is the line's rate, or another where the line stands.
func (l trend) rateOr(other float64) float64 {
	if l.rate > 0 {
		return l.rate
	}
	return other
}

// fit draws the line through what was heard: its rate by least squares, with the expected rate as something known
// beforehand, and its height so that all but the earliest came later than it says.
func (f *Chaser) fit(now time.Time) {
	from := now.Add(-Window)
	f.list = slices.DeleteFunc(f.list, func(h saidTime) bool { return h.at.Before(from) })
	if n := len(f.list); n > mostHeard {
		f.list = slices.Delete(f.list, 0, n-mostHeard)
	}
	var sum, meanT, meanS float64
	for _, h := range f.list {
		w := f.weight(h)
		sum, meanT, meanS = sum+w, meanT+w*h.at.Sub(now).Seconds(), meanS+w*h.s
	}
	meanT, meanS = meanT/sum, meanS/sum
	tt, ts := surePart, surePart*f.Rate
	for _, h := range f.list {
		w, t := f.weight(h), h.at.Sub(now).Seconds()-meanT
		tt, ts = tt+w*t*t, ts+w*t*(h.s-meanS)
	}
	rate := ts / tt
	f.line = trend{f.height(rate, now), now, rate}
	if !f.known && len(f.list) >= lockHeard && now.Sub(f.list[0].at) >= lockSpan {
		f.known = true
	}
}

// weight is how much a time counts for the rate: less, the later it came.
func (f *Chaser) weight(h saidTime) float64 {
	if !f.known {
		return 1
	}
	late := max(0, f.line.when(h.at)-h.s) / lateS
	return 1 / (1 + late*late)
}

// height is where a line of that rate is now, if only the earliest part of what was heard came before it.
func (f *Chaser) height(rate float64, now time.Time) float64 {
	first := make([]float64, 0, mostHeard/early+2) // the earliest, the very first one in front
	most := len(f.list)/early + 1
	for _, h := range f.list {
		x := h.s - rate*h.at.Sub(now).Seconds()
		i, _ := slices.BinarySearchFunc(first, x, func(a, b float64) int { return cmp.Compare(b, a) })
		if i == most {
			continue
		}
		if len(first) == most {
			first = first[:most-1]
		}
		first = slices.Insert(first, i, x)
	}
	return first[len(first)-1]
}

// Locate takes a time that stands and is said once, such as a full frame of time code while a machine winds.
func (f *Chaser) Locate(s float64, at time.Time) {
	f.Forget()
	f.list = append(f.list, saidTime{s, at})
	f.line, f.known, f.stand = trend{s, at, 0}, true, true
}

// Forget is for a time that nobody follows any more.
func (f *Chaser) Forget() {
	f.list, f.other, f.known, f.stand = f.list[:0], f.other[:0], false, false
}

// Jumps is how often the time has jumped so far.
func (f *Chaser) Jumps() int { return f.jumps }

// Silent is how long nothing was heard.
func (f *Chaser) Silent(now time.Time) time.Duration {
	if len(f.list) == 0 {
		return 0
	}
	return now.Sub(f.list[len(f.list)-1].at)
}

// Now is the time at a moment, how fast it runs in its unit a second, and how well it is known.
func (f *Chaser) Now(now time.Time) (s, rate float64, state LockState) {
	if !f.known || len(f.list) == 0 {
		return 0, 0, Nothing
	}
	if f.stand {
		return f.line.s0, 0, Standing
	}
	state = Locked
	switch silent := f.Silent(now); {
	case silent > Silence:
		state = Free
	case silent > LateMost:
		state = Riding
	}
	return f.line.when(now), f.line.rate, state
}
