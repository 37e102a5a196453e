package feed

import (
	"math"
	"time"

	"backfield/osc/hold"
	"backfield/osc/mixer"
)

// grain is what goes together where the mixer takes messages faster than a computer can be woken for each: as many as
// fit into that time, which are then paid for before the next may go. At 5,000 messages a second and less it is one.
const grain = 200 * time.Microsecond

// pace is how fast a mixer takes messages.
type pace struct {
	gap      time.Duration // what the mixer has for each
	together int           // how many go at once
	freeAt   time.Time     // when the next may go
}

func newPace(mixer *mixer.Mixer) pace {
	gap := perMessage(mixer)
	if gap == 0 {
		return pace{together: math.MaxInt32}
	}
	return pace{gap: gap, together: max(1, int(grain/gap))}
}

// perMessage is the time that a mixer has for a message.
func perMessage(mixer *mixer.Mixer) time.Duration {
	return time.Second / time.Duration(max(mixer.Rate, 1))
}

// ahead is the time that as many messages take as go together.
func (p *pace) ahead() time.Duration { return p.gap * time.Duration(p.together) }

// Take returns what may be sent now, and remembers it as sent: mostly one message, more where messages travel in
// bundles or where the mixer's rate is high. The list is valid until the next Take. Passed or Failed must be called
// with what became of it.
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
	for size := 16; ; { // of a bundle so far, in bytes
		if !f.next(&m, now) && (len(f.out) > 0 || !f.repeat(&m, now)) {
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

// next is the next message that the mixer was not sent: what must go first, then what differs. It reports whether there
// is one.
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
	if i, ok := f.pop(limit); ok {
		f.takeRow(m, i, now)
		if !f.table.Fading(i, now) {
			f.note(m)
		}
		return true
	}
	if len(f.extras) > 0 {
		*m, f.extras = f.extras[0], f.extras[1:]
		f.note(m)
		return true
	}
	return false
}

// say remembers that the mixer is sent what is wanted in a row.
func (f *Feed) takeRow(m *Outgoing, i int, now time.Time) {
	f.value(m, i)
	f.slots[i].RecordSent(m.Arg, now)
	f.link.used = true
	f.expectReply(now)
}

// idly is how late something may be done that does not matter to a millisecond.
const slack = 5 * time.Millisecond

// Next is when Advance and Take want to be called again, if nothing happens before, and how late that may be: what the
// mixer was not sent, soon enough that the pace is kept.
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
	if len(f.suspects.channels) > 0 {
		sooner(f.suspects.decideAt)
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
	switch {
	case f.waiting() || !f.opened:
		sooner(free)
		if at.Equal(free) && !f.link.trying {
			within = f.pace.ahead() / 2
		}
	case f.mixer.Repeat && len(f.slots) > 0:
		if free.Before(f.rounds.repeatAt) {
			free = f.rounds.repeatAt
		}
		sooner(free)
	}
	return at, within
}
