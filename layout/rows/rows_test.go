package rows_test

import (
	"encoding/csv"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"backfield/layout/drill"
	"backfield/layout/field"
	"backfield/layout/rows"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
	"backfield/layout/workbook"
)

// The drill in all layouts: four players, five sets in two movements, one who comes late.
var (
	plainSets = [][]string{{"1", "1", "0", "0"}, {"2", "1", "16", "4"}, {"3A", "1", "8", "0"}, {"4", "2", "0", "0"},
		{"5", "2", "24", "8"}}
	plainDots = [][]string{
		{"1", "Tpt 1", "side 1, 2 inside 35", "4 behind front hash"}, {"1", "Tpt 2", "on 50", "on front hash"},
		{"1", "Tuba, low", "side 2, on 40", "6.5 in front of back hash"},
		{"2", "Tpt 1", "side 1, 4.25 outside 45", "2 behind front hash"},
		{"2", "Tpt 2", "side 2, 1 outside 50", "on front hash"}, {"2", "Tuba, low", "side 2, on 35", "on back hash"},
		{"3A", "Tpt 1", "side 1, on 45", "on front hash"},
		{"3A", "Tpt 2", "side 2, 3 outside 50", "2 behind front hash"},
		{"3A", "Tuba, low", "side 2, 2.5 inside 35", "4 in front of back hash"},
		{"3A", "Late", "side 2, on 0", "12 behind front sideline"},
		{"4", "Tpt 1", "side 1, on 45", "on front hash"}, {"4", "Tpt 2", "side 2, 3 outside 50", "2 behind front hash"},
		{"4", "Tuba, low", "side 2, 2.5 inside 35", "4 in front of back hash"},
		{"4", "Late", "side 2, on 0", "12 behind front sideline"},
		{"5", "Tpt 1", "on 50", "8 behind front hash"}, {"5", "Tpt 2", "side 2, on 45", "8 behind front hash"},
		{"5", "Tuba, low", "side 2, 2.5 inside 35", "10 in front of back hash"},
		{"5", "Late", "side 2, 4 inside 5", "3 in front of front sideline"},
	}
	players = []string{"Tpt 1", "Tpt 2", "Tuba, low", "Late"}
	college = func() field.Field { f, _ := field.ByCode("college"); return f }()
)

func text(rows [][]string, comma rune) string {
	var b strings.Builder
	w := csv.NewWriter(&b)
	w.Comma = comma
	w.WriteAll(rows)
	return b.String()
}

func dotOf(player, set string) []string {
	for _, d := range plainDots {
		if d[0] == set && d[1] == player {
			return d[2:]
		}
	}
	return nil
}

// rowOfEach makes a row of each dot.
func rowOfEach(head []string, make func(d []string) []string) [][]string {
	list := [][]string{head}
	for _, d := range plainDots {
		list = append(list, make(d))
	}
	return list
}

// perSet makes a row of each player, with width cells for each set.
func perSet(head []string, width int, told bool, make func(dot []string) []string) [][]string {
	list := [][]string{{"Player"}}
	for _, s := range plainSets {
		for _, h := range head {
			list[0] = append(list[0], strings.ReplaceAll(h, "#", s[0]))
		}
	}
	if told {
		for i, name := range []string{"Mvt", "Counts", "Hold"} {
			row := []string{name}
			for _, s := range plainSets {
				row = append(row, s[1+i])
				row = append(row, slices.Repeat([]string{""}, width-1)...)
			}
			list = append(list, row)
		}
	}
	for _, p := range players {
		row := []string{p}
		for _, s := range plainSets {
			if d := dotOf(p, s[0]); d != nil {
				row = append(row, make(d)...)
			} else {
				row = append(row, slices.Repeat([]string{""}, width)...)
			}
		}
		list = append(list, row)
	}
	return list
}

