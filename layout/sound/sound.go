// Package sound says how sound gets from the field and the stacks to a seat: speed, travel time, pan laws,
// which stack is heard first. It knows no cue, no file and no mixer.
package sound

import (
	"fmt"
	"math"

	"backfield/layout"
)

// SpeedMPS returns the speed of sound in m/s at tC degrees Celsius: 343.2 sqrt((t + 273.15) / 293.15)
// (ISO 9613-1:1993). Humidity moves it by at most 0.7 % up to 30 degC and is left out on purpose.
func SpeedMPS(tC float64) float64 { return 343.2 * math.Sqrt((tC+273.15)/293.15) }

// Gain returns the amplitude of a level in dB: 10^(dB/20).
func Gain(levelDB float64) float64 { return math.Pow(10, levelDB/20) }

// DistanceDB is the level that distance costs, 20 log10(d/d0): 6.0206 dB for each doubling (inverse distance).
func DistanceDB(distM, fromM float64) float64 { return 20 * math.Log10(distM/fromM) }

// Law is a mixer's pan law.
type Law int

// The pan laws. Centre is at -3.01 dB, -6.02 dB and -4.52 dB.
const (
	ConstantPower Law = iota // l = cos((p+1)pi/4), r = sin((p+1)pi/4)
	Linear                   // l = (1-p)/2, r = (1+p)/2
	Compromise               // the square root of the product of the two
)

var lawNames = []string{"constant-power", "linear", "compromise"}

// LawNames lists the names that LawByName takes.
func LawNames() []string { return lawNames }

// LawByName returns the law of that name.
func LawByName(name string) (Law, bool) {
	for i, n := range lawNames {
		if n == name {
			return Law(i), true
		}
	}
	return 0, false
}

func (l Law) String() string { return lawNames[l] }

// Gains returns the amplitudes to the left and right bus at pan p in [-1, 1].
func (l Law) Gains(p float64) (left, right float64) {
	switch l {
	case Linear:
		return (1 - p) / 2, (1 + p) / 2
	case Compromise:
		cl, cr := ConstantPower.Gains(p)
		ll, lr := Linear.Gains(p)
		return math.Sqrt(max(cl*ll, 0)), math.Sqrt(max(cr*lr, 0))
	}
	theta := (p + 1) * math.Pi / 4
	return math.Cos(theta), math.Sin(theta)
}

