package keep

import (
	"fmt"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
)

// PressRow is a command of remote.toml and the MIDI message that is to give it.
type PressRow struct{ Key, Message string }

// Presses puts messages into the [press] of a remote.toml. A row that is there gets the new message in place of what it
// has; the others go below the header, which is added at the end where there is none. The error says what is wrong.
func Presses(f *source.File, rows []PressRow) (h Hunk, err error) {
	var p source.Problems
	root := table.ReadTOML(f, &p)
	if p.Errors() > 0 {
		x := p.All()[0]
		return h, fmt.Errorf("%s: %s; fix that first", x.Span.Where(), x.What)
	}
	h = Hunk{File: f, about: "press"}
	press, end := root.Get("press"), lineEnd(f)
	missing := ""
	for _, row := range rows {
		var old *table.Node
		if press != nil {
			old = press.Get(row.Key)
		}
		if old != nil {
			h.edits = append(h.edits, edit{old.Span.Start, old.Span.End, table.Quote(row.Message)})
			continue
		}
		missing += end + row.Key + " = " + table.Quote(row.Message)
	}
	switch text := f.Text; {
	case missing == "":
	case press != nil && isHeader(press):
		at := endOfLine(text, press.Span.End)
		h.edits = append(h.edits, edit{at, at, missing})
	default:
		before := ""
		if text != "" && !strings.HasSuffix(text, "\n") {
			before = end
		}
		if text != "" {
			before += end
		}
		h.edits = append(h.edits, edit{len(text), len(text), before + "[press]" + missing + end})
	}
	return h, nil
}
