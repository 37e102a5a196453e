package rows_test

import (
	"testing"

	"backfield/layout/drill"
	"backfield/layout/source"
)

// Backfield's own layout works in a workbook as in CSV, without [drill.columns].
func TestOurOwnLayoutInAWorkbook(t *testing.T) {
	sets := append([][]string{{"set", "movement", "counts", "hold"}}, plainSets...)
	dots := append([][]string{{"set", "player", "lateral", "depth"}}, plainDots...)
	var p source.Problems
	want := drill.Read(drill.Sheets{Sets: open(t, "sets", text(sets, ','), 1),
		Dots: open(t, "dots", text(dots, ','), 2)}, college, &p)
	got := drill.Read(drill.Sheets{Sets: open(t, "sets", book(t, true, "Any", sets), 1),
		Dots: open(t, "dots", book(t, true, "Any", dots, "Empty", [][]string{}), 2)}, college, &p)
	if len(p.All()) > 0 {
		t.Fatal(said(&p))
	}
	same(t, want, got)

	drill.Read(drill.Sheets{Sets: open(t, "sets", text(sets, ','), 1),
		Dots: open(t, "dots", book(t, true, "Dots", dots, "Notes", [][]string{{"Monday"}}), 2)}, college, &p)
	list := p.All()
	if len(list) != 1 || list[0].Code != "which-sheet" || list[0].Span.Where() != "dots:Dots!A1" {
		t.Fatal(said(&p))
	}
}
