package rig

import (
	"math"
	"slices"

	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/levelkeys"
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

	// For levels only.
	OmniShare float64      // of its pattern: level.OmniMic and so on
	Facing    level.Facing // of its axis, which is level
	Meter     table.Quantity
	MeterDB   float64       // what the loudest that it hears reads over nominal
	LowCut    table.Setting // in Hz, 0 is off; also the mixer's own parameter of that name
	GainCue   table.Text    // the cue for which its preamp is set; unset: the loudest
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

	Pattern patternValue       `key:"pattern"`
	Facing  levelkeys.Pointing `key:"facing"`
	Meter   table.Quantity     `key:"meter"`
	LowCut  table.Num          `key:"low_cut"`
	GainCue table.Text         `key:"gain_cue"`
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
	m.readSound(t, p)
	// A flam against an undelayed synthesizer beside it is worse than an early loudspeaker.
	if m.DelaySet = t.Delay.Set || t.Delay.auto; t.Delay.Set || m.Kind != Field && !t.Delay.auto {
		ms := t.Delay.Within(unit.Delay, 0, 0, longestMS, "delay", p)
		m.DelayMS = &ms
	}
	return m
}

// patternValue is the name of a mic's pattern, or the share k of |k + (1-k) cos u|.
type patternValue struct {
	share float64
	set   bool
}

// patterns are those that have a name.
var patterns = map[string]float64{"omni": level.OmniMic, "cardioid": level.CardioidMic,
	"supercardioid": level.SupercardioidMic}

// DecodeNode reads either.
func (v *patternValue) DecodeNode(n *table.Node, p *source.Problems) {
	switch n.Kind {
	case table.String:
		if v.share, v.set = patterns[n.Text]; !v.set {
			p.Add(unknownPattern(n.Span, n.Text))
		}
	case table.Number:
		if v.share, v.set = n.Float, n.Float >= 0 && n.Float <= 1; !v.set {
			p.Add(badPattern(n.Span, n.Float))
		}
	default:
		table.WrongType(n, `a pattern such as "cardioid", or its omni share, 0 to 1`, p)
	}
}

// readSound reads what levels need of the mic.
func (m *Mic) readSound(t micTable, p *source.Problems) {
	m.OmniShare, m.Facing = level.CardioidMic, level.Back
	if m.Kind == Pit {
		m.OmniShare = level.OmniMic
	}
	if t.Pattern.set {
		m.OmniShare = t.Pattern.share
	}
	if t.Facing.Set {
		m.Facing = t.Facing.Facing
	}
	m.Meter, m.MeterDB = t.Meter, t.Meter.Within(unit.Level, 0, -loudestDB, loudestDB, "the meter", p)
	m.LowCut = table.Setting{V: within(t.LowCut, 0, 0, level.MostLowCutHz, "a low cut", "Hz", p), Span: t.LowCut.Span,
		Set: t.LowCut.Set}
	m.GainCue = t.GainCue
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
