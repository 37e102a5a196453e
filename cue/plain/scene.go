// Package plain computes paths a second time: what each listener needs, the path of an open channel, its knots and its
// echoes, from the rules as they are written down, as plainly and slowly as can be. It shares only the pan laws with
// the compiler. Only tests use it: the compiler's numbers must be these.
package plain

import (
	"math"
	"slices"

	"backfield/layout"
	"backfield/layout/sound"
)

// The constants of the rules. Times are in ms, sums in seconds of full stands.
const (
	tiny  = 1e-9 // ms, slopes, pans, places, counts
	rel   = 1e-9 // of the 10 dB rule
	quiet = 1e-6 // below this amplitude a stack does not carry a channel
	tie   = 1e-12

	earliest = 0.0  // the least arrival gap at which a seat is in time, ms
	still    = 0.01 // price of moving, s for each ms
	over     = 1.0  // price outside the press box's bound, for each ms
	click    = 0.1  // price of a change at a cue, s
	grid     = 0.1  // step of a gliding mixer's paths, ms
)

// Scene is everything that does not change along a stretch.
type Scene struct {
	Stacks    []Emitter   // no subs
	Seats     []PlainSeat // the press box is one of them if it has a weight of its own
	Box       layout.Point
	LatencyMS float64
	SpeedMPS  float64
	Law       sound.Law
	Zones     bool
	MostOne   bool    // zones: one stack alone carries a player
	Width     float64 // the pan is held to this on either side
	AngleDeg  float64 // how far the policy "joint" turns a player
	StandFit  bool    // the wanted pan is the best one over all seats

	WindowMS float64 // the greatest arrival gap at which a seat is in time
	MarginMS float64
	SlewMSPS float64
	TolMS    float64 // tolerance of knots
	PanTol   float64
	LeadMS   float64

	Moves  string  // "glide", "cues" or "closed"
	StepMS float64 // the mixer's, where it does not glide
	MaxMS  float64 // the mixer's greatest delay
	DipS   float64 // price of a dip; 0: none
}

// Emitter is one stack.
type Emitter struct {
	At          layout.Point
	Left, Right float64 // amplitudes taken of the two buses, in stereo
	Trim        float64 // amplitude
	DelayMS     float64
}

// PlainSeat is one seat.
type PlainSeat struct {
	At     layout.Point
	Weight float64
}

// PlainSample is one sample of a stretch.
type PlainSample struct {
	Count     float64 // of its movement
	TimeS     float64 // without the time of any pause
	PauseS    float64 // for which the path stands here
	At        layout.Point
	Cue       bool // a cue of the score is here, in which the channel is open
	AfterWait bool // a wait between two movements lies between the sample before and this one
	Policy    string
	Least     float64 // the press box's bound, ms
	Most      float64
	Free      bool     // no bound for the press box
	Pan       *float64 // set by hand, in stereo; nil: the wanted one
	LevelDB   float64  // with make-up: the wanted level; else always 0
}

// Bend is one knot.
type Bend struct {
	Sample  int // index of the sample
	DelayMS float64
	Pan     float64 // or the place
	Offset  int     // in tolerances: -1, 0 or 1
}

// Course is what comes out for one stretch.
type Course struct {
	TurnDeg  int       // of the policy "joint"
	Want     []float64 // pan or place
	BoxNeed  []float64 // ms; NaN where nothing is heard there
	From, To int       // the range of the search, in steps
	Step     float64   // ms
	Index    []int     // the path, in steps
	Weight   []float64 // seconds
	Sum      float64
	Bends    []Bend
}

// Delay is the path's delay at a sample, in ms.
func (c *Course) Delay(k int) float64 { return float64(c.Index[k]) * c.Step }

// Offsets is the sum of all knots' offsets, in tolerances.
func (c *Course) Offsets() int {
	n := 0
	for _, b := range c.Bends {
		if b.Offset != 0 {
			n++
		}
	}
	return n
}

// emitted is one stack's sound at a listener.
type emitted struct{ ms, amplitude float64 }

