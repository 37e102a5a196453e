package feed

import (
	"math"
	"time"

	"backfield/osc/hold"
	"backfield/osc/mixer"
)

// grain is the time whose messages are sent together if the mixer takes messages faster than a computer can wake up for
// each one. Up to 5,000 messages a second, that is one message.
const grain = 200 * time.Microsecond

// pace keeps to the mixer's rate.
type pace struct {
	gap      time.Duration // for each message
	together int           // how many are sent at once
	freeAt   time.Time     // when the next may be sent
}

func newPace(mixer *mixer.Mixer) pace {
	gap := perMessage(mixer)
	if gap == 0 {
		return pace{together: math.MaxInt32}
	}
	return pace{gap: gap, together: max(1, int(grain/gap))}
}

// perMessage is the time from one message to the next at the mixer's rate.
func perMessage(mixer *mixer.Mixer) time.Duration {
	return time.Second / time.Duration(max(mixer.Rate, 1))
}

// ahead is the time for as many messages as are sent together.
func (p *pace) ahead() time.Duration { return p.gap * time.Duration(p.together) }

// Take returns what may be sent now and notes it as sent: usually one message, more with bundles or a high rate. The
// list is valid until the next Take. Sent or SendFailed must be called with the result.
func (f *Feed) Take(now time.Time) []Outgoing {
	p := &f.pace
	if !f.link.up || p.freeAt.After(now) || f.link.trying && now.Sub(f.link.failed) < retryEvery {
		return nil
	}
	if now.Sub(p.freeAt) >= p.ahead() {
		p.freeAt = now
	}
	f.out = f.out[:0]
	var m Outgoing
	for size := 16; ; { // of the bundle so far, in bytes
		if !f.next(&m, now) && (len(f.out) > 0 || !f.askOutside(&m, now) && !f.repeat(&m, now)) {
			break
		}
		f.out = append(f.out, m)
		if len(f.first) == 0 && f.scene.pause > 0 {
			p.freeAt, f.scene.pause = p.freeAt.Add(f.scene.pause), 0
			f.scene.until = p.freeAt
			break
		}
		size += len(m.Address) + 32
		full := !f.mixer.Bundle || size > f.mixer.MaxPacket-80
		if full && len(f.out) >= p.together {
			break
		}
		if full {
			size = 16 // the next bundle
		}
	}
	p.freeAt = p.freeAt.Add(p.gap * time.Duration(len(f.out)))
	if !f.opened && (len(f.out) == 0 || !f.waiting()) {
		f.opened = true
		f.MarkAll()
	}
	return f.out
}

// next fills in the next message to send: what must go first, then what differs. It reports whether there is one.
func (f *Feed) next(m *Outgoing, now time.Time) bool {
	if len(f.first) > 0 {
		*m, f.first = f.first[0], f.first[1:]
		f.note(m)
		return true
	}
	limit := hold.Urgency(hold.Urgencies)
	if len(f.extras) > 0 {
		limit = hold.Moving
	}
	if f.outside.Sends() { // after the show's mutes
		if f.nextRow(m, hold.Silencing, now) || f.takeOutside(m, now) {
			return true
		}
	}
	if f.nextRow(m, limit, now) {
		return true
	}
	if len(f.extras) > 0 {
		*m, f.extras = f.extras[0], f.extras[1:]
		f.note(m)
		return true
	}
	return false
}

// takeOutside fills in the switch of a channel outside the show that is to be sent now.
func (f *Feed) takeOutside(m *Outgoing, now time.Time) bool {
	x, first, ok := f.outside.Take(now, f.restarts.contested)
	if !ok {
		return false
	}
	if *m = other(value, x); first {
		f.note(m)
	}
	return true
}

// askOutside fills in a question about a channel outside the show, if one is due.
func (f *Feed) askOutside(m *Outgoing, now time.Time) bool {
	if !f.opened {
		return false
	}
	x, ok := f.outside.Ask(now, f.repeatGap())
	if ok {
		*m = other(question, x)
	}
	return ok
}

// nextRow fills in a message with the next row that is more urgent than a limit.
func (f *Feed) nextRow(m *Outgoing, limit hold.Urgency, now time.Time) bool {
	i, ok := f.pop(limit)
	if !ok {
		return false
	}
	f.takeRow(m, i, now)
	if !f.slots[i].moving && !f.table.Fading(i, now) {
		f.note(m)
	}
	return true
}

// takeRow fills in a message with a row's target value and notes it as sent.
func (f *Feed) takeRow(m *Outgoing, i int, now time.Time) {
	f.value(m, i)
	f.slots[i].RecordSent(m.Arg, now)
	f.lag.Drop(i)
	delete(f.doubts.rows, i) // the show has moved on
	f.link.used = true
	f.expectReply(now)
}

// slack is how late work may be done that need not be exact to a millisecond.
const slack = 5 * time.Millisecond

// Next is when Advance and Take must be called again if nothing happens before, and how late that may be: early enough
// to keep the pace while something waits.
func (f *Feed) Next(now time.Time) (at time.Time, within time.Duration) {
	at, within = now.Add(time.Hour), slack
	sooner := func(t time.Time) {
		if t.Before(at) {
			at = t
		}
	}
	if !f.link.up {
		return at, within
	}
	for n, k := range f.mixer.Keepalives {
		sooner(f.keptAt[n].Add(k.Every))
	}
	if len(f.doubts.rows) > 0 {
		sooner(f.doubts.decideAt)
	}
	if !f.scene.againAt.IsZero() {
		sooner(f.scene.againAt)
	}
	if !f.link.trying && !f.replies.overdue && !f.replies.waitingSince.IsZero() {
		sooner(f.replies.waitingSince.Add(f.patience()))
	}
	if f.link.trying && f.link.passes {
		sooner(f.link.failed.Add(steadyAfter))
	}
	free := f.pace.freeAt
	if f.link.trying && free.Before(f.link.failed.Add(retryEvery)) {
		free = f.link.failed.Add(retryEvery)
	}
	if due, ok := f.outside.Next(); ok && f.opened {
		sooner(later(free, due))
	}
	switch {
	case f.waiting() || !f.opened:
		sooner(free)
		if at.Equal(free) && !f.link.trying {
			within = f.pace.ahead() / 2
		}
	case f.mixer.Repeat && len(f.slots) > 0:
		sooner(later(free, f.rounds.repeatAt))
	}
	return at, within
}

func later(a, b time.Time) time.Time {
	if a.Before(b) {
		return b
	}
	return a
}
