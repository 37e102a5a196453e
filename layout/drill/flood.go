package drill

import (
	"fmt"
	"maps"
	"slices"

	"backfield/layout/source"
)

// mostOfAKind is how many warnings of one kind are listed, each with its place. A season has a million dots, and one slip
// in the layout gives as many warnings.
const mostOfAKind = 200

// flood takes the problems of dots: all errors, and of each kind of warning the first, then how many more there are.
type flood struct {
	p    *source.Problems
	seen map[string]int
	more map[string]*source.Problem // the first warning of a kind that is not listed
}

func (f *flood) add(x source.Problem) {
	if x.Severity == source.Error {
		f.p.Add(x)
		return
	}
	f.seen[x.Code]++
	switch n := f.seen[x.Code]; {
	case n <= mostOfAKind:
		f.p.Add(x)
	case n == mostOfAKind+1:
		f.more[x.Code] = &x
	}
}

// end says how many warnings of each kind are not listed, at the place of the first of them.
func (f *flood) end() {
	for _, code := range slices.Sorted(maps.Keys(f.more)) {
		f.p.Add(manyMore(*f.more[code], f.seen[code]-mostOfAKind))
	}
}

// thousands writes a whole number with a comma every three digits.
func thousands(n int) string {
	text := fmt.Sprint(n)
	for i := len(text) - 3; i > 0; i -= 3 {
		text = text[:i] + "," + text[i:]
	}
	return text
}
