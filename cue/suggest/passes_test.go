package suggest

import (
	"fmt"
	"strings"
	"testing"

	"backfield/cue/clock"
	"backfield/cue/parts"
)

// The melody passes on from A to B, or B joins, while both play on. The tunes are our own.
func TestPasses(t *testing.T) {
	tune := []float64{67, 69, 71, 72, 74, 72, 71, 69, 67, 64, 66, 67, 69, 71, 66, 62}
	third := []float64{64, 65, 67, 69, 71, 69, 67, 65, 64, 60, 62, 64, 65, 67, 62, 59}
	held := []float64{60, 0, 0, 0}
	call, answer := append(tune[:8:8], held...), append(held[:4:4], held...)
	call, answer = append(call, held...), append(answer, tune[:8]...)
	for name, x := range map[string]struct {
		a, b [][]float64 // keys of a count each, again and again for 16 counts; 0 holds the one before
		want string
	}{
		"passes on": {[][]float64{tune, tune, held, held}, [][]float64{held, held, tune, tune},
			"1:1 A, 1:m. 9 B, 1:m. 17"},
		"passes on after four measures": {[][]float64{tune, held}, [][]float64{held, tune}, "1:1 A, 1:m. 5 B, 1:m. 9"},
		"and back":                      {[][]float64{tune, held, tune}, [][]float64{held, tune, held}, "1:1 A, 1:m. 5 B, 1:m. 9 A, 1:m. 13"},
		"the other joins": {[][]float64{tune, tune}, [][]float64{held, third},
			"1:1 A, 1:m. 5 A B, 1:m. 9"},
		"in turns of two measures": {[][]float64{call, call}, [][]float64{answer, answer}, "1:1 A B, 1:m. 9"},
		"stays":                    {[][]float64{tune, tune, tune}, [][]float64{held, held, held}, "1:1 A, 1:m. 13"},
	} {
		part := func(name string, phrases [][]float64) clock.MusicPart {
			p := clock.MusicPart{Name: name}
			for i, keys := range phrases {
				for k := range 16 {
					at := float64(16*i + k)
					if key := keys[k%len(keys)]; key > 0 {
						p.Notes = append(p.Notes, clock.PlayedNote{From: at, To: at + 1, Key: key})
						continue
					}
					p.Notes[len(p.Notes)-1].To++
				}
			}
			return p
		}
		r, _ := shown(t, "[mix]\nfeature = 0\nfull = -3\nsupport = -9\n", []clock.MusicPart{part("A", x.a), part("B", x.b)})
		var got []string
		for _, c := range FirstScore(r) {
			text := placed(r, c.At)
			for _, o := range c.Open {
				if o.Front {
					text += " " + o.Player
				}
			}
			got = append(got, text)
		}
		if text := strings.Join(got, ", "); text != x.want {
			t.Errorf("%s: got %s, want %s", name, text, x.want)
		}
	}
}

// The highest note of those who divide is their line, and a line an octave or more below the lead shares no rhythm.
func TestMelodyOfChords(t *testing.T) {
	tune := []float64{67, 69, 71, 72, 74, 72, 71, 69}
	for i, x := range []struct {
		voices []*playedLine
		want   string
	}{
		{[]*playedLine{marked(0, 1, tune...), divided(4, 60, 53, 64, 57)}, "[true false]"},
		{[]*playedLine{marked(0, 1, tune...), marked(0, 1, 50, 57, 48, 55, 52, 45, 53, 48), marked(0, 4, 40)}, "[true false false]"},
		// Two are louder, and one of them has the melody.
		{[]*playedLine{marked(0, 1, tune...), marked(0, 4, 60, 64), marked(-8, 4, 55), marked(-8, 4, 52)}, "[true false false false]"},
	} {
		front, _ := inFront(make([]FirstOpening, len(x.voices)), x.voices)
		if got := fmt.Sprint(front); got != x.want {
			t.Errorf("%d: got %s, want %s", i, got, x.want)
		}
	}
}

// divided is a line of two desks: pairs of keys that begin together.
func divided(counts float64, keys ...float64) *playedLine {
	var lane parts.PlayerLane
	for k := 0; counts*float64(k) < 16; k++ {
		at := counts * float64(k)
		for _, key := range []float64{keys[2*k%len(keys)+1], keys[2*k%len(keys)]} {
			lane.Notes = append(lane.Notes, clock.PlayedNote{From: at, To: at + counts, Key: key})
		}
	}
	lane.Runs = []parts.PlayedRun{{To: 16}}
	return newPlayedLine(&lane, 0, 16)
}
