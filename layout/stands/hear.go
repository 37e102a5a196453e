package stands

import (
	"cmp"
	"math"
	"slices"

	"backfield/layout"
	"backfield/layout/sound"
)

// quiet is the gain below which a stack does not carry a mic at all.
const quiet = 1e-6

// tinyMS is how much earlier one sound must be than another to come before it.
const tinyMS = 1e-9

// significant is the share of the loudest stack's energy from which on another counts: 10 dB less.
const significant = 0.1 * (1 - 1e-9) * (1 - 1e-9)

// seatArrival is one stack as it is heard at a seat: when, in ms at a delay of 0, and its energy there at gain 1.
type seatArrival struct {
	ms, level float64
	stack     int
}

// arrivalsAt are the stacks as they are heard at a place, by time, then by index.
func arrivalsAt(s *sound.System, at layout.Point) []seatArrival {
	list := make([]seatArrival, len(s.Stacks))
	for i, k := range s.Stacks {
		d := k.At.Distance(at)
		list[i] = seatArrival{1000 * (s.LatencyS + k.DelayS + d/s.SpeedMPS), sound.LevelAt(1, d), i}
	}
	slices.SortStableFunc(list, func(a, b seatArrival) int { return cmp.Compare(a.ms, b.ms) })
	return list
}

// together reports whether two stacks are heard at the same time.
func together(heard []seatArrival) bool {
	for i := 1; i < len(heard); i++ {
		if heard[i-1].ms >= heard[i].ms-tinyMS {
			return true
		}
	}
	return false
}

// SeatNeeds is what all seats hear of a mic at one place, through stacks with given gains: at each seat the need, which
// is the delay with which the player and the first loudspeaker arrive together. The first loudspeaker is that of the
// least arrival among the stacks within 10 dB of the loudest. It holds scratch space, and serves one goroutine.
type SeatNeeds struct {
	l *Listeners

	MS              []float64 // of each seat, where Heard
	LeastMS, MostMS float64   // over all seats
	LaterMS         float64   // how much longer this mic's sound takes to the loudspeakers than the system says
	Heard           bool      // a stack carries the mic, to all seats; else to none

	echoMS []float64 // of each seat: the arrival gap, from 0 up, beyond which it hears an echo
	at     layout.Point
	later  float64   // LaterMS when it was heard
	power  []float64 // of each stack: its gain, squared
	energy []float64 // of each arrival at the seat that is looked at
	kinks  []float64
	byNeed sorted
}

// SeatNeeds makes one.
func (l *Listeners) SeatNeeds() *SeatNeeds {
	n := len(l.x)
	power := make([]float64, len(l.System.Stacks))
	return &SeatNeeds{l: l, MS: make([]float64, n), echoMS: make([]float64, n), power: power}
}

// Hear computes the needs for a mic at p that reaches the stacks with amplitudes g.
func (s *SeatNeeds) Hear(g []float64, p layout.Point) {
	if same := s.feed(g); same && s.at == p && s.later == s.LaterMS {
		return
	}
	s.at, s.later = p, s.LaterMS
	s.LeastMS, s.MostMS = math.Inf(1), math.Inf(-1)
	if !s.Heard {
		return
	}
	l, power, n := s.l, s.power, len(s.power)
	msPerM := 1000 / l.System.SpeedMPS
	need := s.MS
	x, y, z, echo := l.x[:len(need)], l.y[:len(need)], l.z[:len(need)], s.echoMS[:len(need)]
	least, most, later := s.LeastMS, s.MostMS, s.later
	never := math.Inf(-1)
	energy := sized(s.energy, n)
	s.energy = energy
	for j := range need {
		heard := l.seatArrivals[j*n:][:len(energy)]
		loudest, before, last := 0.0, 0.0, never
		for i := range energy {
			a := &heard[i]
			v := power[a.stack] * a.level
			energy[i] = v
			if v > loudest {
				loudest = v
			}
			if v >= echoShare*before && before > 0 {
				last = a.ms
			}
			before += v
		}
		loudest *= significant
		first := 0.0
		for i, v := range energy {
			if v >= loudest {
				first = heard[i].ms
				break
			}
		}
		if l.together[j] {
			last = lastApart(heard, energy)
		}
		echo[j] = first + (echoMS + tinyMS) - last
		dx, dy, dz := p.X-x[j], p.Y-y[j], p.Z-z[j]
		v := math.Sqrt(dx*dx+dy*dy+dz*dz)*msPerM - (first + later)
		need[j] = v
		if v < least {
			least = v
		}
		if v > most {
			most = v
		}
	}
	s.LeastMS, s.MostMS = least, most
}

