package music

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"gitlab.com/gomidi/midi/v2/smf"

	"backfield/cue/clock"
)

// midi reads a Standard MIDI File (Standard MIDI Files 1.0, MIDI Manufacturers Association, 1996) of format 0 or 1
// whose time is in divisions of a quarter note.
func (r *reader) midi() *piece {
	if len(r.raw) > midiLimit {
		r.bad(fmt.Sprintf("is %d bytes long, over the limit of %d for MIDI", len(r.raw), midiLimit), "export the tempo, meter and markers with one part")
		return nil
	}
	division, clean, err := frame(r.raw)
	if err != nil {
		r.bad(err.Error(), "export it again")
		return nil
	}
	file, err := parse(clean)
	if err != nil {
		r.bad("cannot be read: "+err.Error(), "export it again")
		return nil
	}
	return r.gather(file, float64(division))
}

// parse is smf.ReadFrom, which panics on some files.
func parse(data []byte) (file *smf.SMF, err error) {
	defer func() {
		if x := recover(); x != nil {
			err = fmt.Errorf("%v", x)
		}
	}()
	return smf.ReadFrom(bytes.NewReader(data))
}

// frame holds a file to the standard before the library sees it, which does not look at the lengths of chunks, fills
// up what is cut off with zeros and makes room for whatever length is claimed. What it returns has the header and
// the tracks only.
func frame(raw []byte) (division int, clean []byte, err error) {
	tracks, left := 0, raw
	var format, claimed int
	for n := 0; len(left) > 0; n++ {
		if len(left) < 8 {
			if n > 0 && len(bytes.Trim(left, "\x00")) == 0 {
				break // padding
			}
			return 0, nil, errors.New("is damaged: it ends within the head of a chunk")
		}
		kind, size := string(left[:4]), int64(binary.BigEndian.Uint32(left[4:8]))
		if size > int64(len(left)-8) {
			return 0, nil, fmt.Errorf("is cut off: its chunk %q claims %d bytes and has %d", kind, size, len(left)-8)
		}
		chunk, body := left[:8+size], left[8:8+size]
		left = left[8+size:]
		switch {
		case n == 0:
			if size < 6 {
				return 0, nil, errors.New("is damaged: its header is too short")
			}
			format, claimed, division = int(binary.BigEndian.Uint16(body)), int(binary.BigEndian.Uint16(body[2:])), int(binary.BigEndian.Uint16(body[4:]))
			switch {
			case format > 1:
				return 0, nil, fmt.Errorf("is a MIDI file of format %d, whose tracks do not share one time; only 0 and 1 are read", format)
			case division&0x8000 != 0:
				return 0, nil, errors.New("counts its time in SMPTE frames, not in notes, so that it has no counts; save it with ticks per quarter note")
			case division == 0:
				return 0, nil, errors.New("is damaged: its header has 0 ticks per quarter note")
			}
			clean = append([]byte("MThd\x00\x00\x00\x06"), body[:6]...)
		case kind == "MTrk":
			tracks++
			if err := walk(body); err != nil {
				return 0, nil, fmt.Errorf("is damaged: track %d %w", tracks, err)
			}
			clean = append(clean, chunk...)
		}
	}
	switch {
	case tracks != claimed || tracks == 0:
		return 0, nil, fmt.Errorf("is damaged: its header claims %d tracks, and it has %d", claimed, tracks)
	case format == 0 && tracks != 1:
		return 0, nil, fmt.Errorf("is damaged: it is of format 0 and has %d tracks", tracks)
	case bytes.Count(clean, []byte{0xFF, 0x51}) > mostTempos:
		return 0, nil, fmt.Errorf("has more than %d tempos", mostTempos)
	}
	return division, clean, nil
}

// walk steps over the events of a track: each within it, an end of track at its end and nowhere before.
func walk(track []byte) error {
	at := 0
	number := func() (v int, err error) { // of variable length: four bytes at most
		for i := range 4 {
			if at >= len(track) {
				break
			}
			b := track[at]
			at++
			if v = v<<7 | int(b&0x7F); b < 0x80 {
				return v, nil
			}
			if i == 3 {
				return 0, fmt.Errorf("has a number that is too long at byte %d", at)
			}
		}
		return 0, errors.New("ends within an event")
	}
	status := byte(0)
	for at < len(track) {
		if _, err := number(); err != nil {
			return err
		}
		if at >= len(track) {
			break
		}
		if track[at] >= 0x80 {
			status = track[at]
			at++
		}
		kind := byte(0)
		switch {
		case status == 0xFF:
			if at >= len(track) {
				return errors.New("ends within an event")
			}
			kind = track[at]
			at++
			fallthrough
		case status == 0xF0, status == 0xF7:
			size, err := number()
			if err != nil {
				return err
			}
			if at += size; at > len(track) {
				return errors.New("ends within an event")
			}
			if status == 0xFF {
				if want, fixed := map[byte]int{0x2F: 0, 0x51: 3, 0x58: 4}[kind]; fixed && size != want {
					return fmt.Errorf("has a meta event of type %02X with %d bytes instead of %d", kind, size, want)
				}
				if kind == 0x58 && (track[at-4] == 0 || track[at-3] > 7) {
					return fmt.Errorf("has a time signature of %d/2^%d", track[at-4], track[at-3])
				}
				if kind == 0x51 && track[at-3]|track[at-2]|track[at-1] == 0 {
					return errors.New("has a tempo of 0 microseconds a quarter note")
				}
				if kind == 0x2F {
					if at != len(track) {
						return fmt.Errorf("goes on for %d bytes after its end", len(track)-at)
					}
					return nil
				}
			}
			status = 0
		case status >= 0xF0:
			return fmt.Errorf("has a byte %02X where an event should begin", status)
		case status < 0x80:
			return fmt.Errorf("has data without a status at byte %d", at)
		case status&0xE0 == 0xC0: // program change, channel pressure
			at++
		default:
			at += 2
		}
		if at > len(track) {
			return errors.New("ends within an event")
		}
	}
	return errors.New("has no end")
}

