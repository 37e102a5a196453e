package loudness_test

import (
	"bytes"
	"math"
	"regexp"
	"strings"
	"testing"

	"backfield/cmd/backfield/loudness"
	"backfield/cmd/backfield/show"
	"backfield/cue/balance"
	"backfield/layout/source"
)

// TestMeasured: what is held back before noise and brass were measured is there afterwards, as the engine has it, each
// number with its give or take, and the lead's is narrower.
func TestMeasured(t *testing.T) {
	var p source.Problems
	s, err := show.Load(show.Disk{}, "../../../examples/harbor/show.toml", show.LoadOptions{}, &p)
	if err != nil {
		t.Fatal(err)
	}
	l := s.Loudness(&p)
	if l == nil {
		t.Fatal(p.All())
	}
	i := 0
	for s.Show.Cues[i].ID != "10" {
		i++
	}
	c := l.Cue(i)
	page := func(noise, brass bool) (string, *loudness.LoudnessCue) {
		l.Measured.Noise, l.Measured.Brass = noise, brass
		c.Measured = l.Measured
		r := loudness.NewReport(s, l, []*balance.CueLoudness{c})
		var b bytes.Buffer
		r.Page(&b, &r.Cues[0])
		return b.String(), &r.Cues[0]
	}
	levels := &s.Setup.Rig.Levels
	const behind = "and a background of "
	for _, background := range []float64{20, 95} {
		levels.BackgroundDBA = &background
		if text, x := page(true, true); *x.Box.Background != background || strings.Contains(text, behind) != (background > 90) {
			t.Errorf("at a background of %g dBA:\n%s", background, text)
		}
	}
	levels.BackgroundDBA = nil
	for _, one := range [][2]bool{{false, false}, {true, false}, {false, true}} {
		text, x := page(one[0], one[1])
		if strings.Contains(text, "dBA") || strings.Contains(text, "loop -") || strings.Contains(text, "take 4 dB") {
			t.Errorf("%v says more than was measured:\n%s", one, text)
		}
		if x.OverBoxDB != nil || x.MarginDB != nil || x.Box != nil || x.PlayerLeads != "" || x.MarginKept != "" {
			t.Errorf("%v: %+v", one, x)
		}
	}
	text, x := page(true, true)
	over, _ := c.Heard.OverAtBox()
	for db, got := range map[float64]float64{10: x.LeadsAt.Pct, 3: x.LeadsAt.From, 17: x.LeadsAt.To} {
		if want, _ := c.Heard.ShareOver(db); math.Abs(got-100*want) > 0.006 {
			t.Errorf("%g %% of the seats are within %g dB, want %g", got, db, 100*want)
		}
	}
	worst := math.Inf(-1)
	for _, m := range c.Loops {
		db, _ := m.Gains.GreatestDB()
		worst = max(worst, db)
	}
	if math.Abs(*x.OverBoxDB-over.DB) > 0.006 || math.Abs(*x.MarginDB+worst) > 0.006 {
		t.Errorf("over %v and margin %v, want %v and %v", *x.OverBoxDB, *x.MarginDB, over.DB, -worst)
	}
	for _, want := range []string{
		`(?m)^  lead .* give or take 4 dB$`, `(?m)^  at the box .* dBA, give or take 4 dB$`,
		`(?m)^  player leads  stacks \+[0-9]+ dB .*: (yes|likely|unlikely|no), give or take 7 dB$`,
		`(?m)^                within 10 dB at [0-9]+ % of the seats \([0-9]+ to [0-9]+ %\); the stacks are in time at [0-9]+ %$`,
		`(?m)^FEEDBACK  margin -?[0-9]+ dB, wanted 6: (yes|likely|unlikely|no), give or take 5 dB$`,
		`(?m)^  baritone \(20\), own sound   [0-9]+ dBA, give or take 4 dB$`, `at 125 Hz, loop -[0-9]+ dB `,
	} {
		if !regexp.MustCompile(want).MatchString(text) {
			t.Errorf("no %s in\n%s", want, text)
		}
	}
	if strings.Contains(text, "measure first") || strings.Contains(text, "safe") ||
		regexp.MustCompile(`[0-9]\.[0-9]+ (dB|%)`).MatchString(text) {
		t.Errorf("a withheld figure, a decimal or a promise in\n%s", text)
	}
}

// TestNear: before noise and brass were measured nothing is said of levels near people. Afterwards the loudest ear is
// named, of one cue and of the show, whose loudest cue is the show's.
func TestNear(t *testing.T) {
	t.Parallel()
	s, cues := heard(nil)
	var p source.Problems
	l := s.Loudness(&p)
	page := func(cues []*balance.CueLoudness) (*loudness.LoudnessReport, string) {
		r := loudness.NewReport(s, l, cues)
		r.AddNear(s, l, cues)
		var b bytes.Buffer
		if r.Page(&b, &r.Cues[0]); len(cues) > 1 {
			r.Table(&b)
		}
		return r, b.String()
	}
	if r, text := page(cues[:1]); r.Cues[0].Near != nil || !strings.Contains(text, "NEAR PEOPLE  measure first") {
		t.Errorf("before the readings: %+v\n%s", r.Cues[0].Near, text)
	}
	l.Measured.Noise, l.Measured.Brass = true, true
	show, text := page(cues)
	most := 0.0
	for i := range show.Cues {
		n := show.Cues[i].Near
		if n == nil || n.StacksDose != nil {
			t.Fatalf("cue %s: %+v", show.Cues[i].ID, n)
		}
		if n.All != nil { // somebody plays
			most = max(most, *n.All.DBA)
		}
	}
	s.Setup.Rig.Blocks, s.Setup.Rig.Surveyed = nil, nil
	if _, text := page(cues); !strings.Contains(text, "the press box (the rig has no stands)") {
		t.Errorf("without stands it names no place:\n%s", text)
	}
	if n := show.Near; *n.All.DBA != most || n.DayS != 3*3600 || *n.AllDose.Pct < *n.StacksDose.Pct || n.All.Name == "" {
		t.Errorf("over the show: %+v, %+v", n.All, n.AllDose)
	}
	for _, want := range []string{"give or take 4 dB (doses: 2.5 times more or less)", "dBA, ear of ", "% of a day's dose in 3 h"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
	one, _ := page(cues[9:10])
	if a, b := one.Cues[0].Near.All, show.Cues[9].Near.All; *a.DBA != *b.DBA || a.Where != b.Where {
		t.Errorf("one cue alone %+v, within the show %+v", a, b)
	}
}
