package drill

import (
	"strings"

	"backfield/layout/field"
	"backfield/layout/source"
	"backfield/layout/table"
)

// dotText is what the dots are read from. A season's dots are a million, so each has only the bytes of its words, and where
// those are.
type dotText struct {
	file  *source.File
	said  field.Field
	bare  string            // the unit of coordinates without one
	texts []string          // the words that are not in the file as they are read, such as those of several cells
	known map[string]uint32 // where each of texts is
}

func newDotText(file *source.File, said field.Field) *dotText {
	return &dotText{file: file, said: said, bare: "steps", texts: []string{""}, known: map[string]uint32{"": 0}}
}

// half is the bytes of one half of a dot in the file, or with end 0 one of the texts: the first of them, "", for none.
type half struct{ start, end uint32 }

// half keeps words: as the bytes of their cell where they are the same.
func (w *dotText) half(x words) half {
	if len(x.parts) == 1 && !x.parts[0].whole {
		if h := w.cell(x.parts[0].cell); h.end > 0 {
			return h
		}
	}
	return w.text(x.text)
}

// cell keeps the text of a cell.
func (w *dotText) cell(c table.Cell) half {
	if c.Span.File == w.file && w.file.Text[c.Span.Start:c.Span.End] == c.Text {
		return half{uint32(c.Span.Start), uint32(c.Span.End)}
	}
	return w.text(c.Text)
}

func (w *dotText) text(s string) half {
	i, ok := w.known[s]
	if !ok {
		i = uint32(len(w.texts))
		w.known[s], w.texts = i, append(w.texts, s)
	}
	return half{start: i}
}

// words is the text of a half as it is in the sheet.
func (w *dotText) words(h half) string {
	if h.end == 0 {
		return w.texts[h.start]
	}
	return w.file.Text[h.start:h.end]
}

// Where is the cell of a player's dot, or the first of them, in the i-th set.
func (m *Marcher) Where(i int) source.Span {
	dot := m.Dots[i]
	if dot.from == nil {
		return source.Span{}
	}
	return source.Span{File: dot.from.file, Start: int(dot.start), End: int(dot.end)}
}

// Words is a player's dot in the i-th set as it was written.
func (m *Marcher) Words(i int) string { return m.Dots[i].Words() }

// Words is the dot as it was written.
func (dot Dot) Words() string {
	across, along := dot.halves()
	if dot.Plain {
		return "x " + across + ", y " + along
	}
	return across + "; " + along
}

// halves are the halves of a dot as written, put together where they are in several cells.
func (dot Dot) halves() (across, along string) {
	w := dot.from
	if w == nil {
		return "", ""
	}
	across, along = w.words(dot.across), w.words(dot.along)
	switch {
	case dot.Plain:
		return withUnit(across, w.bare), withUnit(along, w.bare)
	case dot.oneCell:
		across, along = field.Halves(w.said.InWords(across))
	default:
		across, along = w.said.InWords(across), w.said.InWords(along)
	}
	return oneLine(across), oneLine(along)
}

// oneLine is a text with one space for white space of any kind and length.
func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }
