package main

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/browser"
	"backfield/cmd/backfield/page"
	"backfield/cmd/backfield/show"
	"backfield/layout/source"
)

// looked reads a show as check does, with its levels, or as the page does at first, without them.
func looked(t *testing.T, dir, venue string, levels bool) (*show.Loaded, []source.Problem) {
	t.Helper()
	var p source.Problems
	s, err := show.Load(show.Disk{}, filepath.Join(dir, "show.toml"), show.LoadOptions{Venue: venue, Levels: levels}, &p)
	if err != nil {
		t.Fatal(err)
	}
	return s, p.All()
}

// TestPageHasAllThatCheckHas draws shows with problems of level: the first drawing has all cues and says that levels are
// being checked, and then the page has the problems of check, at the cue that each is about.
func TestPageHasAllThatCheckHas(t *testing.T) {
	t.Parallel()
	demo := smallDemo(t)
	misread := smallDemo(t) // a reading that is not used: the noise is hardly louder than the background
	replace(t, filepath.Join(misread, "rig.toml"), "[reference]", "[levels]\nbackground = 63\nnoise = { stack = "+
		"\"outer left\", dba = 64 }\n\n[reference]")
	for _, c := range []struct {
		dir, venue string
		want       int // at least so many problems
	}{{"../../testdata/loud/ringing", "", 2}, {demo, demo + "/venues/lantern-quay-night.toml", 1}, {misread, "", 1}} {
		_, want := looked(t, c.dir, c.venue, true)
		s, found := looked(t, c.dir, c.venue, false)
		if len(want) < c.want || len(found) >= len(want) {
			t.Errorf("%s: check has %d problems, %d without levels: it no longer tests this", c.dir, len(want), len(found))
		}
		site := page.NewSite(nil, nil, "")
		judge, err := site.Draw(s, found)
		if err != nil {
			t.Fatal(err)
		}
		if v := viewed(t, site); v.Unchecked != "checking levels" || len(v.Cues) != len(s.Show.Cues) ||
			len(v.Problems) != len(found) {
			t.Errorf("%s at first: %q, %d cues, %d problems", c.dir, v.Unchecked, len(v.Cues), len(v.Problems))
		}
		if all, newest := judge(); !newest || len(all) != len(want) {
			t.Errorf("%s: %d problems of %d, the newest: %v", c.dir, len(all), len(want), newest)
		}
		v := viewed(t, site)
		if v.Unchecked != "" || v.Broken || len(v.Cues) != len(s.Show.Cues) || len(v.Problems) != len(want) {
			t.Fatalf("%s: %q, broken %v, %d cues, %d problems of %d", c.dir, v.Unchecked, v.Broken, len(v.Cues),
				len(v.Problems), len(want))
		}
		for i, p := range v.Problems {
			if p.Code != want[i].Code || !strings.HasPrefix(p.Text, want[i].What) || p.Severity != want[i].Severity.String() {
				t.Errorf("%s: problem %d is %+v, not %v", c.dir, i, p, want[i])
			}
			_, about, _ := strings.Cut(p.Text, "cue \"")
			if id, _, ok := strings.Cut(about, "\""); ok && (p.Cue != id || p.At < 0 || p.Player == "") {
				t.Errorf("%s: at cue %q, count %g, of %q: %s", c.dir, p.Cue, p.At, p.Player, p.Text)
			}
		}
	}
}

// TestPageDropsOlderLevels: what is found of a version that is no longer drawn goes nowhere. Of a show that does not compile
// no levels are checked.
func TestPageDropsOlderLevels(t *testing.T) {
	t.Parallel()
	s, found := looked(t, "../../testdata/loud/ringing", "", false)
	site := page.NewSite(nil, nil, "")
	older, err := site.Draw(s, found)
	if err != nil {
		t.Fatal(err)
	}
	dir := copied(t, "../../testdata/loud/ringing")
	replace(t, filepath.Join(dir, "show.toml"), `"Tpt 1"`, `"Tpt 100"`)
	broken, wrong := looked(t, dir, "", false)
	newer, err := site.Draw(broken, wrong)
	if err != nil || broken.Show != nil {
		t.Fatal("the show compiles", err)
	}
	if all, newest := older(); newest {
		t.Errorf("an older version has %d problems", len(all))
	}
	if all, newest := newer(); !newest || len(all) != len(wrong) {
		t.Errorf("%d problems of %d, the newest: %v", len(all), len(wrong), newest)
	}
	if v := viewed(t, site); v.Unchecked != "" || !v.Broken || len(v.Problems) != len(wrong) {
		t.Errorf("%q, broken %v, %d problems of %d", v.Unchecked, v.Broken, len(v.Problems), len(wrong))
	}
	if err := site.ShowUnchecked(s); err != nil {
		t.Fatal(err)
	}
	if v := viewed(t, site); v.Unchecked == "" || len(v.Problems) != 0 {
		t.Errorf("next to a run the page says %q of %d problems", v.Unchecked, len(v.Problems))
	}
}

