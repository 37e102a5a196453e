package keep

import (
	"fmt"
	"strconv"

	"backfield/cue/roster"
	"backfield/layout/source"
	"backfield/layout/table"
)

// trim finds where a trim belongs: in the roster, or for a fixed mic in the venue or the rig.
func (f EditFiles) trim(t Trim) (Hunk, error) {
	var ignored source.Problems
	var rows table.Body
	if f.Roster != nil {
		rows = table.ReadCSV(f.Roster, roster.Columns, &ignored)
	}
	h, found := Hunk{File: f.Roster, about: t.Name}, false
	for row := range rows.All() {
		if row.Cell("player").Text != t.Name || row.Cell("channel").Text == "" {
			continue
		}
		found = true
		if err := h.trimRow(row, t); err != nil {
			return h, err
		}
	}
	if found {
		return h, nil
	}
	for i := len(f.Rigs) - 1; i >= 0; i-- {
		if f.Rigs[i] == nil {
			continue
		}
		if h, found, err := trimOfMic(f.Rigs[i], t); found {
			return h, err
		}
	}
	return h, fmt.Errorf("%s is neither in the roster nor in the rig: trim %+g dB", t.Name, t.DB)
}

func (h *Hunk) trimRow(row table.Row, t Trim) error {
	switch {
	case h.File.Sheets != nil:
		return fmt.Errorf("%s is a workbook: add %+g dB to the trim of %s there", h.File.Name, t.DB, t.Name)
	case !row.Has("trim"):
		return fmt.Errorf("%s has no column trim: add one, then %+g dB for %s", h.File.Name, t.DB, t.Name)
	}
	cell, old := row.Cell("trim"), 0.
	if cell.Text != "" {
		v, err := strconv.ParseFloat(cell.Text, 64)
		if err != nil {
			return fmt.Errorf("%s: the trim of %s is no number", cell.Span.Where(), t.Name)
		}
		old = v
	}
	if !row.Reaches("trim") {
		return fmt.Errorf("%s: the row of %s ends before the column trim: add %+g dB there",
			row.Span.Where(), t.Name, t.DB)
	}
	text, err := sum(old, t.DB, "the trim of "+t.Name)
	if err != nil {
		return err
	}
	h.edits = append(h.edits, edit{cell.Span.Start, cell.Span.End, text})
	return nil
}
