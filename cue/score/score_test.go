package score

import (
	"fmt"
	"strings"
	"testing"

	"backfield/layout/source"
)

const head = `drill = { sets = "sets.csv", dots = "dots.csv" }
roster = "r"
rig = "g"
mixer = "d"
`

const tempo = "movement = [{ tempo = 120 }]\n"

func read(text string) (*Score, string) {
	var p source.Problems
	s := Read(&source.File{Name: "show.toml", Text: text}, &p)
	var b strings.Builder
	for _, x := range p.All() {
		line, column := x.Span.Position()
		fmt.Fprintf(&b, "%d:%d %s: %s; %s\n", line, column, x.Code, x.What, x.Do)
	}
	return s, b.String()
}

// Each mistake of a score is reported at its place, alone.
func TestMistakes(t *testing.T) {
	cue := func(keys string) string { return head + tempo + "[[cue]]\nid = \"1\"\n" + keys }
	for name, c := range map[string]struct{ text, want string }{
		"fine":  {cue(`at = "1:1"`), ""},
		"no at": {cue("keep = true"), `6:1 missing-key: the key "at" is missing`},
		"at and after": {cue("at = \"1:1\"\nafter = 8"),
			"9:9 two-counts: this cue has both at and after"},
		"first after": {cue("after = 8"),
			"8:9 two-counts: this is the first cue, so there is nothing for it to follow"},
		"bad id": {strings.Replace(cue(`at = "1:1"`), `"1"`, `"12.1"`, 1), `7:6 bad-id: "12.1" cannot be a cue id`},
		"id twice": {cue(`at = "1:1"`) + "\n[[cue]]\nid = \"1\"\nat = \"1:9\"",
			`10:6 duplicate-id: there are two cues "1"`},
		"no time": {cue(`at = "soon"`), `8:6 unreadable-count: "soon" is not a count`},
		"beat 0":  {cue(`at = "m. 3 beat 0"`), `8:6 unreadable-count: "m. 3 beat 0": beats are numbered from 1`},
		"movement 0": {cue(`at = "0:m. 3"`),
			`8:6 unreadable-count: "0:m. 3": movements are numbered from 1; write "1:33"`},
		"a time of day": {cue(`at = "02:09:00"`),
			`8:6 unreadable-count: "02:09:00" is a time of day: a spreadsheet makes one from a count such as 2:9`},
		"long fade":  {cue("at = \"1:1\"\nfade = 2000"), "9:8 out-of-range: a fade of 2000 counts"},
		"zero after": {cue("at = \"1:1\"\n[[cue]]\nid = \"2\"\nafter = 0"), "11:9 out-of-range: 0 counts after"},
		"bad policy": {cue("at = \"1:1\"\npolicy = \"best\""), `9:10 bad-choice: unknown policy "best"`},
		"bad pan":    {cue(`at = "1:1"`) + "\n[pan]\nby = \"ear\"", `10:6 bad-choice: unknown way to pan "ear"`},
		"wide pan":   {cue(`at = "1:1"`) + "\n[pan]\nwidth = 2", "10:9 out-of-range: pan width is 2"},
		"wide margin": {cue(`at = "1:1"`) + "\n[delay]\nwindow = 3\nmargin = 2",
			"11:10 out-of-range: the margin of 2 ms is out of range (0 to 1.5 ms)"},
		"narrow window": {cue(`at = "1:1"`) + "\n[delay]\nwindow = 3", ""},
		"slow slew": {cue(`at = "1:1"`) + "\n[delay]\nslew = 2.9",
			"10:8 out-of-range: the slew, in ms a second, cannot be 2.9; it is 3 to 20"},
		"long dip":    {cue(`at = "1:1"`) + "\n[delay]\ndip = 61", "10:7 out-of-range: the dip"},
		"coarse knot": {cue(`at = "1:1"`) + "\n[delay]\nknot = 6", "10:8 out-of-range: the knot"},
		"uneven knot": {cue(`at = "1:1"`) + "\n[delay]\nknot = 0.25",
			"10:8 out-of-range: a knot of 0.25 ms; it is a multiple of 0.1 ms"},
		"wide pan knot": {cue(`at = "1:1"`) + "\n[pan]\nknot = 0.3",
			"10:8 out-of-range: the pan's knot cannot be 0.3"},
		"box backward": {cue(`at = "1:1"`) + "\n[delay]\nbox = [20, 5]",
			"10:7 out-of-range: the press box's bound goes from 20 to 5 ms"},
		"far box": {cue(`at = "1:1"`) + "\n[delay]\nbox = [5, \"0.3 s\"]",
			"10:11 out-of-range: the press box's bound"},
		"box of one": {cue(`at = "1:1"`) + "\n[delay]\nbox = [5]", "10:7 wrong-type: "},
		"box of a word": {cue(`at = "1:1"`) + "\n[delay]\nbox = \"none\"",
			`10:7 bad-choice: unknown bound at the press box "none"`},
		"a cue's box": {cue("at = \"1:1\"\nbox = [30, 5]"),
			"9:7 out-of-range: the press box's bound goes from 30 to 5 ms"},
		"a role's box": {cue(`at = "1:1"`) + "\n[mix]\nsolo = { level = 1, box = [30, 5] }",
			"10:27 out-of-range: the press box's bound"},
		"free by its old name": {cue(`at = "1:1"`) + "\n[delay]\nfree = true",
			"10:1 unknown-key: delay.free is now called delay.box; write box = \"free\""},
		"not free": {cue(`at = "1:1"`) + "\n[delay]\nfree = false",
			"10:1 unknown-key: delay.free is now called delay.box; delete the line"},
		"waypoints": {cue(`at = "1:1"`) + "\n[waypoints]\ndrift = 4",
			"9:2 waypoints-gone: [waypoints] is gone: an open channel's delay and pan now glide along a path"},
		"follow":            {cue(`at = "1:1"`) + "\n[follow]\non = false", "9:2 waypoints-gone: [follow] is gone"},
		"a cue's follow":    {cue("at = \"1:1\"\nfollow = false"), `9:1 waypoints-gone: "follow" is gone`},
		"a cue's waypoints": {cue("at = \"1:1\"\nwaypoints = false"), `9:1 waypoints-gone: "waypoints" is gone`},
		"long fade out":     {cue("at = \"1:1\"\nfade_out = 2000"), "9:12 out-of-range: a fade of 2000 counts"},
		"too early": {cue("at = \"1:1\"\nopen_early = 65"),
			"9:14 out-of-range: open_early, in counts, cannot be 65; it is 0 to 64"},
		"a role too early": {cue(`at = "1:1"`) + "\n[mix]\nsolo = { level = 1, open_early = -1 }",
			"10:34 out-of-range: open_early"},
		"early in seconds": {cue("at = \"1:1\"\nopen_early = \"1 s\""),
			"9:14 wrong-type: open_early is in counts, not seconds"},
		"many stacks": {cue(`at = "1:1"`) + "\n[zones]\nmost = 3",
			"10:8 out-of-range: 3 stacks for one player"},
		"late tempo": {head + "movement = [{ tempo = [{ at = 5, bpm = 120 }] }]\n",
			"5:31 bad-tempo: the first tempo entry is at count 5"},
		"overlap": {head + "movement = [{ tempo = [{ at = 1, bpm = 120 }, { at = 9, bpm = 90, over = 8 }, " +
			"{ at = 12, bpm = 80 }] }]\n",
			"5:86 bad-tempo: this tempo entry at count 12 begins before the one above has ended (count 17)"},
		"slow": {head + "movement = [{ tempo = 5 }]\n", "5:23 bad-tempo: a tempo of 5"},
		"no place in the music": {head + "movement = [{ tempo = { music = \"a.mid\", from = \"set 3\" } }]\n",
			`5:49 unreadable-count: "set 3" is not a place in this movement's music`},
		"early pause": {head + "movement = [{ tempo = { music = \"a.mid\", pauses = [{ at = 0, pause = 2 }] } }]\n",
			"5:59 bad-tempo: a pause at count 0"},
		"tempo in quotes": {head + "movement = [{ tempo = \"120 bpm\" }]\n",
			`5:23 bad-music: "120 bpm" is not a music file; write a tempo as a bare number, without quotes`},
		"unknown type": {cue("at = \"1:1\"\nalso = [{ address = \"/a\", args = [1], types = \"q\" }]"),
			`9:48 raw-type: no OSC type 'q' is known here`},
		"too few types": {cue("at = \"1:1\"\nalso = [{ address = \"/a\", args = [1, 2], types = \"i\" }]"),
			"9:50 raw-type: 1 type for 2 arguments"},
		"no number": {cue("at = \"1:1\"\nalso = [{ address = \"/a\", args = [\"x\"], types = \"i\" }]"),
			"9:35 raw-type: type i is a number, but this is a string"},
		"too large": {cue("at = \"1:1\"\nalso = [{ address = \"/a\", args = [1e10], types = \"i\" }]"),
			"9:35 raw-type: type i cannot hold 1e+10"},
		"other truth": {cue("at = \"1:1\"\nalso = [{ address = \"/a\", args = [true], types = \"F\" }]"),
			"9:35 raw-type: this value does not match type F"},
		"not ASCII": {cue("at = \"1:1\"\nalso = [{ address = \"/a\", args = [\"é\"] }]"),
			"9:35 raw-type: an OSC string can only have printable ASCII characters"},
		"a list": {cue("at = \"1:1\"\nalso = [{ address = \"/a\", args = [[1]] }]"),
			"9:35 wrong-type: an argument must be a number, a string, true or false, but this is a list"},
	} {
		_, got := read(c.text)
		if c.want == "" && got != "" || !strings.HasPrefix(got, c.want) || strings.Count(got, "\n") > 1 {
			t.Errorf("%s: reported\n%swant\n%s", name, got, c.want)
		}
	}
}

