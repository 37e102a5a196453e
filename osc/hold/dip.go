package hold

import (
	"time"

	"backfield/cue"
	"backfield/osc"
)

// Times of a dip, in which a channel is muted while its delay jumps: 60 ms or more of nothing in all. A mixer needs 20 ms
// to mute without a click.
const (
	muteRamp = 20 * time.Millisecond
	dipRest  = 40 * time.Millisecond
)

// dip is a channel muted for as long as its delay jumps.
type dip struct {
	start, moved time.Time // moved is zero before the jump
}

// glide sets what glides of a channel to where its path is. A mixer that clicks gets another delay at once if that is
// allowed, and in a dip if not.
func (m *Motion) glide(c *cue.Channel, ch *channelMotion, now time.Time, atOnce bool) {
	at, until := m.path(c, now)
	ch.until, ch.glide.Moving = until, c.Open && !until.After(now)
	if m.table.limits.clicks() {
		ch.rests = !ch.state.audible() && at.DelayMS != ch.glide.At.DelayMS && now.Before(m.restsUntil(ch, now))
		if ch.rests {
			return
		}
		if atOnce || ch.state != openNow {
			ch.delayMS = at.DelayMS
		}
		m.dip(ch, at.DelayMS, now)
		at.DelayMS = ch.delayMS
	}
	ch.glide.At = at
}

// restsUntil is when the mixers have muted a channel that was closed, so that its delay may jump.
func (m *Motion) restsUntil(ch *channelMotion, now time.Time) time.Time {
	if ch.mutedAt.IsZero() {
		return now
	}
	return later(ch.mutedAt, m.mixers.SetAt(ch.mute, now)).Add(muteRamp)
}

// endRest gives a closed channel its next delay once it is muted.
func (m *Motion) endRest(c *cue.Channel, ch *channelMotion, now time.Time) {
	if !ch.rests {
		return
	}
	if m.glide(c, ch, now, true); !ch.rests {
		m.setGlide(c.Channel, ch)
	}
}

// dip mutes a channel whose delay must jump, has it jump, and unmutes it.
func (m *Motion) dip(ch *channelMotion, toMS float64, now time.Time) {
	d := ch.dip
	switch {
	case d == nil && ch.delayMS != toMS:
		ch.dip = &dip{start: now}
	case d == nil || d.moved.IsZero() && now.Before(m.dipGoesOn(ch, now)):
	case ch.delayMS != toMS || d.moved.IsZero():
		ch.delayMS, d.moved = toMS, now
	case !now.Before(m.dipGoesOn(ch, now)):
		ch.dip = nil
	}
}

// dipGoesOn is when the next part of a dip is due: a time after the mixers were sent the part before, however long that
// waited in a queue.
func (m *Motion) dipGoesOn(ch *channelMotion, now time.Time) time.Time {
	d := ch.dip
	if d.moved.IsZero() {
		return later(d.start, m.mixers.SetAt(ch.mute, now)).Add(muteRamp)
	}
	at := d.moved
	for _, r := range ch.glide.rows {
		if r.place.Param == cue.ParamDelay {
			at = later(at, m.mixers.SetAt(r.row, now))
		}
	}
	return at.Add(max(dipRest, m.mixer.Settle))
}

// glideSetAt is when the mixers were last sent another delay, pan or send of a channel; now while one waits to be sent.
func (m *Motion) glideSetAt(n int, now time.Time) (at time.Time) {
	for _, row := range m.table.ChannelRows(n) {
		if m.table.Glides(row) {
			at = later(at, m.mixers.SetAt(row, now))
		}
	}
	return at
}

func later(a, b time.Time) time.Time {
	if a.Before(b) {
		return b
	}
	return a
}

// setGlide sets the rows that glide. While the channel is open, the followers find out.
func (m *Motion) setGlide(n int, ch *channelMotion) {
	set := m.set
	if m.table.Glide(n) != nil {
		set = func(row int, arg osc.Arg) { m.table.Move(row, arg) }
	}
	ch.glide.rowsAt(m.table, ch.glide.At, set)
}

// glides reports whether a parameter of a channel takes its value from what glides.
func (ch *channelMotion) glides(param string) bool {
	return param == cue.ParamDelay || param == cue.ParamPan || param == cue.ParamSend && ch.placed
}
