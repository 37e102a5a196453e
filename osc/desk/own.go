package desk

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/osc"
)

// Parameters of the desk's own, and what a score may send besides: what the desk has and Backfield knows nothing of.

// ownKeys is one table under [param].
type ownKeys struct {
	table.Where
	Address table.Text     `key:"address,required"`
	Type    table.Text     `key:"type"`
	Scale   scaleKeys      `key:"scale"`
	Unit    table.Text     `key:"unit"`
	Min     table.Quantity `key:"min"`
	Max     table.Quantity `key:"max"`
	Step    table.Quantity `key:"step"`
	Default table.Setting  `key:"default,required"`
	Fade    table.Flag     `key:"fade"`
}

// OwnKeys lists the keys of a table under [param], as Keys does for the file.
func OwnKeys() []string { return table.Keys(ownKeys{}) }

const (
	mostOwn    = 16
	ownStep    = 0.01 // of a number, unless the file says otherwise
	largestOwn = 1e6  // a number goes no further, up or down
)

// ownName is what a parameter may be called: it is a key of the score and names columns of the sheets.
var ownName = regexp.MustCompile(`^[a-z][a-z0-9_]{0,31}$`)

// taken are the names that a parameter of the desk's own may not have: they mean something else in a role, among the
// desk's parameters, in a sheet or in a comparison.
var taken = []string{cue.ParamMute, cue.ParamLevel, cue.ParamPan, cue.ParamDelay, cue.ParamSend,
	"policy", "open", "role", "player", "section", "pack", "channel", "from", "height", "trim",
	"cue", "at", "movement", "count", "time_s", "name", "fade_s", "kind", "level_db", "delay_ms", "x_m", "y_m", "z_m", "inside", "early", "late", "notes"}

// Taken lists the names that no parameter of a desk's own may have.
func Taken() []string { return slices.Clone(taken) }

// unitForm is how a unit may be written: it ends up in the name of a column.
var unitForm = regexp.MustCompile(`^([A-Za-z]{1,8}|%)$`)

// owns reads [param] into d, in the order of the file, and enters the addresses into at.
func (r reader) owns(d *Desk, m table.Map[ownKeys], at map[string]table.Text) {
	for i, e := range m.Entries {
		name := e.Name.V
		switch {
		case slices.Contains(taken, name) || strings.HasPrefix(name, "zone_"):
			r.p.Error("desk-param-name", e.Name.Span, fmt.Sprintf("%q has a meaning already", name), "give this parameter another name")
			continue
		case !ownName.MatchString(name):
			r.p.Error("desk-param-name", e.Name.Span, fmt.Sprintf("%q is no name for a parameter", name), "use small letters, digits and _, a letter first, 32 at most")
			continue
		case i >= mostOwn:
			r.p.Error("desk-param-name", e.Name.Span, fmt.Sprintf("a desk has at most %d parameters of its own", mostOwn), "leave out those that no cue needs")
			return
		}
		d.Params = append(d.Params, r.param(name, e.Value))
		at[name] = e.Value.Address
	}
}

// param reads one parameter of the desk's own: a number, or a switch where its scale is one.
func (r reader) param(name string, k ownKeys) *Param {
	x := kind{}.param(name)
	x.lo, x.hi, x.step = -largestOwn, largestOwn, ownStep
	if t := typeNamed(k.Type); t != nil && t.Whole && !k.Scale.Set { // the wire has no finer ones
		x.step = 1
	}
	x.own = &Own{Own: cue.Own{Name: name, Unit: k.Unit.V, Switch: k.Scale.isSwitch(), Fade: k.Fade.V}}
	if k.Unit.Set && !unitForm.MatchString(k.Unit.V) {
		r.p.Error("desk-unit", k.Unit.Span, fmt.Sprintf("%q is no unit", k.Unit.V), `write a few letters, such as "dB", or "%"; it is only shown`)
		x.own.Unit = ""
	}
	if x.own.Switch {
		r.ownSwitch(x, k)
	} else {
		r.number(x, written{k.Where, k.Address, k.Type, &k.Scale, k.Min, k.Max, k.Step, true,
			func(q table.Quantity, def float64) float64 {
				if q.Set && (len(q.Parts) != 1 || q.Parts[0].Unit != "") {
					r.p.Error("bad-quantity", q.Span, "the numbers of a parameter of your own have no unit", "write a bare number; `unit` says what it counts")
					return def
				}
				if q.Set {
					return q.Parts[0].Value
				}
				return def
			}})
	}
	r.preset(x, k)
	return x
}

// ownSwitch reads a parameter that is on or off.
func (r reader) ownSwitch(x *Param, k ownKeys) {
	x.lo, x.hi, x.step = 0, 1, 1
	r.ends(x, muteKeys{k.Where, k.Address, k.Type, k.Scale}, "one for on, one for off")
	for _, key := range []struct {
		name string
		at   source.Span
		set  bool
	}{{"min", k.Min.Span, k.Min.Set}, {"max", k.Max.Span, k.Max.Set}, {"step", k.Step.Span, k.Step.Set}, {"unit", k.Unit.Span, k.Unit.Set}, {"fade", k.Fade.Span, k.Fade.V}} {
		if key.set {
			r.p.Error("desk-scale", key.at, fmt.Sprintf("a switch has no %s", key.name), "leave it out, or give this parameter a scale of numbers")
		}
	}
}

