package rows_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"backfield/layout/drill"
	"backfield/layout/source"
)

// turned is a table with its columns as rows.
func turned(list [][]string) [][]string {
	width := 0
	for _, row := range list {
		width = max(width, len(row))
	}
	out := make([][]string, width)
	for i := range out {
		for _, row := range list {
			cell := ""
			if i < len(row) {
				cell = row[i]
			}
			out[i] = append(out[i], cell)
		}
	}
	return out
}

// mergedBook is a workbook of one sheet with cells merged, each as "A1:B1".
func mergedBook(t testing.TB, name string, cells [][]string, merges ...string) string {
	t.Helper()
	f, err := excelize.OpenReader(strings.NewReader(book(t, true, name, cells)))
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range merges {
		from, to, _ := strings.Cut(m, ":")
		if err := f.MergeCell(name, from, to); err != nil {
			t.Fatal(err)
		}
	}
	b, err := f.WriteToBuffer()
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// The shapes that staff's sheets come in give the same drill as Backfield's own.
func TestShapesTellTheSame(t *testing.T) {
	sets := text(append([][]string{{"set", "movement", "counts", "hold"}}, plainSets...), ',')
	own := text(append([][]string{{"set", "player", "lateral", "depth"}}, plainDots...), ',')
	var p source.Problems
	want := drill.Read(drill.Sheets{Sets: open(t, "sets", sets, 1), Dots: open(t, "dots", own, 2)}, college, &p)
	if p.Errors() > 0 {
		t.Fatal(said(&p))
	}
	symbols := rowOfEach([]string{"set", "Symbol", "Label", "lateral", "depth"}, func(d []string) []string {
		symbol, label, _ := strings.Cut(d[1], " ")
		return []string{d[0], symbol, label, d[2], d[3]}
	})
	byName := [][]string{{"player", "set", "lateral", "depth"}} // a name in its first row only
	var nameAbove, blocks, blocksOfOneHead [][]string
	blocksOfOneHead = append(blocksOfOneHead, []string{"Drill of the show"}, []string{"Set", "Side to side", "Front to back"})
	nameAbove = append(nameAbove, byName[0])
	var merges []string
	pages := []any{"Plan", [][]string{{"Monday"}}}
	for _, name := range players {
		page := [][]string{{"Set", "Side to side", "Front to back"}}
		blocks = append(blocks, []string{"Performer: " + name}, page[0])
		blocksOfOneHead = append(blocksOfOneHead, nil, []string{"Performer:", name})
		nameAbove = append(nameAbove, []string{name})
		row := len(byName) + 1
		for _, d := range plainDots {
			if d[1] != name {
				continue
			}
			cell := []string{d[0], d[2], d[3]}
			page, blocks, blocksOfOneHead = append(page, cell), append(blocks, cell), append(blocksOfOneHead, cell)
			nameAbove = append(nameAbove, append([]string{""}, cell...))
			if len(byName)+1 == row {
				byName = append(byName, append([]string{name}, cell...))
			} else {
				byName = append(byName, append([]string{""}, cell...))
			}
		}
		merges = append(merges, fmt.Sprintf("A%d:A%d", row, len(byName)))
		blocks = append(blocks, nil, []string{"turn the page"}, nil)
		pages = append(pages, "Dots "+name, page)
	}
	setBlocks := [][]string{{"Player", "L", "D"}}
	for _, s := range plainSets {
		setBlocks = append(setBlocks, nil, []string{"Set " + s[0]})
		for _, d := range plainDots {
			if d[0] == s[0] {
				setBlocks = append(setBlocks, d[1:])
			}
		}
	}
	both := func(d []string) []string { return d }
	wide := perSet([]string{"# Side", "# Depth"}, 2, false, both)
	halves := slices.Clone(wide)
	groups := []string{""}
	halves[0] = []string{"Player"}
	var groupMerges []string
	for i, s := range plainSets {
		groups = append(groups, "Set "+s[0], "")
		halves[0] = append(halves[0], "Side", "Depth")
		a, _ := excelize.CoordinatesToCellName(2+2*i, 2)
		b, _ := excelize.CoordinatesToCellName(3+2*i, 2)
		groupMerges = append(groupMerges, a+":"+b)
	}
	twoHeads := append([][]string{{"The mill"}, groups}, halves...)
	var titled []any // sheets whose tables begin in other rows
	for i, s := range plainSets {
		page := [][]string{{"The mill"}, {"Set " + s[0]}}[:1+i%2]
		page = append(page, []string{"Player", "L", "D"})
		for _, d := range plainDots {
			if d[0] == s[0] {
				page = append(page, d[1:])
			}
		}
		titled = append(titled, "Set "+s[0], append(page, nil, []string{"4 players"}, []string{"", "printed in May"}))
	}
	halfKeys := "lateral = 'Side to side'\ndepth = 'Front to back'\n"
	for _, c := range []struct{ name, columns, dots string }{
		{"a name of two columns", "player = ['Symbol', 'Label']", text(symbols, ',')},
		{"names in the first row only", "fill = 'down'", text(byName, ',')},
		{"names above their rows", "fill = 'down'", text(nameAbove, ',')},
		{"names in merged cells", "fill = 'down'", mergedBook(t, "Dots", byName, merges...)},
		{"a block each", halfKeys + "block = 'Performer: {player}'", text(blocks, ',')},
		{"a block each, one header", halfKeys + "block = 'Performer: {player}'", book(t, true, "Dots", blocksOfOneHead)},
		{"a block for each set", "block = 'Set {set}'\nlateral = 'L'\ndepth = 'D'", text(setBlocks, ',')},
		{"a sheet each", halfKeys + "sheet = 'Dots {player}'", book(t, true, pages...)},
		{"transposed", "transposed = true\nlateral = '{set} Side'\ndepth = '{set} Depth'", text(turned(wide), ',')},
		{"transposed, a workbook", "transposed = true\nheader = 2\nlateral = '{set} Side'\ndepth = '{set} Depth'",
			book(t, true, "Dots", turned(append([][]string{{"The mill"}}, wide...)))},
		{"two header rows", "header = [2, 3]\nlateral = 'Set {set} Side'\ndepth = 'Set {set} Depth'", text(twoHeads, ',')},
		{"two header rows, merged", "header = [2, 3]\nlateral = 'Set {set} Side'\ndepth = 'Set {set} Depth'",
			mergedBook(t, "Dots", twoHeads, append(groupMerges, "A1:K1")...)},
		{"titles of other heights, and notes below", "sheet = 'Set {set}'\nlateral = 'L'\ndepth = 'D'",
			book(t, true, titled...)},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, p := read(t, c.columns, sets, c.dots)
			if len(p.All()) > 0 {
				t.Fatal(said(p))
			}
			same(t, want, got)
		})
	}
}

