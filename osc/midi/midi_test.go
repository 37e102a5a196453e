package midi_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"backfield/osc/midi"
)

// read reads bytes to the last one, and copies the messages.
func read(r *midi.Cable, raw []byte) (list []midi.MIDIMessage) {
	for _, b := range raw {
		if m, ok := r.Read(b); ok {
			m.Data = slices.Clone(m.Data)
			list = append(list, m)
		}
	}
	return list
}

// The rules of the MIDI 1.0 Detailed Specification 4.2, one by one, with bytes made by hand (from memory).
func TestReader(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name    string
		raw     []byte
		want    string
		dropped int
	}{
		{"note on, note off", []byte{0x90, 60, 100, 0x80, 60, 64},
			"[note 60 on, velocity 100, channel 1 note 60 off, channel 1]", 0},
		{"running status", []byte{0x93, 60, 100, 60, 0, 61, 1},
			"[note 60 on, velocity 100, channel 4 note 60 off, channel 4 note 61 on, velocity 1, channel 4]", 0},
		{"real time inside a message", []byte{0xB0, 0xF8, 64, 0xFE, 127, 0xF8, 64, 0xFA, 0},
			"[timing clock active sensing controller 64 at 127, channel 1 timing clock start controller 64 at 0, channel 1]", 0},
		{"real time does not end running status", []byte{0xC5, 3, 0xF8, 4},
			"[program 3, channel 6 timing clock program 4, channel 6]", 0},
		{"system common ends it", []byte{0x90, 60, 100, 0xF1, 0x05, 60, 100},
			"[note 60 on, velocity 100, channel 1 time code quarter frame]", 2},
		{"a status ends what has begun", []byte{0x90, 60, 0x90, 61, 100},
			"[note 61 on, velocity 100, channel 1]", 2},
		{"system exclusive", []byte{0xF0, 0x7F, 0x7F, 1, 1, 0x61, 2, 3, 4, 0xF7, 60}, "[system exclusive]", 1},
		{"real time inside one", []byte{0xF0, 1, 0xF8, 2, 0xF7}, "[timing clock system exclusive]", 0},
		{"a status ends one", []byte{0xF0, 1, 2, 0x90, 60, 100}, "[note 60 on, velocity 100, channel 1]", 3},
		{"an end alone", []byte{0xF7, 0x90, 60, 100}, "[note 60 on, velocity 100, channel 1]", 1},
		{"undefined", []byte{0xF4, 1, 0xF5, 0xF9, 0xFD, 0xF6}, "[tune request]", 5},
		{"data alone", []byte{1, 2, 3}, "[]", 3},
		{"song position", []byte{0xF2, 8, 1, 0xFB, 0xFC, 0xF3, 5, 0xFF}, "[song position continue stop song select reset]", 0},
		{"two of one byte", []byte{0xD1, 5, 6, 0xE1, 0, 64}, "[channel pressure channel pressure pitch bend]", 0},
	} {
		var r midi.Cable
		if got := fmt.Sprint(read(&r, tc.raw)); got != tc.want {
			t.Errorf("%s: got %s, want %s", tc.name, got, tc.want)
		}
		if r.Dropped != tc.dropped {
			t.Errorf("%s: %d bytes dropped, want %d", tc.name, r.Dropped, tc.dropped)
		}
	}
}

// A long system exclusive is dropped, and what follows is read.
func TestLongExclusive(t *testing.T) {
	t.Parallel()
	var r midi.Cable
	raw := slices.Concat([]byte{0xF0}, bytes.Repeat([]byte{5}, 1<<20), []byte{0xF7, 0x90, 1, 2})
	if got := fmt.Sprint(read(&r, raw)); got != "[note 1 on, velocity 2, channel 1]" || r.Dropped < 1<<20-midi.MostExclusive {
		t.Error(got, r.Dropped)
	}
	raw = slices.Concat([]byte{0xF0}, bytes.Repeat([]byte{5}, midi.MostExclusive), []byte{0xF7})
	if got := read(&r, raw); len(got) != 1 || len(got[0].Data) != midi.MostExclusive {
		t.Error(got)
	}
}

// write is a message's bytes, with the status.
func write(m midi.MIDIMessage) []byte {
	switch m.Status {
	case midi.SystemExclusive:
		return slices.Concat([]byte{m.Status}, m.Data, []byte{0xF7})
	default:
		return append([]byte{m.Status | byte(max(0, m.Channel-1))}, m.Data...)
	}
}

// Random messages, written with and without running status and with real time anywhere, come back as they were.
func TestRoundTrip(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(1, 9))
	statuses := map[byte]int{0x80: 2, 0x90: 2, 0xA0: 2, 0xB0: 2, 0xC0: 1, 0xD0: 1, 0xE0: 2, 0xF0: 5, 0xF1: 1, 0xF2: 2, 0xF3: 1, 0xF6: 0}
	kinds := slices.Sorted(func(yield func(byte) bool) {
		for k := range statuses {
			if !yield(k) {
				return
			}
		}
	})
	var want []midi.MIDIMessage
	var raw []byte
	running := byte(0)
	for range 5000 {
		m := midi.MIDIMessage{Status: kinds[r.IntN(len(kinds))]}
		for range statuses[m.Status] {
			m.Data = append(m.Data, byte(r.IntN(128)))
		}
		if m.Status < 0xF0 {
			m.Channel = 1 + r.IntN(16)
		}
		b := write(m)
		if b[0] == running && r.IntN(2) == 0 {
			b = b[1:]
		} else if running = 0; m.Status < 0xF0 {
			running = b[0]
		}
		for i, x := range b {
			if i > 0 && r.IntN(10) == 0 {
				raw = append(raw, 0xF8)
			}
			raw = append(raw, x)
		}
		want = append(want, m)
	}
	var reader midi.Cable
	got := slices.DeleteFunc(read(&reader, raw), func(m midi.MIDIMessage) bool { return m.Status == 0xF8 })
	if fmt.Sprintf("%v %v", got, reader.Dropped) != fmt.Sprintf("%v 0", want) {
		t.Error("messages differ from those that were written")
	}
	for i := range want {
		if got[i].Channel != want[i].Channel || !bytes.Equal(got[i].Data, want[i].Data) {
			t.Fatalf("message %d is %v, want %v", i, got[i], want[i])
		}
	}
}

func FuzzReader(f *testing.F) {
	f.Add([]byte{0x90, 60, 0xF8, 100, 0xF0, 1, 0xF7})
	f.Fuzz(func(t *testing.T, raw []byte) {
		var r midi.Cable
		n := 0
		for _, b := range raw {
			m, ok := r.Read(b)
			if !ok {
				continue
			}
			n += 1 + len(m.Data)
			if len(m.Data) > midi.MostExclusive || m.Status < 0x80 || m.Channel > 16 {
				t.Fatalf("%+v", m)
			}
			for _, d := range m.Data {
				if d > 127 {
					t.Fatalf("%+v", m)
				}
			}
			_, _ = m.String(), m.Released()
		}
		if r.Dropped > len(raw) {
			t.Fatalf("%d of %d bytes dropped", r.Dropped, len(raw))
		}
		// Whatever came before, a message with its status is read after it.
		if got := read(&r, []byte{0x91, 1, 2}); len(got) != 1 || got[0].Channel != 2 {
			t.Fatalf("after it: %v", got)
		}
	})
}
