package causes_test

import (
	"regexp"
	"strings"
	"testing"

	"backfield/cmd/backfield/show"
	"backfield/cue/edits"
	"backfield/cue/work"
)

// titled is one kind of edit of the small show: in a file, a text becomes another; then the titles of the edits must be
// these, in the order of the files.
type titled struct {
	file, old, new string
	titles         string
}

// more has what the small show does not: what edits can be of.
func more(t *testing.T) files {
	f := filesOf(t, "../../testdata/script/show")
	f = f.with(t, "show.toml", "[mix]", `[check]
near_stack = 2

[balance]
share = 60

[delay]
window = 25

[pan]
width = 0.8

[mix]`)
	f = f.with(t, "rig.toml", "[reference]", `people = [{ name = "crew", at = { x = 10, y = -1 } }]

[reference]`)
	f = f.with(t, "rig.toml", "[[stack]]", `[[stands]]
name  = "home"
front = { y = -14, z = 2, width = 30 }
back  = { y = -24, z = 8, width = 40 }
rows  = 4
seats = 10

[[stack]]`)
	return f.with(t, "mixer.toml", "[delay]", `[safety]
ceiling = 6

[[safety.channel]]
channel = 9
ceiling = -3

[param.reverb]
address = "/in/{channel}/reverb"
default = 0
min     = 0
max     = 10
unit    = "dB"

[delay]`)
}

