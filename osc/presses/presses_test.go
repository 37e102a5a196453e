package presses_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"backfield/layout/source"
	"backfield/osc/midi"
	"backfield/osc/presses"
)

func read(text string) (*presses.Remote, []source.Problem) {
	var p source.Problems
	r := presses.Read(&source.File{Name: "remote.toml", Text: text, Page: "midi"}, &p)
	return r, p.All()
}

const whole = `midi = "/dev/midi1"
[press]
go = "note 60 channel 10"
back = ["controller 65", "note 61"]
hush = "Note 62"
jump = [{ on = "program 3", to = "set 14 + 4" }]
[time]
from = "time code"
rate = "29.97 drop"
begins = ["01:00:00;00", "01:05:10;12"]
`

func TestRead(t *testing.T) {
	t.Parallel()
	r, problems := read(whole)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	var got []string
	for _, x := range r.Presses {
		got = append(got, fmt.Sprintf("%s: %s", x.Pedal, x.Command))
	}
	want := "[note 60 channel 10: go controller 65: back note 61: back note 62: hush program 3: jump set 14 + 4]"
	if fmt.Sprint(got) != want || r.MIDI.V != "/dev/midi1" {
		t.Error(got, r.MIDI.V)
	}
	// 1 h of drop frame is 3 599.9964 s; 5 min 10 s 12 frames more are 9 302 frames, 10 of which are dropped.
	if b := r.Time.Begins; len(b) != 2 || math.Abs(b[0]-3599.9964) > 1e-6 || math.Abs(b[1]-b[0]-9302*1001.0/30000) > 1e-6 {
		t.Error(b)
	}
}

func TestCommand(t *testing.T) {
	t.Parallel()
	r, _ := read(whole)
	for _, tc := range []struct {
		m    midi.MIDIMessage
		want string
	}{
		{midi.MIDIMessage{Status: midi.NoteOn, Channel: 10, Data: []byte{60, 1}}, "go"},
		{midi.MIDIMessage{Status: midi.NoteOn, Channel: 9, Data: []byte{60, 1}}, ""},
		{midi.MIDIMessage{Status: midi.NoteOn, Channel: 10, Data: []byte{60, 0}}, ""},
		{midi.MIDIMessage{Status: midi.NoteOff, Channel: 10, Data: []byte{60, 64}}, ""},
		{midi.MIDIMessage{Status: midi.ControlChange, Channel: 3, Data: []byte{65, 127}}, "back"},
		{midi.MIDIMessage{Status: midi.ControlChange, Channel: 3, Data: []byte{65, 0}}, ""},
		{midi.MIDIMessage{Status: midi.ProgramChange, Channel: 16, Data: []byte{3}}, "jump set 14 + 4"},
		{midi.MIDIMessage{Status: midi.ProgramChange, Channel: 16, Data: []byte{4}}, ""},
		{midi.MIDIMessage{Status: midi.TimingClock}, ""},
	} {
		c, ok := r.Command(tc.m)
		if got := c.String(); ok != (tc.want != "") || ok && got != tc.want {
			t.Errorf("%v: %q, %t; want %q", tc.m, got, ok, tc.want)
		}
	}
}

// Every mistake is told at its place, all at once.
func TestMistakes(t *testing.T) {
	t.Parallel()
	_, problems := read(`[press]
go = ["note 128", "note 60"]
back = ["fader 3", "note 60 channel 17", "note 60 channel 3", 5]
jump = [{ on = "program 1", to = "" }, { on = "program 1", to = "12" }]
[time]
from = "clock"
rate = "25"
begins = [0, 64, 32, "x"]
`)
	var got []string
	for _, x := range problems {
		line, column := x.Span.Position()
		got = append(got, fmt.Sprintf("%d:%d %s", line, column, x.What))
	}
	want := []string{
		`2:7 "note 128": the number of a note goes from 0 to 127`,
		`3:9 "fader 3" is not a MIDI message that can give a command`,
		`3:20 "note 60 channel 17": MIDI channels go from 1 to 16`,
		`3:42 note 60 channel 3 gives two commands, go and back; see remote.toml:2:19`,
		`3:63 `,
		`4:34 "" is no place to jump to`,
		`4:47 program 1 gives two commands`,
		`7:8 only time code has a rate`,
		`8:18 32 is not after the time before it`,
		`8:22 "x" is not a number of quarter notes`,
	}
	if len(got) != len(want) {
		t.Fatalf("%d problems:\n%s", len(got), strings.Join(got, "\n"))
	}
	for _, w := range want {
		found := false
		for _, g := range got {
			found = found || strings.HasPrefix(g, w)
		}
		if !found {
			t.Errorf("missing %q in\n%s", w, strings.Join(got, "\n"))
		}
	}
	for text, want := range map[string]string{
		"[time]\nfrom = \"time code\"\n":                                  "time code needs its rate",
		"[time]\nfrom = \"time code\"\nrate = \"26\"\n":                   `unknown rate "26"`,
		"[time]\nfrom = \"timecode\"\n":                                   `unknown time "timecode"`,
		"[time]\nfrom = \"time code\"\nrate = \"25\"\nbegins = [\"1\"]\n": `"1" is no time code`,
	} {
		if _, problems := read(text); len(problems) != 1 || !strings.HasPrefix(problems[0].What, want) {
			t.Errorf("%q: %v", text, problems)
		}
	}
}

