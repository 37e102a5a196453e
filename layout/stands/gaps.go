package stands

import "math"

// echoMS is how long after the first sound another is heard as an echo (H. Haas, Acustica 1, 1951: 50 ms for speech).
const echoMS = 50

// echoShare is the least energy of an echo, to that of all that came before it: 5 dB less.
var echoShare = math.Pow(10, -0.5)

// GapTally adds up how a delay that moves works for the seats over time. It serves one goroutine.
type GapTally struct {
	Window Window

	inTime, inside, early, late, echo, noEcho float64 // in time: with the margin; the others without
	worstEarlyMS, worstLateMS                 float64

	byGap       []float64 // the weight at each hundredth of a ms, from -1 s to +1 s; allocated once
	least, most int       // what is not 0 of it
}

// The gaps are counted in hundredths of a ms, as they are reported, over sounds that are up to a second apart, as 340 m
// make them. What is further off is put into the outermost.
const (
	gapsPerMS = 100
	gapsMS    = 1000
)

// Reset begins anew.
func (t *GapTally) Reset(w Window) {
	if t.byGap == nil {
		t.byGap, t.most = make([]float64, 2*gapsMS*gapsPerMS+1), -1
	}
	clear(t.byGap[t.least:max(t.most+1, t.least)])
	*t = GapTally{Window: w, byGap: t.byGap, least: len(t.byGap), most: -1}
}

// Add adds what the seats hear with a delay, for so many seconds.
func (t *GapTally) Add(s *SeatNeeds, weightS, delayMS float64) {
	if !s.Heard || weightS <= 0 {
		return
	}
	w, window := s.l.w[:len(s.MS)], t.Window
	fullFrom, fullTo := window.LeastMS+window.MarginMS, window.MostMS-window.MarginMS
	noneTo, noneFrom := window.LeastMS-window.MarginMS, window.MostMS+window.MarginMS
	n := len(s.power)
	for j, need := range s.MS {
		gap, weight := delayMS-need, w[j]*weightS
		switch {
		case gap >= fullFrom && gap <= fullTo:
			t.inside += weight
			t.inTime += weight
		case gap < window.LeastMS-tinyMS:
			t.early += weight
			t.worstEarlyMS = max(t.worstEarlyMS, -gap)
			if gap > noneTo {
				t.inTime += weight * window.Share(gap)
			}
		case gap > window.MostMS+tinyMS:
			t.late += weight
			t.worstLateMS = max(t.worstLateMS, gap-window.MostMS)
			if gap < noneFrom {
				t.inTime += weight * window.Share(gap)
			}
		default:
			t.inside += weight
			t.inTime += weight * window.Share(gap)
		}
		bin := max(0, min(int((gap+gapsMS)*gapsPerMS+0.5), len(t.byGap)-1))
		t.byGap[bin] += weight
		if bin < t.least {
			t.least = bin
		}
		if bin > t.most {
			t.most = bin
		}
		switch {
		case s.echoAt(gap, j, s.l.seatArrivals[j*n:(j+1)*n]):
			t.echo += weight
		case gap >= window.LeastMS-tinyMS && gap <= window.MostMS+tinyMS:
			t.noEcho += weight
		}
	}
}

// Echo is the share of the seats, by weight, that hear an echo with a delay.
func (s *SeatNeeds) Echo(delayMS float64) float64 {
	if !s.Heard || s.l.total == 0 {
		return 0
	}
	return s.echoes(delayMS) / s.l.total
}

// EchoAt reports whether seat j hears an echo with a delay.
func (s *SeatNeeds) EchoAt(delayMS float64, j int) bool {
	n := len(s.power)
	return s.Heard && s.echoAt(delayMS-s.MS[j], j, s.l.seatArrivals[j*n:(j+1)*n])
}

// echoes is the weight of the seats that hear an echo.
func (s *SeatNeeds) echoes(delayMS float64) (weight float64) {
	for j := range s.MS {
		if s.EchoAt(delayMS, j) {
			weight += s.l.w[j]
		}
	}
	return weight
}

// echoAt reports whether a seat with an arrival gap hears an echo: a stack that is heard more than 50 ms after the first
// sound, the player's own or the loudspeakers', and at most 5 dB under all stacks before it together. The player's own
// level is left out, since it can only mask.
func (s *SeatNeeds) echoAt(gapMS float64, j int, heard []seatArrival) bool {
	from := s.ownMS[j] - s.MS[j] - s.later + echoMS + tinyMS // the first loudspeaker, at a delay of 0, and 50 ms
	if gapMS > 0 {
		from -= gapMS // the player was first
	}
	if heard[len(heard)-1].ms <= from {
		return false
	}
	before := 0.0 // the energy of what came before
	for i := range heard {
		a := &heard[i]
		v := s.power[a.stack] * a.level
		if a.ms > from && v > 0 && before > 0 {
			if i > 0 && heard[i-1].ms >= a.ms-tinyMS {
				before -= s.together(heard[:i], a.ms)
			}
			if before > 0 && v >= echoShare*before {
				return true
			}
		}
		before += v
	}
	return false
}

// together is the energy of the last of some arrivals that come with one at a time.
func (s *SeatNeeds) together(heard []seatArrival, ms float64) (energy float64) {
	for i := len(heard) - 1; i >= 0 && heard[i].ms >= ms-tinyMS; i-- {
		energy += s.power[heard[i].stack] * heard[i].level
	}
	return energy
}

// Fit is the result. ok is false if no seat was counted.
func (t *GapTally) Fit() (f Fit, ok bool) {
	total := t.inside + t.early + t.late
	if total == 0 {
		return f, false
	}
	half, sum, at := total/2*(1-1e-12), 0.0, t.least
	for ; at < t.most; at++ {
		if sum += t.byGap[at]; sum >= half {
			break
		}
	}
	return Fit{
		Served: t.inTime / total, Inside: t.inside / total, Early: t.early / total, Late: t.late / total,
		Echo: t.echo / total, NoEcho: t.noEcho / total, WorstEarlyMS: t.worstEarlyMS, WorstLateMS: t.worstLateMS,
		MedianMS: float64(at)/gapsPerMS - gapsMS,
	}, true
}
