// Package journal is the log file that a run writes as it goes: its entries, one JSON object a line; the state that a
// run resumes from; and the report of a run that is over.
package journal

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"time"
)

// Format is the format of the journals that are written. The first ones do not say theirs, which is 1.
const Format = 1

// Entry is one line of a journal. Kind says which of the fields it has:
//
//	start    Format, Title, Text
//	command  Command, Text (what came of it), Step, Rate, State
//	step     Step, PlannedS, Rate, State; Command where one led to it, none where it went by itself
//	sent     Mixer, Sent
//	problem  Text; State where a channel has become manual
//	page     Text (who came in at the page of the run)
//	end      Text
type Entry struct {
	At       time.Time `json:"at"`
	Kind     string    `json:"kind"`
	Format   int       `json:"format,omitempty"`
	Title    string    `json:"title,omitempty"`
	Command  string    `json:"command,omitempty"`
	From     string    `json:"from,omitempty"` // who gave the command, if not the operator
	Step     string    `json:"step,omitempty"`
	PlannedS float64   `json:"planned_s,omitempty"`
	Rate     float64   `json:"rate,omitempty"`
	Mixer    string    `json:"desk,omitempty"`
	Sent     []string  `json:"sent,omitempty"`
	Text     string    `json:"text,omitempty"`
	State    *RunState `json:"state,omitempty"`
}

// Line is the entry as a line of the journal, with its line end.
func (e Entry) Line() []byte {
	line, err := json.Marshal(e)
	if err != nil {
		panic(fmt.Sprintf("journal: an entry that JSON cannot hold: %v", err)) // no field of an entry can be one
	}
	return append(line, '\n')
}

// Read reads a journal. A last line that was cut off while it was written is left out; whole is how many bytes are
// whole lines. The error is for any other line that is no entry, for a newer format, or for a reader that fails.
func Read(r io.Reader) (entries []Entry, whole int64, err error) {
	in := bufio.NewReader(r)
	for n := 1; ; n++ {
		line, err := in.ReadBytes('\n')
		if err == io.EOF {
			return entries, whole, nil // without a line end it was cut off
		}
		if err != nil {
			return entries, whole, err
		}
		var e Entry
		if err := json.Unmarshal(bytes.TrimSpace(line), &e); err != nil {
			return entries, whole, fmt.Errorf("line %d is no entry of a journal: %w", n, err)
		}
		if e.Format > Format {
			return entries, whole, fmt.Errorf(
				"written in format %d by a newer backfield; this one reads up to %d", e.Format, Format,
			)
		}
		entries = append(entries, e)
		whole += int64(len(line))
	}
}

// Last is the state that a journal ends in; ok is false where there is none.
func Last(entries []Entry) (s RunState, ok bool) {
	for i := len(entries) - 1; i >= 0; i-- {
		if entries[i].State != nil {
			return *entries[i].State, true
		}
	}
	return s, false
}
