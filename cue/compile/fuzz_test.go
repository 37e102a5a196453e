package compile

import (
	"math"
	"testing"

	"backfield/cue"
	"backfield/cue/roster"
	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/layout/drill"
	"backfield/layout/rig"
	"backfield/layout/source"
)

// FuzzShow compiles whatever the files may be: no panic, every problem lies inside its file, a show comes out
// exactly when there is no error, and none of its numbers is none.
func FuzzShow(f *testing.F) {
	cues := "[always]\nsupport = [\"field\"]\n[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\"]\nnudge = { A " +
		"= 2 }\n[[cue]]\nid = \"2\"\nat = \"set 2 - 4\"\nkeep = true\nfade = 2\nopen.support = [\"@trumpet\"]\nclose " +
		"= [\"field\"]\n[[cue]]\nid = \"3\"\nat = \"set 3\"\n"
	f.Add(base.score+cues, base.sets, base.dots, base.roster, base.rig)
	f.Add(base.score+"[pan]\nby = \"stands\"\n"+cues, base.sets, base.dots, base.roster,
		base.rig+someSeats)
	f.Add(base.score+"[delay]\npolicy = \"joint\"\nwindow = \"25 ms\"\n[make_up]\nfrom = 10\nmax = 6\n"+cues, base.sets,
		base.dots, "player,section,pack,channel,from,height,trim,policy\nA,trumpet,P1,1,,1.7,2,never-early\n"+
			"B,trumpet,P2,2,,,,\nC,baritone,P1,1,set 2,,,least-error\n", base.rig+someSeats)
	tempo := "movement = [{ tempo = [{ at = 1, bpm = 60 }, { at = 9, bpm = 90, over = 4 }, { at = 14, pause = 2 }] }]\n"
	f.Add(tempo+cues, base.sets, base.dots, base.roster, "feed = \"zones\"\n"+base.rig)
	params := withParams()
	f.Add(params.score, params.sets, params.dots, params.roster, params.rig)
	f.Fuzz(func(t *testing.T, scoreText, sets, dots, rosterText, rigText string) {
		if len(scoreText)+len(sets)+len(dots)+len(rosterText)+len(rigText) > 20_000 {
			return
		}
		var p source.Problems
		open := func(order int, name, text string) *source.File {
			file, err := source.Open(name, []byte(text), 1<<20)
			if err != nil {
				return nil
			}
			file.Order = order
			return file
		}
		file := open(0, "show", scoreText)
		if file == nil {
			return
		}
		var in Input
		in.Score, in.Rig = score.Read(file, &p), rig.Read(open(4, "rig", rigText), nil, &p)
		seats := 0
		for _, b := range in.Rig.Blocks {
			seats += b.Size()
		}
		if seats > 2000 {
			return // large, not wrong
		}
		in.Drill = drill.Read(drill.Sheets{Sets: open(1, "sets", sets), Dots: open(2, "dots", dots)}, in.Rig.Field, &p)
		counts := 0
		for m := 1; m <= in.Drill.Movements(); m++ {
			counts += in.Drill.Counts(m)
		}
		for _, m := range in.Score.Movements {
			counts += m.Counts.V
		}
		if counts > 5000 {
			return
		}
		in.Roster = roster.Read(open(3, "roster", rosterText), &p)
		level := timeline.Limits{Min: -70, Max: 6, Step: 0.01}
		in.Mixer = timeline.MixerSpec{
			Channels: 64, Pan: timeline.Limits{Min: -1, Max: 1, Step: 0.01},
			Delay: timeline.Limits{Min: 0, Max: 500, Step: 0.1}, Level: level, Send: level, Params: ownParams,
		}
		r := Compile(in, &p)
		for _, x := range p.All() {
			if x.Span.File != nil && (x.Span.Start < 0 || x.Span.End < x.Span.Start ||
				x.Span.End > len(x.Span.File.Text)) || x.What == "" || x.Code == "" {
				t.Fatalf("%+v", x)
			}
		}
		if (r.Show == nil) != (p.Errors() > 0) {
			t.Fatalf("%d errors, and a show: %v", p.Errors(), r.Show != nil)
		}
		if r.Show == nil {
			return
		}
		if data, err := r.Show.Encode(); err != nil {
			t.Fatal(err)
		} else if _, err := cue.Decode(data); err != nil {
			t.Fatalf("%v in\n%s", err, data)
		}
		for _, s := range r.Show.Cues {
			for _, c := range s.Channels {
				level := float64(c.LevelDB)
				for _, v := range []float64{c.Pan, c.DelayMS, c.X, c.Y, c.Z, c.End.X, c.End.Y, s.TimeS, s.FadeS} {
					if math.IsNaN(v) || math.IsInf(v, 0) {
						t.Fatalf("cue %s: %+v", s.ID, c)
					}
				}
				for i, d := range ownParams {
					if v := c.Params[i].Value; !(v >= d.Min && v <= d.Max) {
						t.Fatalf("cue %s: %s is %v", s.ID, d.Name, v)
					}
				}
				if math.IsNaN(level) || c.Open == math.IsInf(level, -1) || c.Pan < -1 || c.Pan > 1 || c.DelayMS < 0 ||
					c.DelayMS > 500 {
					t.Fatalf("cue %s: %+v", s.ID, c)
				}
			}
		}
	})
}
