package drill

import (
	"fmt"

	"backfield/layout/source"
)

// mostOfAKind is how many problems of one kind are listed, each with its place. A season has a million dots, and one slip
// in the layout gives as many problems.
const mostOfAKind = 200

// flood takes the problems of dots: of each kind the first, then how many more there are.
type flood struct {
	p    *source.Problems
	seen map[floodKind]int
	more map[floodKind]*source.Problem // the first that is not listed
}

// floodKind is what problems have in common of which only the first are listed.
type floodKind struct {
	code     string
	severity source.Severity
}

func newFlood(p *source.Problems) flood {
	return flood{p, map[floodKind]int{}, map[floodKind]*source.Problem{}}
}

func (f *flood) add(x source.Problem) {
	k := floodKind{x.Code, x.Severity}
	f.seen[k]++
	switch n := f.seen[k]; {
	case n <= mostOfAKind:
		f.p.Add(x)
	case n == mostOfAKind+1:
		f.more[k] = &x
	}
}

// end says how many problems of each kind are not listed, at the place of the first of them.
func (f *flood) end() {
	for _, x := range f.more {
		f.p.Add(manyMore(*x, f.seen[floodKind{x.Code, x.Severity}]-mostOfAKind)) // which lists them by place
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
