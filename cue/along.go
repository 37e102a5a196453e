package cue

import (
	"cmp"
	"math"
	"slices"
)

// PathAt is what glides of the i-th channel of a cue at a time of the show, and until when it stays so: the same time
// while it moves, infinity once it moves no more. After the time of the next cue, as long as that is not pressed, the
// path goes on as in the next cue if the channel stays open with the same wearer, since the drill does not wait. The
// level waits for the press, and so does the delay of a mixer that clicks. counts may be nil, as in Snapshot.GlideAt.
func (s *Show) PathAt(step, i int, timeS float64, counts CountsBetween) (at Gliding, untilS float64) {
	moves, own := s.Rig.Delay.Moves, step
	for moves != Stepped && step+1 < len(s.Cues) && s.Cues[step+1].TimeS <= timeS && s.goesOn(step, i) {
		step++
	}
	x := &s.Cues[step]
	c := &x.Channels[i]
	at, untilS = x.GlideAt(c, timeS, moves, counts), x.glidesUntil(c, timeS, moves)
	if math.IsInf(untilS, 1) && moves != Stepped && s.goesOn(step, i) && s.Cues[step+1].TimeS > timeS {
		untilS = s.Cues[step+1].TimeS
	}
	if step > own {
		x = &s.Cues[own]
		last := x.GlideAt(&x.Channels[i], math.Nextafter(s.Cues[own+1].TimeS, 0), moves, counts)
		if at.LevelDB = last.LevelDB; moves != Glides {
			at.DelayMS = last.DelayMS
		}
	}
	return at, untilS
}

// goesOn reports whether the i-th channel of a cue has the same wearer in the next cue, open.
func (s *Show) goesOn(step, i int) bool {
	if step+1 >= len(s.Cues) || i >= len(s.Cues[step+1].Channels) {
		return false
	}
	now, next := &s.Cues[step].Channels[i], &s.Cues[step+1].Channels[i]
	return next.Open && next.Channel == now.Channel && next.Player == now.Player
}

// glidesUntil is when the values of a channel next change, timeS itself while they move.
func (s *Snapshot) glidesUntil(c *Channel, timeS float64, moves Moves) float64 {
	at := c.Gliding()
	for _, k := range c.Glide {
		to := k.after(at)
		switch half := at.toward(to, 0.5, moves); {
		case timeS >= k.TimeS:
		case half != at && timeS >= s.TimeS:
			return timeS
		case half != at:
			return s.TimeS
		case to != at:
			return k.TimeS
		}
		at = to
	}
	return math.Inf(1)
}

// RowOfStacks is the zones of the stacks from left to right, as the press box sees them: the row along which a place
// counts (Channel.Place). Stacks in the same direction keep their order.
func (r *UsedRig) RowOfStacks() (zones []int) {
	stacks := slices.Clone(r.Stacks)
	azimuth := func(k UsedStack) float64 { return math.Atan2(k.X-r.Reference.X, k.Y-r.Reference.Y) }
	slices.SortStableFunc(stacks, func(a, b UsedStack) int { return cmp.Compare(azimuth(a), azimuth(b)) })
	for _, k := range stacks {
		zones = append(zones, k.Zone)
	}
	return zones
}

// PlaceLevels are the levels in dB that a place along the row of stacks stands for, by the zones of the row: off, minus
// infinity, for all but one or two. See PlaceSends.
func PlaceLevels(place float64, zones []int) []Send {
	list := make([]Send, len(zones))
	for i, amplitude := range PlaceSends(place, len(zones)) {
		list[i] = Send{Zone: zones[i], LevelDB: Level(20 * math.Log10(amplitude))}
	}
	return list
}
