package run

import (
	"math"
	"time"

	"backfield/osc/hold"
	"backfield/osc/journal"
	"backfield/osc/tempo"
)

// FollowTime is what the journal has as the cause of a step that another machine's time has entered.
const FollowTime Verb = "outside time"

// ShowClock is the show's time as played, and whether it runs.
func (e *Engine) ShowClock(now time.Time) (showS, rate float64, running bool) {
	return e.clock.NowS(now), e.clock.Rate, e.clock.Running
}

// CueTime is the planned time of the current cue, and of the one that holds at another time, in seconds; -Inf before
// the first.
func (e *Engine) CueTime(showS float64) (nowS, thenS float64) {
	timeS := func(step int) float64 {
		if step < 0 {
			return math.Inf(-1)
		}
		return e.route.Cues[step].TimeS
	}
	return timeS(e.step), timeS(e.route.At(showS))
}

// GoBy has the show clock run from a time at a rate, as another machine has it. The cue stays.
func (e *Engine) GoBy(showS, rate float64, now time.Time) {
	rate = min(max(rate, tempo.Slowest), tempo.Fastest)
	e.clock, e.presses = journal.PlayClock{ShowS: showS, At: now, Rate: rate, Running: true}, nil
	e.motion.Wake(now)
}

// StandAt stops the show clock at a time, as another machine has it. The cue stays.
func (e *Engine) StandAt(showS float64, why journal.StopReason, now time.Time) {
	e.clock = journal.PlayClock{ShowS: showS, At: now, Rate: e.clock.Rate, Why: why}
	e.presses = nil
	e.motion.Wake(now)
}

// MoveTo goes to the cue that holds at a time, without fades, as after a jump of another machine's time.
func (e *Engine) MoveTo(showS, rate float64, now time.Time) {
	i := e.route.At(showS)
	e.remember(i)
	e.GoBy(showS, rate, now)
	e.cause = FollowTime
	e.enter(i, now, hold.Entering{Cut: true})
	e.cause = ""
	if i >= 0 {
		e.sendExtras(i, now)
	}
}
