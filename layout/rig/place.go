package rig

import (
	"fmt"

	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// placeTable is a place in x, y and z.
type placeTable struct {
	table.Where
	X table.Quantity `key:"x,required"`
	Y table.Quantity `key:"y,required"`
	Z table.Quantity `key:"z"`
}

// place is { x, y, z }, or a dot in the trade's words.
type place struct {
	dot table.Text
	xyz *placeTable
}

func (w *place) DecodeNode(n *table.Node, p *source.Problems) {
	if n.Kind == table.Table {
		w.xyz = &placeTable{}
		table.Decode(n, w.xyz, p)
		return
	}
	w.dot.DecodeNode(n, p)
}

func (r *Rig) point(t placeTable, p *source.Problems) layout.Point {
	depth := unit.LengthIn("m", r.Field.DepthStepM)
	return layout.Point{
		X: t.X.Within(unit.Length, 0, -farthestM, farthestM, "x", p),
		Y: t.Y.Within(depth, 0, -farthestM, farthestM, "y", p),
		Z: t.Z.Within(unit.Length, 0, -10, farthestM, "z", p),
	}
}

// at reads a place, in words or as x, y, z; a place in words takes its height from the key of that name.
func (r *Rig) at(w place, height table.Quantity, defHeightM float64,
	p *source.Problems) (at layout.Point, words string) {
	switch {
	case w.xyz != nil:
		at = r.point(*w.xyz, p)
		words = fmt.Sprintf("x %.2f, y %.2f, z %.2f m", at.X, at.Y, at.Z)
		switch {
		case height.Set && !w.xyz.Z.Set:
			at.Z = height.Within(unit.Length, defHeightM, 0, 100, "height", p)
		case height.Set && height.Span.File == w.xyz.Z.Span.File: // a venue's place beats the rig's height
			p.Add(twoHeights(height.Span))
		}
	case w.dot.Set:
		x, y, fault := r.Field.ReadDot(w.dot.V)
		if fault != nil {
			p.Add(badDot(w.dot, fault))
		}
		at = layout.Point{X: x, Y: y, Z: height.Within(unit.Length, defHeightM, 0, 100, "height", p)}
		words = w.dot.V
	}
	return at, words
}

// People is a place, other than a dot or a seat, where people are near loud sound.
type People struct {
	Name string
	Span source.Span
	At   layout.Point // of their ears
}

// peopleTable is one of `people`.
type peopleTable struct {
	table.Where
	Name   table.Text     `key:"name,required"`
	At     place          `key:"at,required"`
	Height table.Quantity `key:"height"`
}

func (r *Rig) people(t peopleTable, p *source.Problems) People {
	at, _ := r.at(t.At, t.Height, level.EarHeightM, p)
	if xyz := t.At.xyz; xyz != nil && !xyz.Z.Set && !t.Height.Set {
		at.Z = level.EarHeightM
	}
	return People{t.Name.V, t.Name.Span, at}
}