// What is read of a score whose syntax is broken is the names of the other files.
func TestBrokenScore(t *testing.T) {
	s, got := read("drill = { sets = \"a.csv\", dots = \"b.csv\" }\nroster = \"c.csv\"\nrig = \"d.toml\n")
	if !strings.HasPrefix(got, "3:") || !s.Partial {
		t.Errorf("reported %s, partial %t", got, s.Partial)
	}
	if s.Sets.V != "a.csv" || s.Dots.V != "b.csv" || s.Roster.V != "c.csv" || s.Rig.Set {
		t.Errorf("names %q %q %q, rig %t", s.Sets.V, s.Dots.V, s.Roster.V, s.Rig.Set)
	}
}

// What a score leaves out is what the reference page says.
func TestDefaults(t *testing.T) {
	s, got := read(head + tempo)
	if got != "" {
		t.Fatal(got)
	}
	if s.LeadMS != 10 || s.WindowMS != 25 || s.PanWidth != 0.8 || s.JointDeg != 6 || s.ZonesMost != 2 ||
		s.MakeUp.MaxDB != 0 || s.PanByStands || s.Policy.Set {
		t.Errorf("read %+v", s)
	}
	if s.MarginMS != 2 || s.BoxMS != [2]float64{5, 20} || s.Free || s.SlewMSPS != 8 || s.DipS != 0 || s.KnotMS != 1 ||
		s.PanKnot != 0.02 {
		t.Errorf("read %+v", s)
	}
	if f, ok := s.Role("support"); !ok || f.LevelDB != -9 || len(s.RoleNames()) != 2 {
		t.Errorf("roles %q", s.RoleNames())
	}
}

