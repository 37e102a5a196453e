package mixer

import (
	"fmt"
	"math"
	"strconv"

	"backfield/cue"
	"backfield/layout/osctype"
	"backfield/layout/unit"
	"backfield/osc"
	"backfield/osc/form"
	"backfield/osc/scale"
)

// Place says what an address of the mixer sets: a parameter of a channel, and of a send the zone.
type Control struct {
	Channel int
	Param   string
	Zone    int // 0 but for a send
}

// Setting is one value that a snapshot wants of the mixer.
type ControlMessage struct {
	Control
	Message osc.Message
}

// Settings is the full state that the snapshot stands for: channel by channel, the parameters in sending order,
// sends by zone. Every snapshot of one show gives the same addresses in the same order. It holds what Messages
// sends from nothing; in which order it may be sent is for Messages to say.
func (d *Mixer) Settings(s *cue.Snapshot) []ControlMessage {
	out := make([]ControlMessage, 0, len(s.Channels)*len(d.Params))
	d.Each(s, func(x Control, arg osc.Arg) {
		out = append(out, ControlMessage{x, osc.Message{Address: d.Address(x), Args: []osc.Arg{arg}}})
	})
	return out
}

// Each calls do with the place and the argument of every setting, in the order of Settings, and makes no addresses.
func (d *Mixer) Each(s *cue.Snapshot, do func(x Control, arg osc.Arg)) {
	for i := range s.Channels {
		c := &s.Channels[i]
		for _, p := range d.Params {
			for _, zone := range p.zones(c) {
				if arg, ok := p.argument(c, zone); ok && p.address != nil {
					do(Control{c.Channel, p.Name, zone}, arg)
				}
			}
		}
	}
}

// Address is the address of a place, empty where the mixer has none.
func (d *Mixer) Address(x Control) string {
	p := d.param(x.Param)
	if p == nil || p.address == nil {
		return ""
	}
	return p.address.Of(form.Filling{Channel: x.Channel, Zone: x.Zone})
}

// Arg is what a value in the snapshot's unit is sent as at a place: of a mute 1 is muted, of a level or a send minus
// infinity is off. ok is false where the mixer has no such place.
func (d *Mixer) Arg(x Control, v float64) (arg osc.Arg, ok bool) {
	p := d.param(x.Param)
	if p == nil || p.address == nil {
		return none, false
	}
	return p.sent(x.Channel, v)
}

// Places lists what the mixer can be sent for a channel, in sending order; of a send one for each zone.
func (d *Mixer) Controls(channel int, zones ...int) []Control {
	var out []Control
	for _, p := range d.Params {
		switch {
		case p.address == nil:
		case p.Name != cue.ParamSend:
			out = append(out, Control{channel, p.Name, 0})
		default:
			for _, zone := range zones {
				out = append(out, Control{channel, p.Name, zone})
			}
		}
	}
	return out
}

// mostZones is how many zones a mixer is known to have, as many as a rig may have.
const maxZones = 64

// Find returns what an address sets, if it is one of the mixer's parameters.
func (d *Mixer) Find(address string) (Control, bool) {
	for _, p := range d.Params {
		if p.address == nil {
			continue
		}
		x, ok := p.address.Match(address)
		inZone := p.Name != cue.ParamSend || x.Zone >= 1 && x.Zone <= maxZones
		if ok && x.Channel >= 1 && x.Channel <= d.Channels && inZone {
			return Control{x.Channel, p.Name, x.Zone}, true
		}
	}
	return Control{}, false
}

// Value is what an argument that the mixer holds means, in the snapshot's unit and on the parameter's grid: mute 1
// or 0, level and send in dB or minus infinity, pan -1 to 1, delay in ms. It undoes what Messages does, ceilings
// aside; ok is false for an argument that means nothing there.
func (d *Mixer) Value(param string, arg osc.Arg) (v float64, ok bool) {
	p := d.param(param)
	switch {
	case p == nil:
		return 0, false
	case p.on != none:
		switch {
		case arg.Same(p.on, 0):
			return 1, true
		case arg.Same(p.off, 0):
			return 0, true
		}
		return 0, false
	case p.silent != none && arg.Same(p.silent, 0):
		return math.Inf(-1), true
	}
	n, ok := arg.Number()
	if _, isBool := arg.Bool(); isBool || !ok || math.IsNaN(n) {
		return 0, false
	}
	switch v = p.scale.Invert(n); {
	case math.IsInf(v, -1) && p.silent != none:
		return v, true
	case math.Abs(v) > scale.Largest:
		return 0, false
	}
	if v = p.grid(v) / p.perUnit; p.perUnit != 1 {
		v = unit.Round(v, 1e-6)
	}
	return v, true
}

// Parse reads an argument as a person types it for the wire, in the OSC type of the parameter.
func (d *Mixer) Parse(param, text string) (arg osc.Arg, err error) {
	p := d.param(param)
	if p == nil {
		return none, fmt.Errorf("this mixer has no %s", param)
	}
	switch p.of.Kind {
	case osctype.Text:
		return osc.Packed(p.of.Tag, 0, text), nil
	case osctype.Bool:
		yes, err := strconv.ParseBool(text)
		if err != nil {
			return none, fmt.Errorf("%q is neither true nor false", text)
		}
		return osc.Bool(yes), nil
	}
	v, err := strconv.ParseFloat(text, 64)
	switch {
	case err != nil || math.Abs(v) > scale.Largest || v != v:
		return none, fmt.Errorf("%q is not a number that OSC can carry", text)
	case p.of.Whole && v != math.Trunc(v):
		return none, fmt.Errorf("%q is not a whole number", text)
	}
	return osc.Number(p.of.Tag, v), nil
}
