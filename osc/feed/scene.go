package feed

import (
	"slices"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/mixer"
)

// busy is the time that a mixer needs after it was sent the recall of a scene.
type busy struct {
	pause   time.Duration // from the recall on, which has not been sent yet; 0 for none
	until   time.Time     // after the last recall
	againAt time.Time     // when all is sent again, since something was sent meanwhile; zero for never
}

// over reports, once, that all is to be sent again.
func (b *busy) over(now time.Time) bool {
	if b.againAt.IsZero() || now.Before(b.againAt) {
		return false
	}
	b.againAt = time.Time{}
	return true
}

// Recall has the mixer fetch a scene of its own, in which a snapshot is stored. What the table wants otherwise is sent
// after the mixer has had its time. A recall that still waits is overtaken.
func (f *Feed) Recall(recall osc.Message, stored *cue.Snapshot, now time.Time) {
	f.opened = true
	f.first = slices.DeleteFunc(f.first, func(m Outgoing) bool { return m.kind == scene })
	f.first = append(f.first, other(scene, recall))
	f.clear()
	f.forget() // what a scene makes of channels that are none of its cue's, a spare's, nobody knows
	f.mixer.Each(stored, func(place mixer.Control, arg osc.Arg) {
		i, ok := f.table.Find(f.mixer.Address(place))
		if !ok {
			return
		}
		s := &f.slots[i]
		s.sent, s.known, s.changedAt, s.sentAt = arg, true, now, now
	})
	f.MarkAll()
	f.pace.freeAt = now // whatever the last recall asked for, this one goes
	f.scene.pause = f.mixer.Store.Settle
}

// Interrupt has what waits sent now, though the mixer may be busy with a scene, and all of it again when it no longer
// is: what it is sent meanwhile it may not hear.
func (f *Feed) Interrupt(now time.Time) {
	if f.scene.pause > 0 { // the recall has not even been sent: it would open what is to be closed
		f.resend()
	}
	if f.scene.until.After(now) {
		f.pace.freeAt, f.scene.againAt = now, f.scene.until
	}
}
