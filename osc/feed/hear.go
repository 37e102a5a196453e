package feed

import (
	"fmt"
	"time"

	"backfield/osc"
)

const (
	movedAfter   = time.Second     // a value that differs later than this after the last change was moved at the mixer
	replyTimeout = 2 * time.Second // a mixer that answers has this long for it
)

// hearing is what is known of when a mixer speaks.
type replyWatch struct {
	at           time.Time // when it was last heard; zero for never
	waitingSince time.Time // of the first message that it has answered nothing to; zero for none
	overdue      bool      // for too long
}

// reset expects nothing of the mixer.
func (h *replyWatch) reset() { h.waitingSince, h.overdue = time.Time{}, false }

// Heard takes what the mixer says: it confirms, or it differs.
func (f *Feed) Heard(m osc.Message, now time.Time) {
	f.replies.at, f.replies.waitingSince = now, time.Time{}
	if f.replies.overdue {
		f.replies.overdue = false
		f.reports.Problem(f.to+" answers again", now)
	}
	i, ok := f.table.Find(m.Address)
	if !ok || len(m.Args) != 1 {
		return
	}
	s, said, tolerance := &f.slots[i], m.Args[0], Tolerance(f.mixer, 0)
	switch {
	case f.manual.has(f.table.Place(i)) || !s.known: // nothing is expected of it
	case s.queued == notQueued && s.Confirms(said, tolerance):
		if now.Sub(s.changedAt) >= echoDelay {
			s.confirmed = true
		}
	case s.queued != notQueued || now.Sub(s.changedAt) < movedAfter || !s.confirmed:
		s.confirmed = false // lost, or older news: it is sent again in its turn
		if s.before != (osc.Arg{}) && !f.table.Fadable(i) && !said.Same(s.before, tolerance) {
			f.suspects.strays[i] = now
		}
	default:
		f.suspect(i, said, now)
	}
}

// owed notes that the mixer was sent or asked something that it answers. Where nothing is repeated, one that is lost
// would never be answered.
func (f *Feed) expectReply(now time.Time) {
	if f.replies.waitingSince.IsZero() && CanConfirm(f.mixer) && f.mixer.Repeat {
		f.replies.waitingSince = now
	}
}

// patience is how long the mixer may leave what it is sent unanswered: of some messages, one gets through any network.
func (f *Feed) patience() time.Duration {
	return max(replyTimeout, 16*f.pace.gap) // the repeats take four
}

// listen reports a mixer that says nothing: over UDP nothing else tells that it is off, or that the cable is out.
func (f *Feed) checkReplies(now time.Time) {
	h := &f.replies
	if f.Reached() && !h.overdue && !h.waitingSince.IsZero() && now.Sub(h.waitingSince) >= f.patience() {
		h.overdue = true
		f.reports.Problem(fmt.Sprintf("%s answers nothing: is it on, and the cable in?", f.to), now)
	}
}
