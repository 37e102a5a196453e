package drill

import (
	"maps"
	"slices"
)

// With is the drill with other sets and players, each player with a dot for each set. Nothing of it is shared with d, so
// that it can be checked on its own.
func (d *Drill) With(sets []Set, players []Marcher) *Drill {
	c := *d
	c.Sets, c.Players = slices.Clone(sets), slices.Clone(players)
	c.byLabel, c.byPlayer = map[string]int{}, map[string]int{}
	for i, s := range c.Sets {
		c.byLabel[s.Label] = i
	}
	for i := range c.Players {
		c.Players[i].Dots = slices.Clone(c.Players[i].Dots)
		c.byPlayer[c.Players[i].Name] = i
	}
	c.spare, c.unlisted, c.strangers = newSpareDots(), maps.Clone(d.unlisted), nil
	return &c
}
