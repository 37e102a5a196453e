package music

import (
	"encoding/xml"
	"fmt"
	"io"
	"slices"
	"strings"

	"backfield/cue/notes"
	"backfield/cue/repeats"
	"backfield/layout/source"
)

const (
	deepest      = 64 // elements within one another
	mostElements = 200_000
	mostSigns    = 200_000 // tempos, marks and fermatas of all parts
	longestText  = 1000
)

// musicXML reads MusicXML (4.0, W3C Community Group Report, 2021) of the kind score-partwise. Of document types and
// entities nothing is looked up: the parser knows the five of XML itself, and refuses others.
func (r *musicReader) musicXML(raw []byte) *piece {
	file, err := source.Open(r.path, narrow(raw), xmlLimit)
	if err != nil {
		r.bad("is "+err.Error(), "")
		return nil
	}
	file.Order = r.order
	x := &partwise{musicReader: r, file: file, dec: xml.NewDecoder(strings.NewReader(file.Text)),
		c: &piece{numbered: true}, heard: map[string]bool{}}
	x.dec.CharsetReader = func(name string, in io.Reader) (io.Reader, error) {
		if strings.HasPrefix(strings.ToLower(name), "utf-16") || latinText.MatchString(file.Text) {
			return in, nil // it has been made UTF-8 if it was any other
		}
		return nil, fmt.Errorf("the file says that it is written in %q; export it as UTF-8", clip(name))
	}
	if err := x.read(); err != nil {
		at := min(int(x.dec.InputOffset()), len(file.Text))
		r.p.Add(badXML(source.Span{File: file, Start: at, End: at}, err, r.at))
		return nil
	}
	return x.finish()
}

// partwise is the reading of one score-partwise: measure after measure of part after part. Places within a measure
// are counted from its beginning until the lengths of all are known.
type partwise struct {
	*musicReader
	file *source.File
	dec  *xml.Decoder
	c    *piece

	notes    notes.PartReader
	repeats  repeats.JumpSigns
	held     []float64 // by bar: how much of it is filled, in the part that fills it most
	within   []inBar
	implicit []bool      // by bar: not counted, and free of the meter
	timed    source.Span // the first note that is played at some times of a repeat only
	tags     []measureTag
	heard    map[string]bool // tempo words that have a number or are listed, with their bar
	small    int             // the last part whose small notes have been listed, from 1

	// The current place of the reading.
	part, bar int
	elements  int     // of the measure
	divisions float64 // of a quarter note
	meter     meter   // of the first part
	place     float64 // in the bar, in quarters
	filled    float64 // how much of the bar the part has so far
	noteAt    float64 // where the last note that is no chord tone began
	noteTo    float64
}

// measureTag is where a measure of a part begins in the file.
type measureTag struct {
	start, part int
	number      string
}

// whereIn says in which measure of which part a place in the file is, for who has the music before them.
func (x *partwise) whereIn(at source.Span) string {
	k := slices.IndexFunc(x.tags, func(t measureTag) bool { return t.start > at.Start })
	if k < 0 {
		k = len(x.tags)
	}
	tag := x.tags[max(k-1, 0)]
	return fmt.Sprintf("measure %s of %s", clip(tag.number), clip(x.notes.Name(tag.part)))
}

// inBar is a tempo, a mark or a fermata, counted from the beginning of a bar.
type inBar struct {
	bar     int
	at, to  float64
	tempo   float64
	mark    string
	fermata bool
	part    int
	span    source.Span
}

// span is the tag that was just read and began at from.
func (x *partwise) span(from int64) source.Span {
	return source.Span{File: x.file, Start: int(from), End: int(x.dec.InputOffset())}
}

// read walks the file. Its error is of the XML, or of the kind of file.
func (x *partwise) read() error {
	var stack []string
	x.part = -1
	for {
		at := x.dec.InputOffset()
		token, err := x.dec.Token()
		if err == io.EOF && len(stack) == 0 && x.part >= 0 {
			return nil
		}
		if err == io.EOF {
			return fmt.Errorf("the file ends early")
		}
		if err != nil {
			return err
		}
		switch t := token.(type) {
		case xml.StartElement:
			taken, err := x.start(t, at, stack)
			if err != nil {
				return err
			}
			if taken {
				continue
			}
			if stack = append(stack, t.Name.Local); len(stack) > deepest {
				return fmt.Errorf("elements are nested more than %d deep", deepest)
			}
		case xml.EndElement:
			if len(stack) == 2 && t.Name.Local == "part" && x.bar+1 != len(x.c.bars) {
				return fmt.Errorf("this part has %d measures, but the first has %d", x.bar+1, len(x.c.bars))
			}
			stack = stack[:len(stack)-1]
		}
	}
}

// start looks at an element that begins within those of stack, and reads all of it where it is a measure.
func (x *partwise) start(t xml.StartElement, at int64, stack []string) (taken bool, err error) {
	name := t.Name.Local
	switch {
	case len(stack) == 0 && name == "score-timewise":
		return false, fmt.Errorf("this is score-timewise MusicXML, which Backfield does not read; " +
			"save it as score-partwise")
	case len(stack) == 0 && name != "score-partwise":
		return false, fmt.Errorf("this is XML that begins with <%s>, not MusicXML", clip(name))
	case len(stack) == 1 && name == "part":
		if x.part == 0 && len(x.c.bars) == 0 {
			return false, fmt.Errorf("the first part has no measure")
		}
		x.part, x.bar, x.divisions = x.part+1, -1, 1
		x.notes.Begin(id(t))
	case len(stack) == 2 && stack[1] == "part-list" && name == "score-part":
		x.elements = 0
		e, err := x.element(t, at, 0)
		if err != nil {
			return false, err
		}
		x.notes.List(e)
		return true, nil
	case len(stack) == 2 && stack[1] == "part" && name == "measure":
		x.elements = 0
		e, err := x.element(t, at, 0)
		if err != nil {
			return false, err
		}
		return true, x.measure(e)
	}
	return false, nil
}

// id is what a part is called by the list of parts.
func id(t xml.StartElement) string { return (&notes.Element{Attrs: t.Attr}).Attr("id") }

// clip keeps what a message quotes of a file short.
func clip(text string) string { return text[:min(len(text), 40)] }

// element reads the rest of an element.
func (x *partwise) element(t xml.StartElement, at int64, depth int) (*notes.Element, error) {
	e := &notes.Element{Name: t.Name.Local, Attrs: t.Copy().Attr, At: x.span(at)}
	if x.elements++; x.elements > mostElements {
		return nil, fmt.Errorf("a measure has more than %d elements", mostElements)
	}
	if depth > deepest {
		return nil, fmt.Errorf("elements are nested more than %d deep", deepest)
	}
	for {
		at := x.dec.InputOffset()
		token, err := x.dec.Token()
		if err == io.EOF {
			return nil, fmt.Errorf("the file ends within a measure")
		}
		if err != nil {
			return nil, err
		}
		switch t := token.(type) {
		case xml.StartElement:
			kid, err := x.element(t, at, depth+1)
			if err != nil {
				return nil, err
			}
			e.Kids = append(e.Kids, kid)
		case xml.CharData:
			if len(e.Kids) == 0 && len(e.Text) < longestText {
				e.Text += string(t)
			}
		case xml.EndElement:
			return e, nil
		}
	}
}
