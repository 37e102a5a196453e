package hold

import (
	"slices"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/mixer"
)

// Path says where an open channel is to be at an instant, and when that changes next: now or before while it moves. In
// at, LevelDB is what the make-up adds to the channel's level.
type Path func(c *cue.Channel, now time.Time) (at cue.Gliding, until time.Time)

// never is the time of what does not happen.
var never = time.Unix(1<<40, 0)

// fastestPan is how fast pan and place may move while the channel is open, in units a second.
const fastestPan = 1

// usualSlewMSPS is the slew of a show that does not say it, in ms a second.
const usualSlewMSPS = 8

// GlideLimits is how what glides may move, in a whole show.
type GlideLimits struct {
	Moves    cue.Moves
	SlewMSPS float64 // of an open delay, in ms a second; 0 for the usual one
	Row      []int   // the zones of the stacks, from left to right: the row of a place
}

// LimitsOf is how what glides may move in a show.
func LimitsOf(s *cue.Show) GlideLimits {
	l := GlideLimits{Moves: s.Rig.Delay.Moves, SlewMSPS: s.Rig.Delay.SlewMSPS}
	if zones := s.Rig.RowOfStacks(); !slices.Contains(zones, 0) {
		l.Row = zones
	}
	return l
}

// clicks reports whether a mixer's delay may not move freely while it can be heard.
func (l *GlideLimits) clicks() bool { return l.Moves == cue.Closed || l.Moves == cue.AtCues }

// toward is a step from one state toward another: as far as what glides may go in a time.
func (l *GlideLimits) toward(from, to cue.Gliding, in time.Duration) cue.Gliding {
	slew := l.SlewMSPS
	if slew <= 0 {
		slew = usualSlewMSPS
	}
	step := func(a, b, most float64) float64 { return a + max(-most, min(b-a, most)) }
	s := max(in.Seconds(), 0)
	at := to
	if l.Moves == cue.Glides {
		at.DelayMS = step(from.DelayMS, to.DelayMS, slew*s)
	}
	at.Pan, at.Place = step(from.Pan, to.Pan, fastestPan*s), step(from.Place, to.Place, fastestPan*s)
	return at
}

// Glide is what glides of a channel: where it is to be now, and the rows for that.
type Glide struct {
	At     cue.Gliding
	Moving bool // along its path
	rows   []glideRow
	aims   int // how often it was aimed again
}

// glideRow is a row that takes its value from what glides.
type glideRow struct {
	row   int
	place mixer.Control
}

// rowsAt calls do with each row and its argument at a state.
func (g *Glide) rowsAt(t *TargetTable, at cue.Gliding, do func(row int, arg osc.Arg)) {
	var levels []cue.Send
	for _, r := range g.rows {
		v := at.DelayMS
		switch r.place.Param {
		case cue.ParamPan:
			v = at.Pan
		case cue.ParamSend:
			if levels == nil {
				levels = cue.PlaceLevels(at.Place, t.limits.Row)
			}
			v = float64(cue.Silent)
			if i := slices.IndexFunc(levels, func(s cue.Send) bool { return s.Zone == r.place.Zone }); i >= 0 {
				v = float64(levels[i].LevelDB)
			}
		}
		if arg, ok := t.Mixer.Arg(r.place, v); ok {
			do(r.row, arg)
		}
	}
}

// add notes a row. A row that is known already stays.
func (g *Glide) add(row int, place mixer.Control) {
	if !slices.ContainsFunc(g.rows, func(r glideRow) bool { return r.row == row }) {
		g.rows = append(g.rows, glideRow{row, place})
	}
}

// Follower is where one mixer is on the paths of its open channels. What a channel is sent goes from what was sent
// before, by at most what may move in the time since, so that no late press, link or queue makes a jump. A closed
// channel is set at once. Make one with NewFollower.
type Follower struct {
	table    *TargetTable
	channels []followed
}

// followed is a channel of a Follower.
type followed struct {
	seen bool // it is to be open; its values are on their way to the mixer
	aims int  // of the glide, when those were set
	open bool // they were sent: from here on it moves gradually
	from cue.Gliding
	sent time.Time // when from was sent
	at   cue.Gliding
	last time.Time // when at was computed
}

// NewFollower makes a follower of a table's channels, of which nothing was sent yet.
func NewFollower(t *TargetTable) *Follower { return &Follower{table: t} }

// Reset takes what the mixer holds as unknown: every channel is set at once again.
func (f *Follower) Reset() { clear(f.channels) }

// of is a channel of the follower.
func (f *Follower) of(channel int) *followed {
	for len(f.channels) <= channel {
		f.channels = append(f.channels, followed{})
	}
	return &f.channels[channel]
}

// Follows reports whether a channel is open, or about to be.
func (f *Follower) Follows(channel int) bool { return f.of(channel).seen }

// At is what an open channel was last sent; ok is false for a channel that is set at once.
func (f *Follower) At(channel int) (at cue.Gliding, ok bool) {
	c := f.of(channel)
	return c.at, c.open
}

// Put notes what an open channel has at the mixer by other means: from a scene, or moved there.
func (f *Follower) Put(channel int, at cue.Gliding, now time.Time) {
	*f.of(channel) = followed{seen: true, open: true, from: at, sent: now, at: at, last: now}
}

// Move notes that someone has moved an open channel at the mixer.
func (f *Follower) Move(channel int, at cue.Gliding) {
	c := f.of(channel)
	c.from, c.at = at, at
}

// Follow moves a channel on. waits says that a value of it has not been sent yet. most is the longest time for which a
// value may move in one message. It calls do with each row that glides and its argument. behind is false once the channel is
// where its path is.
func (f *Follower) Follow(
	channel int, waits bool, now time.Time, most time.Duration, do func(row int, arg osc.Arg, gradual, moving bool),
) (behind bool) {
	g, c := f.table.Glide(channel), f.of(channel)
	if g == nil {
		*c = followed{}
		return false
	}
	switch {
	case c.open && !waits, c.seen && !c.open && !waits:
		c.open, c.from, c.sent = true, c.at, c.last
	case !c.open:
		if !c.seen || c.aims != g.aims {
			c.at = g.At
		}
		// Once it is set, it rests until it opens: values that go on at each tick would be sent ahead of its mute.
		c.seen, c.aims, c.from, c.sent = true, g.aims, c.at, now
	}
	c.at, c.last = f.table.limits.toward(c.from, g.At, min(now.Sub(c.sent), most)), now
	behind = c.at != g.At
	g.rowsAt(f.table, c.at, func(row int, arg osc.Arg) { do(row, arg, c.open, behind || g.Moving) })
	return behind
}
