package level

import (
	"math"
	"slices"
)

// Instrument is what a section plays: its sound power at forte in dB re 1 pW, the radius of its bell in meters (0: none),
// and its octave shape in dB, of which only the differences count.
type Instrument struct {
	Name    string
	PowerDB float64
	BellM   float64
	ShapeDB Bands

	Measured *Directions // instead of those of the bell; nil: the bell's
}

// Brass reports whether the instrument has a bell that points somewhere.
func (i *Instrument) Brass() bool { return i.BellM > 0 }

// The powers of brass at forte are J. Meyer's, "Acoustics and the Performance of Music", 5th ed. 2009, from memory:
// trumpet, horn for the mellophone, tenor trombone for the baritone, tuba. Their shapes follow Meyer's formants, from
// memory, the trumpet's is assumed. Bell radii are from memory of catalogs. All percussion is assumed; so is a player of
// the pit.
var instruments = []Instrument{
	{Name: "trumpet", PowerDB: 101, BellM: 0.061, ShapeDB: Bands{-40, -9, -6, -5, -8, -16, -28}},
	{Name: "mellophone", PowerDB: 102, BellM: 0.130, ShapeDB: Bands{-20, -6, -4, -7, -12, -22, -35}},
	{Name: "baritone", PowerDB: 101, BellM: 0.127, ShapeDB: Bands{-9, -5, -4, -9, -15, -25, -38}},
	{Name: "tuba", PowerDB: 104, BellM: 0.254, ShapeDB: Bands{-3, -4, -9, -17, -25, -35, -48}},
	{Name: "snare", PowerDB: 108, ShapeDB: Bands{-15, -8, -8, -7, -6, -7, -9}},
	{Name: "tenor", PowerDB: 108, ShapeDB: Bands{-8, -4, -6, -9, -12, -16, -20}},
	{Name: "bass", PowerDB: 110, ShapeDB: Bands{-2, -6, -12, -17, -22, -28, -34}},
	{Name: "cymbal", PowerDB: 105, ShapeDB: Bands{-25, -18, -12, -9, -7, -5, -5}},
	{Name: "pit", PowerDB: 95, ShapeDB: Bands{-15, -6, -4, -6, -12, -20, -28}},
}

// Instruments lists the instruments that are known, each a copy.
func Instruments() []Instrument { return slices.Clone(instruments) }

// InstrumentByName returns one of them; ok is false where there is none of that name.
func InstrumentByName(name string) (found *Instrument, ok bool) {
	for i := range instruments {
		if instruments[i].Name == name {
			copied := instruments[i]
			return &copied, true
		}
	}
	return nil, false
}

// dynamics in dB from forte: assumed, between Meyer's scale (3 to 4 dB a step) and single notes (6 to 7 dB).
var dynamics = []struct {
	name string
	db   float64
}{{"pp", -16}, {"p", -12}, {"mp", -8}, {"mf", -4}, {"f", 0}, {"ff", 6}}

// DynamicsNames are the marks that DynamicsDB takes, the softest first.
func DynamicsNames() []string {
	var names []string
	for _, d := range dynamics {
		names = append(names, d.name)
	}
	return names
}

// DynamicsDB is how far a dynamic mark is from forte, in dB.
func DynamicsDB(mark string) (db float64, ok bool) {
	for _, d := range dynamics {
		if d.name == mark {
			return d.db, true
		}
	}
	return 0, false
}

// tilt is how much brighter brass gets an octave above 500 Hz for each dB it gets louder, in dB: after Meyer's dynamic
// tone color factor, assumed.
const tilt = 0.15

// powerDB is the sound power by band at dynamics d, in dB from forte. The shape is normalized, so that the sum over the
// bands is PowerDB + d whatever the shape.
func (i *Instrument) powerDB(d float64) Bands {
	shape := i.ShapeDB
	if i.Brass() {
		for b, f := range MidbandsHz {
			shape[b] += tilt * d * max(0, math.Log2(f/500))
		}
	}
	return shape.Plus(i.PowerDB + d - shape.SumDB())
}

// closeDB is the level by band at a mic that is m meters from the bell, at a power, where index is the instrument's
// directivity index: Lw + DI - 20 lg sqrt(m^2 + a^2) - 10 lg(4 pi). The bell's radius a keeps it finite at the bell; a
// tuba's mic is taken too bright.
func (i *Instrument) closeDB(power, index Bands, m float64) Bands {
	away := 10*math.Log10(m*m+i.BellM*i.BellM) + solidDB
	for b := range power {
		power[b] += index[b] - away
	}
	return power
}
