package drill

import (
	"fmt"
	"runtime"
	"strings"
	"testing"

	"backfield/layout/field"
	"backfield/layout/source"
)

// With an error on every dot it is the same: far off the field, steps that nobody can march, no yard line, words of no
// dot, each of them another.
func TestFloodOfErrors(t *testing.T) {
	const players, sets = 200, 30
	college, _ := field.ByCode("college")
	for name, c := range map[string]struct {
		lateral func(s, i int) string
		listed  int
		want    string
	}{
		"off":   {func(s, i int) string { return fmt.Sprintf("S1 %d outside 0", 40+i) }, mostOfAKind + 1, "and 5,799 more errors"},
		"steps": {func(s, i int) string { return fmt.Sprintf("S%d %d outside 15", 1+s%2, i%20) }, 2 * (mostOfAKind + 1), "more errors"},
		"yard":  {func(s, i int) string { return "S1 2 inside 37" }, mostOfAKind + 1, "and 5,799 more errors"},
		"words": {func(s, i int) string { return "S1 2 inside " + strings.Repeat("y", s+1) + strings.Repeat("x", i) },
			2*mostOfAKind + 1, "more errors"},
	} {
		list := "set,movement,counts\n"
		for s := range sets {
			list += fmt.Sprintf("%d,1,%d\n", s+1, min(8*s, 8))
		}
		var dots strings.Builder
		dots.WriteString("set,player,lateral,depth\n")
		for s := range sets {
			for i := range players {
				fmt.Fprintf(&dots, "%d,T%d,%s,%d behind FH\n", s+1, i+1, c.lateral(s, i), i/20)
			}
		}
		var p source.Problems
		d := Read(Sheets{Sets: &source.File{Text: list}, Dots: &source.File{Text: dots.String()}}, college, &p)
		d.Check(nil, &p)
		said := ""
		for _, x := range p.All() {
			said += x.What + "\n"
		}
		if n := len(p.All()); n > c.listed || n < mostOfAKind || !strings.Contains(said, c.want) {
			t.Errorf("%s: %d problems, want %d at most, or no %q:\n%.300s", name, n, c.listed, c.want, said)
		}
	}
}

// With a warning on every dot, only the first of a kind are kept, and how many more there are is said. What is kept stays
// a small multiple of the sheet's size.
func TestFlood(t *testing.T) {
	const players, sets = 400, 30
	var list strings.Builder
	list.WriteString("set,movement,counts\n")
	for s := range sets {
		fmt.Fprintf(&list, "%d,1,%d\n", s+1, min(8*s, 8))
	}
	var dots strings.Builder
	dots.WriteString("set,player,lateral,depth\n")
	for s := range sets {
		for i := range players {
			fmt.Fprintf(&dots, "%d,T%d,on 50,on FH\n", s+1, i+1)
		}
	}
	college, _ := field.ByCode("college")
	in := Sheets{Sets: &source.File{Text: list.String()}, Dots: &source.File{Text: dots.String()}}
	before := inUse()
	var p source.Problems
	d := Read(in, college, &p)
	d.Check(nil, &p)
	kept := (inUse() - before) / float64(len(in.Dots.Text))
	found := p.All()
	if len(found) != mostOfAKind+1 || len(d.Players) != players {
		t.Fatalf("%d warnings of %d players", len(found), len(d.Players))
	}
	// all but one player in each set stand too close
	want := "and 11,769 more warnings of this kind" // 399 x 30 - 200 - 1
	said := ""
	for _, x := range found {
		said += x.What + "\n"
	}
	if !strings.Contains(said, want) {
		t.Errorf("no %q in\n%s", want, said)
	}
	if kept > 8 {
		t.Errorf("%.1f times the size of the sheet is kept", kept)
	}
	runtime.KeepAlive(in)
	runtime.KeepAlive(d)
}
