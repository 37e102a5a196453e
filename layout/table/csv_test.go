package table

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"runtime"
	"slices"
	"strings"
	"testing"

	"backfield/layout/separator"
	"backfield/layout/source"
)

var dots = []Column{{"set", true}, {"player", true}, {"lateral", true}, {"depth", false}}

func readSheet(text string, columns []Column) ([]Row, *source.Problems, *source.File) {
	body, p, f := readBody(text, columns)
	return slices.Collect(body.All()), p, f
}

func readBody(text string, columns []Column) (Body, *source.Problems, *source.File) {
	f := &source.File{Name: "dots.csv", Text: text}
	var p source.Problems
	return ReadCSV(f, columns, &p), &p, f
}

// cells is each row's known cells, with the text that each span marks where that is another.
func cells(f *source.File, rows []Row, columns []Column) string {
	var b strings.Builder
	for _, r := range rows {
		for i, c := range columns {
			if i > 0 {
				b.WriteString("|")
			}
			cell := r.Cell(c.Name)
			b.WriteString(cell.Text)
			if marked := f.Text[cell.Span.Start:cell.Span.End]; r.Has(c.Name) && marked != cell.Text {
				fmt.Fprintf(&b, "{%s}", marked)
			}
		}
		b.WriteString("\n")
	}
	return b.String()
}

func TestCSV(t *testing.T) {
	cases := []struct{ name, text, rows, problems string }{
		{"plain", "set,player,lateral,depth\n1,Tpt 1,on 50,4 behind\n", "1|Tpt 1|on 50|4 behind\n", ""},
		{"no final newline", "set,player,lateral\n1,a,b", "1|a|b|\n", ""},
		{"CRLF", "set,player,lateral,depth\r\n1,a,b,c\r\n2,d,e,f\r\n", "1|a|b|c\n2|d|e|f\n", ""},
		{"white space", "set , player,lateral\n 1 ,\ta b ,  c\n", "1|a b|c|\n", ""},
		{"quotes", "set,player,lateral\n\"1\",\"a, b\",\" c \"\n", "1|a, b|c|\n", ""},
		{"doubled quotes", "set,player,lateral\n1,\"the \"\"low\"\" brass\",\"\"\"x\"\"\"\n",
			"1|the \"low\" brass{the \"\"low\"\" brass}|\"x\"{\"\"x\"\"}|\n", ""},
		{"line end in a cell", "set,player,lateral\r\n1,\"a\r\nb\",\"c\"\r\n2,d,e\r\n", "1|a\nb{a\r\nb}|c|\n2|d|e|\n",
			""},
		{"multi-byte before", "set,player,lateral\n1,Zoë ♯1,à côté\n", "1|Zoë ♯1|à côté|\n", ""},
		{"multi-byte before quotes", "set,player,lateral\nß,\"Zoë\",\"50 → 45\"\n", "ß|Zoë|50 → 45|\n", ""},
		{"blank rows", "\n\nset,player,lateral\n\n1,a,b\n,,\n \n2,c,d\n\n", "1|a|b|\n2|c|d|\n", ""},
		{"blank row first", ",,\nset,player,lateral\n1,a,b\n", "1|a|b|\n", ""},
		{"trailing commas", "set,player,lateral,,\n1,a,b,,\n", "1|a|b|\n", ""},
		{"empty cells past the end", "set,player,lateral\n1,a,b,,,\n", "1|a|b|\n", ""},
		{"a cell past the end", "set,player,lateral\n1,a,2, inside 35\n", "1|a|2|\n",
			"2:8 extra-cell <inside 35> remove the extra comma, or quote the cell that has a comma in it\n"},
		{"short row", "set,player,lateral,depth\n1,a\n", "1|a||\n", ""},
		{"reordered", "depth,Lateral,SET,player\n1,2,3,4\n", "3|4|2|1\n", ""},
		{"extra", "set,remark,player,lateral\n1,x,a,b\n", "1|a|b|\n", ""},
		{"misspelt", "set,palyer,lateral\n1,a,b\n", "1|a|b|\n", "1:5 unknown-column <palyer> did you mean \"player\"?\n"},
		{"misspelt, not required", "set,player,lateral,dept\n1,a,b,c\n", "1|a|b|c\n",
			"1:20 unknown-column <dept> did you mean \"depth\"?\n"},
		{"like another", "set,player,lateral,Depth steps\n1,a,b,c\n", "1|a|b|\n",
			"1:20 unread-column <Depth steps> name it \"depth\" if it is that\n"},
		{"missing", "set,lateral\n1,b\n", "",
			"1:1 missing-column <set> the first row must name the columns: set, player, lateral, [depth]\n"},
		{"duplicate", "set,player,lateral,Player\n1,a,b,c\n", "1|a|b|\n", "1:20 duplicate-column <Player> keep one\n"},
		{"semicolons", "set;player;lateral;depth\n1,5;a, b;-0,25;3,0 steps\n",
			"1.5{1,5}|a, b|-0.25{-0,25}|3.0 steps{3,0 steps}\n", ""},
		{"tabs", "set\tplayer\tlateral\n1\ta, b\tc;d\n", "1|a, b|c;d|\n", ""},
		{"empty", "", "", "1:1 empty-file <> its first row must name the columns: set, player, lateral, [depth]\n"},
		{"blank", "\n , \n\n", "",
			"1:1 empty-file <> its first row must name the columns: set, player, lateral, [depth]\n"},
		{"only a header", "set,player,lateral\n", "", ""},
		{"quote in a cell", "set,player,lateral\n1,a,b\n2,5\" in,c\n3,d,e\n", "1|a|b|\n",
			"3:4 csv-syntax <\"> put the whole cell in quotes and double the inner quote; the rest of this sheet is " +
				"not read until then\n"},
		{"text after a quote", "set,player,lateral\n1,\"a\"x,b\n", "",
			"2:5 csv-syntax <\"> close the quote, or double a quote that belongs to the text; the rest of this sheet " +
				"is not read until then\n"},
		{"quote in a cell after multi-byte text", "set,player,lateral\nß,Zoë 5\" in,c\n", "",
			"2:8 csv-syntax <\"> put the whole cell in quotes and double the inner quote; the rest of this sheet is " +
				"not read until then\n"},
		{"unclosed quote in the header", "set,\"player,lateral\n1,a,b\n", "",
			"1:5 csv-syntax <\"> close it, or remove it; the rest of this sheet is not read until then\n"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			rows, p, f := readSheet(c.text, dots)
			if got := cells(f, rows, dots); got != c.rows {
				t.Errorf("rows\n%qwant\n%q", got, c.rows)
			}
			if got := told(p); got != c.problems {
				t.Errorf("problems\n%swant\n%s", got, c.problems)
			}
		})
	}
}

