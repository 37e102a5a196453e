package music

import (
	"encoding/binary"
	"encoding/csv"
	"encoding/hex"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"backfield/cue/clock"
	"backfield/cue/score"
	"backfield/layout/source"
	"backfield/layout/table"
)

// how is what the score says of a file beside its name.
type how struct {
	beat, from, to string
	first          int // -1: unsaid
	pauses         []score.Pause
}

func plain(beat string) how { return how{beat: beat, first: -1} }

// read reads a file as a movement that names it would.
func read(t testing.TB, name string, raw []byte, h how) (score.Movement, []source.Problem) {
	t.Helper()
	line := `tempo = { music = "` + name + `" }`
	file := &source.File{Name: "show.toml", Text: line}
	text := func(v string) table.Text {
		return table.Text{V: v, Set: v != "", Span: source.Span{File: file, Start: 18, End: len(line) - 2}}
	}
	place := func(v string) score.MusicPlace {
		if v == "" {
			return score.MusicPlace{}
		}
		count, fault := clock.ParseShowCount(v)
		if fault != nil {
			t.Fatal(fault)
		}
		return score.MusicPlace{Text: text(v), Count: count}
	}
	m := score.Movement{File: &score.MusicFile{Name: text(name), Beat: text(h.beat), From: place(h.from),
		To: place(h.to), Pauses: h.pauses}}
	m.File.Name.Set = true
	if h.first >= 0 {
		m.File.First = table.Int{V: h.first, Set: true, Span: m.File.Name.Span}
	}
	p := &source.Problems{}
	new(Library).Read(name, raw, 2, &m, p)
	if (m.Music == nil) != (p.Errors() > 0) {
		t.Fatalf("%s: music %v with %d errors", name, m.Music, p.Errors())
	}
	return m, p.All()
}

