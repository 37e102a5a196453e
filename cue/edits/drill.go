package edits

import (
	"fmt"
	"math"
	"slices"

	"backfield/cue/timeline"
	"backfield/layout/drill"
	"backfield/layout/unit"
)

// drillEdits are the sets, and the dots of each player.
func drillEdits(old, new *timeline.Files) (list []FileEdit) {
	a, b := old.Drill, new.Drill
	if !same(a.Sets, b.Sets) {
		list = append(list, FileEdit{Of: "sets", Words: setWords(a.Sets, b.Sets), rank: undoFirst,
			undo: func(f *timeline.Files) { f.Drill = withSets(f.Drill, a) }})
	}
	otherField := !same(old.Rig.Field, new.Rig.Field) || !same(a.Field, b.Field)
	if otherField {
		list = append(list, FileEdit{Of: "rig", Words: "field, or the words of the dots", rank: undoFirst,
			undo: func(f *timeline.Files) {
				f.Rig.Field = old.Rig.Field
				players := slices.Clone(f.Drill.Players)
				for i := range players {
					if was, ok := a.Player(players[i].Name); ok {
						players[i] = unmeasured(f.Drill, players[i], a, was)
					}
				}
				f.Drill = f.Drill.With(f.Drill.Sets, players)
				f.Drill.Field = a.Field
			}})
	}
	list = append(list, playerDots(a, b, otherField)...)
	for _, is := range b.Players {
		if _, ok := a.Player(is.Name); !ok {
			list = append(list, FileEdit{Of: is.Name, Words: "new in the drill", Player: is.Name,
				undo: func(f *timeline.Files) {
					f.Drill = f.Drill.With(f.Drill.Sets, slices.DeleteFunc(slices.Clone(f.Drill.Players),
						func(m drill.Marcher) bool { return m.Name == is.Name }))
				}})
		}
	}
	for i := range a.Players {
		was := a.Players[i]
		if _, ok := b.Player(was.Name); !ok {
			list = append(list, FileEdit{Of: was.Name, Words: "gone from the drill", Player: was.Name,
				undo: func(f *timeline.Files) {
					back := drill.Marcher{Name: was.Name, Span: was.Span, Dots: make([]drill.Dot, len(f.Drill.Sets))}
					for k, s := range f.Drill.Sets {
						back.Dots[k] = dotAt(a, &was, s.Label)
					}
					f.Drill = f.Drill.With(f.Drill.Sets, slices.Insert(slices.Clone(f.Drill.Players),
						min(i, len(f.Drill.Players)), back))
				}})
		}
	}
	return list
}

// dotAt is a player's dot in the set with a label; not known for a set that the drill lacks.
func dotAt(d *drill.Drill, p *drill.Marcher, label string) drill.Dot {
	if i, ok := d.Set(label); ok {
		return p.Dots[i]
	}
	return drill.Dot{}
}

// written reports whether two dots are written in the same words.
func written(a, b drill.Dot) bool {
	return a.Known == b.Known && a.Plain == b.Plain && a.Words() == b.Words()
}

// unmeasured is a player with the old places of the dots that are written as they were.
func unmeasured(d *drill.Drill, p drill.Marcher, a *drill.Drill, was *drill.Marcher) drill.Marcher {
	p.Dots = slices.Clone(p.Dots)
	for i, s := range d.Sets {
		if o := dotAt(a, was, s.Label); written(o, p.Dots[i]) {
			p.Dots[i] = o
		}
	}
	return p
}

// withSets is the drill with the sets of another, and its own dots in those that it has.
func withSets(d, a *drill.Drill) *drill.Drill {
	players := slices.Clone(d.Players)
	for i := range players {
		dots := make([]drill.Dot, len(a.Sets))
		was, ok := a.Player(players[i].Name)
		for k, s := range a.Sets {
			switch at, has := d.Set(s.Label); {
			case has:
				dots[k] = players[i].Dots[at]
			case ok:
				dots[k] = was.Dots[k]
			}
		}
		players[i].Dots = dots
	}
	return d.With(a.Sets, players)
}

// mostSets is up to how many sets with a moved dot a player's dots are an edit for each set. Past that they are one edit:
// a new drill, which nobody reads set by set.
const mostSets = 8

