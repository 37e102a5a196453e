package publish

import (
	"bytes"
	"encoding/csv"
	"strconv"
	"strings"

	"backfield/layout/visible"
)

// Table is a CSV table for people, who open it in a spreadsheet. It is written into memory, where nothing can fail.
type Table struct {
	b bytes.Buffer
	w *csv.Writer
}

// NewTable begins a table with the names of its columns.
func NewTable(head ...string) *Table {
	t := &Table{}
	t.w = csv.NewWriter(&t.b)
	t.Row(head...)
	return t
}

// Row adds a row. A cell that a spreadsheet would take as a formula gets an apostrophe before it.
func (t *Table) Row(cells ...string) {
	row := make([]string, len(cells))
	for i, cell := range cells {
		row[i] = defused(cell)
	}
	t.w.Write(row)
}

// formulaStarts are the characters with which a spreadsheet's formulas begin, also in their full-width forms.
const formulaStarts = "=+-@＝＋－＠"

// defused is a cell that a spreadsheet shows as it is. Numbers stay numbers.
func defused(cell string) string {
	cell = visible.Text(cell)
	if !strings.ContainsAny(firstRune(strings.TrimSpace(cell)), formulaStarts) {
		return cell
	}
	if _, err := strconv.ParseFloat(cell, 64); err == nil {
		return cell
	}
	return "'" + cell
}

func firstRune(s string) string {
	for _, r := range s {
		return string(r)
	}
	return ""
}

// Bytes is the whole table.
func (t *Table) Bytes() []byte {
	t.w.Flush()
	return t.b.Bytes()
}

// Spreadsheet is a file with a table for people, the names of the columns first.
func Spreadsheet(name string, rows [][]string) OutputFile {
	t := NewTable(rows[0]...)
	for _, r := range rows[1:] {
		t.Row(r...)
	}
	return OutputFile{Name: name, Data: t.Bytes()}
}

// ShowCSV is a file of a show, which is read again: its cells are written as they are.
func ShowCSV(name string, rows [][]string) OutputFile {
	var b bytes.Buffer
	csv.NewWriter(&b).WriteAll(rows)
	return OutputFile{Name: name, Data: b.Bytes()}
}
