package music

import (
	"strings"
	"testing"

	"backfield/cue/score"
	"backfield/layout/source"
	"backfield/layout/table"
)

// Words that change the tempo for players only are in the list of what had no effect; those with a number are not.
func TestTempoWordsWithoutNumber(t *testing.T) {
	direction := func(words, more string) string {
		return `<direction><direction-type><words>` + words + `</words></direction-type>` + more + `</direction>`
	}
	text := `<score-partwise version="4.0"><part-list/><part id="P1"><measure number="1"><attributes>` +
		`<divisions>1</divisions></attributes>` +
		direction("Allegro", `<sound tempo="132"/>`) + direction("Andante", `<direction-type><metronome><beat-unit>`+
		`quarter</beat-unit><per-minute>80</per-minute></metronome></direction-type>`) +
		direction("poco rit.", "") + direction("dolce", "") +
		`<note><rest/><duration>4</duration></note></measure></part></score-partwise>`
	name := table.Text{V: "tune.musicxml", Set: true}
	m := score.Movement{File: &score.MusicFile{Name: name}}
	var p source.Problems
	new(Library).Read(name.V, []byte(text), 1, &m, &p)
	var got []string
	for _, x := range p.AllIdle() {
		got = append(got, x.What)
	}
	want := `the tempo word "poco rit.": no number is beside it`
	if strings.Join(got, "|") != want {
		t.Errorf("%q, want %q", got, want)
	}
}
