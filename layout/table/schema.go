package table

import (
	"encoding/json"
	"reflect"
	"slices"

	"backfield/layout/source"
)

// Schema is a JSON Schema of the dialect 2020-12 (json-schema.org/draft/2020-12), of which it uses only what
// older dialects read alike, as not every editor knows the newest.
type Schema struct {
	Dialect     string             `json:"$schema,omitempty"`
	Title       string             `json:"title,omitempty"`
	Description string             `json:"description,omitempty"`
	Type        string             `json:"type,omitempty"`
	Enum        []string           `json:"enum,omitempty"`
	Required    []string           `json:"required,omitempty"`
	Properties  map[string]*Schema `json:"properties,omitempty"`
	Others      *Schema            `json:"additionalProperties,omitempty"` // what a key of any other name may hold
	Items       *Schema            `json:"items,omitempty"`
	MinItems    int                `json:"minItems,omitempty"`
	MaxItems    int                `json:"maxItems,omitempty"`
	AnyOf       []*Schema          `json:"anyOf,omitempty"`

	nothing bool // fits no value
}

// MarshalJSON writes a schema that nothing fits as false.
func (s *Schema) MarshalJSON() ([]byte, error) {
	if s.nothing {
		return []byte("false"), nil
	}
	type plain Schema
	return json.Marshal((*plain)(s))
}

// Choose narrows the strings that fit to those given.
func (s *Schema) Choose(words []string) {
	for _, x := range append(s.AnyOf, s) {
		if x.Type == "string" {
			x.Enum = words
		}
	}
}

// Optional takes out of the schema what must be there, at every depth.
func (s *Schema) Optional() {
	if s == nil {
		return
	}
	s.Required = nil
	s.Others.Optional()
	s.Items.Optional()
	for _, x := range s.Properties {
		x.Optional()
	}
	for _, x := range s.AnyOf {
		x.Optional()
	}
}

// Chooser is the type of a key whose string is one of a few words: its zero value lists them.
type Chooser interface{ Words() []string }

// SchemaOf is the schema of the files that Decode reads into a struct like of without a problem of key or type; what
// a string may say and how far a number may go is the reader's. The function about is called for the value of every
// key, with the path that Keys would give it (one of the user's own names is "*"), to describe and narrow it.
//
// A Decoder is asked what it takes by giving it sample nodes, so its schema always matches what it reads.
func SchemaOf(of any, about func(path string, s *Schema)) *Schema {
	g := generator{about}
	s := g.structure(reflect.TypeOf(of), "")
	s.Dialect = "https://json-schema.org/draft/2020-12/schema"
	return s
}

// generator makes the schema of a type, and asks about each key.
type generator struct{ about func(path string, s *Schema) }

// key is the schema of the value of a key.
func (g generator) key(t reflect.Type, path string) *Schema {
	s := g.value(t, path)
	if c, ok := reflect.Zero(t).Interface().(Chooser); ok {
		s.Choose(c.Words())
	}
	g.about(path, s)
	return s
}

func (g generator) structure(t reflect.Type, path string) *Schema {
	s := &Schema{Type: "object", Properties: map[string]*Schema{}, Others: &Schema{nothing: true}}
	for _, k := range keysOf(t) {
		if k.name == others {
			s.Others = g.value(k.of, path).Others
			continue
		}
		s.Properties[k.name] = g.key(k.of, join(path, k.name))
		if k.required {
			s.Required = append(s.Required, k.name)
		}
	}
	return s
}

func join(path, name string) string {
	if path == "" {
		return name
	}
	return path + "." + name
}

func (g generator) value(t reflect.Type, path string) *Schema {
	switch {
	case reflect.PointerTo(t).Implements(reflect.TypeFor[Decoder]()):
		return g.decoder(t, path)
	case t.Kind() == reflect.Pointer:
		return g.value(t.Elem(), path)
	case t.Kind() == reflect.Slice:
		return &Schema{Type: "array", Items: g.value(t.Elem(), path)}
	}
	return g.structure(t, path)
}

// noted is what a Decoder passes a sample node on to: types, and whether Decode was called, which reads a type's keys
// even if it is a Decoder as well.
type noted struct {
	list []handed
	root bool // of the value that the Decoder itself is to read: only Decode is of interest
}

