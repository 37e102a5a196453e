package scale

import (
	"fmt"
	"strings"

	"backfield/layout/osctype"
	"backfield/layout/source"
	"backfield/layout/table"
)

// The problems of this package, one function each: what is wrong, in the reader's terms, and what to do.

// Forms lists the ways to write a scale.
const Forms = `{ from = [..], to = [..] }, { table = [[in, out], ..] }, "amplitude", ` +
	`or { on = .., off = .. } for a mute`

func unknownScale(n *table.Node) source.Problem {
	return source.ErrorAt("mixer-scale", n.Span,
		fmt.Sprintf("unknown scale %q", n.Text),
		source.DidYouMean(n.Text, []string{amplitude}, "write "+Forms))
}

func noScale(n *table.Node) source.Problem {
	return source.ErrorAt("wrong-type", n.Span,
		fmt.Sprintf("a scale is a table or a word, and this is %s", n.Kind),
		"write "+Forms)
}

func halfScale(at source.Span, key string, form []string) source.Problem {
	return source.ErrorAt("mixer-scale", at,
		fmt.Sprintf("this scale has no %q", key),
		"give both: "+strings.Join(form, " and "))
}

func emptyScale(at source.Span) source.Problem {
	return source.ErrorAt("mixer-scale", at,
		"this scale is empty",
		"write "+Forms)
}

func mixedScale(at source.Span, given []string) source.Problem {
	return source.ErrorAt("mixer-scale", at,
		"this scale mixes "+strings.Join(given, ", and "),
		"keep one of them")
}

func badAmplitude(v table.Num) source.Problem {
	return source.ErrorAt("mixer-scale", v.Span,
		fmt.Sprintf("the amplitude at 0 dB cannot be %v", v.V),
		"write a number over 0; for most mixers it is 1.0")
}

func fromNotRising(at source.Span) source.Problem {
	return source.ErrorAt("mixer-scale", at,
		"the numbers of `from` must go up",
		"write the lower one first; if the mixer counts the other way, swap the numbers of `to`")
}

func flatLine(at source.Span) source.Problem {
	return source.ErrorAt("mixer-scale", at,
		"`to` sends the same for every value",
		"give it two different ends")
}

func fewPoints(at source.Span) source.Problem {
	return source.ErrorAt("mixer-scale", at,
		"a table needs at least two points",
		"write { table = [[-60, 0], [0, 0.8], [10, 1]] } with your mixer's own numbers")
}

func pointsNotRising(at source.Span, v, last float64) source.Problem {
	return source.ErrorAt("mixer-scale", at,
		fmt.Sprintf("the first numbers of the table must go up, and %v comes after %v", v, last),
		"sort the points by their first number, and list each only once")
}

func curveTurns(at source.Span, v float64) source.Problem {
	return source.ErrorAt("mixer-scale", at,
		fmt.Sprintf("the second numbers of the table turn back at %v", v),
		"make them all go up or all go down: louder must not be sent as softer")
}

func flatTable(at source.Span) source.Problem {
	return source.ErrorAt("mixer-scale", at,
		"this table sends the same for every value",
		"give it different second numbers")
}

func noPair(at source.Span) source.Problem {
	return source.ErrorAt("wrong-type", at,
		"this must be two numbers",
		"write them like [-60, 0]")
}

func overLargest(at source.Span) source.Problem {
	return source.ErrorAt("mixer-range", at,
		fmt.Sprintf("this number in the scale is too big (at most %g)", float64(Largest)),
		"write the value the mixer itself uses")
}

func noScalar(n *table.Node) source.Problem {
	return source.ErrorAt("wrong-type", n.Span,
		fmt.Sprintf("this must be a number, a string, or true or false, and is %s", n.Kind),
		"write { on = 1, off = 0 }")
}

func unknownType(t table.Text, known []string) source.Problem {
	return source.ErrorAt("mixer-type", t.Span,
		fmt.Sprintf("unknown OSC type %q", t.V),
		"use one of "+strings.Join(known, " "))
}

func unsuitableType(t table.Text, why string, suitable []string) source.Problem {
	return source.ErrorAt("mixer-type", t.Span,
		fmt.Sprintf("type %s does not fit: %s", t.V, why),
		"use one of "+strings.Join(suitable, " "))
}

func twoKinds(s Keys) source.Problem {
	return source.ErrorAt("mixer-switch", s.Off.Span,
		fmt.Sprintf("on is %s and off is %s", s.On.Node.Kind, s.Off.Node.Kind),
		"write both the same way")
}

func sameEnds(at source.Span, meaning string) source.Problem {
	return source.ErrorAt("mixer-switch", at,
		"on and off are sent as the same value",
		"give them two different values: "+meaning)
}

func notPrintable(at source.Span, c rune) source.Problem {
	return source.ErrorAt("mixer-switch", at,
		fmt.Sprintf("%q is not allowed in an OSC string", c),
		"use printable ASCII")
}

func endOverflows(at source.Span, t *osctype.Type, v float64) source.Problem {
	return source.ErrorAt("mixer-overflow", at,
		fmt.Sprintf("type %c cannot hold %v", t.Tag, v),
		"write a number that fits, or another type")
}
