// Package journal is the log that a run writes: its entries, one JSON object a line; the state from which a run
// resumes; and the report after a run.
package journal

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
)

// Format is the format of new journals. The first builds wrote none, which means 1.
const Format = 1

// Entry is one line of a journal. Kind says which fields it has:
//
//	start    Format, Title, Text
//	command  Command, Text (the answer), Step, Rate, State
//	step     Step, PlannedS, Rate, State; Command if one led to it, none if it was automatic
//	sent     Mixer, Sent
//	problem  Text; State if a channel became manual
//	page     Text (who came in on the run's page)
//	end      Text
type Entry struct {
	At       time.Time `json:"at"`
	Kind     string    `json:"kind"`
	Format   int       `json:"format,omitempty"`
	Title    string    `json:"title,omitempty"`
	Command  string    `json:"command,omitempty"`
	From     string    `json:"from,omitempty"` // who sent the command; empty for the operator
	Step     string    `json:"step,omitempty"`
	PlannedS float64   `json:"planned_s,omitempty"`
	Rate     float64   `json:"rate,omitempty"`
	Mixer    string    `json:"desk,omitempty"`
	Sent     []string  `json:"sent,omitempty"`
	Text     string    `json:"text,omitempty"`
	State    *RunState `json:"state,omitempty"`
}

// Line is the entry as a line of the journal, with its newline.
func (e Entry) Line() []byte {
	line, err := json.Marshal(e)
	if err != nil {
		panic(fmt.Sprintf("journal: cannot encode an entry: %v", err)) // no field of an entry can cause this
	}
	return append(line, '\n')
}

// Read reads a journal. It leaves out a last line that is incomplete; whole is the length of the complete lines in
// bytes. The error is for any other line that is not an entry, for a later format, or for a reader that fails.
func Read(r io.Reader) (entries []Entry, whole int64, err error) {
	in := bufio.NewReader(r)
	for n := 1; ; n++ {
		line, err := in.ReadBytes('\n')
		if err == io.EOF {
			return entries, whole, nil // a line without its newline is incomplete
		}
		if err != nil {
			return entries, whole, err
		}
		var e Entry
		if err := json.Unmarshal(bytes.TrimSpace(line), &e); err != nil {
			return entries, whole, fmt.Errorf("line %d is not a journal entry: %s", n, damage(err))
		}
		if e.Format > Format {
			return entries, whole, fmt.Errorf(
				"the journal has format %d, from a newer Backfield; this one reads formats up to %d", e.Format, Format,
			)
		}
		entries = append(entries, e)
		whole += int64(len(line))
	}
}

// damage says in plain words why a line is not an entry.
func damage(err error) string {
	if wrong, ok := errors.AsType[*json.UnmarshalTypeError](err); ok {
		if wrong.Field == "" {
			return "it is " + kindWords(wrong.Value)
		}
		return wrong.Field + " cannot be " + kindWords(wrong.Value)
	}
	if wrong, ok := errors.AsType[*time.ParseError](err); ok {
		return strings.Trim(wrong.Value, `"`) + " is not a time"
	}
	if _, ok := errors.AsType[*json.SyntaxError](err); ok {
		return err.Error()
	}
	return "one of its values is not as a run writes it"
}

// kindWords names a kind of JSON value: "array", "bool", "string", "number", or "number 1e999".
func kindWords(kind string) string {
	switch kind {
	case "array":
		return "a list"
	case "bool":
		return "true or false"
	case "string":
		return "a text"
	}
	return "a " + kind
}

// Last is the state at the end of a journal; ok is false if there is none.
func Last(entries []Entry) (s RunState, ok bool) {
	for i := len(entries) - 1; i >= 0; i-- {
		if entries[i].State != nil {
			return *entries[i].State, true
		}
	}
	return s, false
}
