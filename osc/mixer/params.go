package mixer

import (
	"cmp"
	"math"
	"slices"

	"backfield/cue"
	"backfield/layout/osctype"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
	"backfield/osc"
	"backfield/osc/form"
	"backfield/osc/scale"
)

// inUnit reads a quantity in a parameter's own unit, or returns def if the file has none.
type inUnit func(q table.Quantity, def float64) (own float64)

// bare reads numbers without a unit; wrong makes the problem for a number with one.
func (r fileReader) bare(wrong func(at source.Span) source.Problem) inUnit {
	return func(q table.Quantity, def float64) float64 {
		switch {
		case !q.Set:
			return def
		case len(q.Parts) != 1 || q.Parts[0].Unit != "":
			r.p.Add(wrong(q.Span))
			return def
		}
		return q.Parts[0].Value
	}
}

// level reads a parameter in dB: a channel's level, or its send to a zone.
func (r fileReader) level(name string, k levelKeys) *Parameter {
	x := kinds[name].param(name)
	inDB := func(q table.Quantity, def float64) float64 { return q.In(unit.Level, def, r.p) }
	r.number(x, &k.numberKeys, k.limitKeys, inDB, true)
	r.off(x, k)
	return x
}

func (r fileReader) pan(k panKeys) *Parameter {
	x := kinds[cue.ParamPan].param(cue.ParamPan)
	r.number(x, &k.numberKeys, k.limitKeys, r.bare(panWithUnit), false)
	if n := 1 / x.step; math.Abs(n-math.Round(n)) > 1e-6 {
		r.p.Add(unevenPan(k.Step.Span, x.step))
		x.step = kinds[cue.ParamPan].step
	}
	return x
}

// samples is the unit of delay that needs a sample rate.
const samples = "samples"

// delayUnits are the units of delay, and how many make a millisecond.
var delayUnits = []struct {
	name  string
	perMS float64
}{{"ms", 1}, {"s", 0.001}, {"us", 1000}, {samples, 0}}

func delayUnitNames() []string {
	var names []string
	for _, u := range delayUnits {
		names = append(names, u.name)
	}
	return names
}

func (r fileReader) delay(k delayKeys) *Parameter {
	x := kinds[cue.ParamDelay].param(cue.ParamDelay)
	name := k.Unit.Or("ms")
	x.perUnit = r.perMS(name, k)
	x.lo, x.hi, x.step = x.lo*x.perUnit, x.hi*x.perUnit, x.step*x.perUnit
	if name == samples {
		x.step = 1
	}
	inUnits := func(q table.Quantity, def float64) float64 {
		if q.Set && len(q.Parts) == 1 && q.Parts[0].Unit == "" {
			return q.Parts[0].Value
		}
		return q.In(unit.Delay, def/x.perUnit, r.p) * x.perUnit
	}
	r.number(x, &k.numberKeys, k.limitKeys, inUnits, false)
	if math.IsInf(x.hi, 1) && !k.Max.Set {
		r.p.Add(noLongestDelay(k.Span, name))
	}
	return x
}

// perMS is how many of this unit make a millisecond.
func (r fileReader) perMS(name string, k delayKeys) float64 {
	perMS := 1.0
	for _, u := range delayUnits {
		if u.name == name && u.perMS > 0 {
			perMS = u.perMS
		}
	}
	switch {
	case !slices.Contains(delayUnitNames(), name):
		r.p.Add(unknownDelayUnit(k.Unit.Span, name))
	case name == samples && !k.SampleRate.Set:
		r.p.Add(noSampleRate(k.Unit.Span))
	case name == samples && (k.SampleRate.V < 1000 || k.SampleRate.V > 1e6):
		r.p.Add(badSampleRate(k.SampleRate))
	case name == samples:
		return k.SampleRate.V / 1000
	case k.SampleRate.Set:
		r.p.Add(uselessSampleRate(k.SampleRate.Span, name))
	}
	return perMS
}

// number reads the keys that all number parameters have into x, which has the defaults in its own unit. inDB is whether
// the scale may be "amplitude".
func (r fileReader) number(x *Parameter, k *numberKeys, l limitKeys, own inUnit, inDB bool) {
	x.address = form.ReadParam(k.Address, x.Name == cue.ParamSend, r.p)
	x.of = scale.ReadType(k.Type.Text, x.of, osctype.Number, "a "+x.Name+" is a number", r.p)
	switch {
	case k.Scale.Bad:
	case k.Scale.IsSwitch():
		r.p.Add(noSwitch(k.Scale.Span, x.Name))
		k.Scale.Bad = true
	case k.Scale.Amplitude.Set && !inDB:
		r.p.Add(notInDB(k.Scale.Span, x.Name))
		k.Scale.Bad = true
	}
	x.scale = k.Scale.Curve(r.p)
	r.limits(x, k.Scale.Span, l, own)
	r.checkType(x, k)
}

