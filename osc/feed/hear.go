package feed

import (
	"fmt"
	"math"
	"time"

	"backfield/osc"
	"backfield/osc/desk"
)

const (
	movedAfter = time.Second     // a value that differs later than this after the last change was moved at the mixer
	speechless = 2 * time.Second // a mixer that answers has this long for it
)

// hearing is what is known of when a mixer speaks.
type hearing struct {
	at     time.Time // when it was last heard; zero for never
	owedAt time.Time // of the first message that it has answered nothing to; zero for none
	silent bool      // for too long
}

// reset expects nothing of the mixer.
func (h *hearing) reset() { h.owedAt, h.silent = time.Time{}, false }

// Heard takes what the mixer says: it confirms, or it differs.
func (f *Feed) Heard(m osc.Message, now time.Time) {
	f.hearing.at, f.hearing.owedAt = now, time.Time{}
	if f.hearing.silent {
		f.hearing.silent = false
		f.reports.Problem(f.to+" answers again", now)
	}
	i, ok := f.table.Find(m.Address)
	if !ok || len(m.Args) != 1 {
		return
	}
	s := &f.slots[i]
	switch {
	case f.manual.has(f.table.Place(i)) || !s.known: // nothing is expected of it
	case s.queued == notQueued && f.agrees(s, m):
		if now.Sub(s.changedAt) >= settle {
			s.confirmed = true
		}
	case s.queued != notQueued || now.Sub(s.changedAt) < movedAfter || !s.confirmed:
		s.confirmed = false // lost, or older news: it is sent again in its turn
		if s.before != (osc.Arg{}) && !f.table.Fadable(i) && !f.same(m, s.before) {
			f.suspects.strays[i] = now
		}
	default:
		f.suspect(i, m, now)
	}
}

// agrees reports whether the mixer says what it was last sent. The steps of a fade may be smaller than the tolerance: what
// is nearer to what it was sent before has not heard of the last.
func (f *Feed) agrees(s *slot, m osc.Message) bool {
	return f.same(m, s.sent) && !nearer(m.Args[0], s.before, s.sent)
}

// same compares what the mixer says with a value, within the mixer's tolerance.
func (f *Feed) same(m osc.Message, arg osc.Arg) bool {
	tolerance := 0.0
	if f.mixer.Echo != nil {
		tolerance = f.mixer.Echo.Tolerance
	}
	return desk.Same(m, osc.Message{Address: m.Address, Args: []osc.Arg{arg}}, tolerance)
}

// nearer reports whether what is heard is nearer to what the mixer was sent before than to what it was sent last.
func nearer(heard, before, last osc.Arg) bool {
	h, ok1 := heard.Number()
	b, ok2 := before.Number()
	l, ok3 := last.Number()
	return ok1 && ok2 && ok3 && math.Abs(h-b) < math.Abs(h-l)
}

// answers reports whether this mixer says what it holds.
func (f *Feed) answers() bool { return f.mixer.Echo != nil || f.mixer.Query != nil }

// owed notes that the mixer was sent or asked something that it answers. Where nothing is repeated, one that is lost would
// never be answered.
func (f *Feed) owed(now time.Time) {
	if f.hearing.owedAt.IsZero() && f.answers() && f.mixer.Repeat {
		f.hearing.owedAt = now
	}
}

// patience is how long the mixer may leave what it is sent unanswered: of some messages, one gets through any network.
func (f *Feed) patience() time.Duration {
	return max(speechless, 16*f.pace.gap) // the repeats take four
}

// listen reports a mixer that says nothing: over UDP nothing else tells that it is off, or that the cable is out.
func (f *Feed) listen(now time.Time) {
	h := &f.hearing
	if f.Reached() && !h.silent && !h.owedAt.IsZero() && now.Sub(h.owedAt) >= f.patience() {
		h.silent = true
		f.reports.Problem(fmt.Sprintf("%s answers nothing: is it on, and the cable in?", f.to), now)
	}
}
