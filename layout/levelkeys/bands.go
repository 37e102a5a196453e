package levelkeys

import (
	"fmt"

	"backfield/layout/level"
	"backfield/layout/source"
	"backfield/layout/table"
)

// ByBand is a list of seven numbers in dB, one for each octave from 125 to 8000 Hz.
type ByBand struct {
	DB   level.Bands
	Set  bool // the file has seven numbers
	list []table.Num
}

// DecodeNode reads the list.
func (v *ByBand) DecodeNode(n *table.Node, p *source.Problems) {
	if n.Kind != table.Array {
		table.WrongType(n, "seven numbers, in dB by octave", p)
		return
	}
	before := p.Errors()
	v.list = make([]table.Num, len(n.Items))
	for i, item := range n.Items {
		v.list[i].DecodeNode(item, p)
	}
	if p.Errors() > before {
		return
	}
	if len(v.list) != len(v.DB) {
		p.Add(source.ErrorAt("out-of-range", n.Span, fmt.Sprintf("%d numbers, not seven", len(v.list)),
			"write dB for 125, 250, 500, 1000, 2000, 4000 and 8000 Hz"))
		return
	}
	for b, x := range v.list {
		v.DB[b] = x.V
	}
	v.Set = true
}

// Within is the list if all of it is from lo to hi dB, or def; what names it.
func (v *ByBand) Within(def level.Bands, lo, hi float64, what string, p *source.Problems) level.Bands {
	if !v.Set {
		return def
	}
	for b, x := range v.list {
		if !(x.V >= lo && x.V <= hi) {
			p.Add(source.ErrorAt("out-of-range", x.Span,
				fmt.Sprintf("%s at %d Hz cannot be %g dB", what, level.NominalHz[b], x.V),
				fmt.Sprintf("it is %g to %g dB", lo, hi)))
			return def
		}
	}
	return v.DB
}
