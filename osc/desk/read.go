package desk

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"backfield/cue"
	"backfield/layout/osctype"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
	"backfield/osc"
)

// File is desk.toml: the keys as they are written.
type File struct {
	To        table.Text         `key:"to"`
	Rate      table.Int          `key:"rate"`
	Channels  table.Int          `key:"channels"`
	PanLaw    table.Text         `key:"pan_law"`
	Bundle    table.Flag         `key:"bundle"`
	MaxPacket table.Int          `key:"max_packet"`
	Mute      muteKeys           `key:"mute,required"`
	Level     levelKeys          `key:"level,required"`
	Pan       panKeys            `key:"pan"`
	Delay     delayKeys          `key:"delay"`
	Send      levelKeys          `key:"send"`
	Param     table.Map[ownKeys] `key:"param"`

	Also      []table.Text    `key:"also"`
	Tick      table.Int       `key:"tick"`
	Repeat    table.Flag      `key:"repeat"`
	Echo      *echoKeys       `key:"echo"`
	Query     *queryKeys      `key:"query"`
	Keepalive []keepaliveKeys `key:"keepalive"`
	Store     *storeKeys      `key:"store"`
	Recall    *recallKeys     `key:"recall"`
	Safety    *safetyKeys     `key:"safety"`
}

type muteKeys struct {
	table.Where
	Address table.Text `key:"address,required"`
	Type    table.Text `key:"type"`
	Scale   scaleKeys  `key:"scale"`
}

type levelKeys struct {
	table.Where
	Address table.Text     `key:"address,required"`
	Type    table.Text     `key:"type"`
	Scale   scaleKeys      `key:"scale"`
	Min     table.Quantity `key:"min"`
	Max     table.Quantity `key:"max"`
	Step    table.Quantity `key:"step"`
	Off     table.Num      `key:"off"`
}

type panKeys struct {
	table.Where
	Address table.Text     `key:"address,required"`
	Type    table.Text     `key:"type"`
	Scale   scaleKeys      `key:"scale"`
	Min     table.Quantity `key:"min"`
	Max     table.Quantity `key:"max"`
	Step    table.Quantity `key:"step"`
}

type delayKeys struct {
	table.Where
	Address    table.Text     `key:"address,required"`
	Type       table.Text     `key:"type"`
	Scale      scaleKeys      `key:"scale"`
	Unit       table.Text     `key:"unit"`
	SampleRate table.Num      `key:"sample_rate"`
	Min        table.Quantity `key:"min"`
	Max        table.Quantity `key:"max"`
	Step       table.Quantity `key:"step"`
}

// Keys lists every key that desk.toml may have, with a dot for nested ones. It serves the test that holds
// the reference page complete.
func Keys() []string { return table.Keys(File{}) }

// Read reads desk.toml. The result is never nil; what is missing or wrong has its default.
func Read(f *source.File, p *source.Problems) *Desk {
	before := p.Errors()
	root := table.ReadTOML(f, p)
	var k File
	if len(root.Fields) > 0 || p.Errors() == before { // a file that does not parse lacks nothing: it was not read
		table.Decode(root, &k, p)
	}
	r := reader{p: p}
	d := &Desk{
		To:        text(k.To, "udp://127.0.0.1:9000"),
		Rate:      r.whole("rate", k.Rate, 2000, 1, math.MaxInt32),
		Channels:  r.whole("channels", k.Channels, 64, 1, 10000),
		PanLaw:    text(k.PanLaw, "constant-power"),
		Bundle:    k.Bundle.V,
		MaxPacket: r.whole("max_packet", k.MaxPacket, 1472, 64, 65507),
		Tick:      r.whole("tick", k.Tick, 50, 10, 200),
		Repeat:    k.Repeat.Or(true),
	}
	add := func(name string, w table.Where, read func() *Param) {
		if w.Span.File != nil {
			d.Params = append(d.Params, read())
		} else if root.Get(name) == nil && len(root.Fields) > 0 {
			d.lacks = append(d.lacks, name)
		}
	}
	add(cue.ParamMute, k.Mute.Where, func() *Param { return r.mute(k.Mute) })
	add(cue.ParamLevel, k.Level.Where, func() *Param { return r.level(cue.ParamLevel, k.Level) })
	add(cue.ParamDelay, k.Delay.Where, func() *Param { return r.delay(k.Delay) })
	add(cue.ParamPan, k.Pan.Where, func() *Param { return r.pan(k.Pan) })
	add(cue.ParamSend, k.Send.Where, func() *Param { return r.level(cue.ParamSend, k.Send) })
	at := map[string]table.Text{cue.ParamSend: k.Send.Address, cue.ParamMute: k.Mute.Address, cue.ParamLevel: k.Level.Address,
		cue.ParamDelay: k.Delay.Address, cue.ParamPan: k.Pan.Address}
	r.owns(d, k.Param, at)
	r.twice(d, at)
	r.dialogue(d, &k)
	r.fitting(d, &k, at)
	return d
}

