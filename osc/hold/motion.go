package hold

import (
	"slices"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/mixer"
)

// floorDB is where a fade from a closed channel starts. Anything softer cannot be heard on a field, so a fade from
// lower would seem to start late.
const floorDB = -50

// Motion is everything that fades: the levels of open channels, and the mixer's own parameters with a fade. It keeps a
// table at the current instant. Make one with NewMotion.
type Motion struct {
	mixer  *mixer.Mixer
	table  *TargetTable
	own    []mixer.OwnParam
	levels []*fadingValue                 // by channel
	params map[mixer.Control]*fadingValue // the mixer's own parameters that fade

	ticking bool // a fade is under way
	tickAt  time.Time
	changed func(row int) // called when a tick changes a row's value
}

// fadingValue is one value and its fade.
type fadingValue struct {
	fade   Fade
	row    int  // in the table, -1 where the mixer has no address for it
	closed bool // a level whose channel is closed: it does not fade
}

// NewMotion makes a motion that fills a table. It calls changed for each row whose value a tick changes.
func NewMotion(table *TargetTable, changed func(row int)) *Motion {
	return &Motion{
		mixer: table.Mixer, table: table, own: table.Mixer.Own(), params: map[mixer.Control]*fadingValue{},
		changed: changed,
	}
}

// Ticking reports whether a fade is under way.
func (m *Motion) Ticking() bool { return m.ticking }

// TickAt is when the next tick is due while a fade is under way.
func (m *Motion) TickAt() time.Time { return m.tickAt }

// Aim starts every value toward a snapshot. Levels and fading parameters take the given length; a level that rises far
// takes at least the safety ramp.
func (m *Motion) Aim(to *cue.Snapshot, now time.Time, length time.Duration) {
	for i := range to.Channels {
		c := &to.Channels[i]
		for len(m.levels) <= c.Channel {
			m.levels = append(m.levels, &fadingValue{row: -1, closed: true})
		}
		heard := !m.levels[c.Channel].closed
		m.aimParams(c, heard, now, length)
		m.aimLevel(c, now, length)
		m.table.SetOpen(c.Channel, c.Open)
	}
	m.fill(to, now)
}

func (m *Motion) aimLevel(c *cue.Channel, now time.Time, length time.Duration) {
	l, to := m.levels[c.Channel], float64(c.LevelDB)
	switch {
	case !c.Open:
		l.closed = true
		return
	case !l.closed && l.fade.To == to:
		return
	}
	from := l.fade.At(now)
	if l.closed {
		from = min(max(floorDB, m.mixer.Limits(cue.ParamLevel).Min), to)
	}
	if l.closed || to-from > m.mixer.Safety.RiseDB {
		length = max(length, m.mixer.Safety.Ramp)
	}
	l.fade, l.closed = Fade{From: from, To: to, Start: now, Length: length}, false
}

// aimParams starts a channel's parameters toward a snapshot. They change at once unless the channel is open before and
// after.
func (m *Motion) aimParams(c *cue.Channel, heard bool, now time.Time, length time.Duration) {
	for _, x := range m.own {
		to, ok := c.Value(x.Name)
		if !ok || !x.Fade {
			continue
		}
		place := mixer.Control{Channel: c.Channel, Param: x.Name}
		l := m.params[place]
		switch {
		case l == nil:
			m.params[place] = &fadingValue{fade: Still(to, now), row: -1}
		case !heard || !c.Open:
			l.fade = Still(to, now)
		case l.fade.To != to:
			l.fade = Fade{From: l.fade.At(now), To: to, Start: now, Length: length}
		}
	}
}

// Finish ends all fades: the mixers hold their ends already, or are about to by other means.
func (m *Motion) Finish(to *cue.Snapshot, now time.Time) {
	for _, l := range m.levels {
		l.fade = Still(l.fade.To, now)
	}
	for _, l := range m.params {
		l.fade = Still(l.fade.To, now)
	}
	m.fill(to, now)
}

// fill sets every row of the table to the snapshot's value, or to where its fade is now.
func (m *Motion) fill(to *cue.Snapshot, now time.Time) {
	n := 0
	m.mixer.Each(to, func(place mixer.Control, arg osc.Arg) {
		i := m.table.Row(place, n)
		n++
		l := m.of(place)
		if l == nil {
			m.table.Set(i, arg, nil)
			return
		}
		l.row = i
		m.table.Set(i, m.at(place, l, now), &l.fade)
	})
	m.ticking = false
	for _, l := range m.levels {
		m.ticking = m.ticking || !l.closed && !l.fade.Over(now)
	}
	for _, l := range m.params {
		m.ticking = m.ticking || !l.fade.Over(now)
	}
	m.tickAt = now.Add(m.period())
}

// of is the fading value of a place, nil if it does not fade.
func (m *Motion) of(place mixer.Control) *fadingValue {
	switch {
	case place.Param != cue.ParamLevel && len(m.params) == 0:
		return nil
	case place.Param != cue.ParamLevel:
		return m.params[place]
	case m.levels[place.Channel].closed:
		return nil
	}
	return m.levels[place.Channel]
}

// at is the argument for a place at an instant of its fade.
func (m *Motion) at(place mixer.Control, l *fadingValue, now time.Time) (arg osc.Arg) {
	arg, _ = m.mixer.Arg(place, l.fade.At(now))
	return arg
}

// LevelDB is an open channel's level at an instant, and whether it is fading. ok is false for a closed channel.
func (m *Motion) LevelDB(channel int, now time.Time) (dB float64, fading, ok bool) {
	if channel >= len(m.levels) || m.levels[channel].closed {
		return 0, false, false
	}
	f := &m.levels[channel].fade
	return f.At(now), !f.Over(now), true
}

// Frozen is a channel with its fades stopped at an instant.
func (m *Motion) Frozen(c cue.Channel, now time.Time) cue.Channel {
	if dB, _, ok := m.LevelDB(c.Channel, now); ok {
		c.LevelDB = cue.Level(dB)
	}
	if len(m.params) == 0 {
		return c
	}
	c.Params = slices.Clone(c.Params)
	for i, x := range c.Params {
		if l := m.params[mixer.Control{Channel: c.Channel, Param: x.Name}]; l != nil {
			c.Params[i].Value = l.fade.At(now)
		}
	}
	return c
}

func (m *Motion) period() time.Duration { return time.Second / time.Duration(max(m.mixer.Tick, 1)) }

// Tick moves the fades on. Each tick has its own deadline, so a late one does not delay the next.
func (m *Motion) Tick(to *cue.Snapshot, now time.Time) {
	if !m.ticking || now.Before(m.tickAt) {
		return
	}
	m.ticking = false
	for i := range to.Channels { // in order, so that the same run always sends the same
		channel := to.Channels[i].Channel
		m.move(mixer.Control{Channel: channel, Param: cue.ParamLevel}, m.levels[channel], now)
		for _, x := range m.own {
			place := mixer.Control{Channel: channel, Param: x.Name}
			l := m.params[place]
			if l == nil || l.fade.Length == 0 {
				continue
			}
			m.move(place, l, now)
			if l.fade.Over(now) {
				l.fade = Still(l.fade.To, now)
			}
		}
	}
	for !m.tickAt.After(now) {
		m.tickAt = m.tickAt.Add(m.period())
	}
}

// move sets a fading value in the table.
func (m *Motion) move(place mixer.Control, l *fadingValue, now time.Time) {
	if l.row < 0 || l.closed {
		return
	}
	if m.table.Move(l.row, m.at(place, l, now)) {
		m.changed(l.row)
	}
	m.ticking = m.ticking || !l.fade.Over(now)
}
