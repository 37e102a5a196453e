package rows_test

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"

	"backfield/layout/drill"
	"backfield/layout/rows"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/workbook"
)

// sheetLines are the lines of show.toml for a sheet, and what is said of one that cannot be read.
type sheetLines struct {
	Columns *rows.Columns         `key:"columns"`
	Words   table.Map[table.Text] `key:"words"`
	Refused *struct {
		Says table.Text `key:"says"`
	} `key:"refused"`
}

// meterTable is where each dot is, by the script in testdata/sheets that wrote the sheets: by sheet, set and player.
func meterTable(t *testing.T) map[string][2]float64 {
	t.Helper()
	data, err := os.ReadFile("testdata/sheets/meters.csv")
	if err != nil {
		t.Fatal(err)
	}
	list := map[string][2]float64{}
	for _, line := range strings.Split(strings.TrimSpace(string(data)), "\n")[1:] {
		cells := strings.Split(line, ",")
		x, err1 := strconv.ParseFloat(cells[3], 64)
		y, err2 := strconv.ParseFloat(cells[4], 64)
		if err1 != nil || err2 != nil {
			t.Fatal(line)
		}
		list[strings.Join(cells[:3], " ")] = [2]float64{x, y}
	}
	return list
}

// Sheets in many shapes and notations, which an independent script has written, are read to the millimeter, or refused
// with the line to add. None is read wrongly, and nothing of one is left out.
func TestSheetsOfManyShapes(t *testing.T) {
	archive, err := txtar.ParseFile("testdata/sheets/lines.txt")
	if err != nil {
		t.Fatal(err)
	}
	if len(archive.Files) < 40 {
		t.Fatalf("only %d sheets", len(archive.Files))
	}
	want := meterTable(t)
	sets := &source.File{Name: "sets.csv", Text: "set,movement,counts,hold\n1,1,0,0\n2,1,64,8\n2A,1,64,0\n3,2,64,16\n"}
	type read struct {
		path string
		txtar.File
	}
	var list []read
	for _, file := range archive.Files {
		list = append(list, read{filepath.Join("testdata/sheets", file.Name), file})
		saved, _ := filepath.Glob("testdata/programs/" + strings.TrimSuffix(file.Name, ".xlsx") + "-*.xlsx")
		for _, path := range saved {
			list = append(list, read{path, file})
		}
	}
	if n := len(list) - len(archive.Files); n < 16 {
		t.Fatalf("only %d sheets saved by programs", n)
	}
	for _, file := range list {
		t.Run(filepath.Base(file.path), func(t *testing.T) {
			raw, err := os.ReadFile(file.path)
			if err != nil {
				t.Fatal(err)
			}
			dots := &source.File{Name: file.Name, Text: string(raw), Order: 1}
			if workbook.Is(raw) {
				if dots, err = workbook.Open(file.Name, raw); err != nil {
					t.Fatal(err)
				}
			}
			var p source.Problems
			var lines sheetLines
			table.Decode(table.ReadTOML(&source.File{Name: "show.toml", Text: string(file.Data)}, &p), &lines, &p)
			d := drill.Read(drill.Sheets{Sets: sets, Dots: dots, Columns: lines.Columns, Words: lines.Words}, college, &p)
			if lines.Refused != nil {
				if p.Errors() == 0 || !strings.Contains(said(&p), lines.Refused.Says.V) {
					t.Errorf("not refused with %s:\n%s", lines.Refused.Says.V, said(&p))
				}
				return
			}
			if p.Errors() > 0 {
				t.Fatal(said(&p))
			}
			dotsRead := 0
			for _, x := range d.Players {
				for i, dot := range x.Dots {
					m, ok := want[strings.Join([]string{file.Name, d.Sets[i].Label, strings.ReplaceAll(x.Name, " ", "")}, " ")]
					if dotsRead++; !ok || !dot.Known || math.Hypot(dot.At.X-m[0], dot.At.Y-m[1]) > 0.001 {
						t.Errorf("%s in set %s is at %.4f, %.4f (%s), want %.4f", x.Name, d.Sets[i].Label, dot.At.X, dot.At.Y,
							x.Words(i), m)
					}
				}
			}
			if dotsRead != 20 {
				t.Errorf("%d dots, want 20", dotsRead)
			}
			for i, want := range []string{"1 1 0 0 0 0", "2 1 64 8 56 64", "2A 1 64 0 128 128", "3 2 64 16 48 64"} {
				s := d.Sets[i]
				if got := fmt.Sprint(s.Label, " ", s.Movement, s.Counts, s.Hold, s.Arrive, s.End); got != want {
					t.Errorf("set %d: %s, want %s", i, got, want)
				}
			}
		})
	}
}
