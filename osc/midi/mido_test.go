package midi

import (
	"encoding/hex"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
)

// midoNames are the names that python3-mido has for what it writes.
var midoNames = map[byte]string{
	NoteOn: "note_on", NoteOff: "note_off", ControlChange: "control_change", ProgramChange: "program_change",
	PitchBend: "pitchwheel", Pressure: "aftertouch", PolyPressure: "polytouch", SystemExclusive: "sysex",
	SongPosition: "songpos", Start: "start", Continue: "continue", Stop: "stop", TimingClock: "clock",
	ActiveSensing: "active_sensing", TuneRequest: "tune_request", SystemReset: "reset", QuarterFrame: "quarter_frame",
}

// The bytes that an independent library, python3-mido, writes are read as the messages that it has: in one stream, and
// with running status and a clock byte inside every message (testdata/cable.py).
func TestMido(t *testing.T) {
	raw, err := os.ReadFile("testdata/mido.txt")
	if err != nil {
		t.Fatal(err)
	}
	var want []string
	var plain, running []byte
	last := byte(0)
	for line := range strings.Lines(string(raw)) {
		words, digits, _ := strings.Cut(strings.TrimSpace(line), " :")
		data, err := hex.DecodeString(strings.ReplaceAll(digits, " ", ""))
		if err != nil || len(data) == 0 {
			t.Fatalf("%s: %v", line, err)
		}
		want, plain = append(want, words), append(plain, data...)
		short := data
		switch {
		case data[0] < SystemExclusive && data[0] == last:
			short = data[1:]
		case data[0] < TimingClock: // real time leaves running status as it is
			last = data[0]
		}
		for i, b := range short {
			running = append(running, b)
			if i+1 < len(short) {
				running = append(running, TimingClock)
			}
		}
	}
	if len(want) < 25 {
		t.Fatalf("only %d messages", len(want))
	}
	read := func(stream []byte, without string) (list []string) {
		var c Cable
		for _, b := range stream {
			if m, ok := c.Read(b); ok {
				text := strings.TrimSpace(fmt.Sprint(midoNames[m.Status], " ", m.Channel, " ", strings.Trim(fmt.Sprint(m.Data), "[]")))
				if text != without {
					list = append(list, text)
				}
			}
		}
		if c.Dropped > 0 {
			t.Errorf("%d bytes are dropped", c.Dropped)
		}
		return list
	}
	if got := read(plain, ""); !slices.Equal(got, want) {
		t.Errorf("read\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	const clock = "clock 0"
	withoutClock := slices.DeleteFunc(slices.Clone(want), func(x string) bool { return x == clock })
	if got := read(running, clock); !slices.Equal(got, withoutClock) || len(running) <= len(plain) {
		t.Errorf("with running status:\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(withoutClock, "\n"))
	}
}
