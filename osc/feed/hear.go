package feed

import (
	"fmt"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/mixer"
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

// Heard takes a message from the mixer: a value that confirms what was sent, or differs from it. What is no value of its
// parameter, such as NaN, says only that the mixer is there.
func (f *Feed) Heard(m osc.Message, now time.Time) {
	f.noteReply(now)
	i, ok := f.table.Find(m.Address)
	if !ok {
		f.outside.Heard(m, now)
		return
	}
	if i >= len(f.slots) || len(m.Args) != 1 {
		return
	}
	said := m.Args[0]
	if _, isValue := f.mixer.Value(f.table.Place(i).Param, said); !isValue {
		return
	}
	if f.manual.rows[i] && f.manualSaid(i, said, now) {
		return
	}
	s, tolerance := &f.slots[i], f.mixer.EchoTolerance(0)
	s.said = said
	f.noteLag(i, now)
	switch {
	case !s.Known: // its value is not ours
	case s.queued == notQueued && s.Confirms(said, tolerance):
		f.confirm(i, now)
		if now.Sub(s.ChangedAt) >= mixer.EchoDelay {
			s.Confirmed = true
		}
	case f.restarts.contested:
		s.Confirmed = false
	case f.doubts.rows[i] != nil:
		f.answer(i, now)
	case s.queued != notQueued || now.Sub(s.ChangedAt) < f.lateness() || !s.Confirmed:
		if s.queued == notQueued && s.Confirmed {
			f.reportReopened(i, now)
		}
		s.Confirmed = false // lost, or an old reply: it is sent again in its turn
		if s.Before != (osc.Arg{}) && !f.table.Fadable(i) && !s.WasSent(said, tolerance) {
			f.doubts.strays[i] = now
		}
	default:
		f.doubt(i, now)
	}
}

// reportReopened reports a mic that the mixer had open and then says is muted, so soon after it was opened that this may
// be an old reply: it is opened again. If someone muted it, they must read why it is open.
func (f *Feed) reportReopened(i int, now time.Time) {
	s, place := &f.slots[i], f.table.Place(i)
	closed, ok := f.table.Closed(i)
	if !ok || place.Param != cue.ParamMute || s.Sent == closed || !s.said.Same(closed, f.mixer.EchoTolerance(0)) {
		return
	}
	text := "%s says that channel %d is muted, %.1f s after it opened: someone muted it, or that is an old reply. " +
		"It is opened again; to keep it closed, mute it there again"
	f.reports.News(fmt.Sprintf(text, f.to, place.Channel, now.Sub(s.ChangedAt).Seconds()), now)
}

// noteReply notes that the mixer is there. One that was gone may have been off, and has then lost what it held. One that
// can be asked says so. Any other is taken to have been off.
func (f *Feed) noteReply(now time.Time) {
	silent := now.Sub(f.replies.at)
	gone := f.replies.overdue || f.link.failed.After(f.replies.at) && silent >= replyTimeout
	first, was := f.replies.at.IsZero(), f.replies.overdue
	if silent >= bootTime {
		f.restarts.silentAt = now
	}
	f.replies.at, f.replies.waitingSince, f.replies.overdue = now, time.Time{}, false
	switch {
	case gone && !first && f.mixer.Query == nil && !f.restarts.contested:
		f.wasOff(now)
	case was:
		f.reports.News(f.to+" replies again", now)
	}
}

// noteLag measures how late the mixer's replies are. After a change, one with the value from before is as late as the change
// is old, at least. A row in doubt is not late.
func (f *Feed) noteLag(i int, now time.Time) {
	f.lag.Reply(i, now)
	s, tolerance := &f.slots[i], f.mixer.EchoTolerance(0)
	switch sinceChange := now.Sub(s.ChangedAt); {
	case !s.Known || s.queued != notQueued || s.Confirmed || f.doubts.rows[i] != nil:
	case s.Confirms(s.said, tolerance):
		if s.ChangedAt.After(s.agreedAt) {
			f.lag.First(sinceChange, now)
		}
		s.agreedAt = now
	case s.WasSent(s.said, tolerance):
		f.lag.AtLeast(sinceChange, now)
	}
}

// lateness is how late a reply may be that is about an earlier value: longer at a mixer that answers slowly. A mixer
// that cannot be asked gets more time, since one wrong message makes a channel manual there.
func (f *Feed) lateness() time.Duration {
	if f.mixer.Query == nil {
		return 2*movedAfter + f.lag.Longest()
	}
	return movedAfter + f.lag.Longest()
}

// expectReply notes that the mixer was sent or asked something that it replies to. Without repeats no reply is
// expected, since a lost message would never get one.
func (f *Feed) expectReply(now time.Time) {
	if f.replies.waitingSince.IsZero() && f.mixer.CanConfirm() && f.mixer.Repeat {
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
		f.reports.Silent(fmt.Sprintf("NO REPLY from %s: check power and cable", f.to), now)
	}
}
