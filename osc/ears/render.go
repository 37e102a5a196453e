package ears

import (
	"math"
	"slices"

	"backfield/layout/sound"
)

// Rate is how many samples a second files have.
const Rate = 48000

// What a rendering sounds like. The sound of level 0 dB has an amplitude of LoudestDB, and nothing is over PeakDB: if the
// arrivals add up to more, all of it is turned down.
const (
	LeadS     = 0.05 // silence before the note leaves the player
	TailS     = 0.10 // silence after the last sound
	GapS      = 0.50 // more silence, between two that are compared
	LoudestDB = -12
	PeakDB    = -6
)

// EarArrival is one sound at a seat.
type EarArrival struct {
	TimeS   float64 // after the note leaves the player
	LevelDB float64 // 0 for the loudest
	Direction
}

// Rendering is a sound for two ears, full scale 1.
type Rendering struct {
	Left, Right []float64
	DownDB      float64 // how much all of it was turned down, 0 or less
}

const (
	half = 16  // samples of the sinc to either side
	tail = 256 // samples of the shadow after the sound has ended: what is left then is under -180 dB
)

// Render renders a dry sound through the arrivals. The same arrivals have the same samples, whatever they are run on.
func Render(dry []float64, rate int, arrivals []EarArrival) *Rendering {
	lastS := 0.0
	for _, a := range arrivals {
		lastS = max(lastS, a.TimeS)
	}
	n := int(math.Ceil((LeadS+lastS+TailS)*float64(rate))) + len(dry) + tail + 2*half
	r := &Rendering{Left: make([]float64, n), Right: make([]float64, n)}
	shadowed := make([]float64, len(dry)+tail)
	for _, a := range arrivals {
		for right, out := range [2][]float64{r.Left, r.Right} {
			a.shadow(right == 1, float64(rate)).over(dry, shadowed)
			addAt(out, shadowed, (LeadS+a.TimeS+a.EarS(right == 1))*float64(rate), sound.Gain(a.LevelDB+LoudestDB))
		}
	}
	r.limit()
	return r
}

// addAt adds samples to a sound, so many samples after its start, between samples too.
func addAt(out, samples []float64, at, gain float64) {
	whole := math.Floor(at)
	kernel := stretched(at-whole, 1, half)
	for i, x := range samples {
		if x == 0 {
			continue
		}
		x *= gain
		first := int(whole) + i - half + 1
		for j, k := range kernel {
			if n := first + j; n >= 0 && n < len(out) {
				out[n] += x * k
			}
		}
	}
}

// limit turns all of it down if its peak is too high.
func (r *Rendering) limit() {
	peak := 0.0
	for i := range r.Left {
		peak = max(peak, math.Abs(r.Left[i]), math.Abs(r.Right[i]))
	}
	if most := sound.Gain(PeakDB); peak > most {
		r.turn(20 * math.Log10(most/peak))
	}
}

func (r *Rendering) turn(db float64) {
	r.DownDB += db
	for i, a := 0, sound.Gain(db); i < len(r.Left); i++ {
		r.Left[i] *= a
		r.Right[i] *= a
	}
}

// Then is this rendering and after it another one, to compare: both turned down alike.
func (r *Rendering) Then(o *Rendering) *Rendering {
	down := min(r.DownDB, o.DownDB)
	r.turn(down - r.DownDB)
	o.turn(down - o.DownDB)
	gap := make([]float64, int(GapS*Rate))
	return &Rendering{slices.Concat(r.Left, gap, o.Left), slices.Concat(r.Right, gap, o.Right), down}
}
