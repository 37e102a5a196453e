package hold

import (
	"slices"
	"time"

	"backfield/cue"
	"backfield/osc/mixer"
)

// LevelDB is an open channel's level at an instant, and whether it is fading. ok is false for a closed channel. A level
// under softestDB, on its way to or from off, counts as that.
func (m *Motion) LevelDB(channel int, now time.Time) (dB float64, fading, ok bool) {
	if channel >= len(m.channels) || !m.channels[channel].state.audible() {
		return 0, false, false
	}
	ch := m.channels[channel]
	return max(ch.fade.At(now)+float64(ch.glide.At.LevelDB), softestDB), !ch.fade.Over(now), true
}

// Frozen is a channel stopped at an instant: its fades, and its path.
func (m *Motion) Frozen(c cue.Channel, now time.Time) cue.Channel {
	ch := m.channel(c.Channel)
	if dB, _, ok := m.LevelDB(c.Channel, now); ok {
		c.Open, c.LevelDB = true, cue.Level(dB)
	}
	c.Params, c.Sends, c.Glide = slices.Clone(c.Params), slices.Clone(c.Sends), nil
	for i, x := range c.Params {
		if l := m.params[mixer.Control{Channel: c.Channel, Param: x.Name}]; l != nil {
			c.Params[i].Value = l.fade.At(now)
		}
	}
	for i, x := range c.Sends {
		if l := m.params[mixer.Control{Channel: c.Channel, Param: cue.ParamSend, Zone: x.Zone}]; l != nil {
			c.Sends[i].LevelDB = cue.Level(l.fade.At(now))
		}
	}
	return m.table.limits.At(c, ch.glide.At)
}

// At is a channel with what glides at a state.
func (l *GlideLimits) At(c cue.Channel, at cue.Gliding) cue.Channel {
	c.DelayMS, c.Pan = at.DelayMS, at.Pan
	if c.Place != nil && len(l.Row) > 0 {
		c.Place = &at.Place
		c.Sends = cue.PlaceLevels(at.Place, l.Row)
		slices.SortFunc(c.Sends, func(a, b cue.Send) int { return a.Zone - b.Zone })
	}
	return c
}
