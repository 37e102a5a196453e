package workbook

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strconv"
	"strings"

	"backfield/layout/source"
)

// The library reads values and formats. It takes a sheet that breaks off for one that ends, a text that is not there
// for an empty cell, and allocates a million cells where a file of some bytes asks for it. So each sheet is walked
// first, in its own XML: how far it goes, that it is whole, and what kind of thing is in which cell.
// Source of the elements: ECMA-376, Part 1, chapter 18 (SpreadsheetML).

// cellAt is a cell's row and column, both from 1.
type cellAt struct{ row, column int }

func (c cellAt) String() string { return source.ColumnName(c.column) + strconv.Itoa(c.row) }

// content is what a cell holds.
type content int

const (
	blank    content = iota
	number           // a number, or a date by its format
	text             // also true and false
	date             // a date in its own right
	failed           // the error of a formula
	unsolved         // a formula without a result
)

// merge is a block of cells that are merged into one, by its corners.
type merge struct{ from, to cellAt }

// sheetPart is one sheet as its XML has it.
type sheetPart struct {
	name    string
	cells   map[cellAt]content // without the blank ones
	widths  map[int]int        // of the rows that hold something: their last column
	lastRow int                // that holds something
	merges  []merge
}

// inspect walks the sheets of a workbook in their order.
func inspect(raw []byte) ([]sheetPart, error) {
	archive, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		return nil, fmt.Errorf("not a complete workbook (%v); wait until the spreadsheet program has saved it, "+
			"or save it again as .xlsx", err)
	}
	files := map[string]*zip.File{}
	total := uint64(0)
	for _, f := range archive.File {
		if f.UncompressedSize64 > mostUnzipped {
			total = mostUnzipped
		}
		if total += f.UncompressedSize64; total > mostUnzipped {
			return nil, fmt.Errorf("over %d MiB when unpacked; remove pictures and sheets that are not drill "+
				"from it, or save the sheet as CSV", mostUnzipped>>20)
		}
		files[strings.ToLower(strings.ReplaceAll(f.Name, `\`, "/"))] = f
	}
	sheets, err := listed(files)
	if err != nil {
		return nil, err
	}
	texts, err := sharedTexts(files)
	if err != nil {
		return nil, err
	}
	var parts []sheetPart
	left := mostCells
	for _, s := range sheets {
		part := sheetPart{name: s.name, cells: map[cellAt]content{}, widths: map[int]int{}}
		body, err := open(files, s.path)
		if err != nil {
			return nil, err
		}
		isTable, err := part.walk(body, texts, left)
		body.Close()
		if err != nil {
			return nil, fmt.Errorf("unreadable in its sheet %q: %w", s.name, err)
		}
		for _, width := range part.widths {
			left -= width
		}
		if left < 0 {
			return nil, tooMany()
		}
		if isTable {
			parts = append(parts, part)
		}
	}
	return parts, nil
}

func tooMany() error {
	return fmt.Errorf("more than %d cells in use; put the drill in a workbook of its own", mostCells)
}

// sharedTexts counts the texts that cells refer to by number.
func sharedTexts(files map[string]*zip.File) (n int, err error) {
	const part = "xl/sharedStrings.xml"
	if files[strings.ToLower(part)] == nil {
		return 0, nil
	}
	body, err := open(files, part)
	if err != nil {
		return 0, err
	}
	defer body.Close()
	for d := xml.NewDecoder(body); ; {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return n, nil
		}
		if err != nil {
			return 0, fmt.Errorf("damaged in %s (%w); save it again as .xlsx", part, err)
		}
		if start, ok := token.(xml.StartElement); ok && start.Name.Local == "si" {
			n++
		}
	}
}

// listedSheet is a sheet by its name, and its part of the archive.
type listedSheet struct{ name, path string }

// listed reads which sheets there are and in which part of the archive each one is.
func listed(files map[string]*zip.File) ([]listedSheet, error) {
	var book struct {
		Sheets []struct {
			Name  string     `xml:"name,attr"`
			Attrs []xml.Attr `xml:",any,attr"`
		} `xml:"sheets>sheet"`
	}
	var relations struct {
		List []struct {
			ID     string `xml:"Id,attr"`
			Target string `xml:"Target,attr"`
		} `xml:"Relationship"`
	}
	if files["mimetype"] != nil {
		return nil, fmt.Errorf("an OpenDocument file; save it as .xlsx or as CSV")
	}
	if files["xl/workbook.xml"] == nil {
		return nil, fmt.Errorf("a ZIP archive, not an .xlsx workbook; save the table as .xlsx or as CSV")
	}
	if err := decode(files, "xl/workbook.xml", &book); err != nil {
		return nil, err
	}
	if err := decode(files, "xl/_rels/workbook.xml.rels", &relations); err != nil {
		return nil, err
	}
	targets := map[string]string{}
	for _, r := range relations.List {
		target := r.Target
		if !strings.HasPrefix(target, "/") {
			target = "/xl/" + target
		}
		targets[r.ID] = strings.TrimPrefix(path.Clean(target), "/")
	}
	if len(book.Sheets) > mostSheets {
		return nil, fmt.Errorf("a workbook of %d sheets; put the drill in a workbook of its own", len(book.Sheets))
	}
	var sheets []listedSheet
	for _, s := range book.Sheets {
		for _, a := range s.Attrs {
			if a.Name.Local == "id" { // r:id; sheetId has another name
				sheets = append(sheets, listedSheet{s.Name, targets[a.Value]})
			}
		}
	}
	return sheets, nil
}

// decode reads a part of the archive as XML.
func decode(files map[string]*zip.File, part string, into any) error {
	body, err := open(files, part)
	if err != nil {
		return err
	}
	defer body.Close()
	if err := xml.NewDecoder(body).Decode(into); err != nil {
		return fmt.Errorf("damaged in %s (%v); save it again as .xlsx", part, err)
	}
	return nil
}

// open opens a part of the archive, of which no more is read than a workbook may unpack to.
func open(files map[string]*zip.File, part string) (io.ReadCloser, error) {
	f := files[strings.ToLower(part)]
	if f == nil {
		return nil, fmt.Errorf("damaged: it has no part %q; save it again as .xlsx", part)
	}
	body, err := f.Open()
	if err != nil {
		return nil, fmt.Errorf("damaged in %s (%v); save it again as .xlsx", part, err)
	}
	return struct {
		io.Reader
		io.Closer
	}{io.LimitReader(body, mostUnzipped), body}, nil
}

// sheetWalk is the reading of one sheet.
type sheetWalk struct {
	part        *sheetPart
	texts, most int // how many texts there are to refer to, and how many cells may hold anything
	row, column int // the current cell
}

// walk reads a sheet to its end; isTable is false for a sheet that is a chart. At most `most` cells may hold anything;
// texts is how many texts there are to refer to.
func (s *sheetPart) walk(body io.Reader, texts, most int) (isTable bool, err error) {
	w := sheetWalk{part: s, texts: texts, most: most}
	d := xml.NewDecoder(body)
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return isTable, nil
		}
		if err != nil {
			return false, fmt.Errorf("%w; save it again as .xlsx", err)
		}
		start, ok := token.(xml.StartElement)
		if !ok {
			continue
		}
		switch start.Name.Local {
		case "worksheet":
			isTable = true
		case "row":
			err = w.nextRow(start)
		case "c":
			err = w.cell(d, start)
		case "mergeCell":
			s.addMerge(attr(start, "ref"))
		}
		if err != nil {
			return false, err
		}
	}
}

// nextRow goes to the row that a tag begins, which says its number or follows the one before.
func (w *sheetWalk) nextRow(start xml.StartElement) error {
	w.row, w.column = w.row+1, 0
	r := attr(start, "r")
	if r == "" {
		return nil
	}
	n, err := strconv.Atoi(r)
	if err != nil || n < w.row {
		return fmt.Errorf("its rows are out of order at %q; save it again as .xlsx", r)
	}
	w.row = n
	return nil
}

// cell reads a cell to its end and notes what is in it.
func (w *sheetWalk) cell(d *xml.Decoder, start xml.StartElement) error {
	w.column++
	if r := attr(start, "r"); r != "" {
		at, ok := reference(r)
		if !ok || at.row != w.row || at.column < w.column {
			return fmt.Errorf("its cells are out of order at %q; save it again as .xlsx", r)
		}
		w.column = at.column
	}
	what, err := kind(d, start, w.texts)
	switch {
	case err != nil:
		return fmt.Errorf("%w; save it again as .xlsx", err)
	case what == blank:
		return nil
	case w.row > mostRows:
		return fmt.Errorf("row %d is in use, but %d is the last that can be; split the table", w.row, mostRows)
	case w.column > mostColumns:
		return fmt.Errorf("column %s is in use, but %s is the last that can be; split the table",
			source.ColumnName(w.column), source.ColumnName(mostColumns))
	case len(w.part.cells) >= w.most:
		return tooMany()
	}
	w.part.cells[cellAt{w.row, w.column}] = what
	w.part.widths[w.row], w.part.lastRow = w.column, w.row
	return nil
}

// addMerge notes the cells of a reference such as "B2:C4".
func (s *sheetPart) addMerge(cells string) {
	from, to, _ := strings.Cut(cells, ":")
	a, ok1 := reference(from)
	b, ok2 := reference(to)
	if ok1 && ok2 && len(s.merges) < mostMerges {
		s.merges = append(s.merges, merge{a, b})
	}
}

const mostMerges = 10_000

// kind reads a cell to its end.
func kind(d *xml.Decoder, start xml.StartElement, texts int) (content, error) {
	var c struct {
		F  *struct{} `xml:"f"`
		V  string    `xml:"v"`
		IS *struct{} `xml:"is"`
	}
	if err := d.DecodeElement(&c, &start); err != nil {
		return blank, err
	}
	switch t := attr(start, "t"); {
	case c.F != nil && strings.TrimSpace(c.V) == "" && t != "str":
		return unsolved, nil
	case t == "inlineStr" && c.IS != nil:
		return text, nil
	case c.V == "":
		return blank, nil
	case t == "e":
		return failed, nil
	case t == "d":
		return date, nil
	case t == "s":
		if n, err := strconv.Atoi(strings.TrimSpace(c.V)); err != nil || n < 0 || n >= texts {
			return blank, fmt.Errorf("the text of cell %s is not in the workbook", attr(start, "r"))
		}
		return text, nil
	case t == "str" || t == "b" || t == "inlineStr":
		return text, nil
	}
	return number, nil
}

// attr is an attribute without a name space, "" where there is none.
func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name && a.Name.Space == "" {
			return a.Value
		}
	}
	return ""
}

// reference reads "B7".
func reference(text string) (at cellAt, ok bool) {
	i := 0
	for ; i < len(text) && i < 4 && text[i] >= 'A' && text[i] <= 'Z'; i++ {
		at.column = at.column*26 + int(text[i]-'A') + 1
	}
	n, err := strconv.Atoi(text[i:])
	at.row = n
	return at, err == nil && i > 0 && n > 0 && at.column <= 16_384 && n <= 1_048_576
}
