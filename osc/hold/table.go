// Package hold keeps what the mixers of a run should hold: a table with one row for each address of the mixer file. A
// row has the target value, the value that keeps its channel closed, and its fade, and knows how urgent it is. A Motion
// writes the table, and one feed for each mixer reads it.
package hold

import (
	"cmp"
	"math"
	"slices"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/mixer"
)

// TargetTable is what every mixer of a run should hold. All mixers get the same. Rows are only ever added, so a row's
// number stays valid.
type TargetTable struct {
	Mixer *mixer.Mixer

	rows      []tableRow
	byAddress map[string]int
	order     []int           // all rows, parameter by parameter in the mixer file's order
	channels  []*tableChannel // by channel number; nil for one without a row
	limits    GlideLimits
}

// tableRow is one address of the mixers.
type tableRow struct {
	place   mixer.Control
	role    rowRole
	channel *tableChannel
	address string
	want    osc.Arg
	closed  osc.Arg // for mutes and levels; the zero Arg for all others
	fade    *Fade   // nil for what never fades
}

// tableChannel is what the table knows about a mixer channel.
type tableChannel struct {
	open  bool
	dips  bool   // muted while its delay jumps
	glide *Glide // of an open channel; nil for one that is set at once
	rows  []int
	mute  int // the row of its mute, -1 if there is none
	level int // the row of its level, -1 if there is none
}

// rowRole is what a row does for its channel.
type rowRole int8

const (
	tunes  rowRole = iota // it sets a delay, a pan, a send or another parameter
	mutes                 // it opens and closes the channel
	levels                // it sets the level, and closes the channel with off
)

func roleOf(param string) rowRole {
	switch param {
	case cue.ParamMute:
		return mutes
	case cue.ParamLevel:
		return levels
	}
	return tunes
}

// New makes an empty table for mixers with the same mixer file.
func New(mixer *mixer.Mixer) *TargetTable {
	return &TargetTable{Mixer: mixer, byAddress: map[string]int{}}
}

// Len is the number of rows.
func (t *TargetTable) Len() int { return len(t.rows) }

// Place is the channel and parameter of a row.
func (t *TargetTable) Place(i int) mixer.Control { return t.rows[i].place }

// Address is a row's OSC address.
func (t *TargetTable) Address(i int) string { return t.rows[i].address }

// Want is a row's target value at the current instant.
func (t *TargetTable) Want(i int) osc.Arg { return t.rows[i].want }

// Closed is the value that keeps a row's channel closed. ok is false for a row that is neither a mute nor a level.
func (t *TargetTable) Closed(i int) (arg osc.Arg, ok bool) {
	arg = t.rows[i].closed
	return arg, arg != osc.Arg{}
}

// Find is the row of an address.
func (t *TargetTable) Find(address string) (i int, ok bool) {
	i, ok = t.byAddress[address]
	return i, ok
}

// Order lists all rows parameter by parameter, as mixer.Messages orders them. The list belongs to the table.
func (t *TargetTable) Order() []int { return t.order }

// LevelRow is the row of the level on the same channel. ok is false if the mixers have no address for it.
func (t *TargetTable) LevelRow(i int) (level int, ok bool) {
	level = t.rows[i].channel.level
	return level, level >= 0
}

// ChannelRows lists the rows of a channel. The list belongs to the table.
func (t *TargetTable) ChannelRows(channel int) []int { return t.known(channel).rows }

// Switches are the rows of a channel's mute and level, -1 where the mixers have no address for one.
func (t *TargetTable) Switches(channel int) (mute, level int) {
	c := t.known(channel)
	return c.mute, c.level
}

// Open reports whether a channel is to be open.
func (t *TargetTable) Open(channel int) bool { return t.known(channel).open }

// Fading reports whether a row's value is fading at an instant.
func (t *TargetTable) Fading(i int, now time.Time) bool {
	f := t.rows[i].fade
	return f != nil && !f.Over(now)
}

// Fadable reports whether a row's value can fade, so that a mixer may hold any value in between.
func (t *TargetTable) Fadable(i int) bool {
	r := &t.rows[i]
	return r.role == levels || r.fade != nil || r.channel.glide != nil && t.Glides(i)
}

