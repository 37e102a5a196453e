package feed

import (
	"fmt"
	"maps"
	"math"
	"time"

	"backfield/cue"
	"backfield/osc/mixer"
)

// hasRestarted reports whether the values that differ can only come from a mixer that has lost what it held, or that
// something else than a hand has set. A mixer that cannot be asked says too little of each value, so there it takes more.
func (f *Feed) hasRestarted(now time.Time) bool {
	values, proof := 0, !f.hasProof()
	channels := map[int]bool{}
	for i, at := range f.doubts.strays {
		if now.Sub(at) <= recent {
			values++
			channels[f.table.Place(i).Channel] = true
			proof = proof || groupCannotMove(f.table.Place(i))
		}
	}
	if f.mixer.Query == nil && (values < echoStrays || len(channels) < echoChannels) {
		return false
	}
	return values >= restartStrays && proof
}

// goBackAndForth reports whether many rows of a mixer that cannot be asked had another value and then the run's again. The
// other program checks each row at the same moment as this one, so no doubt lasts until it is decided.
func (f *Feed) goBackAndForth(now time.Time) bool {
	channels := map[int]bool{}
	for i, at := range f.doubts.crossed {
		if now.Sub(at) > recent {
			delete(f.doubts.crossed, i)
			continue
		}
		channels[f.table.Place(i).Channel] = true
	}
	return len(f.doubts.crossed) >= echoStrays && len(channels) >= echoChannels
}

// hasProof reports whether the mixer has any row that a group cannot move.
func (f *Feed) hasProof() bool {
	for i := range f.slots {
		if groupCannotMove(f.table.Place(i)) {
			return true
		}
	}
	return false
}

// groupCannotMove reports whether a place is neither a mute nor a level.
func groupCannotMove(place mixer.Control) bool {
	return place.Param != cue.ParamMute && place.Param != cue.ParamLevel
}

const (
	contestTime = 10 * time.Second // two restarts within this time, without silence, are another program's doing
	bootTime    = time.Second      // a mixer that restarts is silent at least that long
	newsTime    = 10 * time.Second // how long a restart is news

	mostPowerCuts = 3 // restarts in a row within contestTime that may be power cuts without a silence
	echoStrays    = 6 // so many values of echoChannels channels, at once, are no hand at a mixer that cannot be asked
	echoChannels  = 3
)

// restarts is what a mixer that loses its values shows: a restart, or another program that sends to it.
type restarts struct {
	at        time.Time // of the last restart; zero for none
	silentAt  time.Time // when the mixer was last heard after it had been silent
	contested bool      // another program sends to it: nothing is sent again until the operator decides
	news      bool      // the last restart is news
	inARow    int       // restarts within contestTime of each other, without silence
	wakes     wakeValues
}

// wakeValues are what a mixer has after its power comes back, by parameter, in the snapshot's unit: the same on every
// channel.
type wakeValues map[string]float64

// restart resends everything to a mixer that has restarted: what someone had moved there is lost with the rest. A mixer
// that seems to restart again without having been silent is being set by another program, unless every value is one that
// a mixer has when its power comes back. Two programs would fight, so nothing is sent again.
func (f *Feed) restart(now time.Time) {
	r := &f.restarts
	again := !r.at.IsZero() && now.Sub(r.at) <= contestTime && !r.silentAt.After(r.at)
	before := r.wakes
	if r.at = now; !again {
		before, r.inARow = nil, 0
	}
	r.inARow++
	r.wakes = f.learnWakeValues(before, now)
	powerCut := f.atWakeValues(now)
	f.doubts.clear()
	if again && !(powerCut && r.inARow <= mostPowerCuts) {
		r.contested, r.news = true, false
		text := "ANOTHER PROGRAM IS SENDING TO THIS MIXER (%s): end it, then type resend"
		f.reports.Restart(fmt.Sprintf(text, f.to), now)
		return
	}
	r.news = true
	f.unfollow()
	f.lost()
	text := "MIXER RESTARTED (%s): %s"
	if f.mixer.Query == nil { // it says nothing when it restarts
		text = "MANY VALUES CHANGED AT ONCE (%s), by a scene there or another program: %s"
	}
	f.reports.Restart(fmt.Sprintf(text, f.to, f.resending()), now)
}

// lost takes it that the mixer has lost what it held, and what someone had moved there with it.
func (f *Feed) lost() {
	f.manual.clear()
	f.unhear()
	f.outside.Forget()
	f.resend()
}

// wasOff is for a mixer that is back and may have been off. What glides goes on from where it was: if the mixer was on,
// that is where it still is.
func (f *Feed) wasOff(now time.Time) {
	ended := ""
	if n := len(f.Manual()); n > 0 {
		ended = ", also what was manual"
	}
	f.lost()
	f.reports.Restart(fmt.Sprintf("%s replies again and may have been off: %s%s", f.to, f.resending(), ended), now)
}

// strayValues calls do with every value that differs still, in the snapshot's unit.
func (f *Feed) strayValues(now time.Time, do func(i int, v float64)) {
	for i, at := range f.doubts.strays {
		if v, known := f.saidValue(i); known && now.Sub(at) <= recent && !f.says(i, f.sentValue(i)) {
			do(i, v)
		}
	}
}

// learnWakeValues is what the mixer has after a restart, of each parameter that has one value on all channels, and
// what is known from the restart before. A ceiling is not over that value, so the highest one counts.
func (f *Feed) learnWakeValues(before wakeValues, now time.Time) wakeValues {
	wakes := wakeValues{}
	f.strayValues(now, func(i int, v float64) {
		param := f.table.Place(i).Param
		if known, ok := wakes[param]; !ok || v > known {
			wakes[param] = v
		}
	})
	f.strayValues(now, func(i int, _ float64) {
		param := f.table.Place(i).Param
		if v, ok := wakes[param]; ok && !f.says(i, v) {
			delete(wakes, param)
		}
	})
	maps.Copy(wakes, before)
	return wakes
}

// atWakeValues reports whether every value that differs is the one that its parameter has after a restart, or what
// mixer.toml has as the default: closed, in the center, without delay. Another program has other pans and delays on
// other channels, and where no value differs any more, it was not the power that brought the run's values back.
func (f *Feed) atWakeValues(now time.Time) bool {
	all, some := true, false
	f.strayValues(now, func(i int, _ float64) {
		param := f.table.Place(i).Param
		v := f.mixer.Default(param)
		switch param {
		case cue.ParamMute:
			v = 1
		case cue.ParamLevel, cue.ParamSend:
			v = math.Inf(-1)
		}
		wakes, learned := f.restarts.wakes[param]
		all, some = all && (f.says(i, v) || learned && f.says(i, wakes)), true
	})
	return all && some
}

// sentValue is what a row was last sent, in the snapshot's unit.
func (f *Feed) sentValue(i int) float64 {
	v, _ := f.mixer.Value(f.table.Place(i).Param, f.slots[i].Sent)
	return v
}

// says reports whether the mixer has last said that a row has a value, given in the snapshot's unit.
func (f *Feed) says(i int, v float64) bool {
	arg, ok := f.mixer.Arg(f.table.Place(i), v)
	return ok && f.slots[i].said.Same(arg, f.mixer.EchoTolerance(0))
}

// Resend has everything sent again, except what is manual: the operator has decided that this run sets the mixer.
func (f *Feed) Resend(now time.Time) {
	f.restarts = restarts{}
	f.resend()
	f.outside.AskAgain()
}

// Contested reports whether another program sends to the mixer: nothing is sent again until Resend.
func (f *Feed) Contested() bool { return f.restarts.contested }
