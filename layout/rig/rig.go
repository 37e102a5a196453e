// Package rig knows what is set up: the field, the air, the stand and its reference seat, the loudspeaker
// stacks, the fixed mics. A venue is the same kind of file laid over the rig's. It knows no cue and no player.
package rig

import (
	"slices"

	"backfield/layout"
	"backfield/layout/field"
	"backfield/layout/sound"
	"backfield/layout/source"
)

// Rig is one place's set-up.
type Rig struct {
	Name      string
	Field     field.Field
	AirC      float64
	LatencyS  float64 // mic to loudspeaker
	Reference layout.Point
	Stands    []Stand
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

// Stand is a block of rows of seats, from its first row to its last, each centred on Xm.
type Stand struct {
	Name        string
	Front, Back Row
	Rows, Seats int
	Weight      float64
}

// Row is one end of a stand's slope.
type Row struct{ X, Y, Z, WidthM float64 }

// System returns what carries a mic's sound to the stand: the stacks that are no subs, in the rig's order.
func (r *Rig) System(law sound.Law) *sound.System {
	s := &sound.System{LatencyS: r.LatencyS, SpeedMPS: sound.SpeedMPS(r.AirC), Law: law}
	for _, k := range r.Stacks {
		if !k.Sub {
			s.Stacks = append(s.Stacks, sound.Stack{Name: k.Name, At: k.At, Left: k.Left, Right: k.Right, Trim: sound.Gain(k.TrimDB), DelayS: k.DelayS})
		}
	}
	return s
}