var titledKinds = []titled{
	{"show.toml", "window = 25", "window = 30", "show.toml: window 25 -> 30 ms"},
	{"show.toml", "window = 25", "window = 25\nlead = 5", "show.toml: lead 10 -> 5 ms"},
	{"show.toml", "window = 25", "window = 25\nmargin = 3", "show.toml: margin 2 -> 3 ms"},
	{"show.toml", "window = 25", "window = 25\nbox = [0, 15]", "show.toml: press box 5 to 20 ms -> 0 to 15 ms"},
	{"show.toml", "window = 25", "window = 25\nbox = \"free\"", "show.toml: press box 5 to 20 ms -> free"},
	{"show.toml", "window = 25", "window = 25\nslew = 12", "show.toml: slew 8 -> 12 ms/s"},
	{"show.toml", "window = 25", "window = 25\nknot = 2", "show.toml: delay knot 1 -> 2 ms"},
	{"show.toml", "window = 25", "window = 25\npolicy = \"reference\"", "show.toml: delay policy not set -> reference"},
	{"show.toml", "width = 0.8", "width = 0.5", "show.toml: pan width 0.8 -> 0.5"},
	{"show.toml", "width = 0.8", "width = 0.8\nby = \"stands\"", "show.toml: pan by reference seat -> stands"},
	{"show.toml", "width = 0.8", "width = 0.8\nknot = 0.1", "show.toml: pan knot 0.02 -> 0.1"},
	{"show.toml", "near_stack = 2", "near_stack = 3\nmost_open = 9", "show.toml: checks near_stack 2 -> 3, most_open 24 -> 9"},
	{"show.toml", "near_stack = 2", "allow = [\"lead-short\"]", "show.toml: accepted warnings +lead-short|show.toml: checks near_stack 2 -> 3"},
	{"show.toml", "share = 60", "share = 70\nfeature = 4", "show.toml: balance share 60 -> 70 %, feature lead 3 -> 4 dB"},
	{"show.toml", `glue = ["grass"]`, `support = ["grass"]`, "show.toml: always open support +grass, glue -grass"},
	{"show.toml", "[mix]", "[make_up]\nfrom = 20\nmax = 6\n\n[mix]", "show.toml: distance make-up none -> from 20 m, at most 6 dB"},
	{"show.toml", "support = -9", "support = { level = -9, dynamics = \"p\" }", "role support: dynamics not set -> -12 dB from forte"},
	{"show.toml", "support = -9", "support = { level = -9, box = [0, 9] }", "role support: press box not set -> 0 to 9 ms"},
	{"show.toml", "support = -9", "support = { level = -9, open_early = 1 }", "role support: opens early by 0 -> 1 count"},
	{"show.toml", "support = -9", "support = { level = -9, policy = \"reference\" }", "role support: policy not set -> reference"},
	{"show.toml", "support = -9", "support = { level = -9, reverb = 3 }", "role support: reverb now 3 dB"},
	{"show.toml", "at = 17, bpm = 144", "at = 17, bpm = 150", "movement 1: tempo at count 17 144 -> 150 bpm"},
	{"show.toml", "at = 17, bpm", "at = 19, bpm", "movement 1: tempo change at count 17 -> 19"},
	{"show.toml", "over = 8", "over = 6", "movement 1: tempo change at count 17 over 8 -> 6 counts"},
	{"show.toml", "tempo = 96", "tempo = 100", "movement 2: tempo 96 -> 100 bpm"},
	{"show.toml", "{ at = 17, bpm = 144, over = 8 }", "{ at = 17, pause = 2 }", "movement 1: tempo at count 17 144 bpm -> pause of 2 s"},
	{"show.toml", ", { at = 17, bpm = 144, over = 8 }", "", "movement 1: tempo -at count 17"},
	{"show.toml", ", over = 8 }", ", over = 8 }, { at = 30, pause = 2 }", "movement 1: tempo +pause after count 30"},
	{"show.toml", "wait  = 4", "wait  = 6", "movement 2: wait 4 -> 6 s"},
	{"show.toml", `"Oil"`, `"Lamp Oil"`, "movement 1: renamed Oil -> Lamp Oil"},
	{"show.toml", "fade         = 4", "fade         = 6", "cue 5: fade 4 -> 6 counts"},
	{"show.toml", "fade         = 4", "fade         = 4\nfade_out = 2", "cue 5: fade_out not set -> 2 counts"},
	{"show.toml", "fade         = 4", "fade         = 4\nopen_early = 1", "cue 5: open_early not set -> 1 count"},
	{"show.toml", "fade         = 4", "fade         = 4\nplays = [\"Bass 2\"]\nrests = [\"Bass 1\"]", "cue 5: plays +Bass 2; rests +Bass 1"},
	{"show.toml", "fade         = 4", "fade         = 4\nfacing = { \"Horn 1\" = 45 }", "cue 5: facing +Horn 1"},
	{"show.toml", `allow        = ["lead-short"]`, `allow        = ["not-heard"]`, "cue 5: accepted warnings +not-heard, -lead-short"},
	{"show.toml", "= 1.5 }", "= 2 }", "cue 2: nudge Horn 1 1.5 -> 2 dB"},
	{"show.toml", `["1 ms", "20 ms"]`, `["1 ms", "15 ms"]`, "cue 4: press box 1 to 20 ms -> 1 to 15 ms"},
	{"show.toml", `"set 5 - 2"`, `"set 5 - 4"`, "cue 5: moved, set 5 - 2 -> set 5 - 4"},
	{"show.toml", "keep         = true\n", "", "cue 5: keep on -> off"},
	{"sets.csv", "3,1,16,4", "3,1,16,8", "sets: set 3 hold 4 -> 8"},
	{"roster.csv", "Horn 2,horn,P2,2,,1.6,,mellophone", "Horn 2,horn,P2,2,,1.6,,trumpet", "Horn 2: instrument mellophone -> trumpet"},
	{"roster.csv", "Horn 2,horn,P2,2,,1.6", "Horn 2,horn,P2,2,,1.7", "Horn 2: height 1.6 -> 1.7 m"},
	{"roster.csv", "Bass 1,bass,P3,3,,,-1", "Bass 1,bass,P3,3,,,-2", "Bass 1: trim -1 -> -2 dB"},
	{"roster.csv", "Bass 1,bass,P3,3", "Bass 1,bass,P4,4", "Bass 1: channel 3 -> 4, pack P3 -> P4"},
	{"roster.csv", "instrument\nHorn 1,horn,P1,1,,,,mellophone", "instrument,mic,meter\nHorn 1,horn,P1,1,,,,mellophone,0.2,-3", "Horn 1: mic 12 -> 20 cm away, meter 0 -> -3 dB"},
	{"rig.toml", `"20 C"`, `"68 F"`, ""},
	{"rig.toml", `"20 C"`, `"25 C"`, "air: 20 C (68 F) -> 25 C (77 F)"},
	{"rig.toml", `"4 ms"`, `{ worn = "4 ms", wired = "1 ms" }`, "latency: of wired mics 4 -> 1 ms, of lines 4 -> 0 ms"},
	{"rig.toml", "x = 0\ny = \"-40 yd\"", "x = 2\ny = \"-40 yd\"", "reference seat: moved 2.00 m toward side 2"},
	{"rig.toml", "x = 10, y = -1", "x = 12, y = -1", "rig: people near the stacks crew moved 2.00 m toward side 2"},
	{"rig.toml", "seats = 10", "seats = 12", `stands: "home" 40 -> 48 seats`},
	{"rig.toml", "rows  = 4", "rows  = 4\nweight = 2", `stands: "home" weight 1 -> 2`},
	{"rig.toml", "width = 40 }", "width = 44 }", `stands: "home" its front or back row is elsewhere`},
	{"rig.toml", "z = 2.5 }\nleft  = 1", "z = 3.5 }\nleft  = 1", `stack "left": moved 1.00 m higher`},
	{"rig.toml", "left  = 1\nright = 0", "left  = 0.8\nright = 0.2", `stack "left": left bus 1 -> 0.8, right bus 0 -> 0.2`},
	{"rig.toml", "left  = 1\nright = 0", "left  = 1\nright = 0\ntrim = -3\ndelay = \"2 ms\"", `stack "left": trim 0 -> -3 dB, delay 0 -> 2 ms`},
	{"rig.toml", "left  = 1\nright = 0", "left  = 1\nright = 0\nmouth = 0.9", `stack "left": mouth 0.5 -> 0.9 m`},
	{"rig.toml", "channel = 9", "channel = 10", "mic grass: channel 9 -> 10"},
	{"rig.toml", "channel = 9", "channel = 9\npan = 0.5\ndelay = 12", "mic grass: pan computed -> 0.5, delay computed -> 12 ms"},
	{"rig.toml", "channel = 9", "channel = 9\ntrim = -2\nfacing = \"back\"\nmeter = 6\nlow_cut = 120", "mic grass: trim 0 -> -2 dB, meter 0 -> 6 dB, low_cut not set -> 120 Hz"},
	{"mixer.toml", "channels = 16", "channels = 16\npan_law = \"linear\"", "mixer: pan law constant-power -> linear"},
	{"mixer.toml", "[pan]\naddress = \"/in/{channel}/pan\"", "[pan]\naddress = \"/in/{channel}/pan\"\nmin = -0.5\nmax = 0.5\nscale = { from = [-0.5, 0.5], to = [0, 1] }", "mixer: pan range -1 to 1 -> -0.5 to 0.5"},
	{"mixer.toml", "max     = 500", "max     = 340", "mixer: delay range 0 to 500 -> 0 to 340 ms"},
	{"mixer.toml", "max     = 500", "max     = 500\nstep = 0.5", "mixer: delay step 0.1 -> 0.5 ms"},
	{"mixer.toml", "max     = 500", "max     = 500\nmoves = \"glide\"", "mixer: delay moves while closed -> all the time"},
	{"mixer.toml", "ceiling = -3", "ceiling = -4", "mixer: ceiling of channel 9 -3 -> -4 dB"},
	{"mixer.toml", "ceiling = 6", "ceiling = 3", "mixer: level at most 6 -> 3 dB"},
	{"mixer.toml", "default = 0", "default = 2", "mixer: reverb default 0 dB -> 2 dB"},
	{"mixer.toml", "max     = 10", "max     = 8", "mixer: reverb range 0 to 10 -> 0 to 8"},
	{"mixer.toml", "unit    = \"dB\"", "unit    = \"%\"", "mixer: reverb unit dB -> %"},
}

