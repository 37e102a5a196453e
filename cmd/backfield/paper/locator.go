package paper

import (
	"math"

	"backfield/cmd/backfield/show"
	"backfield/cue/clock"
	"backfield/cue/sheet"
)

// showLocator answers what cue/sheet asks about the drill and the clock of a show.
type showLocator struct {
	s *show.Loaded

	lastS float64 // the last time asked for, since cue/sheet asks about one player after another
	last  clock.Moment
}

// at is the moment of a time, without the rounding errors that the way to seconds and back adds to a count.
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
	if m.Movement > 1 && g.s.Clock.Seconds(m) > atS+1e-3 { // in the wait between movements, places are unknown
		return sheet.DrillPlace{}, false
	}
	at, ok := d.At(g.s.Drill, m.Movement, m.Elapsed)
	return sheet.DrillPlace{Words: g.s.Drill.Field.Dot(at), XM: at.X, YM: at.Y}, ok
}

// Moment is the movement, count and set of a time, in seconds from the first downbeat.
func (p *Papers) Moment(atS float64) sheet.DrillMoment { return (&showLocator{s: p.Show}).Moment(atS) }
