package compile

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/score"
	"backfield/layout/table"
)

// playing gives the first movement music, if the files have who plays when: "A 0-8 24-32; B 4-8", in counts elapsed.
// It has measures of 4.
func (f files) playing(s *score.Score) {
	if f.plays == "" {
		return
	}
	m := &clock.Music{Name: "music", Beat: "a quarter note", Least: 32, Most: 32}
	for i := range 8 {
		m.Measures = append(m.Measures, clock.Measure{Number: fmt.Sprint(i + 1), From: 4 * float64(i), Counts: 4})
	}
	for part := range strings.SplitSeq(f.plays, "; ") {
		words := strings.Fields(part)
		played := clock.MusicPart{Name: "part of " + words[0]}
		for _, word := range words[1:] {
			from, to, _ := strings.Cut(word, "-")
			n := clock.PlayedNote{}
			n.From, _ = strconv.ParseFloat(from, 64)
			n.To, _ = strconv.ParseFloat(to, 64)
			played.Notes = append(played.Notes, n)
		}
		m.Parts = append(m.Parts, played)
		s.Parts = append(s.Parts, score.PartPlayers{
			Part:  table.Text{V: played.Name, Set: true},
			Names: []table.Text{{V: words[0], Set: true}},
		})
	}
	s.Movements[0].Music = m
}

// A mixer whose delay clicks moves it in rests of two counts and more, and nowhere else; more seats are in time then.
func TestDelayMovesInRests(t *testing.T) {
	f := base.with("[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\"]\n")
	f.rig, f.moves = f.rig+someSeats, cue.Closed
	f.score = "delay.box = \"free\"\n" + f.score // so that the seats alone decide
	f.dots = strings.ReplaceAll(f.dots, "2,A,0,32", "2,A,0,54")
	f.dots = strings.ReplaceAll(f.dots, "3,A,0,32", "3,A,0,76")
	share := func(plays string) (inTime float64, changes []float64) {
		f.plays = plays
		r := f.show(t)
		x := r.Derivations[0][0].Stretch
		for k := 1; k < len(x.Samples); k++ {
			if x.SentMS[k] != x.SentMS[k-1] {
				changes = append(changes, x.Samples[k].Elapsed)
			}
		}
		return r.Derivations[0][0].Fit.Served, changes
	}
	held, changes := share("")
	if len(changes) > 0 {
		t.Fatalf("without music it moves at %v", changes)
	}
	for _, x := range []struct {
		plays string
		want  string
	}{
		{"A 0-12 20-32", "[16]"}, // the middle of the rest
		{"A 0-12 13.5-32", "[]"}, // too short a rest
		{"A 4-32", "[]"},         // a rest before the first note: the delay is set then as it is
		{"A 0-8 10-14 20-32", "[9 17]"},
	} {
		inTime, changes := share(x.plays)
		if got := fmt.Sprint(changes); got != x.want {
			t.Errorf("%s: it moves at %s, want %s", x.plays, got, x.want)
		}
		if len(changes) > 0 && inTime <= held {
			t.Errorf("%s: %.3f of the seats are in time, and without moves %.3f", x.plays, inTime, held)
		}
	}
	f.moves = cue.Glides
	if _, moved := share("A 0-12 20-32"); len(moved) < 20 {
		t.Errorf("a mixer that glides moves at %v only", moved)
	}
}
