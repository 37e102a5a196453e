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

// Control is what an address of the mixer sets: a parameter of a channel, for a send in a zone.
type Control struct {
	Channel int
	Param   string
	Zone    int // 0 except for a send
}

// ControlMessage is the message that sets one control.
type ControlMessage struct {
	Control
	Message osc.Message
}

// Settings is the full state of a snapshot: channel by channel, the parameters in sending order, sends by zone. Every
// snapshot of a show has the same addresses in the same order. These are the messages of Messages without a prev, but
// only Messages has an order in which they may be sent.
func (d *Mixer) Settings(s *cue.Snapshot) []ControlMessage {
	out := make([]ControlMessage, 0, len(s.Channels)*len(d.Params))
	d.Each(s, func(x Control, arg osc.Arg) {
		out = append(out, ControlMessage{x, osc.Message{Address: d.Address(x), Args: []osc.Arg{arg}}})
	})
	return out
}

// Each calls do with every control and its argument, in the order of Settings. It makes no addresses.
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

// Address is the address of a control, empty if the mixer does not have it.
func (d *Mixer) Address(x Control) string {
	p := d.param(x.Param)
	if p == nil || p.address == nil {
		return ""
	}
	return p.address.Of(form.Filling{Channel: x.Channel, Zone: x.Zone})
}

// Arg is the OSC value for a value in the snapshot's unit: for a mute 1 is muted, for a level or a send minus infinity
// is off. ok is false if the mixer does not have the control.
func (d *Mixer) Arg(x Control, v float64) (arg osc.Arg, ok bool) {
	p := d.param(x.Param)
	if p == nil || p.address == nil {
		return none, false
	}
	return p.sent(x.Channel, v)
}

// Controls lists the controls of a channel, in sending order, with one for each zone of a send.
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

// maxZones is how many zones a mixer may have, the same as a rig.
const maxZones = 64

// Find returns the control that an address sets; ok is false for any other address.
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

// Value is the value of an argument that the mixer holds, in the snapshot's unit and rounded to the parameter's step: mute
// 1 or 0, level and send in dB or minus infinity, pan -1 to 1, delay in ms. It reverses Messages, except for ceilings. ok
// is false for an argument that the parameter cannot have.
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

// Parse reads an OSC value as a person types it, in the OSC type of the parameter.
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

// Words is an argument of a parameter in words, with its unit: "-31.0 dB".
func (d *Mixer) Words(param string, arg osc.Arg) string {
	v, ok := d.Value(param, arg)
	switch {
	case !ok:
		return arg.String()
	case param == cue.ParamMute && v == 1:
		return "on"
	case param == cue.ParamMute, math.IsInf(v, -1):
		return "off"
	case param == cue.ParamLevel || param == cue.ParamSend:
		return fmt.Sprintf("%+.1f dB", v)
	case param == cue.ParamDelay:
		return fmt.Sprintf("%.1f ms", v)
	case param == cue.ParamPan:
		return fmt.Sprintf("%+.2f", v)
	}
	return fmt.Sprintf("%.4g", v)
}
