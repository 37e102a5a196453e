package suggest

import (
	"math"
	"strings"
	"testing"

	"backfield/cue/clock"
	"backfield/cue/parts"
)

// played is a line of 16 counts: keys, each so many counts long, again and again.
func played(counts float64, keys ...float64) *playedLine { return marked(0, counts, keys...) }

// marked is such a line, so much louder than forte.
func marked(db, counts float64, keys ...float64) *playedLine {
	var lane parts.PlayerLane
	for k, at := 0, 0.0; at < 16; k, at = k+1, at+counts {
		if key := keys[k%len(keys)]; key != 0 {
			lane.Notes = append(lane.Notes, clock.PlayedNote{From: at, To: at + counts, Key: key, DynamicsDB: db})
		}
	}
	lane.Runs = []parts.PlayedRun{{To: 16, LoudDB: db}}
	return newPlayedLine(&lane, 0, 16)
}

func up(keys []float64, by float64) (list []float64) {
	for _, key := range keys {
		list = append(list, key+by)
	}
	return list
}

// Worked examples for each rule. The tune and the second one are our own.
func TestMelody(t *testing.T) {
	tune := []float64{67, 69, 71, 72, 74, 72, 71, 69, 67, 64, 66, 67, 69, 71, 66, 62} // 15 changes in 16 counts
	other := []float64{64, 62, 60, 62, 64, 65, 67, 65, 64, 60, 62, 59, 60, 65, 62, 60, 59, 62, 64, 65, 60}
	third := []float64{64, 65, 67, 69, 71, 69, 67, 65, 64, 60, 62, 64, 65, 67, 62, 59}
	figure := []float64{60, 64, 67, 64} // every 2 counts in eighths
	rich := []float64{67, 69, 71, 72, 74, 76, 74, 72, 71, 69, 65, 62, 64, 60, 71, 67, 77, 74, 72, 70, 69}
	gaps := []float64{64, 65, 0, 69, 0, 69, 67, 0, 64, 0, 62, 64, 0, 67, 0, 59} // of the third
	low := up(tune, -24)
	for name, x := range map[string]struct {
		voices []*playedLine
		want   string // who is in front, by letter
	}{
		"over a held note":             {[]*playedLine{played(4, 60), played(1, tune...)}, "B"},
		"over a repeated note":         {[]*playedLine{played(1, tune...), played(0.5, 76)}, "A"},
		"a second in thirds":           {[]*playedLine{played(1, tune...), played(1, third...), played(4, 60)}, "AB"},
		"an octave below":              {[]*playedLine{played(1, tune...), played(1, up(tune, -12)...), played(4, 60)}, "AB"},
		"the same rhythm":              {[]*playedLine{played(1, tune...), played(1, other...), played(4, 60)}, "AB"},
		"over a bass line":             {[]*playedLine{played(1, tune...), played(1, other[2:]...), played(0.75, low...)}, "AB"},
		"a bass line under long notes": {[]*playedLine{played(4, 60), played(4, 64), played(1, low...)}, ""},
		"two that move":                {[]*playedLine{played(1, tune...), played(0.75, other...), played(4, 60)}, ""},
		"accompanied from far below":   {[]*playedLine{played(1, up(tune, 12)...), played(0.75, other...)}, "A"},
		"over a bass line close below": {[]*playedLine{played(1, up(tune, -8)...), played(0.75, up(other, -13)...)}, "A"},
		"now and then in thirds":       {[]*playedLine{played(1, tune...), played(1, gaps...), played(4, 60)}, "AB"},
		"over a figure":                {[]*playedLine{played(1, tune...), played(0.5, figure...), played(4, 60)}, "A"},
		"under a figure":               {[]*playedLine{played(1, tune...), played(0.5, up(figure, 12)...), played(4, 60)}, "A"},
		"a figure alone moves":         {[]*playedLine{played(0.5, 60, 64, 67, 69), played(4, 60)}, "A"},
		"three pitches":                {[]*playedLine{played(0.5, 60, 64, 67), played(4, 60)}, ""},
		"slow":                         {[]*playedLine{played(2, tune...), played(4, 60)}, ""},
		"softer than who repeats":      {[]*playedLine{played(1, tune...), marked(5, 1, 60)}, ""},
		"beside a slow line doubled":   {[]*playedLine{played(1, tune...), played(4, 60, 65, 62), played(4, 72, 77, 74)}, ""},
		"under a slow line":            {[]*playedLine{played(1, tune...), played(4, 72, 77, 74, 70)}, ""},
		"under a slow line of a few":   {[]*playedLine{played(1, tune...), played(4, 72, 77, 74, 72)}, "A"},
		"over a slow line":             {[]*playedLine{played(1, tune...), played(4, 60, 65, 62, 58)}, "A"},
		"beside chords that turn":      {[]*playedLine{played(0.5, rich...), played(0.75, 72, 74, 76, 76, 76, 72, 72, 77)}, "A"},
		"beside a slow line alone":     {[]*playedLine{played(1, tune...), played(4, 60, 65, 62), played(4, 72)}, "A"},
		"all in unison":                {[]*playedLine{played(1, tune...), played(1, up(tune, -12)...)}, ""},
		"for a short time":             {[]*playedLine{played(1, append(tune[:6:6], make([]float64, 10)...)...), played(4, 60)}, ""},
		"drums under a bass line":      {[]*playedLine{played(0.5, clock.Unpitched), played(4, 60), played(1, low...)}, ""},
		"over the roots in halves":     {[]*playedLine{played(1, 64, 65, 67, 72), played(2, 36, 43)}, "A"},
		"over roots that go along":     {[]*playedLine{played(1, 64, 65, 67, 72), played(1, 36, 38, 40, 43)}, "A"},
		"a low tune in octaves":        {[]*playedLine{played(4, 60), played(1, low...), played(1, up(low, 12)...)}, "BC"},
		"a bass line of two tubas":     {[]*playedLine{played(4, 60), played(1, low...), played(1, low...)}, ""},
		"the bass plays the tune too":  {[]*playedLine{played(1, tune...), played(1, up(tune, -24)...), played(4, 60)}, "AB"},
		"half as many notes below":     {[]*playedLine{played(1, 64, 65, 67, 72), played(2, 60, 64), played(4, 55)}, "A"},
		"nobody":                       {nil, ""},
	} {
		lead, why := melody(x.voices)
		var open []FirstOpening
		front := make([]bool, len(x.voices))
		for i := range x.voices {
			open = append(open, FirstOpening{Player: string(rune('A' + i))})
			front[i] = i == lead
		}
		join(open, x.voices, front, why)
		var got strings.Builder
		for i, o := range open {
			if front[i] && lead >= 0 {
				got.WriteString(o.Player)
			}
		}
		if got.String() != x.want || (why != "") != (lead >= 0) {
			t.Errorf("%s: %q (%s), want %q", name, got.String(), why, x.want)
		}
	}
}

