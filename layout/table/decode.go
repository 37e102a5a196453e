package table

import (
	"fmt"
	"reflect"
	"slices"

	"backfield/layout/source"
)

// Decoder is a type that reads itself from a node, where one value may have several shapes.
type Decoder interface {
	DecodeNode(n *Node, p *source.Problems)
}

// Decode reads a table into the struct that into points to. Fields carry a tag `key:"name"`, `key:"name,required"`, or
// `key:"name,named"` of a list that Overlay merges by name; their types are ScalarValue, Quantity, Map, Decoder,
// structs, pointers to and slices of these. Keys that no field asks for, missing required keys and values of another
// type are problems. A Map with the tag `key:"*"` takes the keys that no other field asks for: the user's own names.
func Decode(n *Node, into any, p *source.Problems) {
	if n.broken || n.note(into, true) {
		return
	}
	decodeStruct(n, reflect.ValueOf(into).Elem(), p)
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
	renamed := map[string]string{}
	var rest reflect.Value // of the field that takes all other keys, if there is one
	for _, k := range keysOf(v.Type()) {
		if k.name == others {
			rest = v.FieldByIndex(k.index)
			continue
		}
		known = append(known, k.name)
		if k.was != "" {
			renamed[k.was] = k.name
		}
		if child := n.Get(k.name); child != nil {
			decode(child, v.FieldByIndex(k.index), p)
		} else if k.required {
			missing = append(missing, k.name)
		}
	}
	misspelt := decodeOthers(n, known, renamed, rest, p)
	for _, name := range missing {
		if !slices.Contains(misspelt, name) { // a misspelt key is one mistake, not two
			p.Add(missingKey(n.Span, name))
		}
	}
}

// decodeOthers reads the keys that are not known into rest, or reports them if there is no rest. renamed maps the keys of
// earlier versions to the current ones. It returns the known keys that the others may be misspelled from.
func decodeOthers(n *Node, known []string, renamed map[string]string, rest reflect.Value,
	p *source.Problems) (misspelt []string) {
	own := &Node{Kind: Table, Key: n.Key, Span: n.Span}
	for _, f := range n.Fields {
		if !slices.Contains(known, f.Name) {
			own.Fields = append(own.Fields, f)
		}
	}
	if len(own.Fields) > 0 {
		free := slices.DeleteFunc(slices.Clone(known), func(k string) bool { return n.Get(k) != nil })
		for _, f := range own.Fields {
			now, isRenamed := renamed[f.Name]
			if isRenamed {
				misspelt = append(misspelt, now)
			} else {
				misspelt = append(misspelt, source.Nearest(f.Name, free))
			}
			switch {
			case rest.IsValid():
			case isRenamed:
				p.Add(renamedKey(f.Node.place(), f.Name, now))
			default:
				p.Add(unknownKey(f.Node.place(), f.Name, free, known))
			}
		}
	}
	if rest.IsValid() {
		decode(own, rest, p)
	}
	return misspelt
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
		panic(fmt.Sprintf("table: cannot decode into %s", v.Type()))
	}
}
