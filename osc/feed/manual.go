package feed

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/mixer"
)

const (
	probeTime     = 400 * time.Millisecond // how long a suspicion waits for others
	restartStrays = 3                      // values that differ at once: nobody moves so many by hand
	recent        = 3 * time.Second        // what has strayed within this time did so at once
)

// manual is the channels that somebody moved at the mixer, and what they moved. They are left alone.
type manualChannels map[int]string

// has reports whether a place is left alone.
func (m manualChannels) has(place mixer.Control) bool {
	if len(m) == 0 {
		return false
	}
	_, is := m[place.Channel]
	return is
}

// suspects is what may have been moved, and is not judged yet.
type suspects struct {
	channels map[int]string    // channels of which a confirmed value has moved, and that value
	strays   map[int]time.Time // when a row was last heard to hold neither what it was sent nor what it held before
	decideAt time.Time
}

func (s *suspects) has(place mixer.Control) bool {
	if len(s.channels) == 0 {
		return false
	}
	_, is := s.channels[place.Channel]
	return is
}

// clear ends all suspicions.
func (s *suspects) clear() {
	clear(s.channels)
	clear(s.strays)
}

// Manual lists the channels that somebody moved at the mixer, ascending.
func (f *Feed) Manual() []int {
	if len(f.manual) == 0 {
		return nil
	}
	return slices.Sorted(maps.Keys(f.manual))
}

// Moved is what somebody moved on a manual channel, in words.
func (f *Feed) Moved(channel int) string { return f.manual[channel] }

// SetManual leaves a channel alone that an earlier run has found moved.
func (f *Feed) SetManual(channel int, what string) { f.manual[channel] = what }

// Release takes a channel back from whoever moved it: what the mixer holds there is not known. It reports whether the
// channel was manual.
func (f *Feed) Release(channel int) bool {
	if _, is := f.manual[channel]; !is {
		return false
	}
	delete(f.manual, channel)
	for i := range f.slots {
		if f.table.Place(i).Channel == channel {
			f.slots[i].Forget()
		}
	}
	return true
}

// leave leaves a channel alone, since somebody moved it.
func (f *Feed) leave(channel int, what string, now time.Time) {
	f.manual[channel] = what
	delete(f.suspects.channels, channel)
	f.reports.Manual(channel, what, now)
}

// suspect takes a value of which the mixer has said that it had it, and now says that it has another. Nobody asked:
// somebody moved it. An answer to a question may also come from a mixer that has restarted, which others will show.
func (f *Feed) suspect(i int, said osc.Arg, now time.Time) {
	s, place := &f.slots[i], f.table.Place(i)
	what := fmt.Sprintf("%s: the mixer has %s, the show %s", place.Param, said, f.want(i))
	if f.mixer.Query == nil || now.Sub(s.askedAt) > movedAfter {
		f.leave(place.Channel, what, now)
		return
	}
	s.confirmed = false
	first := len(f.suspects.channels) == 0
	if first {
		f.suspects.decideAt = now.Add(probeTime)
	}
	if !f.suspects.has(place) {
		f.probe(place.Channel, first, now)
	}
	f.suspects.channels[place.Channel], f.suspects.strays[i] = what, now
}

// probe asks for all values of a channel and, at first, for some of every other, to tell a moved channel from a mixer
// that has restarted.
func (f *Feed) probe(channel int, all bool, now time.Time) {
	for i := range f.slots {
		place := f.table.Place(i)
		if place.Channel == channel || all && (place.Param == cue.ParamDelay || place.Param == cue.ParamPan) {
			f.slots[i].askedAt = now
			f.first = append(f.first, f.question(i))
		}
	}
}

// decide judges suspicions: a value or two were moved by hand, and so were any number of mutes and levels, which a
// group may hold. More at once, of those that nobody moves by hand together, are a mixer that has lost its state.
func (f *Feed) decide(now time.Time) {
	if len(f.suspects.channels) == 0 || now.Before(f.suspects.decideAt) {
		return
	}
	values, restarted := 0, !f.hasProof()
	for i, at := range f.suspects.strays {
		if now.Sub(at) <= recent {
			values++
			restarted = restarted || groupCannotMove(f.table.Place(i))
		}
	}
	if values >= restartStrays && restarted {
		f.reports.Problem(fmt.Sprintf("%s has lost its state, as after a restart: %s", f.to, f.resending()), now)
		f.resend()
		return
	}
	for _, channel := range slices.Sorted(maps.Keys(f.suspects.channels)) {
		f.leave(channel, f.suspects.channels[channel], now)
	}
	f.suspects.clear()
}

// hasTelling reports whether any row is one that nobody moves together with others.
func (f *Feed) hasProof() bool {
	for i := range f.slots {
		if groupCannotMove(f.table.Place(i)) {
			return true
		}
	}
	return false
}

// telling reports whether a place is no mute and no level, so that a group cannot move it.
func groupCannotMove(place mixer.Control) bool {
	return place.Param != cue.ParamMute && place.Param != cue.ParamLevel
}
