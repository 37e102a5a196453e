package table

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"

	"backfield/layout/source"
	"backfield/layout/unit"
)

// Where may be embedded in a struct to learn where its table stands.
type Where struct{ Key, Span source.Span }

// Value is a TOML scalar of type string, float64, int or bool with its place. Set tells whether it was given.
type Value[T any] struct {
	V    T
	Span source.Span
	Set  bool
}

// Or returns the value, or def where none was given.
func (v Value[T]) Or(def T) T {
	if v.Set {
		return v.V
	}
	return def
}

// Short names for the usual scalars.
type (
	Text = Value[string]
	Num  = Value[float64]
	Int  = Value[int]
	Flag = Value[bool]
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
		p.Add(outOfRange(q.Span, what, v, lo, hi, d.Bare))
		return def
	}
	return v
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

// Entry is one key of a table whose keys are the user's own names.
type Entry[T any] struct {
	Name  Text
	Value T
}

// Map is such a table, in the order of the file.
type Map[T any] struct {
	Where
	Entries []Entry[T]
}

// Decoder is a type that reads itself from a node, where one value may have several shapes.
type Decoder interface {
	DecodeNode(n *Node, p *source.Problems)
}

// Decode reads a table into the struct that into points to. Fields carry a tag `key:"name"`, `key:"name,required"`, or
// `key:"name,named"` of a list that Overlay merges by name; their types are Value, Quantity, Map, Decoder, structs, pointers to and slices of these. Keys
// that no field asks for, missing required keys and values of another type are problems. A Map with the tag `key:"*"`
// takes the keys that no other field asks for: names of the user's own.
func Decode(n *Node, into any, p *source.Problems) {
	if n.broken || n.note(into, true) {
		return
	}
	decodeStruct(n, reflect.ValueOf(into).Elem(), p)
}

// Keys lists the keys that a struct type takes, in order, with a dot for nested ones ("open.feature" is
// "open.*"). It serves the test that holds the reference pages complete.
func Keys(of any) []string {
	var keys []string
	var walk func(t reflect.Type, prefix string)
	walk = func(t reflect.Type, prefix string) {
		for t.Kind() == reflect.Slice || t.Kind() == reflect.Pointer {
			t = t.Elem()
		}
		if t.Kind() != reflect.Struct {
			return
		}
		for _, k := range keysOf(t) {
			keys = append(keys, prefix+k.name)
			walk(k.of, prefix+k.name+".")
		}
	}
	walk(reflect.TypeOf(of), "")
	return keys
}

// others is the tag of a field that takes the keys which no other field asks for.
const others = "*"

// keyField is a field that a key is read into.
type keyField struct {
	name     string
	required bool
	named    bool // a list whose entries are told apart by their key "name"
	of       reflect.Type
	index    []int // in the struct, as FieldByIndex takes it
}

// keysOf lists the keys that a struct takes, in order. Those of a struct that is embedded in it are its own.
func keysOf(t reflect.Type) []keyField {
	var list []keyField
	for i := range t.NumField() {
		f := t.Field(i)
		tag, ok := f.Tag.Lookup("key")
		switch {
		case ok:
			k := keyField{of: f.Type, index: []int{i}}
			name, options, _ := strings.Cut(tag, ",")
			k.name = name
			for option := range strings.SplitSeq(options, ",") {
				k.required = k.required || option == "required"
				k.named = k.named || option == "named"
			}
			list = append(list, k)
		case f.Anonymous && f.Type.Kind() == reflect.Struct && f.Type != reflect.TypeFor[Where]():
			for _, k := range keysOf(f.Type) {
				k.index = append([]int{i}, k.index...)
				list = append(list, k)
			}
		}
	}
	return list
}

// Each calls f for every key of the struct that from points to, in order, with a pointer to the field.
func Each(from any, f func(key string, field any)) {
	v := reflect.ValueOf(from).Elem()
	for _, k := range keysOf(v.Type()) {
		f(k.name, v.FieldByIndex(k.index).Addr().Interface())
	}
}

