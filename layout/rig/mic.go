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
	Name     string
	Span     source.Span
	Kind     string // Field, Pit or LineIn
	Channel  int
	At       layout.Point
	Words    string // the place as written
	TrimDB   float64
	Pan      *float64 // set by hand, -1 to 1
	DelayMS  *float64 // set by hand, or 0 where a pit mic or a line has none; nil: computed
	DelaySet bool     // the rig says its delay
	LatencyS float64  // mic to loudspeaker
}

// The kinds of fixed mics.
const (
	Field  = "field" // hears the field from the front sideline
	Pit    = "pit"   // stands in front of an instrument
	LineIn = "line"  // no mic at all: a synthesizer, a track, a click. No player's own sound goes with it
)

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
	Delay   micDelay       `key:"delay"`
}

// micDelay is a delay, or "auto": computed as a player's.
type micDelay struct {
	table.Quantity
	auto bool
}

// DecodeNode reads a delay or the word.
func (d *micDelay) DecodeNode(n *table.Node, p *source.Problems) {
	if d.auto = n.Kind == table.String && n.Text == "auto"; !d.auto {
		d.Quantity.DecodeNode(n, p)
	}
}

// kindChoice is a kind of fixed mic.
type kindChoice struct{ table.Text }

var kinds = []string{Field, Pit, LineIn}

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
	if m.LatencyS = r.WiredS; m.Kind == LineIn {
		m.LatencyS = r.LineS
	}
	// A flam against an undelayed synthesizer beside it is worse than an early loudspeaker.
	if m.DelaySet = t.Delay.Set || t.Delay.auto; t.Delay.Set || m.Kind != Field && !t.Delay.auto {
		ms := t.Delay.Within(unit.Delay, 0, 0, longestMS, "delay", p)
		m.DelayMS = &ms
	}
	return m
}

// KindWords says what it is: "pit mic", "line".
func (m *Mic) KindWords() string {
	if m.Kind == LineIn {
		return "line"
	}
	return m.Kind + " mic"
}

// HasPlayer reports whether somebody's own sound goes with it, which the loudspeakers can be in time with.
func (m *Mic) HasPlayer() bool { return m.Kind != LineIn }
