package mixer

import (
	"cmp"
	"math"
	"slices"

	"backfield/cue"
	"backfield/layout/unit"
	"backfield/osc"
	"backfield/osc/form"
)

// beforeAfter is one channel before and after. was is nil if it is unknown what the mixer holds.
type beforeAfter struct{ was, is *cue.Channel }

// Messages returns the messages that take the mixer from prev to next: only values that differ as OSC, in an order in
// which the audience hears nothing that neither snapshot wants. First channels close: mutes, then levels to off. Then
// delays and pans move. Then channels open: mutes off while the level is still off, then levels. One parameter comes
// after the other, each by channel number.
//
// A cue's extra messages are not part of the state, so they are not included: see Go.
//
// With prev nil it is the full state. The mixer's levels are unknown then, so an open channel's level is set before its
// mute is taken off. A channel that is open in prev and missing in next is closed.
func (d *Mixer) Messages(prev, next *cue.Snapshot) []osc.Message { return d.messages(prev, next, nil) }

// Go is what a cue sends when it goes: Messages, with the cue's extra messages after everything that closes and before
// anything that moves or opens.
func (d *Mixer) Go(prev, next *cue.Snapshot) []osc.Message {
	return d.messages(prev, next, ExtraMessages(next))
}

// ExtraMessages lists the extra messages of a cue.
func ExtraMessages(s *cue.Snapshot) []osc.Message {
	var out []osc.Message
	for _, r := range s.Also {
		out = append(out, extraMessage(r))
	}
	return out
}

func extraMessage(r cue.Extra) osc.Message {
	m := osc.Message{Address: r.Address}
	for i, a := range r.Args {
		tag := r.Types[i]
		switch a := a.(type) {
		case float64:
			m.Args = append(m.Args, osc.Number(tag, a))
		case string:
			m.Args = append(m.Args, osc.Packed(tag, 0, a))
		case bool:
			m.Args = append(m.Args, osc.Bool(a))
		}
	}
	return m
}

func (d *Mixer) messages(prev, next *cue.Snapshot, raw []osc.Message) []osc.Message {
	changes := pairUp(prev, next)
	var closing, opening, unknown []beforeAfter
	for _, c := range changes {
		switch {
		case !c.is.Open:
			closing = append(closing, c)
		case c.was == nil:
			unknown = append(unknown, c)
		default:
			opening = append(opening, c)
		}
	}
	mute, level := d.param(cue.ParamMute), d.param(cue.ParamLevel)

	var out []osc.Message
	out = mute.append(out, closing)
	out = level.append(out, closing)
	out = append(out, raw...)
	for _, p := range d.Params {
		if p != mute && p != level {
			out = p.append(out, changes)
		}
	}
	out = level.append(out, unknown)
	out = mute.append(out, unknown)
	out = mute.append(out, opening)
	return level.append(out, opening)
}

// pairUp matches the channels of the two snapshots by number, ascending.
func pairUp(prev, next *cue.Snapshot) []beforeAfter {
	out := make([]beforeAfter, 0, len(next.Channels))
	for i := range next.Channels {
		out = append(out, beforeAfter{is: &next.Channels[i]})
	}
	byChannel := func(c beforeAfter, n int) int { return cmp.Compare(c.is.Channel, n) }
	if prev == nil {
		return out
	}
	for i := range prev.Channels {
		was := &prev.Channels[i]
		at, found := slices.BinarySearchFunc(out, was.Channel, byChannel)
		if found {
			out[at].was = was
		} else if was.Open {
			is := *was
			is.Open, is.LevelDB = false, cue.Silent
			out = slices.Insert(out, at, beforeAfter{was, &is})
		}
	}
	return out
}

// append adds the parameter's message for each change that makes a different OSC value.
func (p *Parameter) append(out []osc.Message, changes []beforeAfter) []osc.Message {
	if p == nil || p.address == nil {
		return out
	}
	for _, c := range changes {
		for _, zone := range p.zones(c.is) {
			is, ok := p.argument(c.is, zone)
			if !ok {
				continue
			}
			if c.was != nil {
				if was, ok := p.argument(c.was, zone); ok && was == is {
					continue
				}
			}
			out = append(out, p.message(c.is.Channel, zone, is))
		}
	}
	return out
}

// none is the zero argument.
var none osc.Arg

// noZone is the zone of a parameter that has none.
var noZone = []int{0}

// zones lists the zones in which the channel has a value of the parameter.
func (p *Parameter) zones(c *cue.Channel) []int {
	if p.Name != cue.ParamSend {
		return noZone
	}
	zones := make([]int, len(c.Sends))
	for i, s := range c.Sends {
		zones[i] = s.Zone
	}
	return zones
}

func (p *Parameter) message(channel, zone int, arg osc.Arg) osc.Message {
	return osc.Message{Address: p.address.Of(form.Filling{Channel: channel, Zone: zone}), Args: []osc.Arg{arg}}
}

// value is the snapshot's value for the channel, and for the zone if this is a send.
func (p *Parameter) value(c *cue.Channel, zone int) (v float64, ok bool) {
	if p.Name != cue.ParamSend {
		if v, ok = c.Value(p.Name); !ok && p.own != nil { // compiled before mixer.toml had this parameter
			return p.own.Default, true
		}
		return v, ok
	}
	for _, s := range c.Sends {
		if s.Zone == zone {
			return float64(s.LevelDB), true
		}
	}
	return 0, false
}

// argument is the OSC value of a channel; ok is false if the snapshot has no such value.
func (p *Parameter) argument(c *cue.Channel, zone int) (arg osc.Arg, ok bool) {
	v, ok := p.value(c, zone)
	if !ok {
		return none, false
	}
	if p.Name == cue.ParamLevel && !c.Open {
		v = math.Inf(-1)
	}
	return p.sent(c.Channel, v)
}

// sent is the OSC value for a value in the snapshot's unit on a channel, where minus infinity is silence; ok is false
// for NaN.
func (p *Parameter) sent(channel int, v float64) (arg osc.Arg, ok bool) {
	switch {
	case math.IsNaN(v) && p.silent == none:
		return none, false
	case p.on != none && v != 0:
		return p.on, true
	case p.on != none:
		return p.off, true
	case p.silent != none && !(v >= -math.MaxFloat64): // minus infinity, or NaN
		return p.silent, true
	}
	v = min(max(p.grid(v*p.perUnit), p.lo), p.top(channel))
	return osc.Number(p.of.Tag, p.scale.Apply(v)), true
}

// grid rounds a value in the parameter's own unit to its step.
func (p *Parameter) grid(v float64) float64 {
	switch {
	case math.IsInf(v, 0): // no step to round to
	case p.mirrored:
		v = unit.RoundSigned(v, p.step)
	case p.step > 0:
		v = unit.Round(v, p.step)
	}
	return v
}

// top is the highest value that the parameter may have on a channel, in its own unit.
func (p *Parameter) top(channel int) float64 {
	if ceiling, ok := p.ceilings[channel]; ok {
		return ceiling
	}
	return p.hi
}