// silentQuarters is how far the last meter of a file without a note goes on: nothing tells the end of a mere tempo map.
const silentQuarters = 4000

// overhangQuarters is how far a note may sound into a measure that it is not held into: what was played into a program
// is let go of a little late.
const overhangQuarters = 0.5

// gather takes tempo, meter and markers out of all tracks.
func (r *reader) gather(file *smf.SMF, division float64) *piece {
	c := &piece{}
	type sign struct {
		tick  int64
		meter meter
	}
	var meters []sign
	var end, last int64 // of the tracks, and of what tells the measures with notes: where the last begins, or nearly ends
	notes := false
	for n, track := range file.Tracks {
		tick := int64(0)
		sounding := map[[2]uint8]bool{}
		for _, event := range track {
			tick += int64(event.Delta)
			var bpm float64
			var over, under, clicks, fine, channel, key, velocity uint8
			var text string
			switch m := event.Message; {
			case m.GetMetaTempo(&bpm):
				c.tempos = append(c.tempos, tempo{at: float64(tick) / division, quarters: bpm, part: n})
			case m.GetMetaTimeSig(&over, &under, &clicks, &fine):
				if fine != 8 && fine != 0 {
					r.p.Add(oddQuarter(r.at, r.path, fine, over, under))
				}
				meters = append(meters, sign{tick, meter{[]int{int(over)}, int(under)}})
			case m.GetMetaMarker(&text):
				if name := clock.MarkName(latin(text)); name != "" {
					c.marks = append(c.marks, mark{name, float64(tick) / division})
				}
			case m.GetNoteStart(&channel, &key, &velocity):
				last, notes, sounding[[2]uint8{channel, key}] = max(last, tick), true, true
			case m.GetNoteEnd(&channel, &key): // one that was not begun is a program's tidying up
				if on := [2]uint8{channel, key}; sounding[on] {
					last = max(last, tick-int64(overhangQuarters*division))
					delete(sounding, on)
				}
			}
		}
		end = max(end, tick)
	}
	if float64(end)/division > mostQuarters {
		r.bad(fmt.Sprintf("lasts %.0f quarter notes, as no movement does", float64(end)/division), "check that it is the right file")
		return nil
	}
	slices.SortStableFunc(c.tempos, func(a, b tempo) int { return cmp.Compare(a.at, b.at) })
	if !r.agree(c.tempos) {
		return nil
	}
	slices.SortStableFunc(c.marks, func(a, b mark) int { return cmp.Compare(a.at, b.at) })
	c.marks = slices.Compact(c.marks) // some programs write them into every track
	slices.SortStableFunc(meters, func(a, b sign) int { return cmp.Compare(a.tick, b.tick) })

	if len(c.tempos) == 0 || c.tempos[0].at > 0 {
		r.p.Add(noMIDITempo(r.at, r.path))
		c.tempos = append([]tempo{{quarters: 120}}, c.tempos...)
	}
	if len(meters) == 0 || meters[0].tick > 0 { // 4/4, as the standard says
		meters = append([]sign{{0, meter{[]int{4}, 4}}}, meters...)
	}
	ends, most := float64(last)/division, float64(end)/division
	if !notes {
		most += silentQuarters
	}
	for i, x := range meters {
		from, until := float64(x.tick)/division, most
		if i+1 < len(meters) {
			until = float64(meters[i+1].tick) / division
		}
		long := x.meter.quarters()
		for n := 0; ; n++ {
			b := bar{from: from + float64(n)*long, length: long, meter: x.meter}
			if b.from > until-1e-6 && !(i+1 == len(meters) && len(c.bars) == 0) {
				break
			}
			if cut := until - b.from; i+1 < len(meters) && cut < long-1e-6 {
				r.p.Add(cutMeasure(r.at, r.path, len(c.bars)+1, x.meter, meters[i+1].meter, cut))
				b.length = cut
			}
			if c.bars = append(c.bars, b); len(c.bars) > mostMeasures {
				r.bad(fmt.Sprintf("has more than %d measures", mostMeasures), "check that it is the right file")
				return nil
			}
		}
	}
	// The end of track may stand anywhere from the last note on: programs put it there, on the barline, or later.
	final := c.bars[len(c.bars)-1]
	c.most = final.from + final.length
	for _, b := range c.bars {
		if ends > b.from-1e-6 {
			c.least = b.from + b.length
		}
	}
	if !notes {
		c.least, c.most = 0, math.Inf(1)
	}
	return c
}

// latin reads text that is not UTF-8 as Latin 1, in which older programs write.
func latin(text string) string {
	if utf8.ValidString(text) {
		return text
	}
	var b strings.Builder
	for i := range len(text) {
		b.WriteRune(rune(text[i]))
	}
	return b.String()
}

func quarterNotes(n float64) string {
	if n == 1 {
		return "1 quarter note"
	}
	return fmt.Sprintf("%.4g quarter notes", n)
}
