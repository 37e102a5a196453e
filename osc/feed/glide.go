package feed

import (
	"time"

	"backfield/cue"
	"backfield/osc"
)

// Follow moves what this mixer is sent of open channels toward their paths. It is called at each tick, and when the
// table was filled.
func (f *Feed) Follow(now time.Time) {
	f.grow()
	// A slow mixer gets fewer steps, which are longer.
	most := max(f.mixer.TickPeriod(), f.pace.gap*time.Duration(f.gliding)*5/4)
	f.behind, f.gliding = false, 0
	for channel := range f.table.Channels() {
		if f.table.Glide(channel) == nil && f.follower.Follows(channel) {
			f.atOnce(channel)
		}
		waits := f.table.Glide(channel) != nil && (!f.opened || f.waitsFor(channel))
		behind := f.follower.Follow(channel, waits, now, most, func(i int, arg osc.Arg, gradual, moving bool) {
			s := &f.slots[i]
			s.glides, s.moving, s.bridge = gradual, gradual && moving, osc.Arg{}
			if arg != f.table.Want(i) {
				s.bridge = arg
			}
			if f.Mark(i); gradual && !f.upToDate(i) {
				s.movedAt = now
				f.gliding++
			}
		})
		f.behind = f.behind || behind
	}
}

// waitsFor reports whether a value of a channel other than its level waits to be sent.
func (f *Feed) waitsFor(channel int) bool {
	_, level := f.table.Switches(channel)
	for _, i := range f.table.ChannelRows(channel) {
		if i != level && f.slots[i].queued != notQueued && !f.upToDate(i) {
			return true
		}
	}
	return false
}

// SetAt is when the mixer was last sent another value of a row; now while one waits to be sent.
func (f *Feed) SetAt(row int, now time.Time) (at time.Time) {
	switch {
	case row < 0 || row >= len(f.slots):
		return at
	case !f.upToDate(row):
		return now
	}
	return f.slots[row].ChangedAt
}

// atOnce has the rows of a channel take their values at once.
func (f *Feed) atOnce(channel int) {
	for _, i := range f.table.ChannelRows(channel) {
		f.slots[i].rest()
		f.Mark(i)
	}
}

// unfollow has all channels take their values at once, since nothing is known of the mixer.
func (f *Feed) unfollow() {
	f.follower.Reset()
	for i := range f.slots {
		f.slots[i].rest()
	}
}

// rest has a row take its target value at once.
func (s *rowState) rest() { s.glides, s.moving, s.bridge = false, false, osc.Arg{} }

// At is where an open channel is at this mixer; ok is false for one that is set at once.
func (f *Feed) At(channel int) (at cue.Gliding, ok bool) { return f.follower.At(channel) }

// Behind reports whether an open channel at this mixer is not yet where its path is, and can get there.
func (f *Feed) Behind() bool { return f.behind && f.Reached() }

const (
	glideRests = 200 * time.Millisecond // a row that glides is repeated after that; one that changes sooner goes anyway
	glideKnown = time.Second            // and should be confirmed after that
)

// glidesNow reports whether a row has changed along its path within a time.
func (f *Feed) glidesNow(i int, within time.Duration, now time.Time) bool {
	s := &f.slots[i]
	return s.moving && now.Sub(s.movedAt) < within
}

// startFrom has a channel that is no longer manual move from where the mixer has it.
func (f *Feed) startFrom(channel int) {
	at, open := f.follower.At(channel)
	moved := at
	for _, i := range f.table.ChannelRows(channel) {
		v, known := f.saidValue(i)
		switch param := f.table.Place(i).Param; {
		case !f.manual.rows[i] || !known:
		case param == cue.ParamDelay:
			moved.DelayMS = v
		case param == cue.ParamPan:
			moved.Pan = v
		}
	}
	if open && moved != at {
		f.follower.Move(channel, moved)
	}
}

// putScene notes what a recalled scene sets of the channels that are open in it.
func (f *Feed) putScene(stored *cue.Snapshot, now time.Time) {
	f.unfollow()
	for i := range stored.Channels {
		c := &stored.Channels[i]
		at := c.Gliding()
		at.LevelDB = 0 // no make-up
		if c.Open {
			f.follower.Put(c.Channel, at, now)
		}
	}
}
