package main

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/browser"
	"backfield/cmd/backfield/page"
	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/source"
)

// night is what an invented crew read in the demo's stadium.
const night = `
[levels]
background = 47
noise = { stack = "outer left", dba = 64 }
brass = { section = "trumpet", set = "7", dynamics = "f", dba = 76 }
ring = [{ mic = "pit left", fader = 2 }]
`

// measured appends readings to a show's rig.
func measured(t *testing.T, dir string) {
	t.Helper()
	rig := filepath.Join(dir, "rig.toml")
	text, err := os.ReadFile(rig)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(rig, append(text, night...), 0o644); err != nil {
		t.Fatal(err)
	}
}

// sited is a show and a site that serves it.
func sited(t *testing.T, dir string) (*show.Loaded, *page.Site) {
	t.Helper()
	s, err := show.Load(show.Disk{}, filepath.Join(dir, "show.toml"), show.LoadOptions{}, &source.Problems{})
	if err != nil || s.Show == nil {
		t.Fatal("the show does not compile", err)
	}
	site := page.NewSite(nil, nil, "")
	if err := site.Update(s, nil); err != nil {
		t.Fatal(err)
	}
	return s, site
}

func asked(site *page.Site, path string, into any) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	site.Handler(page.Loopback).ServeHTTP(w, httptest.NewRequest("GET", "http://127.0.0.1/"+path, nil))
	if into != nil {
		json.Unmarshal(w.Body.Bytes(), into)
	}
	return w
}

// TestPageLevels compares the maps, bars, bells and rings of a cue with the engine.
func TestPageLevels(t *testing.T) {
	t.Parallel()
	dir := copied(t, harbor)
	fewerSeats(t, dir, 10, 27)
	measured(t, dir)
	s, site := sited(t, dir)
	l := s.Loudness(&source.Problems{})
	if l == nil {
		t.Fatal("no loudness")
	}
	for i := range s.Show.Cues {
		id := s.Show.Cues[i].ID
		if id != "9" && id != "10" && id != "12" {
			continue
		}
		var v page.Levels
		if w := asked(site, "levels?cue="+id, &v); w.Code != 200 || !v.Measured {
			t.Fatalf("cue %s: %d %s", id, w.Code, w.Body)
		}
		c := l.Cue(i)
		goals := &s.Setup.Score.Goals
		_, leadEnd := c.Heard.LeadAt(goals.SharePct)
		_, overEnd := c.Heard.OverAtBox()
		target, wanted := goals.TargetOf(c.Role)
		for j := range s.Setup.Seats {
			lead, over := c.Heard[leadEnd].Seats[j].Lead().DB, c.Heard[overEnd].Seats[j].Over().DB
			want := "bad"
			if lead >= 0 && wanted && lead < target {
				want = "between"
			} else if lead >= 0 {
				want = "good"
			}
			if got := v.Lead.Classes[v.Lead.Seats[j]].Sign; got != want {
				t.Fatalf("cue %s, seat %d with a lead of %.2f dB is %s", id, j, lead, got)
			}
			want = "good"
			if over > 15 {
				want = "bad"
			} else if over > 10 {
				want = "between"
			}
			if got := v.Over.Classes[v.Over.Seats[j]].Sign; got != want {
				t.Fatalf("cue %s, seat %d with an over of %.2f dB is %s", id, j, over, got)
			}
		}
		if id == "10" { // one is featured
			for _, ch := range s.Show.Cues[i].Channels {
				if want := fmt.Sprintf("%.0f %% of seats are in time", 100*fitOf(ch)); ch.Player == "Tpt 3" &&
					!strings.HasSuffix(v.Over.Note, want) {
					t.Errorf("cue 10: %q does not say that %s", v.Over.Note, want)
				}
			}
			// The map, the press box and the page of balance agree on where the player leads.
			over, _ := c.Heard.OverAtBox()
			share, _ := c.Heard.ShareOver(goals.OverDB)
			for _, want := range []string{fmt.Sprintf("at the box: %s, give", strings.TrimPrefix(v.Over.Box,
				fmt.Sprintf("%+.0f dB, the player leads: ", over.DB))), fmt.Sprintf("at %.0f %% of the seats", 100*share)} {
				if !strings.Contains(v.Text, want) {
					t.Errorf("cue 10: %q is not in %s", want, v.Text)
				}
			}
			if want := fmt.Sprintf("%.0f %% of seats (", 100*share); !strings.HasPrefix(v.Over.Classes[0].Share, want) {
				t.Errorf("cue 10: the player leads at %q, not %q", v.Over.Classes[0].Share, want)
			}
			if !strings.Contains(v.RingNote, "No place at ear height reaches 100 dBA") {
				t.Errorf("cue 10: %q", v.RingNote)
			}
		}
		// The bells of all who play brass, toward the press box where the show says nothing else.
		n := 0
		for k, end := range c.Ends {
			for _, p := range end.Playing.Performers {
				if !p.Instrument.Brass() || p.Rests {
					continue
				}
				for _, b := range v.Bells {
					axis := [][2]float64{b.From, b.To}[k]
					toBox := layout.Point{X: l.Stadium.Box.X - p.At.X, Y: l.Stadium.Box.Y - p.At.Y}
					along := (axis[0]*toBox.X + axis[1]*toBox.Y) / math.Hypot(toBox.X, toBox.Y)
					if b.Player == p.Name {
						n++
						if !p.Facing.Given && math.Abs(along-1) > 0.001 {
							t.Errorf("cue %s: the bell of %s is drawn at %v, with the box at %v", id, p.Name, axis, toBox)
						}
					}
				}
			}
		}
		if n != 2*len(v.Bells) || n == 0 {
			t.Errorf("cue %s: %d bells are drawn, %d ends of brass players have one", id, len(v.Bells), n)
		}
		// On a ring the stacks are as loud as it says, at one of the ends.
		for _, ring := range v.Rings {
			var at []layout.Point
			for _, p := range ring.Points {
				at = append(at, layout.Point{X: p[0], Y: p[1], Z: level.EarHeightM})
			}
			off := math.Inf(1)
			for _, end := range c.Ends {
				most := 0.0
				for _, near := range l.Stadium.Sounding(end.Playing).Near(at) {
					most = max(most, math.Abs(near.StacksDBA-float64(ring.DBA)))
				}
				off = min(off, most)
			}
			// Where another stack is nearer the ring ends at the middle between the two.
			if off > 1.5 {
				t.Errorf("cue %s: the ring of %d dBA is off by %.2f dB", id, ring.DBA, off)
			}
		}
		// No bar is longer than the one of all mics together, and each names its band.
		for k, m := range v.Mics {
			if m.Part > v.Mics[0].Part || m.Part <= 0 && k < 10 || !strings.HasSuffix(m.Text, " Hz") ||
				strings.Contains(m.Text, " ±2 dB, ") != (m.Name == "pit left") {
				t.Errorf("cue %s: %+v", id, m)
			}
			// A bar is rounded to a thousandth: one that ends at the limit may be on either side of it.
			if math.Abs(m.Part-v.Limit) > 0.0005 && m.Over != (m.Part > v.Limit) {
				t.Errorf("cue %s: %s is marked %v with a bar of %g and the limit at %g", id, m.Name, m.Over, m.Part, v.Limit)
			}
		}
		for _, text := range []string{v.Lead.Title, v.Over.Title, v.MicNote, v.RingNote} {
			if !strings.Contains(text, "give or take ") {
				t.Errorf("cue %s: no give or take in %q", id, text)
			}
		}
		if id == "9" && len(v.Rings) == 0 {
			t.Error("no ring in the loudest cue: the demo no longer tests this")
		}
	}
}