// bare are words that name no value: what a title must not end in, and a number without what it is of.
var bare = regexp.MustCompile(`changed$|\b(true|false|nil|NaN|Inf|\{|\[)`)

// Each kind of edit has a title that names what it is of, what it was and is, and the unit. All titles and lines of a
// report are those of the edit: nothing else is blamed.
func TestTitles(t *testing.T) {
	t.Parallel()
	old := more(t)
	var memo work.Memo
	a := compiled(old, &memo)
	if a == nil {
		t.Fatal(whyNot(old))
	}
	for _, k := range titledKinds {
		new := old.with(t, k.file, k.old, k.new)
		b := compiled(new, &memo)
		if b == nil {
			t.Errorf("%s, %q: the new version has errors: %s", k.file, k.new, whyNot(new))
			continue
		}
		var titles []string
		for _, e := range titlesOf(a, b) {
			titles = append(titles, e)
			if bare.MatchString(e) {
				t.Errorf("%q does not say what was and is", e)
			}
		}
		if got := strings.Join(titles, "|"); got != k.titles {
			t.Errorf("%s, %q: %q, want %q", k.file, k.new, got, k.titles)
		}
		r, _ := find(a, b, &memo)
		for _, c := range r.Causes {
			if !strings.Contains("|"+k.titles+"|", "|"+c.Edit+"|") {
				t.Errorf("%s, %q: blames %q", k.file, k.new, c.Edit)
			}
		}
		if r.Rest != nil {
			t.Errorf("%s, %q: the cause of %q is not found", k.file, k.new, r.Rest.Changes)
		}
	}
}

func titlesOf(a, b *show.Loaded) (list []string) {
	found := edits.Find(&a.Input.Files, &b.Input.Files)
	for i := range found {
		list = append(list, found[i].Title())
	}
	return list
}