// Lacks reports a parameter that this desk, read from f, has no table for and is thus not sent.
func (d *Desk) Lacks(name string, f *source.File, p *source.Problems) {
	if slices.Contains(d.lacks, name) {
		p.Warn("desk-no-"+name, f.Whole(), fmt.Sprintf("this desk has no [%s]: it is sent no %s", name, name),
			fmt.Sprintf("add the table, or set every %s by hand from the run sheet", name))
	}
}

func text(t table.Text, def string) table.Text {
	t.V = t.Or(def)
	return t
}

type reader struct{ p *source.Problems }

func (r reader) whole(name string, v table.Int, def, lo, hi int) int {
	if v.Set && (v.V < lo || v.V > hi) {
		r.p.Error("desk-range", v.Span, fmt.Sprintf("%s cannot be %d", name, v.V), fmt.Sprintf("it is a whole number from %d to %d", lo, hi))
		return def
	}
	return v.Or(def)
}

// written is what the number parameters share, as it stands in the file.
type written struct {
	table.Where
	address, tag   table.Text
	scale          *scaleKeys
	min, max, step table.Quantity
	amplitude      bool                                              // whether "amplitude" makes sense
	own            func(q table.Quantity, def float64) (own float64) // a quantity in the parameter's own unit
}

// level reads a parameter in dB: a channel's level, or its send to a zone.
func (r reader) level(name string, k levelKeys) *Param {
	x := kinds[name].param(name)
	r.number(x, written{k.Where, k.Address, k.Type, &k.Scale, k.Min, k.Max, k.Step, true,
		func(q table.Quantity, def float64) float64 { return q.In(unit.Level, def, r.p) }})
	r.silence(x, k)
	return x
}

func (r reader) pan(k panKeys) *Param {
	x := kinds[cue.ParamPan].param(cue.ParamPan)
	r.number(x, written{k.Where, k.Address, k.Type, &k.Scale, k.Min, k.Max, k.Step, false,
		func(q table.Quantity, def float64) float64 {
			if q.Set && (len(q.Parts) != 1 || q.Parts[0].Unit != "") {
				r.p.Error("bad-quantity", q.Span, "a pan position has no unit", "write a number from -1 (left) to 1 (right)")
				return def
			}
			if q.Set {
				return q.Parts[0].Value
			}
			return def
		}})
	if n := 1 / x.step; math.Abs(n-math.Round(n)) > 1e-6 {
		r.p.Error("desk-step", k.Step.Span, fmt.Sprintf("a pan step of %v does not part the way from centre to one side evenly", x.step), "1 divided by the step must be a whole number: 0.01, 0.02, 0.05")
		x.step = kinds[cue.ParamPan].step
	}
	return x
}

// delayUnits are the units that a desk may count delays in, and how many make a millisecond; samples
// depend on the sample rate.
var delayUnits = []struct {
	name  string
	perMS float64
}{{"ms", 1}, {"s", 0.001}, {"us", 1000}, {"samples", 0}}

// DelayUnits lists them.
func DelayUnits() []string {
	var names []string
	for _, u := range delayUnits {
		names = append(names, u.name)
	}
	return names
}