func file(t testing.TB, name string) []byte {
	t.Helper()
	raw, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

func words(problems []source.Problem) string {
	var b strings.Builder
	for _, x := range problems {
		fmt.Fprintf(&b, "%s: %s: %s; %s [%s]\n", x.Span.Where(), x.Severity, x.What, x.Do, x.Code)
	}
	return b.String()
}

// told compares problems with what they should say: pieces of text in any order, none for no problem.
func told(t *testing.T, name string, problems []source.Problem, want ...string) {
	t.Helper()
	said := words(problems)
	for _, w := range want {
		if !strings.Contains(said, w) {
			t.Errorf("%s: %q is not told:\n%s", name, w, said)
		}
	}
	if len(want) == 0 && said != "" {
		t.Errorf("%s: %s", name, said)
	}
}

// midi builds a file of tracks, each a list of events as hex with the delta first; the end of track is added.
func midi(format, division int, tracks ...string) []byte {
	b := []byte("MThd\x00\x00\x00\x06")
	for _, v := range []int{format, len(tracks), division} {
		b = binary.BigEndian.AppendUint16(b, uint16(v))
	}
	for _, t := range tracks {
		body, err := hex.DecodeString(strings.ReplaceAll(t+" 00 FF 2F 00", " ", ""))
		if err != nil {
			panic(err)
		}
		b = append(b, "MTrk"...)
		b = binary.BigEndian.AppendUint32(b, uint32(len(body)))
		b = append(b, body...)
	}
	return b
}

// vlq is a delta time in hex.
func vlq(n int) string {
	s := fmt.Sprintf("%02X", n&0x7F)
	for n >>= 7; n > 0; n >>= 7 {
		s = fmt.Sprintf("%02X ", n&0x7F|0x80) + s
	}
	return s
}

// Each tempo of the table, as its bytes in a file, is the tempo of the movement; source in
// testdata/published/README.md.
func TestPublishedTempos(t *testing.T) {
	f, err := os.Open("../../testdata/published/midi_tempo.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 10 {
		t.Fatal(len(rows), err)
	}
	number := func(text string) float64 {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	for _, row := range rows[1:] {
		for column, ppq := range map[int]int{4: 480, 5: 960} {
			m, problems := read(t, "x.mid", midi(0, ppq, "00 "+row[2]+" 00 90 3C 40 "+vlq(4*ppq)+" 80 3C 40"),
				plain(""))
			told(t, row[0], problems)
			tempo := clock.NewTempo(m.Changes)
			if got, want := tempo.BPM(0), number(row[3]); math.Abs(got-want) > 1e-9*want+5e-10 {
				t.Errorf("%s: %.9f bpm, published %.9f", row[2], got, want)
			}
			if got, want := tempo.Seconds(1/float64(ppq))*1000, number(row[column]); math.Abs(got-want) > 1e-9 {
				t.Errorf("%s at %d ticks: %.9f ms a tick, published %.9f", row[2], ppq, got, want)
			}
		}
	}
}

// Ticks to seconds over a change of tempo, worked in the notes to the published table: 1,920 ticks of 480 at 500,000 us
// and 1,920 at 416,667 are 3.666668 s. The 6/8 is the example that the standard prints.
func TestWorkedTicks(t *testing.T) {
	m, problems := read(t, "x.mid",
		midi(1, 480, "00 FF 58 04 06 03 24 08 00 FF 51 03 07 A1 20 8F 00 FF 51 03 06 5B 9B", "00 90 3C 40 9E 00 3C 00"),
		plain("quarter"))
	told(t, "worked", problems)
	if got := clock.NewTempo(m.Changes).Seconds(8); math.Abs(got-3.666668) > 1e-9 {
		t.Errorf("%.9f s", got)
	}
	if len(m.Music.Measures) != 3 || m.Music.Measures[1] != (clock.Measure{Number: "2", From: 3, Counts: 3}) {
		t.Errorf("%+v", m.Music.Measures)
	}
}

// The same invented tune as six other programs write it, in both formats; the origin is in
// testdata/README.md. Counts are the beats of its meters; times by hand.
func TestOtherProgramsAgree(t *testing.T) {
	measures := []clock.Measure{{Number: "1", From: 0, Counts: 4}, {Number: "2", From: 4, Counts: 4},
		{Number: "3", From: 8, Counts: 3}, {Number: "4", From: 11, Counts: 2}, {Number: "5", From: 13, Counts: 4},
		{Number: "6", From: 17, Counts: 4}}
	marks := []clock.Mark{{Name: "A", At: 0}, {Name: "B", At: 8}, {Name: "C", At: 17}}
	m3 := 6*60/132. + 2*60/96.
	m4 := m3 + 3*60/96.
	m5 := m4 + 2*60/60.
	seconds := []float64{0, 4 * 60 / 132., m3, m4, m5, m5 + 2, m5 + 4}
	for name, hasMarks := range map[string]bool{
		"ferry-mido-0.mid": true, "ferry-mido-1.mid": true, "ferry-lilypond.mid": true, "ferry-tonejs.mid": false,
		"ferry-webmscore.mid": false, "ferry-abc.mid": false,
		"ferry.musicxml": true, "ferry-webmscore.musicxml": true, "ferry-webmscore.mxl": true,
		"ferry-musicxml-io.musicxml": true,
	} {
		m, problems := read(t, name, file(t, name), plain("meter"))
		told(t, name, problems)
		if m.Music == nil {
			continue
		}
		got := m.Music.Measures
		if name == "ferry-abc.mid" { // it ends its track 26 ticks after the last note
			if m.Music.Most != 25 || len(got) != 7 {
				t.Errorf("%s: %+v", name, m.Music)
			}
			got = got[:6]
		} else if m.Music.Most != 21 {
			t.Errorf("%s: up to %g counts", name, m.Music.Most)
		}
		if m.Music.Least != 21 || !slices.Equal(got, measures) || hasMarks != slices.Equal(m.Music.Marks, marks) ||
			!hasMarks && m.Music.Marks != nil {
			t.Errorf("%s: %+v", name, m.Music)
		}
		tempo := clock.NewTempo(m.Changes)
		for i, want := range seconds {
			at := 21.0
			if i < len(measures) {
				at = measures[i].From
			}
			// The tempos of a MIDI file are whole microseconds, and one program writes them a tick late.
			if s := tempo.Seconds(at); math.Abs(s-want) > 0.0015 ||
				!strings.Contains(name, "abc") && math.Abs(s-want) > 2e-5 {
				t.Errorf("%s: %.6f s at count %g, want %.6f", name, s, at+1, want)
			}
		}
	}
	m, problems := read(t, "writer.mid", file(t, "writer.mid"), plain(""))
	told(t, "writer.mid", problems)
	if m.Music.Least != 12 || !slices.Equal(m.Music.Marks, []clock.Mark{{Name: "A", At: 0}, {Name: "B", At: 8}}) {
		t.Errorf("%+v", m.Music)
	}
}

// A pickup is before the downbeat: MusicXML says that it is one, of a MIDI file the score must.
func TestPickup(t *testing.T) {
	_, problems := read(t, "pickup-webmscore.mid", file(t, "pickup-webmscore.mid"), plain(""))
	told(t, "unsaid", problems, "begins with one measure of 1/4 before 4/4: is it a pickup?; write first = 0",
		"[music-pickup]")
	for name, first := range map[string]int{"pickup-webmscore.mid": 0, "pickup-webmscore.musicxml": -1} {
		m, problems := read(t, name, file(t, name), how{first: first})
		told(t, name, problems)
		want := []clock.Measure{{Number: "1", From: 0, Counts: 4}, {Number: "2", From: 4, Counts: 4},
			{Number: "3", From: 8, Counts: 3}, {Number: "4", From: 11, Counts: 3}}
		if !slices.Equal(m.Music.Measures, want) || m.Music.Least != 14 || m.Music.Most != 14 ||
			math.Abs(m.Music.PickupS-60/132.) > 1e-5 {
			t.Errorf("%s: %+v", name, m.Music)
		}
		if s := clock.NewTempo(m.Changes).Seconds(14); math.Abs(s-(6*60/132.+8*60/96.)) > 2e-5 {
			t.Errorf("%s: %g s", name, s)
		}
	}
	m, problems := read(t, "x.mid", file(t, "pickup-webmscore.mid"), how{first: 1})
	told(t, "no pickup", problems)
	if m.Music.Least != 15 || m.Music.PickupS != 0 {
		t.Errorf("%+v", m.Music)
	}
}

// What the score says about the file: what a count is, which part of it, which pauses.
func TestHow(t *testing.T) {
	ferry := file(t, "ferry.musicxml")
	for _, x := range []struct {
		how
		least   float64
		first   clock.Measure
		changes []clock.Change
	}{
		{plain("quarter"), 22, clock.Measure{Number: "1", From: 0, Counts: 4},
			[]clock.Change{{At: 1, BPM: 132}, {At: 7, BPM: 96}, {At: 12, BPM: 90}, {At: 15, BPM: 120}}},
		{plain("eighth"), 44, clock.Measure{Number: "1", From: 0, Counts: 8},
			[]clock.Change{{At: 1, BPM: 264}, {At: 13, BPM: 192}, {At: 23, BPM: 180}, {At: 29, BPM: 240}}},
		{plain("half"), 11, clock.Measure{Number: "1", From: 0, Counts: 2},
			[]clock.Change{{At: 1, BPM: 66}, {At: 4, BPM: 48}, {At: 6.5, BPM: 45}, {At: 8, BPM: 60}}},
		{how{beat: "meter", first: -1, from: "mark B", to: "m. 6"}, 9, clock.Measure{Number: "3", From: 0, Counts: 3},
			[]clock.Change{{At: 1, BPM: 96}, {At: 4, BPM: 60}, {At: 6, BPM: 120}}},
		{how{beat: "meter", first: -1, from: "m. 2 beat 3", to: "mark C + 2"}, 13,
			clock.Measure{Number: "2", From: -2, Counts: 4},
			[]clock.Change{{At: 1, BPM: 96}, {At: 6, BPM: 60}, {At: 8, BPM: 120}}},
		{how{beat: "meter", first: -1,
			pauses: []score.Pause{{Count: 3, S: 2}, {Place: clock.ShowCount{Measure: "4", Beat: 2}, S: 1.5}}}, 21,
			clock.Measure{Number: "1", From: 0, Counts: 4},
			[]clock.Change{{At: 1, BPM: 132}, {At: 7, BPM: 96}, {At: 12, BPM: 60}, {At: 14, BPM: 120},
				{At: 3, PauseS: 2}, {At: 13, PauseS: 1.5}}},
	} {
		m, problems := read(t, "ferry.musicxml", ferry, x.how)
		told(t, x.beat, problems)
		if m.Music.Least != x.least || m.Music.Measures[0] != x.first || !slices.Equal(m.Changes, x.changes) {
			t.Errorf("%+v: %+v %+v", x.how, m.Music, m.Changes)
		}
	}
	for _, x := range []struct {
		how
		want string
	}{
		{plain(""), `has measures of 6/8 (m. 4): what is one count of the drill there?; write beat = "meter"`},
		{plain("quater"), `unknown beat "quater"; did you mean "quarter"?`},
		{how{beat: "meter", first: 3}, "has measure numbers of its own"},
		{how{beat: "meter", first: -1, from: "m. 9"}, `has no measure "9"; its measures are numbered from 1 to 6`},
		{how{beat: "meter", first: -1, from: "mark c"}, `has no mark "c"; did you mean "C"?`},
		{how{beat: "meter", first: -1, from: "m. 1 - 3"}, "m. 1 - 3 is before the music begins"},
		{how{beat: "meter", first: -1, from: "m. 6 + 4"}, "m. 6 + 4 is at the end of the music, or after it"},
		{how{beat: "meter", first: -1, to: "m. 6 + 5"}, "m. 6 + 5 is 1 count past the end of the music"},
		{how{beat: "meter", first: -1, from: "m. 3", to: "m. 3"}, "the movement ends at m. 3 and begins at m. 3"},
		{how{beat: "meter", first: -1, pauses: []score.Pause{{Count: 99, S: 2}}},
			"this pause is at count 99, and the movement has 21 counts"},
		{how{beat: "meter", first: -1, pauses: []score.Pause{{Place: clock.ShowCount{Measure: "4", Beat: 3}, S: 2}}},
			"m. 4 has no beat 3: it lasts 2 counts; a beat is one count, here a beat of the meter"},
	} {
		m, problems := read(t, "ferry.musicxml", ferry, x.how)
		told(t, x.want, problems, x.want)
		if m.Music != nil {
			t.Errorf("%+v was read", x.how)
		}
	}
}
