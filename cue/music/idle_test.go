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

// What is about who plays or how loudly, and is not read, is in the list of what had no effect.
func TestWhatIsNotRead(t *testing.T) {
	for inside, want := range map[string]string{
		direct("<words>tacet</words>"):                                       `the words "tacet": they do not clearly say who of Part 1 plays`,
		direct("<words>1 player</words>"):                                    `the words "1 player": they do not clearly`,
		direct("<words>half</words>"):                                        `the words "half": they do not clearly`,
		direct("<words>a 3</words>"):                                         `the words "a 3": they do not clearly`,
		direct("<words>gli altri tacet</words>"):                             `the words "gli altri tacet"`,
		direct("<words>più </words><words>f</words>"):                        `the level in the words "più f"`,
		direct("<dynamics><other-dynamics>loud</other-dynamics></dynamics>"): `the mark "loud"`,
		`<sound dynamics="40"/>`:                                             `the level "40" that the file plays here`,
		direct("<words>dolce</words>"):                                       "",
		longer(4, `<type size="cue">whole</type>`):                           `the small notes (size "cue") from measure 1 of Part 1 on`,
		`<direction><direction-type><words>softly</words></direction-type><sound dynamics="40"/></direction>`:     `the level "40"`,
		`<direction><direction-type><dynamics><p/></dynamics></direction-type><sound dynamics="40"/></direction>`: "",
		direct("<words>half valve</words>"): "", direct("<words>all'ottava</words>"): "", direct("<words>non dim.</words>"): "",
		direct("<words>Rit.</words>"): `the tempo word "Rit.": no number`,
	} {
		m := score.Movement{File: &score.MusicFile{Name: table.Text{V: "x.musicxml", Set: true}}}
		var p source.Problems
		new(Library).Read("x.musicxml", []byte(partwiseXML([]string{fourFt + at132 + whole, whole},
			[]string{"", inside + whole})), 1, &m, &p)
		got := ""
		for _, x := range p.AllIdle() {
			got += x.What
		}
		want = strings.ReplaceAll(strings.ReplaceAll(want, "Part 1", "Part 2"), "measure 1", "measure 2")
		if !strings.HasPrefix(got, want) || want == "" && got != "" {
			t.Errorf("%s: %q, want %q", inside, got, want)
		}
	}
}
