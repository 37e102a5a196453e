package keep

import (
	"strings"
	"testing"
	"unicode/utf8"

	"backfield/cue/score"
	"backfield/layout/source"
)

const scoreText = `title = "Two Lanterns"

[[cue]]
id           = "1"   # the first
at           = "set 1"
open.feature = ["Horn 1"]
# The second is louder.

[[cue]]
id    = "2"
at    = "set 2"
nudge = { "Horn 1" = 1.5, "@horn" = "-1 dB" } # after the rehearsal

[[cue]]
  id = "3"
  at = "set 3"
  [cue.nudge] # own table
  "Horn 2" = 1

[[cue]]
id = "4"
at = "set 4"
nudge."Horn 1" = 2
nudge."Horn 2" = 2 # both

[[cue]]
id = "5"
at = "set 5"
nudge = {}
[[cue.also]]
address = "/x"
`

const rosterText = "player,section,pack,channel,from,trim\n" +
	"Horn 1,horn,P1,1,,\"-1.5\"\nHorn 2,horn,,,,\nHorn 2,horn,P2,2,set 2,2\nHorn 2,horn,P3,3,set 4,\nHorn 3,horn,P4,4\n"

const rigText = "[[mic]]\nname = \"pit left\" # near the gate\nkind = \"pit\"\n\n[[mic]]\nname = \"pit right\"\ntrim = \"3 dB\" # loud\n"

func files() EditFiles {
	return EditFiles{Score: &source.File{Name: "show.toml", Text: scoreText}, Roster: &source.File{Name: "roster.csv", Text: rosterText},
		Rigs: []*source.File{{Name: "rig.toml", Text: rigText}, nil}}
}

// replaced is a text with old lines replaced by new ones, each of which must be there once.
func replaced(t *testing.T, text string, pairs ...string) string {
	t.Helper()
	for i := 0; i < len(pairs); i += 2 {
		if strings.Count(text, pairs[i]) != 1 {
			t.Fatalf("%q is there %d times", pairs[i], strings.Count(text, pairs[i]))
		}
		text = strings.Replace(text, pairs[i], pairs[i+1], 1)
	}
	return text
}

// A role's level is changed in whatever way it is written.
func TestRoles(t *testing.T) {
	const text = "[mix] # dB\nsolo    = 2   # one voice\npad     = { level = \"-12 dB\", dynamics = \"p\" }\npit.level = -6\n"
	f := EditFiles{Score: &source.File{Name: "show.toml", Text: text}}
	hunks, left := Plan(f, Changes{Roles: []RoleStep{{"pit", -2}, {"solo", 4}, {"pad", 1.5}, {"full", 1}, {"solo", 59}}})
	want := "[mix] # dB\nsolo    = 6   # one voice\npad     = { level = -10.5, dynamics = \"p\" }\npit.level = -8\n"
	if got := Apply(f.Score, hunks); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	if s := strings.Join(left, "\n"); s != "the score has no [mix] with role full: write its level there, +1 dB\n"+
		"the level of role solo would be 61 dB; the limit is 60" {
		t.Error(s)
	}
	if got := hunks[0].Diff(); got != "show.toml:2 (role solo)\n- solo    = 2   # one voice\n+ solo    = 6   # one voice\n" {
		t.Error(got)
	}
	if _, left := Plan(files(), Changes{Roles: []RoleStep{{"solo", 4}}}); len(left) != 1 {
		t.Error(left)
	}
}

// Nudges are added to those that a cue has, in whatever way they are written; comments and spacing stay.
func TestNudges(t *testing.T) {
	f := files()
	nudges := []KeptNudge{
		{"1", "Horn 1", -2}, {"1", `the "old" horn`, .1},
		{"2", "Horn 1", .3}, {"2", "Horn 2", 1}, {"2", "@horn", -1},
		{"3", "Horn 1", 1}, {"3", "Horn 2", 1}, {"4", "Horn 3", 1}, {"4", "Horn 1", -2}, {"5", "Horn 1", 1}, {"9", "Horn 1", 1},
	}
	want := replaced(t, scoreText,
		"at           = \"set 1\"\n", "at           = \"set 1\"\nnudge        = { \"Horn 1\" = -2, 'the \"old\" horn' = 0.1 }\n",
		`{ "Horn 1" = 1.5, "@horn" = "-1 dB" }`, `{ "Horn 1" = 1.8, "@horn" = -2, "Horn 2" = 1 }`,
		"[cue.nudge] # own table\n  \"Horn 2\" = 1\n", "[cue.nudge] # own table\n\"Horn 1\" = 1\n  \"Horn 2\" = 2\n",
		`nudge."Horn 1" = 2`, `nudge."Horn 1" = 0`,
		"nudge.\"Horn 2\" = 2 # both\n", "nudge.\"Horn 2\" = 2 # both\nnudge.\"Horn 3\" = 1\n",
		"nudge = {}", `nudge = { "Horn 1" = 1 }`,
	)
	for _, end := range []string{"\n", "\r\n"} {
		f.Score.Text = strings.ReplaceAll(scoreText, "\n", end)
		hunks, left := Plan(f, Changes{Nudges: nudges})
		if len(hunks) != 5 || len(left) != 1 || !strings.Contains(left[0], `cue 9 is not in the score: nudge = { "Horn 1" = 1 }`) {
			t.Fatalf("%d hunks; left: %q", len(hunks), left)
		}
		got := Apply(f.Score, hunks)
		if got != strings.ReplaceAll(want, "\n", end) {
			t.Errorf("the score is\n%s\nwant\n%s", got, want)
		}
		var p source.Problems
		file := &source.File{Name: "show.toml", Text: got}
		read := score.Read(file, &p)
		if p.Has(file, "toml-syntax", "duplicate-key") || len(read.Cues) != 5 || len(read.Cues[3].Nudges) != 3 ||
			read.Cues[0].Nudges[0].DB != -2 {
			t.Errorf("it reads as %+v", read.Cues)
		}
	}
}

