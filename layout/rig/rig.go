// Package rig knows what is set up: the field, the air, the stand and its reference seat, the loudspeaker
// stacks, the fixed mics. A venue is the same kind of file laid over the rig's. It knows no cue and no player.
package rig

import (
	"slices"

	"backfield/layout"
	"backfield/layout/field"
	"backfield/layout/sound"
	"backfield/layout/source"
	"backfield/layout/stand"
	"backfield/layout/table"
)

// Rig is one place's set-up.
type Rig struct {
	Name      string
	Field     field.Field
	AirC      float64
	AirGiven  bool
	LatencyS  float64 // mic to loudspeaker
	Reference layout.Point

	ReferenceWeight float64 // of the reference seat within the stand; 0: it is no seat of it

	Zones     bool // each stack hangs on a mix bus of its own
	Blocks    []stand.Block
	Surveyed  []stand.Seat // of the file that SeatsFile names; the caller reads it
	SeatsFile table.Text
	Stacks    []Stack
	Mics      []Mic
	Partial   bool // the rig or its venue could not be read

	files []*source.File
}

// MayHold reports whether a fixed mic that the rig does not have may stand in what could not be read of it.
func (r *Rig) MayHold(name string) bool {
	return r.Partial && slices.ContainsFunc(r.files, func(f *source.File) bool { return f.MayHold(name) })
}

// Stack is a loudspeaker position. A Sub is drawn and listed but counts neither for arrival nor for the
// image: what it carries lies below where brass is localised.
type Stack struct {
	Name        string
	Span        source.Span
	At          layout.Point
	Left, Right float64
	TrimDB      float64
	DelayS      float64
	Sub         bool
	Zone        int // the bus that feeds it, from 1; 0 for none
	ZoneAt      source.Span
}

// Mic is a fixed mic.
type Mic struct {
	Name    string
	Span    source.Span
	Kind    string // "field" or "pit"
	Channel int
	At      layout.Point
	Words   string // the place as written
	TrimDB  float64
	Pan     *float64 // set by hand, -1 to 1
	DelayMS *float64 // set by hand
}

// Seats lists the whole stand, every seat that has a weight: the blocks', the surveyed ones, and the reference seat
// if it counts.
func (r *Rig) Seats() []stand.Seat {
	var seats []stand.Seat
	for _, b := range r.Blocks {
		seats = append(seats, b.List()...)
	}
	seats = append(seats, r.Surveyed...)
	if len(seats) > 0 && r.ReferenceWeight > 0 {
		seats = append(seats, stand.Seat{At: r.Reference, Weight: r.ReferenceWeight})
	}
	return slices.DeleteFunc(seats, func(s stand.Seat) bool { return s.Weight <= 0 })
}

// Spoken lists the stacks that count for arrival and image, in order: those that are no subs.
func (r *Rig) Spoken() []Stack {
	return slices.DeleteFunc(slices.Clone(r.Stacks), func(k Stack) bool { return k.Sub })
}

// System returns what carries a mic's sound to the stand: the stacks that are no subs, in the rig's order.
func (r *Rig) System(law sound.Law) *sound.System {
	s := &sound.System{LatencyS: r.LatencyS, SpeedMPS: sound.SpeedMPS(r.AirC), Law: law}
	for _, k := range r.Spoken() {
		s.Stacks = append(s.Stacks, sound.Stack{Name: k.Name, At: k.At, Left: k.Left, Right: k.Right, Trim: sound.Gain(k.TrimDB), DelayS: k.DelayS})
	}
	return s
}
