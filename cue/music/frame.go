package music

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
)

// framed is a file whose chunks and events are as the standard has them.
type framed struct {
	format, tracks int    // as the header claims
	division       int    // ticks of a quarter note
	clean          []byte // the header and the tracks only
}

// frame holds a file to the standard before the library sees it, which does not look at the lengths of chunks, fills
// up what is cut off with zeros and allocates whatever length is claimed.
func frame(raw []byte) (f framed, err error) {
	tracks := 0
	for n, left := 0, raw; len(left) > 0; n++ {
		if n > 0 && len(left) < 8 && len(bytes.Trim(left, "\x00")) == 0 {
			break // padding
		}
		kind, chunk, err := nextChunk(left)
		if err != nil {
			return f, err
		}
		left = left[len(chunk):]
		switch {
		case n == 0:
			if err := f.header(chunk[8:]); err != nil {
				return f, err
			}
		case kind == "MTrk":
			tracks++
			if err := walk(chunk[8:]); err != nil {
				return f, fmt.Errorf("is damaged: track %d %w", tracks, err)
			}
			f.clean = append(f.clean, chunk...)
		}
	}
	switch {
	case tracks != f.tracks || tracks == 0:
		return f, fmt.Errorf("is damaged: its header claims %d tracks, and it has %d", f.tracks, tracks)
	case f.format == 0 && tracks != 1:
		return f, fmt.Errorf("is damaged: it has format 0 but %d tracks", tracks)
	case bytes.Count(f.clean, []byte{0xFF, metaTempo}) > mostTempos:
		return f, fmt.Errorf("has more than %d tempos", mostTempos)
	}
	return f, nil
}

// nextChunk is the first chunk of what is left, with its head of 8 bytes.
func nextChunk(left []byte) (kind string, chunk []byte, err error) {
	if len(left) < 8 {
		return "", nil, errors.New("is damaged: it ends within the head of a chunk")
	}
	kind, size := string(left[:4]), int64(binary.BigEndian.Uint32(left[4:]))
	if size > int64(len(left)-8) {
		return "", nil, fmt.Errorf("is cut off: its chunk %q claims %d bytes and has %d", kind, size, len(left)-8)
	}
	return kind, left[:8+size], nil
}

// header reads the first chunk's body.
func (f *framed) header(body []byte) error {
	if len(body) < 6 {
		return errors.New("is damaged: its header is too short")
	}
	word := func(at int) int { return int(binary.BigEndian.Uint16(body[at:])) }
	f.format, f.tracks, f.division = word(0), word(2), word(4)
	f.clean = append([]byte("MThd\x00\x00\x00\x06"), body[:6]...)
	switch {
	case f.format > 1:
		return fmt.Errorf("is a MIDI file of format %d, whose tracks have separate times; Backfield reads only "+
			"formats 0 and 1",
			f.format)
	case f.division&0x8000 != 0:
		return errors.New("counts its time in SMPTE frames, not in notes; " +
			"save it with ticks per quarter note")
	case f.division == 0:
		return errors.New("is damaged: its header has 0 ticks per quarter note")
	}
	return nil
}

// The meta events that matter here (Standard MIDI Files 1.0).
const (
	metaEnd   = 0x2F
	metaTempo = 0x51
	metaMeter = 0x58
)

// metaBytes is how long those are.
var metaBytes = map[byte]int{metaEnd: 0, metaTempo: 3, metaMeter: 4}

var errCut = errors.New("ends within an event")

// walker steps over the bytes of a track.
type walker struct {
	track  []byte
	at     int
	status byte // the running status, 0 for none
}

// walk steps over the events of a track: each within it, an end of track at its end and nowhere before.
func walk(track []byte) error {
	w := walker{track: track}
	for w.at < len(track) {
		if _, err := w.number(); err != nil { // the time since the event before
			return err
		}
		if w.at == len(track) {
			break
		}
		ended, err := w.event()
		switch {
		case err != nil:
			return err
		case ended && w.at < len(track):
			return fmt.Errorf("goes on for %d bytes after its end", len(track)-w.at)
		case ended:
			return nil
		}
	}
	return errors.New("has no end")
}

// number reads a number of variable length: four bytes at most, seven bits of each.
func (w *walker) number() (v int, err error) {
	for i := range 4 {
		b, ok := w.next()
		if !ok {
			return 0, errCut
		}
		if v = v<<7 | int(b&0x7F); b < 0x80 {
			return v, nil
		}
		if i == 3 {
			return 0, fmt.Errorf("has a number that is too long at byte %d", w.at)
		}
	}
	return 0, errCut
}

func (w *walker) next() (b byte, ok bool) {
	if w.at >= len(w.track) {
		return 0, false
	}
	w.at++
	return w.track[w.at-1], true
}

// skip passes over n bytes and returns them.
func (w *walker) skip(n int) ([]byte, error) {
	if n > len(w.track)-w.at {
		return nil, errCut
	}
	w.at += n
	return w.track[w.at-n : w.at], nil
}

// event steps over one event; ended is true at the end of the track.
func (w *walker) event() (ended bool, err error) {
	if w.track[w.at] >= 0x80 {
		w.status, _ = w.next()
	}
	switch status := w.status; {
	case status == 0xFF:
		w.status = 0
		return w.meta()
	case status == 0xF0 || status == 0xF7: // system exclusive
		w.status = 0
		size, err := w.number()
		if err == nil {
			_, err = w.skip(size)
		}
		return false, err
	case status >= 0xF0:
		return false, fmt.Errorf("has a byte %02X where an event should begin", status)
	case status < 0x80:
		return false, fmt.Errorf("has data without a status at byte %d", w.at)
	case status&0xE0 == 0xC0: // program change, channel pressure
		_, err = w.skip(1)
	default:
		_, err = w.skip(2)
	}
	return false, err
}

// meta steps over a meta event and holds those that matter here to their form.
func (w *walker) meta() (ended bool, err error) {
	kind, ok := w.next()
	if !ok {
		return false, errCut
	}
	size, err := w.number()
	if err != nil {
		return false, err
	}
	data, err := w.skip(size)
	if err != nil {
		return false, err
	}
	want, fixed := metaBytes[kind]
	switch {
	case fixed && size != want:
		return false, fmt.Errorf("has a meta event of type %02X with %d bytes instead of %d", kind, size, want)
	case kind == metaMeter && (data[0] == 0 || data[1] > 7):
		return false, fmt.Errorf("has a time signature of %d/2^%d", data[0], data[1])
	case kind == metaTempo && data[0]|data[1]|data[2] == 0:
		return false, errors.New("has a tempo of 0 microseconds a quarter note")
	}
	return kind == metaEnd, nil
}