// Glides reports whether a row is a delay, a pan or a send, which glide along the path of an open channel.
func (t *TargetTable) Glides(i int) bool {
	param := t.rows[i].place.Param
	return param == cue.ParamDelay || param == cue.ParamPan || param == cue.ParamSend
}

// Jumps reports whether a row is the delay of a channel that is muted for it to jump.
func (t *TargetTable) Jumps(i int) bool {
	return t.rows[i].channel.dips && t.rows[i].place.Param == cue.ParamDelay
}

// Glide is what glides of an open channel, nil for one whose values are set at once: a closed one, or any in a show
// without paths.
func (t *TargetTable) Glide(channel int) *Glide { return t.known(channel).glide }

// Channels is one more than the highest channel number.
func (t *TargetTable) Channels() int { return len(t.channels) }

// Row is the row of a place. It adds the row if there is none. likely is tried first: every snapshot of a show has the
// same places in the same order, except for spares.
func (t *TargetTable) Row(place mixer.Control, likely int) int {
	if likely < len(t.rows) && t.rows[likely].place == place {
		return likely
	}
	address := t.Mixer.Address(place)
	if i, ok := t.byAddress[address]; ok {
		return i
	}
	i := len(t.rows)
	t.byAddress[address] = i
	r := tableRow{place: place, role: roleOf(place.Param), channel: t.channel(place.Channel), address: address}
	if r.role != tunes {
		r.closed = closed(t.Mixer, place)
	}
	t.rows = append(t.rows, r)
	after, _ := slices.BinarySearchFunc(t.order, place, func(j int, place mixer.Control) int {
		return cmp.Or(cmp.Compare(t.rank(t.rows[j].place), t.rank(place)), -1) // after its equals
	})
	t.order = slices.Insert(t.order, after, i)
	r.channel.rows = append(r.channel.rows, i)
	switch r.role {
	case levels:
		r.channel.level = i
	case mutes:
		r.channel.mute = i
	}
	return i
}

// Set sets a row's target value and its fade, nil for none. The fade belongs to the caller, who may change it in place:
// the table reads it as time passes.
func (t *TargetTable) Set(i int, want osc.Arg, fade *Fade) {
	t.rows[i].want, t.rows[i].fade = want, fade
}

// Move sets the target value of a fading row, and reports whether it changed.
func (t *TargetTable) Move(i int, want osc.Arg) bool {
	if t.rows[i].want == want {
		return false
	}
	t.rows[i].want = want
	return true
}

// SetOpen sets whether a channel is open.
func (t *TargetTable) SetOpen(channel int, open bool) { t.channel(channel).open = open }

// setGlide sets what glides of a channel while it is open.
func (t *TargetTable) setGlide(channel int, g *Glide, open bool) {
	if t.channel(channel).glide = nil; open && t.limits.Moves != cue.Stepped {
		t.channel(channel).glide = g
	}
}

// setDip sets whether a channel is muted while its delay jumps.
func (t *TargetTable) setDip(channel int, dips bool) { t.channel(channel).dips = dips }

// noChannel stands for channels without a row.
var noChannel = tableChannel{mute: -1, level: -1}

// known is a channel, noChannel if it has no row.
func (t *TargetTable) known(n int) *tableChannel {
	if n < 0 || n >= len(t.channels) || t.channels[n] == nil {
		return &noChannel
	}
	return t.channels[n]
}

func (t *TargetTable) channel(n int) *tableChannel {
	for len(t.channels) <= n {
		t.channels = append(t.channels, nil)
	}
	if t.channels[n] == nil {
		t.channels[n] = &tableChannel{mute: -1, level: -1}
	}
	return t.channels[n]
}

// rank is the index of a place's parameter in the mixer file.
func (t *TargetTable) rank(place mixer.Control) int {
	return slices.IndexFunc(t.Mixer.Params, func(p *mixer.Parameter) bool { return p.Name == place.Param })
}

// closed is the argument of a mute or a level on a closed channel.
func closed(mixer *mixer.Mixer, place mixer.Control) osc.Arg {
	v := 1.0 // muted
	if place.Param == cue.ParamLevel {
		v = math.Inf(-1)
	}
	arg, _ := mixer.Arg(place, v)
	return arg
}
