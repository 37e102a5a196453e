package feed

import (
	"fmt"
	"time"

	"backfield/osc"
)

const (
	movedAfter   = time.Second     // a value that differs this long after its last change was moved at the mixer
	replyTimeout = 2 * time.Second // a mixer that can confirm has this long to reply
)

// replyWatch is when a mixer last replied, and since when a reply is due.
type replyWatch struct {
	at           time.Time // of the last reply; zero for none
	waitingSince time.Time // when the first message without a reply was sent; zero for none
	overdue      bool      // no reply for too long
}

// reset expects no reply.
func (h *replyWatch) reset() { h.waitingSince, h.overdue = time.Time{}, false }

// Heard takes a message from the mixer: a value that confirms what was sent, or differs from it.
func (f *Feed) Heard(m osc.Message, now time.Time) {
	f.replies.at, f.replies.waitingSince = now, time.Time{}
	if f.replies.overdue {
		f.replies.overdue = false
		f.reports.Problem(f.to+" replies again", now)
	}
	i, ok := f.table.Find(m.Address)
	if !ok || len(m.Args) != 1 {
		return
	}
	s, said, tolerance := &f.slots[i], m.Args[0], Tolerance(f.mixer, 0)
	if _, isValue := f.mixer.Value(f.table.Place(i).Param, said); !isValue { // such as NaN
		return
	}
	s.said = said
	switch {
	case f.manual.has(f.table.Place(i)) || !s.known: // its value is not ours
	case s.queued == notQueued && s.Confirms(said, tolerance):
		if now.Sub(s.changedAt) >= echoDelay {
			s.confirmed = true
		}
	case s.queued != notQueued || now.Sub(s.changedAt) < movedAfter || !s.confirmed:
		s.confirmed = false // lost, or an old reply: it is sent again in its turn
		if s.before != (osc.Arg{}) && !f.table.Fadable(i) && !said.Same(s.before, tolerance) {
			f.suspects.strays[i] = now
		}
	default:
		f.suspect(i, said, now)
	}
}

// expectReply notes that the mixer was sent or asked something that it replies to. Without repeats no reply is
// expected, since a lost message would never get one.
func (f *Feed) expectReply(now time.Time) {
	if f.replies.waitingSince.IsZero() && CanConfirm(f.mixer) && f.mixer.Repeat {
		f.replies.waitingSince = now
	}
}

// patience is how long the mixer may take to reply. In that time, several messages are sent, and one gets through any
// network.
func (f *Feed) patience() time.Duration {
	return max(replyTimeout, 16*f.pace.gap) // one repeat takes four gaps
}

// checkReplies reports a mixer that does not reply. Over UDP nothing else shows that it is off or unplugged.
func (f *Feed) checkReplies(now time.Time) {
	h := &f.replies
	if f.Reached() && !h.overdue && !h.waitingSince.IsZero() && now.Sub(h.waitingSince) >= f.patience() {
		h.overdue = true
		f.reports.Problem(fmt.Sprintf("NO REPLY from %s: check power and cable", f.to), now)
	}
}
