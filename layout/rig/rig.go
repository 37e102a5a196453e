// Package rig knows what is set up: the field, the air, the stands and their reference seat, the loudspeaker
// stacks, the fixed mics. A venue is the same kind of file laid over the rig's. It knows no cue and no player.
package rig

import (
	"slices"

	"backfield/layout"
	"backfield/layout/field"
	"backfield/layout/source"
	"backfield/layout/stands"
	"backfield/layout/table"
)

// Rig is the setup at one place.
type Rig struct {
	Name      string
	Field     field.Field
	AirC      float64
	AirGiven  bool
	LatencyS  float64 // worn mic to loudspeaker
	LatencyAt source.Span
	WiredS    float64 // the same of a fixed mic on a cable
	LineS     float64 // and of a line
	Reference layout.Point

	HumidityPct float64       // of the air
	BellUpDeg   float64       // how far above the horizontal bells point
	Levels      LevelReadings // what was read on site, at this place only

	ReferenceWeight float64 // of the reference seat within the stands; 0: it is not one of their seats

	Zones     bool // each stack hangs on a mix bus of its own
	Blocks    []stands.Block
	Surveyed  []stands.Seat // of the file that SeatsFile names; the caller reads it
	SeatsFile table.Text
	Stacks    []Stack
	Mics      []Mic
	People    []People
	Partial   bool // the rig or its venue could not be read
	Misplaced bool // the reference seat is on the field: no delay that is computed for it is worth a word

	files []*source.File
}

// MayHold reports whether a fixed mic that the rig does not have may be in the part that could not be read.
func (r *Rig) MayHold(name string) bool {
	return r.Partial && slices.ContainsFunc(r.files, func(f *source.File) bool { return f.MayHold(name) })
}
