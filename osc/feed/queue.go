package feed

import (
	"backfield/osc"
	"backfield/osc/fifo"
	"backfield/osc/hold"
)

// urgencyQueue is the rows of the table that differ from what the mixer was sent, by urgency.
type urgencyQueue [hold.Urgencies]fifo.RowQueue

// want is what the mixer should hold in a row. Every channel is closed until everything was sent closed once.
func (f *Feed) want(i int) osc.Arg {
	if f.slots[i].bridge != (osc.Arg{}) {
		return f.slots[i].bridge
	}
	if f.opened && (len(f.neverOpen) == 0 || !f.neverOpen[f.table.Place(i).Channel]) {
		return f.table.Want(i)
	}
	if closed, ok := f.table.Closed(i); ok {
		return closed
	}
	return f.table.Want(i)
}

// upToDate reports whether a row needs no sending: the mixer was sent its value, cannot be sent it, or must not be.
func (f *Feed) upToDate(i int) bool {
	s := &f.slots[i]
	return s.unsendable || s.Holds(f.want(i)) || f.isLeft(i)
}

// Mark queues a row if its target differs from what the mixer was sent.
func (f *Feed) Mark(i int) {
	if f.upToDate(i) {
		return
	}
	s := &f.slots[i]
	urgency := f.table.Urgency(i, f.opened, f.blind(i))
	if s.glides && s.Known && !f.table.Jumps(i) {
		urgency = hold.Gliding
	}
	// A row may also become less urgent: a mute that waited to close must not open ahead of everything else.
	if urgency != s.queued {
		f.queue[urgency].Push(i)
		s.queued = urgency
	}
}

// blind reports whether the mixer's level on a row's channel is unknown.
func (f *Feed) blind(i int) bool {
	level, ok := f.table.LevelRow(i)
	return ok && !f.slots[level].Known
}

// MarkAll queues all rows whose target differs from what the mixer was sent, parameter by parameter. It must be called
// after the table was filled.
func (f *Feed) MarkAll() {
	f.grow()
	for _, i := range f.table.Order() {
		f.Mark(i)
	}
}

// grow has a slot for each row of the table.
func (f *Feed) grow() {
	for len(f.slots) < f.table.Len() {
		f.slots = append(f.slots, rowState{queued: notQueued})
	}
}

// resend forgets what the mixer was sent and sends everything again, keepalives first. It drops queries and recalls
// that still wait.
func (f *Feed) resend() {
	f.first, f.scene.pause = nil, 0
	clear(f.keptAt)
	f.forget()
	f.doubts.clear()
	f.MarkAll()
}

// forget takes everything that the mixer holds as unknown.
func (f *Feed) forget() {
	for i := range f.slots {
		f.slots[i].Forget()
	}
}

// clear empties the queue.
func (f *Feed) clear() {
	for c := range f.queue {
		f.queue[c].Clear()
	}
	for i := range f.slots {
		f.slots[i].queued = notQueued
	}
}

// waiting reports whether anything waits to be sent.
func (f *Feed) waiting() bool {
	if len(f.first) > 0 || len(f.extras) > 0 || f.outside.Waits() {
		return true
	}
	for u := range f.queue {
		q := &f.queue[u]
		for !q.Empty() && !f.live(q.Head(), hold.Urgency(u)) {
			q.Pop()
		}
		if !q.Empty() {
			return true
		}
	}
	return false
}

// live reports whether an entry of the queue still counts: the row was not moved to another urgency, and needs sending.
func (f *Feed) live(i int, urgency hold.Urgency) bool {
	s := &f.slots[i]
	if s.queued != urgency {
		return false
	}
	if f.upToDate(i) {
		s.queued = notQueued
		return false
	}
	return true
}

// pop takes the next row that is more urgent than a limit.
func (f *Feed) pop(limit hold.Urgency) (i int, ok bool) {
	for u := range limit {
		for q := &f.queue[u]; !q.Empty(); {
			if i = q.Pop(); f.live(i, u) {
				f.slots[i].queued = notQueued
				return i, true
			}
		}
	}
	return 0, false
}
