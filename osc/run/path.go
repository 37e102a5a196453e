package run

import (
	"math"
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

// nextEarly is when the next mics open before their cue, and their fade at the tempo as played. ok is false for none.
func (e *Engine) nextEarly() (at time.Time, fade time.Duration, ok bool) {
	if e.step < 0 || !e.clock.Running {
		return at, 0, false
	}
	timeS, fadeS := e.route.Cues[e.step].NextEarly(e.aimedS)
	if math.IsInf(timeS, 1) {
		return at, 0, false
	}
	return e.clock.When(timeS), journal.Seconds(fadeS / e.clock.Rate), true
}

// fades is how a step is entered by the score, at the tempo as played.
func (e *Engine) fades(step int) hold.Entering {
	s := &e.route.Cues[step]
	played := func(s float64) time.Duration { return journal.Seconds(s / e.clock.Rate) }
	return hold.Entering{Fade: played(s.FadeS), FadeOut: played(s.Closing().S), Step: true}
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
	at = c.Gliding()
	at.LevelDB = 0 // no make-up
	own := e.overrides.Own(c.Channel)
	if !c.Open || e.step < 0 || e.overrides.Held(c.Channel) || own >= len(e.index) || e.index[own] < 0 {
		return at, never
	}
	i := e.index[own]
	showS := e.clock.NowS(now) + 1e-9
	at, untilS := e.setup.Show.PathAt(e.step, i, showS, e.counts())
	at.LevelDB -= e.route.Cues[e.step].Channels[i].LevelDB
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
		c = e.limits.At(c, at)
	}
	return c
}
