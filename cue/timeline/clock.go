package timeline

import (
	"backfield/cue/clock"
	"backfield/layout/drill"
	"backfield/layout/source"
)

// NewClock joins the score's tempo and the sets' counts.
func NewClock(f *Files, p *source.Problems) *clock.Clock {
	c := &clock.Clock{Sets: arrivals(f, p)}
	startS := 0.0
	for i, m := range f.Score.Movements {
		v := clock.MovementTime{
			Name: m.Name, Counts: countsOf(f, i+1, p), StartS: startS + m.WaitS,
			Tempo: clock.NewTempo(m.Changes), Music: m.Music,
		}
		for _, change := range m.Changes {
			if m.File == nil && v.Counts > 0 && change.At > v.Counts+1 && sureOf(f, i+1, v.Counts) {
				p.Add(tempoPastEnd(i+1, m.Span, change.At, v.Counts))
			}
		}
		startS = v.StartS + v.Tempo.Seconds(v.Counts)
		c.Movements = append(c.Movements, v)
	}
	c.Leave(f.cuts())
	return c
}

// arrivals are when the sets are reached, of the movements that the score has.
func arrivals(f *Files, p *source.Problems) []clock.SetArrival {
	var list []clock.SetArrival
	for _, s := range f.Drill.Sets {
		movements := len(f.Score.Movements)
		switch {
		case s.Movement <= movements:
			at := clock.Moment{Movement: s.Movement, Elapsed: float64(s.Arrive)}
			list = append(list, clock.SetArrival{Label: s.Label, At: at})
		case movements > 0 && !s.Moved: // else what this comes of is reported
			p.Add(unknownMovement(s, movements))
		}
	}
	return list
}

// countsOf is how long a movement is: what its sets add up to, what the score says and what its music has. Where they
// differ it is the longest, so that no cue is too late by one of them alone.
func countsOf(f *Files, number int, p *source.Problems) float64 {
	m := f.Score.Movements[number-1]
	sets, said := float64(f.Drill.Counts(number)), float64(m.Counts.V)
	counts := sets
	switch {
	case f.Drill.UnsureTime || f.Drill.PartialSets: // what the sets add up to is not known
		counts = max(sets, said)
	case m.Counts.Set && sets > 0 && sets != said:
		p.Add(otherSum(number, m.Counts, sets, lastSet(f.Drill, number)))
		counts = max(sets, said)
	case sets == 0 && m.Counts.Set:
		counts = said
	case sets == 0 && m.File != nil && (m.Music == nil || m.Music.Least > 0): // the music says it
	case sets == 0 && len(f.Drill.Sets) > 0:
		p.Add(noCounts(number, m.Span))
	}
	if m.Music == nil {
		return counts
	}
	checkMusic(f, number, sets, p)
	return max(counts, m.Music.Least)
}

// checkMusic compares a movement's counts, those that its sets add up to and those that the score says, with the length
// of its music; and its wait with a pickup.
func checkMusic(f *Files, number int, sets float64, p *source.Problems) {
	m := f.Score.Movements[number-1]
	music := m.Music
	differs := func(counts float64) bool { return counts < music.Least-1e-6 || counts > music.Most+1e-6 }
	if sets > 0 && differs(sets) && !f.Drill.UnsureTime && !f.Drill.PartialSets {
		p.Add(setsAndMusic(number, sets, music, lastSet(f.Drill, number)))
	}
	if m.Counts.Set && differs(float64(m.Counts.V)) {
		p.Add(countsAndMusic(number, m.Counts, music))
	}
	if number > 1 && music.PickupS > m.WaitS+1e-9 {
		p.Add(pickupInWait(number, music, m.WaitS))
	}
}

func lastSet(d *drill.Drill, movement int) source.Span {
	span := source.Span{}
	for _, s := range d.Sets {
		if s.Movement == movement {
			span = s.CountsAt
		}
	}
	return span
}