// A show of two movements: the first from 0 s, 60 s long, 120 counts a minute; the second's first count at 70 s.
var twoMovements = presses.ShowTimes{StartsS: []float64{0, 70}, CountS: func(movement int, counts float64) float64 {
	return float64(70*movement) + counts/2
}}

func TestShow(t *testing.T) {
	t.Parallel()
	code, _ := read("[time]\nfrom = \"time code\"\nrate = \"25\"\nbegins = [\"01:00:00:00\", \"01:02:00:00\"]\n")
	clock, _ := read("[time]\nfrom = \"clock\"\nbegins = [4, 200]\n")
	open, _ := read("[time]\nfrom = \"osc\"\n")
	for _, tc := range []struct {
		of              *presses.Remote
		outer, s, rateS float64
		say             string
	}{
		{code, 3590, -10, 1, "00:59:50:00"}, {code, 3600, 0, 1, "01:00:00:00"}, {code, 3660.5, 60.5, 1, "01:01:00:12"},
		{code, 3690, 69.99, 0, "01:01:30:00"}, {code, 3719.96, 69.99, 0, "01:01:59:24"}, {code, 3720, 70, 1, "01:02:00:00"},
		{code, 4720, 1070, 1, "01:18:40:00"},
		{clock, 2, -2, 1, "beat 3"}, {clock, 4, 0, 0.5, "beat 5"}, {clock, 14, 5, 0.5, "beat 15"},
		{clock, 190, 69.99, 0, "beat 191"}, {clock, 202, 71, 0.5, "beat 203"},
		{open, 65.25, 65.25, 1, "1:05.2"}, {open, 700, 700, 1, "11:40.0"},
	} {
		s, rate := tc.of.Time.Show(twoMovements, tc.outer)
		if math.Abs(s-tc.s) > 1e-9 || math.Abs(rate-tc.rateS) > 1e-6 || tc.of.Time.Say(tc.outer) != tc.say {
			t.Errorf("%s %v: %v, rate %v, %q", tc.of.Time.Name(), tc.outer, s, rate, tc.of.Time.Say(tc.outer))
		}
	}
	if open.Time.Name() != "time by OSC" || clock.Time.Name() != "MIDI clock" || code.Time.Name() != "time code" {
		t.Error("names")
	}
}

func FuzzRead(f *testing.F) {
	f.Add(whole)
	f.Add("[time]\nfrom = \"clock\"\nbegins = [0, 1e300]\n")
	f.Fuzz(func(t *testing.T, text string) {
		r, problems := read(text)
		for _, x := range problems {
			if x.What == "" {
				t.Fatal("a problem without words")
			}
		}
		if r.Time != nil && len(problems) == 0 {
			if s, rate := r.Time.Show(twoMovements, 100); math.IsNaN(s) || math.IsNaN(rate) {
				t.Fatal(s, rate)
			}
		}
		for _, x := range r.Presses {
			if again, err := presses.ParsePedal(x.Pedal.String()); err != nil || again != x.Pedal {
				t.Fatal(x.Pedal, err)
			}
		}
		r.Command(midi.MIDIMessage{Status: midi.NoteOn, Channel: 1, Data: []byte{1, 1}})
	})
}