func fitOf(ch cue.Channel) float64 {
	if ch.Fit == nil {
		return 0
	}
	return ch.Fit.InTime
}

// TestPageLevelsHeld: until noise and brass were measured the page shows no number that needs them. A show whose levels
// cannot be computed is drawn all the same.
func TestPageLevelsHeld(t *testing.T) {
	t.Parallel()
	_, site := sited(t, smallDemo(t))
	var v page.Levels
	w := asked(site, "levels?cue=10", &v)
	if v.Measured || !v.Over.Held || len(v.Over.Seats) != 0 || len(v.Rings) != 0 || len(v.Lead.Seats) == 0 {
		t.Errorf("measured %v, over %+v, %d rings, %d seats with a lead", v.Measured, v.Over, len(v.Rings), len(v.Lead.Seats))
	}
	for _, m := range v.Mics {
		if m.Part != 0 || m.Over || strings.Contains(m.Text, "dB") {
			t.Errorf("%+v before anything was measured", m)
		}
	}
	for _, text := range []string{v.Over.Why, v.MicNote, v.RingNote} {
		if !strings.Contains(text, "measure first") {
			t.Errorf("%q does not say measure first", text)
		}
	}
	if strings.Contains(strings.ReplaceAll(w.Body.String(), "No level here is called safe", ""), "safe") {
		t.Error("something is called safe")
	}
	if w := asked(site, "levels?cue=999", nil); w.Code != 404 {
		t.Errorf("a cue that is not there gives %d", w.Code)
	}

	dir := smallDemo(t)
	replace(t, filepath.Join(dir, "roster.csv"), "height,trim", "height,trim,instrument")
	replace(t, filepath.Join(dir, "roster.csv"), "Tpt 3,trumpet,P02,2,,,", "Tpt 3,trumpet,P02,2,,,,kazoo")
	_, site = sited(t, dir)
	if v := viewed(t, site); len(v.Cues) == 0 {
		t.Error("the show is not drawn")
	}
	if w := asked(site, "levels?cue=10", nil); w.Code != 422 || !strings.Contains(w.Body.String(), "roster.csv:") {
		t.Errorf("%d %s", w.Code, w.Body)
	}
}

