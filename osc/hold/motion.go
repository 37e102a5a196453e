package hold

import (
	"math"
	"slices"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/mixer"
)

// off is the level of a closed channel: fades to an open mic start there, and those to a closed one end there.
var off = math.Inf(-1)

// softestDB is the softest level that is shown or held. Nobody hears a softer one on a field.
const softestDB = -50

// Motion is everything that moves by the clock: the levels of channels that open, change or close, the sends and the
// mixer's own parameters that fade, and what glides along the paths of open channels. It keeps a table at the current
// instant. Make one with NewMotion.
type Motion struct {
	mixer    *mixer.Mixer
	table    *TargetTable
	own      []mixer.OwnParam
	path     Path
	channels []*channelMotion               // by channel
	params   map[mixer.Control]*fadingValue // sends, and the mixer's own parameters that fade

	fading bool // a fade, an opening or a dip is under way
	wakeAt time.Time
	tickAt time.Time // the next tick, on a grid of the mixer's
	mixers Mixers
}

// fadingValue is one value and its fade.
type fadingValue struct {
	fade Fade
	row  int // in the table, -1 where the mixer has no address for it
}

// channelMotion is a channel's level, whether it can be heard, and what glides.
type channelMotion struct {
	fadingValue
	state   hearing
	opensAt time.Time     // while it waits to open
	settles bool          // it waits for the mixer's settle time after its last value was sent
	opensIn time.Duration // the fade then
	mute    int           // the row of its mute, -1 if there is none
	aimed   bool          // its values have been set
	placed  bool          // its sends are those of a place
	glide   Glide
	until   time.Time // when its path changes next
	delayMS float64   // what a mixer that clicks has
	dip     *dip      // nil for none
	mutedAt time.Time // when it was last closed
	rests   bool      // it was closed just now, and has its old delay until the mixers have muted it
}

// hearing is whether a channel can be heard.
type hearing int8

const (
	closedNow hearing = iota
	opening           // its values are set; it opens once the mixer has had time for them
	openNow
	closing // it fades to off, and is muted then
)

// audible reports whether the channel can be heard.
func (s hearing) audible() bool { return s == openNow || s == closing }

// Mixers are those that get the table.
type Mixers interface {
	// Mark is called for each row whose value a tick changes.
	Mark(row int)
	// SetAt is when the mixers were last sent another value of a row, at an instant; now while one waits to be sent.
	SetAt(row int, now time.Time) time.Time
}

// NewMotion makes a motion that fills a table for mixers.
func NewMotion(table *TargetTable, path Path, limits GlideLimits, mixers Mixers) *Motion {
	table.limits = limits
	return &Motion{
		mixer: table.Mixer, table: table, own: table.Mixer.Own(), path: path, params: map[mixer.Control]*fadingValue{},
		wakeAt: never, mixers: mixers,
	}
}

// Fading reports whether a fade, an opening or a dip is under way. A path may move all the same.
func (m *Motion) Fading() bool { return m.fading }

// Next is when Tick is due.
func (m *Motion) Next() time.Time { return m.wakeAt }

// Wake has the next Tick look at everything, because the show clock has changed.
func (m *Motion) Wake(now time.Time) { m.wakeAt = now }

// KeepTicking has ticks go on while a mixer is not where its paths are.
func (m *Motion) KeepTicking(now time.Time) {
	if tick := m.nextTick(now); tick.Before(m.wakeAt) {
		m.wakeAt = tick
	}
}

// Entering is how a snapshot is entered.
type Entering struct {
	Fade    time.Duration // of levels that rise or change, and of parameters
	FadeOut time.Duration // of levels that close
	Cut     bool          // what fades out already is closed at once, as after a jump
	Step    bool          // the score enters its next cue: a mixer that clicks may change its delays
	AtOnce  []int         // channels that close at once, even if they open again: another player's, or a dead pack's
}

// Aim starts every value toward a snapshot. A level or send that rises far takes at least the safety ramp.
func (m *Motion) Aim(to *cue.Snapshot, now time.Time, how Entering) {
	for i := range to.Channels {
		c := &to.Channels[i]
		ch := m.channel(c.Channel)
		ch.placed = c.Place != nil && len(m.table.limits.Row) > 0
		if ch.state.audible() && slices.Contains(how.AtOnce, c.Channel) {
			ch.close(now)
		}
		heard := ch.state.audible()
		m.aimLevel(c, ch, now, how)
		if ch.state != closing {
			m.aimFades(c, heard && c.Open, now, how.Fade)
			m.glide(c, ch, now, how.Step || !heard)
			ch.glide.aims++
		}
		m.show(c.Channel, ch)
		ch.aimed = true
	}
	m.fill(to, now)
	m.schedule(to, now)
}