// preset settles what a channel has that nobody sets.
func (r reader) preset(x *Param, k ownKeys) {
	v, at := k.Default.V, k.Default.Span
	x.own.Default = min(max(v, x.lo), x.hi)
	switch {
	case !k.Default.Set: // reported
	case x.own.Switch && !k.Default.Switch:
		r.p.Error("desk-default", at, fmt.Sprintf("the default of a switch is %v", v), "write true or false: a switch is on or off")
	case !x.own.Switch && k.Default.Switch:
		r.p.Error("desk-default", at, fmt.Sprintf("the default of %s is no number", x.Name), "write a number, or make it a switch: scale = { on = 1, off = 0 }")
	case v < x.lo || v > x.hi:
		r.p.Error("desk-range", at, fmt.Sprintf("a default of %v lies outside what %s can be", v, x.Name), fmt.Sprintf("it goes from %v to %v", x.lo, x.hi))
	}
	if !x.own.Switch {
		x.own.Default = min(max(x.grid(x.own.Default), x.lo), x.hi)
	}
}

// table is how desk.toml heads the parameter's table.
func (p *Param) table() string {
	if p.own != nil {
		return "param." + p.Name
	}
	return p.Name
}

// Unlike is a value of a parameter of the desk's own that is not sent as v is, or v where there is none.
func (d *Desk) Unlike(param string, v float64) float64 {
	p := d.param(param)
	is, _ := p.sent(0, v)
	for _, w := range []float64{p.lo, p.hi, p.own.Default, v + 1, v - 1} {
		if arg, ok := p.sent(0, w); ok && arg != is {
			return w
		}
	}
	return v
}

// Default is what a channel has of a parameter that nobody sets; 0 for those that are not the desk's own.
func (d *Desk) Default(param string) float64 {
	if p := d.param(param); p != nil && p.own != nil {
		return p.own.Default
	}
	return 0
}

// bundled is what a message takes besides itself in a packet: the head of a bundle, and its own length.
const bundled = 16 + 4

// Room is the number of bytes that one message may take on its way to this desk.
func (d *Desk) Room() int {
	if d.Bundle {
		return d.MaxPacket - bundled
	}
	return d.MaxPacket
}

// Fits reports a message that no packet to this desk holds; at is where to point, and what names it.
func (d *Desk) Fits(m osc.Message, what string, at source.Span, p *source.Problems) bool {
	if n, room := m.Size(), d.Room(); n > room {
		p.Error("desk-too-long", at, fmt.Sprintf("%s takes %d bytes, and a packet has room for %d", what, n, room), "shorten it, or raise max_packet in desk.toml")
		return false
	}
	return true
}

// fitting holds the longest message of each kind to what a packet holds: one over it could never be sent.
func (r reader) fitting(d *Desk, k *File, at map[string]table.Text) {
	longest := osc.Message{}
	for _, x := range d.Params {
		if x.address == nil {
			continue
		}
		zone := 0
		if x.Name == cue.ParamSend {
			zone = mostZones
		}
		m := x.message(d.Channels, zone, osc.Number(x.of.Tag, 0))
		if x.on != none {
			m.Args[0] = x.on
			if off := x.message(d.Channels, zone, x.off); off.Size() > m.Size() {
				m = off
			}
		}
		d.Fits(m, "the message to "+m.Address, at[x.Name].Span, r.p)
		if len(m.Address) > len(longest.Address) {
			longest = m
		}
	}
	if d.Query != nil {
		d.Fits(d.Ask(longest.Address), "the question for "+longest.Address, k.Query.Address.Span, r.p)
	}
	for i, x := range d.Keepalives {
		if len(d.Keepalives) == len(k.Keepalive) { // else some were not read
			d.Fits(x.Message, "the message to "+x.Message.Address, k.Keepalive[i].Address.Span, r.p)
		}
	}
}

// FitsScene reports a cue whose name makes the message that stores or recalls its scene too long for a packet.
func (d *Desk) FitsScene(name string, at source.Span, p *source.Problems) {
	for _, s := range d.scenes() {
		if s.form.has("name") && !d.Fits(s.Message(d.Store.First+d.Store.Slots, name), "with this name, the message about the scene of the cue", at, p) {
			return
		}
	}
}

// scenes are the messages about scenes that the desk has.
func (d *Desk) scenes() []*Scene {
	var list []*Scene
	if d.Store != nil {
		list = append(list, &d.Store.Scene)
	}
	if d.Recall != nil {
		list = append(list, d.Recall)
	}
	return list
}

// CheckRaw holds a message that a cue sends besides to what this desk can be sent; address is where the score has it.
// What is most likely a mistake, and may be meant, is told to warn.
func (d *Desk) CheckRaw(raw cue.Raw, address table.Text, p *source.Problems, warn func(at source.Span, what, do string)) {
	if _, faults := parsePattern(raw.Address); len(faults) > 0 {
		for _, f := range faults {
			p.Error("raw-address", table.Inside(address, f.Lo, f.Hi), f.What, f.Do)
		}
		return
	}
	m := rawMessage(raw)
	if place, ok := d.Find(m.Address); ok {
		p.Error("raw-parameter", address.Span, fmt.Sprintf("%s is the %s of channel %d, which the cues set and the run sends again", m.Address, place.Param, place.Channel),
			"set it by its name, or take this line out")
		return
	}
	if !d.Fits(m, "the message to "+m.Address, address.Span, p) {
		return
	}
	if d.Store != nil {
		if _, _, ok := d.Store.Match(m); ok {
			warn(address.Span, fmt.Sprintf("%s makes the desk store a scene in the middle of the show", m), "take it out, unless that is meant")
		}
	}
	if d.Recall != nil {
		if _, _, ok := d.Recall.Match(m); ok {
			warn(address.Span, fmt.Sprintf("%s makes the desk recall a scene, which overwrites what the cues have set", m), "take it out, unless that is meant")
		}
	}
}
