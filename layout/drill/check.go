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
// of one another, dots off the field. These are nearly always typing mistakes. The dots of strangers,
// whom the caller reports since nobody knows the names, are most likely those that other players lack.
func (d *Drill) Check(strangers []string, p *source.Problems) {
	if len(d.Sets) == 0 {
		return
	}
	if d.stands {
		d.first().Check(strangers, p)
		return
	}
	if s := d.Sets[0]; s.Counts > s.Hold {
		p.Add(firstSetCounts(s.CountsAt, s.Counts))
	}
	empty := map[int]bool{}
	for i, s := range d.Sets {
		if len(d.Players) > 1 && !d.PartialDots && !d.PartialSets && d.isEmpty(i) {
			empty[i] = true
			if !slices.Contains(d.renamed, i) {
				p.Add(emptySet(s.Span, s.Label))
			}
		}
	}
	for _, x := range d.Players {
		for i, dot := range x.Dots {
			if dot.Known && slices.Contains(strangers, x.Name) {
				d.spare.add(i, true, "")
			}
		}
	}
	list := newFlood(p)
	for i := range d.Players {
		if !d.PartialDots && !d.PartialSets && !slices.Contains(strangers, d.Players[i].Name) {
			d.checkMissing(&d.Players[i], empty, &list)
		}
		d.checkPlaces(&d.Players[i], &list)
		d.checkSteps(&d.Players[i], &list)
	}
	for i := range d.Sets {
		d.checkClose(i, &list)
	}
	list.end()
}

func (d *Drill) checkMissing(player *Marcher, empty map[int]bool, p *flood) {
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
		case dot.Known:
		case empty[i] || d.spare.take(i, player.Name):
			player.Dots[i].Reported = true
		case i > first && i < last:
			player.Dots[i].Reported = true
			gaps = append(gaps, d.Sets[i].Label)
		default:
			ends = append(ends, d.Sets[i].Label)
		}
	}
	if len(gaps) > 0 {
		p.add(gapInDots(player, gaps))
	}
	if len(ends) > 0 {
		p.add(noDotAtEnds(player, ends))
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

// checkPlaces reports dots off the field. What is far off is a mistake, and its steps are not looked at.
func (d *Drill) checkPlaces(player *Marcher, p *flood) {
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
			p.add(farOffField(player.Where(i), what))
			player.Dots[i].Bad = true
		} else {
			p.add(offField(player.Where(i), what))
		}
	}
}

// checkSteps reports steps that are too long. A dot that is wrong makes two of them: the one out of it is not reported
// again where the players could walk past it.
func (d *Drill) checkSteps(player *Marcher, p *flood) {
	for i := 1; i < len(d.Sets); i++ {
		s := d.Sets[i]
		from, to := player.Dots[i-1], player.Dots[i]
		if !from.Known || !to.Known || from.Bad || to.Bad || s.Unsure ||
			s.Movement != d.Sets[i-1].Movement && s.Counts == 0 {
			continue // between movements there is time to walk
		}
		if i > 1 && from.blamed && d.passes(player, i) {
			continue
		}
		player.Dots[i].blamed = d.checkStep(player, i, from, to, p)
	}
}

// passes reports whether a player could walk from the dot before the last one to that of set i at steps of a usual size.
func (d *Drill) passes(player *Marcher, i int) bool {
	from, last, s := player.Dots[i-2], d.Sets[i-1], d.Sets[i]
	counts := last.Arrive - last.Begin + s.Arrive - s.Begin
	return from.Known && !from.Bad && planDistance(from.At, player.Dots[i].At) <= longStepM*float64(counts)
}

// checkStep reports whether the steps of a player into set i are too long, and says so.
func (d *Drill) checkStep(player *Marcher, i int, from, to Dot, p *flood) (wrong bool) {
	s := d.Sets[i]
	dist := planDistance(from.At, to.At)
	walk := s.Arrive - s.Begin
	way := fmt.Sprintf("%s walks %.1f steps into set %s (from %q)", player.Name, field.Steps(from.At, to.At),
		s.Label, player.Words(i-1))
	if walk == 0 {
		if dist > closeM {
			p.add(walkInHold(player, i, way))
		}
		return dist > closeM
	}
	step := dist / float64(walk)
	size := fmt.Sprintf("%s in %s: %.0f inches a step, %.1f to 5 yards", way, source.Count(float64(walk), "count"),
		step/unit.InchM, 5*unit.YardM/step)
	switch {
	case step > impossibleM:
		p.add(impossibleStep(player, i, walk, size))
		return true
	case step > longStepM*(1+1e-9) && walk >= sustainedFrom || step > longStepM*1.5:
		p.add(longStep(player, i, size))
		return true
	}
	return false
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
func (d *Drill) checkClose(i int, p *flood) {
	type cell struct{ x, y int64 }
	cells := map[cell][]*Marcher{}
	var near []*Marcher // of the player who is looked at
	for n := range d.Players {
		player := &d.Players[n]
		dot := &player.Dots[i]
		if !dot.Known || dot.Bad || dot.blamed {
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
				p.add(tooClose(player.Where(i), player.Name, other.Name, other.Where(i), d.Sets[i].Label, distM))
				break // one is enough to look at the dot: a crowd has as many pairs as the square of its size
			}
		}
		cells[at] = append(cells[at], player)
	}
}
