// Package mixer is the mixer as mixer.toml describes it: the OSC address of each parameter of a channel, and what its
// values look like there. It reads that file, and turns two snapshots into the messages that take the mixer from one to
// the other. It sends nothing, keeps no state and has no built-in mixers: addresses and fader laws come from the user.
package mixer

import (
	"math"
	"time"

	"backfield/cue"
	"backfield/layout/osctype"
	"backfield/layout/table"
	"backfield/osc"
	"backfield/osc/form"
	"backfield/osc/scale"
)

// Mixer is one mixer. Messages needs a mixer that was read without errors. After errors it is as complete as possible,
// and messages are made for the parameters that have an address.
type Mixer struct {
	To        table.Text   // where it listens, as written: "udp://host:port" or "host:port"
	Rate      int          // messages a second, over 0
	Channels  int          // inputs, 1 to 10000
	PanLaw    table.Text   // a name that the caller knows
	Bundle    bool         // whether messages are sent in bundles
	MaxPacket int          // bytes in one datagram, 64 to 65507
	Params    []*Parameter // in sending order
	Moves     cue.Moves    // how the delay may change while the channel is open

	Also   []table.Text  // more mixers that get the same messages, written like To
	Tick   int           // steps of a fade in a second, 10 to 200
	Settle time.Duration // how long a closed channel needs after its delay was changed, before it may open
	Repeat bool          // whether values are sent again in the background, since the network may lose them
	// ManualUntilRelease says that what someone moved at the mixer stays so until the operator releases it. Otherwise it
	// ends when the channel next opens.
	ManualUntilRelease bool

	Echo       *Echo  // nil for a mixer that sends no echoes
	Query      *Query // nil for a mixer that cannot be asked
	Keepalives []Keepalive
	Store      *Store        // nil for a mixer that stores no scenes
	Recall     *SceneMessage // nil without Store too
	Safety     Safety

	missing []string // parameters without a table
}

// TickPeriod is the time from one step of a fade to the next.
func (d *Mixer) TickPeriod() time.Duration { return time.Second / time.Duration(max(d.Tick, 1)) }

// Parameter is one parameter of a channel: the pattern of its address, and how a value becomes an argument. Its own
// unit is the unit of its numbers in mixer.toml: dB, pan from -1 to 1, or the delay's `unit`.
type Parameter struct {
	Name string

	address form.Pattern
	of      *osctype.Type // of the argument; T for a boolean, true or false

	perUnit      float64 // own units for one unit of the snapshot: 48 for a delay in samples at 48 kHz
	lo, hi, step float64 // own unit; lo and hi may be infinite
	mirrored     bool    // rounds halves away from zero, so that left and right mirror each other
	scale        scale.Scale

	ceilings map[int]float64 // of the level, by channel: below hi

	on, off osc.Arg // the arguments of a switch; none for other parameters
	silent  osc.Arg // the argument for minus infinity; none if that is not a value

	own *OwnParam // for a parameter of the mixer's own; nil for those that Backfield computes
}

// OwnParam is a parameter of the mixer's own, with its default.
type OwnParam struct {
	cue.MixerParam
	Default float64 // for a channel on which nothing sets it
}

// Own lists the mixer's own parameters, in sending order.
func (d *Mixer) Own() []OwnParam {
	var list []OwnParam
	for _, p := range d.Params {
		if p.own != nil {
			list = append(list, *p.own)
		}
	}
	return list
}

// ParamLimits are the lowest and highest value of a parameter and the step between values, in the snapshot's unit: dB,
// pan -1 to 1, ms. They are infinite if there is no limit.
type ParamLimits struct{ Min, Max, Step float64 }

// Limits returns the limits of the parameter with that name. Without the parameter they are its default limits, since
// someone then sets the value by hand from snapshots.csv.
func (d *Mixer) Limits(param string) ParamLimits {
	p := d.param(param)
	if p == nil {
		p = kinds[param].param(param)
	}
	return ParamLimits{p.lo / p.perUnit, p.hi / p.perUnit, p.step / p.perUnit}
}

// Has reports whether the mixer has an address for a parameter.
func (d *Mixer) Has(param string) bool { return d.param(param) != nil }

func (d *Mixer) param(name string) *Parameter {
	for _, p := range d.Params {
		if p.Name == name {
			return p
		}
	}
	return nil
}

// paramKind is what is known of a parameter before its table is read, in the snapshot's unit.
type paramKind struct {
	tag          byte
	lo, hi, step float64
	mirrored     bool
}

var kinds = map[string]paramKind{
	cue.ParamMute:  {'i', 0, 1, 1, false},
	cue.ParamLevel: {'f', math.Inf(-1), math.Inf(1), 0.01, false},
	cue.ParamDelay: {'f', 0, math.Inf(1), 0.1, false},
	cue.ParamSend:  {'f', math.Inf(-1), math.Inf(1), 0.01, false},
	cue.ParamPan:   {'f', -1, 1, 0.01, true},
}

// param makes the parameter for an empty table. The zero paramKind has no limits.
func (k paramKind) param(name string) *Parameter {
	if k == (paramKind{}) {
		k = paramKind{tag: 'f', lo: math.Inf(-1), hi: math.Inf(1)}
	}
	return &Parameter{Name: name, of: osctype.Of(k.tag), perUnit: 1,
		lo: k.lo, hi: k.hi, step: k.step, mirrored: k.mirrored}
}
