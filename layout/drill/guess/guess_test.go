package guess

import (
	"slices"
	"strings"
	"testing"

	"backfield/layout/drill"
	"backfield/layout/field"
	"backfield/layout/rows"
	"backfield/layout/source"
)

var college = func() field.Field { f, _ := field.ByCode("college"); return f }()

// workbook makes a file of sheets, as package workbook does: name, rows.
func workbook(sheets ...string) *source.File {
	f := &source.File{Name: "drill.xlsx"}
	for i := 0; i < len(sheets); i += 2 {
		f.Sheets = append(f.Sheets, source.WorkbookSheet{Name: sheets[i], Start: len(f.Text)})
		f.Text += strings.ReplaceAll(sheets[i+1], "|", "\t") + "\n"
	}
	return f
}

func sheet(text string) *source.File { return &source.File{Name: "drill.csv", Text: text} }

// What a person would say of a sheet is proposed; where nothing is sure, what is missing is said.
func TestColumns(t *testing.T) {
	for _, c := range []struct {
		name string
		file *source.File
		want string // the lines without the first, or "no: why"
	}{
		{"our own", sheet("set,player,lateral,depth\n1,A,on 50,on FH\n2,A,S1 2 in 35,on FH\n"),
			"set player lateral depth"},
		{"a dot in one cell", sheet("Name,Set,Dot\nA,1,on 50; on FH\nB,1,S1 2 in 35; 4 beh BH\n"),
			"set=Set player=Name dot=Dot"},
		{"x and y", sheet("label;set;x;y\nA;1;-4;12\n"), "set player=label x y"},
		{"a depth of numbers alone",
			sheet("Name,Set,Left-Right,Depth (steps from front sideline)\nA,1,S1 2 in 35,28.5\nB,1,S2 on 40,12\n"),
			"set=Set player=Name lateral=Left-Right depth=Depth_(steps_from_front_sideline)"},
		{"a depth of numbers alone, beside another number",
			sheet("Name,Set,Pack,L/R,Depth\nA,1,4,S1 2 in 35,28\nB,1,5,S2 on 40,12\n"),
			"set=Set player=Name lateral=L/R depth=Depth"},
		{"steps with words", sheet("Set,Player,Side,Steps,Yard,Depth,Hash\n1,A,1,4 inside,45,6 behind,front hash\n" +
			"2,A,2,on,40,on,BH\n"), "set=Set player=Player side=Side steps=Steps yard=Yard depth_steps=Depth line=Hash"},
		{"parts, and a depth in words", sheet("Set,Player,Side,Steps,Yard,Along\n1,A,1,4 inside,45,6 behind FH\n" +
			"2,A,2,on,40,on BH\n"), "set=Set player=Player depth=Along side=Side steps=Steps yard=Yard"},
		{"x with a sign, and a depth", sheet("Set,Player,X,Depth\n1,A,-6,36\n2,A,10.5,40\n"),
			"set=Set player=Player depth=Depth x=X"},
		{"x with a side, and a depth", sheet("Set,Player,Side,X,Depth\n1,A,1,6,36\n2,A,2,10.5,40\n"),
			"set=Set player=Player depth=Depth side=Side x=X"},
		{"x without a side", sheet("Set,Player,X,Depth\n1,A,6,36\n2,A,10.5,40\n"),
			"no: the column \"X\" has no negative numbers, so it does not say the side; name the column that does " +
				"(--column side=NAME), or where it counts from (--column \"x_from=side 1 goal line\")"},
		{"sets in their first row", sheet("Set,Name,L,D\n1,A,on 50,on FH\n,B,on 50,on BH\n,C,on 50,on FSL\n2,A,on 50,on BH\n"),
			"set=Set player=Name fill=down lateral=L depth=D"},
		{"parts in another order",
			sheet("set,player,Depth Steps,F/B,Line,Side,Steps,I/O,Yards\n1,A,4,behind,FH,1,2,in,35\n1,B,2,front,BH,2," +
				"3,out,40\n"),
			"set player side=Side steps=Steps inside=I/O yard=Yards depth_steps=Depth_Steps behind=F/B line=Line"},
		{"a title, and a column per set",
			sheet("The Mill,,\nPlayer,Set 1,Set 2A\nCounts,0,16\nA,on 50; on FH,on 45 s1; on FH\n"),
			"header=2 player=Player dot=Set_{set} counts=Counts"},
		{"bare labels", sheet("Player,1,2,10\nA,on 50; on FH,on 50; on FH,on 50; on FH\n"), "player=Player dot={set}"},
		{"letters before the label", sheet("Player,S1,S2\nA,on 50; on FH,on 50; on FH\n"), "player=Player dot=S{set}"},
		{"labels that share digits", sheet("Player,Set 10,Set 11\nA,on 50; on FH,on 50; on FH\n"),
			"player=Player dot=Set_{set}"},
		{"two columns per set", sheet("Player,1 side,1 depth,2 side,2 depth\nA,on 50,on FH,S1 on 45,on FH\n"),
			"player=Player lateral={set}_side depth={set}_depth"},
		{"two columns per set, tight", sheet("Player,1L,1D,2L,2D\nA,on 50,on FH,S1 on 45,on FH\n"),
			"player=Player lateral={set}L depth={set}D"},
		{"names without a header of ours", sheet("Who,Set,Dot\nAnn,1,on 50; on FH\n"), "set=Set player=Who dot=Dot"},
		{"a sheet per set",
			workbook("Notes", "Monday|9:00\nTuesday|9:00", "Set 1", "Player|L|D\nA|on 50|on FH", "Set 2",
				"Player|L|D\nA|on 50|on FH"), "sheet=Set_{set} player=Player lateral=L depth=D"},
		{"one sheet of two",
			workbook("Notes", "Monday|9:00\nTuesday|9:00", "Drill", "Player|1|2\nA|on 50; on FH|on 50; on FH"),
			"sheet=Drill player=Player dot={set}"},
		{"no dots", sheet("player,set,colour\nA,1,red\n"), "no: no columns with dots were found" +
			"; for halves in two columns: name it: --column lateral=NAME, with one of " +
			"\"player\", \"set\", \"colour\", and the same with depth; for whole dots: dot"},
		{"nearly dots",
			sheet("Drill 7\nplayer,set,across,along\nA,1,4 outside R 40,on FH\nB,1,On 50,on FH\nC,1,2 inside L 30,on " +
				"FH\n"),
			"no: no columns with dots were found; row 3 has \"4 outside R 40\", which is almost " +
				"a dot: " +
				"\"R\" could be the audience's or the players'; write side 1 for the audience's left, side 2 for its " +
				"right; or say once what it means, in [drill.words]: \"R\" = \"side 1\""},
		{"dots without a semicolon", sheet("player,set,dot\nA,1,S1 4 out 40 on front hash\n"),
			"no: no columns with dots were found; row 2 has \"S1 4 out 40 on front hash\", " +
				"which is almost a dot: " +
				"a dot has two halves, separated by a semicolon; write it as \"side 1, 2 inside 35; 4 behind front hash\""},
		{"notes are no dots", sheet("player,set,notes\nA,1,hats on 5\nB,1,watch\nC,1,dress\n"),
			"no: no columns with dots were found" +
				"; for halves in two columns: name it: --column lateral=NAME, with one of " +
				"\"player\", \"set\", \"notes\", and the same with depth; for whole dots: dot"},
		{"two rows of names",
			sheet("The Mill,,,,\n,Set 1,,Set 2,\nPlayer,across,along,across,along\nA,on 50,on FH,S1 on 45,on FH\n"),
			"header=[2,_3] player=Player lateral=Set_{set}_across depth=Set_{set}_along"},
		{"a name in two columns", sheet("Symbol,Label,Set,Dot\nT,1,1,on 50; on FH\nT,2,1,on 50; on BH\n"),
			"set=Set player=[\"Symbol\",_\"Label\"] dot=Dot"},
		{"names in the first row", sheet("Player,Set,Dot\nA,1,on 50; on FH\n,2,on 50; on FH\n,3,on 50; on BH\n"),
			"set=Set player=Player fill=down dot=Dot"},
		{"blocks", sheet("Performer: T1,,\nSet,L,D\n1,on 50,on FH\n2,on 50,on BH\n\nPerformer: T2,,\nSet,L,D\n1,on 50,on BH\n"),
			"set=Set block=Performer:_{player} lateral=L depth=D"},
		{"a sheet for each player",
			workbook("T1 dots", "Set|L|D\n1|on 50|on FH", "T2 dots", "Set|L|D\n1|on 50|on BH"),
			"sheet={player}_dots set=Set lateral=L depth=D"},
		{"transposed", sheet("Player,A,B\nSet 1,on 50; on FH,on 50; on BH\nSet 2,on 50; on FH,on 50; on BH\n"),
			"transposed=true player=Player dot=Set_{set}"},
		{"transposed, the sets by number", sheet("Set,A,B\n1,on 50; on FH,on 50; on BH\n2,on 50; on FH,on 50; on BH\n"),
			"transposed=true player=Set dot={set}"},
		{"Depth is steps", sheet("set,player,Side,Lateral,I/O,Yards,Depth,F/B,Line\n1,A,1,2,in,35,4,behind,FH\n1,B,2,3,out,40,2,front,BH\n"),
			"set player side=Side steps=Lateral inside=I/O yard=Yards depth_steps=Depth behind=F/B line=Line"},
		{"no header", sheet("A,1,on 50,on FH\nA,2,on 50,on FH\n"),
			"no: the first rows have dots, but no column names"},
		{"no set", sheet("player,dot\nA,on 50; on FH\n"), "no: no column of sets was found; name it: --column set=NAME; " +
			"where each set has columns of its own, write {set} in their names; where a title above each part names " +
			"one: --column \"block=Set {set}\""},
		{"no set, but others", sheet("player,Round,Cts,dot\nA,x,0,on 50; on FH\n"),
			"no: no column of sets was found; name it: --column set=NAME, with one of \"Round\"; where each set has " +
				"columns of its own, write {set} in their names; where a title above each part names one: --column " +
				"\"block=Set {set}\""},
		{"titles of players with more beside them",
			sheet("Marcher:,Tpt 1,Section:,Tpt\nSet,Cts,Dot\n1,0,on 50; on FH\n2,8,on 50; 4 beh FH\n3,8,on 50; 8 beh FH\n" +
				"\nMarcher:,Tpt 2,Section:,Tpt\nSet,Cts,Dot\n1,0,on 50; on FH\n2,8,S1 on 45; 4 beh FH\n" +
				"3,8,on 50; 6 beh FH\n4,8,on 50; 8 beh FH\n"), "set=Set block=Marcher:_{player} dot=Dot counts=Cts"},
		{"titles of sets", sheet("Set 1,,Counts: 0\nPlayer,Dot\nAnn,on 50; on FH\n\nSet 2,,Counts: 8\nPlayer,Dot\n" +
			"Ann,on 50; 4 beh FH\n"), "player=Player block=Set_{set} dot=Dot"},
		{"two rows of names, and a name in two columns",
			sheet("Performer,,Set 1,,Set 2,\nSymbol,Label,L-R,F-B,L-R,F-B\n" +
				"T,1,S1 2 in 35,4 beh FH,S1 3 in 35,4 beh FH\nT,2,S2 2 in 35,4 beh FH,S2 3 in 35,4 beh FH\n"),
			"header=[1,_2] player=[\"Performer_Symbol\",_\"Performer_Label\"] lateral=Set_{set}_L-R depth=Set_{set}_F-B"},
		{"a slash between the halves", sheet("Who,Form,Dot\nAnn,1,S1 4.0 in 45 / 8 bhd FH\n"), "set=Form player=Who dot=Dot"},
		{"a side before the half", sheet("Who,Set,Cts,L/R,Side,F/B\nAnn,1,0,2 inside 35,1,on FH\nBo,1,0,on 40,2,4 beh FH\n"),
			"set=Set player=Who lateral=L/R depth=F/B side=Side counts=Cts"},
		{"numbers of players are no sides",
			sheet("symbol,number,set,ct,x-offset,x-dir,x-line,x-side,y-offset,y-dir,y-line\n" +
				"T,1,1,0,2,in,35,A,4,behind,front hash\nT,2,2,8,0,on,35,B,0,on,front hash\n"),
			"set player=[\"symbol\",_\"number\"] side=x-side steps=x-offset inside=x-dir yard=x-line depth_steps=y-offset " +
				"behind=y-dir line=y-line counts=ct"},
		{"coordinates that say their unit", sheet("Who,Page,X (yd from 50),Y (yd)\nAnn,1,-13.75,22.5\nBo,1,15,20\n"),
			"set=Page player=Who x=X_(yd_from_50) y=Y_(yd) unit=yd"},
		{"a y from elsewhere", sheet("Who,Page,X,Y from back sideline\nAnn,1,-13.75,22.5\nBo,1,15,20\n"),
			"no: no columns with dots were found, only \"X\", side to side; front to back: name it: --column depth=NAME, " +
				"with one of \"Who\", \"Page\", \"Y from back sideline\""},
		{"a column per set, and no player", sheet("Who,Set 1,Set 2\nA,on 50; on FH,on 45 s1; on FH\n"),
			"no: no column of players was found; name it: --column player=NAME, with one of \"Who\", \"Set 1\", " +
				"\"Set 2\"; where a title above each part names one, write the title: --column \"block=Player: {player}\""},
		{"no rows", sheet("player,set,dot\n"), "no: the sheet has column names but no rows"},
		{"nothing", sheet(""), "no: the sheet is empty"},
		{"sets of no pattern", sheet("Player,Open,Close\nA,on 50; on FH,on 50; on FH\n"), "player=Player dot={set}"},
	} {
		var p source.Problems
		got, missing := Columns(c.file, college, rows.Columns{}, &p)
		text := "no: " + missing
		if missing == "" {
			var words []string
			for line := range strings.Lines(strings.TrimPrefix(got.TOML(), "[drill.columns]\n")) {
				key, value, _ := strings.Cut(strings.TrimSpace(line), "=")
				key, value = strings.TrimSpace(key), strings.ReplaceAll(strings.Trim(strings.TrimSpace(value), `"`),
					" ", "_")
				if key != value {
					key += "=" + value
				}
				words = append(words, key)
			}
			text = strings.Join(words, " ")
		}
		if text != c.want {
			t.Errorf("%s: %s\nwant %s", c.name, text, c.want)
		}
	}
}

