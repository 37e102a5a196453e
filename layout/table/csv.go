package table

import (
	"encoding/csv"
	"errors"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"backfield/layout/source"
)

// CSVLimit is the largest sheet read, in bytes: about a million dots.
const CSVLimit = 64 << 20

// Column is one column that a sheet may have. A name that ends in a star stands for all that begin like it.
type Column struct {
	Name     string
	Required bool
}

// Cell is one field of a sheet with its place, trimmed of white space. A cell that the row lacks has the
// place where it would stand.
type Cell struct {
	Text string
	Span source.Span
}

// Row is one record; Span is its first cell.
type Row struct {
	Span  source.Span
	cells []Cell
	heads []Cell // the first row of the sheet
	index map[string]int
}

// Cell returns the cell of a column, empty if the row or the sheet has none.
func (r Row) Cell(column string) Cell {
	i, ok := r.index[column]
	switch {
	case !ok:
		return Cell{Span: r.Span}
	case i >= len(r.cells):
		last := r.cells[len(r.cells)-1].Span
		return Cell{Span: source.Span{File: last.File, Start: last.End, End: last.End}}
	}
	return r.cells[i]
}

// Under lists the heads of the columns whose names begin with a prefix, in the order of the sheet. Their Text is what Cell
// knows them by.
func (r Row) Under(prefix string) []Cell {
	var list []Cell
	for i, h := range r.heads {
		h.Text = strings.ToLower(h.Text)
		if at, ok := r.index[h.Text]; ok && at == i && strings.HasPrefix(h.Text, prefix) {
			list = append(list, h)
		}
	}
	return list
}

// Has reports whether the sheet has the column at all.
func (r Row) Has(column string) bool { _, ok := r.index[column]; return ok }

// decimalComma is a number as a European spreadsheet writes it, in a sheet parted by semicolons or tabs.
var decimalComma = regexp.MustCompile(`(\d),(\d)`)

// ReadCSV reads a sheet with a header row: a text file, or a workbook that has one sheet with anything in it. Columns
// may stand in any order and either case; columns not asked for are passed over, unless they look like a misspelt one
// that is missing; blank rows and empty cells past the end are passed over.
func ReadCSV(f *source.File, columns []Column, p *source.Problems) []Row {
	sheets := ReadSheets(f, p)
	if len(sheets) > 1 {
		var names []string
		for _, s := range sheets {
			names = append(names, s.Name)
		}
		p.Add(whichSheet(sheets[0].Span, names))
		return nil
	}
	if len(sheets) == 0 {
		if !p.Has(f, "csv-syntax") {
			p.Add(emptySheet(f, columns))
		}
		return nil
	}
	head, body := sheets[0].Rows[0], sheets[0].Rows[1:]
	index := header(f, head, columns, p)
	if index == nil {
		return nil
	}
	sheets[0].Extra(0, len(body), p)
	rows := make([]Row, len(body))
	for i, cells := range body {
		rows[i] = Row{Span: cells[0].Span, cells: cells, heads: head, index: index}
		for _, c := range columns { // in their order, not that of a map
			if at, ok := index[c.Name]; ok && at < len(cells) {
				cells[at].Sound(p)
			}
		}
	}
	return rows
}

// Sheet is the rows of a sheet as they stand, blank ones left out. Text tells that it is of a text file, where a comma
// too many moves what follows it.
type Sheet struct {
	Name string
	Span source.Span // its first cell
	Text bool
	Rows [][]Cell // each has at least one cell
}

// ReadSheets reads the one sheet of a text file, or those sheets of a workbook that have anything in them. In a text
// file semicolons or tabs part cells where the first row has them and no comma.
func ReadSheets(f *source.File, p *source.Problems) []Sheet {
	var sheets []Sheet
	if f.Sheets == nil {
		sheets = []Sheet{{Span: f.Whole(), Text: true, Rows: textRows(f, p)}}
	}
	for i, s := range f.Sheets {
		end := len(f.Text)
		if i+1 < len(f.Sheets) {
			end = f.Sheets[i+1].Start
		}
		sheets = append(sheets, Sheet{Name: s.Name, Span: source.Span{File: f, Start: s.Start, End: s.Start}, Rows: workbookRows(f, s.Start, end)})
	}
	return slices.DeleteFunc(sheets, func(s Sheet) bool { return len(s.Rows) == 0 })
}

func textRows(f *source.File, p *source.Problems) [][]Cell {
	comma := separator(f.Text)
	r := csv.NewReader(strings.NewReader(f.Text))
	r.Comma, r.FieldsPerRecord, r.ReuseRecord = comma, -1, true
	var rows [][]Cell
	for {
		record, err := r.Read()
		if err == io.EOF {
			return rows
		}
		if err != nil {
			p.Add(csvProblem(f, err))
			return rows
		}
		if blank(record) || len(rows) == 0 && strings.HasPrefix(record[0], separatorLine) {
			continue
		}
		cells := make([]Cell, len(record))
		for i, text := range record {
			line, column := r.FieldPos(i)
			cells[i] = located(f, f.Offset(line, column), text)
			if comma != ',' {
				cells[i].Text = decimalComma.ReplaceAllString(cells[i].Text, "$1.$2")
			}
		}
		rows = append(rows, cells)
	}
}

