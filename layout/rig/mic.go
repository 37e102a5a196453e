package rig

import (
	"math"
	"slices"

	"backfield/layout"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// Mic is a fixed mic.
type Mic struct {
	Name    string
	Span    source.Span
	Kind    string // "field" or "pit"
	Channel int
	At      layout.Point
	Words   string // the place as written
	TrimDB  float64
	Pan     *float64 // set by hand, -1 to 1
	DelayMS *float64 // set by hand
}

// micTable is one [[mic]].
type micTable struct {
	table.Where
	Name    table.Text     `key:"name,required"`
	Kind    kindChoice     `key:"kind,required"`
	Channel table.Int      `key:"channel,required"`
	At      place          `key:"at,required"`
	Height  table.Quantity `key:"height"`
	Trim    table.Quantity `key:"trim"`
	Pan     table.Num      `key:"pan"`
	Delay   table.Quantity `key:"delay"`
}

// kindChoice is a kind of fixed mic.
type kindChoice struct{ table.Text }

var kinds = []string{"field", "pit"}

// Words are the kinds.
func (kindChoice) Words() []string { return kinds }

// micHeightM is the height of a fixed mic where the rig does not say.
const micHeightM = 1.0

func (r *Rig) mic(t micTable, p *source.Problems) Mic {
	m := Mic{Name: t.Name.V, Span: t.Name.Span, Kind: t.Kind.V, Channel: t.Channel.V}
	m.At, m.Words = r.at(t.At, t.Height, micHeightM, p)
	m.TrimDB = t.Trim.Within(unit.Level, 0, -loudestDB, loudestDB, "trim", p)
	if t.Channel.Set && m.Channel < 1 {
		p.Add(badChannel(t.Channel.Span, m.Channel))
	}
	if t.Kind.Set && !slices.Contains(kinds, m.Kind) {
		p.Add(unknownKind(t.Kind.Span, m.Kind))
	}
	if t.Pan.Set {
		if math.Abs(t.Pan.V) > 1 {
			p.Add(badPan(t.Pan))
		}
		m.Pan = &t.Pan.V
	}
	if t.Delay.Set {
		ms := t.Delay.Within(unit.Delay, 0, 0, longestMS, "delay", p)
		m.DelayMS = &ms
	}
	return m
}
