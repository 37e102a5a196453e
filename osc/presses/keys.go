// Package presses reads remote.toml: which MIDI message gives which command, and which time of another machine a run
// goes by.
package presses

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/osc/midi"
	"backfield/osc/run"
	"backfield/osc/timecode"
)

// RemoteKeys are the keys of remote.toml.
type RemoteKeys struct {
	MIDI  table.Text `key:"midi"`
	Press pressKeys  `key:"press"`
	Time  *timeKeys  `key:"time"`
}

type pressKeys struct {
	Go     midiWords  `key:"go"`
	Back   midiWords  `key:"back"`
	Hush   midiWords  `key:"hush"`
	Unhush midiWords  `key:"unhush"`
	Start  midiWords  `key:"start"`
	Stop   midiWords  `key:"stop"`
	Jump   []jumpKeys `key:"jump"`
}

type jumpKeys struct {
	table.Where
	On midiWords  `key:"on,required"`
	To table.Text `key:"to,required"`
}

type timeKeys struct {
	table.Where
	From   fromWord   `key:"from,required"`
	Rate   rateWord   `key:"rate"`
	Begins []timeText `key:"begins"`
}

// midiWords is one message or a list of them.
type midiWords struct{ list []table.Text }

// DecodeNode reads a text or a list of texts.
func (w *midiWords) DecodeNode(n *table.Node, p *source.Problems) {
	items := []*table.Node{n}
	if n.Kind == table.Array {
		items = n.Items
	}
	for _, x := range items {
		if x.Kind != table.String {
			table.WrongType(x, "a MIDI message such as \"note 60\", in quotes", p)
			continue
		}
		w.list = append(w.list, table.Text{V: x.Text, Span: x.Span, Set: true})
	}
}

// fromWord is where the time comes from.
type fromWord struct{ table.Text }

// The places that a time can come from.
const (
	FromTimeCode = "time code"
	FromClock    = "clock"
	FromOSC      = "osc"
)

// Words lists the places.
func (fromWord) Words() []string { return []string{FromTimeCode, FromClock, FromOSC} }

// rateWord is a rate of time code.
type rateWord struct{ table.Text }

// Words lists the rates.
func (rateWord) Words() []string { return timecode.Names }

// timeText is a time as a text or a number.
type timeText struct{ table.Text }

// DecodeNode reads a text or a number.
func (t *timeText) DecodeNode(n *table.Node, p *source.Problems) {
	switch n.Kind {
	case table.String:
		t.Text = table.Text{V: n.Text, Span: n.Span, Set: true}
	case table.Number:
		t.Text = table.Text{V: strconv.FormatFloat(n.Float, 'f', -1, 64), Span: n.Span, Set: true}
	default:
		table.WrongType(n, "a time such as \"01:00:00:00\"", p)
	}
}

// Keys lists every key of remote.toml, with a dot for nested ones.
func Keys() []string { return table.Keys(RemoteKeys{}) }

// Pedal is a MIDI message that gives a command: its kind and its number, on one channel or on all.
type Pedal struct {
	Status  byte // midi.NoteOn, midi.ControlChange or midi.ProgramChange
	Number  byte
	Channel int // 0: every channel
}

// pedalKind is a kind of message that can give a command, and its word.
type pedalKind struct {
	word   string
	status byte
}

var pedalKinds = []pedalKind{{"note", midi.NoteOn}, {"controller", midi.ControlChange}, {"program", midi.ProgramChange}}

// ParsePedal reads "note 60", "controller 64 channel 2" or "program 3".
func ParsePedal(text string) (s Pedal, err error) {
	words := strings.Fields(strings.ToLower(text))
	at := slices.IndexFunc(pedalKinds, func(k pedalKind) bool { return len(words) > 0 && k.word == words[0] })
	if at < 0 || len(words) != 2 && (len(words) != 4 || words[2] != "channel") {
		return s, fmt.Errorf("%q is not a MIDI message that can give a command", text)
	}
	number, err := strconv.ParseUint(words[1], 10, 8)
	if err != nil || number > 127 {
		return s, fmt.Errorf("%q: the number of a %s goes from 0 to 127", text, words[0])
	}
	s = Pedal{Status: pedalKinds[at].status, Number: byte(number)}
	if len(words) == 4 {
		channel, err := strconv.ParseUint(words[3], 10, 8)
		if err != nil || channel < 1 || channel > 16 {
			return s, fmt.Errorf("%q: MIDI channels go from 1 to 16", text)
		}
		s.Channel = int(channel)
	}
	return s, nil
}

// String is the switch as it is written.
func (s Pedal) String() string {
	for _, k := range pedalKinds {
		if k.status != s.Status {
			continue
		}
		if s.Channel > 0 {
			return fmt.Sprintf("%s %d channel %d", k.word, s.Number, s.Channel)
		}
		return fmt.Sprintf("%s %d", k.word, s.Number)
	}
	return ""
}

// PedalOf is the switch that a message is of; ok is false for a message that is none, or that says that one was let go.
func PedalOf(m midi.MIDIMessage) (s Pedal, ok bool) {
	if m.Released() {
		return s, false
	}
	switch m.Status {
	case midi.NoteOn, midi.ControlChange, midi.ProgramChange:
		return Pedal{m.Status, m.Data[0], m.Channel}, true
	}
	return s, false
}

// meets reports whether one message can be of both.
func (s Pedal) meets(o Pedal) bool {
	return s.Status == o.Status && s.Number == o.Number && (s.Channel == 0 || o.Channel == 0 || s.Channel == o.Channel)
}

// PedalOrder is a switch and the command that it gives.
type PedalOrder struct {
	Pedal   Pedal
	Command run.Command
	At      source.Span
}