// channel is a channel's motion. A new one is closed.
func (m *Motion) channel(n int) *channelMotion {
	for len(m.channels) <= n {
		m.channels = append(m.channels, &channelMotion{fadingValue: fadingValue{row: -1}, mute: -1, until: never})
	}
	return m.channels[n]
}

// close closes a channel at once.
func (ch *channelMotion) close(now time.Time) {
	if ch.state.audible() {
		ch.mutedAt = now
	}
	ch.state, ch.fade, ch.dip = closedNow, Still(off, now), nil
}

// aimLevel opens a channel, fades it, or closes it.
func (m *Motion) aimLevel(c *cue.Channel, ch *channelMotion, now time.Time, how Entering) {
	to := float64(c.LevelDB)
	switch {
	case !c.Open && ch.state == closing && !how.Cut: // it goes on
	case !c.Open && ch.state == openNow && how.FadeOut > 0:
		ch.state, ch.dip = closing, nil
		ch.fade = Fade{From: ch.fade.At(now), To: off, Start: now, Length: how.FadeOut, Level: true}
	case !c.Open:
		ch.close(now)
	case !ch.state.audible():
		if ch.state == closedNow {
			ch.state, ch.opensAt, ch.settles = opening, now, false
		}
		if m.mustMove(c, ch, now) {
			ch.opensAt, ch.settles = now.Add(m.mixer.Settle), true
		}
		ch.opensIn, ch.fade.To = how.Fade, to
		m.open(c.Channel, ch, now)
	case ch.state == closing || ch.fade.To != to:
		ch.state = openNow
		ch.fade = m.rise(ch.fade.At(now), to, now, how.Fade)
	}
}

// mustMove reports whether a closed channel must be set to another delay, pan or place before it opens.
func (m *Motion) mustMove(c *cue.Channel, ch *channelMotion, now time.Time) bool {
	at, _ := m.path(c, now)
	at.LevelDB = ch.glide.At.LevelDB
	return !ch.aimed || len(ch.glide.rows) > 0 && at != ch.glide.At
}

// open opens a channel once the mixer has had time for its values.
func (m *Motion) open(n int, ch *channelMotion, now time.Time) {
	if ch.state != opening || ch.rests || now.Before(ch.opensAt) {
		return
	}
	if ch.settles {
		ch.opensAt = m.glideSetAt(n, now).Add(m.mixer.Settle)
	}
	if !now.Before(ch.opensAt) {
		ch.state = openNow
		ch.fade = m.rise(off, ch.fade.To, now, ch.opensIn)
	}
}

// rise is the fade of a level or a send. One that rises far takes at least the safety ramp.
func (m *Motion) rise(from, to float64, now time.Time, length time.Duration) Fade {
	if to-from > m.mixer.Safety.RiseDB {
		length = max(length, m.mixer.Safety.Ramp)
	}
	return Fade{From: from, To: to, Start: now, Length: length, Level: true}
}

// show has the table say whether a channel is open.
func (m *Motion) show(n int, ch *channelMotion) {
	m.table.SetOpen(n, ch.state.audible())
	m.table.setDip(n, ch.dip != nil)
	m.table.setGlide(n, &ch.glide, ch.state.audible())
}

// Finish ends all fades: the mixers hold their ends already, or are about to by other means.
func (m *Motion) Finish(to *cue.Snapshot, now time.Time) {
	for i := range to.Channels {
		c := &to.Channels[i]
		ch := m.channel(c.Channel)
		switch ch.state {
		case opening:
			ch.state = openNow
		case closing:
			ch.close(now)
			m.aimFades(c, false, now, 0)
		}
		ch.fade, ch.dip, ch.mutedAt = Still(ch.fade.To, now), nil, time.Time{}
		m.glide(c, ch, now, true)
		m.show(c.Channel, ch)
	}
	for _, l := range m.params {
		l.fade = Still(l.fade.To, now)
	}
	m.fill(to, now)
	m.schedule(to, now)
}

// fill sets every row of the table to where its value is now.
func (m *Motion) fill(to *cue.Snapshot, now time.Time) {
	n := 0
	m.mixer.Each(to, func(place mixer.Control, arg osc.Arg) {
		i := m.table.Row(place, n)
		n++
		ch := m.channels[place.Channel]
		fading := m.params[place]
		switch {
		case place.Param == cue.ParamMute:
			ch.mute = i
			m.table.Set(i, m.muteArg(place, ch), nil)
		case place.Param == cue.ParamLevel:
			ch.row = i
			m.table.Set(i, m.levelArg(place, ch, now), &ch.fade)
		case ch.glides(place.Param):
			ch.glide.add(i, place) // its value follows
		case ch.state == closing && m.table.Want(i) != (osc.Arg{}): // once it is closed
		case fading != nil:
			fading.row = i
			arg, _ = m.mixer.Arg(place, fading.fade.At(now))
			m.table.Set(i, arg, &fading.fade)
		default:
			m.table.Set(i, arg, nil)
		}
	})
	for _, ch := range m.channels {
		ch.glide.rowsAt(m.table, ch.glide.At, func(row int, arg osc.Arg) { m.table.Set(row, arg, nil) })
	}
}

