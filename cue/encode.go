package cue

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
)

// Format is the version of snapshots.json that this program writes.
const Format = 2

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
			ch.Glide = inMovement(ch.Glide, c.Movement, 0)
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

// inMovement is knots of which those of one movement say another.
func inMovement(knots []Knot, from, to int) []Knot {
	knots = slices.Clone(knots)
	for i := range knots {
		if knots[i].Movement == from {
			knots[i].Movement = to
		}
	}
	return knots
}

// Decode reads a snapshots.json of any format. The error says what is wrong with it.
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
	for i, c := range s.Cues {
		for _, r := range c.Also {
			if err := r.check(); err != nil {
				return nil, fmt.Errorf("cue %d (%q): %w", i+1, c.ID, err)
			}
		}
		for j := range c.Channels {
			if j > 0 && c.Channels[j].Channel <= c.Channels[j-1].Channel {
				return nil, fmt.Errorf("cue %d (%q): channels are not in order", i+1, c.ID)
			}
			c.Channels[j].Glide = inMovement(c.Channels[j].Glide, 0, c.Movement)
		}
	}
	if s.Format == 1 {
		if err := s.fromFirst(data); err != nil {
			return nil, fmt.Errorf("not a snapshots.json: %w", err)
		}
	}
	return &s, nil
}
