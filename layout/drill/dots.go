package drill

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"backfield/layout"
	"backfield/layout/rows"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// decimalComma is what most likely is one: a digit on either side.
var decimalComma = regexp.MustCompile(`\d,\d`)

// words is a dot, or a half of one, put together from its cells.
type words struct {
	text  string
	parts []cellPart
}

// cellPart is what one cell gave to the words: the bytes lo to hi; whole where it is not the cell's own text.
type cellPart struct {
	lo, hi int
	cell   table.Cell
	whole  bool
}

func (w *words) add(c table.Cell, text string) {
	if text == "" {
		return
	}
	if w.text != "" {
		w.text += " "
	}
	w.parts = append(w.parts, cellPart{len(w.text), len(w.text) + len(text), c, text != c.Text})
	w.text += text
}

// at is the place of the bytes lo to hi of the words, in the cell that has the first of them.
func (w *words) at(lo, hi int) source.Span {
	for i, x := range w.parts {
		switch {
		case lo >= x.hi && i+1 < len(w.parts):
		case x.whole || lo < x.lo:
			return x.cell.Span
		default:
			return x.cell.Span.Within(lo-x.lo, min(hi, x.hi)-x.lo)
		}
	}
	return source.Span{}
}

// lateralOf puts the half across the field together: "side 1 2 inside 35".
func lateralOf(row table.Row) words {
	var w words
	if !row.Has("lateral") && !row.Has("yard") {
		return w
	}
	side, steps, inside, yard := row.Cell("side"), row.Cell("steps"), row.Cell("inside"), row.Cell("yard")
	w.add(side, sideWord(side))
	if row.Has("lateral") {
		w.add(row.Cell("lateral"), row.Cell("lateral").Text)
		return w
	}
	w.relate(steps, inside, instead(inside.Text, "inside", "I", "", "outside", "O", ""))
	w.add(yard, yard.Text)
	return w
}

// sideWord is what a cell with only the side says, in words of a dot.
func sideWord(side table.Cell) string {
	return instead(strings.TrimSuffix(side.Text, ".0"), "side 1", "1", "A", "side 2", "2", "B")
}

// depthOf puts the half along the field together: "4 behind front hash".
func depthOf(row table.Row) words {
	var w words
	if row.Has("depth") {
		w.add(row.Cell("depth"), row.Cell("depth").Text)
		return w
	}
	if !row.Has("line") {
		return w
	}
	steps, behind, line := row.Cell("depth_steps"), row.Cell("behind"), row.Cell("line")
	w.relate(steps, behind, instead(behind.Text, "in front of", "front", "F", "behind", "back", "B"))
	w.add(line, line.Text)
	return w
}

// instead spells out what a cell may give by a letter or two.
func instead(text, word1, a1, b1, word2, a2, b2 string) string {
	switch {
	case text == "":
		return ""
	case strings.EqualFold(text, a1) || strings.EqualFold(text, b1):
		return word1
	case strings.EqualFold(text, a2) || strings.EqualFold(text, b2):
		return word2
	}
	return text
}

// relate adds the steps and to which side of the line they are. No steps, or none that count, are on it.
func (w *words) relate(steps, relation table.Cell, word string) {
	n, err := strconv.ParseFloat(steps.Text, 64)
	on := strings.EqualFold(word, "on") || strings.EqualFold(word, "at")
	if (steps.Text == "" || err == nil && n == 0) && (word == "" || on) {
		w.add(relation, "on")
		return
	}
	w.add(steps, steps.Text)
	w.add(relation, word)
}

