package drill

import (
	"math"
	"strings"
	"testing"

	"backfield/layout/field"
	"backfield/layout/rows"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// A depth of a number alone is steps from the front sideline where the column's name says so, and else refused once.
func TestDepthAlone(t *testing.T) {
	college, _ := field.ByCode("college")
	text := func(s string) table.Text { return table.Text{V: s, Set: true} }
	for name, known := range map[string]bool{"Depth (steps from front sideline)": true,
		"Steps behind the home side line": true, "Depth": false, "Depth (steps from front hash)": false, "Depth (yards from front sideline)": false} {
		in := Sheets{Sets: &source.File{Name: "sets.csv", Text: "set,movement,counts\n1,1,0\n"}, Columns: &rows.Columns{}}
		in.Dots = &source.File{Name: "dots.csv",
			Text: "Who,Set,Across," + name + "\nT1,1,S1 on 40,28.5\nT2,1,S1 on 45,28.5\n"}
		in.Columns.Player.Text, in.Columns.Set = text("Who"), text("Set")
		in.Columns.Lateral, in.Columns.Depth = text("Across"), text(name)
		var p source.Problems
		d := Read(in, college, &p)
		list := p.All()
		if !known {
			if len(list) != 1 || !strings.Contains(list[0].Do, `depth = "Depth (steps from front sideline)"`) ||
				!strings.Contains(list[0].What, "2 dots") {
				t.Errorf("%s: %v", name, list)
			}
		} else if y := d.Players[1].Dots[0].At.Y / unit.StepM; len(list) > 0 || math.Abs(y-28.5) > 1e-9 {
			t.Errorf("%s: %g steps; %v", name, y, list)
		}
	}
}
