package run

import (
	"math"
	"slices"
	"time"

	"backfield/cue"
	"backfield/osc/hold"
	"backfield/osc/journal"
)

// channelIndex is where each snapshot of a show has a channel, by channel; -1 for none.
func channelIndex(s *cue.Show) (index []int) {
	if len(s.Cues) == 0 {
		return nil
	}
	for i, c := range s.Cues[0].Channels {
		for len(index) <= c.Channel {
			index = append(index, -1)
		}
		index[c.Channel] = i
	}
	return index
}

// glideLimits is how what glides may move in a show.
func glideLimits(s *cue.Show) hold.GlideLimits {
	l := hold.GlideLimits{Moves: s.Rig.Delay.Moves, SlewMSPS: s.Rig.Delay.SlewMSPS}
	if zones := s.Rig.RowOfStacks(); !slices.Contains(zones, 0) {
		l.Row = zones
	}
	return l
}

// fades is how a step is entered by the score, at the tempo as played.
func (e *Engine) fades(step int) hold.Entering {
	s := &e.route.cues[step]
	played := func(s float64) time.Duration { return journal.Seconds(s / e.clock.Rate) }
	return hold.Entering{Fade: played(s.FadeS), FadeOut: played(s.Closing().S), Step: true}
}

// opensEarly is a snapshot with the channels open that the next cue opens before its count, as far as it is time.
func opensEarly(s cue.Snapshot, showS float64) cue.Snapshot {
	own := s.Channels
	for i, c := range own {
		if x := c.Early; x != nil && x.TimeS <= showS+1e-9 {
			if &s.Channels[0] == &own[0] {
				s.Channels = slices.Clone(own)
			}
			c.Open, c.Player, c.Role, c.LevelDB = true, x.Player, x.Role, x.LevelDB
			s.Channels[i] = c
		}
	}
	return s
}

// nextEarly is the time of the show at which the next mics open before their cue, infinite for none, and their fade at
// the tempo as played.
func (e *Engine) nextEarly() (atS float64, fade time.Duration) {
	if atS = math.Inf(1); e.step < 0 {
		return atS, 0
	}
	for i := range e.route.cues[e.step].Channels {
		x := e.route.cues[e.step].Channels[i].Early
		switch {
		case x == nil || x.TimeS <= e.aimedS+1e-9 || x.TimeS > atS:
			continue
		case x.TimeS < atS:
			atS, fade = x.TimeS, 0
		}
		fade = max(fade, journal.Seconds(x.FadeS/e.clock.Rate))
	}
	return atS, fade
}

// handed lists the open channels that get another player. before is the target before. A held channel stays
// as it is.
func (e *Engine) handed(before []cue.Channel) (list []int) {
	for i := range e.target.Channels {
		c := &e.target.Channels[i]
		if i >= len(before) || before[i].Channel != c.Channel || !before[i].Open || e.overrides.Held(c.Channel) {
			continue
		}
		if before[i].Player != c.Player {
			list = append(list, c.Channel)
		}
	}
	return list
}

// path is where a channel of the target is to be at an instant, and when that changes next. A held channel stays, and
// so does a closed one, which has what it needs next.
func (e *Engine) path(c *cue.Channel, now time.Time) (at cue.Gliding, until time.Time) {
	never := now.Add(math.MaxInt64)
	at = cue.Gliding{DelayMS: c.DelayMS, Pan: c.Pan}
	if c.Place != nil {
		at.Place = *c.Place
	}
	own := e.overrides.Own(c.Channel)
	if !c.Open || e.step < 0 || e.overrides.Held(c.Channel) || own >= len(e.index) || e.index[own] < 0 {
		return at, never
	}
	i := e.index[own]
	showS := e.clock.NowS(now) + 1e-9
	at, untilS := e.setup.Show.PathAt(e.step, i, showS, e.counts())
	at.LevelDB -= e.route.cues[e.step].Channels[i].LevelDB
	if math.IsNaN(float64(at.LevelDB)) { // it opens early: off minus off
		at.LevelDB = 0
	}
	switch {
	case !e.clock.Running || math.IsInf(untilS, 1):
		return at, never
	case untilS <= showS:
		return at, now
	}
	return at, e.clock.When(untilS)
}

// counts is the counts between two times of the show, nil where the score is not known.
func (e *Engine) counts() cue.CountsBetween {
	if e.setup.Time == nil {
		return nil
	}
	return e.setup.Time.Counts
}

// frozen is a channel of the target as it is at this instant, at the first mixer.
func (e *Engine) frozen(c cue.Channel, now time.Time) cue.Channel {
	c = e.motion.Frozen(c, now)
	if len(e.feeds) == 0 {
		return c
	}
	if at, ok := e.feeds[0].At(c.Channel); ok {
		limits := glideLimits(e.setup.Show)
		c = limits.At(c, at)
	}
	return c
}
