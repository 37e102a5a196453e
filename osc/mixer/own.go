package mixer

import (
	"regexp"
	"slices"
	"strings"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/osc/scale"
)

const (
	maxOwn     = 16
	ownStep    = 0.01 // the step of a number, unless the file says otherwise
	largestOwn = 1e6  // the range of a number, up and down, unless the file says otherwise
)

// ownName is the form of a name: it is a key of the score and a column of the sheets.
var ownName = regexp.MustCompile(`^[a-z][a-z0-9_]{0,31}$`)

// takenNames are the names that a parameter of the mixer's own may not have, because they mean something else in a
// role, in mixer.toml, in a sheet or in a comparison.
var takenNames = []string{cue.ParamMute, cue.ParamLevel, cue.ParamPan, cue.ParamDelay, cue.ParamSend,
	"policy", "box", "open_early", "dynamics",
	"open", "role", "player", "section", "pack", "channel", "from", "height", "trim",
	"cue", "at", "movement", "count", "time_s", "name", "fade_s", "fade_out_s", "kind", "level_db", "delay_ms",
	"x_m", "y_m", "z_m", "inside", "early", "late", "notes"}

// unitForm is the form of a unit, which becomes part of a column name.
var unitForm = regexp.MustCompile(`^([A-Za-z]{1,8}|%)$`)

// owns reads [param] into d, in the order of the file, and puts the addresses into at.
func (r fileReader) owns(d *Mixer, m table.Map[ownKeys], at map[string]table.Text) {
	for i, e := range m.Entries {
		name := e.Name.V
		switch {
		case slices.Contains(takenNames, name) || strings.HasPrefix(name, "zone_"):
			r.p.Add(takenName(e.Name))
			continue
		case !ownName.MatchString(name):
			r.p.Add(badName(e.Name))
			continue
		case i >= maxOwn:
			r.p.Add(tooManyOwn(e.Name.Span))
			return
		}
		d.Params = append(d.Params, r.param(name, e.Value))
		at[name] = e.Value.Address
	}
}

// param reads one parameter of the mixer's own: a switch if its scale is one, otherwise a number.
func (r fileReader) param(name string, k ownKeys) *Parameter {
	x := paramKind{}.param(name)
	x.lo, x.hi, x.step = -largestOwn, largestOwn, ownStep
	if t := scale.TypeNamed(k.Type.Text); t != nil && t.Whole && !k.Scale.Set {
		x.step = 1
	}
	x.own = &OwnParam{MixerParam: cue.MixerParam{Name: name, Unit: k.Unit.V, Switch: k.Scale.IsSwitch(),
		Fade: k.Fade.V}}
	if k.Unit.Set && !unitForm.MatchString(k.Unit.V) {
		r.p.Add(badUnit(k.Unit))
		x.own.Unit = ""
	}
	if x.own.Switch {
		r.ownSwitch(x, k)
	} else {
		n := numberKeys{k.Where, k.Address, numberType(k.Type), k.Scale}
		r.number(x, &n, k.limitKeys, r.bare(ownWithUnit), true)
	}
	r.defaultValue(x, k)
	return x
}

// ownSwitch reads a parameter that is on or off.
func (r fileReader) ownSwitch(x *Parameter, k ownKeys) {
	x.lo, x.hi, x.step = 0, 1, 1
	r.ends(x, k.switchKeys, "one for on, one for off")
	for _, key := range []struct {
		name string
		at   source.Span
		set  bool
	}{
		{"min", k.Min.Span, k.Min.Set}, {"max", k.Max.Span, k.Max.Set}, {"step", k.Step.Span, k.Step.Set},
		{"unit", k.Unit.Span, k.Unit.Set}, {"fade", k.Fade.Span, k.Fade.V},
	} {
		if key.set {
			r.p.Add(notOfSwitch(key.at, key.name))
		}
	}
}

// defaultValue reads the value for a channel on which nothing sets it.
func (r fileReader) defaultValue(x *Parameter, k ownKeys) {
	v, at := k.Default.V, k.Default.Span
	x.own.Default = min(max(v, x.lo), x.hi)
	switch {
	case !k.Default.Set: // reported
	case x.own.Switch && !k.Default.Switch:
		r.p.Add(defaultOfSwitch(at, v))
	case !x.own.Switch && k.Default.Switch:
		r.p.Add(defaultNoNumber(at, x))
	case v < x.lo || v > x.hi:
		r.p.Add(defaultOutside(at, v, x))
	}
	if !x.own.Switch {
		x.own.Default = min(max(x.grid(x.own.Default), x.lo), x.hi)
	}
}

// table is the name of the parameter's table in mixer.toml.
func (p *Parameter) table() string {
	if p.own != nil {
		return "param." + p.Name
	}
	return p.Name
}

// DifferentValue is a value of a parameter of the mixer's own whose OSC value differs from that of v, or v if there is
// none.
func (d *Mixer) DifferentValue(param string, v float64) float64 {
	p := d.param(param)
	is, _ := p.sent(0, v)
	for _, w := range []float64{p.lo, p.hi, p.own.Default, v + 1, v - 1} {
		if arg, ok := p.sent(0, w); ok && arg != is {
			return w
		}
	}
	return v
}

// Default is the value of a parameter on a channel on which nothing sets it; 0 for those that Backfield computes.
func (d *Mixer) Default(param string) float64 {
	if p := d.param(param); p != nil && p.own != nil {
		return p.own.Default
	}
	return 0
}
