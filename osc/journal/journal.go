// Package journal is the log that a run writes: its entries, one JSON object a line, each with a checksum; the state
// from which a run resumes; and the report after a run.
package journal

import (
	"encoding/json"
	"fmt"
	"hash/crc32"
	"slices"
	"time"
)

// Format is the format of new journals. Format 1 had no checksums and older field names (see first.go). Builds before
// that wrote no format, which means 1.
const Format = 2

// Entry is one line of a journal. Kind says which fields it has:
//
//	start    Format, Run, PID, Host, ZoneS, Title, Show, Rehearsal, Text
//	command  Command, Text (the answer), Step, Rate, State
//	step     Step, PlannedS, Rate, State; Command if one led to it, none if it was automatic
//	sent     Mixer, Sent
//	problem  Text; State if a channel became manual
//	page     Text (who came in on the run's page), or Reach, or Linked
//	end      Text
type Entry struct {
	At     time.Time `json:"at"` // in UTC in the file; Read returns it on the clock of where the run was
	Kind   string    `json:"kind"`
	Format int       `json:"format,omitempty"`
	Run    string    `json:"run,omitempty"`    // the run's id, the same each time that it is resumed
	PID    int       `json:"pid,omitempty"`    // of the process that writes from here on
	Host   string    `json:"host,omitempty"`   // the computer that it runs on
	ZoneS  int       `json:"zone_s,omitempty"` // seconds by which clocks there are ahead of UTC
	Title  string    `json:"title,omitempty"`
	Show   string    `json:"show,omitempty"` // a mark of all that the show sends; earlier versions wrote none
	// Rehearsal is a run that no real mixer heard. Earlier versions, which wrote no Show, did not say so.
	Rehearsal bool `json:"rehearsal,omitempty"`
	// Reach is where commands come in, other than at the terminal, such as "by OSC at udp://192.0.2.7:9100".
	Reach []string `json:"reach,omitempty"`
	// Linked says that another laptop was connected, as one of two that run the show. It may have taken over since.
	Linked   bool      `json:"linked,omitempty"`
	Command  string    `json:"command,omitempty"`
	From     string    `json:"from,omitempty"` // who sent the command; empty for the operator
	Step     string    `json:"step,omitempty"`
	PlannedS float64   `json:"planned_s,omitempty"`
	Rate     float64   `json:"rate,omitempty"`
	Mixer    string    `json:"mixer,omitempty"`
	Sent     []string  `json:"sent,omitempty"`
	Text     string    `json:"text,omitempty"`
	State    *RunState `json:"state,omitempty"`
}

// kinds lists the kinds of entries. "state" is a state without its history, as a second laptop may get it.
var kinds = []string{"start", "command", "step", "sent", "problem", "page", "end", "state"}

// The checksum of a line is its last field, over all that comes before it: CRC-32C (Castagnoli), in hexadecimal.
const (
	beforeSum = `,"crc":"`
	afterSum  = `"}`
	sumLength = len(beforeSum) + 8 + len(afterSum)
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// Line is the entry as a line of the journal, with its checksum and its newline. Its times are in UTC.
func (e Entry) Line() []byte {
	e.At = e.At.UTC()
	if e.State != nil {
		state := e.State.WithTimes(time.Time.UTC)
		e.State = &state
	}
	line, err := json.Marshal(e)
	if err != nil {
		panic(fmt.Sprintf("journal: cannot encode an entry: %v", err)) // no field of an entry can cause this
	}
	line = line[:len(line)-1] // the checksum is inside the object's closing brace
	return fmt.Appendf(line, "%s%08x%s\n", beforeSum, crc32.Checksum(line, castagnoli), afterSum)
}

// Last is the state at the end of a journal; ok is false if there is none.
func Last(entries []Entry) (s RunState, ok bool) {
	for _, e := range slices.Backward(entries) {
		if e.State != nil {
			return *e.State, true
		}
	}
	return s, false
}

// LastStart is the entry of the last start; ok is false if there is none.
func LastStart(entries []Entry) (start Entry, ok bool) {
	for _, e := range slices.Backward(entries) {
		if e.Kind == "start" {
			return e, true
		}
	}
	return start, false
}
