package main

import (
	"bytes"
	"encoding/csv"
)

// csvTable is a table being written. Into memory, nothing can go wrong.
type csvTable struct {
	b bytes.Buffer
	w *csv.Writer
}

func newTable(head ...string) *csvTable {
	t := &csvTable{}
	t.w = csv.NewWriter(&t.b)
	t.row(head...)
	return t
}

func (t *csvTable) row(cells ...string) { t.w.Write(cells) }

func (t *csvTable) done() []byte {
	t.w.Flush()
	return t.b.Bytes()
}

// csvOutput is a file of rows, the head among them.
func csvOutput(name string, rows [][]string) output {
	t := newTable(rows[0]...)
	for _, r := range rows[1:] {
		t.row(r...)
	}
	return output{name, t.done()}
}
