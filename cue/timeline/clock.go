package timeline

import (
	"fmt"

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
			p.Error("unknown-movement", s.Span, fmt.Sprintf("set %s is of movement %d, and the score has %d", s.Label,
				s.Movement, len(f.Score.Movements)), "add a [[movement]] to the score, or mend the number")
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
			var notes []source.Note
			if last := lastSet(f.Drill, i+1); last.File != nil {
				notes = append(notes, source.Note{Span: last,
					Text: fmt.Sprintf("movement %d's last set ends at count %g", i+1, v.Counts)})
			}
			p.Error("counts-sum", m.Counts.Span, fmt.Sprintf("movement %d has %d counts, and its sets add up to %g",
				i+1, m.Counts.V, v.Counts), "mend the counts of a set, or of the movement", notes...)
			v.Counts = max(v.Counts, float64(m.Counts.V)) // no cue is too late by the one alone
		case v.Counts == 0 && m.Counts.Set:
			v.Counts = float64(m.Counts.V)
		case v.Counts == 0 && m.File != nil && (m.Music == nil || m.Music.Least > 0): // the music says it
		case v.Counts == 0 && len(f.Drill.Sets) > 0:
			p.Error("counts-sum", m.Span, fmt.Sprintf("movement %d has neither sets nor counts", i+1),
				"write counts = N, or add its sets to the drill")
		}
		if m.Music != nil {
			holdAgainstMusic(f, i+1, sets, p)
			v.Counts = max(v.Counts, m.Music.Least) // no cue is too late by the one alone
		}
		for _, change := range m.Changes {
			if m.File == nil && v.Counts > 0 && change.At > v.Counts+1 && sureOf(f, i+1, v.Counts) {
				p.Warn("tempo-past-end", m.Span,
					fmt.Sprintf("movement %d changes tempo at count %g and has only %g counts", i+1, change.At,
						v.Counts), "mend the count")
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
	long := source.Count(music.Least, "count")
	if music.Most > music.Least {
		long = fmt.Sprintf("%g to %g counts", music.Least, music.Most)
	}
	notes := []source.Note{{Span: music.NamedAt, Text: fmt.Sprintf("%s: a count is %s; the movement ends after %s",
		music.Name, music.Beat, music.Place(music.Least-1))}}
	if music.EndAt.File != nil {
		notes = append(notes, source.Note{Span: music.EndAt, Text: "it ends here"})
	}
	const do = "mend the side that is wrong; to = \"m. N\" ends the movement before its file does"
	differs := func(counts float64) bool { return counts < music.Least-1e-6 || counts > music.Most+1e-6 }
	if sets > 0 && differs(sets) && !f.Drill.UnsureTime && !f.Drill.PartialSets {
		p.Error("music-length", lastSet(f.Drill, number),
			fmt.Sprintf("movement %d's sets add up to %g counts, and its music has %s", number, sets,
				long), do, notes...)
	}
	if m.Counts.Set && differs(float64(m.Counts.V)) {
		p.Error("music-length", m.Counts.Span, fmt.Sprintf("movement %d has %d counts, and its music %s", number,
			m.Counts.V, long), do, notes...)
	}
	if number > 1 && music.PickupS > m.WaitS+1e-9 {
		p.Warn("music-pickup", music.NamedAt,
			fmt.Sprintf("the pickup of movement %d sounds %.2f s before its downbeat, and only %g s lie between the movements", number, music.PickupS, m.WaitS), fmt.Sprintf("write wait = %.2f, or more", music.PickupS+0.005))
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
