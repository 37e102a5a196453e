package table

import (
	"fmt"
	"math"
	"reflect"

	"backfield/layout/source"
	"backfield/layout/unit"
)

// Where may be embedded in a struct to learn where its table is.
type Where struct{ Key, Span source.Span }

// ScalarValue is a TOML scalar of type string, float64, int or bool with its place. Set says whether it was given.
type ScalarValue[T any] struct {
	V    T
	Span source.Span
	Set  bool
}

// Or returns the value, or def where none was given.
func (v ScalarValue[T]) Or(def T) T {
	if v.Set {
		return v.V
	}
	return def
}

// Short names for the usual scalars.
type (
	Text = ScalarValue[string]
	Num  = ScalarValue[float64]
	Int  = ScalarValue[int]
	Flag = ScalarValue[bool]
)

// Inside is the place of the bytes lo to hi of a string, or of all of it where escapes or tripled quotes keep
// the bytes of the value from being those of the file.
func Inside(t Text, lo, hi int) source.Span {
	s := t.Span
	if s.File == nil || s.End-s.Start != len(t.V)+2 || s.File.Text[s.Start+1:s.End-1] != t.V {
		return s
	}
	return s.Within(1+lo, 1+hi)
}

// DecodeNode reads a scalar.
func (v *ScalarValue[T]) DecodeNode(n *Node, p *source.Problems) {
	if n.note(v, false) {
		return
	}
	ok := false
	switch x := any(&v.V).(type) {
	case *string:
		if ok = n.Kind == String; ok {
			*x = n.Text
		} else {
			p.Add(wrongType(n, "a string (in quotes)", quoteIt(n)))
		}
	case *float64:
		if ok = n.Kind == Number; ok {
			*x = n.Float
		} else {
			WrongType(n, "a number", p)
		}
	case *int:
		if ok = n.Kind == Number && n.Float == math.Trunc(n.Float) && math.Abs(n.Float) <= math.MaxInt32; ok {
			*x = int(n.Float)
		} else if n.Kind == Number && n.Float == math.Trunc(n.Float) {
			WrongType(n, fmt.Sprintf("a whole number up to %d", math.MaxInt32), p)
		} else {
			WrongType(n, "a whole number", p)
		}
	case *bool:
		if ok = n.Kind == Bool; ok {
			*x = n.Yes
		} else {
			p.Add(wrongType(n, "true or false", "write true or false"))
		}
	default:
		panic(fmt.Sprintf("table: no scalar of type %T", v.V))
	}
	v.Span, v.Set = n.Span, ok // where it stands is known also if it is wrong
}

// Quantity is a number, or a string with a number and a unit.
type Quantity struct {
	Parts []unit.Part
	Span  source.Span
	Set   bool
}

// In returns the quantity in the dimension's own unit, or def where none was given; a wrong unit is a problem.
func (q Quantity) In(d unit.Dimension, def float64, p *source.Problems) float64 {
	if !q.Set {
		return def
	}
	v, err := d.Sum(q.Parts)
	if err != nil {
		p.Add(badUnit(q.Span, err, d))
		return def
	}
	return v
}

// Within is In, held to the bounds lo and hi; what names the quantity ("the latency").
func (q Quantity) Within(d unit.Dimension, def, lo, hi float64, what string, p *source.Problems) float64 {
	v := q.In(d, def, p)
	if q.Set && (v < lo || v > hi) {
		p.Add(outOfRange(q, what, v, lo, hi, d))
		return def
	}
	return v
}

// DecodeNode reads a bare number or a string with a unit.
func (q *Quantity) DecodeNode(n *Node, p *source.Problems) {
	if n.note(q, false) {
		return
	}
	switch n.Kind {
	case Number:
		q.Parts = []unit.Part{{Value: n.Float}}
	case String:
		parts, err := unit.Parse(n.Text)
		if err != nil {
			p.Add(badQuantity(n.Span, err))
			return
		}
		q.Parts = parts
	default:
		WrongType(n, "a number, or a string such as \"18 ft\"", p)
		return
	}
	q.Span, q.Set = n.Span, true
}

// Setting is a number, or true or false: what a parameter of the user's own is set to. Of a switch V is 1 or 0.
type Setting struct {
	V      float64
	Switch bool
	Span   source.Span
	Set    bool
}

// DecodeNode reads either.
func (s *Setting) DecodeNode(n *Node, p *source.Problems) {
	switch {
	case n.Kind == Number:
		*s = Setting{V: n.Float, Span: n.Span, Set: true}
	case n.Kind == Bool && n.Yes:
		*s = Setting{V: 1, Switch: true, Span: n.Span, Set: true}
	case n.Kind == Bool:
		*s = Setting{Switch: true, Span: n.Span, Set: true}
	default:
		WrongType(n, "a number, or true or false for a switch", p)
	}
}

// NamedValue is one key of a table whose keys are the user's own names.
type NamedValue[T any] struct {
	Name  Text
	Value T
}

// Map is such a table, in the order of the file.
type Map[T any] struct {
	Where
	Entries []NamedValue[T]
}

// DecodeNode reads a table of the user's own names.
func (m *Map[T]) DecodeNode(n *Node, p *source.Problems) {
	if n.Kind != Table {
		wantsTable(n, p)
		return
	}
	m.Where = Where{n.Key, n.Span}
	for _, f := range n.Fields {
		e := NamedValue[T]{Name: Text{V: f.Name, Span: f.Node.Key, Set: true}}
		decode(f.Node, reflect.ValueOf(&e.Value).Elem(), p)
		m.Entries = append(m.Entries, e)
	}
}