// readDot reads the place in a row.
func (d *Drill) readDot(row table.Row, p *source.Problems) Dot {
	if bad := row.Cell(rows.Unsound); bad.Text != "" {
		return Dot{Known: true, Bad: true}.in(d.written, bad.Span)
	}
	if row.Has("dot") {
		return d.wholeDot(row.Cell("dot"), p)
	}
	told := false
	for _, name := range rows.Words {
		told = told || row.Has(name) && row.Cell(name).Text != ""
	}
	if x, y := row.Cell("x"), row.Cell("y"); !told && row.Has("x") && row.Has("y") && (x.Text != "" || y.Text != "") {
		before := p.Errors()
		at := layout.Point{X: d.plain(x, unit.StepM, p), Y: d.plain(y, d.Field.DepthStepM, p)}
		return Dot{At: at, Known: true, Bad: p.Errors() > before, across: d.written.cell(x), along: d.written.cell(y),
			Plain: true}.in(d.written, x.Span)
	}
	before := p.Errors()
	across, along, at := lateralOf(row), depthOf(row), row.Cell("lateral").Span
	first := slices.IndexFunc(rows.Words, row.Has)
	switch {
	case d.alone.xAcross:
		across, at = d.acrossByX(row, p), row.Cell("x").Span
	case !told && first >= 0:
		at := row.Cell(rows.Words[first]).Span
		p.Add(noDotInRow(at))
		return Dot{Known: true, Bad: true}.in(d.written, at)
	}
	alone := d.spellOut(&along)
	empty := at
	if len(across.parts) > 0 {
		at = across.parts[0].cell.Span
	}
	dot := Dot{Known: true, across: d.written.half(across), along: d.written.half(along)}.in(d.written, at)
	var fault *source.Fault
	if p.Errors() > before {
		dot.Bad = true
	} else if dot.At.X, fault = d.Field.Lateral(across.text); fault != nil {
		d.refuse(&dot, fault, across, empty, p)
	}
	if dot.At.Y, fault = d.Field.Depth(along.text); fault != nil {
		if alone != nil {
			fault = alone
		}
		d.refuse(&dot, fault, along, row.Cell("depth").Span, p)
	}
	return dot
}

// wholeDot reads both halves from one cell.
func (d *Drill) wholeDot(c table.Cell, p *source.Problems) Dot {
	both := d.written.cell(c)
	dot := Dot{Known: true, across: both, along: both, oneCell: true}.in(d.written, c.Span)
	w := words{c.Text, []cellPart{{0, len(c.Text), c, false}}}
	var fault *source.Fault
	if dot.At.X, dot.At.Y, fault = d.Field.ReadDot(c.Text); fault != nil {
		d.refuse(&dot, fault, w, c.Span, p)
	}
	return dot
}

// refuse reports what cannot be read; empty is the place of a half of which no cell has anything.
func (d *Drill) refuse(dot *Dot, fault *source.Fault, w words, empty source.Span, p *source.Problems) {
	at, do := empty, fault.Do
	if len(w.parts) > 0 {
		at = w.at(fault.Lo, fault.Hi)
	}
	if decimalComma.MatchString(w.text) {
		do = "write decimals with a period, 2.5; " + do
	}
	dot.Bad = true
	if fault.Word == "" {
		p.Add(badDot(at, fault.What, do))
		return
	}
	i := slices.IndexFunc(d.strangers, func(x strangeWord) bool { return x.word == fault.Word })
	switch {
	case i < 0 && len(d.strangers) == mostOfAKind:
		p.Add(badDot(at, fault.What, do))
		return
	case i < 0:
		i, d.strangers = len(d.strangers), append(d.strangers, strangeWord{fault.Word, badDot(at, fault.What, do), 0})
	}
	d.strangers[i].dots++
}

// reportStrangers reports each word that is not known once, however many dots have it.
func (d *Drill) reportStrangers(p *source.Problems) {
	for _, x := range d.strangers {
		if x.dots > 1 {
			x.problem.What += fmt.Sprintf(" (%d dots have it)", x.dots)
		}
		p.Add(x.problem)
	}
}

// plain reads a coordinate: a bare number is in the sheet's unit, a string may carry its own.
func (d *Drill) plain(c table.Cell, stepM float64, p *source.Problems) float64 {
	v, err := unit.LengthIn(d.written.bare, stepM).Read(c.Text)
	if err != nil {
		do := fmt.Sprintf("write %s as a bare number, or a number and its unit such as \"6 yd\"", d.written.bare)
		if decimalComma.MatchString(c.Text) {
			do = "write decimals with a period, 2.5; " + do
		}
		p.Add(badCoordinate(c.Span, err, do))
	}
	return v
}

// withUnit words a coordinate with its unit.
func withUnit(text, bare string) string {
	if parts, err := unit.Parse(text); err == nil && len(parts) == 1 && parts[0].Unit == "" {
		return text + " " + bare
	}
	return text
}
