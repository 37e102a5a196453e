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
	return shownIn(t, cues, 0, parts)
}

// shownIn is that show with the music of one or more movements, each so many seconds after the one before.
func shownIn(t *testing.T, cues string, waitS float64, music ...[]clock.MusicPart) (*compile.Result, []source.Problem) {
	t.Helper()
	var p source.Problems
	file := func(order int, name, text string) *source.File {
		return &source.File{Name: name, Text: text, Order: order}
	}
	head := "drill = { sets = \"s\", dots = \"d\" }\nroster = \"r\"\nrig = \"g\"\nmixer = \"k\"\n"
	sets, dots := "set,movement,counts,hold\n", "set,player,x,y\n1,A,-20,30\n2,A,20,70\n1,B,8,40\n2,B,8,40\n"
	for i := range music {
		head += "[[movement]]\ntempo = 120\n"
		if i > 0 {
			head += fmt.Sprintf("wait = %g\n", waitS)
			dots += fmt.Sprintf("%d,A,20,70\n%d,A,20,70\n%d,B,8,40\n%d,B,8,40\n", 2*i+1, 2*i+2, 2*i+1, 2*i+2)
		}
		sets += fmt.Sprintf("%d,%d,0,0\n%d,%d,200,0\n", 2*i+1, i+1, 2*i+2, i+1)
	}
	var in compile.Input
	in.Score, in.Rig = score.Read(file(0, "show", head+cues), &p), rig.Read(file(4, "rig", stacks), nil, &p)
	in.Drill = drill.Read(drill.Sheets{Sets: file(1, "sets", sets), Dots: file(2, "dots", dots)}, in.Rig.Field, &p)
	in.Roster = roster.Read(file(3, "roster", "player,section,pack,channel\nA,trumpet,P1,1\nB,trumpet,P2,2\n"), &p)
	for i, parts := range music {
		if parts == nil {
			continue
		}
		in.Score.Movements[i].Music = inFour(parts)
		for _, part := range parts {
			if slices.ContainsFunc(in.Score.Parts, func(x score.PartPlayers) bool { return x.Part.V == part.Name }) {
				continue
			}
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

// Where the music says what a player plays, check warns about long rests, and nobody asks about a mic that is open for
// long. A mic that closes at the end of a movement may open again soon.
func TestListWithMusic(t *testing.T) {
	music := []clock.MusicPart{plays(t, "A 0-200 f")}
	const cues = "[mix]\nfeature = 0\n[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\"]\n" +
		"[[cue]]\nid = \"2\"\nat = \"1:199\"\n[[cue]]\nid = \"3\"\nat = \"2:1\"\nopen.feature = [\"A\"]\n"
	r, _ := shownIn(t, cues, 4, music, music)
	if list := List(r); len(list) > 0 {
		t.Errorf("asks %v", list)
	}
	r, _ = shownIn(t, strings.ReplaceAll(cues, `"A"`, `"A", "B"`), 4, music, music)
	if list := List(r); len(list) != 2 || !strings.HasPrefix(list[0].Text, "B: open for over 96") {
		t.Errorf("asks %v", list)
	}
}
