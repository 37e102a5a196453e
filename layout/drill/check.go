package drill

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"backfield/layout"
	"backfield/layout/field"
	"backfield/layout/source"
	"backfield/layout/unit"
)

// What can be marched (common practice): 6 steps to 5 yards is 30 in; at twice that, nobody can play.
const (
	longStepM      = 30 * unit.InchM
	impossibleM    = 60 * unit.InchM
	sustainedFrom  = 8 // counts: a long step over fewer is a leap, which drill writers do use
	closeM         = unit.StepM / 2
	pitM           = 16 * unit.StepM // in front of the front sideline, where the pit is
	offFieldM      = 8 * unit.StepM  // farther out than this is a typing mistake
	boundarySlackM = unit.StepM / 2
)

// Check reports what is likely wrong in the drill: steps that nobody can march, missing dots, players on top
// of one another, dots off the field. These are nearly always typing mistakes.
func (d *Drill) Check(p *source.Problems) {
	if len(d.Sets) == 0 {
		return
	}
	if s := d.Sets[0]; s.Counts > s.Hold {
		p.Add(firstSetCounts(s.CountsAt, s.Counts))
	}
	empty := map[int]bool{}
	for i, s := range d.Sets {
		if len(d.Players) > 1 && !d.PartialDots && !d.PartialSets &&
			!slices.ContainsFunc(d.Players, func(x Marcher) bool { return x.Dots[i].Known }) {
			empty[i] = true
			p.Add(emptySet(s.Span, s.Label))
		}
	}
	for i := range d.Players {
		if !d.PartialDots && !d.PartialSets {
			d.checkMissing(&d.Players[i], empty, p)
		}
		d.checkPlaces(&d.Players[i], p)
		d.checkSteps(&d.Players[i], p)
	}
	for i := range d.Sets {
		d.checkClose(i, p)
	}
}

func (d *Drill) checkMissing(player *Marcher, empty map[int]bool, p *source.Problems) {
	first, last := -1, -1
	for i, dot := range player.Dots {
		if dot.Known {
			if first < 0 {
				first = i
			}
			last = i
		}
	}
	var gaps, ends []string
	for i, dot := range player.Dots {
		switch {
		case dot.Known || empty[i]:
		case i > first && i < last:
			gaps = append(gaps, d.Sets[i].Label)
		default:
			ends = append(ends, d.Sets[i].Label)
		}
	}
	if len(gaps) > 0 {
		p.Add(gapInDots(player, gaps))
	}
	if len(ends) > 0 {
		p.Add(noDotAtEnds(player, ends))
	}
}

func sets(labels []string) string {
	word := "set "
	if len(labels) > 1 {
		word = "sets "
	}
	if len(labels) > 8 {
		return fmt.Sprintf("%s%s and %d more", word, strings.Join(labels[:8], ", "), len(labels)-8)
	}
	return word + strings.Join(labels, ", ")
}

func (d *Drill) checkPlaces(player *Marcher, p *source.Problems) {
	for i, dot := range player.Dots {
		if !dot.Known || dot.Bad {
			continue
		}
		by, where := d.Field.Outside(dot.At)
		if by <= boundarySlackM || dot.At.Y < 0 && by <= pitM && where == "in front of the front sideline" {
			continue
		}
		what := fmt.Sprintf("%s is %.1f steps %s in set %s", player.Name, by/unit.StepM, where, d.Sets[i].Label)
		if by > offFieldM {
			p.Add(farOffField(dot.Span, what))
		} else {
			p.Add(offField(dot.Span, what))
		}
	}
}

func (d *Drill) checkSteps(player *Marcher, p *source.Problems) {
	for i := 1; i < len(d.Sets); i++ {
		s := d.Sets[i]
		from, to := player.Dots[i-1], player.Dots[i]
		if !from.Known || !to.Known || from.Bad || to.Bad || s.Unsure ||
			s.Movement != d.Sets[i-1].Movement && s.Counts == 0 {
			continue // between movements there is time to walk
		}
		dist := planDistance(from.At, to.At)
		walk := s.Arrive - s.Begin
		way := fmt.Sprintf("%s walks %.1f steps into set %s (from %q)", player.Name, field.Steps(from.At, to.At),
			s.Label, from.Words())
		if walk == 0 {
			if dist > closeM {
				p.Add(walkInHold(from, to, way))
			}
			continue
		}
		step := dist / float64(walk)
		size := fmt.Sprintf("%s in %s: %.0f inches a step, %.1f to 5 yards", way, source.Count(float64(walk), "count"),
			step/unit.InchM, 5*unit.YardM/step)
		switch {
		case step > impossibleM:
			p.Add(impossibleStep(from, to, walk, size))
		case step > longStepM*(1+1e-9) && walk >= sustainedFrom || step > longStepM*1.5:
			p.Add(longStep(from, to, size))
		}
	}
}

// mirrorHint checks whether the other side would have been within reach.
func mirrorHint(from, to layout.Point, walk int) string {
	mirrored := layout.Point{X: -to.X, Y: to.Y}
	if planDistance(from, mirrored)/float64(walk) <= longStepM {
		return "probably the wrong side: the same dot on the other side is within reach"
	}
	return "probably a wrong side, yard line, hash or sideline"
}

// checkClose finds players within half a step of one another in set i: each is compared with those in the
// cells around their own, so that the cost stays linear.
func (d *Drill) checkClose(i int, p *source.Problems) {
	type cell struct{ x, y int64 }
	cells := map[cell][]*Marcher{}
	var near []*Marcher // of the player who is looked at
	for n := range d.Players {
		player := &d.Players[n]
		dot := &player.Dots[i]
		if !dot.Known || dot.Bad {
			continue
		}
		at := cell{int64(math.Floor(dot.At.X / closeM)), int64(math.Floor(dot.At.Y / closeM))}
		near = near[:0]
		for dx := int64(-1); dx <= 1; dx++ {
			for dy := int64(-1); dy <= 1; dy++ {
				near = append(near, cells[cell{at.x + dx, at.y + dy}]...)
			}
		}
		for _, other := range near {
			if distM := planDistance(dot.At, other.Dots[i].At); distM < closeM-1e-9 {
				p.Add(tooClose(dot.Span, player.Name, other.Name, other.Dots[i].Span, d.Sets[i].Label, distM))
				break // one is enough to look at the dot: a crowd has as many pairs as the square of its size
			}
		}
		cells[at] = append(cells[at], player)
	}
}
