package paper

import (
	"math"

	"backfield/cmd/backfield/show"
	"backfield/cue/clock"
	"backfield/cue/sheet"
)

// showLocator is what cue/sheet asks of the drill and the clock.
type showLocator struct {
	s *show.Show

	lastS float64 // the time that was asked for last, for it is asked of player after player
	last  clock.Moment
}

// at is the moment of a time, without the dust that going to seconds and back leaves on a count.
func (g *showLocator) at(atS float64) clock.Moment {
	if g.last.Movement == 0 || atS != g.lastS {
		m := g.s.Clock.At(atS)
		m.Elapsed = math.Round(m.Elapsed*1e4) / 1e4
		g.lastS, g.last = atS, m
	}
	return g.last
}

func (g *showLocator) Moment(atS float64) sheet.DrillMoment {
	m := g.at(atS)
	return sheet.DrillMoment{Movement: m.Movement, Count: m.Count(), Set: g.s.Clock.Set(m)}
}

func (g *showLocator) Place(player string, atS float64) (sheet.DrillPlace, bool) {
	d, ok := g.s.Drill.Player(player)
	if !ok {
		return sheet.DrillPlace{}, false
	}
	m := g.at(atS)
	if m.Movement > 1 && g.s.Clock.Seconds(m) > atS+1e-3 { // in the wait before a downbeat they walk to it as they like
		return sheet.DrillPlace{}, false
	}
	at, ok := d.At(g.s.Drill, m.Movement, m.Elapsed)
	return sheet.DrillPlace{Words: g.s.Drill.Field.Dot(at), XM: at.X, YM: at.Y}, ok
}

// Moment is where in the show a time is.
func (p *Papers) Moment(atS float64) sheet.DrillMoment { return (&showLocator{s: p.Show}).Moment(atS) }
