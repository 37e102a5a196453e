package rows_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"backfield/layout/drill"
	"backfield/layout/rows"
	"backfield/layout/source"
	"backfield/layout/table"
)

// mergedTitles is a workbook in every sheet of which the cells A1 to C1 are merged.
func mergedTitles(t *testing.T, sheets ...any) string {
	t.Helper()
	f, err := excelize.OpenReader(strings.NewReader(book(t, true, sheets...)))
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range f.GetSheetList() {
		if err := f.MergeCell(name, "A1", "C1"); err != nil {
			t.Fatal(err)
		}
	}
	b, err := f.WriteToBuffer()
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// The titles of many sheets may be merged, and so may those of blocks and the names of columns.
func TestMergedTitles(t *testing.T) {
	sets := text(append([][]string{{"set", "movement", "counts", "hold"}}, plainSets...), ',')
	own := text(append([][]string{{"set", "player", "lateral", "depth"}}, plainDots...), ',')
	var p source.Problems
	want := drill.Read(drill.Sheets{Sets: open(t, "sets", sets, 1), Dots: open(t, "dots", own, 2)}, college, &p)
	var ofSets, ofPlayers []any
	var blocks [][]string
	for _, s := range plainSets {
		page := [][]string{{"The mill, set " + s[0]}, {"player", "lateral", "depth"}}
		for _, d := range plainDots {
			if d[0] == s[0] {
				page = append(page, d[1:])
			}
		}
		ofSets = append(ofSets, "Set "+s[0], page)
	}
	for _, name := range players {
		page := [][]string{{"Dots for " + name}, {"set", "lateral", "depth"}}
		for _, d := range plainDots {
			if d[1] == name {
				page = append(page, []string{d[0], d[2], d[3]})
			}
		}
		ofPlayers = append(ofPlayers, name, page)
		blocks = append(blocks, page...)
	}
	for _, c := range []struct{ name, columns, dots string }{
		{"a sheet for each set", "sheet = 'Set {set}'", mergedTitles(t, ofSets...)},
		{"the header's row named", "sheet = 'Set {set}'\nheader = 2", mergedTitles(t, ofSets...)},
		{"a sheet for each player", "sheet = '{player}'", mergedTitles(t, ofPlayers...)},
		{"the header's row named, by player", "sheet = '{player}'\nheader = 2", mergedTitles(t, ofPlayers...)},
		{"blocks", "block = 'Dots for {player}'", mergedTitles(t, "All", blocks)},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, p := read(t, c.columns, sets, c.dots)
			if len(p.All()) > 0 {
				t.Fatal(said(p))
			}
			same(t, want, got)
		})
	}
}

// Where sets and dots are in one workbook, only a sheet that neither reads had no effect, and it is listed once.
func TestIdleOfOneWorkbook(t *testing.T) {
	data := book(t, true,
		"Set 1", [][]string{{"player", "lateral", "depth", "Shoes"}, {"A", "on 50", "on FH", "9"}},
		"Set 2", [][]string{{"player", "lateral", "depth"}, {"A", "on 50", "on BH"}},
		"Sets", [][]string{{"set", "movement", "counts"}, {"1", "1", "0"}, {"2", "1", "48"}},
		"Plan", [][]string{{"Monday"}})
	var p source.Problems
	var c rows.Columns
	lines := &source.File{Name: "show.toml", Text: "sheet = 'Set {set}'\n[sets]\nsheet = 'Sets'"}
	table.Decode(table.ReadTOML(lines, &p), &c, &p)
	drill.Read(drill.Sheets{Sets: open(t, "drill", data, 1), Dots: open(t, "drill", data, 2), Columns: &c}, college, &p)
	var got []string
	for _, x := range p.AllIdle() {
		got = append(got, x.What)
	}
	slices.Sort(got)
	if want := `the column "Shoes"|the sheet "Plan"`; strings.Join(got, "|") != want || len(p.All()) > 0 {
		t.Errorf("%q, want %q\n%s", got, want, said(&p))
	}
}
