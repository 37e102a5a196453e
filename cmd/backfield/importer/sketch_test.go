package importer

import (
	"strings"
	"testing"

	"backfield/layout"
	"backfield/layout/field"
)

// The picture has each mark where it belongs, seen from the audience: side 1 on the left, the front at the bottom.
func TestSketch(t *testing.T) {
	for _, code := range field.Codes() {
		f, _ := field.ByCode(code)
		lines := sketch(f, []sketchMark{
			{layout.Point{X: 0, Y: f.FrontHashM()}, 'A'}, {layout.Point{X: -f.LengthM / 2, Y: 0}, 'B'},
			{layout.Point{X: f.LengthM / 2, Y: f.WidthM}, 'C'}, {layout.Point{X: 0, Y: f.FrontHashM()},
				'D'}, {layout.Point{X: 0, Y: -40}, 'E'},
		})
		front := len(lines) - 3 // above the numbers and the sides
		if lines[front][0] != 'B' || lines[0][sketchColumns-1] != 'C' ||
			strings.ContainsAny(strings.Join(lines[:front+1], ""), "DE") {
			t.Errorf("%s:\n%s", code, strings.Join(lines, "\n"))
		}
		row := front
		for row > 0 && !strings.Contains(lines[row], "A") {
			row--
		}
		if strings.IndexByte(lines[row], 'A') != (sketchColumns-1)/2 || !strings.Contains(lines[row], "+") {
			t.Errorf("%s: A is not on the middle of the front hash:\n%s", code, strings.Join(lines, "\n"))
		}
		for i, line := range lines {
			if len(line) > 78 {
				t.Errorf("%s: line %d is %d long", code, i, len(line))
			}
		}
	}
}
