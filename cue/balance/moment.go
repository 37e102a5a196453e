package balance

import (
	"slices"

	"backfield/cue/clock"
	"backfield/layout/level"
	"backfield/layout/level/advice"
)

// Moment is who plays and which mics are open at a moment of a cue, by its place in the order of time.
func (l *Loudness) Moment(i int, at clock.Moment) *level.Playing {
	p, _ := l.scene(i, at, nil)
	return p
}

// MeasuredOf is what was read for one player, or for one fixed mic.
func (l *Loudness) MeasuredOf(name string) advice.Measured {
	m := l.Measured
	m.Solo = slices.ContainsFunc(l.players, func(v castPlayer) bool { return v.name == name && v.soloed })
	m.Ring = l.RingRead(name)
	return m
}

// WorstLoop is the moment of the cue with the greatest total loop, and that loop in dB; nil where nothing loops.
func (c *CueLoudness) WorstLoop() (worst *LoopMoment, db float64) {
	gains := make([]*level.LoopGains, len(c.Loops))
	for i := range c.Loops {
		gains[i] = c.Loops[i].Gains
	}
	at, db := level.WorstLoop(gains)
	if at < 0 {
		return nil, db
	}
	return &c.Loops[at], db
}

// loopTakeDB is the give or take of a margin that a mic sets.
func (l *Loudness) loopTakeDB(name string) float64 { return advice.SpreadOf(l.MeasuredOf(name)).LoopDB }
