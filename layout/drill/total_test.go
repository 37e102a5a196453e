package drill

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"backfield/layout/field"
	"backfield/layout/rows"
	"backfield/layout/source"
	"backfield/layout/table"
)

// Counts that grow from set to set may be a total: that is asked, and read as the sheet's columns say.
func TestRunningTotal(t *testing.T) {
	college, _ := field.ByCode("college")
	for _, c := range []struct {
		counts, movements string
		are               string
		guessed           bool
		want              []int
		code              string
	}{
		{"0 8 24 40", "1 1 1 1", "", false, []int{0, 8, 24, 40}, "warning: bad-counts"},
		{"0 8 24 40", "1 1 1 1", "", true, []int{0, 8, 24, 40}, "error: bad-counts"},
		{"0 8 24 40", "1 1 1 1", "each", true, []int{0, 8, 24, 40}, ""},
		{"0 8 24 40", "1 1 1 1", "total", true, []int{0, 8, 16, 16}, ""},
		{"0 8 24 0 12 20", "1 1 1 2 2 2", "total", false, []int{0, 8, 16, 0, 12, 8}, ""},
		{"0 8 24 24 36 44", "1 1 1 2 2 2", "total", false, []int{0, 8, 16, 0, 12, 8}, ""},
		{"0 8 24 16", "1 1 1 1", "total", false, []int{0, 8, 16, 1}, "error: bad-counts"},
		{"0 8 24 24", "1 1 1 1", "", false, []int{0, 8, 24, 24}, ""},
		{"0 8 24", "1 1 1", "", false, []int{0, 8, 24}, ""},
		{"0 8 24 0 12 20", "1 1 1 2 2 2", "", false, []int{0, 8, 24, 0, 12, 20}, "warning: bad-counts"},
		{"0 8 0 12", "1 1 2 2", "", false, []int{0, 8, 0, 12}, ""},
		{"0 8 24 40", "1 1 1 1", "sum", false, nil, "error: drill-columns"},
	} {
		sheet := "set,player,lateral,depth,movement,counts\n"
		movements := strings.Fields(c.movements)
		for i, n := range strings.Fields(c.counts) {
			sheet += fmt.Sprintf("%d,A,on 50,on FH,%s,%s\n", i+1, movements[i], n)
		}
		columns := &rows.Columns{}
		if c.are != "" {
			columns.CountsAre.Text = table.Text{V: c.are, Set: true}
		}
		var p source.Problems
		d := Read(Sheets{Dots: &source.File{Text: sheet}, Columns: columns, Together: true, Guessed: c.guessed}, college, &p)
		var got []int
		for _, s := range d.Sets {
			got = append(got, s.Counts)
		}
		code := ""
		for _, x := range p.All() {
			code += fmt.Sprintf("%s: %s", x.Severity, x.Code)
		}
		if !slices.Equal(got, c.want) || code != c.code {
			t.Errorf("%s, %q: %d %q, want %d %q", c.counts, c.are, got, code, c.want, c.code)
		}
	}
}
