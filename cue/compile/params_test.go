package compile

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"backfield/cue"
	"backfield/cue/timeline"
)

var ownParams = []timeline.Param{
	{MixerParam: cue.MixerParam{Name: "air", Unit: "dB", Fade: true}, Limits: timeline.Limits{Min: -12, Max: 12, Step: 0.5},
		Default: 1},
	{MixerParam: cue.MixerParam{Name: "cut", Switch: true}, Limits: timeline.Limits{Min: 0, Max: 1, Step: 1}, Default: 1},
}

// withParams is the base with a role, a player and cues that set the mixer's own parameters.
func withParams() files {
	f := base
	f.score = strings.Replace(f.score, "feature = 0\n", "feature = { level = 0, air = 3, cut = false }\n", 1)
	f.roster = "player,section,pack,channel,param.air,Param.Cut\nA,trumpet,P1,1,,\nB,trumpet,P2,2,-2.3,ON\n" +
		"C,baritone,,,,\n"
	f.score += `
[[cue]]
id = "1"
at = "1:1"
open.feature = ["A"]
open.support = ["field"]
also = [{ address = "/x", args = [1, 1.0, "s", true, false] }, { address = "/y", args = [2, 3], types = "hd" }]
[[cue]]
id = "2"
at = "1:9"
open.feature = ["@trumpet"]
param.air = { "@trumpet" = 40, A = 5.2 }
allow = ["param-range"]
[[cue]]
id = "3"
at = "1:17"
keep = true
[[cue]]
id = "4"
at = "1:25"
open.support = ["B"]
param.cut = { B = false }
`
	return f
}

// The cue goes before the player, the player before the role, the role before the mixer's default. Closed channels have
// what they need next. All lie on the mixer's steps, within its limits.
func TestParams(t *testing.T) {
	r := withParams().show(t, ownParams...)
	for _, c := range []struct {
		cue      string
		channel  int
		air, cut float64
	}{
		{"1", 1, 3, 0},  // the role
		{"1", 2, 12, 1}, // what cue 2 needs, limited to the mixer's range; on by the roster
		{"1", 9, 1, 1},  // the mixer's defaults
		{"2", 1, 5, 0},  // the cue, by name: 5.2 on steps of 0.5
		{"2", 2, 12, 1}, // the cue, by the section
		{"3", 1, 3, 0},  // kept without what the cue before has set
		{"3", 2, -2.5, 1},
		{"4", 1, 3, 0}, // after its last opening
		{"4", 2, -2.5, 0},
	} {
		want := []cue.ParamValue{{Name: "air", Value: c.air}, {Name: "cut", Value: c.cut}}
		if got := channelOf(t, r, c.cue, c.channel).Params; !slices.Equal(got, want) {
			t.Errorf("cue %s channel %d has %v, want %v", c.cue, c.channel, got, want)
		}
	}
	for _, c := range []struct{ cue, name, by string }{
		{"1", "A", "role feature"}, {"2", "A", "cue 2"}, {"3", "B", "the roster"}, {"1", "field", "the mixer's default"},
	} {
		w, _, _, err := r.Explain(c.cue, c.name)
		if err != nil || w.Params[0].By != c.by {
			t.Errorf("cue %s, %s: set by %q, want %q, %v", c.cue, c.name, w.Params[0].By, c.by, err)
		}
	}
	if got := fmt.Sprint(r.Show.Cues[0].Also); got != `[/x ifsTF 1 1 "s" /y hd 2 3]` || len(r.Show.Cues[1].Also) != 0 {
		t.Errorf("extra messages of cue 1: %s", got)
	}
	data, err := r.Show.Encode()
	if err != nil {
		t.Fatal(err)
	}
	back, err := cue.Decode(data)
	if err != nil {
		t.Fatal(err)
	}
	again, _ := back.Encode()
	if string(again) != string(data) || !slices.EqualFunc(back.Cues[0].Also, r.Show.Cues[0].Also, cue.Extra.Equal) {
		t.Errorf("written and read it is\n%s\nwas\n%s", again, data)
	}
}

func TestParamFaults(t *testing.T) {
	for _, c := range []struct {
		old, new string
		want     string
	}{
		{"", "", ""},
		{"air = 3", "ari = 3", `no parameter "ari"; did you mean "air"? [unknown-param]`},
		{"level = 0", "levle = 0", `no parameter "levle"; did you mean "level"? [unknown-param]`},
		{"air = 3", "pan = 3", "pan is computed"},
		{"air = 3", "air = true", "air is a number; write a bare number [param-type]"},
		{"air = 3", `air = "3 dB"`, "this must be a number, or true or false for a switch, but is a string"},
		{"cut = false", "cut = 0", "cut is a switch, but 0 is a number"},
		{"air = 3", "air = 13", "role feature: air of 13 dB is out of the mixer's range (-12 to 12)"},
		{"param.air = { \"@trumpet\" = 40, A = 5.2 }", "param.airy = { \"@trumpet\" = 4, A = 5 }",
			`no parameter "airy"; did you mean "air"?`},
		{"A = 5.2", "D = 5.2", `no player and no fixed mic "D"`},
		{"A = 5.2", "field = 5.2",
			`cue "2" sets air for field but does not open it; open it, or remove this [param-closed]`},
		{"allow = [\"param-range\"]", "", `cue "2", @trumpet: air of 40 dB is out of the mixer's range`},
		{"param.air", "Param.Airs", `no parameter "airs"; did you mean "air"?`},
		{"ON", "on and off", `cut "on and off" is not a number`},
		{`types = "hd"`, `types = "h"`, "1 type for 2 arguments"},
		{`types = "hd"`, `types = "hx"`, `no OSC type 'x' is known here`},
		{`types = "hd"`, `types = "hs"`, "type s is a string, but this is a number"},
		{`types = "hd"`, `types = "Td"`, "this value does not match type T"},
		{`[1, 1.0, "s", true, false]`, `[3000000000]`, "type i cannot hold 3e+09"},
		{`[1, 1.0, "s", true, false]`, `["ü"]`, "an OSC string can only have printable ASCII characters"},
		{`[1, 1.0, "s", true, false]`, `[[1]]`, "an argument must be a number, a string, true or false"},
	} {
		f := withParams()
		if c.old == "param.air" || c.old == "ON" {
			f.roster = strings.Replace(f.roster, c.old, c.new, 1)
		} else {
			f.score = strings.Replace(f.score, c.old, c.new, 1)
		}
		_, p := f.compile(t, ownParams...)
		all := p.All()
		switch {
		case c.want == "" && len(all) == 0:
		case len(all) != 1 || !strings.Contains(said(p), c.want):
			t.Errorf("%s: %d problems, want one with %q:\n%s", c.new, len(all), c.want, said(p))
		}
	}
	_, p := withParams().compile(t)
	if !strings.Contains(said(p), `no parameter "air": mixer.toml has no [param] tables; add [param.air] to mixer.toml`) {
		t.Errorf("without a parameter: %s", said(p))
	}
}
