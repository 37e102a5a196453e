package rig

import (
	"math"
	"slices"

	"backfield/layout"
	"backfield/layout/sound"
	"backfield/layout/source"
	"backfield/layout/table"
)

// Bounds of what a rig most likely is.
const (
	slowMS       = 50.0 // a mixer, its radio and its network take a few ms (common practice)
	ontoFieldM   = 0.5  // a stack's own depth
	narrowestDeg = 10.0 // between the outermost stacks, seen from the reference seat
)

// checkPlaces warns about what can be built but is most likely a mistake: places on the wrong side of the front
// sideline, an unusual latency, stacks that are too close together to pan between. After an error a place that could not
// be read is 0: then sure is false, and nothing is said about a 0.
func (r *Rig) checkPlaces(f *RigFile, sure bool, p *source.Problems) {
	onField := func(yM float64) bool { return yM > 0 || yM == 0 && sure }
	misplaced := false
	if r.LatencyS*1000 > slowMS {
		p.Add(longLatency(r.LatencyAt, r.LatencyS))
	}
	if f.Reference != nil && f.Reference.Y.Set && onField(r.Reference.Y) {
		p.Add(referenceOnField(f.Reference.Y.Span, r.Reference.Y))
		misplaced, r.Misplaced = true, true
	}
	for i, b := range r.Blocks {
		if y := max(b.Front.Y, b.Back.Y); onField(y) && b.Rows > 0 {
			p.Add(standsOnField(f.Stands[i].Span, y))
		}
	}
	for _, k := range r.Stacks {
		if k.At.Y > ontoFieldM {
			misplaced = true
			p.Add(stackOnField(k))
		}
	}
	spoken := r.MainStacks()
	if r.Zones || f.Reference == nil || len(spoken) < 2 || misplaced || !sure {
		return
	}
	t := r.System(sound.ConstantPower).TangentPan(layout.Point{}, r.Reference)
	if span := 2 * t.Half * 180 / math.Pi; t.Note != "" || span < narrowestDeg {
		p.Add(narrowStacks(spoken[t.LeftStack].Span, span))
	}
}

// checkNames checks that no two stacks, no two fixed mics, and no two places where people are, have one name.
func (r *Rig) checkNames(p *source.Problems) {
	seen := map[string]source.Span{}
	check := func(kind, name string, at source.Span) {
		if name == "" {
			return
		}
		if first, twice := seen[kind+name]; twice {
			p.Add(nameTwice(at, kind, name, first))
			return
		}
		seen[kind+name] = at
		p.CheckName(at, name)
	}
	for _, k := range r.Stacks {
		check("stack", k.Name, k.Span)
	}
	for _, m := range r.Mics {
		check("mic", m.Name, m.Span)
	}
	for _, x := range r.People {
		check("place of people", x.Name, x.Span)
	}
}

// omit removes what a venue says it does not set up.
func (r *Rig) omit(names []table.Text, p *source.Problems) {
	for _, n := range names {
		if !n.Set {
			continue
		}
		before := len(r.Stacks) + len(r.Mics)
		known := r.names()
		r.Stacks = slices.DeleteFunc(r.Stacks, func(k Stack) bool { return k.Name == n.V })
		r.Mics = slices.DeleteFunc(r.Mics, func(m Mic) bool { return m.Name == n.V })
		if len(r.Stacks)+len(r.Mics) == before {
			p.Add(unknownName(n.Span, n.V, known))
		}
	}
}

// names lists what a venue may leave out.
func (r *Rig) names() []string {
	var names []string
	for _, k := range r.Stacks {
		names = append(names, k.Name)
	}
	for _, m := range r.Mics {
		names = append(names, m.Name)
	}
	return names
}