// The sample is of dots that are there, none twice, from the first set to the last.
func TestSample(t *testing.T) {
	var sets, dots strings.Builder
	sets.WriteString("set,movement,counts\n")
	dots.WriteString("set,player,lateral,depth\n")
	for i := range 20 {
		sets.WriteString(string(rune('A'+i)) + ",1,8\n")
		for j := range 7 {
			if (i+j)%3 > 0 {
				dots.WriteString(string(rune('A'+i)) + ",P" + string(rune('0'+j)) + ",on 50,on FH\n")
			}
		}
	}
	var p source.Problems
	d := drill.Read(drill.Sheets{Sets: sheet(sets.String()), Dots: sheet(dots.String())}, college, &p)
	list := Sample(d, 10)
	if len(list) != 10 || list[0].Set != 0 || list[9].Set != 19 {
		t.Fatalf("%v", list)
	}
	for i, s := range list {
		if !d.Players[s.Player].Dots[s.Set].Known || slices.Contains(list[:i], s) {
			t.Errorf("%v", s)
		}
	}
	if few := Sample(d, 1000); len(few) != 93 {
		t.Errorf("%d dots", len(few))
	}
}

// Whatever the sheet, a guess ends and its lines are those of a score.
func FuzzColumns(f *testing.F) {
	f.Add("Player,Set 1,Set 2\nA,on 50; on FH,on 45 s1; on FH\n")
	f.Add("set;player;Side;Steps;In;Yards;Depth steps;F;Line\n1;A;1;2,5;in;35;4;beh;FH\n")
	f.Add("Performer: T1,,\nSet,L,D\n1,on 50,on FH\n\nPerformer: T2,,\nSet,L,D\n1,on 50,on BH\n")
	f.Fuzz(func(t *testing.T, text string) {
		var p source.Problems
		c, missing := Columns(sheet(text), college, rows.Columns{}, &p)
		if missing != "" {
			return
		}
		d := drill.Read(drill.Sheets{Dots: sheet(text), Columns: &c, Together: true}, college, &p)
		if d == nil || c.Player.V == "" && !strings.Contains(c.Sheet.V+c.Block.V, "{player}") {
			t.Fatal(c.TOML())
		}
	})
}
