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

// A legend, or a line of the score, that gives a word another meaning than it has is refused at its place.
func TestKnownWord(t *testing.T) {
	college, _ := field.ByCode("college")
	for _, c := range []struct{ legend, own, want string }{
		{"FH = back hash", "", `dots.csv:1:1: the legend says that "FH" is "back hash", but in a dot it means "front hash"`},
		{"\"Key: HS = home sideline, BH = front hash\"", "",
			`dots.csv:1:27: the legend says that "BH" is "front hash", but in a dot it means "back hash"`},
		{"FH = front hash", "", ""},
		{"\"in = inches, S = side\"", "", ""}, // no words of a dot
		{"", "back hash", `show.toml:1:1: this line says that "FH" is "back hash", but in a dot it means "front hash"`},
		{"", "front hash mark", ""},
	} {
		in := Sheets{Dots: &source.File{Name: "dots.csv", Text: c.legend +
			"\n\nplayer,set,lateral,depth\nT1,1,S1 on 40,4 behind FH\n"}, Columns: &rows.Columns{},
			Sets: &source.File{Name: "sets.csv", Text: "set,movement,counts\n1,1,0\n"}}
		if c.own != "" {
			score := &source.File{Name: "show.toml", Text: "FH = " + c.own}
			in.Words.Entries = []table.NamedValue[table.Text]{{
				Name:  table.Text{V: "FH", Set: true, Span: source.Span{File: score, End: 2}},
				Value: table.Text{V: c.own, Set: true}}}
		}
		var p source.Problems
		d := Read(in, college, &p)
		got := ""
		for _, x := range p.All() {
			got += x.Span.Where() + ": " + x.What
		}
		if got != c.want {
			t.Errorf("%s %s: %s, want %s", c.legend, c.own, got, c.want)
		}
		if y := d.Players[0].Dots[0].At.Y / unit.StepM; math.Abs(y-36) > 1e-9 {
			t.Errorf("%s %s: %g steps, want 36", c.legend, c.own, y)
		}
	}
}

// A legend in the sheet says what a word means. One that cannot be read, or says two things, leaves the word unknown,
// and the message has the line to add; what the score says comes first.
func TestLegend(t *testing.T) {
	college, _ := field.ByCode("college")
	text := func(s string) table.Text { return table.Text{V: s, Set: true} }
	for _, c := range []struct {
		legend, own string
		steps       float64 // from the front sideline, -1 where the dot is refused
	}{
		{"HS = home sideline", "", 4},
		{"\"Legend: BL = back hash, HS=Home Sideline.\"", "", 4},
		{"HS = near side of the field", "", -1},
		{"\"HS = home sideline; HS = home hash\"", "", -1},
		{"HS = home sideline", "front hash", 36},
		{"Invented Show", "", -1},
	} {
		sets := &source.File{Name: "sets.csv", Text: "set,movement,counts\n1,1,0\n"}
		dots := &source.File{Name: "dots.csv", Text: c.legend + "\n\nWho,Set,Across,Along\nT1,1,S1 on 40,4 behind HS\n"}
		in := Sheets{Sets: sets, Dots: dots, Columns: &rows.Columns{}}
		in.Columns.Player.Text, in.Columns.Set = text("Who"), text("Set")
		in.Columns.Lateral, in.Columns.Depth = text("Across"), text("Along")
		if c.own != "" {
			in.Words.Entries = []table.NamedValue[table.Text]{{Name: text("HS"), Value: text(c.own)}}
		}
		var p source.Problems
		d := Read(in, college, &p)
		if c.steps < 0 {
			list := p.All()
			if len(list) != 1 || !strings.Contains(list[0].Do, `[drill.words]: "HS" = "..."`) {
				t.Errorf("%s: %v", c.legend, list)
			}
		} else if y := d.Players[0].Dots[0].At.Y / unit.StepM; p.Errors() > 0 || math.Abs(y-c.steps) > 1e-9 {
			t.Errorf("%s: %g steps, want %g; %v", c.legend, y, c.steps, p.All())
		}
	}
}
