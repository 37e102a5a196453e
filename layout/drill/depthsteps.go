package drill

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"backfield/layout/field"
	"backfield/layout/rows"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// numbersAlone says what numbers without words mean in a sheet of dots.
type numbersAlone struct {
	behind, before string  // the words of a depth that is not negative, and of one that is; "" where nobody says
	stepM          float64 // of a depth
	xAcross        bool    // x gives the half across the field, with words or a number for the other half
	xFromM         float64 // where x is 0
}

// fromFront is in the name of a column whose numbers are steps from the front sideline, which are behind it.
var fromFront = regexp.MustCompile(`(?i)\bsteps?\s+(?:from|behind)\s+(?:the\s+)?(?:front|home)\s+side\s?line\b`)

// opposite is the direction in which negative depths go.
var opposite = map[string]string{"behind": "in front of", "in front of": "behind"}

// newNumbersAlone reads the keys depth_from and x_from, and what the name of the column of depths says.
func newNumbersAlone(c *rows.Columns, f field.Field, p *source.Problems) numbersAlone {
	a := numbersAlone{stepM: f.DepthStepM, xAcross: c.XAcross()}
	if c.Unit.Set {
		if m, err := unit.LengthIn("steps", f.DepthStepM).Read("1 " + c.Unit.V); err == nil {
			a.stepM = m
		}
	}
	line := c.DepthFrom.V
	if !c.DepthFrom.Set && fromFront.MatchString(c.Depth.V) {
		line, a.stepM = "front sideline", f.DepthStepM
	}
	word := "behind"
	for from := range opposite {
		if rest, ok := strings.CutPrefix(strings.ToLower(strings.TrimSpace(line)), from+" "); ok {
			word, line = from, rest
		}
	}
	if line != "" {
		a.behind, a.before = word+" "+line, opposite[word]+" "+line
		if _, fault := f.Depth("1 " + a.behind); fault != nil {
			p.Add(badDepthFrom(c.DepthFrom))
			a.behind, a.before = "behind front sideline", "in front of front sideline"
		}
	}
	if c.XFrom.Set {
		x, fault := f.Lateral(c.XFrom.V)
		if a.xFromM = x; fault != nil || !a.xAcross {
			p.Add(badXFrom(c.XFrom, a.xAcross))
		}
	}
	return a
}

// spellOut adds to a depth that is a number alone the line that it counts from, where the sheet or the score says it.
func (d *Drill) spellOut(along *words) *source.Fault {
	if len(along.parts) != 1 {
		return nil
	}
	v, err := strconv.ParseFloat(along.text, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return nil
	}
	cell := along.parts[0].cell
	if d.alone.behind != "" {
		word := d.alone.behind
		switch steps := v * d.alone.stepM / d.Field.DepthStepM; {
		case v < 0 || steps != v: // the text is another
			if v < 0 {
				word = d.alone.before
			}
			*along = words{}
			along.add(cell, decimal(math.Abs(steps))+" "+word)
		default:
			along.add(cell, word)
		}
		return nil
	}
	return &source.Fault{
		Lo:   0,
		Hi:   len(along.text),
		What: "a depth that is a number alone does not say from which line",
		Do: `say which in [drill.columns]: depth_from = "front sideline"; or "front hash", "in front of back ` +
			`sideline" and so on`,
		Word: "a number alone", // reported once for all dots
	}
}

// acrossByX words the half across the field that x gives, with the side in a column of its own or in the sign.
func (d *Drill) acrossByX(row table.Row, p *source.Problems) words {
	var w words
	x, side := row.Cell("x"), row.Cell("side")
	if x.Text == "" {
		return w
	}
	before := p.Errors()
	m := d.plain(x, unit.StepM, p)
	if p.Errors() > before {
		return w
	}
	if row.Has("side") {
		of, fault := d.Field.Lateral(fmt.Sprintf("%s 1 outside %d", sideWord(side), d.Field.MiddleYard))
		switch {
		case m == 0:
		case fault != nil && side.Text == "":
			p.Add(badDot(side.Span, "the side is missing", "write 1 (the audience's left) or 2"))
			return w
		case fault != nil:
			p.Add(badDot(side.Span, fmt.Sprintf("%q is no side", side.Text), "write 1 (the audience's left) or 2"))
			return w
		case m < 0:
			p.Add(badDot(x.Span, "x has a sign and also a side", "keep one of them"))
			return w
		default:
			m = math.Copysign(m, of)
		}
	}
	m += d.alone.xFromM
	text, at := fmt.Sprintf("on %d", d.Field.MiddleYard), "side 1 "
	if m > 0 {
		at = "side 2 "
	}
	if steps := math.Abs(m) / unit.StepM; steps > 1e-9 {
		text = fmt.Sprintf("%s%s outside %d", at, decimal(steps), d.Field.MiddleYard)
	}
	w.add(x, text)
	return w
}

// decimal writes a number of steps to a hundred thousandth, which is less than people see.
func decimal(v float64) string {
	return strconv.FormatFloat(math.Round(v*1e5)/1e5, 'f', -1, 64)
}