// pan is the pan whose gains differ by k = (r - l)/(r + l): (4/pi) atan k under constant power, k itself under
// the linear law; for the compromise there is no closed form, and halving finds it to the last bit that matters.
func (l Law) pan(k float64) float64 {
	switch l {
	case ConstantPower:
		return 4 / math.Pi * math.Atan(k)
	case Linear:
		return k
	}
	lo, hi := 0.0, 1.0
	for range 50 {
		mid := (lo + hi) / 2
		if l.difference(mid) < math.Abs(k) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return math.Copysign((lo+hi)/2, k)
}

// difference is (r - l)/(r + l) at pan p.
func (l Law) difference(p float64) float64 {
	left, right := l.Gains(p)
	return (right - left) / (right + left)
}

// Loudspeaker is a stack as the formulas see it: its place, what it takes of the left and right bus (as
// amplitudes), its trim as an amplitude, and its output delay.
type Loudspeaker struct {
	Name        string
	At          layout.Point
	Left, Right float64
	Trim        float64
	DelayS      float64
}

// System is everything between a mic and a seat.
type System struct {
	Stacks   []Loudspeaker
	LatencyS float64 // mic to loudspeaker, without any delay set
	SpeedMPS float64
	Law      Law
}

// quiet is the amplitude below which a stack does not carry a channel at all.
const quiet = 1e-6

// significantDB is how far below the loudest stack another still counts at a seat.
const significantDB = 10

// Gains returns the amplitude with which a channel panned to p reaches each stack; values below 1e-6 are 0.
func (s *System) Gains(p float64) []float64 {
	left, right := s.Law.Gains(p)
	g := make([]float64, len(s.Stacks))
	for i, k := range s.Stacks {
		if v := k.Trim * (k.Left*left + k.Right*right); v >= quiet {
			g[i] = v
		}
	}
	return g
}

// Arrival is the first loudspeaker sound at a seat.
type Arrival struct {
	Stack int     // index into Stacks
	TimeS float64 // after the player's sound enters the mic, with no channel delay
	OK    bool    // false: no stack reaches the seat
}

// First returns which stack is heard first at a seat, given the amplitudes g: the least of latency + output
// delay + distance/c over the stacks whose level (g/distance)^2 is within 10 dB of the loudest there. Ties
// within 1e-12 s go to the lowest index.
func (s *System) First(seat layout.Point, g []float64) Arrival {
	loudest := 0.0
	for i, k := range s.Stacks {
		loudest = max(loudest, LevelAt(g[i], k.At.Distance(seat)))
	}
	first := Arrival{TimeS: math.Inf(1)}
	for i, k := range s.Stacks {
		d := k.At.Distance(seat)
		v := LevelAt(g[i], d)
		if !Significant(v, loudest) {
			continue
		}
		if t := s.LatencyS + k.DelayS + d/s.SpeedMPS; t < first.TimeS-1e-12 {
			first = Arrival{i, t, true}
		}
	}
	return first
}

// floor is the share of the loudest stack's energy from which on another counts.
var floor = math.Pow(10, -significantDB/10.) * (1 - 1e-9)

// Significant reports whether a stack of energy v counts at a seat where the loudest has that energy.
func Significant(v, loudest float64) bool { return v > 0 && v >= loudest*floor }

// LevelAt is the energy of amplitude g at distM meters. Closer than 1 mm counts as 1 mm.
func LevelAt(g, distM float64) float64 {
	v := g / max(distM, 0.001)
	return v * v
}

// Tangent is the working of the tangent pan for one place.
type Tangent struct {
	LeftStack, RightStack int // the outermost stacks by x
	PlayerAz, LeftAz      float64
	RightAz, Mid, Half    float64 // radians
	Phi                   float64 // from mid, wrapped and clamped to +-half
	Clamped               bool    // the player is outside the stacks' span
	Pan                   float64
	Note                  string // why the pan is 0 where no image can be made
}

// TangentPan returns the pan that puts the image of a player at p in the true direction from the reference
// seat r, by the tangent law over the outermost stacks (J. C. Bennett et al., 1985, attribution from memory;
// computed values in testdata/published/pan_laws.csv). The gains of the pan differ by k = tan(phi)/tan(half), whatever
// the law.
func (s *System) TangentPan(p, r layout.Point) Tangent {
	var t Tangent
	if len(s.Stacks) == 0 {
		t.Note = "no stack"
		return t
	}
	for i, k := range s.Stacks {
		if k.At.X < s.Stacks[t.LeftStack].At.X {
			t.LeftStack = i
		}
		if k.At.X > s.Stacks[t.RightStack].At.X {
			t.RightStack = i
		}
	}
	t.LeftAz = s.Stacks[t.LeftStack].At.Azimuth(r)
	t.RightAz = s.Stacks[t.RightStack].At.Azimuth(r)
	t.PlayerAz = p.Azimuth(r)
	t.Half, t.Mid = (t.RightAz-t.LeftAz)/2, (t.RightAz+t.LeftAz)/2
	if !(t.Half > 1e-9 && t.Half < math.Pi/2-1e-9) {
		t.Note = fmt.Sprintf("the stacks span %.1f degrees seen from the reference seat: no image can be panned "+
			"between them, so the pan stays in the middle", 2*t.Half*180/math.Pi)
		return t
	}
	t.Phi = wrap(t.PlayerAz - t.Mid)
	if math.Abs(t.Phi) > t.Half {
		t.Phi, t.Clamped = math.Copysign(t.Half, t.Phi), true
	}
	t.Pan = s.Law.pan(math.Tan(t.Phi) / math.Tan(t.Half))
	return t
}

// wrap brings an angle into (-pi, pi].
func wrap(a float64) float64 {
	a = math.Mod(a, 2*math.Pi)
	switch {
	case a > math.Pi:
		return a - 2*math.Pi
	case a <= -math.Pi:
		return a + 2*math.Pi
	}
	return a
}

// Side is where a player is relative to the stacks, seen from a seat.
type Side int

// Beyond the stacks, as it should be; between the stacks and the seat; or behind the seat, turned from the stacks.
const (
	Beyond Side = iota
	Between
	Behind
)

// Facing says, in plan, where a player at p is relative to the seat r and the stacks, along the line from the seat to
// the stacks' middle: behind the seat, short of every stack, or beyond the nearest one.
func (s *System) Facing(p, r layout.Point) Side {
	var x, y float64
	for _, k := range s.Stacks {
		x, y = x+k.At.X-r.X, y+k.At.Y-r.Y
	}
	along := func(q layout.Point) float64 { return (q.X-r.X)*x + (q.Y-r.Y)*y }
	nearest := math.Inf(1)
	for _, k := range s.Stacks {
		nearest = min(nearest, along(k.At))
	}
	switch way := along(p); {
	case way < 0:
		return Behind
	case way < nearest:
		return Between
	}
	return Beyond
}

// Image is the direction, in radians from the middle of the stacks' span, that a pan puts the image in for the
// reference seat: the tangent law the other way round.
func (s *System) Image(t Tangent, pan float64) float64 {
	return math.Atan(s.Law.difference(pan) * math.Tan(t.Half))
}
