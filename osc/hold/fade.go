package hold

import "time"

// Fade is a straight line in time from one value to another: a level in dB, or one of the mixer's own parameters in its
// unit. It depends only on the clock, so a late tick does not delay the rest.
type Fade struct {
	From, To float64
	Start    time.Time
	Length   time.Duration
}

// Still is a fade that is already over.
func Still(v float64, now time.Time) Fade { return Fade{From: v, To: v, Start: now} }

// At is the value at an instant: exactly From at the start, exactly To at the end and after.
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

// Over reports whether the fade is over at an instant.
func (f Fade) Over(now time.Time) bool { return now.Sub(f.Start) >= f.Length }
