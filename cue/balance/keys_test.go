package balance_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"backfield/cue"
	"backfield/cue/timeline"
	"backfield/layout/level"
	"backfield/layout/source"
)

// Bells point at the box, or where the sheet of sets says, or where the cue says: a name before its section.
func TestFacing(t *testing.T) {
	f := newSmall(cueAt("1", 1, "open.solo = [\"T1\", \"@baritone\"]") +
		cueAt("2", 101, "open.solo = [\"T1\", \"@baritone\"]\nfacing = { \"@baritone\" = \"back\", B2 = 40, T1 = \"box\" }"))
	f.sets = "set,movement,counts,hold,facing\n1,1,0,0,\n2,1,100,0,-30\n3,1,100,0,back\n"
	for line := range strings.Lines(f.dots) {
		if at, ok := strings.CutPrefix(line, "2,"); ok {
			f.dots += "3," + at
		}
	}
	l := f.loud(t)
	for i, want := range [][2]string{
		{"T1 -30, B1 -30, B2 -30", "T1 -30, B1 -30, B2 -30"}, // also at count 101, where the next set begins
		{"T1 box, B1 180, B2 40", "T1 box, B1 180, B2 40"},
	} {
		for end := range want {
			var list []string
			for _, p := range l.Cue(i).Ends[end].Playing.Performers {
				text := "box"
				if p.Facing.Given {
					text = fmt.Sprint(p.Facing.Deg)
				}
				list = append(list, p.Name+" "+text)
			}
			if got := strings.Join(list, ", "); got != want[end] {
				t.Errorf("cue %d, end %d: %s, want %s", i+1, end, got, want[end])
			}
		}
	}
	f.cues = cueAt("1", 1, `open.solo = ["T1"]`) + cueAt("2", 101, `open.solo = ["T1"]`)
	if p := f.loud(t).Cue(1).Ends[0].Playing.Performers[0]; p.Facing != level.Back {
		t.Errorf("where set 3 begins T1 points at %+v, want the back", p.Facing)
	}
}

// A reading of brass goes by where the section pointed, as the cue at that set says.
func TestReadingFacing(t *testing.T) {
	band := func(cue string) float64 {
		f := newSmall(cueAt("1", 1, "open.solo = [\"T1\"]\n"+cue))
		f.rig += "[levels]\nnoise = { stack = \"left\", dba = 70 }\nbrass = { section = \"baritone\", set = \"2\", dba = 60 }\n"
		return f.loud(t).Stadium.BandDB
	}
	// By level.md a baritone is 9 dB softer behind than in front, 1 dB less at a box above the axis.
	if d := band("facing = { \"@baritone\" = \"back\" }") - band(""); d < 7 || d > 10 {
		t.Errorf("turned to the back, the baritones are taken to be %.1f dB louder", d)
	}
}

// The score may describe an instrument, also one that is known.
func TestGivenInstrument(t *testing.T) {
	f := newSmall(cueAt("1", 1, `open.solo = ["T1", "B1", "S1"]`))
	f.roster = strings.ReplaceAll(strings.ReplaceAll(f.roster, "baritone", "kazoo"), "snare", "gong")
	f.head += "[instruments.kazoo]\npower = 90\nbell = 0.02\nspectrum = [-9, -6, -3, 0, -3, -6, -9]\n" +
		"[instruments.trumpet]\npower = 104\nbell = 0.061\nspectrum = [-40, -9, -6, -5, -8, -16, -28]\n" +
		"[instruments.gong]\npower = \"105 dB\"\nspectrum = [0, -3, -6, -9, -12, -15, -18]\n" +
		"directions = [{ angle = 0, db = [0, 0, 0, 0, 0, 0, 0] }, { angle = 90, db = [-3, -3, -3, -3, -3, -3, -3] },\n" +
		"{ angle = 180, db = [-6, -6, -6, -6, -6, -6, -6] }]\n"
	l := f.loud(t)
	p := l.Cue(0).Ends[0].Playing.Performers
	gong := p[slices.IndexFunc(p, func(x level.Performer) bool { return x.Name == "S1" })]
	if !p[1].Instrument.Brass() || p[1].Instrument.PowerDB != 90 || gong.Instrument.Brass() || gong.Instrument.PowerDB != 105 {
		t.Errorf("%+v, %+v", p[1].Instrument, gong.Instrument)
	}
	known := newSmall(cueAt("1", 1, `open.solo = ["T1"]`)).loud(t)
	louder := l.Stadium.Own(&p[0], l.Stadium.Box)
	usual := known.Cue(0).Ends[0].Playing.Performers[0]
	before := known.Stadium.Own(&usual, known.Stadium.Box)
	closeTo(t, "a trumpet of 104 dB over one of 101", louder.ADB()-before.ADB(), 3, 1e-9)
	gong.Facing = level.FacingDeg(0)
	front := l.Stadium.OwnTerms(&gong, l.Stadium.Box)
	gong.Facing = level.Back
	behind := l.Stadium.OwnTerms(&gong, l.Stadium.Box)
	closeTo(t, "the gong, turned", front.TowardDB[3]-behind.TowardDB[3], (behind.AngleDeg-front.AngleDeg)/30, 1e-9)
	var problems source.Problems
	f.head = mixHead
	if f.read(t, &problems); !strings.Contains(printed(&problems), "under [instruments.kazoo]") {
		t.Errorf("said\n%s", printed(&problems))
	}
}

