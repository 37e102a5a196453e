package feed

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/mixer"
)

const (
	probeTime     = 400 * time.Millisecond // how long a decision waits for more values
	restartStrays = 3                      // this many values differ at once: nobody moves so many by hand
	recent        = 3 * time.Second        // values that changed within this time changed at once
)

// manualChannels are the channels that someone moved at the mixer, and what they moved. The run leaves them alone.
type manualChannels map[int]string

// has reports whether a place belongs to a manual channel.
func (m manualChannels) has(place mixer.Control) bool {
	if len(m) == 0 {
		return false
	}
	_, is := m[place.Channel]
	return is
}

// suspects is what may have been moved, before it is decided.
type suspects struct {
	channels map[int]string    // channels with a confirmed value that changed, and that value in words
	strays   map[int]time.Time // when a row was last heard with a value that is neither the one sent nor the one before
	decideAt time.Time
}

func (s *suspects) has(place mixer.Control) bool {
	if len(s.channels) == 0 {
		return false
	}
	_, is := s.channels[place.Channel]
	return is
}

// clear drops all suspects.
func (s *suspects) clear() {
	clear(s.channels)
	clear(s.strays)
}

// Manual lists the manual channels, ascending.
func (f *Feed) Manual() []int {
	if len(f.manual) == 0 {
		return nil
	}
	return slices.Sorted(maps.Keys(f.manual))
}

// Moved says what someone moved on a manual channel.
func (f *Feed) Moved(channel int) string { return f.manual[channel] }

// SetManual makes a channel manual, as it was in an earlier run.
func (f *Feed) SetManual(channel int, what string) { f.manual[channel] = what }

// Release ends manual for a channel and takes what the mixer holds there as unknown. It reports whether the channel was
// manual.
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

// leave makes a channel manual.
func (f *Feed) leave(channel int, what string, now time.Time) {
	f.manual[channel] = what
	delete(f.suspects.channels, channel)
	f.reports.Manual(channel, what, now)
}

// suspect takes a reply with another value than the mixer confirmed before. Without a query, someone moved it. The
// reply to a query may also come from a mixer that has restarted: then other values differ too.
func (f *Feed) suspect(i int, said osc.Arg, now time.Time) {
	s, place := &f.slots[i], f.table.Place(i)
	what := f.movedWords(i, said)
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

// movedWords says what someone moved, with units: "level -31.0 dB (show +0.5 dB)".
func (f *Feed) movedWords(i int, said osc.Arg) string {
	param := f.table.Place(i).Param
	return fmt.Sprintf("%s %s (show %s)", param, f.withUnit(param, said), f.withUnit(param, f.want(i)))
}

func (f *Feed) withUnit(param string, arg osc.Arg) string {
	v, ok := f.mixer.Value(param, arg)
	switch {
	case !ok:
		return arg.String()
	case param == cue.ParamMute && v == 1:
		return "on"
	case param == cue.ParamMute, math.IsInf(v, -1):
		return "off"
	case param == cue.ParamLevel || param == cue.ParamSend:
		return fmt.Sprintf("%+.1f dB", v)
	case param == cue.ParamDelay:
		return fmt.Sprintf("%.1f ms", v)
	case param == cue.ParamPan:
		return fmt.Sprintf("%+.2f", v)
	}
	return fmt.Sprintf("%.4g", v)
}

// probe asks for all values of a channel. The first time it also asks for some of every other channel, to see whether
// only this channel was moved or the mixer has restarted.
func (f *Feed) probe(channel int, all bool, now time.Time) {
	for i := range f.slots {
		place := f.table.Place(i)
		if place.Channel == channel || all && (place.Param == cue.ParamDelay || place.Param == cue.ParamPan) {
			f.slots[i].askedAt = now
			f.first = append(f.first, f.question(i))
		}
	}
}

// decide makes the suspects manual, or finds that the mixer has restarted. One or two values were moved by hand. So
// were any number of mutes and levels, since a group at the mixer can move them. More values at once, with one among
// them that no group can move, are a restart.
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
		f.reports.Problem(fmt.Sprintf("MIXER RESTARTED (%s): %s", f.to, f.resending()), now)
		f.resend()
		return
	}
	for _, channel := range slices.Sorted(maps.Keys(f.suspects.channels)) {
		f.leave(channel, f.suspects.channels[channel], now)
	}
	f.suspects.clear()
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