// header is what the header says of the problems.
const header = "document.querySelector('#state').textContent"

// TestPageShowsLevelProblems looks at them in a real browser: in the header, the tab, on the timeline and on the field.
func TestPageShowsLevelProblems(t *testing.T) {
	t.Parallel()
	b := browser.Open(t, 1280, 720)
	s, found := looked(t, "../../testdata/loud/ringing", "", false)
	site := page.NewSite(nil, nil, "")
	judge, err := site.Draw(s, found)
	if err != nil {
		t.Fatal(err)
	}
	b.Go(served(t, site))
	b.Await("document.querySelector('.cue') && "+header+" === 'checking levels'", 20*time.Second)
	b.Key("3")
	if text := browser.Eval[string](b, "document.querySelector('#problems').textContent"); text != "checking levels" {
		t.Errorf("the tab says %q before anything was checked", text)
	}
	all, _ := judge()
	want := source.Count(float64(len(all)), "warning")
	b.Await(fmt.Sprintf("%s === %q && document.querySelectorAll('#problems li').length === %d", header, want, len(all)),
		20*time.Second)
	b.Await("document.querySelector('#timeline .problem') && document.querySelector('#tab-problems').textContent.includes('(')",
		5*time.Second)
	b.Click("#problems button")
	b.Await("document.querySelectorAll('.player-problem').length > 1", 5*time.Second) // the player and the mic on a stand
	if faults := b.Faults(); faults != "" {
		t.Errorf("faults of the page:\n%s", faults)
	}
}

// TestPageKeepsInSight: on a laptop the stands leave the rows of the mics and the lanes in sight, on a phone the tabs are on
// the first screen, and a ring that is too small to see has no label.
func TestPageKeepsInSight(t *testing.T) {
	t.Parallel()
	b := browser.Open(t, 1280, 720)
	const harbor = "../../examples/harbor"
	s, _ := looked(t, harbor, harbor+"/venues/lantern-quay-night.toml", false)
	site := page.NewSite(func(*show.Loaded, string, string) (string, error) { return "", nil }, nil, "")
	if err := site.Update(s, nil); err != nil {
		t.Fatal(err)
	}
	address := served(t, site)
	open := func(b *browser.Tab, keys string) {
		t.Helper()
		b.Go(address)
		b.Await("document.querySelector('.cue')", 20*time.Second)
		b.Key(strings.Repeat("]", 9) + keys) // cue 10
	}
	const inSight = "e => { const r = e.getBoundingClientRect(); return r.height > 0 && r.top >= 0 && r.bottom <= innerHeight }"
	open(b, "2s")
	b.Await("document.querySelector('.seats path') && document.querySelectorAll('.lane .sent').length > 2", 20*time.Second)
	lanes := browser.Eval[int](b, "[...document.querySelectorAll('.lane .value')].filter("+inSight+").length")
	rows := browser.Eval[int](b, "[...document.querySelectorAll('.group')].filter("+inSight+
		").reduce((n, e) => n + Number(e.textContent.split('×')[1] || 0), 0) + "+
		"[...document.querySelectorAll('.channel-name')].filter("+inSight+").length")
	high := browser.Eval[float64](b, "document.querySelector('#field').clientHeight")
	if lanes != 2 || rows != 29 || high < 300 {
		t.Errorf("with the stands: %d lanes, %d rows, the field has %g pixels", lanes, rows, high)
	}

	b.Key("mm")
	b.Await("document.querySelector('#legend').textContent.includes('press box: +')", 20*time.Second)
	b.Key("s5")
	b.Await("document.querySelector('#levels').textContent.includes('85 dBA goes out to ')", 20*time.Second)
	labels := "document.querySelectorAll('.rings text').length"
	if n := browser.Eval[int](b, labels); n != 0 {
		t.Errorf("%d labels of rings that are as small as their stacks", n)
	}
	b.Key("[") // cue 9 is louder
	b.Await(labels+" > 0 && "+labels+" === document.querySelectorAll('.rings polygon').length", 20*time.Second)

	phone := b.NewDevice(390, 844)
	open(phone, "5")
	phone.Await("document.querySelector('.caution')", 20*time.Second)
	if top := browser.Eval[float64](phone, "document.querySelector('#levels').getBoundingClientRect().top"); top > 0.8*844 {
		t.Errorf("on a phone the levels begin at pixel %g of 844", top)
	}
	for _, b := range []*browser.Tab{b, phone} {
		if bad := browser.Eval[string](b, overlaps) + b.Faults(); bad != "" {
			t.Error(bad)
		}
	}
}
