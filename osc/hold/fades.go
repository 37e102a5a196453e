package hold

import (
	"time"

	"backfield/cue"
	"backfield/osc/mixer"
)

// aimFades starts a channel's sends without a place, and its own parameters. They change at once unless the channel is
// open before and after.
func (m *Motion) aimFades(c *cue.Channel, heard bool, now time.Time, length time.Duration) {
	if !m.channel(c.Channel).placed {
		for _, x := range c.Sends {
			to := float64(x.LevelDB)
			rise := func(from float64) Fade { return m.rise(from, to, now, length) }
			m.aimFade(mixer.Control{Channel: c.Channel, Param: cue.ParamSend, Zone: x.Zone}, to, heard, now, rise)
		}
	}
	for _, x := range m.own {
		if to, ok := c.Value(x.Name); ok && x.Fade {
			straight := func(from float64) Fade { return Fade{From: from, To: to, Start: now, Length: length} }
			m.aimFade(mixer.Control{Channel: c.Channel, Param: x.Name}, to, heard, now, straight)
		}
	}
}

func (m *Motion) aimFade(place mixer.Control, to float64, heard bool, now time.Time, fade func(from float64) Fade) {
	l := m.params[place]
	switch {
	case l == nil:
		m.params[place] = &fadingValue{fade: Still(to, now), row: -1}
	case !heard:
		l.fade = Still(to, now)
	case l.fade.To != to:
		l.fade = fade(l.fade.At(now))
	}
}

// tickFades moves a channel's sends and parameters on.
func (m *Motion) tickFades(c *cue.Channel, now time.Time) {
	if len(m.params) == 0 || m.channels[c.Channel].state == closing {
		return
	}
	for _, x := range c.Sends {
		m.tickFade(mixer.Control{Channel: c.Channel, Param: cue.ParamSend, Zone: x.Zone}, now)
	}
	for _, x := range m.own {
		m.tickFade(mixer.Control{Channel: c.Channel, Param: x.Name}, now)
	}
}

func (m *Motion) tickFade(place mixer.Control, now time.Time) {
	if l := m.params[place]; l != nil {
		arg, _ := m.mixer.Arg(place, l.fade.At(now))
		m.set(l.row, arg)
	}
}
