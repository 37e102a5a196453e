package desk

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
	"backfield/osc"
)

// What a desk says and is asked besides its parameters, and how far levels are trusted to go.

// Echo is a desk that tells every value that it takes or that a hand moves, under the same address.
type Echo struct {
	Tolerance float64 // for Same
}

// Query is a desk that can be asked for one value. It answers under the address that was asked about.
type Query struct{ form form }

// Message asks for the value at an address.
func (q *Query) Message(address string) osc.Message { return q.form.fill(filling{address: address}) }

// Match returns the address that a message asks for, if it is a query.
func (q *Query) Match(m osc.Message) (address string, ok bool) {
	x, ok := q.form.match(m)
	return x.address, ok
}

// Keepalive is a message that the desk must hear every so often.
type Keepalive struct {
	Message osc.Message
	Every   time.Duration // 100 ms to 1 h
}

// Store is how a desk keeps what it holds as a scene of its own, in one of its slots.
type Store struct {
	Scene
	Settle       time.Duration // what the desk needs after a store or recall
	First, Slots int           // the first slot that may be used, and how many there are from it on
}

// Scene is a message about a scene in a slot of the desk: to store or to recall it.
type Scene struct{ form form }

// Message is the message for a slot. A name is sent where the desk takes one, in printable ASCII.
func (s *Scene) Message(slot int, name string) osc.Message {
	return s.form.fill(filling{slot: slot, name: name})
}

// SceneName is what the scene of a cue is called, where it is stored and where it is recalled.
func SceneName(id, name string) string { return strings.TrimSpace(id + " " + name) }

// Match returns the slot and the name of a message, if it is of this kind.
func (s *Scene) Match(m osc.Message) (slot int, name string, ok bool) {
	x, ok := s.form.match(m)
	return x.slot, x.name, ok
}

// Safety is how fast levels may rise. Ceilings are part of the level itself: see Desk.CeilingDB.
type Safety struct {
	RiseDB float64       // a level that rises by more than this at once takes a ramp
	Ramp   time.Duration // how long that ramp takes
}

// Ask asks for the value at an address. Only a desk with a Query can be asked.
func (d *Desk) Ask(address string) osc.Message { return d.Query.Message(address) }

// CeilingDB is the highest level that a channel is ever sent, infinite where there is no end.
func (d *Desk) CeilingDB(channel int) float64 {
	p := d.param(cue.ParamLevel)
	if p == nil {
		return math.Inf(1)
	}
	return p.top(channel)
}

type echoKeys struct {
	table.Where
	Tolerance table.Num `key:"tolerance"`
}

type queryKeys struct {
	table.Where
	Address table.Text `key:"address,required"`
	Args    []argument `key:"args"`
}

type keepaliveKeys struct {
	table.Where
	Address table.Text     `key:"address,required"`
	Args    []argument     `key:"args"`
	Every   table.Quantity `key:"every,required"`
}

type storeKeys struct {
	table.Where
	Address table.Text     `key:"address,required"`
	Args    []argument     `key:"args"`
	Settle  table.Quantity `key:"settle"`
	First   table.Int      `key:"first"`
	Slots   table.Int      `key:"slots,required"`
}

type recallKeys struct {
	table.Where
	Address table.Text `key:"address,required"`
	Args    []argument `key:"args"`
}

type safetyKeys struct {
	table.Where
	Rise    table.Quantity `key:"rise"`
	Ramp    table.Quantity `key:"ramp"`
	Ceiling table.Quantity `key:"ceiling"`
	Channel []ceilingKeys  `key:"channel"`
}

type ceilingKeys struct {
	table.Where
	Channel table.Int      `key:"channel,required"`
	Ceiling table.Quantity `key:"ceiling,required"`
}

// span is a duration of desk.toml, a bare number being seconds.
func (r reader) span(q table.Quantity, def, lo, hi time.Duration, what string) time.Duration {
	return time.Duration(math.Round(q.Within(unit.Duration, def.Seconds(), lo.Seconds(), hi.Seconds(), what, r.p) * float64(time.Second)))
}

// also reads the further desks, each of which must be another one.
func (r reader) also(list []table.Text, to table.Text) []table.Text {
	var out []table.Text
	for _, t := range list {
		if !t.Set {
			continue
		}
		if host(t.V) == host(to.V) || slices.ContainsFunc(out, func(x table.Text) bool { return host(x.V) == host(t.V) }) {
			r.p.Error("desk-twice", t.Span, fmt.Sprintf("%s is fed twice", t.V), "take it out, or write the address of the other desk")
			continue
		}
		out = append(out, t)
	}
	return out
}

// host is a destination without what it may be written with or without.
func host(to string) string {
	return strings.TrimPrefix(strings.ToLower(to), "udp://")
}

// dialogue reads all that is no parameter. The parameters must have been read.
func (r reader) dialogue(d *Desk, k *File) {
	d.Also = r.also(k.Also, d.To)
	if k.Echo != nil {
		d.Echo = r.echo(d, k.Echo)
	}
	if k.Query != nil {
		d.Query = r.query(d, k.Query)
	}
	for _, x := range k.Keepalive {
		every := r.span(x.Every, time.Second, 100*time.Millisecond, time.Hour, "an interval")
		f, ok := r.form(x.Address, x.Args)
		if m := f.fill(filling{}); ok && r.free(d, m, x.Address) {
			d.Keepalives = append(d.Keepalives, Keepalive{m, every})
		}
	}
	r.scenes(d, k)
	r.safety(d, k)
}

