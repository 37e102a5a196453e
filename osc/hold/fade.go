package hold

import "time"

// Fade is the way of a channel's level in dB, or of a mixer's own parameter in its own unit, from one value to another,
// straight over time. It is a function of the clock: a tick that comes late shifts nothing.
type Fade struct {
	From, To float64
	Start    time.Time
	Length   time.Duration
}

// Still is a fade that has arrived.
func Still(v float64, now time.Time) Fade { return Fade{From: v, To: v, Start: now} }

// At is the value at an instant: exactly the first at the start, exactly the last at the end and after.
func (f Fade) At(now time.Time) float64 {
	done := now.Sub(f.Start)
	switch {
	case done >= f.Length:
		return f.To
	case done <= 0:
		return f.From
	}
	return f.From + (f.To-f.From)*(float64(done)/float64(f.Length))
}

// Over reports whether the fade has arrived at an instant.
func (f Fade) Over(now time.Time) bool { return now.Sub(f.Start) >= f.Length }