// movedDots are the sets, by index, in which a player's dots differ, of those that both drills have.
func movedDots(a *drill.Drill, was *drill.Marcher, b *drill.Drill, is *drill.Marcher, otherField bool) (list []int) {
	for k, s := range b.Sets {
		if _, ok := a.Set(s.Label); !ok {
			continue
		}
		o, n := dotAt(a, was, s.Label), is.Dots[k]
		if (o.Known != n.Known || o.At != n.At) && !(otherField && written(o, n)) {
			list = append(list, k)
		}
	}
	return list
}

// playerDots are the edits of the dots of all players that both drills have.
func playerDots(a, b *drill.Drill, otherField bool) (list []FileEdit) {
	var moved [][]int
	each := true
	for i := range b.Players {
		var sets []int
		if was, ok := a.Player(b.Players[i].Name); ok {
			sets = movedDots(a, was, b, &b.Players[i], otherField)
		}
		moved = append(moved, sets)
		each = each && len(sets) <= mostSets
	}
	for i := range b.Players {
		is := &b.Players[i]
		was, _ := a.Player(is.Name)
		switch sets := moved[i]; {
		case len(sets) == 0:
		case each:
			for _, k := range sets {
				list = append(list, dotEdit(a, was, b, is, []int{k}))
			}
		default:
			list = append(list, dotEdit(a, was, b, is, sets))
		}
	}
	return list
}

// dotEdit is the edit of a player's dots in some sets.
func dotEdit(a *drill.Drill, was *drill.Marcher, b *drill.Drill, is *drill.Marcher, moved []int) FileEdit {
	e := FileEdit{Of: is.Name, Player: is.Name, Dots: true}
	var labels, steps []string
	for _, k := range moved {
		label := b.Sets[k].Label
		o, n := dotAt(a, was, label), is.Dots[k]
		labels = append(labels, label)
		words := "no dot any more"
		switch {
		case o.Known && n.Known:
			words = stepsWords(o.At, n.At)
			e.Steps = max(e.Steps, math.Hypot(n.At.X-o.At.X, n.At.Y-o.At.Y)/unit.StepM)
		case n.Known:
			words = "has a dot now"
		}
		if !slices.Contains(steps, words) {
			steps = append(steps, words)
		}
	}
	adjacent := moved[len(moved)-1]-moved[0]+1 == len(moved)
	e.Words = sets(labels, adjacent) + ": " + steps[0]
	if len(steps) > 1 {
		e.Words = fmt.Sprintf("%s: by up to %.1f steps", sets(labels, adjacent), e.Steps)
	}
	if len(labels) == 1 {
		e.Set = labels[0]
	}
	e.undo = func(f *timeline.Files) {
		players := slices.Clone(f.Drill.Players)
		for i := range players {
			if players[i].Name != is.Name {
				continue
			}
			players[i].Dots = slices.Clone(players[i].Dots)
			for k, s := range f.Drill.Sets {
				if slices.Contains(labels, s.Label) {
					players[i].Dots[k] = dotAt(a, was, s.Label)
				}
			}
		}
		f.Drill = f.Drill.With(f.Drill.Sets, players)
	}
	return e
}

func setWords(old, new []drill.Set) string {
	label := func(s drill.Set) string { return s.Label }
	m := matchNames(names(old, label), names(new, label))
	var words []string
	for j, i := range m.inOld {
		is := new[j]
		if i < 0 {
			words = append(words, "+"+is.Label)
			continue
		}
		was := old[i]
		if was.Counts != is.Counts {
			words = append(words, from("set "+is.Label+" counts", float64(was.Counts), float64(is.Counts), ""))
		}
		if was.Hold != is.Hold {
			words = append(words, from("set "+is.Label+" hold", float64(was.Hold), float64(is.Hold), ""))
		}
		if was.Movement != is.Movement {
			words = append(words, from("set "+is.Label+" movement", float64(was.Movement), float64(is.Movement), ""))
		}
		if !same(was.Facing, is.Facing) {
			was, is := orNone(was.Facing.Words()), orNone(is.Facing.Words())
			words = append(words, "set "+new[j].Label+" facing "+was+" -> "+is)
		}
	}
	for i, j := range m.inNew {
		if j < 0 {
			words = append(words, "-"+old[i].Label)
		}
	}
	if len(words) == 0 {
		return "in another order"
	}
	return few(words)
}