// book makes a workbook; numbers are stored as numbers where asNumber is set, else as text.
func book(t testing.TB, asNumber bool, sheets ...any) string {
	t.Helper()
	f := excelize.NewFile()
	for i := 0; i < len(sheets); i += 2 {
		name := sheets[i].(string)
		if i == 0 {
			f.SetSheetName("Sheet1", name)
		} else if _, err := f.NewSheet(name); err != nil {
			t.Fatal(err)
		}
		for r, row := range sheets[i+1].([][]string) {
			for c, v := range row {
				cell, _ := excelize.CoordinatesToCellName(c+1, r+1)
				if n, err := strconv.ParseFloat(v, 64); err == nil && asNumber {
					f.SetCellValue(name, cell, n)
				} else if v != "" {
					f.SetCellStr(name, cell, v)
				}
			}
		}
	}
	b, err := f.WriteToBuffer()
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func open(t testing.TB, name, raw string, order int) *source.File {
	t.Helper()
	var f *source.File
	var err error
	if workbook.Is([]byte(raw)) {
		f, err = workbook.Open(name, []byte(raw))
	} else {
		f, err = source.Open(name, []byte(raw), table.CSVLimit)
	}
	if err != nil {
		t.Fatal(err)
	}
	f.Order = order
	return f
}

// read reads a drill as a score with these [drill.columns] would; without sets they are with the dots.
func read(t testing.TB, columns, sets, dots string) (*drill.Drill, *source.Problems) {
	t.Helper()
	var p source.Problems
	var c rows.Columns
	table.Decode(table.ReadTOML(&source.File{Name: "show.toml", Text: columns}, &p), &c, &p)
	in := drill.Sheets{Dots: open(t, "dots", dots, 2), Columns: &c, Together: sets == ""}
	if sets != "" {
		in.Sets = open(t, "sets", sets, 1)
	}
	return drill.Read(in, college, &p), &p
}

func said(p *source.Problems) string {
	var b strings.Builder
	source.Print(&b, p.All())
	return b.String()
}

var half = regexp.MustCompile(`^(?:side (\d), )?(?:([\d.]+) (inside|outside|behind|in front of)|on) (.*)$`)

// Every layout gives the same drill as Backfield's own.
func TestLayoutsTellTheSame(t *testing.T) {
	head := [][]string{{"set", "movement", "counts", "hold"}}
	sets := text(append(head, plainSets...), ',')
	own := text(append([][]string{{"set", "player", "lateral", "depth"}}, plainDots...), ',')
	var p source.Problems
	want := drill.Read(drill.Sheets{Sets: open(t, "sets", sets, 1), Dots: open(t, "dots", own, 2)}, college, &p)
	if p.Errors() > 0 {
		t.Fatal(said(&p))
	}
	one := func(d []string) []string { return []string{strings.Join(d, "; ")} }
	both := func(d []string) []string { return d }
	parts := func(d []string) []string {
		a, b := half.FindStringSubmatch(d[2]), half.FindStringSubmatch(d[3])
		return []string{d[1], d[0], a[1], a[2], a[3], a[4], b[2], b[3], b[4], "a note"}
	}
	partsHead := []string{"Who", "Set #", "Side", "Steps", "In/Out", "Yard", "Depth steps", "F/B", "Line", "Notes"}
	partKeys := "player = 'Who'\nset = 'Set #'\nside = 'Side'\nsteps = 'Steps'\ninside = 'In/Out'\nyard = " +
		"'yard'\ndepth_steps = 'Depth  Steps'\nbehind = 'F/B'\nline = 'Line'\n"
	metres := func(d []string) []string {
		x, y, _ := college.ReadDot(d[2] + ";" + d[3])
		return []string{d[0], d[1], strconv.FormatFloat(x, 'f', -1, 64), strconv.FormatFloat(y, 'f', -1, 64)}
	}
	short := func(d []string) []string { // words as charts cut them
		r := strings.NewReplacer("inside", "I", "outside", "O", "in front of", "F", "behind", "B")
		row := parts(d)
		row[4], row[7] = r.Replace(row[4]), r.Replace(row[7])
		return row
	}
	whole := func(d []string) []string { // as programs write numbers into a table
		row := parts(d)
		if row[2] != "" {
			row[2] = row[2][len(row[2])-1:] + ".0"
		}
		return row
	}
	withSets := func(d []string) []string {
		i := slices.IndexFunc(plainSets, func(s []string) bool { return s[0] == d[0] })
		if d[1] != "Tpt 2" { // it is enough that one row of a set has them
			return append(slices.Clone(d), "", "", "")
		}
		s := plainSets[i]
		n, _ := strconv.Atoi(s[2])
		hold, _ := strconv.Atoi(s[3])
		return append(slices.Clone(d), s[1], strconv.Itoa(n-hold), s[3])
	}
	byPlayer := func(list [][]string) [][]string {
		slices.SortStableFunc(list[1:],
			func(a, b []string) int { return slices.Index(players, a[1]) - slices.Index(players, b[1]) })
		return list
	}
	var pages []any
	for _, s := range plainSets {
		page := [][]string{{"Set " + s[0]}, {"Player", "L", "D", "Cts", "Hold", "M"}}
		for _, name := range players {
			if d := dotOf(name, s[0]); d != nil {
				page = append(page, []string{name, d[0], d[1], s[2], s[3], s[1]})
			} else {
				page = append(page, []string{name})
			}
		}
		pages = append(pages, "Set "+s[0], append(page, nil, []string{"All: breathe!"}))
	}
	setsHead := [][]string{{"Sets of the show"}, {"No.", "Mv", "Cts", "Hold"}}
	for _, c := range []struct{ name, columns, sets, dots string }{
		{"the defaults", "", sets, own},
		{"a row each, one cell", "set = 'Form'\nplayer = 'Name'\ndot = 'Dot'", sets,
			text(rowOfEach([]string{"Name", "Form", "Dot"},
				func(d []string) []string { return []string{d[1], d[0], d[2] + "; " + d[3]} }), ',')},
		{"a row each, in parts", partKeys, sets, text(rowOfEach(partsHead, parts), ',')},
		{"a row each, in letters, semicolons", partKeys, sets,
			strings.ReplaceAll(text(rowOfEach(partsHead, short), ';'), ".", ",")},
		{"a row each, in parts, side 1.0", partKeys, sets, text(rowOfEach(partsHead, whole), ',')},
		{"a row each, in parts, side 1,0", partKeys, sets,
			strings.ReplaceAll(text(rowOfEach(partsHead, whole), ';'), ".", ",")},
		{"a row each, in parts, tabs and a mark", partKeys, sets, "\ufeff" + text(rowOfEach(partsHead, parts), '\t')},
		{"a row each, in parts, a workbook of numbers", partKeys + "sheet = 'all dots'", sets,
			book(t, true, "All dots", rowOfEach(partsHead, parts), "Plan", [][]string{{"Monday"}})},
		{"a row each, in parts, a workbook of text", partKeys, sets,
			book(t, false, "All dots", rowOfEach(partsHead, parts))},
		{"a row each, metres", "x = 'across'\ny = 'along'\nunit = 'm'\nset = 's'\nplayer = 'p'", sets,
			text(rowOfEach([]string{"s", "p", "across", "along"}, metres), ',')},
		{"a row each with its set's counts, the hold after them",
			"movement = 'Mv'\ncounts = 'Cts'\nhold = 'H'\nhold_after = true", "",
			text(rowOfEach([]string{"set", "player", "lateral", "depth", "Mv", "Cts", "H"}, withSets), ',')},
		{"the same, by player", "movement = 'Mv'\ncounts = 'Cts'\nhold = 'H'\nhold_after = true", "",
			text(byPlayer(rowOfEach([]string{"set", "player", "lateral", "depth", "Mv", "Cts", "H"}, withSets)), ',')},
		{"a column per set", "player = 'Player'\ndot = 'Set {set}'", sets,
			text(perSet([]string{"Set #"}, 1, false, one), ',')},
		{"a column per set, a bare label", "player = 'Player'\ndot = '{set}'", sets,
			text(perSet([]string{"#"}, 1, false, one), ',')},
		{"a column per set, counts above", "dot = '{set}'\nmovement = 'mvt'", "",
			text(perSet([]string{"#"}, 1, true, one), ',')},
		{"two columns per set, counts above, a workbook", "lateral = '{set}'\ndepth = '{set} depth'\nmovement = 'Mvt'",
			"", book(t, true, "Drill", perSet([]string{"#", "# Depth"}, 2, true, both))},
		{"a line end within the cell", "dot = '{set}'\nmovement = 'Mvt'", "",
			book(t, true, "Drill",
				perSet([]string{"#"}, 1, true, func(d []string) []string { return []string{strings.Join(d, "\n")} }))},
		{"a sheet per set", "sheet = 'set {set}'\nheader = 2\nlateral = 'L'\ndepth = 'D'", sets,
			book(t, true, pages...)},
		{"a sheet per set, counts in each",
			"sheet = 'Set {set}'\nheader = 2\nlast = 6\nlateral = 'L'\ndepth = 'D'\nmovement = 'M'\ncounts = 'Cts'", "",
			book(t, true, pages...)},
		{"a sheet of sets of its own",
			"dot = '{set}'\n[sets]\nsheet = 'Sets'\nheader = 2\nset = 'No.'\nmovement = 'Mv'\ncounts = 'Cts'",
			book(t, true, "Dots", [][]string{{"x"}}, "Sets", append(setsHead, plainSets...)),
			text(perSet([]string{"#"}, 1, false, one), ',')},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, p := read(t, c.columns, c.sets, c.dots)
			for _, x := range p.All() {
				if x.Code != "missing-dot" { // of a note in the column of players
					t.Fatal(said(p))
				}
			}
			same(t, want, got)
			// What import writes gives the same drill again.
			sets, dots := got.Sheets()
			p = &source.Problems{}
			again := drill.Read(drill.Sheets{Sets: open(t, "sets", text(sets, ','), 1),
				Dots: open(t, "dots", text(dots, ','), 2)}, college, p)
			if len(p.All()) > 0 {
				t.Fatal(said(p))
			}
			same(t, want, again)
		})
	}
}

