package virtual

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"slices"

	"backfield/cue"
	"backfield/osc"
)

// State is what a mixer holds and has seen, for people and for comparison.
type DeviceState struct {
	Counts    MessageCounts
	Unknown   []Unknown // addresses that it does not have, in order; the first 100 kinds that came
	Slots     []SceneSlot
	Channels  []ChannelState // all, by number
	Addresses []Address      // told or moved by hand since it woke up, in order
}

// Unknown is an address that the mixer does not have, cut at 100 bytes, how often it came, and the last message, cut
// likewise: what a cue sends besides its channels ends here.
type Unknown struct {
	Address string `json:"address"`
	Count   int    `json:"count"`
	Last    string `json:"last"`
}

// Slot is a scene that is stored: how many values it has that differ from what the mixer wakes up with.
type SceneSlot struct {
	Slot   int    `json:"slot"`
	Name   string `json:"name"`
	Values int    `json:"values"`
}

// Channel is one channel in the words and units of a snapshot, on the grid of the mixer file. Parameters that the
// mixer has not are left out; sends are those that were told.
type ChannelState struct {
	Channel int                `json:"channel"`
	Open    bool               `json:"open"`
	LevelDB cue.Level          `json:"level_db"` // null for off
	Pan     *float64           `json:"pan,omitempty"`
	DelayMS *float64           `json:"delay_ms,omitempty"`
	Sends   []cue.Send         `json:"sends,omitempty"`
	Params  []cue.ParamValue   `json:"params,omitempty"` // the mixer's own
	Wire    map[string]osc.Arg `json:"wire"`             // mute, level, pan, delay as they are on the wire
}

// Address is one value on the wire.
type Address struct {
	Address string  `json:"address"`
	Type    string  `json:"type"`
	Value   osc.Arg `json:"value"`
}

// State returns what the mixer holds now.
func (m *Device) State() DeviceState {
	s := DeviceState{Counts: m.counts, Slots: m.Slots(), Channels: make([]ChannelState, 0, m.mixer.Channels)}
	for _, address := range slices.Sorted(maps.Keys(m.unknown)) {
		s.Unknown = append(s.Unknown, m.unknown[address])
	}
	for channel := 1; channel <= m.mixer.Channels; channel++ {
		c := ChannelState{Channel: channel, Wire: map[string]osc.Arg{}}
		for _, x := range m.mixer.Controls(channel) {
			arg := m.now.value(m.mixer, m.mixer.Address(x), x)
			c.Wire[x.Param] = arg
			v, _ := m.mixer.Value(x.Param, arg)
			switch x.Param {
			case cue.ParamMute:
				c.Open = v == 0
			case cue.ParamLevel:
				c.LevelDB = cue.Level(v)
			case cue.ParamPan:
				c.Pan = &v
			case cue.ParamDelay:
				c.DelayMS = &v
			default: // sends are told by those that were
				c.Params = append(c.Params, cue.ParamValue{Name: x.Param, Value: v})
			}
		}
		s.Channels = append(s.Channels, c)
	}
	for _, address := range slices.Sorted(maps.Keys(m.now.held)) {
		arg := m.now.held[address]
		s.Addresses = append(s.Addresses, Address{address, osc.Message{Args: []osc.Arg{arg}}.Tags(), arg})
		if place, _ := m.mixer.Find(address); place.Param == cue.ParamSend {
			v, _ := m.mixer.Value(place.Param, arg)
			c := &s.Channels[place.Channel-1]
			c.Sends = append(c.Sends, cue.Send{Zone: place.Zone, LevelDB: cue.Level(v)})
		}
	}
	for i := range s.Channels {
		slices.SortFunc(s.Channels[i].Sends, func(a, b cue.Send) int { return cmp.Compare(a.Zone, b.Zone) })
	}
	return s
}

// Encode is the state as JSON, one line for each thing, so that two states can be compared by line.
func (s DeviceState) Encode() ([]byte, error) {
	var b bytes.Buffer
	counts, err := json.Marshal(s.Counts)
	if err != nil {
		return nil, err
	}
	fmt.Fprintf(&b, "{\"counts\": %s", counts)
	for _, err := range []error{lines(&b, "unknown", s.Unknown), lines(&b, "slots", s.Slots),
		lines(&b, "channels", s.Channels), lines(&b, "addresses", s.Addresses)} {
		if err != nil {
			return nil, err
		}
	}
	b.WriteString("}\n")
	return b.Bytes(), nil
}

// lines writes a list under a name, an item a line.
func lines[T any](b *bytes.Buffer, name string, list []T) error {
	fmt.Fprintf(b, ",\n\"%s\": [", name)
	for i, x := range list {
		line, err := json.Marshal(x)
		if err != nil {
			return err
		}
		if i > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(b, "\n  %s", line)
	}
	b.WriteString("]")
	return nil
}