// workbookRows reads the rows of a sheet of a workbook, as package workbook has written them.
func workbookRows(f *source.File, start, end int) [][]Cell {
	var rows [][]Cell
	at := start
	for line := range strings.Lines(f.Text[start:end]) {
		if record := strings.Split(strings.TrimSuffix(line, "\n"), "\t"); !blank(record) {
			cells := make([]Cell, len(record))
			from := at
			for i, text := range record {
				cells[i] = Cell{strings.ReplaceAll(text, "\v", "\n"), source.Span{File: f, Start: from, End: from + len(text)}}
				from += len(text) + 1
			}
			rows = append(rows, cells)
		}
		at += len(line)
	}
	return rows
}

// Extra reports what stands past the last cell of the head'th row, up to the last row, in a sheet where that means a
// comma too many.
func (s *Sheet) Extra(head, last int, p *source.Problems) {
	if !s.Text {
		return
	}
	width, rows := len(s.Rows[head]), s.Rows[head+1:last+1]
	var extra []Cell // the first of each row that has cells past the last column
	for _, cells := range rows {
		for _, c := range cells[min(width, len(cells)):] {
			if c.Text != "" {
				extra = append(extra, c)
				break
			}
		}
	}
	if n := len(extra); n > 1 && 2*n > len(rows) { // the header has a cell too few
		p.Add(headerTooShort(extra[0], n, len(rows)))
		return
	}
	for _, c := range extra {
		p.Add(extraCell(c))
	}
}

// Sound reports whether a cell may be read as it stands. Where not, it says why, and nothing more is said of it.
func (c Cell) Sound(p *source.Problems) bool {
	if c.Span.File == nil {
		return true
	}
	sheet := c.Span.File.SheetAt(c.Span.Start)
	if sheet == nil {
		return true
	}
	flaw, bad := sheet.Flaws[c.Span.Start]
	if bad {
		at := source.Span{File: c.Span.File, Start: flaw.At, End: len(c.Span.File.Text)}
		if n := strings.IndexAny(c.Span.File.Text[at.Start:], "\t\n"); n >= 0 {
			at.End = at.Start + n
		}
		p.Add(badCell(at, flaw))
		p.Close(c.Span)
	}
	return !bad
}

// NewRow makes a row of a table of one's own: cells by their columns' index.
func NewRow(span source.Span, cells []Cell, index map[string]int) Row {
	return Row{Span: span, cells: cells, index: index}
}

// Whole reports whether ReadCSV read a sheet to its end. What a sheet that was refused lacks is no problem of
// the files that count on it.
func Whole(f *source.File, p *source.Problems) bool {
	return f != nil && !p.Has(f, "csv-syntax", "empty-file", "missing-column", "unknown-column", "which-sheet")
}

// separatorLine begins the line that some spreadsheets put first, to say what parts the cells.
const separatorLine = "sep="

// separator finds what parts the cells: what the first line says; what stands equally often, outside of quotes, in
// each of the first lines that has any; or what the first line has.
func separator(text string) rune {
	first := strings.TrimLeft(text, "\r\n")
	if i := strings.IndexByte(first, '\n'); i >= 0 {
		first = first[:i]
	}
	if strings.HasPrefix(first, separatorLine) {
		if r, n := utf8.DecodeRuneInString(first[len(separatorLine):]); n > 0 && strings.ContainsRune(",;\t|", r) {
			return r
		}
	}
	if r, only := steady(text); only {
		return r
	}
	switch {
	case strings.Contains(first, ","):
		return ','
	case strings.Contains(first, ";"):
		return ';'
	case strings.Contains(first, "\t"):
		return '\t'
	}
	return ','
}

// steady returns the one separator of which each of the first rows has the same number, outside of quotes; rows
// without any, such as a title, are passed over.
func steady(text string) (r rune, only bool) {
	const candidates, rows = ",;\t", 20
	var counts [len(candidates)]int
	var all [][len(candidates)]int
	quoted := false
	for i := 0; i < len(text) && len(all) < rows; i++ {
		switch c := text[i]; {
		case c == '"':
			quoted = !quoted
		case quoted:
		case c == '\n':
			if counts != [len(candidates)]int{} {
				all = append(all, counts)
			}
			counts = [len(candidates)]int{}
		default:
			if k := strings.IndexByte(candidates, c); k >= 0 {
				counts[k]++
			}
		}
	}
	found := 0
	for k, c := range candidates {
		same := len(all) > 1 && all[0][k] > 0
		for _, counts := range all {
			same = same && counts[k] == all[0][k]
		}
		if same {
			r, found = c, found+1
		}
	}
	return r, found == 1
}

func blank(record []string) bool {
	for _, s := range record {
		if strings.TrimSpace(s) != "" {
			return false
		}
	}
	return true
}