// feed sets the stacks' gains, and reports whether they are as they were.
func (s *SeatNeeds) feed(g []float64) (same bool) {
	same = s.Heard
	s.Heard = false
	for i, v := range g {
		if v = math.Abs(v); v < quiet {
			v = 0
		}
		v *= v
		same = same && s.power[i] == v
		s.power[i] = v
		s.Heard = s.Heard || v > 0
	}
	return same
}

// Kept is what Hear found, with what it was found for. It may be used again as often as one likes.
type Kept struct {
	at          layout.Point
	later       float64
	least, most float64
	power       []float64
	ms, echo    []float64
}

// Keep keeps what was heard last, which is forgotten here: to trade the lists by seat is quicker than to copy them.
func (s *SeatNeeds) Keep(k *Kept) {
	n := len(s.MS)
	k.at, k.later, k.least, k.most = s.at, s.later, s.LeastMS, s.MostMS
	k.power = append(k.power[:0], s.power...)
	s.MS, k.ms = sized(k.ms, n), s.MS
	s.echoMS, k.echo = sized(k.echo, n), s.echoMS
	s.Heard = false
}

// Recall is as hearing again what was kept. The lists are copied: where a list is not of the place that it is said to be
// of, the next Hear at that place would take it for its own.
func (s *SeatNeeds) Recall(k *Kept) {
	s.at, s.later, s.LeastMS, s.MostMS, s.Heard = k.at, k.later, k.least, k.most, true
	copy(s.power, k.power)
	copy(s.MS, k.ms)
	copy(s.echoMS, k.echo)
}

// KeptBytes is about how much memory each Kept takes, in bytes.
func (l *Listeners) KeptBytes() int { return 16*len(l.x) + 8*len(l.System.Stacks) }

// MedianMS is the least need of a seat with half of the weight at or under it.
func (s *SeatNeeds) MedianMS() float64 {
	s.byNeed.fill(s.MS, s.l.w, s.LeastMS, s.MostMS, len(s.MS))
	return s.byNeed.median()
}

// BoxPart is a stack's part in what is heard first at the press box.
type BoxPart struct {
	Stack int     // index into the system's stacks
	MS    float64 // when it arrives there, at a delay of 0
	Share float64 // 0 to 1; all shares add up to 1
}

// BoxNeedMS is what the press box needs of a mic at p that reaches the stacks with amplitudes g, in ms. It is one
// listener, so that a stack that comes within 10 dB would move the need at once by the whole time between two stacks.
// So a stack counts in full if it is at most 6 dB under the loudest, and not at all from 14 dB on; what is heard first
// is the mean of the arrivals by what each adds to the loudest part so far. That is continuous in the gains. ok is false
// if no stack carries the mic.
func (l *Listeners) BoxNeedMS(g []float64, p layout.Point) (needMS float64, parts []BoxPart, ok bool) {
	const none, full = 0.2, 0.5 // of the loudest amplitude
	amplitude, loudest := make([]float64, len(g)), 0.0
	for _, a := range l.boxArrivals {
		if v := math.Abs(g[a.stack]); v >= quiet {
			amplitude[a.stack] = v * math.Sqrt(a.level)
			loudest = max(loudest, amplitude[a.stack])
		}
	}
	if loudest == 0 {
		return 0, nil, false
	}
	first, counted := 0.0, 0.0
	for _, a := range l.boxArrivals {
		r := max(0, min((amplitude[a.stack]/loudest-none)/(full-none), 1))
		if r <= counted {
			continue
		}
		first += (r - counted) * a.ms
		parts = append(parts, BoxPart{a.stack, a.ms, r - counted})
		counted = r
	}
	return 1000*p.Distance(l.Reference)/l.System.SpeedMPS - first, parts, true
}
