package timeline

import (
	"backfield/cue/clock"
	"backfield/layout/drill"
	"backfield/layout/source"
)

// NewClock joins the score's tempo and the sets' counts.
func NewClock(f *Files, p *source.Problems) *clock.Clock {
	c := &clock.Clock{}
	for _, s := range f.Drill.Sets {
		if s.Movement > len(f.Score.Movements) {
			if len(f.Score.Movements) == 0 || s.Moved {
				continue // that is reported, not what comes of it
			}
			p.Add(unknownMovement(s, len(f.Score.Movements)))
			continue
		}
		c.Sets = append(c.Sets, clock.Arrival{Label: s.Label,
			At: clock.Moment{Movement: s.Movement, Elapsed: float64(s.Arrive)}})
	}
	start := 0.0
	for i, m := range f.Score.Movements {
		v := clock.Movement{Name: m.Name, Counts: float64(f.Drill.Counts(i + 1)), Tempo: clock.NewTempo(m.Changes),
			Music: m.Music}
		sets := v.Counts
		switch {
		case f.Drill.UnsureTime || f.Drill.PartialSets: // what the sets add up to is not known
			v.Counts = max(v.Counts, float64(m.Counts.V))
		case m.Counts.Set && v.Counts > 0 && v.Counts != float64(m.Counts.V):
			p.Add(otherSum(i+1, m.Counts, v.Counts, lastSet(f.Drill, i+1)))
			v.Counts = max(v.Counts, float64(m.Counts.V)) // no cue is too late by the one alone
		case v.Counts == 0 && m.Counts.Set:
			v.Counts = float64(m.Counts.V)
		case v.Counts == 0 && m.File != nil && (m.Music == nil || m.Music.Least > 0): // the music says it
		case v.Counts == 0 && len(f.Drill.Sets) > 0:
			p.Add(noCounts(i+1, m.Span))
		}
		if m.Music != nil {
			holdAgainstMusic(f, i+1, sets, p)
			v.Counts = max(v.Counts, m.Music.Least) // no cue is too late by the one alone
		}
		for _, change := range m.Changes {
			if m.File == nil && v.Counts > 0 && change.At > v.Counts+1 && sureOf(f, i+1, v.Counts) {
				p.Add(tempoPastEnd(i+1, m.Span, change.At, v.Counts))
			}
		}
		v.StartS = start + m.WaitS
		start = v.StartS + v.Tempo.Seconds(v.Counts)
		c.Movements = append(c.Movements, v)
	}
	return c
}

// holdAgainstMusic holds a movement's counts, those that its sets add up to and those that the score says, against
// the length of its music; and its wait against a pickup.
func holdAgainstMusic(f *Files, number int, sets float64, p *source.Problems) {
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
