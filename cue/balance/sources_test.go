package balance_test

import (
	"strings"
	"testing"

	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/source"
)

// withMic is the small show, with keys added to the field mic.
func withMic(keys, cues string) small {
	f := newSmall(cues)
	f.rig = strings.Replace(f.rig, "name = \"center\"\n", "name = \"center\"\n"+keys+"\n", 1)
	return f
}

const fieldOpen = "open.solo = [\"T1\"]\nopen.pit = [\"center\"]"

// A fixed mic is as the rig says.
func TestFixedMicKeys(t *testing.T) {
	m := withMic("", cueAt("1", 1, fieldOpen)).loud(t).Cue(0).Ends[0].Playing.Fixed[0]
	if m.OmniShare != level.CardioidMic || m.Facing != level.Back || m.MeterDB != 0 {
		t.Errorf("by default %+v", m)
	}
	m = withMic("pattern = \"omni\"\nfacing = 30\nmeter = -2", cueAt("1", 1, fieldOpen)).loud(t).Cue(0).Ends[0].Playing.Fixed[0]
	if m.OmniShare != level.OmniMic || m.Facing != level.FacingDeg(30) || m.MeterDB != -2 {
		t.Errorf("as the rig says %+v", m)
	}
	var p source.Problems
	withMic("meter = 13", cueAt("1", 1, fieldOpen)).read(t, &p)
	if got := printed(&p); !strings.Contains(got, "level-odd") || !strings.Contains(got, "the preamp of center is +13 dB") {
		t.Errorf("a preamp 13 dB off is not named:\n%s", got)
	}
}

// The preamp of a fixed mic is set for the loudest that it hears, or for that of its own cue.
func TestGainCue(t *testing.T) {
	const drum = "open.pad = [\"S1\"]\nopen.pit = [\"center\"]\ndynamics = { S1 = "
	cues := cueAt("1", 1, drum+"\"p\" }") + cueAt("2", 101, drum+"\"ff\" }")
	highest := func(keys string) float64 {
		return withMic(keys, cues).loud(t).Cue(0).Ends[0].Playing.Fixed[0].HighestDB
	}
	loud := highest("")
	closeTo(t, "set in cue 2", highest("gain_cue = \"2\""), loud, 1e-9)
	closeTo(t, "set in cue 1, 18 dB softer", highest("gain_cue = \"1\""), loud-18, 1e-9)
	for cue, want := range map[string]string{"9": `no cue "9" opens center`, "3": `no cue "3" opens center`} {
		f := withMic("gain_cue = \""+cue+"\"", cues+cueAt("3", 150, `open.solo = ["T1"]`))
		var p source.Problems
		if l := f.read(t, &p); l != nil || !strings.Contains(printed(&p), want) {
			t.Errorf("gain_cue %s: said\n%s", cue, printed(&p))
		}
	}
}

// A stack points where the rig says, and is as quiet behind.
func TestAim(t *testing.T) {
	f := newSmall(cueAt("1", 1, fieldOpen))
	f.rig = strings.Replace(f.rig, "trim = -3\n", "trim = -3\naim = { x = -30, y = -20, z = 8 }\n"+
		"front_back = [1, 2, 3, 4, 5, 6, 7]\n", 1)
	l := f.loud(t)
	left, right := l.Stadium.Stacks[0], l.Stadium.Stacks[1]
	if left.Aim != (layout.Point{X: -30, Y: -20, Z: 8}) || left.FrontBackDB != (level.Bands{1, 2, 3, 4, 5, 6, 7}) {
		t.Errorf("left: %+v", left)
	}
	if right.Aim != (layout.Point{X: 20, Y: -26, Z: 10}) || right.FrontBackDB != level.DefaultStack(right.At, right.Aim).FrontBackDB {
		t.Errorf("right: %+v", right)
	}
}

// The noise may be read at another place than the box: the same dBA nearer to the stack is a softer stack.
func TestNoiseElsewhere(t *testing.T) {
	nominal := func(at string) float64 {
		f := newSmall(cueAt("1", 1, fieldOpen))
		f.rig += "[levels]\nnoise = { stack = \"left\", dba = 66" + at + " }\n" +
			"brass = { section = \"baritone\", set = \"2\", dba = 75 }\n"
		return f.loud(t).Stadium.NominalDB
	}
	box := nominal("")
	closeTo(t, `at = "box"`, nominal(`, at = "box"`), box, 0)
	closeTo(t, "at the box's own place", nominal(", at = { x = 0, y = -30, z = 15 }"), box, 1e-9)
	// On the aim, 10 and 20 m from the stack: 6.02 dB and 10 m of air.
	near := nominal(", at = { x = -20, y = -11.545, z = 5.483 }")
	far := nominal(", at = { x = -20, y = -21.09, z = 8.466 }")
	closeTo(t, "twice as far", far-near, 6.02+0.15, 0.1)
}

// Turned toward the stacks, a field mic is closer to feedback.
func TestMicTowardStacks(t *testing.T) {
	loop := func(keys string) float64 {
		f := withMic(keys, cueAt("1", 1, fieldOpen))
		f.rig = strings.Replace(f.rig, "at = { x = 0, y = -1, z = 1 }", "at = { x = 0, y = 0.5, z = 1 }", 1)
		for _, m := range f.loud(t).Cue(0).Loops[0].Gains.Mics {
			if m.Name == "center" {
				db, _ := m.GreatestDB()
				return db
			}
		}
		t.Fatal("center is not open")
		return 0
	}
	if away, toward := loop(""), loop("facing = \"box\""); toward <= away {
		t.Errorf("facing the box the mic loops at %.2f dB, facing the field at %.2f dB", toward, away)
	}
}

// Zone sends are heard as a stereo mix with the same gains: at the 50, constant power gives both sides -3.01 dB.
func TestZonesAsStereo(t *testing.T) {
	f := newSmall(cueAt("1", 1, "open.solo = [\"T1\"]\nopen.pit = [\"marimba\"]\nplays = [\"@baritone\"]"))
	zones := f
	zones.rig = "feed = \"zones\"\n" + strings.Replace(strings.Replace(f.rig, "trim = -3\n", "trim = -3\nzone = 1\n", 1),
		"x = 20, y = -2, z = 2.5 }\n", "x = 20, y = -2, z = 2.5 }\nzone = 2\n", 1)
	a, b := f.loud(t).Cue(0), zones.loud(t).Cue(0)
	for k, send := range a.Ends[0].Playing.Worn[0].SendDB {
		closeTo(t, "send", b.Ends[0].Playing.Worn[0].SendDB[k], send, 0.01)
		closeTo(t, "send", send, -3.01, 0.01)
	}
	for what, of := range map[string]func(level.Ends) (level.Figure, int){
		"lead": level.Ends.LeadAtBox, "over": level.Ends.OverAtBox,
		"lead at 90 %": func(e level.Ends) (level.Figure, int) { return e.LeadAt(90) },
	} {
		x, _ := of(a.Heard)
		y, _ := of(b.Heard)
		if closeTo(t, what, y.DB, x.DB, 0.01); !x.OK || !y.OK {
			t.Errorf("%s has nothing to compare", what)
		}
	}
	x, _ := a.Loops[0].Gains.GreatestDB()
	y, _ := b.Loops[0].Gains.GreatestDB()
	closeTo(t, "loop", y, x, 0.02)
}
