// Package notes reads who plays what out of the parts of MusicXML and the tracks of MIDI: notes with their places,
// dynamics, slurs and breaths. Where the measures are and what a count is are no concern of it.
package notes

import (
	"encoding/xml"
	"strings"

	"backfield/layout/source"
)

// Element is one XML element with its place.
type Element struct {
	Name  string
	Attrs []xml.Attr
	Text  string
	Kids  []*Element
	At    source.Span
}

// Attr is the value of an attribute, empty without it.
func (e *Element) Attr(name string) string {
	for _, a := range e.Attrs {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// Kid returns the first child of that name, or nil.
func (e *Element) Kid(name string) *Element {
	for _, k := range e.Kids {
		if k.Name == name {
			return k
		}
	}
	return nil
}

// All lists the children of that name.
func (e *Element) All(name string) (list []*Element) {
	for _, k := range e.Kids {
		if k.Name == name {
			list = append(list, k)
		}
	}
	return list
}

// Say is the text of the first child of that name.
func (e *Element) Say(name string) string {
	if k := e.Kid(name); k != nil {
		return strings.TrimSpace(k.Text)
	}
	return ""
}
