package music

import (
	"cmp"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"backfield/cue/clock"
	"backfield/layout/source"
)

// element is one XML element with its place.
type element struct {
	name  string
	attrs []xml.Attr
	text  string
	kids  []*element
	at    source.Span
}

func (e *element) attr(name string) string {
	for _, a := range e.attrs {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// kid returns the first child of that name, or nil.
func (e *element) kid(name string) *element {
	for _, k := range e.kids {
		if k.name == name {
			return k
		}
	}
	return nil
}

// all lists the children of that name.
func (e *element) all(name string) (list []*element) {
	for _, k := range e.kids {
		if k.name == name {
			list = append(list, k)
		}
	}
	return list
}

// say is the text of the first child of that name.
func (e *element) say(name string) string {
	if k := e.kid(name); k != nil {
		return strings.TrimSpace(k.text)
	}
	return ""
}

const (
	deepest      = 64 // elements within one another
	mostElements = 200_000
	mostSigns    = 200_000 // tempos, marks and fermatas of all parts
	longestText  = 1000
)

// musicXML reads MusicXML (4.0, W3C Community Group Report, 2021) of the kind score-partwise. Of document types and
// entities nothing is looked up: the parser knows the five of XML itself, and refuses others.
func (r *reader) musicXML(raw []byte) *piece {
	file, err := source.Open(r.path, narrow(raw), xmlLimit)
	if err != nil {
		r.bad("is "+err.Error(), "")
		return nil
	}
	file.Order = r.order
	x := &partwise{reader: r, file: file, dec: xml.NewDecoder(strings.NewReader(file.Text)), c: &piece{numbered: true}}
	x.dec.CharsetReader = func(name string, in io.Reader) (io.Reader, error) {
		if strings.HasPrefix(strings.ToLower(name), "utf-16") {
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
// are told from its beginning until the lengths of all are known.
type partwise struct {
	*reader
	file *source.File
	dec  *xml.Decoder
	c    *piece

	held     []float64 // by bar: how much of it is filled, in the part that fills it most
	within   []inBar
	implicit []bool // by bar: not counted, and free of the meter

	// Where the reading stands.
	part, bar int
	elements  int     // of the measure
	divisions float64 // of a quarter note
	meter     meter   // of the first part
	place     float64 // in the bar, in quarters
	noteAt    float64 // where the last note that is no chord tone began
	noteTo    float64
	jumped    bool
}

// inBar is a tempo, a mark or a fermata, told from the beginning of a bar.
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
			switch {
			case len(stack) == 0 && t.Name.Local == "score-timewise":
				return fmt.Errorf("this is MusicXML of the kind score-timewise, which is not read; save it as score-partwise")
			case len(stack) == 0 && t.Name.Local != "score-partwise":
				return fmt.Errorf("this is XML that begins with <%s>, and no MusicXML", clip(t.Name.Local))
			case len(stack) == 1 && t.Name.Local == "part":
				if x.part == 0 && len(x.c.bars) == 0 {
					return fmt.Errorf("the first part has no measure")
				}
				x.part, x.bar, x.divisions = x.part+1, -1, 1
			case len(stack) == 2 && stack[1] == "part" && t.Name.Local == "measure":
				x.elements = 0
				e, err := x.element(t, at, 0)
				if err != nil {
					return err
				}
				if err := x.measure(e); err != nil {
					return err
				}
				continue
			}
			if stack = append(stack, t.Name.Local); len(stack) > deepest {
				return fmt.Errorf("elements lie more than %d deep", deepest)
			}
		case xml.EndElement:
			if len(stack) == 2 && t.Name.Local == "part" && x.bar+1 != len(x.c.bars) {
				return fmt.Errorf("this part has %d measures, and the first %d", x.bar+1, len(x.c.bars))
			}
			stack = stack[:len(stack)-1]
		}
	}
}

func clip(text string) string { return text[:min(len(text), 40)] }

// element reads the rest of an element.
func (x *partwise) element(t xml.StartElement, at int64, depth int) (*element, error) {
	e := &element{name: t.Name.Local, attrs: t.Copy().Attr, at: x.span(at)}
	if x.elements++; x.elements > mostElements {
		return nil, fmt.Errorf("a measure holds more than %d elements", mostElements)
	}
	if depth > deepest {
		return nil, fmt.Errorf("elements lie more than %d deep", deepest)
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
			e.kids = append(e.kids, kid)
		case xml.CharData:
			if len(e.kids) == 0 && len(e.text) < longestText {
				e.text += string(t)
			}
		case xml.EndElement:
			return e, nil
		}
	}
}

// measure reads one measure of one part.
func (x *partwise) measure(e *element) error {
	x.bar++
	if x.part == 0 {
		if len(x.c.bars) >= mostMeasures {
			return fmt.Errorf("more than %d measures", mostMeasures)
		}
		number := e.attr("number")
		x.c.bars = append(x.c.bars, bar{number: number, span: e.at, pickup: x.bar == 0 && (e.attr("implicit") == "yes" || number == "0")})
		x.implicit = append(x.implicit, e.attr("implicit") == "yes" || number == "0")
		x.held = append(x.held, 0)
	} else if x.bar >= len(x.c.bars) {
		return fmt.Errorf("this part has more than the %d measures of the first", len(x.c.bars))
	}
	x.place, x.noteAt, x.noteTo = 0, 0, 0
	if len(x.within) > mostSigns {
		return fmt.Errorf("more than %d tempos, marks and fermatas", mostSigns)
	}
	for _, k := range e.kids {
		var err error
		switch k.name {
		case "attributes":
			err = x.attributes(k)
		case "note":
			err = x.note(k)
		case "backup", "forward":
			var d float64
			if d, err = x.duration(k); k.name == "backup" {
				d = -d
			}
			x.place = math.Max(x.place+d, 0)
		case "direction":
			err = x.direction(k)
		case "sound":
			err = x.sound(k, x.place+x.offset(k))
		case "barline":
			x.barline(k)
		}
		if err != nil {
			return err
		}
		x.held[x.bar] = math.Max(x.held[x.bar], x.place)
	}
	if x.held[x.bar] > mostQuarters {
		return fmt.Errorf("measure %q lasts %g quarter notes, as none does", clip(e.attr("number")), x.held[x.bar])
	}
	if x.part == 0 {
		x.c.bars[x.bar].meter = x.meter
	}
	return nil
}

func (x *partwise) attributes(e *element) error {
	if text := e.say("divisions"); text != "" {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil || !(v > 0 && v <= 1e6) {
			return fmt.Errorf("divisions of %q", clip(text))
		}
		x.divisions = v
	}
	for _, k := range e.all("time") {
		m, err := readMeter(k)
		if err != nil {
			return err
		}
		if x.part == 0 {
			x.meter = m
		}
	}
	return nil
}

// readMeter reads a time signature: "3+2" over 8, or several side by side, whose groups add up.
func readMeter(e *element) (m meter, err error) {
	if e.kid("senza-misura") != nil {
		return meter{}, nil
	}
	over, under := e.all("beats"), e.all("beat-type")
	if len(over) == 0 || len(over) != len(under) {
		return m, fmt.Errorf("a time signature without beats and beat-type")
	}
	units := make([]int, len(over))
	for i := range under {
		unit, err := strconv.Atoi(strings.TrimSpace(under[i].text))
		if err != nil || unit < 1 || unit > 128 || unit&(unit-1) != 0 {
			return m, fmt.Errorf("a time signature over %q", clip(under[i].text))
		}
		units[i], m.unit = unit, max(m.unit, unit)
	}
	for i, unit := range units {
		for _, text := range strings.Split(over[i].text, "+") {
			n, err := strconv.Atoi(strings.TrimSpace(text))
			if err != nil || n < 1 || n > 255 {
				return m, fmt.Errorf("a time signature of %q", clip(over[i].text))
			}
			group := n
			switch { // side by side each is beaten as it would be alone
			case len(over) == 1:
			case unit < 8 && m.unit >= 8: // 2/4 + 3/8 is 2+2+3/8
				group = 1
			case unit >= 8 && n > 3 && n%3 == 0: // 6/8 + 2/4 is 3+3+2+2/8
				group = 3
			}
			for range n / group {
				m.groups = append(m.groups, group*m.unit/unit)
			}
			if len(m.groups) > 16 {
				return m, fmt.Errorf("a time signature of %q", clip(over[i].text))
			}
		}
	}
	return m, nil
}

func (x *partwise) duration(e *element) (quarters float64, err error) {
	text := e.say("duration")
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !(v >= 0 && v <= 1e9) {
		return 0, fmt.Errorf("a duration of %q", clip(text))
	}
	return v / x.divisions, nil
}

func (x *partwise) note(e *element) error {
	var d float64
	if e.kid("grace") == nil {
		var err error
		if d, err = x.duration(e); err != nil {
			return err
		}
	}
	if e.kid("chord") == nil {
		x.noteAt, x.noteTo = x.place, x.place+d
		x.place += d
	}
	for _, n := range e.all("notations") {
		if k := n.kid("fermata"); k != nil {
			x.within = append(x.within, inBar{bar: x.bar, part: x.part, at: x.noteAt, to: x.noteTo, fermata: true, span: k.at})
		}
	}
	return nil
}

// offset is how far a direction's or a sound's effect lies from where it stands. That of a direction is for the eye
// only unless it says otherwise.
func (x *partwise) offset(e *element) float64 {
	k := e.kid("offset")
	if k == nil || e.name == "direction" && k.attr("sound") != "yes" {
		return 0
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(k.text), 64)
	if err != nil || math.Abs(v) > 1e9 {
		return 0
	}
	return v / x.divisions
}

// jumpWords are directions in words that send the players elsewhere.
var jumpWords = regexp.MustCompile(`(?i)^\s*(d\.\s?[cs]\.|d[cs] al\b|da capo\b|dal segno\b|to coda\b|repeat\b)`)

func (x *partwise) direction(e *element) error {
	place := x.place + x.offset(e)
	sound := e.kid("sound")
	if sound != nil {
		if err := x.sound(sound, place+x.offset(sound)); err != nil {
			return err
		}
	}
	for _, t := range e.all("direction-type") {
		for _, k := range t.kids {
			switch k.name {
			case "rehearsal":
				if name := clock.MarkName(k.text); name != "" {
					x.within = append(x.within, inBar{bar: x.bar, part: x.part, at: x.place, mark: name, span: k.at})
				}
			case "metronome":
				x.metronome(k, place, sound)
			case "words":
				if jumpWords.MatchString(k.text) {
					x.jump(k.at)
				}
			}
		}
	}
	return nil
}

func (x *partwise) sound(e *element, place float64) error {
	for _, name := range []string{"dacapo", "dalsegno", "tocoda", "forward-repeat"} {
		if v := e.attr(name); v != "" && v != "no" {
			x.jump(e.at)
		}
	}
	if text := e.attr("tempo"); text != "" {
		v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
		if err != nil || !(v > 0 && v <= 1e4) {
			return fmt.Errorf("a tempo of %q", clip(text))
		}
		x.within = append(x.within, inBar{bar: x.bar, part: x.part, at: place, tempo: v, span: e.at})
	}
	return nil
}

// jump reports that the file is not written out. Once is enough.
func (x *partwise) jump(at source.Span) {
	if x.jumped {
		return
	}
	x.jumped = true
	x.p.Add(hasRepeats(at, x.at))
}

func (x *partwise) barline(e *element) {
	if k := e.kid("repeat"); k != nil {
		x.jump(k.at)
	}
	if k := e.kid("ending"); k != nil {
		x.jump(k.at)
	}
	if k := e.kid("fermata"); k != nil && x.bar >= 0 {
		x.within = append(x.within, inBar{bar: x.bar, part: x.part, at: math.Max(x.place-1/x.divisions, 0), to: x.place, fermata: true, span: k.at})
	}
}

// noteValues are those of beat-unit, in quarters.
var noteValues = map[string]float64{"breve": 8, "whole": 4, "half": 2, "quarter": 1, "eighth": 0.5, "16th": 0.25, "32nd": 0.125}

// metronome reads a tempo that is written for the eye. A sound beside it says it exactly, and goes before it.
func (x *partwise) metronome(e *element, place float64, sound *element) {
	said := 0.0
	if sound != nil {
		said, _ = strconv.ParseFloat(strings.TrimSpace(sound.attr("tempo")), 64)
	}
	unit, text := noteValues[e.say("beat-unit")], e.say("per-minute")
	v, err := strconv.ParseFloat(text, 64)
	if unit == 0 || err != nil || !(v > 0 && v <= 1e4) || len(e.all("beat-unit")) > 1 {
		if said > 0 {
			return
		}
		x.p.Add(unclearMetronome(e.at, x.at))
		return
	}
	add := unit
	for range min(len(e.all("beat-unit-dot")), 3) {
		add /= 2
		unit += add
	}
	switch {
	case said == 0:
		x.within = append(x.within, inBar{bar: x.bar, part: x.part, at: place, tempo: v * unit, span: e.at})
	case math.Abs(said/(v*unit)-1) > 0.02:
		x.p.Add(metronomeDiffers(e.at, v*unit, said, sound.at))
	}
}

// finish gives the bars their places and lengths, and everything in them.
func (x *partwise) finish() *piece {
	c := x.c
	if len(c.bars) == 0 {
		x.bad("has no measure", "export the music, with its measures")
		return nil
	}
	place := 0.0
	for i := range c.bars {
		b := &c.bars[i]
		b.from, b.length = place, x.held[i]
		meant := b.length
		if len(b.meter.groups) > 0 {
			meant = b.meter.quarters()
		}
		switch {
		case b.length < 1e-9:
			b.length = meant
		case math.Abs(b.length-meant) > 1e-6 && !x.implicit[i] && i < len(c.bars)-1:
			what := fmt.Sprintf("measure %s holds %s, and %s has %s", b.number, quarterNotes(b.length), b.meter, quarterNotes(meant))
			do := "it is counted as long as what it holds; mend the music, or mark the measure as irregular there"
			if i == 0 {
				do = `count 1 is its beginning; if it is a pickup, mark it so in the music, or write from = "m. 2": ` + asTable
			}
			x.p.Add(measureLength(b.span, what, do, x.at))
		}
		if b.length < 1e-9 {
			x.p.Add(emptyMeasure(b.span, b.number, x.at))
			return nil
		}
		if place += b.length; place > mostQuarters {
			x.bad(fmt.Sprintf("lasts more than %d quarter notes, as no movement does", mostQuarters), "check that it is the right file")
			return nil
		}
	}
	c.bars[0].pickup = c.bars[0].pickup && len(c.bars) > 1 && c.bars[0].length < c.bars[1].length-1e-9
	c.least, c.most = place, place
	for _, w := range x.within {
		at := math.Max(c.bars[w.bar].from+w.at, 0)
		switch {
		case w.tempo > 0:
			c.tempos = append(c.tempos, tempo{at, w.tempo, w.part, w.span})
		case w.mark != "":
			c.marks = append(c.marks, mark{w.mark, at})
		case w.fermata:
			c.fermatas = append(c.fermatas, fermata{at, c.bars[w.bar].from + w.to, w.span})
		}
	}
	slices.SortStableFunc(c.tempos, func(a, b tempo) int { return cmp.Compare(snap(a.at), snap(b.at)) })
	slices.SortStableFunc(c.marks, func(a, b mark) int {
		return cmp.Or(cmp.Compare(snap(a.at), snap(b.at)), cmp.Compare(a.name, b.name))
	})
	slices.SortStableFunc(c.fermatas, func(a, b fermata) int { return cmp.Compare(snap(a.from), snap(b.from)) })
	c.marks = slices.CompactFunc(c.marks, func(a, b mark) bool { return a.name == b.name && math.Abs(a.at-b.at) < 1e-9 })
	switch {
	case len(c.tempos) == 0 || c.tempos[0].at > 1e-9:
		x.p.Add(noTempo(c.bars[0].span, x.at))
		return nil
	case len(c.tempos) > mostTempos:
		x.bad(fmt.Sprintf("has more than %d tempos", mostTempos), "check that it is the right file")
		return nil
	case !x.agree(c.tempos):
		return nil
	}
	return c
}
