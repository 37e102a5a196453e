package feed

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/mixer"
)

// manualRows are the rows that someone moved at the mixer, by row. The run leaves them alone. Manual is per parameter:
// a moved fader leaves the mute to the run.
type manualRows struct {
	rows   map[int]bool
	acked  map[int]bool    // channels that the operator knows to be still open
	before map[int]osc.Arg // what the mixer last said of a row before its link was down, until it says it again
}

// clear ends manual everywhere.
func (m *manualRows) clear() {
	clear(m.rows)
	clear(m.acked)
	clear(m.before)
}

// linkLost takes what the mixer said of manual rows as old: it may lose them while its link is down.
func (f *Feed) linkLost() {
	f.outside.Unhear()
	for i := range f.manual.rows {
		if said := f.slots[i].said; said != (osc.Arg{}) {
			f.manual.before[i], f.slots[i].said = said, osc.Arg{}
		}
	}
}

// linkBack sends everything after the link was down, except what is manual: that is asked for, where it can be.
func (f *Feed) linkBack(now time.Time) {
	f.resend()
	f.outside.AskAgain()
	if f.mixer.Query == nil {
		return
	}
	for _, i := range slices.Sorted(maps.Keys(f.manual.rows)) {
		f.ask(i, now)
	}
}

// Move is a parameter that someone moved at a mixer.
type Move struct {
	mixer.Control
	Muted bool   // a mute, and the mixer has the channel muted
	What  string // in words, with the current values
}

// Manual lists the channels on which something is manual, ascending.
func (f *Feed) Manual() (channels []int) {
	for i := range f.manual.rows {
		channels = append(channels, f.table.Place(i).Channel)
	}
	slices.Sort(channels)
	return slices.Compact(channels)
}

// Moves lists what is manual, in the order of the rows.
func (f *Feed) Moves() (list []Move) {
	for _, i := range slices.Sorted(maps.Keys(f.manual.rows)) {
		place := f.table.Place(i)
		v, known := f.saidValue(i)
		muted := place.Param == cue.ParamMute && known && v == 1
		list = append(list, Move{place, muted, f.movedWords(i)})
	}
	return list
}

// moved says in words what is manual on a channel.
func (f *Feed) moved(channel int) (list []string) {
	if len(f.manual.rows) == 0 {
		return nil
	}
	for _, i := range f.table.ChannelRows(channel) {
		if f.manual.rows[i] {
			list = append(list, f.movedWords(i))
		}
	}
	return list
}

// SetManual makes a parameter manual, as it was in an earlier run. Without the name of a parameter it is the whole
// channel, as in the journals of earlier versions. muted says that the mixer then had the channel muted.
func (f *Feed) SetManual(place mixer.Control, muted bool) {
	for _, i := range f.table.ChannelRows(place.Channel) {
		if f.table.Place(i) != place && place.Param != "" {
			continue
		}
		f.manual.rows[i] = true
		if closed, ok := f.table.Closed(i); ok && muted && place.Param == cue.ParamMute {
			f.slots[i].said = closed
		}
	}
}

// Release ends manual for a channel and takes what the mixer holds there as unknown. It reports whether anything was
// manual.
func (f *Feed) Release(channel int) (was bool) {
	f.startFrom(channel)
	for _, i := range f.table.ChannelRows(channel) {
		was = was || f.manual.rows[i]
		delete(f.manual.rows, i)
		delete(f.manual.before, i)
	}
	if !was {
		return false
	}
	delete(f.manual.acked, channel)
	for _, i := range f.table.ChannelRows(channel) {
		f.slots[i].Forget()
	}
	return true
}

// ShowOpens is for a channel that the show opens: manual ends there, unless mixer.toml keeps it until release.
func (f *Feed) ShowOpens(channel int) {
	delete(f.manual.acked, channel)
	if !f.mixer.ManualUntilRelease {
		f.Release(channel)
		return
	}
	for _, i := range f.table.ChannelRows(channel) {
		if f.manual.rows[i] { // when the show closes it, it is sent again
			f.slots[i].Forget()
		}
	}
}

