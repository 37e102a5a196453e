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
		"first after": {cue("after = 8"), "8:9 two-counts: this is the first cue, so there is nothing for it to follow"},
		"bad id":      {strings.Replace(cue(`at = "1:1"`), `"1"`, `"12.1"`, 1), `7:6 bad-id: "12.1" cannot be a cue id`},
		"id twice": {cue(`at = "1:1"`) + "\n[[cue]]\nid = \"1\"\nat = \"1:9\"",
			`10:6 duplicate-id: there are two cues "1"`},
		"no time": {cue(`at = "soon"`), `8:6 unreadable-count: "soon" is not a count`},
		"beat 0":  {cue(`at = "m. 3 beat 0"`), `8:6 unreadable-count: "m. 3 beat 0": beats are numbered from 1`},
		"movement 0": {cue(`at = "0:m. 3"`),
			`8:6 unreadable-count: "0:m. 3": movements are numbered from 1; write "1:33"`},
		"a time of day": {cue(`at = "02:09:00"`),
			`8:6 unreadable-count: "02:09:00" is a time of day: a spreadsheet makes one from a count such as 2:9`},
		"long fade":   {cue("at = \"1:1\"\nfade = 2000"), "9:8 out-of-range: a fade of 2000 counts"},
		"zero after":  {cue("at = \"1:1\"\n[[cue]]\nid = \"2\"\nafter = 0"), "11:9 out-of-range: 0 counts after"},
		"bad policy":  {cue("at = \"1:1\"\npolicy = \"best\""), `9:10 bad-choice: unknown policy "best"`},
		"bad pan":     {cue(`at = "1:1"`) + "\n[pan]\nby = \"ear\"", `10:6 bad-choice: unknown way to pan "ear"`},
		"wide pan":    {cue(`at = "1:1"`) + "\n[pan]\nwidth = 2", "10:9 out-of-range: pan width is 2"},
		"many stacks": {cue(`at = "1:1"`) + "\n[zones]\nmost = 3", "10:8 out-of-range: 3 stacks for one player"},
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
	if s.LeadMS != 10 || s.WindowMS != 30 || s.PanWidth != 0.8 || s.JointDeg != 6 || s.ZonesMost != 2 || !s.Waypoints.On ||
		s.Waypoints.DriftMS != 5 || s.MakeUp.MaxDB != 0 || s.PanByStands || s.Policy.Set {
		t.Errorf("read %+v", s)
	}
	if f, ok := s.Role("support"); !ok || f.LevelDB != -9 || len(s.RoleNames()) != 2 {
		t.Errorf("roles %q", s.RoleNames())
	}
}