func located(f *source.File, at int, text string) Cell {
	quoted := at < len(f.Text) && f.Text[at] == '"'
	if quoted {
		at++
	}
	trimmed := strings.TrimSpace(text)
	before := strings.Index(text, trimmed)
	lo := along(f.Text, at, text[:before], quoted)
	return Cell{trimmed, source.Span{File: f, Start: lo, End: along(f.Text, lo, trimmed, quoted)}}
}

// along returns where text ends that stands in raw from at on: in a quoted cell a quote is doubled and a
// line end may have been two bytes.
func along(raw string, at int, text string, quoted bool) int {
	if quoted {
		for i := range len(text) {
			if text[i] == '"' || text[i] == '\n' && strings.HasPrefix(raw[at:], "\r\n") {
				at++
			}
			at++
		}
	} else {
		at += len(text)
	}
	return min(at, len(raw))
}

func header(f *source.File, cells []Cell, columns []Column, p *source.Problems) map[string]int {
	index := map[string]int{}
	known := map[string]bool{}
	for _, c := range columns {
		known[c.Name] = true
	}
	var strangers []Cell
	for i, c := range cells {
		name := strings.ToLower(c.Text)
		if name == "" {
			continue
		}
		if !known[name] && !slices.ContainsFunc(columns, func(c Column) bool {
			begin, ok := strings.CutSuffix(c.Name, "*")
			return ok && strings.HasPrefix(name, begin)
		}) {
			strangers = append(strangers, c)
			continue
		}
		if _, twice := index[name]; twice {
			p.Add(columnTwice(c.Span, name))
			continue
		}
		index[name] = i
	}
	var absent []string
	for _, c := range columns {
		if _, ok := index[c.Name]; !ok && !strings.HasSuffix(c.Name, "*") {
			absent = append(absent, c.Name)
		}
	}
	misspelt := map[string]bool{}
	for _, c := range strangers {
		if near := source.Nearest(c.Text, absent); near != "" {
			misspelt[near] = true
			p.Add(unknownColumn(c, near))
		}
	}
	ok := len(misspelt) == 0
	for _, c := range columns {
		if _, has := index[c.Name]; c.Required && !has && !misspelt[c.Name] {
			p.Add(missingColumn(cells[0].Span, c.Name, columns))
			ok = false
		}
	}
	if !ok {
		return nil
	}
	return index
}

func names(columns []Column) string {
	var list []string
	for _, c := range columns {
		name := c.Name
		if !c.Required {
			name = "[" + name + "]"
		}
		list = append(list, name)
	}
	return strings.Join(list, ", ")
}

func csvProblem(f *source.File, err error) source.Problem {
	x := source.Problem{Code: "csv-syntax", Span: f.Whole(), What: err.Error(), Do: "the rest of this sheet is not read until then"}
	var parse *csv.ParseError
	if errors.As(err, &parse) {
		at := f.Offset(parse.Line, parse.Column)
		x.Span = source.Span{File: f, Start: at, End: min(at+1, len(f.Text))}
		switch {
		case errors.Is(parse.Err, csv.ErrBareQuote):
			x.What, x.Do = "a quote inside a cell that does not begin with one", "put the whole cell in quotes and double the inner quote; the rest of this sheet is not read until then"
		case errors.Is(parse.Err, csv.ErrQuote) && parse.StartLine < parse.Line:
			at = lastQuote(f.Text, f.Offset(parse.StartLine, 1), at)
			x.Span = source.Span{File: f, Start: at, End: at + 1}
			x.What, x.Do = "this quote is not closed in its row", "close it, or take it out; the rest of this sheet is not read until then"
		case errors.Is(parse.Err, csv.ErrQuote):
			x.What, x.Do = "a cell that begins with a quote does not end with one", "close the quote, or double a quote that belongs to the text; the rest of this sheet is not read until then"
		default:
			x.What = parse.Err.Error()
		}
	}
	return x
}

// lastQuote is where, between two places of a sheet, the last quoted cell begins.
func lastQuote(text string, from, to int) int {
	at, inside := from, false
	for i := from; i < to; i++ {
		switch {
		case text[i] != '"':
		case inside && i+1 < to && text[i+1] == '"':
			i++
		default:
			if inside = !inside; inside {
				at = i
			}
		}
	}
	return at
}

// Number reads the cell as a finite number, or def where it is empty.
func (c Cell) Number(def float64, what string, p *source.Problems) float64 {
	if c.Text == "" {
		return def
	}
	v, err := strconv.ParseFloat(c.Text, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		p.Add(notANumber(c, what))
		return def
	}
	return v
}

// Whole reads the cell as a whole number within lo and hi; ok is false where it is empty or wrong.
func (c Cell) Whole(lo, hi int, what string, p *source.Problems) (v int, ok bool) {
	if c.Text == "" {
		return 0, false
	}
	x, err := strconv.ParseFloat(c.Text, 64) // a spreadsheet may well write 16.0
	if err != nil || x != math.Trunc(x) || x < float64(lo) || x > float64(hi) {
		p.Add(notWhole(c, what, lo, hi))
		return 0, false
	}
	return int(x), true
}