// loosest is the greatest tolerance: well under half the way between a switch's 0 and 1.
const loosest = 0.1

func (r reader) echo(d *Desk, k *echoKeys) *Echo {
	e := &Echo{Tolerance: k.Tolerance.Or(0.002)}
	if e.Tolerance < 0 || e.Tolerance > loosest {
		r.p.Error("desk-range", k.Tolerance.Span, fmt.Sprintf("a tolerance of %v is none", e.Tolerance), fmt.Sprintf("it is a number from 0 to %v", loosest))
		e.Tolerance = 0.002
	}
	for _, m := range d.Params {
		if m.on != none && m.on != m.off && sameArgument(m.on, m.off, e.Tolerance) {
			what := "muted is the same as open"
			if m.own != nil {
				what = m.Name + " is on as it is off"
			}
			r.p.Error("desk-echo", k.Span, fmt.Sprintf("to a tolerance of %v, %s", e.Tolerance, what), "write a smaller tolerance: tolerance = 0")
		}
	}
	return e
}

func (r reader) query(d *Desk, k *queryKeys) *Query {
	f, ok := r.form(k.Address, k.Args, "address")
	switch {
	case !ok:
		return nil
	case !f.has("address"):
		r.p.Error("desk-query", k.Address.Span, "nothing says which value is asked for", `write address = "{address}", or args = ["{address}"]`)
		return nil
	}
	if !f.address.has("address") {
		if !r.free(d, f.fill(filling{}), k.Address) {
			return nil
		}
	} else if of := f.address.of(filling{address: "/x"}); of == "/x" {
		for i, a := range f.args {
			if _, isNumber := a.value.Number(); isNumber { // or a boolean
				r.p.Error("desk-query", k.Args[i].Span, "this would set the value instead of asking for it", "ask with the address alone, args = [], or at an address of its own")
				return nil
			}
		}
	}
	return &Query{f}
}

func (r reader) scenes(d *Desk, k *File) {
	if k.Store != nil {
		s := &Store{
			Settle: r.span(k.Store.Settle, 300*time.Millisecond, 0, time.Minute, "a time to settle"),
			First:  r.whole("first", k.Store.First, 1, 0, 100_000),
			Slots:  r.whole("slots", k.Store.Slots, 1, 1, 10_000),
		}
		f, ok := r.form(k.Store.Address, k.Store.Args, "slot", "name")
		if s.form = f; ok && r.scene(d, s.form, s, k.Store.Address) {
			d.Store = s
		}
	}
	if k.Recall == nil {
		return
	}
	f, ok := r.form(k.Recall.Address, k.Recall.Args, "slot", "name")
	switch {
	case k.Store == nil:
		r.p.Error("desk-scene", k.Recall.Span, "this desk can recall scenes and not store them", "add [store] with its address and slots: it says which slots there are")
	case !ok || d.Store == nil || !r.scene(d, f, d.Store, k.Recall.Address):
	default:
		if _, same := d.Store.form.match(f.fill(filling{slot: d.Store.First, name: "x"})); same {
			r.p.Error("desk-same-address", k.Recall.Address.Span, "a scene is recalled by the message that stores one", "give each an address or an argument of its own",
				source.Note{Span: k.Store.Address.Span, Text: "stored here"})
			return
		}
		d.Recall = &Scene{f}
	}
}

// scene checks that a message tells the slot, and takes no parameter's address in any slot.
func (r reader) scene(d *Desk, f form, s *Store, at table.Text) bool {
	if !f.has("slot") {
		r.p.Error("desk-scene", at.Span, "every slot is the same to this message", `put {slot} into the address, or write args = ["{slot}"]`)
		return false
	}
	slots := s.Slots
	if !f.address.has("slot") {
		slots = 1
	}
	for i := range slots {
		if !r.free(d, f.fill(filling{slot: s.First + i}), at) {
			return false
		}
	}
	return true
}

// free checks that a message goes to no address of a parameter.
func (r reader) free(d *Desk, m osc.Message, at table.Text) bool {
	if place, taken := d.Find(m.Address); taken {
		r.p.Error("desk-same-address", at.Span, fmt.Sprintf("%s is the address of [%s] as well", m.Address, d.param(place.Param).table()), "give it an address of its own")
		return false
	}
	return true
}

func (r reader) safety(d *Desk, k *File) {
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
			r.p.Error("desk-range", c.Channel.Span, fmt.Sprintf("this desk has no channel %d", n), fmt.Sprintf("its channels are 1 to %d; see the key \"channels\"", d.Channels))
		case first[n].File != nil:
			r.p.Error("desk-twice", c.Channel.Span, fmt.Sprintf("channel %d has a ceiling already", n), "keep one of the two", source.Note{Span: first[n], Text: "first given here"})
		default:
			first[n] = c.Channel.Span
			if level.ceilings == nil {
				level.ceilings = map[int]float64{}
			}
			level.ceilings[n] = r.ceiling(c.Ceiling, level)
		}
	}
}

// ceiling reads a ceiling in dB, which lies between the least level and what was the greatest so far.
func (r reader) ceiling(q table.Quantity, level *Param) float64 {
	before := r.p.Errors()
	v := q.In(unit.Level, level.hi, r.p)
	if q.Set && r.p.Errors() == before && (v <= level.lo || v > level.hi || math.Abs(v) > largest) {
		r.p.Error("desk-range", q.Span, fmt.Sprintf("a ceiling of %v dB is none", v), fmt.Sprintf("the level goes from %v to %v here", max(level.lo, -largest), min(level.hi, largest)))
		return level.hi
	}
	return v
}