func same(t *testing.T, want, got *drill.Drill) {
	t.Helper()
	if len(got.Sets) != len(want.Sets) || len(got.Players) != len(want.Players) {
		t.Fatalf("%d sets, %d players, want %d, %d", len(got.Sets), len(got.Players), len(want.Sets), len(want.Players))
	}
	for i, w := range want.Sets {
		if g := got.Sets[i]; g.Label != w.Label || g.Movement != w.Movement || g.Counts != w.Counts || g.Hold != w.Hold ||
			g.Begin != w.Begin || g.Arrive != w.Arrive || g.End != w.End {
			t.Errorf("set %d is %+v, want %+v", i, g, w)
		}
	}
	for _, w := range want.Players {
		g, ok := got.Player(w.Name)
		if !ok {
			t.Fatalf("%s is missing", w.Name)
		}
		for i := range w.Dots {
			if g.Dots[i].Known != w.Dots[i].Known ||
				math.Hypot(g.Dots[i].At.X-w.Dots[i].At.X, g.Dots[i].At.Y-w.Dots[i].At.Y) > 1e-9*unit.StepM {
				t.Errorf("%s in set %s at %+v, want %+v", w.Name, want.Sets[i].Label, g.Dots[i], w.Dots[i])
			}
		}
	}
}