// handed is a type that a sample node was passed on to.
type handed struct {
	t    reflect.Type
	keys bool
}

// note records, for a sample node, what it was to be read into.
func (n *Node) note(v any, keys bool) (standIn bool) {
	if n.noted == nil || n.noted.root && !keys {
		return false
	}
	n.noted.list = append(n.noted.list, handed{reflect.TypeOf(v).Elem(), keys})
	return true
}

// standIns are the scalars that a Decoder is tried with. One of a kind that it takes is enough: a string that it can
// make nothing of may be refused.
var standIns = []struct {
	json  string
	nodes []Node
}{
	{"boolean", []Node{{Kind: Bool}}},
	{"number", []Node{{Kind: Number, Float: 0.5}}},
	{"integer", []Node{{Kind: Number, Float: 1, Integer: true}}},
	{"string", []Node{{Kind: String}, {Kind: String, Text: "1"}, {Kind: String, Text: "A"}}},
}

func (g generator) decoder(t reflect.Type, path string) *Schema {
	var any []*Schema
	has := func(json string) bool {
		return slices.ContainsFunc(any, func(s *Schema) bool { return s.Type == json })
	}
	for _, x := range standIns {
		if x.json == "integer" && has("number") {
			continue
		}
		if slices.ContainsFunc(x.nodes, func(n Node) bool { return takes(t, &n) }) {
			any = append(any, &Schema{Type: x.json})
		}
	}
	any = append(any, g.lists(t, path)...)
	any = append(any, g.tables(t, path)...)
	if len(any) == 1 {
		return any[0]
	}
	return &Schema{AnyOf: any}
}

// takes tries a new value of a type with a node, and reports whether its kind suits.
func takes(t reflect.Type, n *Node) bool {
	f := &source.File{Text: "x"}
	n.Key, n.Span = f.Whole(), f.Whole()
	for _, x := range n.Items {
		x.Span = f.Whole()
	}
	var p source.Problems
	reflect.New(t).Interface().(Decoder).DecodeNode(n, &p)
	return !p.Has(f, "wrong-type")
}

// lists are the lists that a Decoder takes, by what is in them and how many.
func (g generator) lists(t reflect.Type, path string) []*Schema {
	var found []*Schema
	for _, item := range []struct {
		json string
		node Node
	}{{"object", Node{Kind: Table}}, {"number", Node{Kind: Number, Float: 0.5}},
		{"string", Node{Kind: String, Text: "A"}}, {"boolean", Node{Kind: Bool}}} {
		var seen noted
		var lengths []int
		for length := range 4 {
			list := Node{Kind: Array}
			for range length {
				x := item.node
				x.noted = &seen
				list.Items = append(list.Items, &x)
			}
			if takes(t, &list) {
				lengths = append(lengths, length)
			}
		}
		s := &Schema{Type: "array", Items: &Schema{Type: item.json}}
		switch {
		case len(lengths) == 0 || lengths[len(lengths)-1] == 0:
			continue
		case len(lengths) == 1:
			s.MinItems, s.MaxItems = lengths[0], lengths[0]
		}
		if len(seen.list) > 0 { // read by the type that it was passed on to, whatever is in it
			s.Items = g.of(seen.list[0], path)
			return append(found, s)
		}
		found = append(found, s)
	}
	return found
}

// tables are the tables that a Decoder takes: the structs that it passes one on to, and what it does with a name that
// none of them knows.
func (g generator) tables(t reflect.Type, path string) []*Schema {
	seen, inner := noted{root: true}, noted{}
	child := &Node{Kind: Table, noted: &inner}
	n := &Node{Kind: Table, noted: &seen}
	n.add("*", child)
	if !takes(t, n) {
		return nil
	}
	s := &Schema{Type: "object"}
	if len(seen.list) > 0 {
		s = g.of(seen.list[0], path)
	}
	if len(inner.list) > 0 {
		path := join(path, "*")
		s.Others = g.of(inner.list[0], path)
		g.about(path, s.Others)
	}
	return []*Schema{s}
}

func (g generator) of(x handed, path string) *Schema {
	if x.keys {
		return g.structure(x.t, path)
	}
	return g.value(x.t, path)
}
