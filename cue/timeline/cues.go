package timeline

import (
	"slices"

	"backfield/cue/clock"
	"backfield/cue/score"
	"backfield/layout/source"
)

// MomentOf finds the moment of a count, or reports why there is none, unless the cause is something
// reported already.
func MomentOf(
	f *Files, c *clock.Clock, count clock.ShowCount, at source.Span, p *source.Problems,
) (m clock.Moment, ok bool) {
	if len(c.Movements) == 0 {
		return m, false
	}
	m, fault := c.Resolve(count)
	if fault == nil {
		return m, true
	}
	code, sure := "unreadable-count", true
	_, listed := f.Drill.Set(count.Set)
	switch {
	case count.Musical() && musicLost(f.Score, count.Movement):
		sure = false
	case count.Set != "" && !listed:
		code, sure = "unknown-set", !f.Drill.MayHold(count.Set)
	case count.Set != "" && m.Movement == 0: // a set of a movement that does not exist
		sure = false
	case m.Movement > 0 && m.Movement <= len(c.Movements): // too early or too late in its movement
		sure = sureOf(f, m.Movement, c.Movements[m.Movement-1].Counts)
	}
	if sure {
		p.Error(code, at, fault.What, fault.Do)
	}
	return m, false
}

// sureOf reports whether the length of a movement is known. Of music that could not be read it is not, unless sets or
// counts give it.
func sureOf(f *Files, movement int, counts float64) bool {
	m := f.Score.Movements[movement-1]
	if m.File != nil && m.Music == nil && counts == 0 {
		return false
	}
	return !f.Drill.UnsureTime && !f.Drill.PartialSets || m.Counts.Set || m.Music != nil
}

// musicLost reports whether music that a count may refer to, of a movement or of any (0), could not be read.
func musicLost(s *score.Score, movement int) bool {
	for i, m := range s.Movements {
		if (movement == 0 || movement == i+1) && m.File != nil && m.Music == nil {
			return true
		}
	}
	return false
}

// PlaceCues finds each cue's moment and puts the cues in order of time. Those whose moment cannot be found are
// unplaced.
func PlaceCues(f *Files, c *clock.Clock, p *source.Problems) (placed []Placed, unplaced []*score.Cue) {
	var before clock.Moment // of the cue before
	known := false
	for i := range f.Score.Cues {
		q := &f.Score.Cues[i]
		m, ok := clock.Moment{}, false
		switch {
		case q.Placed:
			m, ok = MomentOf(f, c, q.Position, q.At.Span, p)
		case q.AfterCounts > 0 && known:
			q.Position = clock.ShowCount{Movement: before.Movement, Count: before.Count() + q.AfterCounts}
			q.At.V = q.Position.String()
			m, ok = MomentOf(f, c, q.Position, q.At.Span, p)
		}
		before, known = m, ok
		if !ok {
			unplaced = append(unplaced, q)
			continue
		}
		if n := len(placed); n > 0 && m.Before(placed[n-1].At) && !f.Drill.UnsureTime {
			p.Add(outOfOrder(q, placed[n-1].Cue))
		}
		placed = append(placed, Placed{q, m})
	}
	slices.SortStableFunc(placed, func(a, b Placed) int { return a.At.Compare(b.At) })
	for i := 1; i < len(placed); i++ {
		a, b := placed[i-1], placed[i]
		if !a.At.Before(b.At) && !(f.Drill.UnsureTime && a.Cue.Position.Set != b.Cue.Position.Set) {
			p.Add(sameMoment(a.Cue, b.Cue))
		}
	}
	if len(f.Score.Cues) == 0 && !f.Score.Partial {
		p.Warn("no-cues", f.Score.File.Whole(), "the score has no cue", "add [[cue]] entries with id, at and open")
	}
	return placed, unplaced
}
