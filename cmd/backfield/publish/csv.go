package publish

import (
	"bytes"
	"encoding/csv"
)

// Table is a CSV table being written. It is written into memory, where nothing can fail.
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

// Row adds a row.
func (t *Table) Row(cells ...string) { t.w.Write(cells) }

// Bytes is the whole table.
func (t *Table) Bytes() []byte {
	t.w.Flush()
	return t.b.Bytes()
}

// CSV is a file of rows, the names of the columns first.
func CSV(name string, rows [][]string) OutputFile {
	t := NewTable(rows[0]...)
	for _, r := range rows[1:] {
		t.Row(r...)
	}
	return OutputFile{Name: name, Data: t.Bytes()}
}