func (r reader) delay(k delayKeys) *Param {
	x := kinds[cue.ParamDelay].param(cue.ParamDelay)
	name := k.Unit.Or("ms")
	var names []string
	for _, u := range delayUnits {
		names = append(names, u.name)
		if u.name == name && u.perMS > 0 {
			x.perUnit = u.perMS
		}
	}
	switch {
	case !slices.Contains(names, name):
		r.p.Error("desk-unit", k.Unit.Span, fmt.Sprintf("no unit of delay %q is known", name), source.DidYouMean(name, names, "it is "+source.OneOf(names)))
	case name == "samples" && !k.SampleRate.Set:
		r.p.Error("missing-key", k.Unit.Span, "a delay in samples needs the key \"sample_rate\"", "add it, in Hz: sample_rate = 48000")
	case name == "samples" && (k.SampleRate.V < 1000 || k.SampleRate.V > 1e6):
		r.p.Error("desk-range", k.SampleRate.Span, fmt.Sprintf("a sample rate of %v Hz is none", k.SampleRate.V), "write it in Hz, from 1000 to 1000000")
	case name == "samples":
		x.perUnit = k.SampleRate.V / 1000
	case k.SampleRate.Set:
		r.p.Error("desk-unit", k.SampleRate.Span, "a sample rate means nothing to a delay in "+name, `write unit = "samples", or leave this out`)
	}
	x.lo, x.hi, x.step = x.lo*x.perUnit, x.hi*x.perUnit, x.step*x.perUnit
	if name == "samples" {
		x.step = 1
	}
	r.number(x, written{k.Where, k.Address, k.Type, &k.Scale, k.Min, k.Max, k.Step, false,
		func(q table.Quantity, def float64) float64 {
			if q.Set && len(q.Parts) == 1 && q.Parts[0].Unit == "" {
				return q.Parts[0].Value
			}
			return q.In(unit.Delay, def/x.perUnit, r.p) * x.perUnit
		}})
	if math.IsInf(x.hi, 1) && !k.Max.Set {
		r.p.Error("missing-key", k.Span, "the key \"max\" is missing: how long a delay this desk can make", "add it, in "+name)
	}
	return x
}

// number reads what all number parameters have into x, which holds the kind's defaults in its own unit.
func (r reader) number(x *Param, w written) {
	x.address = readParamPattern(w.address, x.Name == cue.ParamSend, r.p)
	x.of = r.typed(w.tag, x.of, osctype.Number, "a "+x.Name+" is a number")
	switch {
	case w.scale.Bad:
	case w.scale.isSwitch():
		r.p.Error("desk-scale", w.scale.Span, fmt.Sprintf("a %s is no switch", x.Name), "write "+forms)
		w.scale.Bad = true
	case w.scale.Amplitude.Set && !w.amplitude:
		r.p.Error("desk-scale", w.scale.Span, fmt.Sprintf("a %s is not in dB", x.Name), "use { from = [..], to = [..] } or { table = [[in, out], ..] }")
		w.scale.Bad = true
	}
	x.scale = w.scale.curve(r.p)
	r.limits(x, w)
	r.represents(x, w)
}

// limits settles how far the parameter goes and in which steps.
func (r reader) limits(x *Param, w written) {
	lo, hi := x.scale.ends()
	if lo >= x.hi || hi <= x.lo {
		r.p.Error("desk-range", w.scale.Span, fmt.Sprintf("this scale covers %v to %v, where a %s never is", lo, hi, x.Name), fmt.Sprintf("cover %v to %v", x.lo, x.hi))
		x.scale = scale{}
	} else {
		x.lo, x.hi = max(x.lo, lo), min(x.hi, hi)
	}
	bound := func(name string, q table.Quantity, def float64) float64 {
		before := r.p.Errors()
		v := w.own(q, def)
		if !q.Set || r.p.Errors() > before || v >= x.lo && v <= x.hi && math.Abs(v) <= largest {
			return v
		}
		r.p.Error("desk-range", q.Span, fmt.Sprintf("%s %v lies outside what this %s can be", name, v, x.Name), fmt.Sprintf("it and its scale go from %v to %v", max(x.lo, -largest), min(x.hi, largest)))
		return def
	}
	least, most := bound("min", w.min, x.lo), bound("max", w.max, x.hi)
	if least < most {
		x.lo, x.hi = least, most
	} else {
		at := w.max.Span
		if !w.max.Set {
			at = w.min.Span
		}
		r.p.Error("desk-range", at, fmt.Sprintf("min %v is not below max %v", least, most), "leave some way between the two")
	}
	// Steps are laid on a grid that is clean to nine decimals; three more than a step is room enough.
	if step := w.own(w.step, x.step); step < 1e-6 || step > x.hi-x.lo && w.step.Set {
		r.p.Error("desk-range", w.step.Span, fmt.Sprintf("a step of %v is none", step), "it is over 0.000001 and smaller than the way from min to max")
	} else {
		x.step = step
	}
}

