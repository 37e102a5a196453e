package tonight

import (
	"fmt"
	"strings"

	"backfield/layout/table"
)

// Lays is what the plan lays over the rig; nil for nothing, and for no plan.
func (t *NightPlan) Lays() *table.Node {
	if t == nil {
		return nil
	}
	return t.Over
}

// NightEntry is one thing that a plan says of the night.
type NightEntry struct{ Of, Words string }

// Entries lists what a plan says, in the order of this package. Notes and readings are not among them: no cue depends on
// them.
func (t *NightPlan) Entries() []NightEntry {
	var list []NightEntry
	t.Without(func(e NightEntry) bool {
		list = append(list, e)
		return false
	})
	return list
}

// Without is the plan without some of its entries.
func (t *NightPlan) Without(leaves func(NightEntry) bool) *NightPlan {
	c := *t
	c.Absent = keep(t.Absent, leaves, func(x table.Text) NightEntry { return NightEntry{x.V, "absent"} })
	c.Substitutes = keep(t.Substitutes, leaves, func(x Substitute) NightEntry {
		return NightEntry{x.By.V, "plays for " + x.For.V}
	})
	c.Swapped = keep(t.Swapped, leaves, func(x PackSwap) NightEntry {
		return NightEntry{fmt.Sprintf("packs %s and %s", x.A.V, x.B.V), "swapped"}
	})
	c.Dead = keep(t.Dead, leaves, func(x DeadPack) NightEntry {
		if x.Spare.Set {
			return NightEntry{"pack " + x.Pack.V, fmt.Sprintf("dead, a spare on channel %d", x.Spare.V)}
		}
		return NightEntry{"pack " + x.Pack.V, "dead"}
	})
	c.Cuts = keep(t.Cuts, leaves, func(x table.Text) NightEntry { return NightEntry{x.V, "cut"} })
	if t.From.Set && leaves(NightEntry{"the show", "from " + t.From.V}) {
		c.From = table.Text{}
	}
	if t.Standing.Set && leaves(NightEntry{"everybody", "standing as in " + t.Standing.V}) {
		c.Standing = table.Text{}
	}
	if t.Air.Set && leaves(AirEntry) {
		c.Air = table.Quantity{}
	}
	return &c
}

// AirEntry is the air of the night, which is laid over the rig where that is read.
var AirEntry = NightEntry{"the air", "of tonight"}

func keep[T any](list []T, leaves func(NightEntry) bool, entry func(T) NightEntry) []T {
	var left []T
	for _, x := range list {
		if !leaves(entry(x)) {
			left = append(left, x)
		}
	}
	return left
}

// Lines are the notes of a night, and then what it says; none of no night.
func (t *NightPlan) Lines() []string {
	if t == nil {
		return nil
	}
	var list []string
	for _, x := range t.Notes {
		list = append(list, x.V)
	}
	for _, e := range t.Entries() {
		list = append(list, e.Of+": "+e.Words)
	}
	return list
}

// Short is the notes of a night, or without any what it says, in so many letters at most.
func (t *NightPlan) Short(most int) string {
	lines := t.Lines()
	if t != nil && len(t.Notes) > 0 {
		lines = lines[:len(t.Notes)]
	}
	text := strings.Join(lines, "; ")
	if letters := []rune(text); len(letters) > most {
		text = strings.TrimSpace(string(letters[:most-1])) + "…"
	}
	return text
}
