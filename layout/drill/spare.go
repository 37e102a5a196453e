package drill

import (
	"cmp"
	"maps"
	"slices"

	"backfield/layout/source"
)

// spareDots counts the rows of dots that went to nobody, since their set or their player is wrong: where the dots that
// seem to be missing most likely are. Those rows are reported, and their absence is not another mistake.
type spareDots struct {
	bySet    map[int]int
	byPlayer map[string]int
}

func newSpareDots() spareDots { return spareDots{map[int]int{}, map[string]int{}} }

// add counts a row that names a set, if it is known, and a player, if there is one.
func (s *spareDots) add(set int, known bool, player string) {
	if known {
		s.bySet[set]++
	}
	if player != "" {
		s.byPlayer[player]++
	}
}

// take reports whether a dot that a player lacks in a set is most likely one of the rows that went to nobody.
func (s *spareDots) take(set int, player string) bool {
	switch {
	case s.byPlayer[player] > 0:
		s.byPlayer[player]--
	case s.bySet[set] > 0:
		s.bySet[set]--
	default:
		return false
	}
	return true
}

// reportUnlisted reports the sets that dots are in and that the list of sets lacks, by their labels: at which rows. Where
// the list has a label twice, one of the two is most likely the set that has the most dots here, and that is one mistake.
// So is a set of the list that has no dots, where there are dots in one that it lacks.
func (d *Drill) reportUnlisted(strange map[string][]source.Span, p *source.Problems) {
	labels := slices.SortedFunc(maps.Keys(strange), func(a, b string) int {
		return cmp.Or(cmp.Compare(len(strange[b]), len(strange[a])),
			cmp.Compare(strange[a][0].Start, strange[b][0].Start))
	})
	var empty []int
	for i := range d.Sets {
		if len(d.Players) > 0 && d.isEmpty(i) {
			empty = append(empty, i)
		}
	}
	for n, label := range labels {
		d.unlisted[label] = true
		isSet := 2*len(strange[label]) > len(d.Players) // and no slip in a row
		switch {
		case isSet && n < d.twice:
		case isSet && len(empty) > 0:
			p.Add(otherLabel(strange[label], label, d.Sets[empty[0]]))
			d.renamed, empty = append(d.renamed, empty[0]), empty[1:]
		default:
			p.Add(unknownSet(strange[label], label, d.Labels()))
		}
	}
}

// isEmpty reports whether nobody has a dot in a set.
func (d *Drill) isEmpty(set int) bool {
	return !slices.ContainsFunc(d.Players, func(x Marcher) bool { return x.Dots[set].Known })
}
