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

// Former is a struct with keys in earlier versions that nothing has taken the place of word for word. It says what is
// to be done about such a key at its place; ok is false for any other key.
type Former interface {
	FormerKey(n *Node, name string, at source.Span) (problem source.Problem, ok bool)
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
		wantsTable(n, p)
		return
	}
	if w := v.FieldByName("Where"); w.IsValid() && w.Type() == reflect.TypeFor[Where]() {
		w.Set(reflect.ValueOf(Where{n.Key, n.Span}))
	}
	var known, missing []string
	other := map[string]keyField{} // by the other words for it
	var rest reflect.Value         // of the field that takes all other keys, if there is one
	for _, k := range keysOf(v.Type()) {
		if k.name == others {
			rest = v.FieldByIndex(k.index)
			continue
		}
		known = append(known, k.name)
		for _, word := range []string{k.was, k.like} {
			if word != "" {
				other[word] = k
			}
		}
		if child := n.Get(k.name); child != nil {
			decode(child, v.FieldByIndex(k.index), p)
		} else if k.required {
			missing = append(missing, k.name)
		}
	}
	former, _ := v.Addr().Interface().(Former)
	misspelt := decodeOthers(n, known, other, former, rest, p)
	for _, name := range missing {
		if misspelt[name] == nil { // a misspelt key is one mistake, not two
			p.Add(missingKey(n.Span, name))
		}
	}
	if rest.IsValid() {
		return
	}
	for _, k := range keysOf(v.Type()) {
		if child := misspelt[k.name]; child != nil {
			p.Close(child.Span)
			readMeant(child, v.FieldByIndex(k.index))
		}
	}
}

// readMeant reads the value of a misspelt key as that of the key that is meant, so that nothing seems to be missing.
func readMeant(n *Node, v reflect.Value) {
	var p source.Problems // they can be reported when the key is right
	meant := reflect.New(v.Type()).Elem()
	if decode(n, meant, &p); p.Errors() == 0 {
		v.Set(meant)
	}
}

// decodeOthers reads the keys that are not known into rest, or reports them if there is no rest. other has the keys by
// their names in earlier versions and by words that are taken for them; former may be nil. It returns what is probably
// misspelt, by the key that is meant.
func decodeOthers(n *Node, known []string, other map[string]keyField, former Former, rest reflect.Value,
	p *source.Problems) (misspelt map[string]*Node) {
	misspelt = map[string]*Node{}
	own := &Node{Kind: Table, Key: n.Key, Span: n.Span}
	for _, f := range n.Fields {
		if !slices.Contains(known, f.Name) {
			own.Fields = append(own.Fields, f)
		}
	}
	if len(own.Fields) > 0 {
		free := slices.DeleteFunc(slices.Clone(known), func(k string) bool { return n.Get(k) != nil })
		for _, f := range own.Fields {
			if former != nil {
				if problem, ok := former.FormerKey(f.Node, f.Name, f.Node.place()); ok {
					p.Add(problem)
					continue
				}
			}
			key, isKnown := other[f.Name]
			meant := key.name
			if !isKnown {
				meant = source.Nearest(f.Name, free)
			}
			if meant != "" {
				misspelt[meant] = f.Node
			}
			switch {
			case rest.IsValid():
			case isKnown && key.was == f.Name:
				p.Add(renamedKey(f.Node.place(), f.Name, meant))
			case isKnown && slices.Contains(free, meant):
				p.Add(takenForKey(f.Node.place(), f.Name, meant))
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
			wantsList(n, want, v.Type().Elem().Kind() == reflect.Struct && n.Kind == Table, p)
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
