// Package levelkeys reads what levels need of keys and cells: where a bell or a mic points, a number for each octave.
package levelkeys

import (
	"fmt"
	"strconv"
	"strings"

	"backfield/layout/level"
	"backfield/layout/source"
	"backfield/layout/table"
)

// Pointing is a direction as a key or a cell gives it: "box", "back", or degrees from the front, -180 to 180, positive
// toward side 2. Set only where the file says it and it can be read.
type Pointing struct {
	level.Facing
	Set bool
}

// DecodeNode reads the value of a key.
func (d *Pointing) DecodeNode(n *table.Node, p *source.Problems) {
	switch n.Kind {
	case table.String:
		d.word(n.Text, n.Span, p)
	case table.Number:
		d.degrees(n.Float, n.Span, p)
	default:
		table.WrongType(n, `"box", "back" or degrees from the front`, p)
	}
}

// ReadPointing reads a cell of a sheet.
func ReadPointing(c table.Cell, p *source.Problems) (d Pointing) {
	if c.Text == "" {
		return d
	}
	if v, err := strconv.ParseFloat(c.Text, 64); err == nil {
		d.degrees(v, c.Span, p)
		return d
	}
	d.word(strings.ToLower(c.Text), c.Span, p)
	return d
}

func (d *Pointing) word(text string, at source.Span, p *source.Problems) {
	switch text {
	case "box":
		*d = Pointing{Set: true}
	case "back":
		*d = Pointing{level.Back, true}
	default:
		p.Add(source.ErrorAt("bad-choice", at, fmt.Sprintf("unknown facing %q", text), what))
	}
}

func (d *Pointing) degrees(deg float64, at source.Span, p *source.Problems) {
	if !(deg >= -180 && deg <= 180) {
		p.Add(source.ErrorAt("out-of-range", at, fmt.Sprintf("a facing of %g degrees", deg), what))
		return
	}
	*d = Pointing{level.FacingDeg(deg), true}
}

const what = `it is "box", "back", or degrees from the front, -180 to 180, positive toward side 2`

// Words are the direction as it is written in a sheet; "" where none is.
func (d Pointing) Words() string {
	switch {
	case !d.Set:
		return ""
	case !d.Given:
		return "box"
	case d.Facing == level.Back:
		return "back"
	}
	return strconv.FormatFloat(d.Deg, 'f', -1, 64)
}
