package feed

import "backfield/osc"

// Outgoing is a message for a mixer: the value of a row of the table, or a message of another kind.
type Outgoing struct {
	Row     int // in the table; -1 for a message of another kind
	Address string
	Arg     osc.Arg   // the value, for a row
	Args    []osc.Arg // the arguments, for a message of another kind
	kind    messageKind
}

// messageKind is what a message is for.
type messageKind int8

const (
	value     messageKind = iota // a row's target value
	question                     // a query for a row's value
	keepalive                    // a keepalive
	scene                        // the recall of a scene in the mixer
	extra                        // an extra message of a cue
)

// OSC is the message itself.
func (m Outgoing) OSC() osc.Message {
	if m.Row < 0 {
		return osc.Message{Address: m.Address, Args: m.Args}
	}
	return osc.Message{Address: m.Address, Args: []osc.Arg{m.Arg}}
}

// other makes a message that is not a row's value.
func other(k messageKind, m osc.Message) Outgoing {
	return Outgoing{Row: -1, Address: m.Address, Args: m.Args, kind: k}
}

// value fills in a message with a row's target value.
func (f *Feed) value(m *Outgoing, i int) {
	m.Row, m.Address, m.Arg, m.Args, m.kind = i, f.table.Address(i), f.want(i), nil, value
}

// question asks for the mixer's value in a row. The mixer must have a query.
func (f *Feed) question(i int) Outgoing {
	return other(question, f.mixer.Ask(f.table.Address(i)))
}
