package cue

import (
	"bytes"
	"encoding/json"
	"fmt"
)

// Format is the version of snapshots.json that this program writes.
const Format = 1

// formerPanBy is what earlier programs wrote in format 1 for a pan by stands.
const formerPanBy = "stand-fit"

// Encode writes the show as snapshots.json, one line a channel, so that version control shows what changed.
func (s *Show) Encode() ([]byte, error) {
	var b bytes.Buffer
	top := *s
	top.Cues = nil
	head, err := json.Marshal(top)
	if err != nil {
		return nil, err
	}
	head = bytes.TrimSuffix(head, []byte(`"cues":null}`))
	fmt.Fprintf(&b, "%s\"cues\": [", head)
	for i, c := range s.Cues {
		if i > 0 {
			b.WriteByte(',')
		}
		channels := c.Channels
		c.Channels = nil
		line, err := json.Marshal(c)
		if err != nil {
			return nil, err
		}
		fmt.Fprintf(&b, "\n%s\"channels\": [", bytes.TrimSuffix(line, []byte(`"channels":null}`)))
		for j, ch := range channels {
			if j > 0 {
				b.WriteByte(',')
			}
			if ch.Notes == nil {
				ch.Notes = []string{}
			}
			line, err := json.Marshal(ch)
			if err != nil {
				return nil, err
			}
			fmt.Fprintf(&b, "\n  %s", line)
		}
		b.WriteString("\n]}")
	}
	b.WriteString("\n]}\n")
	return b.Bytes(), nil
}

// Decode reads a snapshots.json. The error says what is wrong with it.
func Decode(data []byte) (*Show, error) {
	var s Show
	if err := json.Unmarshal(data, &s); err != nil {
		return nil, fmt.Errorf("not a snapshots.json: %w", err)
	}
	switch {
	case s.Format < 1:
		return nil, fmt.Errorf("not a snapshots.json: it has no \"format\"")
	case s.Format > Format:
		return nil, fmt.Errorf("written in format %d by a newer Backfield; this one reads up to %d, "+
			"so update Backfield or compile the show again", s.Format, Format)
	}
	if s.Rig.Delay.PanBy == formerPanBy {
		s.Rig.Delay.PanBy = "stands"
	}
	for i, c := range s.Cues {
		for _, r := range c.Also {
			if err := r.check(); err != nil {
				return nil, fmt.Errorf("cue %d (%q): %w", i+1, c.ID, err)
			}
		}
		for j := 1; j < len(c.Channels); j++ {
			if c.Channels[j].Channel <= c.Channels[j-1].Channel {
				return nil, fmt.Errorf("cue %d (%q): channels are not in order", i+1, c.ID)
			}
		}
	}
	return &s, nil
}
