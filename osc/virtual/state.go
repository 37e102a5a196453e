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

// DeviceState is what a simulated mixer holds and has seen, for people and for comparison.
type DeviceState struct {
	Counts    MessageCounts
	Unknown   []Unknown // the first 100 addresses that it does not have, sorted
	Slots     []SceneSlot
	Channels  []ChannelState // all, by number
	Addresses []Address      // received or moved since the start, sorted
}

// Unknown is an address that the mixer does not have, cut at 100 bytes, how often it came, and the last message, cut
// the same way. The extra messages of a cue end up here.
type Unknown struct {
	Address string `json:"address"`
	Count   int    `json:"count"`
	Last    string `json:"last"`
}

// SceneSlot is a stored scene. Values counts the values that it holds.
type SceneSlot struct {
	Slot   int    `json:"slot"`
	Name   string `json:"name"`
	Values int    `json:"values"`
}

// ChannelState is one channel in the words and units of a snapshot, rounded to the steps of mixer.toml. It has the
// parameters that the mixer has, and the sends that were received.
type ChannelState struct {
	Channel int                `json:"channel"`
	Open    bool               `json:"open"`
	LevelDB cue.Level          `json:"level_db"` // null for off
	Pan     *float64           `json:"pan,omitempty"`
	DelayMS *float64           `json:"delay_ms,omitempty"`
	Sends   []cue.Send         `json:"sends,omitempty"`
	Params  []cue.ParamValue   `json:"params,omitempty"` // of the mixer's own
	Wire    map[string]osc.Arg `json:"wire"`             // mute, level, pan, delay and own parameters as OSC values
}

// Address is one OSC value.
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
			default: // sends are added below
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

// Encode returns the state as JSON, one line for each channel and address, so that two states can be compared by line.
func (s DeviceState) Encode() ([]byte, error) {
	var b bytes.Buffer
	counts, err := json.Marshal(s.Counts)
	if err != nil {
		return nil, err
	}
	fmt.Fprintf(&b, "{\"counts\": %s", counts)
	for _, err := range []error{writeLines(&b, "unknown", s.Unknown), writeLines(&b, "slots", s.Slots),
		writeLines(&b, "channels", s.Channels), writeLines(&b, "addresses", s.Addresses)} {
		if err != nil {
			return nil, err
		}
	}
	b.WriteString("}\n")
	return b.Bytes(), nil
}

// writeLines writes a list under a name, one item a line.
func writeLines[T any](b *bytes.Buffer, name string, list []T) error {
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
