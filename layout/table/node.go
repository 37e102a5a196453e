// Package table reads TOML files and CSV sheets into values that know the bytes they came from. It is the
// only package that imports a TOML or CSV library. It knows no show: the callers give the keys and columns.
package table

import (
	"math"
	"slices"

	"backfield/layout/source"
)

// Kind is what a TOML value is.
type Kind int

// The kinds of TOML value.
const (
	Table Kind = iota
	Array
	String
	Number
	Bool
	Date
)

func (k Kind) String() string {
	return [...]string{"a table", "a list", "a string", "a number", "true or false", "a date"}[k]
}

// Node is one TOML value with its place. Key is where its name is (an array element and the root have
// none). Span is the value's text; of a table its header or opening brace.
type Node struct {
	Kind   Kind
	Key    source.Span
	Span   source.Span
	Fields []NamedNode // of a Table, in the order of the file
	Items  []*Node     // of an Array

	Text    string  // of a String
	Float   float64 // of a Number
	Integer bool    // whether a Number was written as an integer
	Yes     bool    // of a Bool

	named  map[string]*Node // Fields by name
	broken bool             // of the root: the file was refused, so that nothing can be said to be missing
	noted  *noted           // of a sample node: what it was to be read into
}

// NamedNode is one key of a table.
type NamedNode struct {
	Name string
	Node *Node
}

// Get returns the field of that name, or nil.
func (n *Node) Get(name string) *Node { return n.named[name] }

// Without is a table without one of its keys. The tree is not changed.
func (n *Node) Without(name string) *Node {
	other := &Node{Kind: n.Kind, Key: n.Key, Span: n.Span, broken: n.broken}
	for _, f := range slices.DeleteFunc(slices.Clone(n.Fields), func(f NamedNode) bool { return f.Name == name }) {
		other.add(f.Name, f.Node)
	}
	return other
}

// Only is a table with some of its keys alone, nil if it has none of them. The tree is not changed.
func (n *Node) Only(names ...string) *Node {
	other := &Node{Kind: n.Kind, Key: n.Key, Span: n.Span, broken: n.broken}
	for _, f := range n.Fields {
		if slices.Contains(names, f.Name) {
			other.add(f.Name, f.Node)
		}
	}
	if len(other.Fields) == 0 {
		return nil
	}
	return other
}

// add keeps both fields of a name that was given twice, and goes by the first, as the parser does.
func (n *Node) add(name string, child *Node) {
	if n.named == nil {
		n.named = map[string]*Node{}
	}
	if n.named[name] == nil {
		n.named[name] = child
	}
	n.Fields = append(n.Fields, NamedNode{name, child})
}

// place is where to point for the node as a whole: its key where it has one.
func (n *Node) place() source.Span {
	if n.Key.File != nil {
		return n.Key
	}
	return n.Span
}

// set fills the located tree with what the parser decoded. What the tree has and the parser dropped was
// written twice.
func (n *Node) set(v any, p *source.Problems) {
	switch v := v.(type) {
	case map[string]any:
		if n.Kind != Table {
			n.dropped(p)
			return
		}
		for _, f := range n.Fields {
			child, ok := v[f.Name]
			if !ok {
				f.Node.dropped(p)
				continue
			}
			f.Node.set(child, p)
		}
	case []map[string]any:
		n.setItems(len(v), func(i int) any { return v[i] }, p)
	case []any:
		n.setItems(len(v), func(i int) any { return v[i] }, p)
	case string:
		n.scalar(String, p)
		n.Text = v
	case bool:
		n.scalar(Bool, p)
		n.Yes = v
	case int64:
		n.scalar(Number, p)
		n.Float, n.Integer = float64(v), true
	case float64:
		n.scalar(Number, p)
		n.Float = v
		if math.IsNaN(v) || math.IsInf(v, 0) {
			p.Add(notFinite(n.Span))
			p.Close(n.Span)
			n.Float = 0
		}
	default:
		n.scalar(Date, p)
	}
}

func (n *Node) setItems(count int, item func(int) any, p *source.Problems) {
	if n.Kind != Array || len(n.Items) != count {
		n.dropped(p)
		return
	}
	for i, x := range n.Items {
		x.set(item(i), p)
	}
}

// scalar marks what the scanner could only see as "a value". A table or list in that place means that the
// same name was given twice.
func (n *Node) scalar(k Kind, p *source.Problems) {
	if n.Kind == Table || n.Kind == Array {
		n.dropped(p)
		return
	}
	n.Kind = k
}

func (n *Node) dropped(p *source.Problems) {
	p.Add(otherShape(n.place()))
}

// WrongType reports a value that is of another kind than wanted ("a number"), and names the page that says which.
func WrongType(n *Node, want string, p *source.Problems) { p.Add(wrongType(n, want, seePage(n))) }

// seePage names the reference page of the file that a value is in.
func seePage(n *Node) string {
	if n.Span.File != nil && n.Span.File.Page != "" {
		return "see backfield help " + n.Span.File.Page
	}
	return "see the reference page of this file (backfield help)"
}

// words say what a value is; a number, which is seldom taken for something else, is shown as written.
func (n *Node) words() string {
	if n.Kind == Number && n.Span.File != nil {
		return n.Span.File.Text[n.Span.Start:n.Span.End]
	}
	return n.Kind.String()
}
