package stands

import (
	"math"
	"slices"
)

// echoMS is how long after the first sound another is heard as an echo (H. Haas, Acustica 1, 1951: 50 ms for speech).
const echoMS = 50

// echoShare is the least energy of an echo, to that of all that came before it: 5 dB less.
const echoShare = 0.31622776601683793319988935

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

// Reset begins again, with nothing added up.
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
	window, bins := t.Window, t.byGap
	fullFrom, fullTo := window.LeastMS+window.MarginMS, window.MostMS-window.MarginMS
	noneTo, noneFrom := window.LeastMS-window.MarginMS, window.MostMS+window.MarginMS
	insideFrom, insideTo := window.LeastMS-tinyMS, window.MostMS+tinyMS
	var inTime, inside, early, late, echo, noEcho float64
	w, echoMS := s.l.w[:len(s.MS)], s.echoMS[:len(s.MS)]
	for j, need := range s.MS {
		gap, weight := delayMS-need, w[j]*weightS
		bins[t.bin(gap)] += weight
		part := 1.0
		if gap < fullFrom || gap > fullTo {
			if part = 0; gap > noneTo && gap < noneFrom {
				part = window.Share(gap)
			}
		}
		inTime += weight * part
		echoes := max(gap, 0) > echoMS[j]
		if echoes {
			echo += weight
		}
		switch {
		case gap < insideFrom:
			early += weight
		case gap > insideTo:
			late += weight
		default:
			if inside += weight; !echoes {
				noEcho += weight
			}
		}
	}
	t.inTime, t.inside, t.early, t.late = t.inTime+inTime, t.inside+inside, t.early+early, t.late+late
	t.echo, t.noEcho = t.echo+echo, t.noEcho+noEcho
	earliest, latest := delayMS-s.MostMS, delayMS-s.LeastMS
	t.least, t.most = min(t.least, t.bin(earliest)), max(t.most, t.bin(latest))
	if earliest < insideFrom {
		t.worstEarlyMS = max(t.worstEarlyMS, -earliest)
	}
	if latest > insideTo {
		t.worstLateMS = max(t.worstLateMS, latest-window.MostMS)
	}
}

// bin is where a gap is counted.
func (t *GapTally) bin(gapMS float64) int {
	return max(0, min(int((gapMS+gapsMS)*gapsPerMS+0.5), len(t.byGap)-1))
}

// Echo is the share of the seats, by weight, that hear an echo with a delay.
func (s *SeatNeeds) Echo(delayMS float64) float64 {
	if !s.Heard || s.l.total == 0 {
		return 0
	}
	return s.echoes(delayMS) / s.l.total
}

// EchoAt reports whether seat j hears an echo with a delay: a stack that is heard more than 50 ms after the first sound,
// the player's own or the loudspeakers', and at most 5 dB under all stacks before it together. The player's own level is
// left out, since it can only mask. The longer the loudspeakers come after the player, the longer after the first sound
// their last one comes. So one gap says when a seat begins to hear an echo.
func (s *SeatNeeds) EchoAt(delayMS float64, j int) bool {
	return s.Heard && max(delayMS-s.MS[j], 0) > s.echoMS[j]
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

// EchoesBy adds to each stack the weight of the seats that hear it as an echo with a delay: the last one that can be an
// echo of those before it.
func (s *SeatNeeds) EchoesBy(delayMS float64, byStack []float64) {
	n := len(s.power)
	for j := range s.MS {
		if !s.EchoAt(delayMS, j) {
			continue
		}
		heard := s.l.seatArrivals[j*n : (j+1)*n]
		from := -1
		for i, a := range heard {
			before := 0.0
			for _, b := range heard[:i] {
				if b.ms < a.ms-tinyMS {
					before += s.power[b.stack] * b.level
				}
			}
			if v := s.power[a.stack] * a.level; before > 0 && v >= echoShare*before {
				from = a.stack
			}
		}
		if from >= 0 {
			byStack[from] += s.l.w[j]
		}
	}
}

// EchoSound is a stack that a seat hears as an echo.
type EchoSound struct {
	Stack   int     // index into the system's stacks
	UnderDB float64 // how much softer than all stacks before it together it is, by distance and gain
}

// EchoesAt are all stacks that seat j hears as echoes with a delay, by the rule of EchoAt.
func (s *SeatNeeds) EchoesAt(delayMS float64, j int) (list []EchoSound) {
	if !s.EchoAt(delayMS, j) {
		return nil
	}
	n := len(s.power)
	heard, loudest := s.l.seatArrivals[j*n:(j+1)*n], 0.0
	energy := func(a seatArrival) float64 { return s.power[a.stack] * a.level }
	for _, a := range heard {
		loudest = max(loudest, energy(a))
	}
	first := slices.IndexFunc(heard, func(a seatArrival) bool { return energy(a) >= loudest*significant })
	from := heard[first].ms - max(delayMS-s.MS[j], 0) // of the first sound, at a delay of 0
	for i, a := range heard {
		before := 0.0
		for _, b := range heard[:i] {
			if b.ms < a.ms-tinyMS {
				before += energy(b)
			}
		}
		if v := energy(a); a.ms > from+echoMS+tinyMS && before > 0 && v >= echoShare*before {
			list = append(list, EchoSound{a.stack, 10 * math.Log10(before/v)})
		}
	}
	return list
}

// lastApart is when the last stack is heard that can be an echo of those before it, where some come together: these are
// not before each other. It is -Inf if none can.
func lastApart(heard []seatArrival, energy []float64) float64 {
	lastMS := math.Inf(-1)
	for i, a := range heard {
		before := 0.0
		for k := range i {
			if heard[k].ms < a.ms-tinyMS {
				before += energy[k]
			}
		}
		if before > 0 && energy[i] >= echoShare*before {
			lastMS = a.ms
		}
	}
	return lastMS
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
