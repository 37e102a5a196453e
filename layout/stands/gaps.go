package stands

import "math"

// echoMS is how long after the first sound another is heard as an echo (H. Haas, Acustica 1, 1951: 50 ms for speech).
const echoMS = 50

// echoShare is the least energy of an echo, to that of all that came before it: 5 dB less.
var echoShare = math.Pow(10, -0.5)

// GapTally adds up how a delay that moves works for the seats over time. It serves one goroutine.
type GapTally struct {
	Window Window

	inTime, inside, early, late, echo float64 // in time: with the margin; the others without
	worstEarlyMS, worstLateMS         float64

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
	w := s.l.w[:len(s.MS)]
	for j, need := range s.MS {
		gap, weight := delayMS-need, w[j]*weightS
		switch {
		case gap < t.Window.LeastMS-tinyMS:
			t.early += weight
			t.worstEarlyMS = max(t.worstEarlyMS, -gap)
		case gap > t.Window.MostMS+tinyMS:
			t.late += weight
			t.worstLateMS = max(t.worstLateMS, gap-t.Window.MostMS)
		default:
			t.inside += weight
		}
		t.inTime += weight * t.Window.Share(gap)
		bin := max(0, min(int(math.Round((gap+gapsMS)*gapsPerMS)), len(t.byGap)-1))
		t.byGap[bin] += weight
		t.least, t.most = min(t.least, bin), max(t.most, bin)
	}
	t.echo += s.echoes(delayMS) * weightS
}

// Echo is the share of the seats, by weight, that hear an echo with a delay.
func (s *SeatNeeds) Echo(delayMS float64) float64 {
	if !s.Heard || s.l.total == 0 {
		return 0
	}
	return s.echoes(delayMS) / s.l.total
}

// echoes is the weight of the seats that hear an echo.
func (s *SeatNeeds) echoes(delayMS float64) (weight float64) {
	n := len(s.power)
	for j := range s.MS {
		if s.echoAt(delayMS, j, s.l.seatArrivals[j*n:(j+1)*n]) {
			weight += s.l.w[j]
		}
	}
	return weight
}

// echoAt reports whether a seat hears an echo: a stack that is heard more than 50 ms after the first sound, the player's
// own or the loudspeakers', and at most 5 dB under all stacks before it together. The player's own level is left out,
// since it can only mask.
func (s *SeatNeeds) echoAt(delayMS float64, j int, heard []seatArrival) bool {
	own := s.l.ownMS(s.at, j)
	from := min(own, own-s.MS[j]+delayMS) + echoMS + tinyMS - delayMS
	if heard[len(heard)-1].ms <= from {
		return false
	}
	before, next := 0.0, 0 // the energy of what came before, and the first arrival that is not in it yet
	for _, a := range heard {
		v := s.power[a.stack] * a.level
		if v == 0 {
			continue
		}
		for heard[next].ms < a.ms-tinyMS {
			before += s.power[heard[next].stack] * heard[next].level
			next++
		}
		if a.ms > from && before > 0 && v >= echoShare*before {
			return true
		}
	}
	return false
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
		Echo: t.echo / total, WorstEarlyMS: t.worstEarlyMS, WorstLateMS: t.worstLateMS,
		MedianMS: float64(at)/gapsPerMS - gapsMS,
	}, true
}
