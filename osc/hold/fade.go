package hold

import (
	"math"
	"time"
)

// Fade goes from one value to another: a level in dB, or one of the mixer's own parameters in its unit. It depends only
// on the clock, so a late tick does not delay the rest.
type Fade struct {
	From, To float64
	Start    time.Time
	Length   time.Duration
	// Level says that the values are levels in dB, minus infinity for off: they go in equal steps of loudness, as
	// FadeLevel says. Any other value goes straight.
	Level bool
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
	part := float64(done) / float64(f.Length)
	if f.Level {
		return FadeLevel(f.From, f.To, part)
	}
	return f.From + (f.To-f.From)*part
}

// Over reports whether the fade is over at an instant.
func (f Fade) Over(now time.Time) bool { return now.Sub(f.Start) >= f.Length }

// loudnessPerDB is the exponent of Stevens' law (S. S. Stevens, 1955): loudness in sones is proportional to the 0.6th
// power of sound pressure, 10^(0.03 dB), so 10 dB sound about twice as loud.
const loudnessPerDB = 0.03

// FadeLevel is the level in dB at a part of a fade, 0 to 1: exactly from at 0, exactly to at 1, and between them in
// equal steps of loudness, never outside the two. Minus infinity is off. A line straight in dB from -50 spends more than
// half of its time under a quarter of the loudness, and then comes in a rush; a line straight in amplitude starts with a
// rush. From off to 0 dB the steps are 33.3 log10(part), so halfway is -10 dB.
func FadeLevel(from, to, part float64) float64 {
	switch {
	case !(part > 0) || from == to:
		return from
	case part >= 1:
		return to
	}
	// As parts of the louder one, so that no level is too high or too low to be computed.
	top := max(from, to)
	a, b := math.Pow(10, loudnessPerDB*(from-top)), math.Pow(10, loudnessPerDB*(to-top))
	dB := top + math.Log10(a+(b-a)*part)/loudnessPerDB
	return max(min(from, to), min(dB, top))
}
