package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/browser"
	"backfield/cmd/backfield/page"
	"backfield/cue"
)

// TestPageCueCard compares the card of each cue with the snapshots before and after it.
func TestPageCueCard(t *testing.T) {
	t.Parallel()
	s := compiledOnce()
	site := page.NewSite(nil, nil, "")
	if err := site.Update(s, nil); err != nil {
		t.Fatal(err)
	}
	v := viewed(t, site)
	var before []string
	signs := 0
	for i, c := range s.Show.Cues {
		var now, heard []string
		var sum float64
		least, worst := math.Inf(1), ""
		for _, ch := range c.Channels {
			if !ch.Open {
				continue
			}
			now = append(now, ch.Player)
			if ch.Kind == cue.Worn && ch.Fit != nil {
				heard = append(heard, ch.Player)
				sum += ch.Fit.InTime
				if ch.Fit.InTime < least {
					least, worst = ch.Fit.InTime, ch.Player
				}
			}
		}
		card := v.Cues[i]
		last := 0
		for _, m := range card.Open {
			if started := !slices.Contains(before, m.Player); started != (m.Sign == "starts") {
				t.Errorf("cue %s: %s has the sign %q", c.ID, m.Player, m.Sign)
			}
			order := slices.Index([]string{"starts", "levels", ""}, m.Sign)
			if order < last {
				t.Errorf("cue %s: %s with the sign %q is below those without a change", c.ID, m.Player, m.Sign)
			}
			if last = order; m.Sign != "" {
				signs++
			}
		}
		for _, name := range before {
			if slices.Contains(now, name) == slices.Contains(card.Stops, name) {
				t.Errorf("cue %s: %s stops: %v", c.ID, name, card.Stops)
			}
		}
		want := []string{fmt.Sprintf("%d open", len(now))}
		if len(heard) > 0 {
			want = append(want, fmt.Sprintf("%.0f %%", 100*sum/float64(len(heard))), fmt.Sprintf("%s %.0f %%", worst, 100*least))
		}
		var got []string
		for _, f := range card.Facts {
			got = append(got, f.Big)
		}
		if !slices.Equal(got, want) {
			t.Errorf("cue %s: the head says %q, want %q", c.ID, got, want)
		}
		before = now
	}
	if signs < 20 {
		t.Errorf("%d signs: the demo no longer tests this", signs)
	}
}

// overlaps names the parts of the page that cover each other, or that the window clips at the side.
const overlaps = `(() => {
	const parts = ['header', '#map', '#field', '.foot', 'aside'].map(name => [name, document.querySelector(name)])
		.filter(([, e]) => e.getClientRects().length).map(([name, e]) => [name, e.getBoundingClientRect()])
	const bad = []
	for (const [i, [a, p]] of parts.entries()) {
		if (p.left < -0.5 || p.right > innerWidth + 0.5) bad.push(a + ' is clipped')
		for (const [b, q] of parts.slice(i + 1))
			if (p.left < q.right - 1 && q.left < p.right - 1 && p.top < q.bottom - 1 && q.top < p.bottom - 1) bad.push(a + ' and ' + b)
	}
	if (document.documentElement.scrollWidth > innerWidth) bad.push('the page is wider than its window')
	for (const e of document.querySelectorAll('header button, header input, .transport button, .tabs button, .mics td:last-child')) {
		const r = e.getBoundingClientRect()
		if (e.getClientRects().length && r.right > innerWidth + 1) bad.push((e.id || e.textContent) + ' is cut')
	}
	return bad.join('; ')
})()`

// TestPageTimelineStays opens one section of the timeline after the other: its height stays, and their names come.
func TestPageTimelineStays(t *testing.T) {
	t.Parallel()
	b := browser.Open(t, 1280, 720)
	_, address := servedDemo(t)
	b.Go(address)
	b.Await("document.querySelectorAll('.group').length === 5 && document.querySelector('.in-stands')", 20*time.Second)
	high := browser.Eval[float64](b, "document.querySelector('#timeline').clientHeight")
	names := browser.Eval[int](b, "document.querySelectorAll('#timeline .channel-name').length")
	shut := browser.Eval[int](b, "[...document.querySelectorAll('.group')].reduce((n, e) => n + Number(e.textContent.split('×')[1] || 0), 0)")
	if names+shut != 29 || names < 8 {
		t.Errorf("%d rows have names, %d are in a section with one", names, shut)
	}
	for _, c := range []struct{ group, first string }{{"fixed", "41 field left"}, {"tuba", "18 Tuba 4"}, {"mellophone", "9 Mello 2"}} {
		b.Focus("[data-group=" + c.group + "]")
		if names := browser.Eval[string](b, "document.querySelector('#timeline .channel-name').firstChild.data"); names != c.first {
			t.Errorf("%s opened: the first name is %q", c.group, names)
		}
		if now := browser.Eval[float64](b, "document.querySelector('#timeline').clientHeight"); now != high {
			t.Errorf("%s opened: the timeline goes from %g to %g pixels", c.group, high, now)
		}
	}
	// The section under the pointer opens, wherever it comes from, and stays open with the pointer in it.
	box := browser.Eval[[]float64](b, "(r => [r.left + 400, r.top, r.bottom])(document.querySelector('#timeline').getBoundingClientRect())")
	last, opened := "", map[string]bool{}
	for y := box[1] + 85; y < box[2]-60; y += 4 {
		b.Hover(box[0], y)
		open := browser.Eval[string](b, openGroup)
		b.Hover(box[0], y)
		if again := browser.Eval[string](b, openGroup); again != open {
			t.Errorf("with the pointer at %g, %s and then %s opens", y, open, again)
		}
		if open != last {
			last = open
			if opened[open] {
				t.Errorf("%s opens twice on the way down", open)
			}
			opened[open] = true
		}
		inside := browser.Eval[bool](b, fmt.Sprintf("(r => r.top <= %[1]g && %[1]g <= r.bottom)(document.querySelector("+
			"'.group[aria-expanded=true]').getBoundingClientRect())", y))
		if !inside && y < box[2]-120 {
			t.Errorf("%s is open, and the pointer at %g is not in it", open, y)
		}
	}
	if len(opened) != 5 {
		t.Errorf("the pointer opens %v", opened)
	}
	if at := browser.Eval[string](b, "document.querySelector('#here').textContent"); at != "1:1" {
		t.Errorf("opening a section moves the drill to %s", at)
	}
}

