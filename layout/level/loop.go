package level

import (
	"cmp"
	"math"
	"slices"
)

// MicLoop is the loop of one mic, by band as an energy: what comes back to it through the stacks, against what it took.
type MicLoop struct {
	Name     string
	Fixed    bool
	Featured bool
	Loop     Energies
}

// GreatestDB is the loop in its greatest band, the lower of equal ones.
func (m *MicLoop) GreatestDB() (db float64, band int) {
	band = m.Loop.greatest()
	return Decibels(m.Loop[band]), band
}

// LoopGains are the loops of all open mics at one moment: the worn ones, then the fixed ones. At 0 dB and over they ring.
type LoopGains struct {
	Mics            []MicLoop
	Featured, Other Energies // sums over the featured worn mics and over all others
}

// Total is the loop of all open mics: band by band the energy sum. It is exact for mics that hear the same stacks, and
// cautious otherwise; n equal ones give 10 lg n (read).
func (l *LoopGains) Total() Energies {
	e := l.Featured
	e.add(&l.Other, 1)
	return e
}

// GreatestDB is the total in its greatest band. The margin is what is missing to 0 dB.
func (l *LoopGains) GreatestDB() (db float64, band int) {
	e := l.Total()
	band = e.greatest()
	return Decibels(e[band]), band
}

// Loudest lists the mics by their loops, those that ring first before the others.
func (l *LoopGains) Loudest() []MicLoop {
	list := slices.Clone(l.Mics)
	slices.SortStableFunc(list, func(a, b MicLoop) int {
		return cmp.Compare(b.Loop[b.Loop.greatest()], a.Loop[a.Loop.greatest()])
	})
	return list
}

// Loops computes the loops: gain + fader + ring + the energy sum over stacks of (send + trim + the stack's pattern toward
// the mic + the mic's pattern toward the stack - 20 lg r), less the low cut. Air is left out. r is at least 0.5 m.
func (s *Stadium) Loops(p *Playing) *LoopGains {
	l := &LoopGains{Mics: make([]MicLoop, 0, len(p.Worn)+len(p.Fixed))}
	for i := range p.Worn {
		m := &p.Worn[i]
		who := &p.Performers[m.Wearer]
		loop := MicLoop{Name: m.Name, Featured: who.Featured}
		gain := Energy(s.WornGainDB(who, m) + m.FaderDB)
		for k := range s.Stacks {
			if send := m.send(k); send > 0 {
				e := s.beams[k].transfer(who.At)
				loop.Loop.add(&e, send*gain)
			}
		}
		l.add(loop, &m.Strip)
	}
	for i := range p.Fixed {
		m := &p.Fixed[i]
		loop := MicLoop{Name: m.Name, Fixed: true}
		if !math.IsInf(m.HighestDB, -1) {
			gain, pickup := Energy(s.FixedGainDB(m)+m.FaderDB+m.RingDB), m.pickup(s.Box)
			for k := range s.Stacks {
				if send := m.send(k); send > 0 {
					e := s.beams[k].transfer(m.At)
					loop.Loop.add(&e, send*gain*pickup(s.Stacks[k].At))
				}
			}
		}
		l.add(loop, &m.Strip)
	}
	return l
}

func (l *LoopGains) add(m MicLoop, s *Strip) {
	if s.LowCutHz > 0 {
		cut := s.lowCut()
		for b := range cut {
			m.Loop[b] *= cut[b]
		}
	}
	if m.Featured {
		l.Featured.add(&m.Loop, 1)
	} else {
		l.Other.add(&m.Loop, 1)
	}
	l.Mics = append(l.Mics, m)
}

// WorstLoop is the moment with the greatest total loop, the first of equal ones, and that loop; -1 where nothing loops.
func WorstLoop(moments []*LoopGains) (at int, db float64) {
	at, db = -1, math.Inf(-1)
	for i, l := range moments {
		if v, _ := l.GreatestDB(); v > db {
			at, db = i, v
		}
	}
	return at, db
}
