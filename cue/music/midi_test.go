package music

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"testing"

	"backfield/cue/clock"
)

const (
	at120    = "00 FF 51 03 07 A1 20 "
	quarters = "00 90 3C 40 83 60 3C 00 00 3C 40 8B 20 3C 00 " // four quarters of 480 with running status
)

func TestMIDI(t *testing.T) {
	long := func(n int) string { return strings.Repeat("00 FF 51 03 07 A1 20 ", n) }
	for name, x := range map[string]struct {
		raw  []byte
		want []string
	}{
		"fine":          {midi(0, 480, at120+quarters), nil},
		"padding":       {append(midi(0, 480, at120+quarters), 0, 0, 0), nil},
		"unknown chunk": {append(midi(0, 480, at120+quarters), "XFIH\x00\x00\x00\x02ab"...), nil},
		"long header": {bytes.Replace(midi(0, 480, at120+quarters), []byte("\x00\x06\x00\x00\x00\x01\x01\xe0"),
			[]byte("\x00\x08\x00\x00\x00\x01\x01\xe0zz"), 1), nil},
		"system exclusive": {midi(0, 480, at120+"00 F0 03 7D 01 F7 00 F7 02 01 02 "+quarters), nil},
		"no tempo": {midi(0, 480, quarters),
			[]string{"warning: x.mid has no tempo at its beginning; Backfield uses 120 quarter notes a minute"}},
		"late tempo":       {midi(0, 480, quarters+at120), []string{"warning: x.mid has no tempo at its beginning"}},
		"twice, one track": {midi(0, 480, "00 FF 51 03 0F 42 40 "+at120+quarters), nil},
		"twice, two": {midi(1, 480, at120, "00 FF 51 03 0F 42 40 "+quarters),
			[]string{"x.mid has two tempos at one point, 120 and 60 quarter notes a minute, 0 quarter notes into it; " +
				"keep one"}},
		"cut meter": {midi(0, 480, at120+quarters+"00 FF 58 04 03 02 18 08 83 60 FF 58 04 04 02 18 08"),
			[]string{"warning: x.mid changes to 4/4 after 1 quarter note of measure 2 of 3/4; it counts as a " +
				"short measure"}},
		"format 2": {midi(2, 480, at120+quarters),
			[]string{"x.mid is a MIDI file of format 2, whose tracks have separate times; Backfield reads only formats 0 and 1"}},
		"SMPTE": {midi(0, 0xE728, at120+quarters),
			[]string{"x.mid counts its time in SMPTE frames, not in notes; save it with " +
				"ticks per quarter note"}},
		"zero division": {midi(0, 0, at120+quarters), []string{"its header has 0 ticks per quarter note"}},
		"zero tempo": {midi(0, 480, "00 FF 51 03 00 00 00 "+quarters),
			[]string{"track 1 has a tempo of 0 microseconds a quarter note"}},
		"fast": {midi(0, 480, "00 FF 51 03 00 10 00 "+quarters),
			[]string{"a tempo of 1.465e+04 counts a minute, with a quarter note as one count; a tempo is 1 to " +
				"1000 counts a minute"}},
		"bad tempo": {midi(0, 480, "00 FF 51 02 00 10 "+quarters),
			[]string{"track 1 has a meta event of type 51 with 2 bytes instead of 3"}},
		"odd 32nds": {midi(0, 480, at120+"00 FF 58 04 04 02 18 04 "+quarters),
			[]string{"warning: x.mid says that 4 32nd notes make a quarter note, at its time signature 4/4; " +
				"Backfield uses 8"}},
		"no meter": {midi(0, 480, at120+"00 FF 58 04 00 02 18 08 "+quarters),
			[]string{"a time signature of 0/2^2"}},
		"odd meter": {midi(0, 480, at120+"00 FF 58 04 04 FF 18 08 "+quarters),
			[]string{"a time signature of 4/2^255"}},
		"no status":        {midi(0, 480, at120+"00 3C 40"), []string{"track 1 has data without a status at byte 8"}},
		"status forgotten": {midi(0, 480, "00 90 3C 40 "+at120+"00 3C 40"), []string{"data without a status"}},
		"realtime": {midi(0, 480, at120+"00 F8 "+quarters),
			[]string{"track 1 has a byte F8 where an event should begin"}},
		"long number":    {midi(0, 480, at120+"FF FF FF FF 7F 90 3C 40"), []string{"a number that is too long"}},
		"event runs out": {midi(0, 480, at120+"00 FF 01 FF FF FF 7F 61"), []string{"track 1 ends within an event"}},
		"huge sysex":     {midi(0, 480, at120+"00 F0 FF FF FF 7F"), []string{"track 1 ends within an event"}},
		"ends early":     {midi(0, 480, at120+"00 FF 2F 00 "+quarters), []string{"goes on for 19 bytes after its end"}},
		"no end": {bytes.TrimSuffix(bytes.Replace(midi(0, 480, at120), []byte("MTrk\x00\x00\x00\x0b"),
			[]byte("MTrk\x00\x00\x00\x07"), 1), []byte("\x00\xff\x2f\x00")), []string{"track 1 has no end"}},
		"cut chunk":    {midi(0, 480, at120+quarters)[:40], []string{`its chunk "MTrk" claims`}},
		"cut head":     {append(midi(0, 480, at120+quarters), "MTr"...), []string{"ends within the head of a chunk"}},
		"only a head":  {[]byte("MThd"), []string{"ends within the head of a chunk"}},
		"short header": {[]byte("MThd\x00\x00\x00\x02\x00\x00"), []string{"its header is too short"}},
		"no track":     {midi(1, 480), []string{"claims 0 tracks, and it has 0"}},
		"lost track": {bytes.Replace(midi(1, 480, at120+quarters), []byte("\x00\x01\x00\x01\x01\xe0"),
			[]byte("\x00\x01\x00\x03\x01\xe0"), 1), []string{"claims 3 tracks, and it has 1"}},
		"two in format 0": {midi(0, 480, at120, quarters), []string{"has format 0 but 2 tracks"}},
		"too long":        {midi(0, 1, at120+"FF FF FF 7F 90 3C 40"), []string{"quarter notes, which is too long"}},
		"many measures": {midi(0, 1, at120+"00 FF 58 04 01 07 18 08 82 B8 00 90 3C 40"),
			[]string{"more than 20000 measures"}},
		"many tempos": {midi(0, 480, long(mostTempos+1)+quarters), []string{"more than 20000 tempos"}},
		"wrapped": {append([]byte("RIFF\x00\x00\x00\x00RMIDdata"), midi(0, 480, at120)...),
			[]string{"in a RIFF wrapper"}},
		"nothing": {nil,
			[]string{"is neither a Standard MIDI File nor MusicXML; export the music as .mid, .musicxml or .mxl"}},
		"too large": {append(midi(0, 480, at120), make([]byte, midiLimit)...),
			[]string{"over the limit of 4194304 for MIDI"}},
	} {
		_, problems := read(t, "x.mid", x.raw, plain(""))
		told(t, name, problems, x.want...)
	}
}

