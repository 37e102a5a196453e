package linecheck

import (
	"fmt"
	"slices"
	"strings"
)

// Fix is a row of tonight.toml: a pack that stays closed tonight, or two packs that hang on each other's player.
type Fix struct {
	Kind  FixKind  `json:"kind"`
	Packs []string `json:"packs"`
}

// FixKind is the key of the row.
type FixKind string

// The kinds.
const (
	Dead    FixKind = "dead"
	Swapped FixKind = "swapped"
)

// whole reports whether a fix has what its row needs.
func (f *Fix) whole() bool {
	packs := map[FixKind]int{Dead: 1, Swapped: 2}[f.Kind]
	return packs > 0 && len(f.Packs) == packs && !slices.Contains(f.Packs, "")
}

// Same reports whether two fixes are the same row. Of a swap the order does not matter.
func (f *Fix) Same(g Fix) bool {
	a, b := slices.Sorted(slices.Values(f.Packs)), slices.Sorted(slices.Values(g.Packs))
	return f.Kind == g.Kind && slices.Equal(a, b)
}

// String says what the fix does.
func (f *Fix) String() string {
	if f.Kind == Swapped {
		return fmt.Sprintf("%s and %s count as swapped tonight", f.Packs[0], f.Packs[1])
	}
	return f.Packs[0] + " stays closed tonight"
}

// covers reports whether a fix answers what was found about a pack.
func (f *Fix) covers(pack string, r PackVerdict) bool {
	if !slices.Contains(f.Packs, pack) {
		return false
	}
	return f.Kind == Swapped && r == WrongPlayer || f.Kind == Dead && r.Failed()
}

// Covered reports whether one of some fixes answers what was found about a pack.
func Covered(fixes []Fix, e CheckEntry) bool {
	return slices.ContainsFunc(fixes, func(f Fix) bool { return f.covers(e.Pack, e.Result) })
}

// swappedWith is the index of the pack that was swapped with another one: each was heard from the other's player. It is
// -1 if that is not known.
func (c *Check) swappedWith(i int) int {
	if c.found[i].Result != WrongPlayer {
		return -1
	}
	for j := range c.packs {
		if j != i && c.found[j].Result == WrongPlayer && c.found[i].Heard == c.packs[j].Player &&
			c.found[j].Heard == c.packs[i].Player {
			return j
		}
	}
	return -1
}

// ring lists the packs of three or more players who each have the next one's pack, from pack i on; nil for none.
func (c *Check) ring(i int) (list []int) {
	for at := i; ; {
		if list = append(list, at); c.found[at].Result != WrongPlayer {
			return nil
		}
		next := slices.IndexFunc(c.packs, func(p CheckedPack) bool { return p.Player == c.found[at].Heard })
		switch {
		case next == i && len(list) > 2:
			return list
		case next < 0 || slices.Contains(list, next):
			return nil
		}
		at = next
	}
}

// fixOf is the row that answers what was found about a pack; ok is false if no row does, or it is written already.
func (c *Check) fixOf(i int) (f Fix, ok bool) {
	switch j := c.swappedWith(i); {
	case j >= 0:
		f = Fix{Swapped, []string{c.packs[min(i, j)].Pack, c.packs[max(i, j)].Pack}}
	case c.found[i].Result == NoSound || c.found[i].Result == Noise:
		f = Fix{Dead, []string{c.packs[i].Pack}}
	}
	if !f.whole() || c.fixed(i) {
		return f, false
	}
	return f, true
}

// fixed reports whether a row of tonight.toml answers what was found about a pack.
func (c *Check) fixed(i int) bool {
	e := CheckEntry{Pack: c.packs[i].ID(), Result: c.found[i].Result}
	return Covered(c.fixes, e)
}

// Offer is the fix that one key would write now: of what was found last and has a fix. ok is false if there is none.
func (c *Check) Offer() (f Fix, ok bool) {
	for _, i := range slices.Backward(c.judged) {
		if f, ok := c.fixOf(i); ok {
			return f, true
		}
	}
	return f, false
}

// offerWords says what was found that a fix answers, and what the key does.
func (c *Check) offerWords() string {
	f, ok := c.Offer()
	if !ok {
		return ""
	}
	var who []string
	for _, pack := range f.Packs {
		i := slices.IndexFunc(c.packs, func(p CheckedPack) bool { return p.Pack == pack })
		who = append(who, c.packs[i].Player)
		if f.Kind == Dead {
			return fmt.Sprintf("%s (%s): %s. To leave it closed tonight", c.packs[i].ID(), c.packs[i].Player,
				c.found[i].Result)
		}
	}
	return fmt.Sprintf("SWAPPED PACKS: %s have each other's pack (%s). To have the show go by that tonight",
		strings.Join(who, " and "), strings.Join(f.Packs, ", "))
}

// swapWords says at once what two or more wrong players show together; empty for nothing.
func (c *Check) swapWords(i int) string {
	if j := c.swappedWith(i); j >= 0 {
		return fmt.Sprintf("SWAPPED PACKS: %s and %s have each other's pack", c.packs[j].Player, c.packs[i].Player)
	}
	if list := c.ring(i); list != nil {
		var words []string
		for _, at := range list {
			words = append(words, fmt.Sprintf("%s has %s", c.found[at].Heard, c.packs[at].ID()))
		}
		return "MIXED-UP PACKS: " + strings.Join(words, ", ") + ": have them trade back, then check these again"
	}
	return ""
}