// TestCellPlaces: where missing cells would be.
func TestCellPlaces(t *testing.T) {
	rows, _, f := readSheet("set,player,lateral\n1,ab\n", dots)
	r := rows[0]
	if c := r.Cell("lateral"); c.Text != "" || c.Span.Start != len("set,player,lateral\n1,ab") || c.Span.File != f {
		t.Errorf("a cell the row lacks: %+v", c)
	}
	if c := r.Cell("depth"); c.Text != "" || c.Span != r.Span || r.Has("depth") || !r.Has("lateral") {
		t.Errorf("a column the sheet lacks: %+v", c)
	}
}

func TestCellNumbers(t *testing.T) {
	number := func(text string) (float64, int) {
		var p source.Problems
		f := &source.File{Name: "x", Text: text}
		v := Cell{text, f.Whole()}.Number(7, "counts", &p)
		return v, p.Errors()
	}
	for text, want := range map[string]float64{"": 7, "1.5": 1.5, "-3": -3, "1e2": 100} {
		if v, n := number(text); v != want || n != 0 {
			t.Errorf("%q is %v with %d problems", text, v, n)
		}
	}
	for _, text := range []string{"x", "1,5", "inf", "NaN", "1e999", "1 2"} {
		if v, n := number(text); v != 7 || n != 1 {
			t.Errorf("%q is %v with %d problems", text, v, n)
		}
	}
	whole := func(text string) (int, bool, int) {
		var p source.Problems
		f := &source.File{Name: "x", Text: text}
		v, ok := Cell{text, f.Whole()}.Whole(1, 16, "counts", &p)
		return v, ok, p.Errors()
	}
	for text, want := range map[string]int{"1": 1, "16": 16, "16.0": 16} {
		if v, ok, n := whole(text); v != want || !ok || n != 0 {
			t.Errorf("%q is %v, %v with %d problems", text, v, ok, n)
		}
	}
	for _, text := range []string{"0", "17", "1.5", "x", "inf", "nan", "-1"} {
		if _, ok, n := whole(text); ok || n != 1 {
			t.Errorf("%q is accepted, or %d problems", text, n)
		}
	}
	if _, ok, n := whole(""); ok || n != 0 {
		t.Error("an empty cell is no number and no problem")
	}
}

