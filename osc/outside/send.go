package outside

import (
	"slices"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/mixer"
)

const (
	quickRounds = 3                       // so many rounds ask quickly for what is not known yet
	look        = 80 * time.Millisecond   // from one question to the next after that
	closeAgain  = 200 * time.Millisecond  // from one try to turn a mute to the next
	closeSlowly = 1000 * time.Millisecond // the same after mostQuick tries
	mostQuick   = 10
	lateReply   = 4 * time.Second // no reply is later
)

// questions is how far the questions about the channels are. They go round and round, since without an echo nothing else
// shows that a channel was opened.
type questions struct {
	first []int     // channels whose mute is asked for before all others
	next  int       // the channel to ask for next
	level bool      // its mute was asked for, its level is next
	round int       // rounds so far
	at    time.Time // no question before
}

// AskAgain has every channel asked for, soon.
func (o *Channels) AskAgain() {
	o.rounds = questions{}
	for _, c := range o.channels {
		if c != nil {
			c.tries = 0
		}
	}
	if o.mixer.Query != nil { // without questions, what was heard is all that can be known
		o.Unhear()
	}
}

// Take returns the mute of a channel that is to be sent now, and whether for the first time. once says that it is not sent
// again: nothing confirms it, or another program sends to the mixer.
func (o *Channels) Take(now time.Time, once bool) (m osc.Message, first, ok bool) {
	if len(o.sending) == 0 {
		return m, false, false
	}
	o.sending = slices.DeleteFunc(o.sending, func(n int) bool { return o.channels[n].want == osc.Arg{} || !o.Has(n) })
	for _, n := range o.sending {
		c := o.channels[n]
		if now.Before(c.dueAt()) {
			continue
		}
		m = osc.Message{Address: o.mixer.Address(muteOf(n)), Args: []osc.Arg{c.want}}
		first = c.tries == 0
		if c.tries++; c.turnedAt.IsZero() {
			c.turnedAt = now
		}
		c.sentAt = now
		if once || !o.mixer.Repeat || !o.mixer.CanConfirm() {
			c.want = osc.Arg{}
		} else if o.mixer.Echo == nil {
			o.rounds.first = append(o.rounds.first, n)
		}
		return m, first, true
	}
	return m, false, false
}

// dueAt is when a channel's mute is sent next.
func (c *otherChannel) dueAt() time.Time {
	switch {
	case c.tries == 0:
		return time.Time{}
	case c.tries < mostQuick:
		return c.sentAt.Add(closeAgain)
	}
	return c.sentAt.Add(closeSlowly)
}

// Waits reports whether a mute has not been sent yet.
func (o *Channels) Waits() bool {
	return slices.ContainsFunc(o.sending, func(n int) bool {
		c := o.channels[n]
		return c.want != osc.Arg{} && c.tries == 0 && o.Has(n)
	})
}

// Sends reports whether a mute is to be sent, now or again.
func (o *Channels) Sends() bool { return len(o.sending) > 0 }

// Unconfirmed lists the channels whose mute was set, which the mixer has not confirmed, ascending.
func (o *Channels) Unconfirmed() (list []int) {
	o.each(func(n int, c *otherChannel) {
		if c.want != (osc.Arg{}) {
			list = append(list, n)
		}
	})
	return list
}

// Ask returns a question about a channel, if one is due. gap is the time to the next one in the first rounds, which ask only
// for what is not known. Later rounds ask for all, slowly.
func (o *Channels) Ask(now time.Time, gap time.Duration) (m osc.Message, ok bool) {
	r := &o.rounds
	if o.done() {
		return m, false
	}
	if len(r.first) > 0 {
		m, r.first = o.mixer.Ask(o.mixer.Address(muteOf(r.first[0]))), r.first[1:]
		return m, true
	}
	if now.Before(r.at) {
		return m, false
	}
	for range o.mixer.Channels + 1 {
		if r.next > o.mixer.Channels {
			r.next, r.level, r.round = 0, false, r.round+1
			if o.done() {
				return m, false
			}
		}
		known := o.isKnown(r.next)
		enough := known && (r.round < quickRounds && !r.level || r.level && !o.isOpen(o.channels[r.next]))
		if !o.Has(r.next) || enough {
			r.next, r.level = r.next+1, false
			continue
		}
		if r.round >= quickRounds {
			gap = max(gap, look)
		}
		r.at = now.Add(gap)
		return o.mixer.Ask(o.mixer.Address(r.step())), true
	}
	r.at = now.Add(look) // there is none, or all are known for now
	return m, false
}

// step is what to ask for now. After a mute comes the level.
func (r *questions) step() mixer.Control {
	x := muteOf(r.next)
	if r.level {
		x.Param = cue.ParamLevel
	}
	if r.level = !r.level; !r.level {
		r.next++
	}
	return x
}

// done reports whether there is nothing more to ask.
func (o *Channels) done() bool {
	return o.mixer.Query == nil || !o.mixer.Repeat && o.rounds.round >= 1 && len(o.rounds.first) == 0
}

// Next is when Take or Ask has something to do if nothing happens before; ok is false for never.
func (o *Channels) Next() (at time.Time, ok bool) {
	if !o.done() {
		at, ok = o.rounds.at, true
		if len(o.rounds.first) > 0 {
			at = time.Time{}
		}
	}
	for _, n := range o.sending {
		if due := o.channels[n].dueAt(); !ok || due.Before(at) {
			at, ok = due, true
		}
	}
	return at, ok
}