// TestPageLevelsEverywhere asks for every cue of shows of all kinds: small, with zones, without stands, measured or not.
// Each answer is whole, and has nothing that JSON cannot hold.
func TestPageLevelsEverywhere(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, from string
		change     func(dir string)
	}{
		{"tiny", "../../examples/tiny", func(string) {}},
		{"zones", harbor, func(dir string) {
			fewerSeats(t, dir, 3, 8)
			replace(t, filepath.Join(dir, "show.toml"), `rig    = "rig.toml"`,
				"rig = \"rig.toml\"\nvenue = \"venues/lantern-quay-zones.toml\"")
		}},
		{"no stands", harbor, func(dir string) {
			rig := filepath.Join(dir, "rig.toml")
			text, err := os.ReadFile(rig)
			if err != nil {
				t.Fatal(err)
			}
			before, after, _ := strings.Cut(string(text), "[[stands]]")
			_, after, _ = strings.Cut(after, "[[stack]]")
			if err := os.WriteFile(rig, []byte(before+"[[stack]]"+after), 0o644); err != nil {
				t.Fatal(err)
			}
			measured(t, dir)
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := copied(t, c.from)
			c.change(dir)
			s, site := sited(t, dir)
			for _, snap := range s.Show.Cues {
				var v page.Levels
				w := asked(site, "levels?cue="+snap.ID, &v)
				if w.Code != 200 || v.Cue != snap.ID || v.RingNote == "" || v.Text == "" {
					t.Fatalf("cue %s: %d %.300s", snap.ID, w.Code, w.Body)
				}
				for _, m := range []page.SeatMap{v.Lead, v.Over} {
					if (m.Why == "") != (len(m.Classes) > 1 && len(m.Seats) == s.Setup.Seats) || s.Setup.Seats == 0 && m.Why == "" {
						t.Errorf("cue %s: %q with %d classes and %d seats of %d", snap.ID, m.Why, len(m.Classes), len(m.Seats),
							s.Setup.Seats)
					}
				}
			}
		})
	}
}

// TestPageLevelsInBrowser looks at the levels in a real browser, before and after the readings are saved.
func TestPageLevelsInBrowser(t *testing.T) {
	t.Parallel()
	b := browser.Open(t, 1280, 720)
	dir, address := paged(t, smallDemo(t))
	b.Go(address)
	b.Await("document.querySelector('#title').textContent === 'Harbor Lights'", 20*time.Second)
	if browser.Eval[int](b, "performance.getEntriesByType('resource').filter(r => r.name.includes('levels?')).length") != 0 {
		t.Error("the first drawing asks for levels")
	}
	for range 8 {
		b.Key("]") // cue 9
	}
	b.Key("5")
	count := func(selector string) int {
		t.Helper()
		return browser.Eval[int](b, "document.querySelectorAll("+"\""+selector+"\").length")
	}
	b.Await("document.querySelectorAll('.bell').length > 20 && document.querySelectorAll('.loops .track.held').length > 20",
		10*time.Second)
	if n := count(".rings polygon"); n != 0 {
		t.Errorf("%d rings before anything was measured", n)
	}
	b.Key("m")
	b.Await("document.querySelectorAll('#legend path:not(.box)').length === 2", 10*time.Second) // nothing is wanted of this role
	b.Key("m")
	b.Await("document.querySelector('.seats .held') && document.querySelector('#map-title').textContent.includes('measure "+
		"first')", 10*time.Second)

	measured(t, dir)
	b.Await("document.querySelector('.seats .good') && !document.querySelector('.seats .held') && "+
		"document.querySelectorAll('#legend path:not(.box)').length === 3", 20*time.Second)
	b.Await("document.querySelectorAll('.rings polygon').length > 3 && document.querySelectorAll('.loops .held').length === 0",
		10*time.Second)
	if text := browser.Eval[string](b, "document.querySelector('#levels').textContent"); !strings.Contains(text,
		"No level here is called safe") || strings.Contains(text, "measure first") {
		t.Errorf("after the readings: %.300s", text)
	}
	b.Click("#map [value='']")
	b.Await("document.querySelector('.seats .in-time')", 10*time.Second)
	b.Key("m") // keys go on working where the mouse was
	b.Await("document.querySelector('.seats .good') && document.querySelector('.bell')", 10*time.Second)
	b.Key("s")
	b.Key("1")
	b.Await("!document.querySelector('.bell') && !document.querySelector('.rings polygon')", 10*time.Second)
	if faults := b.Faults(); faults != "" {
		t.Errorf("faults of the page:\n%s", faults)
	}
}
