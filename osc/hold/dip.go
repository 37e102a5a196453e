package hold

import (
	"time"

	"backfield/cue"
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
		if atOnce || ch.state != openNow {
			ch.delayMS = at.DelayMS
		}
		m.dip(ch, at.DelayMS, now)
		at.DelayMS = ch.delayMS
	}
	ch.glide.At = at
}

// dip mutes a channel whose delay must jump, has it jump, and unmutes it.
func (m *Motion) dip(ch *channelMotion, toMS float64, now time.Time) {
	d := ch.dip
	switch {
	case d == nil && ch.delayMS != toMS:
		ch.dip = &dip{start: now}
	case d == nil || d.moved.IsZero() && now.Before(m.dipGoesOn(d)):
	case ch.delayMS != toMS || d.moved.IsZero():
		ch.delayMS, d.moved = toMS, now
	case !now.Before(m.dipGoesOn(d)):
		ch.dip = nil
	}
}

// dipGoesOn is when the next part of a dip is due.
func (m *Motion) dipGoesOn(d *dip) time.Time {
	if d.moved.IsZero() {
		return d.start.Add(muteRamp)
	}
	return d.moved.Add(max(dipRest, m.mixer.Settle))
}
