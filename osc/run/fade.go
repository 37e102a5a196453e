package run

import "time"

// fade is a channel's way from one level to another in dB, or of one of the desk's own parameters in its own unit,
// straight over time. It is a function of the clock: a tick that comes late shifts nothing.
type fade struct {
	from, to float64
	start    time.Time
	length   time.Duration
}

// at is the value at an instant: exactly the first at the start, exactly the last at the end and after.
func (f fade) at(now time.Time) float64 {
	done := now.Sub(f.start)
	switch {
	case done >= f.length:
		return f.to
	case done <= 0:
		return f.from
	}
	return f.from + (f.to-f.from)*(float64(done)/float64(f.length))
}

func (f fade) over(now time.Time) bool { return now.Sub(f.start) >= f.length }

// floorDB is where a fade from a closed channel begins: what is softer is not heard on a field, and the way up from
// there is the one that is.
const floorDB = -50