// Who is louder brings along who plays the same line, and the reason says so. Where two move in the same rhythm, either
// may have the tune.
func TestJoinReason(t *testing.T) {
	open := []FirstOpening{{Player: "A"}, {Player: "B"}, {Player: "C"}, {Player: "D"}}
	tune := []float64{67, 69, 71, 72, 74, 72, 71, 69}
	other := []float64{64, 60, 65, 60, 64, 60, 59, 62, 60, 65, 64}
	for _, x := range []struct {
		second *playedLine
		want   string
	}{
		{marked(5, 1, tune...), "B: louder than the others; A: moves along"},
		{marked(5, 1, other...), "B: louder than the others; A: moves along"},
		{marked(0, 1, tune...), "A: moves while the others hold or repeat; B: moves along"},
		{marked(0, 1, other...), "A, B: move in the same rhythm, either may have the tune"},
	} {
		voices := []*playedLine{marked(0, 1, tune...), x.second, marked(0, 4, 60), marked(0, 4, 64)}
		front, why := inFront(open, voices)
		if !front[0] || !front[1] || front[2] || front[3] {
			t.Errorf("in front: %v", front)
		}
		if why != x.want {
			t.Errorf("got %q, want %q", why, x.want)
		}
	}
}

// The loudness of a cue is the one that holds for most of it.
func TestLoudness(t *testing.T) {
	note := func(from, to, db float64) clock.PlayedNote {
		return clock.PlayedNote{From: from, To: to, DynamicsDB: db}
	}
	lane := &parts.PlayerLane{Notes: []clock.PlayedNote{note(0, 8, -12), note(8, 10, 0), note(10, 16, -4), note(20, 40, 6)}}
	for _, x := range []struct{ from, to, want float64 }{
		{0, 16, -4}, // half of it; of two the louder
		{8, 16, -4},
		{8, 10, 0},
		{15.9, 20, math.Inf(-1)}, // the rest of a note
		{16, 20, math.Inf(-1)},
		{0, 40, 6},
	} {
		if got := loudness(lane, x.from, x.to); got != x.want {
			t.Errorf("%g to %g: got %g dB, want %g", x.from, x.to, got, x.want)
		}
	}
}