// As many events as fit are read in passable time, and 20,000 tempos as well.
func TestManyEvents(t *testing.T) {
	m, problems := read(t, "x.mid",
		midi(0, 480, strings.Repeat("01 FF 51 03 07 A1 20 01 FF 51 03 07 A1 21 ", mostTempos/2)+quarters), plain(""))
	told(t, "many", problems, "")
	if len(m.Changes) != mostTempos { // the first is that of a file without a tempo
		t.Errorf("%d changes", len(m.Changes))
	}
}

// The largest file, of nothing but notes, is read in acceptable time and memory.
func TestLargeMIDI(t *testing.T) {
	if testing.Short() {
		t.Skip("4 MB of notes")
	}
	raw := midi(0, 480, at120+"00 90 3C 40 "+strings.Repeat("00 3C 40 ", midiLimit/3-50))
	_, problems := read(t, "x.mid", raw, plain(""))
	told(t, "large", problems)
}

// Where the notes end and where the track ends leave a range; a file without a note has no end.
func TestMIDIEnd(t *testing.T) {
	for _, x := range []struct {
		events      string
		least, most float64
	}{
		{quarters, 4, 4},
		{quarters + vlq(1) + " FF 01 01 61 ", 4, 8},
		{quarters + vlq(1920*2) + " FF 01 01 61 ", 4, 12},
		{"00 90 3C 40 " + vlq(480*12) + " 3C 00 ", 12, 12},            // held for three measures
		{"00 90 3C 40 " + vlq(480*4+230) + " 3C 00 ", 4, 8},           // let go of a little late
		{quarters + vlq(480*4) + " 80 3C 40 ", 4, 8},                  // the end of a note that was not begun
		{"00 90 3C 40 00 91 3C 40 " + vlq(480*9) + " 3C 00 ", 12, 12}, // the same key on another channel
		{"", 0, math.Inf(1)},
	} {
		m, problems := read(t, "x.mid", midi(1, 480, at120, x.events), plain(""))
		told(t, x.events, problems)
		if m.Music.Least != x.least || m.Music.Most != x.most {
			t.Errorf("%s: %g to %g", x.events, m.Music.Least, m.Music.Most)
		}
	}
	_, problems := read(t, "x.mid", midi(0, 480, at120), how{first: -1, from: "m. 1 + 99999"})
	told(t, "beyond", problems, "m. 1 + 99999 is at the end of the music")
	m, _ := read(t, "x.mid", midi(0, 480, at120), how{first: 61})
	if at, fault := m.Music.Find(clock.ShowCount{Measure: "83", Beat: 3}); fault != nil || at != 90 {
		t.Errorf("m. 83 at %g (%v)", at, fault)
	}
}