func decodeStruct(n *Node, v reflect.Value, p *source.Problems) {
	if n.Kind != Table {
		WrongType(n, "a table", p)
		return
	}
	if w := v.FieldByName("Where"); w.IsValid() && w.Type() == reflect.TypeFor[Where]() {
		w.Set(reflect.ValueOf(Where{n.Key, n.Span}))
	}
	var known, missing []string
	var rest reflect.Value // of the field that takes all other keys, if there is one
	for _, k := range keysOf(v.Type()) {
		if k.name == others {
			rest = v.FieldByIndex(k.index)
			continue
		}
		known = append(known, k.name)
		if child := n.Get(k.name); child != nil {
			decode(child, v.FieldByIndex(k.index), p)
		} else if k.required {
			missing = append(missing, k.name)
		}
	}
	var unknown []string
	for _, f := range n.Fields {
		if slices.Contains(known, f.Name) {
			continue
		}
		free := slices.DeleteFunc(slices.Clone(known), func(k string) bool { return n.Get(k) != nil })
		unknown = append(unknown, source.Nearest(f.Name, free))
		if rest.IsValid() {
			continue
		}
		p.Add(unknownKey(f.Node.place(), f.Name, free, known))
	}
	if rest.IsValid() {
		own := &Node{Kind: Table, Key: n.Key, Span: n.Span}
		for _, f := range n.Fields {
			if !slices.Contains(known, f.Name) {
				own.Fields = append(own.Fields, f)
			}
		}
		decode(own, rest, p)
	}
	for _, name := range missing {
		if !slices.Contains(unknown, name) { // a misspelt key is one mistake, not two
			p.Add(missingKey(n.Span, name))
		}
	}
}

func decode(n *Node, v reflect.Value, p *source.Problems) {
	if n.note(v.Addr().Interface(), false) {
		return
	}
	if d, ok := v.Addr().Interface().(Decoder); ok {
		d.DecodeNode(n, p)
		return
	}
	switch v.Kind() {
	case reflect.Pointer: // a table that may be absent
		v.Set(reflect.New(v.Type().Elem()))
		decode(n, v.Elem(), p)
	case reflect.Slice:
		if n.Kind != Array {
			want := "a list"
			if v.Type().Elem() == reflect.TypeFor[Text]() {
				want = "a list of names, such as [\"Tpt 1\"]"
			}
			WrongType(n, want, p)
			return
		}
		v.Set(reflect.MakeSlice(v.Type(), len(n.Items), len(n.Items)))
		for i, item := range n.Items {
			decode(item, v.Index(i), p)
		}
	case reflect.Struct:
		decodeStruct(n, v, p)
	default:
		panic(fmt.Sprintf("table: no way to decode into %s", v.Type()))
	}
}

// DecodeNode reads a scalar.
func (v *Value[T]) DecodeNode(n *Node, p *source.Problems) {
	if n.note(v, false) {
		return
	}
	ok := false
	switch x := any(&v.V).(type) {
	case *string:
		if ok = n.Kind == String; ok {
			*x = n.Text
		} else {
			WrongType(n, "a string (in quotes)", p)
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
			WrongType(n, "true or false", p)
		}
	default:
		panic(fmt.Sprintf("table: no scalar of type %T", v.V))
	}
	if ok {
		v.Span, v.Set = n.Span, true
	}
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

// DecodeNode reads a table of the user's own names.
func (m *Map[T]) DecodeNode(n *Node, p *source.Problems) {
	if n.Kind != Table {
		WrongType(n, "a table", p)
		return
	}
	m.Where = Where{n.Key, n.Span}
	for _, f := range n.Fields {
		e := Entry[T]{Name: Text{V: f.Name, Span: f.Node.Key, Set: true}}
		decode(f.Node, reflect.ValueOf(&e.Value).Elem(), p)
		m.Entries = append(m.Entries, e)
	}
}
