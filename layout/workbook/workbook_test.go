package workbook

import (
	"archive/zip"
	"bytes"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"backfield/layout/source"
)

// A workbook that another program has written is read as that program's user sees it, and what is not to be read as it
// is noted. What it holds is in testdata/write.py.
func TestAnotherProgramsWorkbook(t *testing.T) {
	raw, err := os.ReadFile("testdata/openpyxl.xlsx")
	if err != nil {
		t.Fatal(err)
	}
	f, err := Open("drill.xlsx", raw)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, s := range f.Sheets {
		names = append(names, s.Name)
	}
	if want := []string{"Dots, all", "Empty", "Sets"}; !slices.Equal(names, want) {
		t.Errorf("sheets %q, want %q: a chart is none", names, want)
	}
	want := "Two Lanterns\n\nPlayer\tSet 1\tSet 2\tSteps\tShown\n" +
		"Tpt 1\tS1 2 outside 45\v4 behind front hash\ton 50; on FH\t2.5\t2.25\n" +
		"Tuba ü\t\tS2 on 40; on BH\t0.3\t0.5\nDate\t46024\t\t\t1\nMerged\tboth\t\t007\t1,5\n\t\t\t3\n" +
		"set\tcounts\n1\t0\n2\t16\n"
	if f.Text != want {
		t.Errorf("%q\nwant\n%q", f.Text, want)
	}
	var flaws []string
	for offset, flaw := range f.Sheets[0].Flaws {
		what, _, _ := strings.Cut(flaw.What, ":")
		flaws = append(flaws,
			fmt.Sprintf("%s %s, at %s", source.Span{File: f, Start: offset}.Where(), what,
				source.Span{File: f, Start: flaw.At}.Where()))
	}
	slices.Sort(flaws)
	if got, want := strings.Join(flaws, "\n"),
		`drill.xlsx:Dots, all!A1 the cells A1 to C1 are merged into one, at drill.xlsx:Dots, all!A1
drill.xlsx:Dots, all!B6 this cell shows "2026-01-02" but holds the number 46024, at drill.xlsx:Dots, all!B6
drill.xlsx:Dots, all!B7 the cells B7 to C7 are merged into one, at drill.xlsx:Dots, all!B7
drill.xlsx:Dots, all!C6 this cell has a formula without a result, at drill.xlsx:Dots, all!C6
drill.xlsx:Dots, all!C7 the cells B7 to C7 are merged into one, at drill.xlsx:Dots, all!B7
drill.xlsx:Dots, all!D6 this cell has a formula without a result, at drill.xlsx:Dots, all!D6
drill.xlsx:Dots, all!D8 this cell shows "3 steps" but holds the number 3, at drill.xlsx:Dots, all!D8
drill.xlsx:Dots, all!E5 this cell shows "50%" but holds the number 0.5, at drill.xlsx:Dots, all!E5`; got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
}

