package problemlist

import (
	"strings"
	"testing"

	"backfield/layout/source"
)

// What changed nothing is listed with its place, and a long list is cut.
func TestIdle(t *testing.T) {
	f := &source.File{Name: "dots.csv", Text: "player,Notes\n"}
	var p source.Problems
	if got := Idle(p.AllIdle()); got != "" {
		t.Errorf("%q", got)
	}
	p.Idle(source.Span{File: f, Start: 7, End: 12}, `the column "Notes"`)
	if got := Idle(p.AllIdle()); got != "without effect here:\n    dots.csv:1:8: the column \"Notes\"\n" {
		t.Errorf("%q", got)
	}
	f.Text += strings.Repeat("x\n", mostIdle)
	for n := range mostIdle {
		p.Idle(source.Span{File: f, Start: 13 + 2*n, End: 14 + 2*n}, "a row")
	}
	if got := Idle(p.AllIdle()); !strings.HasSuffix(got, "    and 1 more\n") || strings.Count(got, "\n") != mostIdle+2 {
		t.Errorf("%q", got)
	}
}