// arrivals are the sounds that reach a listener at a channel delay of 0, by time, then by stack.
func (s *Scene) arrivals(at layout.Point, gains []float64) []emitted {
	var list []emitted
	for i, k := range s.Stacks {
		if g := math.Abs(gains[i]); g >= quiet {
			d := max(k.At.Distance(at), 0.001)
			ms := s.LatencyMS + k.DelayMS + 1000*k.At.Distance(at)/s.SpeedMPS
			list = append(list, emitted{ms, g / d})
		}
	}
	slices.SortStableFunc(list, func(a, b emitted) int {
		switch {
		case a.ms < b.ms:
			return -1
		case a.ms > b.ms:
			return 1
		}
		return 0
	})
	return list
}

func loudest(list []emitted) float64 {
	most := 0.0
	for _, a := range list {
		most = max(most, a.amplitude)
	}
	return most
}

// first is the first sound at a seat by the 10 dB rule; NaN where nothing arrives.
func first(list []emitted) float64 {
	for _, a := range list {
		if a.amplitude >= math.Pow(10, -0.5)*(1-rel)*loudest(list) {
			return a.ms
		}
	}
	return math.NaN()
}

// softFirst is the first sound at the press box: a stack 6 dB down counts in full, one 14 dB down not at all.
func softFirst(list []emitted) float64 {
	if len(list) == 0 {
		return math.NaN()
	}
	sum, heard := 0.0, 0.0
	for _, a := range list {
		r := max(0, min((a.amplitude/loudest(list)-0.2)/0.3, 1))
		if r > heard {
			sum += (r - heard) * a.ms
			heard = r
		}
	}
	return sum
}

func (s *Scene) own(p, listener layout.Point) float64 {
	return 1000 * p.Distance(listener) / s.SpeedMPS
}

// need is the delay with which player and loudspeakers reach a seat together; NaN where nothing arrives.
func (s *Scene) need(p, seat layout.Point, gains []float64) float64 {
	return s.own(p, seat) - first(s.arrivals(seat, gains))
}

// boxNeed is the same for the press box's bound.
func (s *Scene) boxNeed(p layout.Point, gains []float64) float64 {
	return s.own(p, s.Box) - softFirst(s.arrivals(s.Box, gains))
}

// served is the share of the seats in time at an arrival gap, weighted, for one place of the player.
func (s *Scene) served(needs []float64, delay float64) float64 {
	sum, all := 0.0, 0.0
	for i, seat := range s.Seats {
		all += seat.Weight
		if !math.IsNaN(needs[i]) {
			sum += seat.Weight * s.share(delay-needs[i])
		}
	}
	if all == 0 {
		return 0
	}
	return sum / all
}

// share is how much of a seat counts at an arrival gap.
func (s *Scene) share(gap float64) float64 {
	j := s.MarginMS
	if j == 0 {
		if gap >= earliest-tiny && gap <= s.WindowMS+tiny {
			return 1
		}
		return 0
	}
	ramp := func(x float64) float64 { return max(0, min((x+j)/(2*j), 1)) }
	return ramp(gap-earliest) - ramp(gap-s.WindowMS)
}

// Served is the share of seats in time, margin included, with the player at p, a pan or place and a delay.
func (s *Scene) Served(p layout.Point, pan, delay float64) float64 {
	return s.served(s.needs(p, s.gains(pan)), delay)
}

func (s *Scene) needs(p layout.Point, gains []float64) []float64 {
	var list []float64
	for _, seat := range s.Seats {
		list = append(list, s.need(p, seat.At, gains))
	}
	return list
}

// Echo is the share of seats that hear another stack as an echo.
func (s *Scene) Echo(p layout.Point, pan, delay float64) float64 {
	sum, all := 0.0, 0.0
	for _, seat := range s.Seats {
		all += seat.Weight
		list := s.arrivals(seat.At, s.gains(pan))
		if len(list) > 0 && echoes(list, s.own(p, seat.At), delay) {
			sum += seat.Weight
		}
	}
	if all == 0 {
		return 0
	}
	return sum / all
}

func echoes(list []emitted, own, delay float64) bool {
	begin := min(own, first(list)+delay)
	for _, a := range list {
		energy, any := 0.0, false
		for _, b := range list {
			if b.ms < a.ms-tiny {
				energy, any = energy+b.amplitude*b.amplitude, true
			}
		}
		if any && a.ms+delay > begin+50+tiny && a.amplitude*a.amplitude >= math.Pow(10, -0.5)*energy {
			return true
		}
	}
	return false
}
