package run

import (
	"math"
	"slices"
	"time"
)

// Clock is the show's time as it is played: planned seconds that pass at a rate, from an anchor on.
type Clock struct {
	ShowS   float64   `json:"show_s"` // planned seconds at the anchor
	At      time.Time `json:"at"`     // the anchor
	Rate    float64   `json:"rate"`   // planned seconds in one second: 1.05 is 5 % faster than written
	Running bool      `json:"running"`
}

// at is the planned time at an instant.
func (c Clock) at(now time.Time) float64 {
	if !c.Running {
		return c.ShowS
	}
	return c.ShowS + now.Sub(c.At).Seconds()*c.Rate
}

// when is the instant of a planned time.
func (c Clock) when(showS float64) time.Time {
	return c.At.Add(seconds((showS - c.ShowS) / c.Rate))
}

// seconds is a duration, held to what one can be.
func seconds(s float64) time.Duration {
	return time.Duration(math.Round(min(max(s, -1e9), 1e9) * float64(time.Second)))
}

// press is a cue that the operator started: when it was planned, and when he pressed.
type press struct {
	PlannedS float64   `json:"planned_s"`
	At       time.Time `json:"at"`
}

const (
	remembered   = 8   // presses that the tempo is judged by
	apartS       = 2.0 // presses closer together than this say nothing: a thumb is a tenth of a second off
	slowest      = 0.5
	fastest      = 2.0
	ownVoteWorth = 1 // how many pairs of presses the tempo so far counts as
)

// tempo estimates the rate from the presses of one movement: the median of the slopes of all pairs that lie far
// enough apart (Theil-Sen: H. Theil, 1950; P. K. Sen, JASA 63, 1968), among which the rate so far has a vote, and
// of two middle ones the nearer to it. So one late press among three or more moves it little, and never doubles it.
func tempo(presses []press, rate float64) float64 {
	slopes := slices.Repeat([]float64{rate}, ownVoteWorth)
	for i := range presses {
		for j := i + 1; j < len(presses); j++ {
			planned := presses[j].PlannedS - presses[i].PlannedS
			played := presses[j].At.Sub(presses[i].At).Seconds()
			if planned >= apartS && played > 0 {
				slopes = append(slopes, min(max(planned/played, slowest), fastest))
			}
		}
	}
	slices.Sort(slopes)
	lower, upper := slopes[(len(slopes)-1)/2], slopes[len(slopes)/2]
	if math.Abs(upper-rate) < math.Abs(lower-rate) {
		return upper
	}
	return lower
}
