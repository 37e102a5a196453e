// Package follow has a run go by the time of another machine, such as time code. It does no I/O and reads no clock.
package follow

import (
	"fmt"
	"math"
	"time"

	"backfield/osc/chase"
	"backfield/osc/journal"
	"backfield/osc/run"
)

const (
	jumpS   = 1.0   // a greater difference is no drift: the run goes to the cue that holds there
	closeS  = 0.001 // a smaller difference is not corrected
	sameway = 0.002 // a smaller difference of rates neither
	// Every is how often Steer is to be called while a time is followed. Between two calls the run's own clock goes on.
	Every = 50 * time.Millisecond
	// backwardFor is how long a time counts as running backward after its last word.
	backwardFor = time.Second
)

// OuterTime is a time of another machine and how it is the show's. Its unit is seconds, or quarter notes of a MIDI
// clock.
type OuterTime struct {
	Name string                     // such as "time code", in the middle of a sentence
	Rate float64                    // how fast it is expected to run, in its unit a second
	Say  func(outer float64) string // how it is written
	// Show is the show's time of it, in seconds, and how many seconds of the show one of its unit takes: 0 where the show
	// waits.
	Show func(outer float64) (showS, rate float64)
}

// TimeFollower moves a run by one outer time. The operator comes first: after back, jump or stop it moves nothing until
// start; after a go that came early the clock waits at the cue.
type TimeFollower struct {
	time   OuterTime
	chaser chase.Chaser

	left       run.Verb // what the operator pressed, since when the time is not followed; "" if it is
	early      bool     // go came before the time
	earlyS     float64  // the cue's time
	backwardAt time.Time
	heard      bool // anything at all
}

// New makes a follower that has heard nothing.
func New(t OuterTime) *TimeFollower {
	return &TimeFollower{time: t, chaser: chase.Chaser{Rate: t.Rate}}
}

// Hear takes what the other machine says the time is.
func (f *TimeFollower) Hear(outer float64, at time.Time) {
	f.heard = true
	f.chaser.Hear(outer, at)
}

// Locate takes a time that stands, which is said once.
func (f *TimeFollower) Locate(outer float64, at time.Time) {
	f.heard = true
	f.chaser.Locate(outer, at)
}

// Backward notes that the time runs backward. It is not followed then.
func (f *TimeFollower) Backward(at time.Time) {
	f.heard, f.backwardAt = true, at
	f.chaser.Forget()
}

// Ordered notes a command that the run has carried out.
func (f *TimeFollower) Ordered(r *run.Engine, v run.Verb, now time.Time) {
	switch v {
	case run.Back, run.Jump, run.Stop, run.Quit:
		f.left, f.early = v, false
	case run.Start:
		f.left, f.early = "", false
	case run.Go:
		f.early = f.left == ""
		f.earlyS, _ = r.CueTime(0)
	}
}

// Steer moves the run to where the time is. Call it before the engine's Advance.
func (f *TimeFollower) Steer(r *run.Engine, now time.Time) {
	outer, rate, state := f.chaser.Now(now)
	if f.left != "" || state == chase.Nothing {
		return
	}
	showS, showRate := f.time.Show(outer)
	rate *= showRate
	if f.early = f.early && showS < f.earlyS; f.early {
		f.stand(r, f.earlyS, journal.StoppedAhead, now)
		return
	}
	clockS, clockRate, running := r.ShowClock(now)
	cueS, thereS := r.CueTime(showS)
	if jumped := math.Abs(showS-clockS) > jumpS; jumped && cueS != thereS {
		r.MoveTo(showS, rate, now)
		clockS, clockRate, running = r.ShowClock(now)
	}
	if state == chase.Standing || showRate == 0 {
		f.stand(r, showS, journal.StoppedOutside, now)
		return
	}
	if !running || math.Abs(showS-clockS) > closeS || math.Abs(rate-clockRate) > sameway {
		r.GoBy(showS, rate, now)
	}
}

func (f *TimeFollower) stand(r *run.Engine, showS float64, why journal.StopReason, now time.Time) {
	if clockS, _, running := r.ShowClock(now); running || clockS != showS {
		r.StandAt(showS, why, now)
	}
}

// View is what a screen says of the time; alarm is true for what the operator must know at once.
func (f *TimeFollower) View(now time.Time) (text string, alarm bool) {
	outer, _, state := f.chaser.Now(now)
	name := f.time.Name
	switch {
	case !f.backwardAt.IsZero() && now.Sub(f.backwardAt) < backwardFor:
		return fmt.Sprintf("%s runs backward: not followed", name), true
	case f.left != "":
		return fmt.Sprintf("%s not followed since %s: start follows it again", name, f.left), true
	case state == chase.Nothing && f.heard:
		return fmt.Sprintf("%s is heard, not yet followed", name), false
	case state == chase.Nothing:
		return fmt.Sprintf("waiting for %s", name), false
	case state == chase.Standing:
		return fmt.Sprintf("%s stands at %s", name, f.time.Say(outer)), false
	case state == chase.Free:
		silent := f.chaser.Silent(now).Round(time.Second)
		return fmt.Sprintf("no %s for %v: the show clock goes on at the last tempo", name, silent), true
	case f.early:
		showS, _ := f.time.Show(outer)
		return fmt.Sprintf("%s %s: you were early by %.1f s, the clock waits", name, f.time.Say(outer),
			f.earlyS-showS), false
	}
	return fmt.Sprintf("%s %s", name, f.time.Say(outer)), false
}
