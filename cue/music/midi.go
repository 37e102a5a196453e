package music

import (
	"bytes"
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"gitlab.com/gomidi/midi/v2/smf"

	"backfield/cue/clock"
	"backfield/cue/notes"
)

// midi reads a Standard MIDI File (Standard MIDI Files 1.0, MIDI Manufacturers Association, 1996) of format 0 or 1
// whose time is in divisions of a quarter note.
func (r *musicReader) midi() *piece {
	if len(r.raw) > midiLimit {
		r.bad(fmt.Sprintf("is %d bytes long, over the limit of %d for MIDI", len(r.raw), midiLimit),
			"export the tempo, meter and markers with one part")
		return nil
	}
	f, err := frame(r.raw)
	if err != nil {
		r.bad(err.Error(), "export it again")
		return nil
	}
	file, err := parse(f.clean)
	if err != nil {
		r.bad("cannot be read: "+err.Error(), "export it again")
		return nil
	}
	return r.gather(file, float64(f.division))
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

// silentQuarters is how far the last meter of a file without a note goes on: a mere tempo map has no end.
const silentQuarters = 4000

// overhangQuarters is how far a note may sound into a measure that it is not held into: what was played into a program
// is let go of a little late.
const overhangQuarters = 0.5

// tracks is what the tracks of a file say about its time.
type tracks struct {
	*musicReader
	division float64 // ticks of a quarter note
	c        *piece
	meters   []sign
	played   []*notes.TrackNotes
	ends     []int64 // in ticks, of played

	notes     bool
	lastTick  int64 // of the events that set the measures with notes: where the last begins, or nearly ends
	finalTick int64 // where the longest track ends
}

// sign is a time signature and its place.
type sign struct {
	tick  int64
	meter meter
}

func (t *tracks) quarters(tick int64) float64 { return float64(tick) / t.division }

// gather takes tempo, meter and markers out of all tracks.
func (r *musicReader) gather(file *smf.SMF, division float64) *piece {
	t := tracks{musicReader: r, division: division, c: &piece{}}
	for n, track := range file.Tracks {
		t.listen(n, track)
	}
	if last := t.quarters(t.finalTick); last > mostQuarters {
		r.bad(fmt.Sprintf("lasts %.0f quarter notes, which is too long", last), "check that it is the right file")
		return nil
	}
	if !t.order() || !t.bars() {
		return nil
	}
	t.length()
	t.c.parts = notes.Tracks(t.played, t.ends, division)
	return t.c
}

// listen goes through the n-th track.
func (t *tracks) listen(n int, track smf.Track) {
	tick := int64(0)
	played := &notes.TrackNotes{Name: fmt.Sprintf("Track %d", n+1)}
	for _, event := range track {
		tick += int64(event.Delta)
		var bpm float64
		var over, under, clicks, fine, channel, key, velocity uint8
		var text string
		switch m := event.Message; {
		case m.GetMetaTempo(&bpm):
			t.c.tempos = append(t.c.tempos, fileTempo{at: t.quarters(tick), quarters: bpm, part: n})
		case m.GetMetaTimeSig(&over, &under, &clicks, &fine):
			if fine != 8 && fine != 0 {
				t.p.Add(oddQuarter(t.at, t.path, fine, over, under))
			}
			t.meters = append(t.meters, sign{tick, meter{[]int{int(over)}, int(under)}})
		case m.GetMetaMarker(&text):
			if name := clock.MarkName(latin(text)); name != "" {
				t.c.marks = append(t.c.marks, fileMark{name, t.quarters(tick)})
			}
		case m.GetMetaTrackName(&text):
			played.Name = notes.Tidy(latin(text), played.Name)
		case m.GetNoteStart(&channel, &key, &velocity):
			t.notes, t.lastTick = true, max(t.lastTick, tick)
			played.On(tick, channel, key, velocity)
		case m.GetNoteEnd(&channel, &key): // one that was not begun is a program's tidying up
			if played.Off(tick, channel, key) {
				t.lastTick = max(t.lastTick, tick-int64(overhangQuarters*t.division))
			}
		}
	}
	t.finalTick = max(t.finalTick, tick)
	t.played, t.ends = append(t.played, played), append(t.ends, tick)
}

// order sorts what the tracks say, and adds what the standard says about a file that does not begin with a tempo
// and a meter. It is false where two tracks contradict each other.
func (t *tracks) order() bool {
	c := t.c
	slices.SortStableFunc(c.tempos, func(a, b fileTempo) int { return cmp.Compare(a.at, b.at) })
	if !t.agree(c.tempos) {
		return false
	}
	slices.SortStableFunc(c.marks, func(a, b fileMark) int { return cmp.Compare(a.at, b.at) })
	c.marks = slices.Compact(c.marks) // some programs write them into every track
	slices.SortStableFunc(t.meters, func(a, b sign) int { return cmp.Compare(a.tick, b.tick) })
	if len(c.tempos) == 0 || c.tempos[0].at > 0 {
		t.p.Add(noMIDITempo(t.at, t.path))
		c.tempos = append([]fileTempo{{quarters: 120}}, c.tempos...)
	}
	if len(t.meters) == 0 || t.meters[0].tick > 0 { // 4/4, as the standard says
		t.meters = append([]sign{{0, meter{[]int{4}, 4}}}, t.meters...)
	}
	return true
}

// bars lays each meter's bars up to the next meter, and those of the last up to the end.
func (t *tracks) bars() bool {
	c, final := t.c, t.quarters(t.finalTick)
	if !t.notes {
		final += silentQuarters
	}
	for i, x := range t.meters {
		isLast := i+1 == len(t.meters)
		from, until, long := t.quarters(x.tick), final, x.meter.quarters()
		if !isLast {
			until = t.quarters(t.meters[i+1].tick)
		}
		for n := 0; ; n++ {
			b := bar{from: from + float64(n)*long, length: long, meter: x.meter}
			if b.from > until-1e-6 && !(isLast && len(c.bars) == 0) {
				break
			}
			if cut := until - b.from; !isLast && cut < long-1e-6 {
				t.p.Add(cutMeasure(t.at, t.path, len(c.bars)+1, x.meter, t.meters[i+1].meter, cut))
				b.length = cut
			}
			if c.bars = append(c.bars, b); len(c.bars) > mostMeasures {
				t.bad(fmt.Sprintf("has more than %d measures", mostMeasures), "check that it is the right file")
				return false
			}
		}
	}
	return true
}

// length finds how long the piece lasts. The end of track may be anywhere from the last note on: programs put it
// there, on the barline, or later.
func (t *tracks) length() {
	if !t.notes {
		t.c.least, t.c.most = 0, math.Inf(1)
		return
	}
	final := t.c.bars[len(t.c.bars)-1]
	t.c.most = final.from + final.length
	last := t.quarters(t.lastTick)
	for _, b := range t.c.bars {
		if last > b.from-1e-6 {
			t.c.least = b.from + b.length
		}
	}
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