// A trim is added to each row in which the player wears a mic; a fixed mic's trim is in the rig.
func TestTrims(t *testing.T) {
	f := files()
	hunks, left := Plan(f, Changes{Trims: []Trim{{"Horn 1", 2}, {"Horn 2", -.5}, {"pit left", 1}, {"pit right", -2}, {"Nobody", 1}, {"Horn 3", 1}}})
	if want := replaced(t, rosterText, `"-1.5"`, `"0.5"`, "set 2,2", "set 2,1.5", "set 4,\n", "set 4,-0.5\n"); Apply(f.Roster, hunks) != want {
		t.Errorf("the roster is\n%s", Apply(f.Roster, hunks))
	}
	if want := replaced(t, rigText, "kind = \"pit\"\n", "kind = \"pit\"\ntrim = 1\n", `"3 dB"`, "1"); Apply(f.Rigs[0], hunks) != want {
		t.Errorf("the rig is\n%s", Apply(f.Rigs[0], hunks))
	}
	if text := strings.Join(left, "\n"); len(left) != 2 || !strings.Contains(text, "Nobody is neither in the roster nor in the rig") ||
		!strings.Contains(text, "roster.csv:6:1: the row of Horn 3 ends before the column trim") {
		t.Errorf("left: %s", text)
	}
	f.Roster = nil
	if hunks, left := Plan(f, Changes{Trims: []Trim{{"pit left", 1}}}); len(hunks) != 1 || len(left) != 0 {
		t.Errorf("without a roster: %v, %q", hunks, left)
	}
	f = files()
	if hunks, left := Plan(f, Changes{Trims: []Trim{{"Horn 1", 62}}}); len(hunks) != 0 || len(left) != 1 ||
		!strings.Contains(left[0], "would be 60.5 dB; the limit is 60") {
		t.Errorf("%v, %q", hunks, left)
	}
}

// A hunk shows the lines that go and those that come; a player with two packs is one hunk.
func TestDiff(t *testing.T) {
	hunks, _ := Plan(files(), Changes{Trims: []Trim{{"Horn 2", 1}, {"pit left", 1}}, Nudges: []KeptNudge{{"2", "Horn 2", 1}}})
	var got string
	for _, h := range hunks {
		got += h.Diff() + "\n"
	}
	const want = `roster.csv:4 (Horn 2)
- Horn 2,horn,P2,2,set 2,2
+ Horn 2,horn,P2,2,set 2,3
roster.csv:5 (Horn 2)
- Horn 2,horn,P3,3,set 4,
+ Horn 2,horn,P3,3,set 4,1

rig.toml:3 (pit left)
+ trim = 1

show.toml:12 (cue 2)
- nudge = { "Horn 1" = 1.5, "@horn" = "-1 dB" } # after the rehearsal
+ nudge = { "Horn 1" = 1.5, "@horn" = "-1 dB", "Horn 2" = 1 } # after the rehearsal

`
	if got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
}

// Whatever a score is, a planned change keeps every other byte, and a score that could be read can still be.
func FuzzNudges(f *testing.F) {
	f.Add(scoreText, "2", "Horn 1")
	f.Add("[[cue]]\nid = \"1\"\nnudge = {\"A\"=1}", "1", "B")
	f.Add("cue = [{id = \"1\"}]", "1", "B")
	f.Fuzz(func(t *testing.T, text, id, name string) {
		if !utf8.ValidString(name) || !utf8.ValidString(text) {
			return // neither JSON nor a file that was read has such text
		}
		files := EditFiles{Score: &source.File{Name: "show.toml", Text: text}, Roster: &source.File{Name: "roster.csv"}}
		var before, after source.Problems
		score.Read(files.Score, &before)
		hunks, left := Plan(files, Changes{Nudges: []KeptNudge{{id, name, 1.5}}})
		if len(hunks)+len(left) != 1 {
			t.Fatalf("%d hunks, %d left", len(hunks), len(left))
		}
		got := Apply(files.Score, hunks)
		for _, h := range hunks {
			_ = h.Diff()
		}
		file := &source.File{Name: "show.toml", Text: got}
		score.Read(file, &after)
		if !before.Has(files.Score, "toml-syntax", "duplicate-key") && after.Has(file, "toml-syntax", "duplicate-key") {
			t.Errorf("was\n%s\nis\n%s", text, got)
		}
	})
}