// openGroup is the section whose rows have names.
const openGroup = "document.querySelector('.group[aria-expanded=true]').dataset.group"

// TestPageOfManyRows: 64 mics in one section leave the field its half of the window.
func TestPageOfManyRows(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	g := grown{players: 64, channels: 64, open: 2, cues: 3, countsPerCue: 8, seats: 40}
	for name, text := range g.files() {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	b := browser.Open(t, 1280, 720)
	_, address := paged(t, dir)
	b.Go(address)
	b.Await("document.querySelectorAll('.group').length === 6", 20*time.Second)
	for _, group := range []string{"", "[data-group$=' 61']", "[data-group$=' 13']"} {
		if group != "" {
			b.Focus(group)
		}
		if high := browser.Eval[float64](b, "document.querySelector('#field').clientHeight"); high < 250 {
			t.Errorf("after %s the field has %g pixels", group, high)
		}
		names := browser.Eval[int](b, "document.querySelectorAll('#timeline .channel-name').length")
		if want := map[string]int{"": 12, "[data-group$=' 61']": 4, "[data-group$=' 13']": 12}[group]; names != want {
			t.Errorf("after %s, %d rows have names, not %d", group, names, want)
		}
	}
}

// TestPageDrawsChange looks at the field in cue 6 of the demo: who opens has a halo, who closes a cross, and who walks an
// arrow to where the next cue finds them.
func TestPageDrawsChange(t *testing.T) {
	t.Parallel()
	b := browser.Open(t, 1280, 720)
	s, address := servedDemo(t)
	b.Go(address)
	b.Await("document.querySelector('#title').textContent === 'Harbor Lights'", 20*time.Second)
	for range 5 {
		b.Key("]")
	}
	now, next := &s.Show.Cues[5], &s.Show.Cues[6]
	ends := browser.Eval[string](b, "document.querySelector('.way.open').getAttribute('d')")
	var opens []string
	closes, walk := 0, 0
	for i, ch := range now.Channels {
		was := s.Show.Cues[4].Channels[i].Open
		if ch.Open && !was {
			opens = append(opens, ch.Player)
		} else if was && !ch.Open {
			closes++
		}
		if to := next.Channels[i]; ch.Open && ch.Kind == cue.Worn && math.Hypot(to.X-ch.X, to.Y-ch.Y) >= 0.9 {
			walk++
			var x, y float64
			found := false
			for _, way := range strings.Split(ends[1:], "M") {
				points := strings.Split(way, "L")
				fmt.Sscanf(points[len(points)-1], "%g %g", &x, &y)
				found = found || math.Hypot(x-to.X, -y-to.Y) < 0.002
			}
			if !found {
				t.Errorf("no arrow goes to %s at %.3f, %.3f: %s", ch.Player, to.X, to.Y, ends)
			}
		}
	}
	drawn := browser.Eval[[]string](b, "[...document.querySelectorAll('.player.starts')].map(g => g.dataset.name)")
	slices.Sort(opens)
	slices.Sort(drawn)
	if !slices.Equal(opens, drawn) || len(opens) == 0 {
		t.Errorf("%q open, and %q have a halo", opens, drawn)
	}
	if n := strings.Count(browser.Eval[string](b, "document.querySelector('.crosses').getAttribute('d')"), "M"); n != closes || n == 0 {
		t.Errorf("%d close, and %d crosses are drawn", closes, n)
	}
	if n := strings.Count(ends, "M"); n != walk || n == 0 {
		t.Errorf("%d open players walk, and %d arrows are drawn", walk, n)
	}
}
