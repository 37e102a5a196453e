package standby

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"time"
)

// Version is the version of the lines that are sent. Two laptops work together only with the same one.
const Version = 1

// LineKind says what a line is for.
type LineKind string

// The kinds of lines, and the fields that each has in addition to At and Term.
const (
	Hello    LineKind = "hello"    // Version, Nonce: the first line of the laptop that is connected to
	Answer   LineKind = "answer"   // Nonce, Proof: the other laptop knows the key
	Welcome  LineKind = "welcome"  // Proof, Run, Show: it is admitted, and the key is right on this side too
	Refused  LineKind = "refused"  // Text: why it is not admitted
	Have     LineKind = "have"     // N, Mark: how far this laptop has the journal
	Entry    LineKind = "entry"    // N, Mark, Entry; Base where the entries before it are left out
	Beat     LineKind = "beat"     // N, Sending, DeafMS
	TakeOver LineKind = "takeover" // the other laptop is to go silent; Term is the one that begins
	Silent   LineKind = "silent"   // the sender has gone silent for Term
	Ask      LineKind = "ask"      // N: the sender was stopped for a while, and asks who sends
	Reply    LineKind = "reply"    // N, Sending: the answer to that question
	Bye      LineKind = "bye"      // the sender ends its run, and sends nothing more
	Screen   LineKind = "screen"   // Screen: what the mixers have said to the sender
)

// PairLine is one line of the link between the two laptops: a JSON object.
type PairLine struct {
	Kind    LineKind        `json:"kind"`
	Version int             `json:"version,omitempty"`
	Term    int             `json:"term,omitempty"`  // the highest that the sender knows
	AtNS    int64           `json:"at_ns,omitempty"` // the sender's clock, in ns since 1970
	Nonce   []byte          `json:"nonce,omitempty"`
	Proof   []byte          `json:"proof,omitempty"`
	Run     string          `json:"run,omitempty"`  // the id of the run
	Show    string          `json:"show,omitempty"` // a mark of the compiled show and its mixer
	Text    string          `json:"text,omitempty"`
	N       int             `json:"n,omitempty"`
	Mark    uint64          `json:"mark,omitempty"` // a hash over the journal's entries up to N
	Base    bool            `json:"base,omitempty"`
	Sending bool            `json:"sending,omitempty"` // the sender may send to the mixers
	DeafMS  int             `json:"deaf_ms,omitempty"` // how long the sender has heard nothing from the other laptop
	Entry   json.RawMessage `json:"entry,omitempty"`   // of the journal, as the laptop that sends wrote it
	Screen  json.RawMessage `json:"screen,omitempty"`  // for the other's screen, as Show gets it
}

// Bytes is the line with its line end.
func (l PairLine) Bytes() []byte {
	text, err := json.Marshal(l)
	if err != nil {
		panic(fmt.Sprintf("standby: a line that JSON cannot hold: %v", err)) // its entry came out of JSON
	}
	return append(text, '\n')
}

// at is the sender's clock when it sent the line.
func (l PairLine) at() time.Time { return time.Unix(0, l.AtNS) }

const (
	mostGreeting = 1 << 10 // bytes of a line from a laptop that is not admitted yet
	mostLine     = 4 << 20 // bytes of any line: a journal entry that lists every message of a large cue fits
)

// ErrLong is the error of a line that is longer than any line can be.
var ErrLong = errors.New("a line is too long")

// LineReader reads lines from a laptop that need not be one: no more than one line is kept in memory.
type LineReader struct {
	in       *bufio.Reader
	admitted bool
}

// NewReader reads short lines only, until Admitted.
func NewReader(r io.Reader) *LineReader { return &LineReader{in: bufio.NewReader(r)} }

// Admitted lets lines be as long as journal entries need.
func (r *LineReader) Admitted() { r.admitted = true }

// Next reads the next line. After an error the link is of no more use.
func (r *LineReader) Next() (PairLine, error) {
	most := mostGreeting
	if r.admitted {
		most = mostLine
	}
	var text []byte
	for {
		part, err := r.in.ReadSlice('\n')
		if len(text)+len(part) > most {
			return PairLine{}, ErrLong
		}
		if err != nil && !errors.Is(err, bufio.ErrBufferFull) {
			return PairLine{}, err // a line that is cut off is none
		}
		text = append(text, part...)
		if err == nil {
			break
		}
	}
	var l PairLine
	if err := json.Unmarshal(text, &l); err != nil {
		return PairLine{}, fmt.Errorf("a line is not understood: %w", err)
	}
	if l.Term < 0 || l.Term > mostTerm || l.N < 0 || l.DeafMS < 0 {
		return PairLine{}, fmt.Errorf("a line of kind %q has a number out of range", l.Kind)
	}
	return l, nil
}

// mostTerm is far more takeovers than a run can have, and leaves room to count on.
const mostTerm = 1 << 30
