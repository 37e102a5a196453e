// Package mixer is the mixer as mixer.toml describes it: where each parameter of a channel lives in the
// mixer's OSC, and what a value looks like there. It reads that file and turns two snapshots into the
// messages that lead from one to the other. It sends nothing, keeps no state and knows no mixer by name:
// addresses and fader laws are the user's own.
package mixer

import (
	"math"

	"backfield/cue"
	"backfield/layout/osctype"
	"backfield/layout/table"
	"backfield/osc"
	"backfield/osc/form"
	"backfield/osc/scale"
)

// Mixer is one mixer. Messages needs a mixer that was read without errors; after errors it is as full as it
// could be made, and messages are made for those parameters that have an address.
type Mixer struct {
	To        table.Text   // where it listens, as written: "udp://host:port" or "host:port"
	Rate      int          // messages a second, over 0
	Channels  int          // inputs, 1 to 10000
	PanLaw    table.Text   // a name; what names there are is the caller's to know
	Bundle    bool         // whether messages travel in bundles
	MaxPacket int          // bytes in one datagram, 64 to 65507
	Params    []*Parameter // in sending order

	Also       []table.Text // further mixers that are fed alike, written as To
	Tick       int          // steps of a fade in a second, 10 to 200
	Repeat     bool         // whether state is repeated in the background, since a road may lose it
	Echo       *Echo        // nil for a mixer that tells nothing
	Query      *Query       // nil for a mixer that cannot be asked
	Keepalives []Keepalive
	Store      *Store        // nil for a mixer that keeps no scenes
	Recall     *SceneMessage // nil without Store, too
	Safety     Safety

	missing []string // parameters without a table
}

// Param is one parameter of a channel: the pattern of its address and the way from a value to an argument.
// Its own unit is the unit that mixer.toml writes its numbers in: dB, pan position, or the delay's `unit`.
type Parameter struct {
	Name string

	address form.Pattern
	of      *osctype.Type // of the argument; T for a boolean of either value

	perUnit      float64 // own units in one unit of the snapshot: 48 for a delay in samples at 48 kHz
	lo, hi, step float64 // own unit; lo and hi may be infinite
	mirrored     bool    // round halves away from zero, so that left and right mirror
	scale        scale.Scale

	ceilings map[int]float64 // of the level, by channel: below hi

	on, off osc.Arg // the arguments of a switch, none for other parameters
	silent  osc.Arg // the argument that minus infinity is sent as, none where that is no value

	own *OwnParam // of a parameter of the mixer's own; nil for those that are computed
}

// Own is what mixer.toml says of a parameter of the mixer's own besides its address and its numbers.
type OwnParam struct {
	cue.MixerParam
	Default float64 // what a channel has that nobody sets
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

// Limits are the least and greatest value that a parameter can have and the step between values, in the
// snapshot's unit: dB, pan -1 to 1, ms. They are infinite where there is no limit.
type ParamLimits struct{ Min, Max, Step float64 }

// Limits returns what the mixer allows of the parameter of that name. A mixer without the parameter has its
// default limits, since the value is then set by hand from the paper.
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

// kind is what is known of a parameter before its table is read, in the snapshot's unit.
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

// param is the parameter that an empty table of this kind stands for. The zero kind has no limits.
func (k paramKind) param(name string) *Parameter {
	if k == (paramKind{}) {
		k = paramKind{tag: 'f', lo: math.Inf(-1), hi: math.Inf(1)}
	}
	return &Parameter{Name: name, of: osctype.Of(k.tag), perUnit: 1, lo: k.lo, hi: k.hi, step: k.step, mirrored: k.mirrored}
}