// The low cut of a role or of a fixed mic, which goes first, is taken off loudspeakers and loop; where nobody states one,
// the role is named. If the mixer has a parameter of that name, what is sent counts.
func TestLowCut(t *testing.T) {
	const cues = "open.solo = [\"T1\"]\nopen.pad = [\"B1\"]\nopen.pit = [\"center\", \"marimba\", \"keys\"]"
	cut := func(f small, c int) string {
		x := f.loud(t).Cue(c)
		var list []string
		p := x.Ends[0].Playing
		for _, m := range p.Worn {
			list = append(list, fmt.Sprintf("%s %g", m.Name, m.LowCutHz))
		}
		for _, m := range p.Fixed {
			list = append(list, fmt.Sprintf("%s %g", m.Name, m.LowCutHz))
		}
		return strings.Join(list, ", ") + "; not stated: " + strings.Join(x.NoLowCut, ", ")
	}
	f := withMic("low_cut = 80", cueAt("1", 1, cues))
	if got := cut(f, 0); got != "T1 0, B1 0, marimba 0, center 80; not stated: solo, pad, pit" {
		t.Errorf("by the rig alone: %s", got)
	}
	f.head = "[mix]\nsolo = { level = 2, low_cut = 200 }\npad = { level = -12, low_cut = 0 }\npit = { level = -6, low_cut = 100 }\n"
	if got := cut(f, 0); got != "T1 200, B1 0, marimba 100, center 80; not stated: " {
		t.Errorf("by the roles: %s", got)
	}
	before, after := withMic("", f.cues).loud(t).Cue(0), f.loud(t).Cue(0)
	// 10 lg(1 + (200/125.9)^4) = 8.7 dB at 125 Hz.
	closeTo(t, "off the loop at 125 Hz", level.Decibels(before.Loops[0].Gains.Mics[0].Loop[0]/
		after.Loops[0].Gains.Mics[0].Loop[0]), 10*math.Log10(1+math.Pow(200/math.Pow(10, 2.1), 4)), 1e-9)

	f.params = []timeline.Param{{MixerParam: cue.MixerParam{Name: "low_cut", Unit: "Hz"},
		Limits: timeline.Limits{Min: 20, Max: 400, Step: 1}, Default: 40}}
	f.head = strings.Replace(f.head, ", low_cut = 0", "", 1)
	f.cues = cueAt("1", 1, cues+"\nparam.low_cut = { T1 = 150 }")
	if got := cut(f, 0); got != "T1 150, B1 40, marimba 100, center 80; not stated: " {
		t.Errorf("by what the mixer is sent: %s", got)
	}
	show := f.compile(t, new(source.Problems)).Show
	for channel, want := range map[int]float64{1: 150, 3: 40, 21: 100, 22: 80} {
		for _, c := range show.Cues[0].Channels {
			if c.Channel == channel && c.Params[0].Value != want {
				t.Errorf("channel %d is sent %g Hz, want %g", channel, c.Params[0].Value, want)
			}
		}
	}
	f.params = []timeline.Param{{MixerParam: cue.MixerParam{Name: "low_cut", Switch: true}, Limits: timeline.Limits{Max: 1}}}
	f.head = strings.ReplaceAll(f.head, "low_cut = 200", "low_cut = true")
	f.head = strings.ReplaceAll(f.head, ", low_cut = 100", "")
	f.cues = cueAt("1", 1, cues)
	f.rig = strings.Replace(f.rig, "low_cut = 80\n", "", 1)
	if got := cut(f, 0); got != "T1 0, B1 0, marimba 0, center 0; not stated: solo, pad, pit" {
		t.Errorf("a switch says nothing: %s", got)
	}
}