// limits reads the range and the step of a parameter.
func (r fileReader) limits(x *Parameter, scaleAt source.Span, l limitKeys, own inUnit) {
	lo, hi := x.scale.Ends()
	if lo >= x.hi || hi <= x.lo {
		r.p.Add(scaleElsewhere(scaleAt, x, lo, hi))
		x.scale = scale.Scale{}
	} else {
		x.lo, x.hi = max(x.lo, lo), min(x.hi, hi)
	}
	least, most := r.bound(x, "min", l.Min, own, x.lo), r.bound(x, "max", l.Max, own, x.hi)
	if least < most {
		x.lo, x.hi = least, most
	} else {
		at := l.Max.Span
		if !l.Max.Set {
			at = l.Min.Span
		}
		r.p.Add(emptyRange(at, least, most))
	}
	// Values are rounded to nine decimals, which leaves three more than the smallest step.
	if step := own(l.Step, x.step); step < 1e-6 || step > x.hi-x.lo && l.Step.Set {
		r.p.Add(badStep(l.Step.Span, step))
	} else {
		x.step = step
	}
}

// bound reads one end of the range.
func (r fileReader) bound(x *Parameter, name string, q table.Quantity, own inUnit, def float64) float64 {
	before := r.p.Errors()
	v := own(q, def)
	if !q.Set || r.p.Errors() > before || v >= x.lo && v <= x.hi && math.Abs(v) <= scale.Largest {
		return v
	}
	r.p.Add(outsideScale(q.Span, name, v, x))
	return def
}

// checkType checks that the type can hold the numbers of the scale.
func (r fileReader) checkType(x *Parameter, k *numberKeys) {
	if !x.of.Whole || k.Scale.Bad {
		return
	}
	at := cmp.Or(k.Type.Span, k.Scale.Span)
	bottom, top := x.scale.Apply(x.lo), x.scale.Apply(x.hi)
	if x.scale.Amplitude() && math.IsInf(top, 1) {
		top = x.scale.Apply(10) // the highest level of most faders
	}
	if bottom > top {
		bottom, top = top, bottom
	}
	for _, v := range []float64{bottom, top} {
		if x.of.Size == 4 && !math.IsInf(v, 0) && (v < math.MinInt32 || v > math.MaxInt32) {
			r.p.Add(scaleOverflows(at, x, v))
			return
		}
	}
	// A parameter of the mixer's own may have few values on purpose.
	if n := math.Round(top) - math.Round(bottom) + 1; n < 10 && x.own == nil {
		r.p.Add(coarse(at, x, n))
	}
}

// off reads what is sent for minus infinity.
func (r fileReader) off(x *Parameter, k levelKeys) {
	softest, rises := x.scale.Softest(x.lo)
	off := k.Off.V
	switch {
	case k.Off.Set && math.Abs(off) > scale.Largest:
		r.p.Add(offTooLarge(k.Off.Span))
		off = 0
	case k.Off.Set && x.of.Whole && off != math.Trunc(off):
		r.p.Add(offNotWhole(k.Off.Span, x, off))
	case k.Off.Set && !x.of.Takes(off):
		r.p.Add(offOverflows(k.Off.Span, x, off))
	case k.Off.Set && (rises && off > softest || !rises && off < softest) && !math.IsInf(softest, 0):
		r.p.Add(loudOff(k.Off.Span, off, softest))
	case k.Off.Set:
	case x.scale.Amplitude():
		off = 0
	case !math.IsInf(softest, 0):
		off = softest
	case !k.Scale.Bad && !k.Min.Set:
		r.p.Add(noOff(k.Span))
	}
	x.silent = osc.Number(x.of.Tag, off)
}

// mute reads the mute, which is a switch.
func (r fileReader) mute(k switchKeys) *Parameter {
	x := kinds[cue.ParamMute].param(cue.ParamMute)
	if s := k.Scale; s.Set && !s.Bad && !s.IsSwitch() {
		r.p.Add(muteScale(s.Span))
		k.Scale.Bad = true
	}
	r.ends(x, k, "on is muted, off is open")
	return x
}

// ends reads a switch into x; meaning says what its two values mean.
func (r fileReader) ends(x *Parameter, k switchKeys, meaning string) {
	x.address = form.ReadParam(k.Address, false, r.p)
	x.on, x.off = osc.Int32(1), osc.Int32(0)
	s := k.Scale.Ends(k.Type.Text, meaning, r.p)
	if s.Type != nil {
		x.of = s.Type
	}
	if s.On != none {
		x.on, x.off = s.On, s.Off
	}
}
