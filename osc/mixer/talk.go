package mixer

import (
	"math"
	"slices"
	"strings"
	"time"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
	"backfield/osc"
	"backfield/osc/form"
	"backfield/osc/scale"
)

// span reads a duration; a bare number is in seconds.
func (r fileReader) span(q table.Quantity, def, lo, hi time.Duration, what string) time.Duration {
	s := q.Within(unit.Duration, def.Seconds(), lo.Seconds(), hi.Seconds(), what, r.p)
	return time.Duration(math.Round(s * float64(time.Second)))
}

// also reads the list of more mixers, which must all be different.
func (r fileReader) also(list []table.Text, to table.Text) []table.Text {
	var out []table.Text
	for _, t := range list {
		if !t.Set {
			continue
		}
		same := func(x table.Text) bool { return host(x.V) == host(t.V) }
		if same(to) || slices.ContainsFunc(out, same) {
			r.p.Add(listedTwice(t))
			continue
		}
		out = append(out, t)
	}
	return out
}

// host is an address without the parts that may be omitted.
func host(to string) string {
	return strings.TrimPrefix(strings.ToLower(to), "udp://")
}

// dialogue reads everything except the parameters, which must have been read before.
func (r fileReader) dialogue(d *Mixer, k *FileKeys) {
	d.Also = r.also(k.Also, d.To)
	if k.Echo != nil {
		d.Echo = r.echo(d, k.Echo)
	}
	if k.Query != nil {
		d.Query = r.query(d, k.Query)
	}
	for _, x := range k.Keepalive {
		every := r.span(x.Every, time.Second, 100*time.Millisecond, time.Hour, "an interval")
		f, ok := x.Read(r.p)
		if m := f.Fill(form.Filling{}); ok && r.free(d, m, x.Address) {
			d.Keepalives = append(d.Keepalives, Keepalive{m, every})
		}
	}
	r.scenes(d, k)
	r.safety(d, k)
}

// maxTolerance is the largest tolerance, well under half of the difference between a switch's 0 and 1.
const maxTolerance = 0.1

func (r fileReader) echo(d *Mixer, k *echoKeys) *Echo {
	e := &Echo{Tolerance: k.Tolerance.Or(0.002)}
	if e.Tolerance < 0 || e.Tolerance > maxTolerance {
		r.p.Add(badTolerance(k.Tolerance.Span, e.Tolerance))
		e.Tolerance = 0.002
	}
	for _, m := range d.Params {
		if m.on != none && m.on != m.off && m.on.Same(m.off, e.Tolerance) {
			r.p.Add(looseEcho(k.Span, e.Tolerance, m))
		}
	}
	return e
}

func (r fileReader) query(d *Mixer, k *form.MessageKeys) *Query {
	f, ok := k.Read(r.p, "address")
	switch {
	case !ok:
		return nil
	case !f.Has("address"):
		r.p.Add(queryWithoutAddress(k.Address.Span))
		return nil
	case !f.Address.Has("address"):
		if !r.free(d, f.Fill(form.Filling{}), k.Address) {
			return nil
		}
	case f.Address.Of(form.Filling{Address: "/x"}) == "/x":
		if i, sets := f.Sets(); sets {
			r.p.Add(queryThatSets(k.Args[i].Span))
			return nil
		}
	}
	return &Query{f}
}

func (r fileReader) scenes(d *Mixer, k *FileKeys) {
	if k.Store != nil {
		s := &Store{
			Settle: r.span(k.Store.Settle, 300*time.Millisecond, 0, time.Minute, "a time to settle"),
			First:  r.whole("first", k.Store.First, 1, 0, 100_000),
			Slots:  r.whole("slots", k.Store.Slots, 1, 1, 10_000),
		}
		f, ok := k.Store.Read(r.p, "slot", "name")
		if s.form = f; ok && r.scene(d, s.form, s, k.Store.Address) {
			d.Store = s
		}
	}
	if k.Recall == nil {
		return
	}
	f, ok := k.Recall.Read(r.p, "slot", "name")
	switch {
	case k.Store == nil:
		r.p.Add(recallWithoutStore(k.Recall.Span))
	case !ok || d.Store == nil || !r.scene(d, f, d.Store, k.Recall.Address):
	default:
		if _, same := d.Store.form.Match(f.Fill(form.Filling{Slot: d.Store.First, Name: "x"})); same {
			r.p.Add(recallIsStore(k.Recall.Address.Span, k.Store.Address.Span))
			return
		}
		d.Recall = &SceneMessage{f}
	}
}

// scene checks that a message has the slot, and that it has no parameter's address with any slot.
func (r fileReader) scene(d *Mixer, f form.Form, s *Store, at table.Text) bool {
	if !f.Has("slot") {
		r.p.Add(noSlot(at.Span))
		return false
	}
	slots := s.Slots
	if !f.Address.Has("slot") {
		slots = 1
	}
	for i := range slots {
		if !r.free(d, f.Fill(form.Filling{Slot: s.First + i}), at) {
			return false
		}
	}
	return true
}

// free checks that a message does not use a parameter's address.
func (r fileReader) free(d *Mixer, m osc.Message, at table.Text) bool {
	if place, taken := d.Find(m.Address); taken {
		r.p.Add(parameterAddress(at.Span, m, d.param(place.Param)))
		return false
	}
	return true
}

func (r fileReader) safety(d *Mixer, k *FileKeys) {
	d.Safety = Safety{RiseDB: 12, Ramp: 100 * time.Millisecond}
	if k.Safety == nil {
		return
	}
	d.Safety.RiseDB = k.Safety.Rise.Within(unit.Level, d.Safety.RiseDB, 0.1, 120, "a rise", r.p)
	d.Safety.Ramp = r.span(k.Safety.Ramp, d.Safety.Ramp, 10*time.Millisecond, 10*time.Second, "a ramp")
	level := d.param(cue.ParamLevel)
	if level == nil {
		return
	}
	level.hi = r.ceiling(k.Safety.Ceiling, level)
	first := map[int]source.Span{}
	for _, c := range k.Safety.Channel {
		n := c.Channel.V
		switch {
		case !c.Channel.Set: // reported
		case n < 1 || n > d.Channels:
			r.p.Add(noChannel(c.Channel, d.Channels))
		case first[n].File != nil:
			r.p.Add(ceilingTwice(c.Channel, first[n]))
		default:
			first[n] = c.Channel.Span
			if level.ceilings == nil {
				level.ceilings = map[int]float64{}
			}
			level.ceilings[n] = r.ceiling(c.Ceiling, level)
		}
	}
}

// ceiling reads a ceiling in dB, between the lowest level and the highest so far.
func (r fileReader) ceiling(q table.Quantity, level *Parameter) float64 {
	before := r.p.Errors()
	v := q.In(unit.Level, level.hi, r.p)
	if q.Set && r.p.Errors() == before && (v <= level.lo || v > level.hi || math.Abs(v) > scale.Largest) {
		r.p.Add(badCeiling(q.Span, v, level))
		return level.hi
	}
	return v
}
