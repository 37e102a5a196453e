package table

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"backfield/layout/source"
	"backfield/layout/unit"
)

// The messages of this package, one function each: what is wrong, in the reader's terms, and what to do.

func whichSheet(at source.Span, names []string) source.Problem {
	return source.ErrorAt("which-sheet", at,
		fmt.Sprintf("this workbook has %d sheets that are not empty (%s)", len(names), source.OneOf(names)),
		"name the one to read: sheet = \""+names[0]+"\" in [drill.columns] of the score; or keep one sheet")
}

func emptySheet(f *source.File, columns []Column) source.Problem {
	return source.ErrorAt("empty-file", f.Whole(), "this sheet is empty",
		"its first row must name the columns: "+names(columns))
}

func headerTooShort(first Cell, n, rows int) source.Problem {
	return source.ErrorAt("extra-cell", first.Span,
		fmt.Sprintf("%q is past the last column, as are cells in %d of %d rows", first.Text, n, rows),
		"fix the first row: a column name or a comma is missing")
}

func extraCell(c Cell) source.Problem {
	return source.ErrorAt("extra-cell", c.Span, fmt.Sprintf("%q is past the last column", c.Text),
		"remove the extra comma, or quote the cell that has a comma in it")
}

func badCell(at source.Span, flaw source.Flaw) source.Problem {
	return source.ErrorAt("bad-cell", at, flaw.What, flaw.Do)
}

func columnTwice(at source.Span, name string) source.Problem {
	return source.ErrorAt("duplicate-column", at, fmt.Sprintf("there are two columns %q", name),
		"keep one")
}

func unknownColumn(c Cell, near string) source.Problem {
	return source.ErrorAt("unknown-column", c.Span,
		fmt.Sprintf("there is no column %q", c.Text),
		fmt.Sprintf("did you mean %q?", near))
}

func unreadColumn(c Cell, like string) source.Problem {
	return source.WarningAt("unread-column", c.Span,
		fmt.Sprintf("the column %q is not read", c.Text), fmt.Sprintf("name it %q if it is that", like))
}

func missingColumn(at source.Span, name string, columns []Column) source.Problem {
	return source.ErrorAt("missing-column", at,
		fmt.Sprintf("the column %q is missing", name),
		"the first row must name the columns: "+names(columns))
}

func notANumber(c Cell, what string) source.Problem {
	return source.ErrorAt("bad-number", c.Span,
		fmt.Sprintf("%s %q is not a number", what, c.Text),
		"write digits, with a period for decimals")
}

func notWhole(c Cell, what string, lo, hi int) source.Problem {
	return source.ErrorAt("bad-number", c.Span,
		fmt.Sprintf("%s %q is not a whole number from %d to %d", what, c.Text, lo, hi),
		"fix the cell")
}

func badUnit(at source.Span, err error, d unit.Dimension) source.Problem {
	return source.ErrorAt("bad-quantity", at,
		err.Error(),
		fmt.Sprintf("write %s as a bare number (%s) or as a string with its unit", d.Name, d.Bare))
}

// outOfRange says what is wrong, of a duration in the unit that was typed.
func outOfRange(q Quantity, what string, v, lo, hi float64, d unit.Dimension) source.Problem {
	typed, in := amount(v, d.Bare), bounds(lo, hi, d.Bare)
	if d.Name == unit.Duration.Name && len(q.Parts) == 1 && q.Parts[0].Unit != "" && q.Parts[0].Unit != d.Bare {
		typed, in = amount(q.Parts[0].Value, q.Parts[0].Unit), inHours(lo)+" to "+inHours(hi)
	}
	return source.ErrorAt("out-of-range", q.Span,
		fmt.Sprintf("%s of %s is out of range (%s)", what, typed, in),
		"check the number and its unit")
}

// inHours words a duration in the largest unit in which it is whole.
func inHours(s float64) string {
	for _, u := range []struct {
		name string
		s    float64
	}{{"h", 3600}, {"min", 60}} {
		if n := s / u.s; n >= 1 && n == math.Trunc(n) {
			return fmt.Sprintf("%g %s", n, u.name)
		}
	}
	return fmt.Sprintf("%g s", s)
}

// amount words a quantity, a temperature in both units that people use.
func amount(v float64, in string) string {
	if in == "C" {
		return unit.AirText(v)
	}
	return unit.Short(v) + " " + in
}

// bounds words the range of a quantity, for a temperature in both units that people use.
func bounds(lo, hi float64, in string) string {
	text := fmt.Sprintf("%g to %g %s", lo, hi, in)
	if in == "C" {
		text += fmt.Sprintf(", %g to %g F", unit.Fahrenheit(lo), unit.Fahrenheit(hi))
	}
	return text
}

func unknownKey(at source.Span, name string, free, known []string) source.Problem {
	if lower := strings.ToLower(name); lower != name && slices.Contains(known, lower) {
		return source.ErrorAt("unknown-key", at,
			fmt.Sprintf("unknown key %q", name),
			fmt.Sprintf("did you mean %q? Keys are in small letters", lower))
	}
	return source.ErrorAt("unknown-key", at,
		fmt.Sprintf("unknown key %q", name),
		source.DidYouMean(name, free, "it is "+source.OneOf(known)))
}

func takenForKey(at source.Span, name, meant string) source.Problem {
	return source.ErrorAt("unknown-key", at,
		fmt.Sprintf("unknown key %q", name),
		fmt.Sprintf("did you mean %q?", meant))
}

func renamedKey(at source.Span, old, now string) source.Problem {
	return source.ErrorAt("unknown-key", at,
		fmt.Sprintf("the key %q is now called %q", old, now),
		"write "+now)
}

func missingKey(at source.Span, name string) source.Problem {
	return source.ErrorAt("missing-key", at,
		fmt.Sprintf("the key %q is missing", name),
		"add it")
}

func badQuantity(at source.Span, err error) source.Problem {
	return source.ErrorAt("bad-quantity", at,
		"this quantity "+err.Error(),
		"write a number and its unit, such as \"18 ft\"")
}

func tooDeeplyNested(at source.Span) source.Problem {
	return source.ErrorAt("toml-syntax", at,
		fmt.Sprintf("nested more than %d deep", deepest),
		"close the bracket, or check that this is a file of a show")
}

func notFinite(at source.Span) source.Problem {
	return source.ErrorAt("not-finite", at,
		"this number must be finite",
		"write a plain number")
}

func otherShape(at source.Span) source.Problem {
	return source.ErrorAt("duplicate-key", at,
		"this key already has a value of another kind",
		"keep one of the two")
}

func wrongType(n *Node, want, do string) source.Problem {
	return source.ErrorAt("wrong-type", n.Span,
		fmt.Sprintf("this must be %s, but is %s", want, n.words()),
		do)
}
