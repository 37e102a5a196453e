package rig

import (
	"math"
	"slices"

	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/levelkeys"
	"backfield/layout/sound"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// Stack is a loudspeaker stack. A Sub is drawn and listed but counts neither for arrival nor for the
// image: what it carries is below where the ear localizes brass.
type Stack struct {
	sound.Loudspeaker
	Span   source.Span // of its name
	TrimDB float64     // what Trim is as an amplitude
	Sub    bool
	Zone   int // the bus that feeds it, from 1; 0 for none
	ZoneAt source.Span

	AcrossDeg, UpDeg float64 // nominal coverage
	MouthM           float64 // the size of what holds the sound together
	FrontBackDB      level.Bands
	Aim              *layout.Point // where it points; nil where the rig does not say
}

// stackTable is one [[stack]].
type stackTable struct {
	table.Where
	Name   table.Text     `key:"name,required"`
	At     place          `key:"at,required"`
	Height table.Quantity `key:"height"`
	Left   table.Num      `key:"left"`
	Right  table.Num      `key:"right"`
	Trim   table.Quantity `key:"trim"`
	Delay  table.Quantity `key:"delay"`
	Sub    table.Flag     `key:"sub"`
	Zone   table.Int      `key:"zone"`
	Cover  []table.Num    `key:"cover"`
	Mouth  table.Quantity `key:"mouth"`
	Aim    place          `key:"aim"`

	FrontBack levelkeys.ByBand `key:"front_back"`
}

const (
	stackHeightM = 2.0 // where the rig does not say
	mostZones    = 64
)

func (r *Rig) stack(t stackTable, p *source.Problems) Stack {
	k := Stack{Span: t.Name.Span, Sub: t.Sub.V}
	k.Name = t.Name.V
	k.At, _ = r.at(t.At, t.Height, stackHeightM, p)
	k.TrimDB = t.Trim.Within(unit.Level, 0, -loudestDB, loudestDB, "trim", p)
	k.Trim = sound.Gain(k.TrimDB)
	k.DelayS = t.Delay.Within(unit.Delay, 0, 0, longestMS, "delay", p) / 1000
	k.Zone, k.ZoneAt = t.Zone.V, t.Zone.Span
	if t.Zone.Set && (k.Zone < 1 || k.Zone > mostZones) {
		p.Add(badZone(t.Zone.Span, k.Zone))
		k.Zone = 0
	}
	k.readBeam(t, p)
	if t.Aim.xyz != nil || t.Aim.dot.Set {
		aim, _ := r.at(t.Aim, table.Quantity{}, level.EarHeightM, p)
		if k.Aim = &aim; aim == k.At {
			p.Add(aimedAtItself(t.Name.Span, k.Name))
		}
	}
	k.readSides(t, p)
	return k
}

// readSides reads how much of each side a stack carries.
func (k *Stack) readSides(t stackTable, p *source.Problems) {
	before := p.Errors()
	k.Left, k.Right = stackWeight(t.Left, p), stackWeight(t.Right, p)
	if !t.Left.Set && !t.Right.Set {
		k.Left, k.Right = sideOf(k.At.X)
	}
	unread := func(n table.Num) bool { return n.Span.File != nil && !n.Set }
	if k.Left == 0 && k.Right == 0 && t.Name.Set && p.Errors() == before && !unread(t.Left) && !unread(t.Right) {
		p.Add(silentStack(t.Name.Span, k.Name))
	}
}

// readBeam reads where the stack is loud.
func (k *Stack) readBeam(t stackTable, p *source.Problems) {
	def := level.DefaultStack(k.At, k.At)
	k.AcrossDeg, k.UpDeg = def.AcrossDeg, def.UpDeg
	k.FrontBackDB = t.FrontBack.Within(def.FrontBackDB, 0, loudestDB, "front_back", p)
	if len(t.Cover) == 2 {
		k.AcrossDeg = within(t.Cover[0], k.AcrossDeg, 5, 360, "the coverage across", "degrees", p)
		k.UpDeg = within(t.Cover[1], k.UpDeg, 5, 360, "the coverage up and down", "degrees", p)
	} else if t.Cover != nil {
		p.Add(badCover(t.Span))
	}
	k.MouthM = t.Mouth.Within(unit.Length, def.MouthM, 0.05, 10, "the mouth", p)
}

// sideOf is what a stack carries when the rig does not say: the side it is on, or both at the 50.
func sideOf(xM float64) (left, right float64) {
	switch {
	case xM < -0.5:
		return 1, 0
	case xM > 0.5:
		return 0, 1
	}
	return math.Sqrt2 / 2, math.Sqrt2 / 2
}

// stackWeight is how much of a side a stack takes, as an amplitude.
func stackWeight(n table.Num, p *source.Problems) float64 {
	if n.Set && (n.V < 0 || n.V > 1) {
		p.Add(badStackWeight(n.Span, n.V))
		return 0
	}
	return n.V
}

// checkZones checks that each stack of a rig with zones has its own bus.
func (r *Rig) checkZones(p *source.Problems) {
	if !r.Zones {
		return
	}
	for _, m := range r.Mics {
		if m.Pan != nil {
			p.Add(panUnused(m.Span, m.Name))
		}
	}
	first := map[int]Stack{}
	for _, k := range r.Stacks {
		switch other, taken := first[k.Zone]; {
		case k.Sub:
		case k.Zone == 0 && k.ZoneAt.File == nil:
			p.Add(noZone(k.Span, k.Name))
		case k.Zone == 0: // reported
		case taken:
			p.Add(zoneTwice(other, k))
		default:
			first[k.Zone] = k
		}
	}
}

// MainStacks lists the stacks that count for arrival and image, in order: all except subs.
func (r *Rig) MainStacks() []Stack {
	return slices.DeleteFunc(slices.Clone(r.Stacks), func(k Stack) bool { return k.Sub })
}

// System returns what carries a mic's sound to the stands: the stacks other than subs, in the rig's order.
func (r *Rig) System(law sound.Law) *sound.System {
	s := &sound.System{LatencyS: r.LatencyS, SpeedMPS: sound.SpeedMPS(r.AirC), Law: law}
	for _, k := range r.MainStacks() {
		s.Stacks = append(s.Stacks, k.Loudspeaker)
	}
	return s
}

// AsZones is the rig with a bus for each stack: its own where it has zones, else one after the other.
func (r *Rig) AsZones() *Rig {
	if r.Zones {
		return r
	}
	c := *r
	c.Zones, c.Stacks = true, r.MainStacks()
	for i := range c.Stacks {
		c.Stacks[i].Zone = i + 1
	}
	return &c
}

// AsStereo is the rig with all stacks on a left and a right bus.
func (r *Rig) AsStereo() *Rig {
	c := *r
	c.Zones = false
	return &c
}
