package feed

import (
	"slices"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/mixer"
)

// busy is the settle time that a mixer needs after the recall of a scene.
type busy struct {
	pause   time.Duration // the settle time of a recall that is not sent yet; 0 for none
	until   time.Time     // the end of the last recall's settle time
	againAt time.Time     // when everything is sent again, because something was sent meanwhile; zero for never
}

// over reports once that it is time to send everything again.
func (b *busy) over(now time.Time) bool {
	if b.againAt.IsZero() || now.Before(b.againAt) {
		return false
	}
	b.againAt = time.Time{}
	return true
}

// Recall has the mixer recall a scene, in which a snapshot is stored. What differs from the table is sent after the
// settle time. The recall replaces one that still waits. It sets what someone has moved, too: nothing stays manual.
func (f *Feed) Recall(recall osc.Message, stored *cue.Snapshot, now time.Time) {
	f.opened = true
	f.manual.clear()
	f.doubts.clear()
	f.first = slices.DeleteFunc(f.first, func(m Outgoing) bool { return m.kind == scene })
	f.first = append(f.first, other(scene, recall))
	f.clear()
	f.forget() // a scene may change channels that are not in its cue, such as a spare
	f.outside.Unhear()
	f.outside.AskAgain()
	f.mixer.Each(stored, func(place mixer.Control, arg osc.Arg) {
		i, ok := f.table.Find(f.mixer.Address(place))
		if !ok {
			return
		}
		s := &f.slots[i]
		s.Sent, s.Known, s.ChangedAt, s.SentAt = arg, true, now, now
	})
	f.putScene(stored, now)
	f.MarkAll()
	f.pace.freeAt = now // this recall does not wait for the settle time of the last
	f.scene.pause = f.mixer.Store.Settle
}

// Interrupt sends what waits at once, even during the settle time of a scene. The mixer may not hear it then, so
// everything is sent again afterward.
func (f *Feed) Interrupt(now time.Time) {
	if f.scene.pause > 0 { // drop the recall: it would open mics that must close
		f.resend()
	}
	if f.scene.until.After(now) {
		f.pace.freeAt, f.scene.againAt = now, f.scene.until
	}
}
