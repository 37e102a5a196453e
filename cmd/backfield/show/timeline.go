package show

import (
	"fmt"
	"math"

	"backfield/cue/clock"
	"backfield/osc/run"
)

// Timeline is the show's time for a run.
type Timeline struct{ Clock *clock.Clock }

// Find reads a count and finds its time.
func (t Timeline) Find(position string) (timeS float64, err error) {
	p, fault := clock.ParseShowCount(position)
	if fault == nil {
		var m clock.Moment
		if m, fault = t.Clock.Resolve(p); fault == nil {
			return t.Clock.Seconds(m), nil
		}
		if n := p.Movement; p.Count > 0 && n > 0 && n <= len(t.Clock.Movements) { // during a show no file can be fixed
			last := math.Floor(t.Clock.Movements[n-1].Counts + 1e-9)
			return 0, fmt.Errorf("%s; type a count from %d:1 to %[2]d:%g", fault.What, n, last)
		}
	}
	return 0, fmt.Errorf("%s; %s", fault.What, fault.Do)
}

// roundedS is how far a time may be from the count that it was made from, in seconds: a snapshot's time is rounded to the
// microsecond.
const roundedS = 1e-6

// At says which count a time is. A time that was rounded down from the start of a count is that count, not the end of the
// one before.
func (t Timeline) At(timeS float64) run.ScoreMoment {
	m := t.Clock.At(timeS + roundedS)
	return run.ScoreMoment{Movement: m.Movement, Count: m.Count(), Set: t.Clock.Set(m),
		BPM: t.Clock.Movements[m.Movement-1].Tempo.BPM(m.Elapsed)}
}

// Counts counts from one time to another.
func (t Timeline) Counts(fromS, toS float64) float64 {
	return t.Clock.Counts(t.Clock.At(fromS), t.Clock.At(toS))
}