// Markers from all tracks, once each, in Latin 1 as well.
func TestMarkers(t *testing.T) {
	a := "00 FF 06 01 41 8F 00 FF 06 08 44 72 75 6D 20 20 46 FC"
	m, problems := read(t, "x.mid", midi(1, 480, at120+a, a+" "+quarters), plain(""))
	told(t, "markers", problems)
	if want := []clock.Mark{{Name: "A", At: 0}, {Name: "Drum Fü", At: 4}}; !slices.Equal(m.Music.Marks, want) {
		t.Errorf("%+v", m.Music.Marks)
	}
}

func FuzzMIDI(f *testing.F) {
	for _, name := range []string{"ferry-mido-0.mid", "ferry-mido-1.mid", "ferry-lilypond.mid", "ferry-tonejs.mid",
		"ferry-abc.mid", "writer.mid", "pickup-webmscore.mid"} {
		f.Add(file(f, name), "meter", -1)
	}
	f.Add(midi(1, 1, at120+"00 FF 58 04 07 03 18 08", quarters), "quarter", 0)
	f.Fuzz(sane)
}

// sane holds whatever was read to what the clock relies on.
func sane(t *testing.T, raw []byte, beat string, first int) {
	m, problems := read(t, "x", raw, how{beat: beat, first: first})
	for _, x := range problems {
		if x.What == "" || x.Code == "" || x.Span.File == nil || x.Span.End > len(x.Span.File.Text) ||
			x.Span.Start > x.Span.End {
			t.Fatalf("a problem without a place: %+v", x)
		}
	}
	if m.Music == nil {
		return
	}
	if len(m.Music.Measures) == 0 || !(m.Music.Least <= m.Music.Most) || m.Changes[0].At != 1 {
		t.Fatalf("%+v %+v", m.Music, m.Changes)
	}
	for i, x := range m.Music.Measures[1:] {
		if before := m.Music.Measures[i]; math.Abs(before.From+before.Counts-x.From) > 1e-6 || !(x.Counts > 0) {
			t.Fatalf("%+v after %+v", x, before)
		}
	}
	for _, part := range m.Music.Parts {
		before := math.Inf(-1)
		for _, n := range part.Notes {
			if !(n.From >= before-1e-6 && n.To >= n.From-1e-6 && n.Key >= clock.Unpitched-256) || math.IsInf(n.To, 0) ||
				!(math.Abs(n.DynamicsDB) < 20) || n.Desk < 0 || part.Name == "" {
				t.Fatalf("%q: %+v after %g", part.Name, n, before)
			}
			before = n.From
		}
	}
	tempo := clock.NewTempo(m.Changes)
	last := -1.0
	for i := range 50 {
		s := tempo.Seconds(m.Music.Measures[len(m.Music.Measures)-1].From * float64(i) / 49)
		if math.IsNaN(s) || math.IsInf(s, 0) || s < last {
			t.Fatalf("%g s after %g", s, last)
		}
		last = s
	}
}
