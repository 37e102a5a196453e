package balance

import (
	"math"

	"backfield/layout/level"
)

// LoopTrack is the loop of one mic over the show, by band, with its fader at 0 dB, at every quarter count at which it is
// open.
type LoopTrack struct {
	Name  string
	AtS   []float64 // ascending
	Loops []level.Energies
	// TakeDB is the give or take of a margin that this mic sets.
	TakeDB float64
}

// LoopTracks computes the loops of all mics over the show. It is meant for a live run: see osc/ringing.
func (l *Loudness) LoopTracks() (list []LoopTrack) {
	of := map[string]int{}
	for i := range l.x.Spans {
		for _, at := range l.x.Spans[i].Samples {
			p, atS := l.mics(i, at), l.x.Clock.Seconds(at)
			gains := l.Stadium.Loops(p)
			take := func(k int, s *level.Strip) {
				if math.IsInf(s.FaderDB, -1) {
					return
				}
				n, known := of[s.Name]
				if !known {
					n, of[s.Name] = len(list), len(list)
					list = append(list, LoopTrack{Name: s.Name, TakeDB: l.loopTakeDB(s.Name)})
				}
				e, up := gains.Mics[k].Loop, level.Energy(-s.FaderDB)
				for b := range e {
					e[b] *= up
				}
				list[n].add(atS, e)
			}
			for k := range p.Worn {
				take(k, &p.Worn[k].Strip)
			}
			for k := range p.Fixed {
				take(len(p.Worn)+k, &p.Fixed[k].Strip)
			}
		}
	}
	return list
}

// add appends a loop. A cue ends when the next one begins: that one counts then.
func (t *LoopTrack) add(atS float64, e level.Energies) {
	if n := len(t.AtS); n > 0 && t.AtS[n-1] == atS {
		t.Loops[n-1] = e
		return
	}
	t.AtS, t.Loops = append(t.AtS, atS), append(t.Loops, e)
}
