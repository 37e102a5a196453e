// Package outside is the channels of one mixer that the show does not use. They are listened to, and asked for where the
// mixer can be asked. They are sent nothing, with one exception: hush closes those that are open, since they may be what is
// heard, and unhush undoes just that. Like a feed it does no I/O.
package outside

import (
	"fmt"
	"slices"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/mixer"
)

// Channels are the channels of one mixer that the show does not use. Make them with New.
type Channels struct {
	mixer  *mixer.Mixer
	used   func(channel int) bool
	report func(text string, now time.Time)

	channels []*otherChannel // by number; nil for one of which nothing was heard
	hushed   bool
	sending  []int // channels that wait to be sent their mute, or to confirm it
	rounds   questions
}

// otherChannel is one of them. Its mute is what closes it.
type otherChannel struct {
	mute, level osc.Arg // what the mixer last said; the zero Arg for nothing
	freshMute   bool    // the mute was heard since the last reason to ask
	freshLevel  bool    // so was the level
	known       bool    // since then, it was known whether the channel is open
	before      osc.Arg // the mute as hush found it, for unhush; the zero Arg for a channel that hush has not closed
	doubted     bool    // it is said to be open again after hush has closed it
	want        osc.Arg // what the mute was set to and has not confirmed; the zero Arg for nothing
	tries       int
	turnedAt    time.Time // when want was first sent
	sentAt      time.Time
}

// New makes the channels of a mixer that are not used. Under hush, report is called with a channel that turns out to be
// open, once its state has changed.
func New(d *mixer.Mixer, used func(channel int) bool, report func(text string, now time.Time)) *Channels {
	return &Channels{mixer: d, used: used, report: report}
}

// Has reports whether the mixer has a channel that the show does not use.
func (o *Channels) Has(n int) bool { return n >= 1 && n <= o.mixer.Channels && !o.used(n) }

// each calls do with every channel of which something is known, ascending.
func (o *Channels) each(do func(n int, c *otherChannel)) {
	for n, c := range o.channels {
		if c != nil && o.Has(n) {
			do(n, c)
		}
	}
}

func (o *Channels) channel(n int) *otherChannel {
	if n >= len(o.channels) {
		o.channels = append(o.channels, make([]*otherChannel, n+1-len(o.channels))...)
	}
	if o.channels[n] == nil {
		o.channels[n] = &otherChannel{}
	}
	return o.channels[n]
}

// levelDB is a channel's level. known is false before the mixer has said it.
func (o *Channels) levelDB(c *otherChannel) (dB cue.Level, known bool) {
	v, known := o.mixer.Value(cue.ParamLevel, c.level)
	return cue.Level(v), known && c.level != osc.Arg{}
}

// isOpen reports whether a channel can be heard, as far as the mixer has said.
func (o *Channels) isOpen(c *otherChannel) bool {
	if dB, known := o.levelDB(c); known && dB == cue.Silent {
		return false
	}
	v, known := o.mixer.Value(cue.ParamMute, c.mute)
	return known && c.mute != osc.Arg{} && v != 1
}

// Open lists the channels that are open at the mixer, ascending.
func (o *Channels) Open() (list []int) {
	o.each(func(n int, c *otherChannel) {
		if o.isOpen(c) {
			list = append(list, n)
		}
	})
	return list
}

// Channel is a channel's level in dB, whether the mixer has said that, and whether the channel is known to be open.
func (o *Channels) Channel(n int) (dB cue.Level, known, open bool) {
	if n >= len(o.channels) || o.channels[n] == nil {
		return 0, false, false
	}
	dB, known = o.levelDB(o.channels[n])
	return dB, known, o.isOpen(o.channels[n])
}

// Unknown counts the channels that may be open: the mixer has not said.
func (o *Channels) Unknown() (count int) {
	for n := 1; n <= o.mixer.Channels; n++ {
		if o.Has(n) && !o.isKnown(n) {
			count++
		}
	}
	return count
}

// isKnown reports whether a channel is known to be open or closed.
func (o *Channels) isKnown(n int) bool {
	return n < len(o.channels) && o.channels[n] != nil && o.channels[n].known
}

// isEnough reports whether what was heard since the last reason to ask says whether a channel is open: a mute that is on,
// a level that is off, or both.
func (o *Channels) isEnough(c *otherChannel) bool {
	if v, _ := o.mixer.Value(cue.ParamMute, c.mute); c.freshMute && v == 1 {
		return true
	}
	if dB, known := o.levelDB(c); c.freshLevel && known && dB == cue.Silent {
		return true
	}
	return c.freshMute && c.freshLevel
}

