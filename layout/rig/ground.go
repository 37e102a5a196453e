package rig

import (
	"backfield/layout/field"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// fieldChoice is a rule book's name, or your own field.
type fieldChoice struct {
	code table.Text
	own  *ownField
}

// Words are the rule books.
func (fieldChoice) Words() []string { return field.Codes() }

// gridChoice is how deep a step is.
type gridChoice struct{ table.Text }

// Words are the grids.
func (gridChoice) Words() []string { return []string{"true", "28"} }

// ownField is a field that no rule book has.
type ownField struct {
	table.Where
	Length  table.Quantity `key:"length,required"`
	EndZone table.Quantity `key:"end_zone"`
	Width   table.Quantity `key:"width,required"`
	Hash    table.Quantity `key:"hash,required"`
	Middle  table.Int      `key:"middle"`
}

func (c *fieldChoice) DecodeNode(n *table.Node, p *source.Problems) {
	if n.Kind == table.Table {
		c.own = &ownField{}
		table.Decode(n, c.own, p)
		return
	}
	c.code.DecodeNode(n, p)
}

// readField reads the ground and the depth of its steps.
func (r *Rig) readField(f *RigFile, p *source.Problems) {
	switch code := f.Field.code; {
	case f.Field.own != nil:
		r.Field = f.Field.own.read(p)
	case code.Set:
		ground, ok := field.ByCode(code.V)
		if !ok {
			p.Add(unknownField(code.Span, code.V))
			break
		}
		r.Field = ground
	}
	switch f.Grid.Or("true") {
	case "true":
	case "28":
		r.Field = r.Field.Grid28()
	default:
		p.Add(unknownGrid(f.Grid.Text))
	}
}

func (own *ownField) read(p *source.Problems) field.Field {
	size := func(q table.Quantity, defM float64, what string) float64 {
		return q.Within(unit.Length, defM, 0, farthestM, what, p)
	}
	f := field.Field{Code: "own", MiddleYard: own.Middle.Or(50), DepthStepM: unit.StepM,
		LengthM: size(own.Length, 0, "the field's length"), WidthM: size(own.Width, 0, "the field's width"),
		HashM: size(own.Hash, 0, "the hash"), EndZoneM: size(own.EndZone, 10*unit.YardM, "the end zone")}
	if own.Hash.Set && own.Width.Set && f.HashM*2 > f.WidthM {
		p.Add(hashesCross(own.Hash.Span))
	}
	if m := f.MiddleYard; m < 5 || m > 200 || m%5 != 0 {
		p.Add(badMiddleYard(own.Middle.Span, m))
		f.MiddleYard = 50
	}
	return f
}