// Whatever is read, each problem has a place within its file; and what is read without an error can be written as our
// own layout and read again as the same.
func FuzzLayouts(f *testing.F) {
	f.Add("", "set,movement,counts\n1,1,0\n", "player,set,lateral,depth\nA,1,on 50,on FH\n")
	f.Add("dot = '{set}'\nmovement = 1", "", "player,1,2\ncounts,0,8\nhold,0,4\nA,on 50;on FH,S1 2 in 35|on BH\n")
	f.Add("side = 'S'\nsteps = 'N'\ninside = 'I'\nyard = 'Y'\nline = 'L'\nmovement = 'M'\nhold_after = true", "",
		"player;set;S;N;I;Y;L;M;counts;hold\nA;1;2;2,5;I;35;FH;1;0;0\n")
	f.Add("x = 'x{set}'\ny = 'y{set}'\nunit = 'm'\nheader = 2\nlast = 4\n[sets]\nset = 'n'\nmovement = 1",
		"n,counts\n1,0\n2,8", "\nplayer,x1,y1,x2,y2\nA,1,2,3 yd,4\n")
	f.Fuzz(func(t *testing.T, columns, sets, dots string) {
		if _, err := source.Open("dots", []byte(dots), 1<<20); err != nil || workbook.Is([]byte(dots)) ||
			workbook.Is([]byte(sets)) {
			return
		}
		if _, err := source.Open("sets", []byte(sets), 1<<20); err != nil {
			return
		}
		if _, err := source.Open("show.toml", []byte(columns), 1<<20); err != nil {
			return
		}
		d, p := read(t, columns, sets, dots)
		d.Check(nil, p)
		for _, x := range p.All() {
			if f := x.Span.File; f != nil &&
				(x.Span.Start < 0 || x.Span.End < x.Span.Start || x.Span.End > len(f.Text)) {
				t.Fatalf("%s %s at %d to %d of %d", x.Code, x.What, x.Span.Start, x.Span.End, len(f.Text))
			}
		}
		if p.Errors() > 0 {
			return
		}
		rows1, rows2 := d.Sheets()
		if len(rows1) == 1 {
			return
		}
		again := &source.Problems{}
		e := drill.Read(drill.Sheets{Sets: &source.File{Name: "sets", Text: text(rows1, ',')},
			Dots: &source.File{Name: "dots", Text: text(rows2, ',')}}, college, again)
		if again.Errors() > 0 {
			t.Fatalf("%s\n%s%s", said(again), text(rows1, ','), text(rows2, ','))
		}
		if len(e.Sets) != len(d.Sets) || len(e.Players) != len(d.Players) {
			t.Fatalf("%d sets and %d players became %d and %d", len(d.Sets), len(d.Players), len(e.Sets),
				len(e.Players))
		}
		for _, x := range d.Players {
			y, ok := e.Player(x.Name)
			for i := range x.Dots {
				if !ok || y.Dots[i].Known != x.Dots[i].Known || y.Dots[i].At != x.Dots[i].At {
					t.Fatalf("%s in set %s: %+v became %+v", x.Name, d.Sets[i].Label, x.Dots[i], y)
				}
			}
		}
	})
}
