package compile

import (
	"fmt"
	"strconv"
	"strings"

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
