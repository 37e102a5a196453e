package linecheck

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"
)

// Format is the number of the record's format. A new number is for what an older build would read wrongly.
const Format = 1

// Kinds of entries.
const (
	KindStart     = "start"     // a new check begins
	KindResumed   = "resumed"   // the last one goes on
	KindJudged    = "judged"    // someone judged a pack
	KindFixed     = "fixed"     // a row of tonight.toml
	KindBatteries = "batteries" // a pack got fresh batteries
	KindEnd       = "end"
)

// CheckEntry is one line of the record.
type CheckEntry struct {
	At      time.Time   `json:"at"`
	Kind    string      `json:"kind"`
	Format  int         `json:"format,omitempty"`   // of a start
	Show    string      `json:"show,omitempty"`     // of a start
	Packs   int         `json:"packs,omitempty"`    // of a start: how many there are to check
	LevelDB *float64    `json:"level_db,omitempty"` // of a start
	Pack    string      `json:"pack,omitempty"`
	Channel int         `json:"channel,omitempty"`
	Player  string      `json:"player,omitempty"` // who should wear it
	Section string      `json:"section,omitempty"`
	Result  PackVerdict `json:"result,omitempty"`
	Heard   string      `json:"heard,omitempty"` // of a wrong player: who was heard
	Fix     *Fix        `json:"fix,omitempty"`
	By      string      `json:"by,omitempty"` // the page that it was pressed on; empty for the terminal
}

// Line is the entry as a line of the file.
func (e CheckEntry) Line() ([]byte, error) {
	line, err := json.Marshal(e)
	return append(line, '\n'), err
}

// BadLine is a line of a record that cannot be read.
type BadLine struct {
	Line   int // from 1
	Text   string
	Reason error
}

// Error says which line it is, with its beginning.
func (b *BadLine) Error() string {
	text := []rune(b.Text)
	if len(text) > 60 {
		text = append(text[:57], []rune("...")...)
	}
	return fmt.Sprintf("line %d: %v: %q", b.Line, b.Reason, string(text))
}

// Record is what the file of the checks says. Its entries are all that were ever written, oldest first.
type Record struct {
	Entries []CheckEntry
}

// Read reads a record. A line that cannot be read, such as the last one of a computer that lost power, is left out.
func Read(data []byte) (r Record, bad []*BadLine) {
	for n, line := range bytes.Split(data, []byte("\n")) {
		if line = bytes.TrimSpace(line); len(line) == 0 {
			continue
		}
		e, err := readEntry(line)
		if err != nil {
			bad = append(bad, &BadLine{n + 1, string(line), err})
			continue
		}
		r.Entries = append(r.Entries, e)
	}
	return r, bad
}

func readEntry(line []byte) (e CheckEntry, err error) {
	if err := json.Unmarshal(line, &e); err != nil {
		return e, errors.New("not an entry of a line check")
	}
	switch {
	case e.At.IsZero():
		return e, errors.New(`"at" is missing`)
	case e.Kind == KindStart && e.Format > Format:
		return e, fmt.Errorf("format %d is of a newer backfield", e.Format)
	case e.Kind == KindJudged && (e.Pack == "" || !slices.Contains(results, e.Result)):
		return e, errors.New(`"pack" or "result" is missing`)
	case e.Kind == KindFixed && (e.Fix == nil || !e.Fix.whole()):
		return e, errors.New(`"fix" is missing`)
	}
	return e, nil
}

// Latest is the entries of the latest check; nil if there is none.
func (r Record) Latest() []CheckEntry {
	for i, e := range slices.Backward(r.Entries) {
		if e.Kind == KindStart {
			return r.Entries[i:]
		}
	}
	return nil
}

// At is when the latest check was last written to; zero without one.
func (r Record) At() time.Time {
	list := r.Latest()
	if list == nil {
		return time.Time{}
	}
	return list[len(list)-1].At
}

// Batteries is when each pack last got fresh ones, as far as someone noted it in any check.
func (r Record) Batteries() map[string]time.Time {
	at := map[string]time.Time{}
	for _, e := range r.Entries {
		if e.Kind == KindBatteries {
			at[e.Pack] = e.At
		}
	}
	return at
}

// Judged is the latest judgment of each pack in the latest check, in the order in which the packs were first judged.
func (r Record) Judged() (list []CheckEntry) {
	for _, e := range r.Latest() {
		if e.Kind != KindJudged {
			continue
		}
		if i := slices.IndexFunc(list, func(x CheckEntry) bool { return x.Pack == e.Pack }); i >= 0 {
			list[i] = e
		} else {
			list = append(list, e)
		}
	}
	return list
}

// Fixes are the rows that the latest check has written to tonight.toml.
func (r Record) Fixes() (list []Fix) {
	for _, e := range r.Latest() {
		if e.Kind == KindFixed && !slices.ContainsFunc(list, e.Fix.Same) {
			list = append(list, *e.Fix)
		}
	}
	return list
}

// Failed are the packs that the latest check found bad, and those that it did not get to hear, whether fixed or not.
func (r Record) Failed() (list []CheckEntry) {
	for _, e := range r.Judged() {
		if e.Result.Failed() || e.Result == Skipped {
			list = append(list, e)
		}
	}
	return list
}
