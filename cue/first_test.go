package cue

import (
	"math"
	"os"
	"strings"
	"testing"
)

const formats = "../testdata/formats/"

// The waypoints of format 1 become knots of their cue: at every moment each open channel has the values that it had in
// the file. Its sends are those of a place along the row of stacks, to half a step of the mixer.
func TestWaypointsAreKnots(t *testing.T) {
	data, err := os.ReadFile(formats + "snapshots-1-last.json")
	if err != nil {
		t.Fatal(err)
	}
	s, err := Decode(data)
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Cues) != 2 || s.Format != Format || s.Rig.Delay.Moves != Stepped {
		t.Fatalf("%d cues, format %d, moves %q", len(s.Cues), s.Format, s.Rig.Delay.Moves)
	}
	row := s.Rig.RowOfStacks()
	level := func(send Send) float64 { return math.Max(float64(send.LevelDB), -40) }
	for _, x := range []struct {
		cue     int
		timeS   float64
		delayMS float64
		levelDB Level
		sends   [3]float64 // of zones 1 to 3, at least -40
	}{
		{0, 0, 55.6, -5.62, [3]float64{-21.8, 0, -40}},
		{0, 2.4, 55.6, -5.62, [3]float64{-21.8, 0, -40}},
		{0, 2.5, 66.7, -5.59, [3]float64{-10.7, -0.4, -40}},
		{0, 7.9, 64.6, -5.47, [3]float64{-5.6, -1.4, -40}},
		{1, 8, 65.6, -8.31, [3]float64{-5.6, -1.4, -40}},
		{1, 17, 64.2, -8.2, [3]float64{-40, 0, -27.1}},
		{1, 20, 75.5, -7.85, [3]float64{-40, -0.5, -9.5}},
	} {
		c := &s.Cues[x.cue].Channels[0]
		at := s.Cues[x.cue].GlideAt(c, x.timeS, s.Rig.Delay.Moves, nil)
		if at.DelayMS != x.delayMS || at.LevelDB != x.levelDB {
			t.Errorf("at %g s: %+v, want %g ms, %g dB", x.timeS, at, x.delayMS, float64(x.levelDB))
		}
		for _, send := range PlaceLevels(at.Place, row) {
			if got, want := level(send), x.sends[send.Zone-1]; math.Abs(got-want) > 0.051 {
				t.Errorf("at %g s, zone %d: %.3f dB, want %g", x.timeS, send.Zone, got, want)
			}
		}
	}
	tpt, bari := &s.Cues[1].Channels[0], &s.Cues[1].Channels[1]
	if len(tpt.Glide) != 5 || bari.Glide != nil {
		t.Errorf("%d knots of a player who walks, %d of one who stands", len(tpt.Glide), len(bari.Glide))
	}
	if tpt.End.X != 9.144 {
		t.Errorf("ends at %+v: where the last waypoint ends", tpt.End)
	}
	// 6 s of 0.8665, 1.5 s each of 0.9474, 0.9718, 0.9744 and 0.866, 0.5 s of 0.9917: by hand
	want := (5.5*0.8665 + 1.5*(0.9474+0.9718+0.9744+0.866) + 0.5*0.9917) / 12
	if f := tpt.Fit; math.Abs(f.InTime-want) > 1e-9 || f.WorstEarlyMS != 8.17 || f.WorstLateMS != 8.57 {
		t.Errorf("fit %+v, want %g in time", f, want)
	}
}

// In format 1 a channel was muted at once, whatever the cue's fade.
func TestFirstFormatClosesAtOnce(t *testing.T) {
	one := `{"channel":1,"open":%OPEN%,"level_db":null}`
	cue := func(id, open string) string {
		return `{"id":"` + id + `","fade_counts":2,"fade_s":1,"channels":[` + strings.Replace(one, "%OPEN%", open, 1) + `]}`
	}
	s, err := Decode([]byte(`{"format":1,"cues":[` + cue("1", "true") + "," + cue("2", "true") + "," + cue("3", "false") + `]}`))
	if err != nil {
		t.Fatal(err)
	}
	if s.Cues[0].FadeOut != nil || s.Cues[1].FadeOut != nil || s.Cues[2].Closing() != (FadeTime{}) {
		t.Errorf("closing takes %v, %v, %v", s.Cues[0].Closing(), s.Cues[1].Closing(), s.Cues[2].Closing())
	}
}

// What was written in format 1 is read, written in this format, and read again as the same.
func TestFirstFormatAgain(t *testing.T) {
	for _, name := range []string{"snapshots-1-first.json", "snapshots-1-last.json", "snapshots-2-first.json"} {
		data, err := os.ReadFile(formats + name)
		if err != nil {
			t.Fatal(err)
		}
		s, err := Decode(data)
		if err != nil {
			t.Fatal(name, err)
		}
		once, err := s.Encode()
		if err != nil {
			t.Fatal(name, err)
		}
		again, err := Decode(once)
		if err != nil {
			t.Fatal(name, err)
		}
		if twice, err := again.Encode(); err != nil || string(twice) != string(once) {
			t.Errorf("%s changed on its way (%v)", name, err)
		}
	}
	s, err := Decode([]byte(`{"format":1,"rig":{"delay":{"pan_by":"stand-fit","moves":"glide"}},"cues":[]}`))
	if err != nil || s.Rig.Delay.PanBy != "stands" || s.Rig.Delay.Moves != Stepped {
		t.Errorf("%+v %v", s, err)
	}
}
