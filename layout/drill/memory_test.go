package drill

import (
	"fmt"
	"runtime"
	"strings"
	"testing"

	"backfield/layout/field"
	"backfield/layout/rows"
	"backfield/layout/source"
	"backfield/layout/table"
)

// A check of 63 MB of dots has to take under 400 MB, of which the garbage collector may use as much as the drill does. So
// what is kept is held to a multiple of the sheet's size: the sheet itself, its dots, and where its lines begin.
func TestMemory(t *testing.T) {
	const players, sets = 400, 60
	var list strings.Builder
	list.WriteString("set,movement,counts\n")
	for s := range sets {
		fmt.Fprintf(&list, "%d,1,%d\n", s+1, min(8*s, 8))
	}
	ours := sheetOf(players, sets, "set,player,lateral,depth\n",
		`%d,Tpt %d,"side %d, %g outside %d",%d behind front hash`+"\n")
	theirs := &rows.Columns{}
	theirs.Lateral, theirs.Depth = table.Text{V: "across", Set: true}, table.Text{V: "along", Set: true}
	college, _ := field.ByCode("college")
	for name, in := range map[string]Sheets{
		"our own layout": {Dots: &source.File{Text: ours}},
		"another layout": {Dots: &source.File{Text: strings.Replace(ours, "lateral,depth", "across,along", 1)},
			Columns: theirs},
	} {
		in.Sets = &source.File{Text: list.String()}
		before := inUse()
		var p source.Problems
		d := Read(in, college, &p)
		d.Check(nil, &p)
		kept := (inUse() - before) / float64(len(ours))
		if found := p.All(); len(found) > 0 || len(d.Players) != players || len(d.Sets) != sets {
			t.Fatalf("%s: %d players, %d sets, %v", name, len(d.Players), len(d.Sets), found)
		}
		if kept > 1.5 {
			t.Errorf("%s: the drill takes %.2f times the size of its sheet, want 1.5 at most", name, kept)
		}
		runtime.KeepAlive(in)
		runtime.KeepAlive(d)
	}
}

// inUse is the bytes of the heap that are in use.
func inUse() float64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	return float64(m.HeapAlloc)
}

// sheetOf writes the dots of players in rows of 80, who stand a step apart.
func sheetOf(players, sets int, head, row string) string {
	var b strings.Builder
	b.WriteString(head)
	for s := range sets {
		for i := range players {
			file, rank := i/2%80, i/160
			fmt.Fprintf(&b, row, s+1, i+1, 1+i%2, float64(file%8)+float64(s%3)/4+0.5, 50-5*(file/8), rank+1)
		}
	}
	return b.String()
}