// Keys that cannot go together are refused, and what is wrong in a shape is shown where it is.
func TestShapeMistakes(t *testing.T) {
	const sets = "set,movement,counts\n1,1,0\n2,1,16\n"
	const blocks = "Performer: A\nset,lateral,depth\n1,on 50,on FH\n2,on 50,on FH\n"
	for _, c := range []struct{ name, columns, dots, want string }{
		{"a title of no words", "block = '{player}'", blocks,
			"show.toml:1:9: a block's title needs its words, and {player} or {set} once"},
		{"no such title", "block = 'Marcher: {player}'", blocks, `show.toml:1:9: no row of dots is a title like "Marcher: {player}"`},
		{"named twice", "block = 'Performer: {player}'\nplayer = 'Who'", blocks,
			"show.toml:2:10: the players are named by the sheets or blocks, and also by a column"},
		{"a block of nothing", "block = 'Performer: {player}'", blocks + "Performer: B\n",
			"dots:5:1: no rows are below the title of B"},
		{"a mistake in a block", "block = 'Performer: {player}'", strings.Replace(blocks, "2,on 50", "2,on 51", 1),
			"dots:4:6: there is no 51 yard line"},
		{"fill up", "fill = 'up'", "player,set,lateral,depth\nA,1,on 50,on FH\n", `show.toml:1:8: fill cannot be "up"`},
		{"nothing above", "fill = 'down'", "player,set,lateral,depth\n,1,on 50,on FH\nA,1,on 50,on BH\n",
			"dots:2:1: this row has a dot but no player"},
		{"no fill asked for", "", "player,set,lateral,depth\nA,1,on 50,on FH\n,2,on 50,on FH\n",
			"dots:3:1: this row has a dot but no player"},
		{"a footer right below a block", "block = 'Performer: {player}'\nmovement = 1",
			strings.NewReplacer("depth\n", "depth,counts\n", "on FH\n", "on FH,0\n").Replace(blocks) + "checked\n",
			`dots:5:1: "checked" is the only cell in its row`},
		{"no such row", "header = [1, 7]", "player,set,lateral,depth\nA,1,on 50,on FH\n", "show.toml:1:14: row 7 is empty"},
		{"a part of a name that is not there", "player = ['player', 'Lable']", "player,Label,set,lateral,depth\nA,1,1,on 50,on FH\n",
			`show.toml:1:21: row 1 of dots has no column "Lable"`},
		{"the hold under another name", "", "player,set,lateral,depth,movement,counts,Hold counts\nA,1,on 50,on FH,1,0,0\n",
			`dots:1:42: the column "Hold counts" is not read`},
	} {
		t.Run(c.name, func(t *testing.T) {
			with := sets
			if strings.Contains(c.dots, "counts") {
				with = ""
			}
			_, p := read(t, c.columns, with, c.dots)
			var got []string
			for _, x := range p.All() {
				got = append(got, x.Span.Where()+": "+x.What)
			}
			if !slices.Contains(got, c.want) {
				t.Errorf("%s\nwant\n%s", strings.Join(got, "\n"), c.want)
			}
		})
	}
}

