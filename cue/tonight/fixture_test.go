package tonight

import (
	"fmt"
	"strings"
	"testing"

	"backfield/cue"
	"backfield/cue/compile"
	"backfield/cue/roster"
	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/layout/drill"
	"backfield/layout/rig"
	"backfield/layout/source"
)

// files are a small show of three movements: trumpets A, B, C and D, baritones E and F; D and F have no pack at first.
type files struct{ score, sets, dots, roster, rig string }

func small() files {
	f := files{
		score: `drill = { sets = "s", dots = "d" }
roster = "r"
rig = "g"
mixer = "k"
[mix]
solo = 3
feature = 0
pad = -9
[[movement]]
name = "Dusk"
tempo = 120
[[movement]]
name = "Night"
wait = 4
tempo = 60
[[movement]]
wait = 2
tempo = 120
`,
		sets: "set,movement,counts,hold\n1,1,0,0\n2,1,16,0\n3,1,16,0\n4,2,0,0\n5,2,16,0\n6,2,16,0\n7,3,0,0\n8,3,16,0\n",
		roster: "player,section,pack,channel,from,height,trim\nA,trumpet,P1,1,,,\nB,trumpet,P2,2,,,-1.5\nC,trumpet,P3,3,,,\n" +
			"D,trumpet,,,,,\nE,baritone,P4,4,,1.6,\nF,baritone,P4,4,set 4,1.7,\n",
		rig: `air = "20 C"
latency = "4 ms"
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
[[mic]]
name = "field"
kind = "field"
channel = 9
at = { x = 0, y = 0, z = 1 }
`,
	}
	for i, c := range []struct{ at, rest string }{
		{"1:1", `open.feature = ["@trumpet"]` + "\nopen.pad = [\"field\"]"},
		{"set 2", `open.solo = ["A"]` + "\nopen.pad = [\"@baritone\", \"B\"]\nnudge = { \"A\" = 1.5, \"B\" = -1 }"},
		{"set 2 + 8", "keep = true\nopen.feature = [\"C\"]\nclose = [\"B\"]"},
		{"set 3", `open.feature = ["E"]`},
		{"set 4", `open.solo = ["B"]` + "\nopen.pad = [\"F\"]\nfade = 4"},
		{"set 5", "keep = true\nopen.feature = [\"A\", \"C\"]"},
		{"set 6 - 4", `open.feature = ["A", "field"]` + "\nplays = [\"A\", \"@baritone\"]"},
		{"", "after = 8\n" + `open.feature = ["@trumpet", "@baritone"]`},
		{"set 8 - 2", "open.pad = [\"A\", \"B\"]"},
	} {
		at := ""
		if c.at != "" {
			at = fmt.Sprintf("at = %q\n", c.at)
		}
		if i == 7 { // automatic, over the joint of the movements
			at, c.rest = "at = \"set 7 + 2\"\n", strings.TrimPrefix(c.rest, "after = 8\n")
		}
		f.score += fmt.Sprintf("[[cue]]\nid = \"%d\"\n%s%s\n", i+1, at, c.rest)
	}
	f.dots = "set,player,x,y\n"
	for set := 1; set <= 8; set++ {
		for i, name := range []string{"A", "B", "C", "D", "E", "F"} {
			f.dots += fmt.Sprintf("%d,%s,%d,%d\n", set, name, -30+10*i+(set*(i+2))%7, 30+(set*(3*i+1))%17)
		}
	}
	return f
}

// read is the show as its files say it.
func (f files) read(p *source.Problems) timeline.Files {
	file := func(order int, name, text string) *source.File {
		return &source.File{Name: name, Text: text, Order: order}
	}
	var in timeline.Files
	in.Score, in.Rig = score.Read(file(0, "show", f.score), p), rig.Read(file(4, "rig", f.rig), nil, p)
	in.Drill = drill.Read(drill.Sheets{Sets: file(1, "sets", f.sets), Dots: file(2, "dots", f.dots)}, in.Rig.Field, p)
	in.Roster = roster.Read(file(3, "roster", f.roster), p)
	in.Mixer = timeline.MixerSpec{
		Channels: 64, Pan: timeline.Limits{Min: -1, Max: 1, Step: 0.01},
		Delay: timeline.Limits{Min: 0, Max: 500, Step: 0.1}, Level: timeline.Limits{Min: -70, Max: 6, Step: 0.01},
	}
	return in
}

// play compiles the show with a night over it; rain is the sheet of places that it may name.
func (f files) play(t *testing.T, night, rain string) (*compile.Result, *source.Problems) {
	t.Helper()
	var p source.Problems
	in := compile.Input{Files: f.read(&p)}
	if p.Errors() > 0 {
		t.Fatal(said(&p))
	}
	if night != "" {
		plan := Read(&source.File{Name: "tonight.toml", Text: night, Order: 6}, &p)
		if rain != "" {
			plan.Places = &source.File{Name: "rain.csv", Text: rain, Order: 7}
		}
		if plan.Over != nil {
			file := func(name, text string) *source.File { return &source.File{Name: name, Text: text, Order: 4} }
			in.Rig = rig.ReadNight(file("rig", f.rig), nil, plan.Over, &p)
		}
		in.Files = plan.Apply(&in.Files, &p)
	}
	return compile.Compile(in, &p), &p
}

func said(p *source.Problems) string {
	var b strings.Builder
	source.Print(&b, p.All())
	return b.String()
}

// shown is the compiled show, which must have no errors.
func (f files) shown(t *testing.T, night string) *cue.Show {
	t.Helper()
	r, p := f.play(t, night, "")
	if r.Show == nil {
		t.Fatalf("%s: %s", night, said(p))
	}
	return r.Show
}

// words is who is open in each cue, in short: "2@set 2/8s: A solo 1.5, E pad".
func words(s *cue.Show) string {
	var list []string
	for i := range s.Cues {
		q := &s.Cues[i]
		var open []string
		for _, c := range q.Channels {
			if c.Open {
				open = append(open, fmt.Sprintf("%s:%d %s %g", c.Player, c.Channel, c.Role, float64(c.LevelDB)))
			}
		}
		auto := ""
		if q.Auto {
			auto = " auto"
		}
		list = append(list, fmt.Sprintf("%s at %s (%d:%g, %gs)%s: %s", q.ID, q.At, q.Movement, q.Count, q.TimeS, auto,
			strings.Join(open, ", ")))
	}
	return strings.Join(list, "\n")
}
