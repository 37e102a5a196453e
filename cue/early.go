package cue

import (
	"math"
	"slices"
)

// OpensEarly is the snapshot at a time of the show, with the channels open that the next cue opens before its count.
func (s Snapshot) OpensEarly(timeS float64) Snapshot {
	channels := s.Channels
	for i, c := range channels {
		x := c.Early
		if x == nil || x.TimeS > timeS+1e-9 {
			continue
		}
		if &s.Channels[0] == &channels[0] {
			s.Channels = slices.Clone(channels)
		}
		c.Open, c.Player, c.Role, c.LevelDB = true, x.Player, x.Role, x.LevelDB
		s.Channels[i] = c
	}
	return s
}

// NextEarly is the first time after another at which channels open before their cue, infinite for none, and the longest
// of their fades in seconds.
func (s *Snapshot) NextEarly(afterS float64) (timeS, fadeS float64) {
	timeS = math.Inf(1)
	for i := range s.Channels {
		x := s.Channels[i].Early
		switch {
		case x == nil || x.TimeS <= afterS+1e-9 || x.TimeS > timeS:
			continue
		case x.TimeS < timeS:
			timeS, fadeS = x.TimeS, 0
		}
		fadeS = max(fadeS, x.FadeS)
	}
	return timeS, fadeS
}
