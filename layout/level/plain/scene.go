package plain

import (
	"math"

	"backfield/layout"
)

// PlainScene is one moment of a show.
type PlainScene struct {
	AirC     float64 // degrees C
	Humidity float64 // percent
	BellUp   float64 // degrees that bells point up
	Box      layout.Point
	Nominal  float64 // N: dB at 1 m for a nominal input
	Band     float64 // correction of everyone who plays, dB
	// Background is typed in dBA; -Inf: none.
	Background float64
	Horns      map[string]Horn
	Players    []Musician
	Speakers   []Speaker
	Fixed      []FixedEar
	Seats      []WeightedSeat // empty: the box is the only one
	People     []layout.Point // places near the stacks, at the height of the ear
}

// Horn is an instrument.
type Horn struct {
	Power   float64 // dB re 1 pW at forte
	RadiusM float64 // of the bell; 0: no bell, and not brass
	Shape   Octaves // as printed
}

// ToBox is the facing of a bell or mic that points to the press box.
var ToBox = math.NaN()

// Musician is a player. One who does not play may still wear an open mic.
type Musician struct {
	Name, Section, Instrument string
	At                        layout.Point
	NoDot                     bool
	FacingDeg                 float64 // from the front, + to side 2; ToBox
	Dynamics                  float64 // dB from forte
	Own                       float64 // correction of this player, dB
	Plays, Featured           bool
	Mic                       *WornEar // open; nil: none
}

// WornEar is an open worn mic.
type WornEar struct {
	FromBellM float64
	PlainChannel
}

// PlainChannel is what an open mic has at the mixer.
type PlainChannel struct {
	Meter   float64   // what forte reads over nominal, dB
	Fader   float64   // dB
	Ceiling float64   // the highest fader, dB
	LowCut  float64   // Hz; 0: none
	Sends   []float64 // to each stack, dB; -Inf: off
}

// FixedEar is an open fixed mic.
type FixedEar struct {
	Name, Kind string
	At         layout.Point
	K          float64 // 1 omni, 0.5 cardioid, 0.37 supercardioid
	FacingDeg  float64 // as that of a bell
	Highest    float64 // the highest level at the mic over the show, dB without weights; NaN: it hears no one
	Ring       float64 // correction of its loop, dB
	PlainChannel
}

// Speaker is a stack.
type Speaker struct {
	At, Aim           layout.Point
	WideDeg, HighDeg  float64
	MouthM            float64
	FrontBack         Octaves
	Trim              float64 // dB
	BusLeft, BusRight float64 // amplitudes that it takes of the two buses
}

// WeightedSeat is a seat of the stands.
type WeightedSeat struct {
	At     layout.Point
	Weight float64
}

// Usual is a stack with the defaults at a place.
func Usual(at, aim layout.Point) Speaker {
	return Speaker{At: at, Aim: aim, WideDeg: 90, HighDeg: 40, MouthM: 0.5,
		FrontBack: Octaves{3, 6, 9, 14, 18, 20, 20}}
}

// Sections is the table of instruments. The powers of brass are from memory; everything else is assumed.
func Sections() map[string]Horn {
	return map[string]Horn{
		"trumpet":    {101, 0.061, Octaves{-40, -9, -6, -5, -8, -16, -28}},
		"mellophone": {102, 0.130, Octaves{-20, -6, -4, -7, -12, -22, -35}},
		"baritone":   {101, 0.127, Octaves{-9, -5, -4, -9, -15, -25, -38}},
		"tuba":       {104, 0.254, Octaves{-3, -4, -9, -17, -25, -35, -48}},
		"snare":      {108, 0, Octaves{-15, -8, -8, -7, -6, -7, -9}},
		"tenor":      {108, 0, Octaves{-8, -4, -6, -9, -12, -16, -20}},
		"bass":       {110, 0, Octaves{-2, -6, -12, -17, -22, -28, -34}},
		"cymbal":     {105, 0, Octaves{-25, -18, -12, -9, -7, -5, -5}},
		"pit":        {95, 0, Octaves{-15, -6, -4, -6, -12, -20, -28}},
	}
}

// Dynamics are the marks in dB from forte (assumed).
func Dynamics() map[string]float64 {
	return map[string]float64{"pp": -16, "p": -12, "mp": -8, "mf": -4, "f": 0, "ff": 6}
}

type vector struct{ x, y, z float64 }

func towards(from, to layout.Point) vector {
	return vector{to.X - from.X, to.Y - from.Y, to.Z - from.Z}
}

func (v vector) length() float64 { return math.Sqrt(v.x*v.x + v.y*v.y + v.z*v.z) }

// angleDeg is the angle between two vectors. One of no length is on the axis.
func angleDeg(a, b vector) float64 {
	n := a.length() * b.length()
	if n == 0 {
		return 0
	}
	cross := vector{a.y*b.z - a.z*b.y, a.z*b.x - a.x*b.z, a.x*b.y - a.y*b.x}
	return math.Atan2(cross.length(), a.x*b.x+a.y*b.y+a.z*b.z) * 180 / math.Pi
}

// axis is where a bell or mic at a place points, raised by some degrees.
func (s *PlainScene) axis(at layout.Point, facingDeg, upDeg float64) vector {
	phi := facingDeg * math.Pi / 180
	if math.IsNaN(facingDeg) {
		phi = math.Atan2(s.Box.X-at.X, at.Y-s.Box.Y) // 0 straight below the box
	}
	e := upDeg * math.Pi / 180
	return vector{math.Cos(e) * math.Sin(phi), -math.Cos(e) * math.Cos(phi), math.Sin(e)}
}

// apart is the distance that spreading is computed with, never under 0.5 m.
func apart(a, b layout.Point) float64 { return max(towards(a, b).length(), 0.5) }