// book packs parts into an archive, beside those that every workbook has.
func book(t testing.TB, sheet string, parts map[string]string) []byte {
	t.Helper()
	all := map[string]string{
		"[Content_Types].xml": `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default ` +
			`Extension="xml" ContentType="application/xml"/></Types>`,
		"_rels/.rels": `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">` +
			`<Relationship Id="rId1" ` +
			`Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" ` +
			`Target="xl/workbook.xml"/></Relationships>`,
		"xl/workbook.xml": `<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" ` +
			`xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships">` +
			`<sheets><sheet name="Dots" sheetId="1" r:id="rId1"/></sheets></workbook>`,
		"xl/_rels/workbook.xml.rels": `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">` +
			`<Relationship Id="rId1" Type="t" Target="worksheets/sheet1.xml"/></Relationships>`,
		"xl/styles.xml": `<styleSheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"/>`,
		"xl/worksheets/sheet1.xml": `<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">` +
			`<sheetData>` + sheet + `</sheetData></worksheet>`,
	}
	for name, text := range parts {
		all[name] = text
	}
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, name := range []string{"[Content_Types].xml", "_rels/.rels", "mimetype", "xl/workbook.xml",
		"xl/_rels/workbook.xml.rels", "xl/sharedStrings.xml", "xl/styles.xml", "xl/worksheets/sheet1.xml",
		"xl/media/image1.png"} {
		if text, ok := all[name]; ok && text != "" {
			part, err := w.Create(name)
			if err != nil {
				t.Fatal(err)
			}
			part.Write([]byte(text))
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// A cell is read, or its sheet says why not: nothing is left out in silence.
func TestCells(t *testing.T) {
	for _, c := range []struct{ name, sheet, text, flaw string }{
		{"numbers", `<row r="1"><c r="A1"><v>2.2999999999999998</v></c><c r="C1"><v>-16</v></c></row>`, "2.3\t\t-16\n",
			""},
		{"numbers as programs save them",
			`<row r="1"><c r="A1"><v>1.0</v></c><c r="B1"><v>2.50</v></c><c r="C1"><v>1.2E1</v></c></row>`,
			"1\t2.5\t12\n", ""},
		{"text of digits",
			`<row r="1"><c r="A1" t="inlineStr"><is><t>000123456789</t></is></c><c r="B1" ` +
				`t="inlineStr"><is><t>1.0</t></is></c></row>`, "000123456789\t1.0\n", ""},
		{"no references", `<row><c><v>1</v></c><c t="str"><v>x</v></c></row><row><c><v>3</v></c></row>`, "1\tx\n3\n",
			""},
		{"inline text", `<row r="2"><c r="B2" t="inlineStr"><is><t>on 50</t></is></c></row>`, "\n\ton 50\n", ""},
		{"a tab and line ends", `<row r="1"><c r="A1" t="inlineStr"><is><t>a&#9;b&#13;&#10;c&#10;d</t></is></c></row>`,
			"a b\vc\vd\n", ""},
		{"a formula with its result", `<row r="1"><c r="A1" t="str"><f>B1</f><v>on 50</v></c></row>`, "on 50\n", ""},
		{"a formula without", `<row r="1"><c r="A1"><f>B1</f></c><c r="B1"><v>1</v></c></row>`, "\t1\n",
			"this cell has a formula without a result"},
		{"a failed formula", `<row r="1"><c r="A1" t="e"><f>1/0</f><v>#DIV/0!</v></c></row>`, "#DIV/0!\n",
			"this cell's formula failed: #DIV/0!"},
		{"a date of its own kind", `<row r="1"><c r="A1" t="d"><v>2026-01-02</v></c></row>`, "2026-01-02\n",
			"the spreadsheet turned this cell into a date (2026-01-02)"},
		{"no number", `<row r="1"><c r="A1"><v>NaN</v></c></row>`, "NaN\n",
			`this cell is marked as a number but holds "NaN"`},
		{"styled, blank rows to the end",
			`<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="XFD1048576" s="0"/></row>`, "1\n", ""},
	} {
		f, err := Open("x.xlsx", book(t, c.sheet, nil))
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if f.Text != c.text {
			t.Errorf("%s: %q, want %q", c.name, f.Text, c.text)
		}
		got := ""
		for _, flaw := range f.Sheets[0].Flaws {
			got = flaw.What
		}
		if got != c.flaw {
			t.Errorf("%s: flaw %q, want %q", c.name, got, c.flaw)
		}
	}
}

// What cannot be read says why, and small files that ask for much are refused at once.
func TestRefused(t *testing.T) {
	one := `<row r="1"><c r="A1"><v>1</v></c></row>`
	whole := book(t, one, nil)
	var wide strings.Builder
	for i := range 1500 {
		fmt.Fprintf(&wide, `<row r="%d"><c r="BXX%d"><v>1</v></c></row>`, i+1, i+1)
	}
	for _, c := range []struct {
		name string
		raw  []byte
		want string
	}{
		{"cut off", whole[:len(whole)/2], "wait until the spreadsheet program has saved it"},
		{"locked or old", []byte("\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1rest"), "without a password"},
		{"another archive", book(t, one, map[string]string{"xl/workbook.xml": ""}), "not an .xlsx workbook"},
		{"OpenDocument", book(t, one, map[string]string{"mimetype": "application/vnd.oasis.opendocument.spreadsheet"}),
			"OpenDocument"},
		{"no such part", book(t, one, map[string]string{"xl/worksheets/sheet1.xml": ""}),
			`no part "xl/worksheets/sheet1.xml"`},
		{"a sheet that breaks off",
			book(t, "", map[string]string{"xl/worksheets/sheet1.xml": `<worksheet><sheetData>` + one}),
			`in its sheet "Dots"`},
		{"a text that is not there", book(t, `<row r="1"><c r="A1" t="s"><v>7</v></c></row>`, nil),
			"the text of cell A1 is not in the workbook"},
		{"far to the right", book(t, `<row r="1"><c r="XFD1"><v>1</v></c></row>`, nil),
			"column XFD is in use"},
		{"far down", book(t, `<row r="900000"><c r="A900000"><v>1</v></c></row>`, nil),
			"row 900000 is in use"},
		{"wide and long", book(t, wide.String(), nil), "cells in use"},
		{"out of order", book(t, `<row r="2"><c r="A2"><v>1</v></c></row><row r="1"><c r="A1"><v>1</v></c></row>`, nil),
			"out of order"},
		{"a cell of another row", book(t, `<row r="2"><c r="A3"><v>1</v></c></row>`, nil), "out of order"},
		{"a bomb", book(t, one, map[string]string{"xl/media/image1.png": strings.Repeat("0", mostUnzipped+1)}),
			"64 MiB when unpacked"},
		{"a chart alone", book(t, "", map[string]string{"xl/worksheets/sheet1.xml": `<chartsheet/>`}),
			"without a sheet of cells"},
	} {
		start := time.Now()
		f, err := Open("x.xlsx", c.raw)
		switch {
		case err == nil:
			t.Errorf("%s: read as %q", c.name, f.Text)
		case !strings.Contains(err.Error(), c.want):
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
		if took := time.Since(start); took > 20*time.Second {
			t.Errorf("%s: took %v", c.name, took)
		}
	}
}

// A large drill, 100 players in 80 sets, is well inside the bounds.
func TestLarge(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	book := excelize.NewFile()
	w, err := book.NewStreamWriter("Sheet1")
	if err != nil {
		t.Fatal(err)
	}
	const rows = 8_000
	for i := range rows {
		cell, _ := excelize.CoordinatesToCellName(1, i+1)
		w.SetRow(cell, []any{fmt.Sprint("Tpt ", i%100), i / 100, "S1", 2.25, "inside", 35, 4, "behind", "front hash"})
	}
	w.Flush()
	b, err := book.WriteToBuffer()
	if err != nil {
		t.Fatal(err)
	}
	f, err := Open("x.xlsx", b.Bytes())
	if err != nil || strings.Count(f.Text, "\n") != rows ||
		!strings.HasSuffix(f.Text, "Tpt 99\t79\tS1\t2.25\tinside\t35\t4\tbehind\tfront hash\n") {
		t.Fatal(err)
	}
}

// Whatever the bytes, there is a file or an error; each flaw is of a cell's first byte.
func FuzzOpen(f *testing.F) {
	raw, err := os.ReadFile("testdata/openpyxl.xlsx")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(raw)
	f.Add(book(f,
		`<row r="1"><c r="A1" t="s"><v>0</v></c></row></sheetData><mergeCells><mergeCell `+
			`ref="A1:B2"/></mergeCells><sheetData>`,
		map[string]string{"xl/sharedStrings.xml": `<sst><si><t>x</t></si></sst>`}))
	f.Fuzz(func(t *testing.T, raw []byte) {
		file, err := Open("x.xlsx", raw)
		if err != nil {
			return
		}
		for i, s := range file.Sheets {
			if i > 0 && s.Start < file.Sheets[i-1].Start || s.Start > len(file.Text) {
				t.Fatalf("sheet %d begins at %d of %d", i, s.Start, len(file.Text))
			}
			for offset, flaw := range s.Flaws {
				if offset < s.Start || offset > len(file.Text) || flaw.At < s.Start || flaw.At > len(file.Text) {
					t.Fatalf("flaw at %d, %d in %d bytes", offset, flaw.At, len(file.Text))
				}
				if offset > s.Start && !strings.ContainsRune("\t\n", rune(file.Text[offset-1])) {
					t.Fatalf("flaw at %d is inside a cell", offset)
				}
			}
		}
	})
}

// FuzzSheet reads what a sheet's XML may hold, past the archive's checksums.
func FuzzSheet(f *testing.F) {
	for _, s := range []string{`<row r="1"><c r="A1"><v>1</v></c></row>`,
		`<row><c t="inlineStr"><is><t>a</t></is></c><c t="e"><f/><v>#N/A</v></c></row>`,
		`<row r="3"><c r="C3" t="d" s="1"><v>1</v></c></row></sheetData><mergeCells><mergeCell ` +
			`ref="A1:XFD9"/></mergeCells><sheetData>`} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, sheet string) {
		if file, err := Open("x.xlsx", book(t, sheet, nil)); err == nil && len(file.Sheets) != 1 {
			t.Fatalf("%d sheets", len(file.Sheets))
		}
	})
}
