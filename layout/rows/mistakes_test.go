package rows_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

// Whatever is not clear is a problem that points at the cell, or at the line of the score, and says what to do.
func TestLayoutMistakes(t *testing.T) {
	const sets = "set,movement,counts\n1,1,0\n2,1,16\n"
	wide := func(cells ...[]string) string { return book(t, true, "Dots", cells) }
	for _, c := range []struct{ name, columns, sets, dots, want string }{
		{"a column that is not there", "player = 'Name'\nlateral = 'Sideways'\ndepth = 'D'", sets,
			"Name,set,Sidewise,D\nA,1,on 50,on FH\n",
			`show.toml:2:11: missing-column: row 1 of dots has no column "Sideways"; did you mean "Sidewise"?`},
		{"a title above", "player = 'Name'", sets, "Drill of the show\n\nName,set,lateral,depth\nA,1,on 50,on FH\n", ""},
		{"no header there", "header = 9", sets, "player,set,lateral,depth\n",
			"show.toml:1:10: drill-columns: row 9 is empty; write the number of the row with the column names"},
		{"a column twice", "dot = 'Dot'", sets, "player,set,Dot,dot\nA,1,on 50;on FH,\n",
			"dots:1:16: duplicate-column: there are two columns \"Dot\"; give each its own name"},
		{"two ways", "dot = 'Dot'\ndepth = 'D'", sets, "player,set,Dot,D\n",
			"show.toml:2:9: drill-columns: dot and depth give the same part of a dot; keep the one that the " +
				"sheet fills in"},
		{"half a dot", "lateral = 'L'", sets, "player,set,L\n",
			"show.toml:1:11: drill-columns: these columns give only one half of a dot; name the columns of both " +
				"halves: side to side (lateral; or side, steps, inside, yard) and front to back (depth; or " +
				"depth_steps, behind, line)"},
		{"no yard line", "side = 'S'\ndepth = 'D'", sets, "player,set,S,D\n",
			`show.toml:1:8: drill-columns: there is no column for the yard line; name it: yard = "..."`},
		{"a set column and sets", "set = 's'\ndot = '{set}'", sets, "player,s,1\n",
			"show.toml:1:7: drill-columns: there is a column of sets, and also {set} in the dot columns; keep " +
				"what the sheet has: a row for each player and set, or a column for each set"},
		{"half per set", "lateral = '{set}'\ndepth = 'D'", sets, "player,1,D\n",
			"show.toml:2:9: drill-columns: the other columns are for one set each, but depth is not; write {set} " +
				"where its name has the set's label"},
		{"a unit", "x = 'x'\ny = 'y'\nunit = 'paces'", sets, "player,set,x,y\n",
			`show.toml:3:8: drill-columns: "paces" is not a unit of length; write "steps", "m", "yd", "ft" or "in"`},
		{"a sheet of a text file", "sheet = 'Dots'", sets, "player,set,lateral,depth\n",
			"show.toml:1:9: drill-columns: dots is a text file and has no sheets; remove this key, or name the " +
				"workbook"},
		{"which sheet", "dot = '{set}'", sets, book(t, true, "One", [][]string{{"a"}}, "Two", [][]string{{"b"}}),
			`show.toml:1:1: which-sheet: dots has 2 sheets that are not empty (one of "One", "Two"); name the ` +
				`one with the drill: sheet = "One"; if each set has its own sheet, write {set} for the label`},
		{"no such sheet", "sheet = 'Dost'", sets, wide([]string{"player"}),
			`show.toml:1:9: drill-columns: no sheet "Dost" in dots; did you mean "Dots"?`},
		{"an unknown set", "dot = 'Set {set}'", sets,
			wide([]string{"player", "Set 1", "Set 3"}, []string{"A", "on 50; on FH", "on 50; on FH"}),
			`dots:Dots!C1: unknown-set: no set "3" in the list of sets, and 1 dot in it; set "2" of the list ` +
				`has none; if they are the same set, fix the label in one of the sheets`},
		{"notes beside bare labels", "dot = '{set}'", sets,
			wide([]string{"player", "1", "2", "Notes"}, []string{"A", "on 50; on FH", "S1 on 45; on FH", "tall"}), ""},
		{"a slip among bare labels", "dot = '{set}'", sets,
			wide([]string{"player", "1", "2", "3"}, []string{"A", "on 50; on FH", "S1 on 45; on FH", "on 50; on FH"}),
			`dots:Dots!D1: unknown-set: no set "3" in the list of sets; add it to the sheet of sets, or fix its number`},
		{"a dot that cannot be read", "dot = '{set}'", sets,
			wide([]string{"player", "1", "2"}, []string{"A", "on 50; on FH", "S1 2 inside 37; on FH"}),
			"dots:Dots!C2: bad-dot: there is no 37 yard line; yard lines come every 5 yards, from the goal line (0) " +
				"to the 50"},
		{"a decimal comma", "dot = '{set}'", sets,
			wide([]string{"player", "1", "2"}, []string{"A", "on 50; on FH", "S1 2,5 inside 40; on FH"}),
			"dots:Dots!C2: bad-dot: inside or outside is missing between the steps and the yard line; write " +
				"decimals with a period, 2.5; write it as \"side 1, 2 inside 35\", \"S2 3.5 outside 40\" or \"on 50\""},
		{"a part that cannot be read", "side = 'S'\nsteps = 'N'\ninside = 'I'\nyard = 'Y'\ndepth = 'D'", sets,
			"player,set,S,N,I,Y,D\nA,1,1,2,inside,35,on FH\nA,2,1,2,inward,35,on FH\n",
			"dots:3:9: bad-dot: \"inward\" was not expected here; write it as \"side 1, 2 inside 35\", \"S2 3.5 " +
				"outside 40\" or \"on 50\"; if it is a word of your staff, say what it means in " +
				"[drill.words]: \"inward\" = \"...\""},
		{"a note in the column of players", "", sets,
			"player,set,lateral,depth\nA,1,on 50,on FH\nA,2,on 50,on FH\nbreathe!,,,\n",
			`dots:4:1: missing-cell: "breathe!" is the only cell in its row; fill in the others; if it is a ` +
				`note, move it to a column that is not read, or write last = 3 in [drill.columns]`},
		{"the same, cut off", "last = 3", sets,
			"player,set,lateral,depth\nA,1,on 50,on FH\nA,2,on 50,on FH\nbreathe!,,,\n", ""},
		{"a dot of nobody", "dot = '{set}'", sets,
			wide([]string{"player", "1", "2"}, []string{"", "on 50; on FH", ""},
				[]string{"A", "on 50; on FH", "on 50; on FH"}),
			"dots:Dots!A2: missing-cell: this row has a dot but no player; write the player's name"},
		{"a player of no dot", "dot = '{set}'", sets,
			wide([]string{"player", "1", "2"}, []string{"A", "on 50; on FH", "on 50; on FH"}, []string{"B"}),
			"dots:Dots!A3: missing-dot: B has no dot in any set; add them; if this is a note, move it out of the " +
				"player column, or write last = 2 in [drill.columns]"},
		{"told twice", "", "",
			"player,set,lateral,depth,movement,counts\nA,1,on 50,on FH,1,0\nB,1,S1 on 45,on FH,1,8\n",
			"dots:3:22: listed-twice: counts of set 1 is 8 here and 0 elsewhere; keep one of them"},
		{"not told", "", "", "player,set,lateral,depth,movement,counts\nA,1,on 50,on FH,1,0\nA,2,on 50,on FH,1,\n",
			"dots:3:3: missing-cell: set 2 has no counts; fill in the sheet's counts, or say where they are in " +
				"[drill.columns]: counts = \"...\""},
		{"no order", "", "", "player,set,lateral,depth,movement,counts\nA,1,on 50,on FH,1,0\nB,2,on 45,on FH,1,8\n",
			"dots:2:3: set-order: the order of the sets is unclear: no player has a dot in set 1 and set 2, one " +
				"right after the other; put each player's rows in the order of the sets, with at least one " +
				"player in every set; or list the sets in a sheet of their own"},
		{"two orders", "", "",
			"player,set,lateral,depth,movement,counts\nA,1,on 50,on FH,1,0\nA,2,on 50,on FH,1,8\nB,2,S1 on 45,on " +
				"FH,1,8\nB,1,S1 on 45,on FH,1,0\n",
			"dots:2:3: set-order: the order of the sets is unclear: set 1 comes before another for one player " +
				"and after it for another; put each player's rows in the order of the sets, with at least one " +
				"player in every set; or list the sets in a sheet of their own"},
		{"a comma too many", "", sets, "player,set,lateral,depth\nA,1,S1, 2 inside 35,on FH\n",
			"dots:2:21: extra-cell: \"on FH\" is past the last column; remove the extra comma, or quote the cell " +
				"that has a comma in it"},
		{"no movement", "", "", "player,set,lateral,depth,counts\nA,1,on 50,on FH,0\n",
			`dots:1:1: missing-column: the column "movement" is missing; name it in [drill.columns]: movement ` +
				`= "..."`},
		{"counts told here and there, the same", "dot = '{set}'", sets,
			wide([]string{"player", "1", "2"}, []string{"Counts", "0", "16"},
				[]string{"A", "on 50; on FH", "on 50; on FH"}), ""},
		{"counts told here and there, not the same", "dot = '{set}'", sets,
			wide([]string{"player", "1", "2"}, []string{"Counts", "0", "12"},
				[]string{"A", "on 50; on FH", "on 50; on FH"}),
			"dots:Dots!C2: listed-twice: counts of set 2 is 12 here and 16 in the list of sets; fix one of them"},
		{"the same in rows", "counts = 'Cts'", sets,
			"player,set,lateral,depth,Cts\nA,1,on 50,on FH,0\nA,2,on 50,on FH,8\n",
			"dots:3:17: listed-twice: counts of set 2 is 8 here and 16 in the list of sets; fix one of them"},
		{"a title without a separator", "header = 2", sets,
			"The mill\nplayer;set;lateral;depth\nA;1;on 50;on FH\nA;2;S1 2,5 in 45;on FH\n", ""},
		{"a title with another", "header = 2", sets,
			"The mill, drill;;;\nplayer;set;lateral;depth\nA;1;on 50;on FH\nA;2;on 50;on FH\n", ""},
		{"a movement for all", "movement = 1", "", "player,set,lateral,depth,counts\nA,1,on 50,on FH,0\n", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, p := read(t, c.columns, c.sets, c.dots)
			var got []string
			for _, x := range p.All() {
				line := fmt.Sprintf("%s: %s: %s", x.Span.Where(), x.Code, x.What)
				if x.Do != "" {
					line += "; " + x.Do
				}
				got = append(got, line)
			}
			if c.want == "" && len(got) > 0 || c.want != "" && !slices.Contains(got, c.want) {
				t.Errorf("%s\nwant\n%s", strings.Join(got, "\n"), c.want)
			}
		})
	}
}
