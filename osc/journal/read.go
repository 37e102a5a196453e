package journal

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"
)

// What a journal may have. The entries of a three-hour show take some 10 MB.
const (
	MostBytes   = 64 << 20 // of a journal
	mostLine    = 2 << 20  // bytes of a line
	mostEntries = 200_000
	mostLines   = 400_000
	mostDamaged = 50_000 // lines that have no entry
	mostSkipped = 100    // places that are listed; the last one then covers all others
)

// Skipped is a place in a journal that has no readable entry: lines that are damaged, cut off, or not entries.
type Skipped struct {
	Line  int   // the first, from 1
	Lines int   // how many, 1 or more
	Bytes int64 // how long they are
}

// String is the place in words.
func (s Skipped) String() string {
	if s.Lines == 1 {
		return fmt.Sprintf("skipped line %d (damaged, %d bytes)", s.Line, s.Bytes)
	}
	return fmt.Sprintf("skipped lines %d to %d (damaged, %d bytes)", s.Line, s.Line+s.Lines-1, s.Bytes)
}

// Read reads a journal of any format. A line that is damaged or cut off is skipped, and reading goes on with the next
// one that is whole. The error is for a file that has no entry at all or more than a journal can have, for a later
// format, or for a reader that fails.
func Read(r io.Reader) (entries []Entry, skipped []Skipped, err error) {
	d := lineDecoder{in: bufio.NewReaderSize(io.LimitReader(r, MostBytes+1), 1<<16)}
	for n := 1; ; n++ {
		line, length, err := d.line()
		if err != nil && err != io.EOF {
			return nil, nil, err
		}
		if d.read += length; d.read > MostBytes || n > mostLines {
			return nil, nil, fmt.Errorf("it is longer than %d MB or %d lines, more than a journal can be",
				MostBytes>>20, mostLines)
		}
		if length > 0 {
			if err := d.take(line, n, length); err != nil {
				return nil, nil, err
			}
		}
		if err == io.EOF {
			break
		}
	}
	d.giveUp()
	if len(d.entries) == 0 && len(d.skipped) > 0 {
		return nil, nil, fmt.Errorf("line %d is not a journal entry: %s", d.skipped[0].Line, d.damage)
	}
	return d.entries, d.skipped, nil
}

// lineDecoder is a journal that is being read.
type lineDecoder struct {
	in      *bufio.Reader
	read    int64
	entries []Entry
	skipped []Skipped
	torn    []tornLine     // the last lines that have no entry, in order
	damaged int            // how many lines were skipped
	damage  string         // what is wrong with the first of them
	sums    bool           // a line with a checksum has come, so every later one must have it
	zone    *time.Location // of the last start; nil before the first with a zone
}

// line reads the next line. Of a line that is too long it returns the length alone.
func (d *lineDecoder) line() (line []byte, length int64, err error) {
	for {
		part, err := d.in.ReadSlice('\n')
		if length += int64(len(part)); length <= mostLine {
			line = append(line, part...)
		} else {
			line = nil
		}
		if err != bufio.ErrBufferFull {
			return line, length, err
		}
	}
}

// take adds the entry of a line, or notes that the line is skipped.
func (d *lineDecoder) take(line []byte, n int, length int64) error {
	text := bytes.TrimSpace(line)
	if line != nil && len(text) == 0 {
		return nil // an empty line costs nothing: a writer begins with one after a line that was cut off
	}
	e, ok := d.entry(text)
	if ok {
		d.writtenAgain(text)
	} else {
		// A line that was cut off has no newline: the entry after it is on the same line, and can be whole.
		if at := bytes.LastIndex(text, []byte(`{"at":"`)); at > 0 {
			if e, ok = d.entry(text[at:]); ok {
				length = int64(at)
			}
		}
		if d.damage == "" {
			d.damage = damageOf(text)
		}
		if len(d.torn) == mostTorn {
			d.giveUp()
		}
		d.torn = append(d.torn, tornLine{n, length, len(text), crc32.Checksum(text, castagnoli)})
		if !bytes.HasSuffix(line, []byte(AfterTorn)) {
			d.giveUp()
		}
		if d.damaged++; d.damaged > mostDamaged {
			return fmt.Errorf("more than %d of its lines are not journal entries", mostDamaged)
		}
	}
	if !ok {
		return nil
	}
	if e.Format > Format {
		return fmt.Errorf("the journal has format %d, from a newer Backfield; this one reads formats up to %d",
			e.Format, Format)
	}
	if len(d.entries) == mostEntries {
		return fmt.Errorf("it has more than %d entries, more than a journal can have", mostEntries)
	}
	if e.Kind == "start" && e.ZoneS != 0 {
		d.zone = time.FixedZone("", e.ZoneS)
	}
	if d.zone != nil {
		e.At = e.At.In(d.zone)
	}
	d.entries = append(d.entries, e)
	return nil
}

