package suggest

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"backfield/cue/clock"
	"backfield/cue/compile"
	"backfield/cue/roster"
	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/layout/drill"
	"backfield/layout/rig"
	"backfield/layout/source"
	"backfield/layout/table"
)

const stacks = `air = 20
latency = 4
[reference]
x = 0
y = -30
z = 15
[[stack]]
name = "left"
at = { x = -20, y = -2, z = 2.5 }
[[stack]]
name = "right"
at = { x = 20, y = -2, z = 2.5 }
`

// show compiles a show of one movement of 200 counts at 120, in which A walks and B stands.
func show(t *testing.T, cues string) *compile.Result {
	t.Helper()
	r, _ := shown(t, cues, nil)
	return r
}

// shown is that show with music, and what check says of it.
func shown(t *testing.T, cues string, parts []clock.MusicPart) (*compile.Result, []source.Problem) {
	t.Helper()
	var p source.Problems
	file := func(order int, name, text string) *source.File {
		return &source.File{Name: name, Text: text, Order: order}
	}
	head := "drill = { sets = \"s\", dots = \"d\" }\nroster = \"r\"\nrig = \"g\"\nmixer = \"k\"\n[[movement]]\ntempo " +
		"= 120\n"
	var in compile.Input
	in.Score, in.Rig = score.Read(file(0, "show", head+cues), &p), rig.Read(file(4, "rig", stacks), nil, &p)
	in.Drill = drill.Read(drill.Sheets{
		Sets: file(1, "sets", "set,movement,counts,hold\n1,1,0,0\n2,1,200,0\n"),
		Dots: file(2, "dots", "set,player,x,y\n1,A,-20,30\n2,A,20,70\n1,B,8,40\n2,B,8,40\n"),
	}, in.Rig.Field, &p)
	in.Roster = roster.Read(file(3, "roster", "player,section,pack,channel\nA,trumpet,P1,1\nB,trumpet,P2,2\n"), &p)
	if parts != nil {
		in.Score.Movements[0].Music = inFour(parts)
		for _, part := range parts {
			in.Score.Parts = append(in.Score.Parts, score.PartPlayers{
				Part: table.Text{V: part.Name, Set: true}, Names: []table.Text{{V: part.Name, Set: true}},
			})
		}
	}
	in.Mixer = timeline.MixerSpec{
		Channels: 8, Pan: timeline.Limits{Min: -1, Max: 1, Step: 0.01},
		Delay: timeline.Limits{Max: 500, Step: 0.1}, Level: timeline.Limits{Min: -70, Max: 6, Step: 0.01},
	}
	r := compile.Compile(in, &p)
	if r.Show == nil {
		var b strings.Builder
		source.Print(&b, p.All())
		t.Fatal(b.String())
	}
	return r, p.All()
}

func cueAt(id string, count int, rest string) string {
	return fmt.Sprintf("[[cue]]\nid = %q\nat = \"1:%d\"\n%s\n", id, count, rest)
}

// Each question on a show that asks for it, and none of it on one that just does not.
func TestList(t *testing.T) {
	a, b, both := `open.feature = ["A"]`, `open.feature = ["B"]`, `open.feature = ["A", "B"]`
	const long = ": open for over 96 counts up to cue"
	for _, c := range []struct {
		name, cues string
		want       []string // beginnings or parts, in order
	}{
		{"close", cueAt("1", 1, b) + cueAt("2", 4, a) + cueAt("3", 60, ""),
			[]string{`cue "2" comes 1.50 s after cue "1"`}},
		{"again", cueAt("1", 111, both) + cueAt("2", 121, a) + cueAt("3", 128, both),
			[]string{`cue "3" opens B within 8 counts of closing`}},
		{"not again", cueAt("1", 111, both) + cueAt("2", 120, a) + cueAt("3", 128, both), nil},
		{"long", cueAt("1", 1, b) + cueAt("2", 98, ""), []string{`B` + long + ` "2"`}},
		{"not long", cueAt("1", 1, b) + cueAt("2", 97, ""), nil},
		{"to the end", cueAt("1", 100, b), []string{`B: open for over 96 counts up to the end`}},
		{"both to the end", cueAt("1", 100, both),
			[]string{`A, B: open for over 96 counts`}},
		{"not to the end", cueAt("1", 106, b), nil},
	} {
		list := List(show(t, c.cues))
		var got []string
		for _, x := range list {
			got = append(got, x.Text)
			if x.Span.File == nil {
				t.Errorf("%s: %q has no place", c.name, x.Text)
			}
		}
		if len(got) != len(c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
			continue
		}
		for i := range got {
			if !strings.Contains(got[i], c.want[i]) {
				t.Errorf("%s: %q, want %q", c.name, got[i], c.want[i])
			}
		}
		if !slices.IsSortedFunc(list, func(a, b Suggestion) int { return int(1000 * (a.TimeS - b.TimeS)) }) {
			t.Errorf("%s: not in order of time", c.name)
		}
	}
}