// records are the first n rows below the header as the parser of the library has them.
func records(text string, n int) (list [][]string) {
	comma := separator.Of(text)
	r := csv.NewReader(strings.NewReader(text))
	r.Comma, r.FieldsPerRecord = comma, -1
	for first := true; len(list) < n; {
		record, err := r.Read()
		if err != nil {
			return list
		}
		if strings.TrimSpace(strings.Join(record, "")) == "" || first && strings.HasPrefix(record[0], separator.Line) {
			continue
		}
		for i := range record {
			if record[i] = strings.TrimSpace(record[i]); comma != ',' {
				record[i] = decimalComma.ReplaceAllString(record[i], "$1.$2")
			}
		}
		if !first {
			list = append(list, record)
		}
		first = false
	}
	return list
}

func FuzzReadCSV(f *testing.F) {
	for _, text := range []string{
		"set,player,lateral,depth\n1,a,b,c\n", "set;player;lateral\r\n\"1,5\";\"a\r\nb\";\"\"\"\"\r\n",
		"set\tplayer\tlateral\n1\tZoë\t\n",
		"set,player,lateral\n1,5\" in,c\n", "\n,,\nset,player,lateral,x,,\n1,a\n",
		"set,player,lateral\n1,\" \"\"a\"\" \",b", "set,palyer\r\r\n",
	} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		file, err := source.Open("fuzz.csv", []byte(text), 1<<14)
		if err != nil {
			return
		}
		var p source.Problems
		rows := slices.Collect(ReadCSV(file, dots, &p).All())
		for _, x := range p.All() {
			if s := x.Span; s.Start < 0 || s.Start > s.End || s.End > len(file.Text) {
				t.Fatalf("a problem from %d to %d in %d bytes", s.Start, s.End, len(file.Text))
			}
		}
		for i, record := range records(file.Text, len(rows)) {
			for n, c := range rows[i].cells {
				if len(rows[i].cells) != len(record) || c.Text != record[n] {
					t.Fatalf("row %d is %v, and the parser has %q", i, rows[i].cells, record)
				}
			}
		}
		for _, r := range rows {
			for _, c := range r.cells {
				if c.Span.Start < 0 || c.Span.Start > c.Span.End || c.Span.End > len(file.Text) {
					t.Fatalf("cell %q from %d to %d in %d bytes", c.Text, c.Span.Start, c.Span.End, len(file.Text))
				}
				// The marked text, put in a sheet of its own, is the cell again.
				marked := file.Text[c.Span.Start:c.Span.End]
				if c.Span.Start > 0 && strings.ContainsAny(marked, "\",;\t\n") {
					marked = `"` + marked + `"`
				}
				again, err := csv.NewReader(strings.NewReader(marked)).Read()
				if errors.Is(err, io.EOF) && c.Text == "" {
					continue
				}
				if separator.Of(file.Text) != ',' && err == nil {
					again[0] = decimalComma.ReplaceAllString(again[0], "$1.$2")
				}
				if err != nil || again[0] != c.Text {
					t.Fatalf("cell %q is marked %q, which reads %q (%v)", c.Text, marked, again, err)
				}
			}
		}
	})
}

// A sheet keeps 4 bytes for each row, and 8 for each line of the file, however many cells there are.
func TestRowsAreSmall(t *testing.T) {
	const rows = 20_000
	text := "set,player,lateral,depth\n" + strings.Repeat("1,Tpt 1,\"side 1, 2 inside 35\",4 behind front hash\n", rows)
	inUse := func() float64 {
		var m runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&m)
		return float64(m.HeapAlloc)
	}
	before := inUse()
	body, p, f := readBody(text, dots)
	if each := (inUse() - before) / rows; each > 20 || body.Len() != rows || len(p.All()) > 0 {
		t.Errorf("%d rows of %.0f bytes each, want 20 at most; %v", body.Len(), each, p.All())
	}
	runtime.KeepAlive(f)
	runtime.KeepAlive(body)
}