// leave makes a row manual.
func (f *Feed) leave(i int, now time.Time) {
	f.manual.rows[i] = true
	delete(f.doubts.rows, i)
	f.reports.Manual(f.table.Place(i).Channel, f.movedWords(i), now)
}

// isLeft reports whether the run leaves a row as the mixer has it: someone moved it there, or opened its channel.
func (f *Feed) isLeft(i int) bool {
	return len(f.manual.rows) > 0 && (f.manual.rows[i] && !f.closes(i) || f.KeptOpen(f.table.Place(i).Channel))
}

// closes reports whether a manual row is sent all the same: the show closes the channel with it, and so has the mixer, as
// far as it has said. That may have been a late message, and where it was not, nothing changes.
func (f *Feed) closes(i int) bool {
	closed, ok := f.table.Closed(i)
	return ok && !f.table.Open(f.table.Place(i).Channel) && f.want(i) == closed &&
		f.lastSaid(i).Same(closed, f.mixer.EchoTolerance(0))
}

// lastSaid is what the mixer last said of a row, before its link was down if it has not said it again.
func (f *Feed) lastSaid(i int) osc.Arg {
	if before, waits := f.manual.before[i]; waits {
		return before
	}
	return f.slots[i].said
}

// KeptOpen reports whether the show has a channel closed and the mixer keeps it open, because someone moved its mute.
// A mute of which nothing was heard counts as open.
func (f *Feed) KeptOpen(channel int) bool {
	mute, _ := f.table.Switches(channel)
	if mute < 0 || !f.manual.rows[mute] || f.table.Open(channel) {
		return false
	}
	v, known := f.mixer.Value(cue.ParamMute, f.lastSaid(mute))
	return !known || v != 1
}

// Acknowledge notes that the operator knows that a channel is still open. It reports whether that is new.
func (f *Feed) Acknowledge(channel int) bool {
	if !f.KeptOpen(channel) || f.manual.acked[channel] {
		return false
	}
	f.manual.acked[channel] = true
	return true
}

// manualSaid takes what the mixer says of a manual row, and reports whether the row is left to it. A channel that was kept
// open and is muted again closes whole. While the run closes a row, another value is from before it was closed.
func (f *Feed) manualSaid(i int, said osc.Arg, now time.Time) (left bool) {
	if f.closes(i) && !f.slots[i].Confirmed && !said.Same(f.want(i), f.mixer.EchoTolerance(0)) {
		return true
	}
	channel := f.table.Place(i).Channel
	kept := f.KeptOpen(channel)
	f.slots[i].said = said
	if before, waits := f.manual.before[i]; waits {
		delete(f.manual.before, i)
		if !said.Same(before, f.mixer.EchoTolerance(0)) {
			f.reports.Problem(fmt.Sprintf("channel %d at %s is MANUAL and changed while the link was down: %s; "+
				"release %[1]d if the mixer has restarted", channel, f.to, f.movedWords(i)), now)
		}
	}
	if kept && !f.KeptOpen(channel) {
		delete(f.manual.acked, channel)
		for _, row := range f.table.ChannelRows(channel) {
			f.Mark(row)
		}
	}
	return f.isLeft(i)
}

// movedWords says what someone moved, with units: "level -31.0 dB (show +0.5 dB)".
func (f *Feed) movedWords(i int) string {
	param := f.table.Place(i).Param
	said := "unknown"
	if f.slots[i].said != (osc.Arg{}) {
		said = f.mixer.Words(param, f.slots[i].said)
	}
	if f.closes(i) && !f.slots[i].Confirmed {
		said += ", not confirmed"
	}
	return fmt.Sprintf("%s %s (show %s)", param, said, f.mixer.Words(param, f.want(i)))
}
