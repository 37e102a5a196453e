package rig

import (
	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// LevelReadings are what was read of levels on site, in dBA at the reference. What was not read is nil or empty.
// Unused says which readings are out of range, and were left out.
type LevelReadings struct {
	BackgroundDBA *float64
	BackgroundAt  source.Span
	Noise         *NoiseReading
	Brass         *BrassReading
	Solo          []SoloReading
	Ring          []RingReading
	Unused        []source.Problem
}

// NoiseReading is of pink noise at nominal through one stack alone.
type NoiseReading struct {
	Stack table.Text
	DBA   float64
	At    source.Span   // of the reading
	Place *layout.Point // where the meter was; nil: at the reference
}

// BrassReading is of a section that plays alone at the dots of a set, all loudspeakers off.
type BrassReading struct {
	Section, Set, Dynamics table.Text
	DBA                    float64
	At                     source.Span
}

// SoloReading is of a player alone, forte, at the dot of a set, all loudspeakers off.
type SoloReading struct {
	Player, Set table.Text
	DBA         float64
	At          source.Span
}

// RingReading is the level of a fixed mic's channel, in dB, at which the mic just rang.
type RingReading struct {
	Mic     table.Text
	FaderDB float64
	At      source.Span
}

// LevelsTable is [levels] of a rig, a venue or a night.
type LevelsTable struct {
	Background table.Quantity `key:"background"`
	Noise      *noiseTable    `key:"noise"`
	Brass      *brassTable    `key:"brass"`
	Solo       []soloTable    `key:"solo"`
	Ring       []ringTable    `key:"ring"`
}

type noiseTable struct {
	table.Where
	Stack table.Text     `key:"stack,required"`
	DBA   table.Quantity `key:"dba,required"`
	At    boxOrPlace     `key:"at"`
}

// boxOrPlace is where a meter was: "box", or a place.
type boxOrPlace struct{ place }

// DecodeNode reads either.
func (w *boxOrPlace) DecodeNode(n *table.Node, p *source.Problems) {
	if n.Kind != table.String || n.Text != "box" {
		w.place.DecodeNode(n, p)
	}
}

type brassTable struct {
	table.Where
	Section  table.Text     `key:"section,required"`
	Set      table.Text     `key:"set,required"`
	Dynamics table.Text     `key:"dynamics"`
	DBA      table.Quantity `key:"dba,required"`
}

type soloTable struct {
	table.Where
	Player table.Text     `key:"player,required"`
	Set    table.Text     `key:"set,required"`
	DBA    table.Quantity `key:"dba,required"`
}

type ringTable struct {
	table.Where
	Mic   table.Text     `key:"mic,required"`
	Fader table.Quantity `key:"fader,required"`
}

// Bounds of a reading in dBA.
const (
	quietDBA = 10
	loudDBA  = 140
)

// readLevels takes the readings out of their keys. What a meter or a fader cannot read is left out, and no error: nothing
// that is sent depends on it.
func (r *Rig) readLevels(t *LevelsTable, p *source.Problems) {
	within := func(q table.Quantity, lo, hi float64, what string) (v float64, ok bool) {
		var found source.Problems
		v = q.Within(unit.Level, 0, lo, hi, what, &found)
		for _, x := range found.All() {
			r.Levels.Unused = append(r.Levels.Unused,
				source.WarningAt("level-unused", x.Span, x.What+": this reading is not used", x.Do))
		}
		return v, q.Set && len(found.All()) == 0
	}
	dba := func(q table.Quantity) (v float64, ok bool) { return within(q, quietDBA, loudDBA, "a reading") }
	if v, ok := dba(t.Background); ok {
		r.Levels.BackgroundDBA, r.Levels.BackgroundAt = &v, t.Background.Span
	}
	if n := t.Noise; n != nil {
		v, ok := dba(n.DBA)
		x := NoiseReading{n.Stack, v, n.DBA.Span, nil}
		if n.At.xyz != nil || n.At.dot.Set {
			at, _ := r.at(n.At.place, table.Quantity{}, level.EarHeightM, p)
			x.Place = &at
		}
		if ok {
			r.Levels.Noise = &x
		}
	}
	if b := t.Brass; b != nil {
		if v, ok := dba(b.DBA); ok {
			r.Levels.Brass = &BrassReading{b.Section, b.Set, b.Dynamics, v, b.DBA.Span}
		}
	}
	for _, x := range t.Solo {
		if v, ok := dba(x.DBA); ok {
			r.Levels.Solo = append(r.Levels.Solo, SoloReading{x.Player, x.Set, v, x.DBA.Span})
		}
	}
	for _, x := range t.Ring {
		if v, ok := within(x.Fader, -loudestDB, loudestDB, "the level at which it rang"); ok {
			r.Levels.Ring = append(r.Levels.Ring, RingReading{x.Mic, v, x.Fader.Span})
		}
	}
}

// Defaults and bounds of the air and the bells (assumed).
const (
	defaultHumidityPct = 50.0
	defaultBellUpDeg   = 10.0
)

// within is a number from lo to hi, or def.
func within(n table.Num, def, lo, hi float64, what, unitName string, p *source.Problems) float64 {
	if n.Set && !(n.V >= lo && n.V <= hi) {
		p.Add(outOfRange(n.Span, what, n.V, lo, hi, unitName))
		return def
	}
	return n.Or(def)
}
