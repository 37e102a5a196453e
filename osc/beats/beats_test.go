package beats_test

import (
	"testing"

	"backfield/osc/beats"
	"backfield/osc/midi"
)

// Start, a quarter note of ticks, stop, a song position of bar 3 in four quarters (2 bars are 32 sixteenths), continue.
func TestCounter(t *testing.T) {
	t.Parallel()
	var c beats.Counter
	add := func(status byte, data ...byte) (beats.Beat, bool) {
		return c.Add(midi.MIDIMessage{Status: status, Data: data})
	}
	if _, ok := add(midi.TimingClock); ok {
		t.Error("a tick before the start is a time")
	}
	add(midi.Start)
	for n := range 25 {
		if b, ok := add(midi.TimingClock); !ok || b.Stands || b.Quarters != float64(n)/24 {
			t.Errorf("tick %d: %+v %t", n, b, ok)
		}
	}
	if b, ok := add(midi.Stop); !ok || !b.Stands || b.Quarters != 25.0/24 {
		t.Errorf("stop: %+v %t", b, ok)
	}
	if b, ok := add(midi.SongPosition, 32, 0); !ok || !b.Stands || b.Quarters != 8 {
		t.Errorf("song position: %+v %t", b, ok)
	}
	add(midi.Continue)
	if b, ok := add(midi.TimingClock); !ok || b.Stands || b.Quarters != 8 {
		t.Errorf("continue: %+v %t", b, ok)
	}
	if _, ok := add(midi.SongPosition, 1, 1); ok { // 129 sixteenths, while it runs: the next tick says it
		t.Error("a song position while it runs stands")
	}
	if b, ok := add(midi.TimingClock); !ok || b.Quarters != 129.0/4 {
		t.Errorf("after a jump: %+v %t", b, ok)
	}
	if _, ok := add(midi.NoteOn, 1, 1); ok {
		t.Error("a note is a time")
	}
}
