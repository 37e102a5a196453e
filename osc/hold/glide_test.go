package hold

import (
	"math"
	"testing"
	"time"

	"backfield/cue"
	"backfield/osc"
)

// followedTable is a table with one open channel, whose path the test sets.
func followedTable(t *testing.T, moves cue.Moves) (*TargetTable, *Glide) {
	table := fill(t, cue.Channel{Channel: 1, Open: true, DelayMS: 50})
	table.limits = GlideLimits{Moves: moves, SlewMSPS: 8}
	row, _ := table.Find("/d/1")
	g := &Glide{At: cue.Gliding{DelayMS: 50}}
	g.add(row, table.Place(row))
	table.setGlide(1, g, true)
	return table, g
}

// A follower sets a channel at once until its values were sent, and moves it by the slew from there: by what may move
// since the last value that went, and never by more than one step for all the time that a value has waited.
func TestFollower(t *testing.T) {
	table, g := followedTable(t, cue.Glides)
	f := NewFollower(table)
	now := time.Unix(1_700_000_000, 0)
	const tick = 20 * time.Millisecond
	follow := func(waits bool) (arg osc.Arg, behind bool) {
		now = now.Add(tick)
		behind = f.Follow(1, waits, now, tick, func(_ int, a osc.Arg, _, _ bool) { arg = a })
		return arg, behind
	}
	at := func() float64 { x, _ := f.At(1); return x.DelayMS }
	follow(true)
	g.At.DelayMS = 51
	if arg, behind := follow(true); arg != osc.Float32(50) || !behind {
		t.Errorf("set, it should rest until its mute was sent: %v, behind %t", arg, behind)
	}
	g.At.DelayMS = 70
	g.aims++
	if arg, behind := follow(true); arg != osc.Float32(70) || behind {
		t.Errorf("aimed again before it is open: %v, behind %t", arg, behind)
	}
	follow(false)
	g.At.DelayMS = 60
	if _, behind := follow(false); math.Abs(at()-69.84) > 1e-9 || !behind {
		t.Errorf("after one tick: %g", at())
	}
	for range 10 { // it waits: what is sent next is one step from what was sent last
		follow(true)
	}
	if math.Abs(at()-69.84) > 1e-9 {
		t.Errorf("after waiting: %g", at())
	}
	for range 200 {
		follow(false)
	}
	if _, behind := follow(false); at() != 60 || behind {
		t.Errorf("it should be there: %g, behind %t", at(), behind)
	}
	f.Move(1, cue.Gliding{DelayMS: 61})
	if follow(false); math.Abs(at()-60.84) > 1e-9 {
		t.Errorf("after it was moved at the mixer: %g", at())
	}
	now = now.Add(time.Minute) // the laptop slept
	g.At.DelayMS = 90
	if follow(false); at() > 61 {
		t.Errorf("after a long sleep it jumps to %g", at())
	}
	f.Reset()
	if follow(false); at() != 90 {
		t.Errorf("a mixer of which nothing is known: %g", at())
	}
	table.setGlide(1, g, false)
	follow(false)
	if _, open := f.At(1); open {
		t.Error("a closed channel is followed")
	}
}

// A mixer that clicks gets its delay at once from the follower, since a glide would click at every step: the dip is the
// motion's.
func TestFollowerOfAMixerThatClicks(t *testing.T) {
	table, g := followedTable(t, cue.Closed)
	f := NewFollower(table)
	now := time.Unix(1_700_000_000, 0)
	for range 3 {
		now = now.Add(20 * time.Millisecond)
		f.Follow(1, false, now, 20*time.Millisecond, func(int, osc.Arg, bool, bool) {})
	}
	g.At.DelayMS, g.At.Pan = 70, 1
	now = now.Add(20 * time.Millisecond)
	f.Follow(1, false, now, 20*time.Millisecond, func(int, osc.Arg, bool, bool) {})
	if at, _ := f.At(1); at.DelayMS != 70 || math.Abs(at.Pan-0.02) > 1e-9 {
		t.Errorf("it is sent %+v", at)
	}
}
