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
			if len(list) != 1 || !strings.Contains(list[0].Do, `depth_from = "front sideline"`) ||
				!strings.Contains(list[0].What, "2 dots") {
				t.Errorf("%s: %v", name, list)
			}
		} else if y := d.Players[1].Dots[0].At.Y / unit.StepM; len(list) > 0 || math.Abs(y-28.5) > 1e-9 {
			t.Errorf("%s: %g steps; %v", name, y, list)
		}
	}
}

// Numbers alone say where a dot is as soon as the score says which line they count from: to the meters of a plain sum.
func TestNumbersAlone(t *testing.T) {
	const step, yard = 0.5715, 0.9144 // 22.5 in, 3 ft
	frontHash, backSideline := 60*0.3048, 160*0.3048
	college, _ := field.ByCode("college")
	for _, c := range []struct {
		keys, head, row string
		x, y            float64
		wrong           string
	}{
		{"lateral = 'A'\ndepth = 'D'\ndepth_from = 'front hash'", "A,D", "on 50,-4", 0, frontHash - 4*step, ""},
		{"lateral = 'A'\ndepth = 'D'\ndepth_from = 'in front of back sideline'", "A,D", "on 50,10.5", 0,
			backSideline - 10.5*step, ""},
		{"lateral = 'A'\ndepth = 'D'\ndepth_from = 'home sideline'\nunit = 'yd'", "A,D", "on 50,12", 0, 12 * yard, ""},
		{"x = 'X'\ndepth = 'D'\ndepth_from = 'front hash'", "X,D", "-6,0", -6 * step, frontHash, ""},
		{"x = 'X'\ndepth = 'D'", "X,D", "7.25,4 behind FH", 7.25 * step, frontHash + 4*step, ""},
		{"side = 'S'\nx = 'X'\ndepth = 'D'", "S,X,D", "A,7,4 behind FH", -7 * step, frontHash + 4*step, ""},
		{"side = 'S'\nx = 'X'\ndepth = 'D'", "S,X,D", ",0,4 behind FH", 0, frontHash + 4*step, ""},
		{"side = 'S'\nx = 'X'\ndepth = 'D'", "S,X,D", ",7,4 behind FH", 0, 0, "the side is missing"},
		{"side = 'S'\nx = 'X'\ndepth = 'D'", "S,X,D", "1,-7,4 behind FH", 0, 0, "x has a sign and also a side"},
		{"side = 'S'\nx = 'X'\ndepth = 'D'", "S,X,D", "left,7,4 behind FH", 0, 0, `"left" is no side`},
		{"x = 'X'\nx_from = 'side 1 goal line'\ndepth = 'D'", "X,D", "72,4 behind FH", -8 * step, frontHash + 4*step, ""},
		{"x = 'X'\ndepth = 'D'\ndepth_from = 'press box'", "X,D", "1,1", 0, 0, `"press box" is no line`},
		{"x = 'X'\nx_from = '12'\ndepth = 'D'", "X,D", "1,on FH", 0, 0, `"12" is no yard line`},
		{"x = 'X'\ny = 'D'\nx_from = '50'", "X,D", "1,1", 0, 0, "x_from goes with x and a column of depths"},
		{"x = 'X'\ndepth = 'D'", "X,D", ",on FH", 0, 0, "this half of the dot is empty"},
	} {
		in := Sheets{Sets: &source.File{Name: "sets.csv", Text: "set,movement,counts\n1,1,0\n"}, Columns: &rows.Columns{}}
		in.Dots = &source.File{Name: "dots.csv", Text: "player,set," + c.head + "\nT1,1," + c.row + "\n"}
		var p source.Problems
		table.Decode(table.ReadTOML(&source.File{Name: "show.toml", Text: c.keys}, &p), in.Columns, &p)
		d := Read(in, college, &p)
		list := p.All()
		if c.wrong != "" {
			if len(list) != 1 || !strings.Contains(list[0].What, c.wrong) || list[0].Span.File == nil {
				t.Errorf("%s of %q: %v, want %q", c.row, c.keys, list, c.wrong)
			}
			continue
		}
		if len(list) > 0 {
			t.Errorf("%s of %q: %v", c.row, c.keys, list)
			continue
		}
		at := d.Players[0].Dots[0].At
		sets, dots := d.Sheets() // written as our own layout it is the same dot
		again := Read(Sheets{Sets: sheetFile(sets), Dots: sheetFile(dots)}, college, &p).Players[0].Dots[0].At
		if math.Hypot(at.X-c.x, at.Y-c.y) > 1e-4 || math.Hypot(again.X-c.x, again.Y-c.y) > 1e-4 {
			t.Errorf("%s of %q is at %.4f, and written again at %.4f; want %.4f %.4f", c.row, c.keys, at, again, c.x, c.y)
		}
	}
}

func sheetFile(rows [][]string) *source.File {
	text := ""
	for _, row := range rows {
		text += strings.Join(row, ",") + "\n"
	}
	return &source.File{Text: text}
}
