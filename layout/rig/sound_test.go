package rig

import (
	"fmt"
	"strings"
	"testing"

	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/source"
)

// soundKeys is the rig with a mic, and with lines added to the right stack, to the mic and at the top.
func soundKeys(t *testing.T, top, stack, mic string) (*Rig, *source.Problems) {
	t.Helper()
	text := top + "\n" + plain + stack + "\n[[mic]]\nname = \"m\"\nkind = \"field\"\nchannel = 9\nat = { x = 0, y = -1 }\n" + mic
	f, err := source.Open("rig", []byte(text), 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	var p source.Problems
	return Read(f, nil, &p), &p
}

// What levels need of stacks, mics and people, and what is taken where the rig does not say.
func TestSoundKeys(t *testing.T) {
	r, p := soundKeys(t, "", "", "")
	k, m := r.Stacks[1], r.Mics[0]
	if k.Aim != nil || k.FrontBackDB != (level.Bands{3, 6, 9, 14, 18, 20, 20}) || m.OmniShare != 0.5 ||
		m.Facing != level.Back || m.MeterDB != 0 || m.LowCut.Set || m.GainCue.Set || len(r.People) > 0 || p.Errors() > 0 {
		t.Errorf("by default: %+v, %+v; %v", k, m, p.All())
	}
	r, p = soundKeys(t, `people = [{ name = "crew", at = { x = 1, y = -2 } }, { name = "kids", at = { x = 1, y = -2, z = 0 } },`+
		`{ name = "usher", at = "on 50; 4 in front of front sideline", height = "4 ft" }]`,
		"aim = { x = 25, y = -30, z = 9 }\nfront_back = [0, 1, 2, 3, 4, 5, 60]",
		"pattern = \"supercardioid\"\nfacing = \"box\"\nmeter = -3\nlow_cut = 120\ngain_cue = \"7A\"")
	k, m = r.Stacks[1], r.Mics[0]
	if *k.Aim != (layout.Point{X: 25, Y: -30, Z: 9}) || k.FrontBackDB != (level.Bands{0, 1, 2, 3, 4, 5, 60}) ||
		m.OmniShare != 0.37 || m.Facing != (level.Facing{}) || m.MeterDB != -3 || m.LowCut.V != 120 || m.GainCue.V != "7A" ||
		p.Errors() > 0 {
		t.Errorf("as the rig says: %+v, %+v; %v", k, m, p.All())
	}
	var ears []string
	for _, x := range r.People {
		ears = append(ears, fmt.Sprintf("%s %.4g", x.Name, x.At.Z))
	}
	if got := strings.Join(ears, ", "); got != "crew 1.6, kids 0, usher 1.219" {
		t.Errorf("ears: %s", got)
	}
	if r, _ = soundKeys(t, "", "aim = \"on 50; 40 in front of front sideline\"", "pattern = 0.25\nfacing = -30"); r.
		Stacks[1].Aim.Z != level.EarHeightM || r.Mics[0].OmniShare != 0.25 || r.Mics[0].Facing.Deg != -30 {
		t.Errorf("%+v, %+v", r.Stacks[1].Aim, r.Mics[0])
	}
}

// Each wrong value is refused where it is written.
func TestWrongSoundKeys(t *testing.T) {
	for _, c := range []struct{ top, stack, mic, want string }{
		{"", "aim = { x = 20, y = -2, z = 2.5 }", "", `17:8 out-of-range stack "right" aims at its own place`},
		{"", "aim = \"on the moon\"", "", "19:8 bad-dot"},
		{"", "front_back = [3, 6]", "", "19:14 out-of-range 2 numbers, not seven"},
		{"", "front_back = [0, 1, 2, 3, 4, 5, 61]", "", "19:33 out-of-range front_back at 8000 Hz cannot be 61 dB"},
		{"", "", "pattern = \"cardoid\"", `25:11 bad-choice unknown pattern "cardoid"`},
		{"", "", "pattern = 2", "25:11 out-of-range a pattern of 2"},
		{"", "", "pattern = true", "25:11 wrong-type"},
		{"", "", "facing = \"front\"", `25:10 bad-choice unknown facing "front"`},
		{"", "", "facing = 200", "25:10 out-of-range a facing of 200 degrees"},
		{"", "", "meter = 90", "25:9 out-of-range the meter"},
		{"", "", "low_cut = -1", "25:11 out-of-range a low cut cannot be -1 Hz"},
		{"", "", "low_cut = \"low\"", "25:11 wrong-type"},
		{`people = [{ name = "a", at = { x = 1, y = 2 } }, { name = "a", at = { x = 1, y = 3 } }]`, "", "",
			`1:59 duplicate-name there is another place of people "a"`},
		{`people = [{ at = { x = 1, y = 2 } }]`, "", "", "1:11 missing-key"},
		{`people = [{ name = "a", at = { x = 1, y = 2 }, height = 900 }]`, "", "", "1:57 out-of-range height"},
		{"levels.noise = { stack = \"left\", dba = 60, at = \"here\" }", "", "", "1:50 bad-dot"},
	} {
		_, p := soundKeys(t, c.top, c.stack, c.mic)
		if p.Errors() != 1 {
			t.Errorf("%s%s%s: %d errors, want one: %v", c.top, c.stack, c.mic, p.Errors(), p.All())
			continue
		}
		x := p.All()[0]
		if got := strings.TrimPrefix(x.Span.Where(), "rig:") + " " + x.Code + " " + x.What; !strings.HasPrefix(got, c.want) {
			t.Errorf("%s%s%s: %s, want %s", c.top, c.stack, c.mic, got, c.want)
		}
	}
}
