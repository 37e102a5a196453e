// Package workbook turns a spreadsheet's own file (Office Open XML, .xlsx) into text with sheets, rows and cells, as
// the rest of the program reads it. It knows no drill: what a cell is worth is said elsewhere. Whatever a cell shows
// and does not hold, or holds and does not show, is noted with it, and whoever reads the cell reports it.
package workbook

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"backfield/layout/source"
)

// Bounds of a workbook, so that a small file cannot grow without measure while it is read.
const (
	mostUnzipped = 64 << 20 // bytes of all its parts together
	mostRows     = 100_000
	mostColumns  = 2_000
	mostCells    = 2_000_000 // of all sheets together, up to the last of each row that holds something
	mostSheets   = 1_000
	mostText     = 64 << 20 // bytes of the text that is made of it
	longestCell  = 32_767   // what spreadsheets hold to themselves
)

// Is reports whether a file is, by its first bytes, one that Open reads or says what to do with: a ZIP archive, or the
// container of older and of encrypted workbooks.
func Is(raw []byte) bool { return bytes.HasPrefix(raw, []byte("PK\x03\x04")) || isOld(raw) }

func isOld(raw []byte) bool {
	return bytes.HasPrefix(raw, []byte{0xD0, 0xCF, 0x11, 0xE0, 0xA1, 0xB1, 0x1A, 0xE1})
}

// Open reads a workbook. The file's text holds all its sheets: a line for each row, cells separated by tabs; in a cell
// a line end is a vertical tab and a tab is a space. A formula is the result that was saved with it.
func Open(name string, raw []byte) (f *source.File, err error) {
	if isOld(raw) {
		return nil, errors.New("locked by a password, or an old kind of workbook; " +
			"save it as .xlsx without a password, or as CSV")
	}
	defer func() {
		if r := recover(); r != nil { // the library meant other files than this
			f, err = nil, unreadable(r)
		}
	}()
	parts, err := inspect(raw)
	if err != nil {
		return nil, err
	}
	if len(parts) == 0 {
		return nil, fmt.Errorf("a workbook without a sheet of cells; put the table in one, or save it as CSV")
	}
	book, err := excelize.OpenReader(bytes.NewReader(raw),
		excelize.Options{UnzipSizeLimit: mostUnzipped, UnzipXMLSizeLimit: mostUnzipped})
	if err != nil {
		return nil, unreadable(err)
	}
	defer book.Close()
	var b strings.Builder
	f = &source.File{Name: name}
	for _, part := range parts {
		sheet := source.WorkbookSheet{Name: part.name, Start: b.Len(), Flaws: map[int]source.Flaw{}}
		if err := write(&b, book, part, sheet.Flaws); err != nil {
			return nil, fmt.Errorf("unreadable in its sheet %q: %w", part.name, err)
		}
		f.Sheets = append(f.Sheets, sheet)
	}
	f.Text = b.String()
	return f, nil
}

// write adds a sheet's rows to the text and notes its flaws.
func write(b *strings.Builder, book *excelize.File, part sheetPart, flaws map[int]source.Flaw) error {
	held, err := rows(book, part.name, true)
	if err != nil {
		return err
	}
	shown, err := rows(book, part.name, false)
	if err != nil {
		return err
	}
	merged, err := mergedCells(part)
	if err != nil {
		return err
	}
	firsts := map[cellAt]int{} // the offset of each merge's first cell
	for row := 1; row <= part.lastRow; row++ {
		width := part.widths[row]
		for column := 1; column <= width; column++ {
			if column > 1 {
				b.WriteByte('\t')
			}
			at := cellAt{row, column}
			offset := b.Len()
			what := part.cells[at]
			text := cell(held, row, column)
			if len(text) > longestCell || !utf8.ValidString(text) {
				return fmt.Errorf("%s has text that does not fit in a cell", at)
			}
			b.WriteString(plain(text, what))
			if b.Len() > mostText {
				return fmt.Errorf("more than %d bytes of text", mostText)
			}
			if m, ok := merged[at]; ok {
				if at == m.from && what != blank {
					firsts[at] = offset
				}
				if first, ok := firsts[m.from]; ok {
					flaws[offset] = inMerge(first, m.from, m.to)
				}
				continue
			}
			if flaw, bad := judge(what, text, cell(shown, row, column)); bad {
				flaw.At = offset
				flaws[offset] = flaw
			}
		}
		b.WriteByte('\n')
	}
	return nil
}

// mergedCells are the cells in a merge.
func mergedCells(part sheetPart) (map[cellAt]merge, error) {
	merged, left := map[cellAt]merge{}, mostCells
	for _, m := range part.merges {
		for row := m.from.row; row <= min(m.to.row, part.lastRow); row++ {
			if left -= 1 + part.widths[row]; left < 0 {
				return nil, tooMany()
			}
			for column := m.from.column; column <= min(m.to.column, part.widths[row]); column++ {
				merged[cellAt{row, column}] = m
			}
		}
	}
	return merged, nil
}

// judge says what keeps a cell from being read as it is.
func judge(what content, held, shown string) (source.Flaw, bool) {
	switch {
	case what == unsolved:
		return noResult(), true
	case what == failed:
		return failedFormula(held), true
	case what == date:
		return turnedIntoDate(held), true
	case what != number:
		return source.Flaw{}, false
	}
	v, err := strconv.ParseFloat(held, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return noNumber(held), true
	}
	if seen, err := strconv.ParseFloat(shown, 64); err != nil || math.Abs(seen-v) > 0.5 {
		return shownDifferently(shown, held), true
	}
	return source.Flaw{}, false
}

const asText = "format the cell as text or as a number, and type it again"

// rows reads a sheet's values: what the cells hold, or what they show.
func rows(book *excelize.File, sheet string, held bool) ([][]string, error) {
	it, err := book.Rows(sheet)
	if err != nil {
		return nil, err
	}
	defer it.Close()
	var list [][]string
	for it.Next() {
		row, err := it.Columns(excelize.Options{RawCellValue: held})
		if err != nil {
			return nil, err
		}
		if len(list) == mostRows {
			break // blank from here on: inspect has counted
		}
		list = append(list, row)
	}
	return list, it.Error()
}

func cell(rows [][]string, row, column int) string {
	if row > len(rows) || column > len(rows[row-1]) {
		return ""
	}
	return rows[row-1][column-1]
}

var inCell = strings.NewReplacer("\r\n", "\v", "\n", "\v", "\r", "\v", "\t", " ", "_x000D_", "")

// plain is a cell's text as it is in the file's text, where line ends and tabs separate rows and cells.
func plain(text string, what content) string {
	if what == number {
		text = plainNumber(text)
	}
	return inCell.Replace(strings.TrimSpace(text))
}

// plainNumber writes a number that was computed, 2.2999999999999998, or that a program saved as 1.0 or 1E1, as people
// would. What is no finite number stays as it is.
func plainNumber(text string) string {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return text
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}