// AfterTorn is what a writer puts after a part of a line, on a disk that was full, before it writes the whole line. The
// part alone does not show that nothing is lost: many lines begin alike.
const AfterTorn = " \n"

// tornLine is a line that has no entry, and that may have been written again.
type tornLine struct {
	n      int    // its number
	length int64  // in the file
	part   int    // bytes without spaces around them
	sum    uint32 // over these
}

// mostTorn is how many times in a row a full disk may take a part of a line. The writer tries once a second; but for each of
// them the line that follows is read once more.
const mostTorn = 64

// writtenAgain takes a whole line: the torn ones before it that it begins with cost nothing. The others are skipped.
func (d *lineDecoder) writtenAgain(whole []byte) {
	d.torn = slices.DeleteFunc(d.torn, func(t tornLine) bool {
		again := t.part <= len(whole) && crc32.Checksum(whole[:t.part], castagnoli) == t.sum
		if again {
			d.damaged--
		}
		return again
	})
	d.giveUp()
}

// giveUp skips the lines that were not written again.
func (d *lineDecoder) giveUp() {
	for _, t := range d.torn {
		d.skip(t.n, t.length)
	}
	d.torn = d.torn[:0]
}

// skip notes a line that has no entry.
func (d *lineDecoder) skip(n int, length int64) {
	if k := len(d.skipped); k > 0 && (d.skipped[k-1].Line+d.skipped[k-1].Lines == n || k == mostSkipped) {
		last := &d.skipped[k-1]
		last.Lines = n - last.Line + 1
		last.Bytes += length
		return
	}
	d.skipped = append(d.skipped, Skipped{Line: n, Lines: 1, Bytes: length})
}

// entry decodes a line. ok is false for one that is damaged, or that no run can have written.
func (d *lineDecoder) entry(text []byte) (e Entry, ok bool) {
	switch {
	case checksummed(text):
		d.sums = true
		if json.Unmarshal(text, &e) != nil {
			return e, false
		}
	case d.sums || hasSum(text):
		return e, false
	default:
		var first firstEntry
		if json.Unmarshal(text, &first) != nil {
			return e, false
		}
		e = first.entry()
	}
	if e.State != nil {
		state := e.State.withoutWaypoints()
		e.State = &state
	}
	return e, e.plausible()
}

// hasSum reports whether a line ends with a checksum, right or wrong.
func hasSum(text []byte) bool {
	n := len(text) - sumLength
	return n > 0 && bytes.HasPrefix(text[n:], []byte(beforeSum)) && bytes.HasSuffix(text, []byte(afterSum))
}

// checksummed reports whether a line ends with a checksum that is right.
func checksummed(text []byte) bool {
	if !hasSum(text) {
		return false
	}
	n := len(text) - sumLength
	sum, err := strconv.ParseUint(string(text[n+len(beforeSum):len(text)-len(afterSum)]), 16, 32)
	return err == nil && crc32.Checksum(text[:n], castagnoli) == uint32(sum)
}

// Lengths that no run reaches, so that a line cannot stand for far more memory than it is long.
const (
	mostChannels = 4096 // the most that a mixer may have, several times over
	mostPast     = 64
	mostNudges   = 4096
	mostZoneS    = 15 * 3600
)

// plausible reports whether a run can have written an entry.
func (e Entry) plausible() bool {
	if !slices.Contains(kinds, e.Kind) || e.ZoneS < -mostZoneS || e.ZoneS > mostZoneS {
		return false
	}
	if y := e.At.Year(); y < 2000 && !e.At.IsZero() || y > 9000 {
		return false
	}
	s := e.State
	if s == nil {
		return true
	}
	for i, c := range s.Holds { // the writer sorts them
		if c.Channel < 1 || i > 0 && c.Channel <= s.Holds[i-1].Channel {
			return false
		}
	}
	for _, p := range s.Past {
		if len(p.Presses) > mostPast || len(p.Sent) > mostChannels {
			return false
		}
	}
	return len(s.Presses) <= mostPast && len(s.Past) <= mostPast && len(s.Nudges) <= mostNudges &&
		len(s.Holds) <= mostChannels && len(s.Manual) <= mostChannels*mostPast && len(s.Swaps) <= mostChannels &&
		len(s.OldSpares) <= mostChannels
}

// damageOf says in plain words why a line is not an entry, as far as its JSON shows.
func damageOf(text []byte) string {
	var e Entry
	if err := json.Unmarshal(text, &e); err != nil {
		return damage(err)
	}
	return "no run writes such a line"
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
