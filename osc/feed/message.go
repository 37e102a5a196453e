package feed

import "backfield/osc"

// Message is a message on its way to a mixer: the value of a row of the table, or one of another kind.
type Outgoing struct {
	Row     int // of the table, -1 for a message of another kind
	Address string
	Arg     osc.Arg   // the argument of a row's value
	Args    []osc.Arg // the arguments of a message of another kind
	kind    messageKind
}

// kind is what a message is for.
type messageKind int8

const (
	value     messageKind = iota // what the table wants in a row
	question                     // what the mixer holds in a row
	keepalive                    // what the mixer must hear every so often
	scene                        // the recall of a scene of the mixer's own
	extra                        // what a cue sends besides its channels
)

// OSC is the message as such.
func (m Outgoing) OSC() osc.Message {
	if m.Row < 0 {
		return osc.Message{Address: m.Address, Args: m.Args}
	}
	return osc.Message{Address: m.Address, Args: []osc.Arg{m.Arg}}
}

// other is a message that is no row's value.
func other(k messageKind, m osc.Message) Outgoing {
	return Outgoing{Row: -1, Address: m.Address, Args: m.Args, kind: k}
}

// value makes a message what is wanted in a row.
func (f *Feed) value(m *Outgoing, i int) {
	m.Row, m.Address, m.Arg, m.Args, m.kind = i, f.table.Address(i), f.want(i), nil, value
}

// question asks what the mixer holds in a row. Only a mixer with a query can be asked.
func (f *Feed) question(i int) Outgoing {
	return other(question, f.mixer.Ask(f.table.Address(i)))
}