// represents checks that the type can hold what the scale makes.
func (r reader) represents(x *Param, w written) {
	if !x.of.Whole || w.scale.Bad {
		return
	}
	at := cmp.Or(w.tag.Span, w.scale.Span)
	bottom, top := x.scale.apply(x.lo), x.scale.apply(x.hi)
	if x.scale.unity > 0 && math.IsInf(top, 1) {
		top = x.scale.apply(10) // the top of most faders
	}
	if bottom > top {
		bottom, top = top, bottom
	}
	for _, v := range []float64{bottom, top} {
		if x.of.Size == 4 && !math.IsInf(v, 0) && (v < math.MinInt32 || v > math.MaxInt32) {
			r.p.Error("desk-overflow", at, fmt.Sprintf("type i holds no %g", v), "whole numbers of 32 bits end at 2147483647; use type \"h\" or \"d\" if the desk takes it")
			return
		}
	}
	if n := math.Round(top) - math.Round(bottom) + 1; n < 10 && x.own == nil { // a parameter of the desk's own may be a choice of few
		r.p.Warn("desk-coarse", at, fmt.Sprintf("as a whole number this %s has only %v values on the wire", x.Name, n), "use type \"f\", or a scale with more room, unless the desk is that coarse")
	}
}

// silence settles what minus infinity is sent as.
func (r reader) silence(x *Param, k levelKeys) {
	softest := x.scale.apply(x.lo)
	if len(x.scale.out) > 0 {
		softest = x.scale.out[0]
	}
	rising := len(x.scale.out) == 0 || x.scale.out[0] <= x.scale.out[len(x.scale.out)-1]
	off := k.Off.V
	switch {
	case k.Off.Set && math.Abs(off) > largest:
		r.p.Error("desk-range", k.Off.Span, fmt.Sprintf("off goes up to %g", float64(largest)), "write the number that the desk takes for silence")
		off = 0
	case k.Off.Set && x.of.Whole && off != math.Trunc(off):
		r.p.Error("desk-overflow", k.Off.Span, fmt.Sprintf("type %c holds no %v", x.of.Tag, off), "write a whole number, or use type \"f\"")
	case k.Off.Set && !x.of.Takes(off):
		r.p.Error("desk-overflow", k.Off.Span, fmt.Sprintf("type i holds no %v", off), "write a number of 32 bits")
	case k.Off.Set && (rising && off > softest || !rising && off < softest) && !math.IsInf(softest, 0):
		r.p.Warn("desk-loud-off", k.Off.Span, fmt.Sprintf("off = %v is louder than the softest level of the scale, %v", off, softest), "a closed channel must be silent: check this number against the desk")
	case k.Off.Set:
	case x.scale.unity > 0:
		off = 0
	case !math.IsInf(softest, 0):
		off = softest
	case !k.Scale.Bad && !k.Min.Set:
		r.p.Error("desk-off", k.Span, "nothing says what a closed channel's level is sent as", "add off = the number that the desk takes for minus infinity")
	}
	x.silent = osc.Number(x.of.Tag, off)
}

// typeNamed is the type that is written, nil where none is, or one that is not known.
func typeNamed(t table.Text) *osctype.Type {
	if len(t.V) != 1 {
		return nil
	}
	return osctype.Of(t.V[0])
}

// typed reads a type; only those of one kind suit the parameter. A type of booleans stands for both.
func (r reader) typed(t table.Text, def *osctype.Type, kind osctype.Kind, why string) *osctype.Type {
	if !t.Set {
		return def
	}
	x := typeNamed(t)
	if x != nil && x.Kind == kind {
		if kind == osctype.Truth {
			return osctype.Of('T')
		}
		return x
	}
	if x == nil {
		r.unknownType(t, osctype.Letters(kind))
	} else {
		r.p.Error("desk-type", t.Span, fmt.Sprintf("type %s does not suit: %s", t.V, why), "use one of "+strings.Join(osctype.Letters(kind), " "))
	}
	return def
}

func (r reader) unknownType(t table.Text, known []string) {
	r.p.Error("desk-type", t.Span, fmt.Sprintf("no OSC type %q is known here", t.V), "use one of "+strings.Join(known, " "))
}

// mute reads the mute, which is a switch.
func (r reader) mute(k muteKeys) *Param {
	x := kinds[cue.ParamMute].param(cue.ParamMute)
	if s := k.Scale; s.Set && !s.Bad && !s.isSwitch() {
		r.p.Error("desk-scale", s.Span, "a mute is a switch", "write scale = { on = 1, off = 0 }, where on is muted")
		k.Scale.Bad = true
	}
	r.ends(x, k, "on is muted, off is open")
	return x
}