// A cue's bound at the press box comes before its role's, and that before the show's; the same with what opens early.
func TestOwnBoxAndEarly(t *testing.T) {
	s, got := read(head + tempo + `[delay]
box = "free"
[mix]
solo = { level = 2, box = [5, "15 ms"], open_early = 2 }
bed = -9
[[cue]]
id = "1"
at = "1:1"
fade = 4
[[cue]]
id = "2"
at = "1:9"
fade = 4
fade_out = 0
box = [8, 12]
open_early = "0.5 counts"
`)
	if got != "" {
		t.Fatal(got)
	}
	for _, c := range []struct {
		cue, role int
		box       BoxBound
		early     float64
	}{
		{0, 0, BoxBound{[2]float64{5, 15}, false}, 2}, {0, 1, BoxBound{[2]float64{5, 20}, true}, 0},
		{1, 0, BoxBound{[2]float64{8, 12}, false}, 0.5}, {1, 1, BoxBound{[2]float64{8, 12}, false}, 0.5},
	} {
		q, r := &s.Cues[c.cue], &s.Roles[c.role]
		if box, early := s.BoxOf(q, r), s.EarlyOf(q, r); box != c.box || early != c.early {
			t.Errorf("cue %s, role %s: box %v, early %g; want %v, %g", q.ID.V, r.Name, box, early, c.box, c.early)
		}
	}
	if s.Cues[0].FadeOut != nil || s.Cues[1].FadeOut == nil || *s.Cues[1].FadeOut != 0 {
		t.Errorf("fades out %v, %v", s.Cues[0].FadeOut, s.Cues[1].FadeOut)
	}
}