// Heard takes a message from the mixer that is about no channel of the show. Under hush, the answer that a channel is open
// closes it. One that is opened later stays open: someone did that on purpose, and it is listed.
func (o *Channels) Heard(m osc.Message, now time.Time) {
	place, ok := o.mixer.Find(m.Address)
	if !ok || len(m.Args) != 1 || !o.Has(place.Channel) {
		return
	}
	_, isValue := o.mixer.Value(place.Param, m.Args[0])
	if !isValue || place.Param != cue.ParamMute && place.Param != cue.ParamLevel {
		return
	}
	c := o.channel(place.Channel)
	if place.Param == cue.ParamMute {
		c.mute, c.freshMute = m.Args[0], true
	} else {
		c.level, c.freshLevel = m.Args[0], true
	}
	wasKnown := c.known
	c.known = wasKnown || o.isEnough(c)
	switch {
	case c.want != osc.Arg{}:
		agrees := place.Param == cue.ParamMute && m.Args[0].Same(c.want, o.mixer.EchoTolerance(0))
		if agrees && c.tries > 0 && now.Sub(c.turnedAt) >= mixer.EchoDelay {
			c.want = osc.Arg{}
		}
	case !o.isOpen(c):
		c.doubted = false
	case c.before != osc.Arg{}:
		o.openedAgain(place.Channel, c, now)
	case o.hushed && o.mixer.Query != nil && !wasKnown:
		c.turnedAt = time.Time{}
		o.close(place.Channel, c, c.mute)
		o.report(fmt.Sprintf("channel %d (not in the show) was open: hush closes it", place.Channel), now)
	}
}

// openedAgain takes that a channel is open that hush has closed. Soon after, a late reply may have confirmed what was
// lost, so it is closed again. Later, a mixer that can be asked is asked first: one late message opens nothing. Then the
// channel is whoever's who opened it, and unhush leaves it alone.
func (o *Channels) openedAgain(n int, c *otherChannel, now time.Time) {
	if o.hushed && now.Sub(c.turnedAt) < lateReply {
		o.close(n, c, c.before)
		return
	}
	if o.mixer.Query != nil && !c.doubted {
		c.doubted = true
		o.rounds.first = append(o.rounds.first, n)
		return
	}
	c.before, c.doubted = osc.Arg{}, false
	o.report(fmt.Sprintf("channel %d (not in the show) was opened at the mixer: hush again closes it", n), now)
}

// muteOf is a channel's mute.
func muteOf(n int) mixer.Control { return mixer.Control{Channel: n, Param: cue.ParamMute} }

// Unhear takes what was heard as old: its channels may have been moved unheard.
func (o *Channels) Unhear() {
	for _, c := range o.channels {
		if c != nil {
			c.freshMute, c.freshLevel, c.known = false, false, false
		}
	}
}

// Forget is for a mixer that has lost what it held: nothing is known. What hush has closed is closed again, and is still
// unhush's to open.
func (o *Channels) Forget() {
	were := o.channels
	o.channels, o.sending = nil, nil
	for n, c := range were {
		if c != nil && c.before != (osc.Arg{}) {
			o.close(n, o.channel(n), c.before)
		}
	}
	o.AskAgain()
}

// close has a channel closed. before is the mute that unhush is to set again.
func (o *Channels) close(n int, c *otherChannel, before osc.Arg) {
	c.before = before
	on, _ := o.mixer.Arg(muteOf(n), 1)
	o.turn(n, c, on)
}

// turn has a channel's mute sent.
func (o *Channels) turn(n int, c *otherChannel, to osc.Arg) {
	c.want, c.tries, c.doubted = to, 0, false
	if !slices.Contains(o.sending, n) {
		o.sending = append(o.sending, n)
	}
}

// Hush closes the channels that are open, and lists them. The mixer is asked for all others; those that turn out to be open
// close, too.
func (o *Channels) Hush() (closed []int) {
	o.each(func(n int, c *otherChannel) {
		opening := c.want != osc.Arg{} && c.before == osc.Arg{} // unhush is still opening it
		switch {
		case opening:
			o.close(n, c, c.want)
		case c.want == osc.Arg{} && o.isOpen(c):
			o.close(n, c, c.mute)
		default:
			return
		}
		c.turnedAt = time.Time{}
		closed = append(closed, n)
	})
	o.hushed = true
	o.AskAgain()
	return closed
}

// Unhush sets the channels that hush has closed to what they were, and lists them.
func (o *Channels) Unhush() (opened []int) {
	o.each(func(n int, c *otherChannel) {
		if c.before != (osc.Arg{}) {
			c.turnedAt = time.Time{}
			o.turn(n, c, c.before)
			c.before = osc.Arg{}
			opened = append(opened, n)
		}
	})
	o.hushed = false
	return opened
}

// Closed lists the channels that hush has closed, ascending.
func (o *Channels) Closed() (list []int) {
	o.each(func(n int, c *otherChannel) {
		if c.before != (osc.Arg{}) {
			list = append(list, n)
		}
	})
	return list
}

// SetHushed takes up the hush of an earlier run, and the channels that it closed.
func (o *Channels) SetHushed(closed []int) {
	o.hushed = true
	for _, n := range closed {
		if o.Has(n) {
			o.channel(n).before, _ = o.mixer.Arg(muteOf(n), 0)
		}
	}
}