func (m *Motion) muteArg(place mixer.Control, ch *channelMotion) (arg osc.Arg) {
	muted := 1.0
	if ch.state.audible() && ch.dip == nil {
		muted = 0
	}
	arg, _ = m.mixer.Arg(place, muted)
	return arg
}

// levelArg is the level at an instant, with the make-up of the channel's path. An opening channel is off.
func (m *Motion) levelArg(place mixer.Control, ch *channelMotion, now time.Time) (arg osc.Arg) {
	dB := off
	if ch.state.audible() {
		dB = ch.fade.At(now) + float64(ch.glide.At.LevelDB)
	}
	arg, _ = m.mixer.Arg(place, dB)
	return arg
}

// Tick moves everything on, if that is due, and reports whether it was. Each tick has its own deadline, so a late one
// does not delay the next.
func (m *Motion) Tick(to *cue.Snapshot, now time.Time) (due bool) {
	if now.Before(m.wakeAt) {
		return false
	}
	closed := false
	for i := range to.Channels { // in order, so that the same run always sends the same
		c := &to.Channels[i]
		ch := m.channels[c.Channel]
		m.endRest(c, ch, now)
		if ch.state == closedNow {
			continue
		}
		was, dipped := ch.state, ch.dip != nil
		m.open(c.Channel, ch, now)
		if ch.state == closing && ch.fade.Over(now) {
			ch.close(now)
			m.aimFades(c, false, now, 0)
			closed = true
		}
		if ch.state != closing && was != opening { // what opens has settled where it is
			m.glide(c, ch, now, false)
		}
		if was != ch.state || dipped != (ch.dip != nil) {
			m.show(c.Channel, ch)
			m.set(ch.mute, m.muteArg(mixer.Control{Channel: c.Channel, Param: cue.ParamMute}, ch))
		}
		m.setGlide(c.Channel, ch)
		m.set(ch.row, m.levelArg(mixer.Control{Channel: c.Channel, Param: cue.ParamLevel}, ch, now))
		m.tickFades(c, now)
	}
	if closed { // and gets what it needs next
		m.fill(to, now)
		for row := range m.table.Len() {
			m.mixers.Mark(row)
		}
	}
	m.schedule(to, now)
	return true
}

// set sets a row's value.
func (m *Motion) set(row int, arg osc.Arg) {
	if row >= 0 && m.table.Move(row, arg) {
		m.mixers.Mark(row)
	}
}

// schedule finds when the next tick is due: on the grid while anything moves, and else when a channel opens, when a dip
// goes on, or when a path moves next.
func (m *Motion) schedule(to *cue.Snapshot, now time.Time) {
	m.fading, m.wakeAt = false, never
	ticks := false
	wake := func(at time.Time) {
		if at.Before(m.wakeAt) {
			m.wakeAt = at
		}
	}
	for i := range to.Channels {
		ch := m.channels[to.Channels[i].Channel]
		if ch.dip != nil {
			m.fading = true
			wake(m.dipGoesOn(ch, now))
		}
		switch {
		case ch.rests:
			m.fading = true
			wake(m.restsUntil(ch, now))
		case ch.state == opening:
			m.fading = true
			wake(ch.opensAt)
		}
		if ch.state.audible() && (ch.state == closing || !ch.fade.Over(now)) {
			m.fading, ticks = true, true
		}
		if ch.state == openNow {
			ticks = ticks || ch.glide.Moving
			if !ch.glide.Moving {
				wake(ch.until)
			}
		}
	}
	for _, l := range m.params {
		if !l.fade.Over(now) {
			m.fading, ticks = true, true
		}
	}
	if ticks {
		wake(m.nextTick(now))
	}
}

// nextTick is the next tick. The grid goes on where it was, unless there were no ticks for a while.
func (m *Motion) nextTick(now time.Time) time.Time {
	late := now.Sub(m.tickAt)
	switch {
	case late < 0:
	case late < time.Second:
		period := m.mixer.TickPeriod()
		m.tickAt = m.tickAt.Add((late/period + 1) * period)
	default:
		m.tickAt = now.Add(m.mixer.TickPeriod())
	}
	return m.tickAt
}
