package guess

import (
	"testing"

	"backfield/layout/rows"
	"backfield/layout/source"
	"backfield/layout/table"
)

// The sheet of sets is found in a workbook of dots, and its columns by their names; of two that could be it, neither.
func TestSets(t *testing.T) {
	const dots, list = "Player|Set 1|Set 2\nA|on 50; on FH|on 50; on BH", "Set #|Mvt|Cts|Holds\n1|1|0|0\n2|1|16|4"
	for _, c := range []struct {
		name string
		file *source.File
		want string
	}{
		{"beside the dots", workbook("Dots", dots, "Sets", list),
			"[drill.columns.sets]\nsheet       = \"Sets\"\nset         = \"Set #\"\nmovement    = \"Mvt\"\n" +
				"counts      = \"Cts\"\nhold        = \"Holds\"\n"},
		{"without movements", sheet("set,counts\n1,0\n2,16\n"),
			"[drill.columns.sets]\nset         = \"set\"\nmovement    = 1\ncounts      = \"counts\"\n"},
		{"two of them", workbook("Sets", list, "Old", list), ""},
		{"our own", sheet("set,movement,counts\n1,1,0\n"), ""},
		{"counts beside the dots", sheet("set,player,lateral,depth,counts\n1,A,on 50,on FH,0\n"), ""},
		{"counts that are words", sheet("set,counts\n1,none\n"), ""},
	} {
		var p source.Problems
		got := ""
		if s := Sets(c.file, &p); s != nil {
			got = (&rows.Columns{Sets: s}).TOML()[len("[drill.columns]\n\n"):]
		}
		if got != c.want {
			t.Errorf("%s: %s\nwant %s", c.name, got, c.want)
		}
	}
}

// What is given stays, and does not keep the rest from being found.
func TestGiven(t *testing.T) {
	named := func(s string) table.Text { return table.Text{V: s, Set: true} }
	f := sheet("Form,Who,Across,Along,Deep\n1,T1,on 50,on FH,12\n2,T1,on 50,on BH,14\n")
	set, depth := rows.Columns{Set: named("Form")}, rows.Columns{Set: named("Form"), DepthFrom: named("FSL")}
	depth.Depth = named("Deep")
	for want, given := range map[string]rows.Columns{"Form Who Across Deep": depth, "Form Who Across Along": set} {
		var p source.Problems
		c, missing := Columns(f, college, given, &p)
		if got := c.Set.V + " " + c.Player.V + " " + c.Lateral.V + " " + c.Depth.V; got != want || missing != "" {
			t.Errorf("%s, want %s; %s", got, want, missing)
		}
	}
}
