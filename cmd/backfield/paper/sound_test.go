package paper

import (
	"html"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"backfield/cmd/backfield/runsheet"
	"backfield/cmd/backfield/show"
	"backfield/layout/source"
)

// harbor is the demo, with a night's readings unless these are "".
func harbor(t *testing.T, readings string) *Papers {
	t.Helper()
	o := show.LoadOptions{}
	if readings != "" {
		o.Venue = filepath.Join(t.TempDir(), "night.toml")
		if err := os.WriteFile(o.Venue, []byte("name = \"night\"\n"+readings), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	var p source.Problems
	s, err := show.Load(show.Disk{}, "../../../examples/harbor/show.toml", o, &p)
	if err != nil || s.Show == nil {
		for _, x := range p.All() {
			t.Log(x.What)
		}
		t.Fatal("the demo does not compile", err)
	}
	papers, err := Gather(s, nil)
	if err != nil {
		t.Fatal(err)
	}
	return papers
}

// The lines of the readings sheet, with numbers in their blanks, are a venue's levels; with them the gains are there, and
// the leads are no longer in question.
func TestReadingsAreTyped(t *testing.T) {
	t.Parallel()
	before := harbor(t, "")
	page := pagesOf(t, before)["readings"]
	pre := regexp.MustCompile(`(?s)<pre>(.*)</pre>`).FindStringSubmatch(string(page.HTML))
	if pre == nil {
		t.Fatal("no lines to type")
	}
	typed := html.UnescapeString(pre[1])
	for blank, number := range map[string]string{"background": "47", "noise": "66.5", "brass": "71", "player": "60",
		"mic": "3"} {
		line := regexp.MustCompile(`(?m)^(\W*` + blank + `\b.*)____`)
		if !line.MatchString(typed) {
			t.Errorf("nothing to fill in for %s in\n%s", blank, typed)
		}
		typed = line.ReplaceAllString(typed, "${1}"+number)
	}
	after := harbor(t, typed)
	if m := after.sound.Measured; !m.Noise || !m.Brass {
		t.Errorf("measured: %+v, with\n%s", m, typed)
	}
	levels := after.Show.Rig.Levels
	if len(levels.Solo) != 3 || len(levels.Ring) != 9 {
		t.Errorf("%d soloists and %d rings, want 3 and 9", len(levels.Solo), len(levels.Ring))
	}
	var beforePages []runsheet.CuePage
	for name, p := range map[string]*Papers{"before": before, "after": after} {
		asked, computed := 0, 0
		for _, r := range p.gains().Rows {
			switch {
			case r.Gain == "?":
				asked++
			case r.GainDB.OK:
				computed++
			}
		}
		if name == "before" && (asked == 0 || computed > 0) || name == "after" && (asked > 0 || computed == 0) {
			t.Errorf("%s the readings: %d gains are withheld, %d printed", name, asked, computed)
		}
		pages := p.runPages()
		if name == "before" {
			beforePages = pages
		}
		lead := leadOf(pages, "10")
		if strings.Contains(lead, "?") != (name == "before") || !strings.Contains(lead, ", wanted +6") {
			t.Errorf("%s the readings the lead of cue 10 is %q", name, lead)
		}
	}
	if got := leadOf(beforePages, "10"); got != "+6 dB?, give or take 5, wanted +6" {
		t.Errorf("lead of cue 10: %q, and balance says +6", got)
	}
	if got := leadOf(beforePages, "1"); got != "" {
		t.Errorf("nobody is featured in cue 1, and its lead is %q", got)
	}
}

// Every channel that has a mic is on the gain sheet, and whoever works near loud sound is told what to do first.
func TestGainSheet(t *testing.T) {
	t.Parallel()
	p := harbor(t, "")
	rows := p.gains().Rows
	on := map[string]bool{}
	for _, r := range rows {
		on[r.Name] = true
	}
	for _, c := range p.Show.Show.Cues[len(p.Show.Show.Cues)/2].Channels {
		if c.Player != "" && !on[c.Player] {
			t.Errorf("%s is not on the gain sheet", c.Player)
		}
	}
	all := pagesOf(t, p)
	for name, words := range map[string][]string{
		"gains":    {"measure first", "protection", "Local codes", "not stated"},
		"readings": {"ears protected", "nobody in front of the stacks", "Local codes", "M0", "M1", "M2", "M4", "M3"},
		"run":      {`<span class="tag">lead</span>`, "were not measured here"},
	} {
		text, at := string(all[name].HTML), 0
		for _, w := range words {
			if !strings.Contains(text, w) {
				t.Errorf("the sheet %s does not say %q", name, w)
			}
		}
		if name != "readings" {
			continue
		}
		for _, m := range []string{"M0", "M1", "M2", "M4", "M3"} {
			next := strings.Index(text, `"pack">`+m)
			if next < at {
				t.Errorf("%s is not in the order in which it is read", m)
			}
			at = next
		}
	}
}

// A show whose levels cannot be computed is printed all the same, and says so.
func TestSheetsWithoutLevels(t *testing.T) {
	t.Parallel()
	p := gathered(t, sixty(), "show.toml", nil)
	if p.sound != nil {
		t.Fatal("the horns are known instruments")
	}
	all := pagesOf(t, p)
	for _, name := range []string{"gains", "readings"} {
		if !strings.Contains(string(all[name].HTML), "Levels could not be computed") {
			t.Errorf("the sheet %s does not say that levels could not be computed", name)
		}
	}
	if strings.Contains(string(all["run"].HTML), `<span class="tag">lead</span>`) {
		t.Error("the run sheet has leads")
	}
}

// leadOf is the lead of a cue as the run sheet prints it.
func leadOf(pages []runsheet.CuePage, cue string) string {
	for _, page := range pages {
		for _, x := range page.Parts {
			if x.Row == nil || x.Row.ID != cue {
				continue
			}
			for _, l := range x.Row.Lines {
				if l.Tag == "lead" {
					return l.Text
				}
			}
		}
	}
	return ""
}
