package plain

import (
	"math"

	"backfield/layout"
)

// PlainMeasured is what was measured on site.
type PlainMeasured struct{ Noise, Brass, Solo, Ring bool }

// TakeGive is how far 8 of 10 nights are within, in dB.
type TakeGive struct{ Lead, Over, Loop, Near float64 }

// GiveTake is the table of what may be claimed.
func (m PlainMeasured) GiveTake() TakeGive {
	if !m.Noise || !m.Brass {
		return TakeGive{5, 9, 8, 8}
	}
	g := TakeGive{4, 7, 5, 4} // level.md has 5 for over; see advice.SpreadOf
	if m.Solo {
		g.Lead, g.Over = 3, 4.5
	}
	if m.Ring {
		g.Loop = 2
	}
	return g
}

// Word is the verdict on whether a value is at least a threshold, give or take.
func Word(value, threshold, give float64) string {
	switch d := value - threshold; {
	case d > give:
		return "yes"
	case d < -give:
		return "no"
	case d >= 0:
		return "likely"
	}
	return "unlikely"
}

// ShareRange is the share of seats within a limit with all values raised and lowered by the give or take.
func ShareRange(seats []WeightedSeat, value []float64, limit, give float64) (least, most float64) {
	return Within(seats, value, limit-give), Within(seats, value, limit+give)
}

// WithoutBackground takes the background off a reading. One less than 3 dB above it is refused.
func WithoutBackground(reading, background float64) (level float64, ok bool) {
	if math.IsInf(background, -1) {
		return reading, true
	}
	if reading-background < 3 {
		return math.NaN(), false
	}
	return 10 * lg(energy(reading)-energy(background)), true
}

// NoiseDBA is what pink noise at nominal through one stack reads at the box for N = 0.
func (s *PlainScene) NoiseDBA(k Speaker, send float64) float64 {
	return s.stackAt(k, s.Box).plus(send - 10*lg(7)).DBA()
}

// NominalFrom is N from a reading of noise.
func (s *PlainScene) NominalFrom(reading float64, k Speaker, send float64) float64 {
	return reading - s.NoiseDBA(k, send)
}

// OwnDBA is LA of the own sound of players at the box.
func (s *PlainScene) OwnDBA(players []Musician) float64 {
	total := silence()
	for _, m := range players {
		total = total.with(s.OwnAt(m, s.Box))
	}
	return total.DBA()
}

// BandFrom is band from a reading of a section.
func (s *PlainScene) BandFrom(reading float64, section []Musician) float64 {
	bare := *s
	bare.Band = 0
	var players []Musician
	for _, m := range section {
		m.Own, m.Plays = 0, true
		players = append(players, m)
	}
	return reading - bare.OwnDBA(players)
}

// PlayerFrom is player from a reading of one player's forte; band is in.
func (s *PlainScene) PlayerFrom(reading float64, m Musician) float64 {
	m.Own, m.Plays, m.Dynamics = 0, true, 0
	return reading - s.OwnDBA([]Musician{m})
}

// RingFrom is ring from the fader at which a fixed mic rang.
func (s *PlainScene) RingFrom(f FixedEar, fader float64) float64 {
	f.Fader, f.Ring = fader, 0
	return -highest(s.FixedLoop(f))
}

// EarOf is where a player hears: the dot, 1.6 m up.
func EarOf(m Musician) layout.Point { return layout.Point{X: m.At.X, Y: m.At.Y, Z: 1.6} }

// AllowedHours is how long a level may last in a day (NIOSH 98-126): 8 h at 85 dBA, half for each 3 dB more.
func AllowedHours(dba float64) float64 { return 8 * math.Pow(2, -(dba-85)/3) }

// LevelHeld is a level and how long it holds.
type LevelHeld struct{ DBA, Hours float64 }

// Dose is the percentage of a day's dose: that of one run, times the day over the length of the run.
func Dose(run []LevelHeld, dayHours float64) float64 {
	sum, length := 0.0, 0.0
	for _, x := range run {
		sum += x.Hours / AllowedHours(x.DBA)
		length += x.Hours
	}
	return 100 * sum * dayHours / length
}
