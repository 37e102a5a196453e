package level

import (
	"math"

	"backfield/layout"
)

// Facing is the direction in plan in which a bell or a mic points. The zero value is toward the press box.
type Facing struct {
	Given bool
	Deg   float64 // from the front, positive toward side 2
}

// Back is a Facing away from the stands.
var Back = FacingDeg(180)

// FacingDeg points deg degrees from the front, positive toward side 2.
func FacingDeg(deg float64) Facing { return Facing{Given: true, Deg: deg} }

// axis is the unit vector at p of a facing, up degrees above the horizontal.
func (f Facing) axis(p, box layout.Point, up float64) layout.Point {
	sin, cos := 0.0, 1.0
	if f.Given {
		sin, cos = math.Sincos(f.Deg / degPerRad)
	} else if r := math.Hypot(box.X-p.X, box.Y-p.Y); r > 0 {
		sin, cos = (box.X-p.X)/r, (p.Y-box.Y)/r
	}
	rise, along := math.Sincos(up / degPerRad)
	return layout.Point{X: along * sin, Y: -along * cos, Z: rise}
}

// BellAxis is the unit vector along which a performer's bell points.
func (s *Stadium) BellAxis(p *Performer) layout.Point { return p.Facing.axis(p.At, s.Box, s.BellUpDeg) }

// cosine is that of the angle at a point between its axis and the direction of a place, which is r meters away: 1 at the
// point itself.
func cosine(from, axis, to layout.Point, r float64) float64 {
	if r > 0 {
		return ((to.X-from.X)*axis.X + (to.Y-from.Y)*axis.Y + (to.Z-from.Z)*axis.Z) / r
	}
	return 1
}

// Performer is somebody who plays. The bell and a worn mic are at the same point.
type Performer struct {
	Name       string
	Section    string // only names a part of the bed
	Instrument *Instrument
	At         layout.Point
	Facing     Facing
	DynamicsDB float64 // from forte
	PlayerDB   float64 // how much louder than the table, from a reading of this player alone
	Featured   bool
	Rests      bool // is silent, and only wears a mic that is open
}

// Strip is what a channel of the mixer does to its mic, while it is open.
type Strip struct {
	Name     string
	MeterDB  float64   // what forte reads over nominal
	FaderDB  float64   // level
	LowCutHz float64   // 0: none
	SendDB   []float64 // to each stack of the stadium; below -80 dB, or missing: off
}

// WornMic is an open mic on a performer. It is featured where its wearer is.
type WornMic struct {
	Strip
	Wearer    int     // index into Performers
	FromBellM float64 // distance from the bell
}

// FixedMic is an open mic on a stand.
type FixedMic struct {
	Strip
	Kind      string // only names a part of the bed
	At        layout.Point
	OmniShare float64 // of its pattern: OmniMic, CardioidMic, SupercardioidMic
	Facing    Facing
	RingDB    float64 // what a reading of its ring adds to its loop, from Stadium.RingFromFader

	// HighestDB is the highest level at the mic in the show, by Stadium.MicDB: its preamp is set for that. -Inf: the mic
	// never hears anyone, and does not count.
	HighestDB float64
}

// MostLowCutHz is the highest low cut that makes sense.
const MostLowCutHz = 1000

// The patterns of mics as the share k of |k + (1-k) cos u| (read in a microphone maker's dictionary).
const (
	OmniMic          = 1.0
	CardioidMic      = 0.5
	SupercardioidMic = 0.37
)

// leastPattern is the amplitude below which no mic's pattern goes.
const leastPattern = 0.1

// pickup is the mic's pattern as a function: the energy that it lets in from a place, against its axis.
func (m *FixedMic) pickup(box layout.Point) func(from layout.Point) float64 {
	a := m.Facing.axis(m.At, box, 0)
	return func(p layout.Point) float64 {
		cos := cosine(m.At, a, p, m.At.Distance(p))
		amplitude := max(math.Abs(m.OmniShare+(1-m.OmniShare)*cos), leastPattern)
		return amplitude * amplitude
	}
}

// Playing is who plays where and which mics are open at one moment. Performers whose place is not known are left out,
// with the mics that they wear.
type Playing struct {
	Performers []Performer
	Worn       []WornMic
	Fixed      []FixedMic
}

// featuredMic reports whether mic i, of the worn and then the fixed ones, is on a featured player.
func (p *Playing) featuredMic(i int) bool {
	return i < len(p.Worn) && p.Performers[p.Worn[i].Wearer].Featured
}

// lowCut is the energy that a low cut of second order leaves: 1/(1 + (cut/f)^4) (Butterworth).
func (s *Strip) lowCut() (e Energies) {
	for b, f := range MidbandsHz {
		q := s.LowCutHz / f
		e[b] = 1 / (1 + q*q*q*q)
	}
	return e
}

// send is the energy that the channel sends to a stack, against its own.
func (s *Strip) send(stack int) float64 {
	if stack >= len(s.SendDB) || !(s.SendDB[stack] >= offDB) {
		return 0
	}
	return Energy(s.SendDB[stack])
}