// ends reads a switch into x; meaning tells what its two values are for.
func (r reader) ends(x *Param, k muteKeys, meaning string) {
	x.address = readParamPattern(k.Address, false, r.p)
	x.on, x.off = osc.Int32(1), osc.Int32(0)
	s := k.Scale
	switch {
	case s.Bad:
		if k.Type.Set && typeNamed(k.Type) == nil {
			r.unknownType(k.Type, osctype.Letters())
		}
		return
	case !s.Set:
		s = scaleKeys{Span: k.Type.Span, On: scalar{Node: &table.Node{Kind: table.Number, Float: 1, Integer: true}},
			Off: scalar{Node: &table.Node{Kind: table.Number, Integer: true}}}
		if t := typeNamed(k.Type); t != nil && t.Kind == osctype.Truth {
			s.On.Node, s.Off.Node = &table.Node{Kind: table.Bool, Yes: true}, &table.Node{Kind: table.Bool}
		}
	}
	on, off := s.On.Node, s.Off.Node
	if on.Kind != off.Kind {
		r.p.Error("desk-switch", s.Off.Span, fmt.Sprintf("on is %s and off is %s", on.Kind, off.Kind), "write both in the same way")
		return
	}
	def, kind, why := byte('i'), osctype.Number, "on and off are numbers (1 and 0 unless `scale` says otherwise)"
	switch {
	case on.Kind == table.String:
		def, kind, why = 's', osctype.Text, "on and off are strings"
	case on.Kind == table.Bool:
		def, kind, why = 'T', osctype.Truth, "on and off are true and false"
	case !on.Integer || !off.Integer:
		def = 'f'
	}
	x.of = r.typed(k.Type, osctype.Of(def), kind, why)
	first, okOn := r.end(s.On, x.of)
	second, okOff := r.end(s.Off, x.of)
	switch {
	case !okOn || !okOff:
	case first == second:
		r.p.Error("desk-switch", s.Span, "on and off are sent as the same", "give them two values: "+meaning)
	default:
		x.on, x.off = first, second
	}
}

// end makes the argument of one end of a switch, which is of the type's kind.
func (r reader) end(s scalar, t *osctype.Type) (arg osc.Arg, ok bool) {
	switch n := s.Node; n.Kind {
	case table.Bool:
		return osc.Bool(n.Yes), true
	case table.String:
		for _, c := range n.Text {
			if c < ' ' || c > '~' {
				r.p.Error("desk-switch", s.Span, fmt.Sprintf("%q may not stand in an OSC string", c), "use printable ASCII")
				return none, false
			}
		}
		return osc.Packed(t.Tag, 0, n.Text), true
	}
	if v := s.Node.Float; math.Abs(v) > largest || !t.Takes(v) {
		r.p.Error("desk-overflow", s.Span, fmt.Sprintf("type %c holds no %v", t.Tag, v), "write a number that fits, or another type")
		return none, false
	}
	return osc.Number(t.Tag, s.Node.Float), true
}

// twiceZones is how many zones are looked at for addresses that are used twice.
const twiceZones = 16

// twice reports two parameters that share an address on some channel.
func (r reader) twice(d *Desk, at map[string]table.Text) {
	owner := map[string]*Param{}
	for _, x := range d.Params {
		if other, address := x.clash(d.Channels, owner); other != nil {
			r.p.Error("desk-same-address", at[x.Name].Span, fmt.Sprintf("%s is the address of [%s] as well", address, other.table()), "give each parameter an address of its own",
				source.Note{Span: at[other.Name].Span, Text: "first used here"})
		}
	}
}

// clash enters a parameter's addresses into owner, up to the first that is there already.
func (p *Param) clash(channels int, owner map[string]*Param) (other *Param, address string) {
	if p.address == nil {
		return nil, ""
	}
	zones := 1
	if p.Name == cue.ParamSend {
		zones = twiceZones
	}
	for n := 1; n <= channels; n++ {
		for z := 1; z <= zones; z++ {
			a := p.address.of(filling{channel: n, zone: z})
			if owner[a] != nil {
				return owner[a], a
			}
			owner[a] = p
		}
	}
	return nil, ""
}