// Notes right below a block, and a cover beside sheets of bare names, are no dots. They are listed as unread. A name of a
// set may be in its first row only, like one of a player.
func TestNoDots(t *testing.T) {
	const sets = "set,movement,counts\n1,1,0\n2,1,16\n"
	page := [][]string{{"set", "lateral", "depth"}, {"1", "on 50", "on FH"}, {"2", "on 50", "on BH"}}
	shifted := [][]string{{"set", "lateral", "depth"}, {"1", "S1 on 45", "on FH"}, {"2", "S1 on 45", "on BH"}}
	const block = "Performer: A\nset,lateral,depth\n1,on 50,on FH\n2,on 50,on BH\n"
	other := strings.NewReplacer("r: A", "r: B", "on 50", "S1 on 45").Replace(block)
	cover := [][]string{{"The mill"}, {"staff", "Monday"}}
	for _, c := range []struct{ name, columns, dots, idle string }{
		{"a footer below each block", "block = 'Performer: {player}'", block + "see the section leader\n" + other +
			"Total:,2 sets\nrev. B\n", `dots:5:1: row 5, below the block|dots:10:1: row 10, below the block`},
		{"a cover beside players", "sheet = '{player}'", book(t, true, "Cover", cover, "A", page, "B", shifted),
			`dots:Cover!A1: the sheet "Cover"`},
		{"a set in its first row", "fill = 'down'",
			"set,player,lateral,depth\n1,A,on 50,on FH\n,B,S1 on 45,on FH\n2,A,on 50,on BH\n,B,S1 on 45,on BH\n", ""},
	} {
		d, p := read(t, c.columns, sets, c.dots)
		var got []string
		for _, x := range p.AllIdle() {
			got = append(got, x.Span.Where()+": "+x.What)
		}
		if strings.Join(got, "|") != c.idle || len(p.All()) > 0 {
			t.Errorf("%s: %q, want %q\n%s", c.name, got, c.idle, said(p))
			continue
		}
		if len(d.Players) != 2 || d.Players[0].Known() != 2 || d.Players[1].Words(1) != "S1 on 45; on BH" {
			t.Errorf("%s: %v", c.name, d.Players)
		}
	}
	_, p := read(t, "fill = 'down'", sets, "set,player,lateral,depth\n1,A,on 50,on FH\n2,A,on 50,on BH\n7,rev. B,May\n")
	if want := `write last = 3 in [drill.columns]`; len(p.All()) != 1 || !strings.Contains(p.All()[0].Do, want) {
		t.Errorf("%s, want %s", said(p), want)
	}
}

// What no number came from is listed: sheets, columns, and the rows below a table.
func TestIdle(t *testing.T) {
	_, p := read(t, "sheet = 'Dots'\nmovement = 1", "", book(t, true, "Plan", [][]string{{"Monday"}}, "Dots",
		[][]string{{"The mill"}, {"player", "set", "lateral", "depth", "counts", "Notes"},
			{"A", "1", "on 50", "on FH", "0", "tall"}, nil, {"1 player"}, {"", "printed"}}))
	var got []string
	for _, x := range p.AllIdle() {
		got = append(got, x.Span.Where()+": "+x.What)
	}
	if want := `dots:Plan!A1: the sheet "Plan"|dots:Dots!F2: the column "Notes"|dots:Dots!A5: rows 5 to 6, below the table`; strings.Join(got, "|") != want || len(p.All()) > 0 {
		t.Errorf("%s\n%s", strings.Join(got, "\n"), said(p))
	}
}

// A sheet of sets in another layout says where bells point, too: in the column that is named, or in one of that name.
func TestFacingOfSets(t *testing.T) {
	own := text(append([][]string{{"set", "player", "lateral", "depth"}}, plainDots...), ',')
	of := func(head, cell string) string {
		sheet := [][]string{{"Form", "Mv", "Cts", head}}
		for i, s := range plainSets {
			row := append(slices.Clone(s[:3]), "")
			if i == 1 {
				row[3] = cell
			}
			sheet = append(sheet, row)
		}
		return text(sheet, ',')
	}
	const keys = "[sets]\nset = 'Form'\nmovement = 'Mv'\ncounts = 'Cts'\n"
	for _, c := range []struct{ name, keys, sets, facing, said string }{
		{"named", "facing = 'Bells'", of("Bells", "Back"), "back", ""},
		{"found", "", of("Facing", "-40"), "-40", ""},
		{"not named", "", of("Bells", "back"), "", ""},
		{"misread", "facing = 'Bells'", of("Bells", "away"), "", "bad-choice"},
		{"missing", "facing = 'Bells'", of("Horns", "back"), "", `"Bells"`},
	} {
		d, p := read(t, keys+c.keys, c.sets, own)
		got := ""
		if len(d.Sets) > 1 {
			got = d.Sets[1].Facing.Words()
		}
		if got != c.facing || (p.Errors() > 0) != (c.said != "") || !strings.Contains(said(p), c.said) {
			t.Errorf("%s: set 2 faces %q, want %q, and %q:\n%s", c.name, got, c.facing, c.said, said(p))
		}
	}
}
