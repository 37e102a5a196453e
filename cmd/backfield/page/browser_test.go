package page_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/browser"
	"backfield/cmd/backfield/firefox"
)

// reader is a browser with the page open.
type reader interface {
	Resize(wide, high int)
	Go(address string)
	Key(keys string)
	Text(expression string) string
	Wait(expression string)
}

type inChromium struct{ *browser.Tab }

func (c inChromium) Text(expression string) string { return browser.Eval[string](c.Tab, expression) }
func (c inChromium) Wait(expression string)        { c.Await(expression, time.Minute) }

type inFirefox struct{ *firefox.Firefox }

func (f inFirefox) Wait(expression string) { f.Await(expression, time.Minute) }

// measure lists what is wrong with the layout: text that is cut or covered, and parts that cover each other.
const measure = `(() => {
	const bad = [], box = e => e.getBoundingClientRect(), all = s => [...document.querySelectorAll(s)].filter(e => e.getClientRects().length)
	const apart = (p, q) => p.left >= q.right - 1 || q.left >= p.right - 1 || p.top >= q.bottom - 1 || q.top >= p.bottom - 1
	// Letters are smaller than the box of their text, which browsers measure differently.
	const letters = e => { const r = box(e), in1 = 0.14 * r.height; return { left: r.left + 2, right: r.right - 2, top: r.top + in1, bottom: r.bottom - in1 } }
	const named = e => (e.id || e.className.baseVal || e.className || e.tagName) + ' "' + e.textContent.slice(0, 30) + '"'
	const pairs = (list, why, of = box) => list.forEach((e, i) => { for (const f of list.slice(i + 1)) if (!apart(of(e), of(f))) bad.push(why + ': ' + named(e) + ' and ' + named(f)) })
	if (document.documentElement.scrollWidth > innerWidth) bad.push('the page is wider than its window')
	pairs(all('header, #map, #field, .foot, aside'), 'parts overlap')
	pairs(all('header h1, #venue, #state, .find, nav'), 'the header overlaps')
	pairs(all('.transport > *'), 'the controls overlap')
	const rows = all('.channel-name')
	rows.forEach((e, i) => { if (i && letters(e).top < letters(rows[i - 1]).bottom - 1) bad.push('names of rows overlap: ' + named(e)) })
	for (const kind of ['.cue text', '.set-label', '.bpm', '.movement-name', '.open-text']) pairs(all('#timeline ' + kind), 'labels overlap', letters)
	pairs(all('.group'), 'sections overlap')
	pairs(all('.names text:not(.chosen)'), 'names overlap', letters)
	const lines = document.querySelector('#timeline svg'), edge = box(lines)
	for (const e of all('#timeline text')) { const r = letters(e); if (r.left < edge.left - 0.5 || r.right > edge.right + 0.5 || r.top < edge.top - 1 || r.bottom > edge.bottom + 1) bad.push('cut at the edge of the timeline: ' + named(e)) }
	for (const e of all('button, select, input, .facts dt, .soon dt, .mics td, .mics th, .transport output, #shares span, #legend li, #map-title')) {
		const r = box(e), style = getComputedStyle(e)
		if (r.right > innerWidth + 1 || r.left < -1) bad.push('out of the window: ' + named(e))
		if (e.scrollWidth > e.clientWidth + 1 && style.overflow !== 'visible' && style.textOverflow !== 'ellipsis' && e.clientWidth) bad.push('cut: ' + named(e))
		if (e.scrollHeight > e.clientHeight + 2 && style.overflow === 'hidden' && e.clientHeight) bad.push('cut below: ' + named(e))
	}
	const panel = document.querySelector('[role=tabpanel]:not([hidden])')
	if (panel.scrollWidth > panel.clientWidth + 1) bad.push('the card is ' + panel.scrollWidth + ' wide, in ' + panel.clientWidth)
	for (const e of all('#timeline text, .facts dd, .soon, .mics, .names text, .transport, .tabs')) {
		const px = parseFloat(getComputedStyle(e).fontSize) * (e.closest('#field') ? box(document.querySelector('#field svg')).width / document.querySelector('#field svg').viewBox.baseVal.width : 1)
		if (px < 9.9) bad.push('text of ' + px.toFixed(1) + ' px: ' + named(e))
	}
	return bad.join('\n')
})()`

// places are where the parts of the page are that must not move from cue to cue.
const places = `[...document.querySelectorAll('header > *:not(.unseen), nav button, .transport > *, .tabs button, #field, #timeline, .group, div.head, .facts, .soon > dt'), ...[...document.querySelectorAll('.mics thead')].slice(0, 1)]
	.map(e => { const r = e.getBoundingClientRect(); return (e.id || e.className || e.textContent).toString().slice(0, 12) + ' ' + [r.left, r.top, r.width, r.height].map(v => Math.round(2 * v) / 2).join(' ') }).join('\n')`

// sizes are those of windows, and of laptops at 200 % zoom, where a window has half as many pixels of the page.
var sizes = [][2]int{{390, 844}, {640, 360}, {720, 450}, {768, 1024}, {844, 390}, {1024, 768}, {1280, 720}, {1440, 900}}

// measured looks at the page at all sizes and in all lights, and goes so many cues back.
func measured(t *testing.T, r reader, sizes [][2]int, lights []string, back int) {
	t.Helper()
	r.Go(harbor())
	r.Wait("document.querySelector('.in-stands')")
	for _, size := range sizes {
		r.Resize(size[0], size[1])
		said := map[string]bool{}
		for _, light := range lights {
			if r.Text("document.documentElement.dataset.theme") != light {
				r.Key("d")
			}
			for _, keys := range []string{"]]]]]]]]]", "s", "s2", "3", "5", "1"} { // cue 10, with and without a chosen player
				r.Key(keys)
				r.Wait("document.querySelector('#here').textContent === '1:97'")
				for _, bad := range strings.Split(r.Text(measure), "\n") {
					if bad != "" && !said[bad] {
						said[bad] = true
						t.Errorf("%d x %d, %s, after %q: %s", size[0], size[1], light, keys, bad)
					}
				}
			}
			press(r, "Escape")
			was, from := "", ""
			for i := range back + 1 {
				now := r.Text(places)
				if i > 0 && now != was {
					t.Errorf("%d x %d, %s: from %s to %s moves\n%s", size[0], size[1], light, from,
						r.Text("document.querySelector('#here').textContent"), differs(was, now))
				}
				was, from = now, r.Text("document.querySelector('#here').textContent")
				if i < back {
					r.Key("[")
				}
			}
			press(r, "Home")
		}
	}
}

// press presses a key that the two browsers' protocols number differently.
func press(r reader, key string) {
	r.Text(fmt.Sprintf("document.body.dispatchEvent(new KeyboardEvent('keydown', { key: %q, bubbles: true })) + ''", key))
}

// differs lists the lines of two texts that differ.
func differs(a, b string) string {
	var out []string
	old := strings.Split(a, "\n")
	for _, line := range strings.Split(b, "\n") {
		if !slices.Contains(old, line) {
			out = append(out, line)
		}
	}
	for _, line := range old {
		if !strings.Contains(b, line) {
			out = append(out, "was "+line)
		}
	}
	return strings.Join(out, "\n")
}

// TestLayoutInChromium measures the page at eight sizes, which are two at 200 % zoom, in both lights: nothing is clipped,
// covered or moved between cues.
func TestLayoutInChromium(t *testing.T) {
	tab := browser.Open(t, 1280, 720)
	measured(t, inChromium{tab}, sizes, []string{"light", "dark"}, 8)
	if faults := tab.Faults(); faults != "" {
		t.Errorf("faults of the page:\n%s", faults)
	}
}

// TestInFirefox measures the same in Firefox, and looks at what is read aloud, at the keyboard, and at less motion. One
// start serves all.
func TestInFirefox(t *testing.T) {
	w := firefox.Open(t)
	measured(t, inFirefox{w}, sizes, []string{"light"}, 3)

	w.Resize(1280, 720)
	w.Go(harbor())
	w.Await("document.querySelector('.in-stands')", time.Minute)
	keyboard(t, inFirefox{w}, "\ue004")

	// A walk goes from count to count for who wants less motion, and smoothly for others.
	for _, less := range []bool{true, false} {
		w.ReducedMotion(less)
		w.Eval(`(() => { window.seen = []; new MutationObserver(() => seen.push(document.querySelector('#here').textContent))
			.observe(document.querySelector('#here'), { childList: true }); document.querySelector('#play').click(); return true })()`, new(bool))
		w.Await("new Set(seen).size > 3", time.Minute)
		w.Eval("(document.querySelector('#play').click(), true)", new(bool))
		if between := w.Text("seen.filter(s => s.includes('.')).join(' ')"); less != (between == "") {
			t.Errorf("with less motion %v the walk stops at %q", less, between)
		}
		if moving := w.Text("document.getAnimations().length + ''"); moving != "0" {
			t.Errorf("%s animations", moving)
		}
	}
	seatMeasured(t, inFirefox{w})
}

// nameless lists the controls that a screen reader has no name for, and what has a name but no role.
const nameless = `(() => {
	const name = e => e.getAttribute('aria-label') || (e.labels && e.labels.length && e.labels[0].textContent) || (document.getElementById(e.getAttribute('aria-labelledby')) || {}).textContent || e.textContent.trim()
	const bad = [...document.querySelectorAll('button, select, input, summary, [role], [tabindex="0"], section')].filter(e => e.getAttribute('role') !== 'status' && !name(e))
	return bad.map(e => e.outerHTML.slice(0, 80)).join('\n')
})()`

// keyboard uses the page without a mouse, and reads what a screen reader would read.
func keyboard(t *testing.T, r reader, tabKey string) {
	t.Helper()
	if bad := r.Text(nameless); bad != "" {
		t.Errorf("without a name:\n%s", bad)
	}
	var seen []string
	for range 60 {
		r.Key(tabKey)
		at := r.Text(`(e => e.id || (e.dataset.group ? 'section ' + e.dataset.group : e.textContent))(document.activeElement)`)
		if hidden := r.Text(`(e => { const r = e.getBoundingClientRect(), s = getComputedStyle(e)
			return e === document.body || !document.hasFocus() || !e.matches(':focus') || r.width && s.outlineStyle !== 'none' ? '' : s.outlineStyle })(document.activeElement)`); hidden != "" {
			t.Errorf("%s has the focus, and it cannot be seen (%s)", at, hidden)
		}
		if section, ok := strings.CutPrefix(at, "section "); ok {
			if open := r.Text("document.querySelector('.group[aria-expanded=true]').dataset.group"); open != section {
				t.Errorf("with the focus on %s, %s is open", section, open)
			}
		}
		if slices.Contains(seen, at) {
			break
		}
		seen = append(seen, at)
	}
	for _, want := range []string{"find", "whole", "stands", "theme", "keys", "tab-cue", "play", "speed", "span", "timeline",
		"section fixed", "section tuba"} {
		if !slices.Contains(seen, want) {
			t.Errorf("the Tab key never comes to %s, only to %q", want, seen)
		}
	}
	r.Text("(document.querySelector('#timeline').focus(), '')")
	r.Key("]]")
	for what, expression := range map[string]string{
		"cue 3":     "document.querySelector('#said').textContent",
		"0:0":       "document.querySelector('#timeline').getAttribute('aria-valuetext')",
		"polite":    "document.querySelector('#said').getAttribute('aria-live')",
		"9 channel": "document.querySelector('[data-group=fixed]').getAttribute('aria-label')",
	} {
		if got := r.Text(expression); !strings.Contains(got, what) {
			t.Errorf("a screen reader reads %q, not %q", got, what)
		}
	}
}

// TestKeyboardInChromium uses the page by keyboard in Chromium too.
func TestKeyboardInChromium(t *testing.T) {
	tab := browser.Open(t, 1280, 720)
	tab.Go(harbor())
	tab.Await("document.querySelector('.in-stands')", time.Minute)
	keyboard(t, inChromium{tab}, "\t")
}

// TestTenQuestions looks for ten answers on one screen of the page, without a click: each is there, in sight and right.
func TestTenQuestions(t *testing.T) {
	tab := browser.Open(t, 1440, 900)
	s := demo()
	const at, after = 9, 10 // cue 10, and the cue that follows
	now, next := &s.Show.Cues[at], &s.Show.Cues[after]
	if now.ID != "10" {
		t.Fatalf("cue %s is not cue 10", now.ID)
	}
	var opens, stops []string
	worst, least, loudest, most, open := "", 2.0, "", -100.0, 0
	for i, ch := range now.Channels {
		if !ch.Open {
			if s.Show.Cues[at-1].Channels[i].Open {
				stops = append(stops, ch.Player)
			}
			continue
		}
		open++
		if ch.Kind == "worn" && ch.Fit.InTime < least {
			worst, least = ch.Player, ch.Fit.InTime
		}
		if ch.Kind == "worn" && float64(ch.LevelDB) > most {
			loudest, most = ch.Player, float64(ch.LevelDB)
		}
	}
	for i, ch := range next.Channels {
		if ch.Open && !now.Channels[i].Open {
			opens = append(opens, ch.Player)
		}
	}
	soon := func(name string) string {
		return fmt.Sprintf("[...document.querySelectorAll('.soon dt')].find(e => e.textContent === %q).nextSibling", name)
	}
	fact := func(n int) string { return fmt.Sprintf("document.querySelectorAll('.facts dt')[%d]", n) }
	for _, size := range [][2]int{{1440, 900}, {1280, 720}} {
		tab.Resize(size[0], size[1])
		tab.Go(harbor())
		tab.Await("document.querySelector('.in-stands')", time.Minute)
		// All rows of a cue with a dozen worn mics are in sight.
		tab.Key("]]]]]") // cue 6
		if n := browser.Eval[int](tab, "[...document.querySelectorAll('.mics tbody tr')].filter(r => "+
			"r.getBoundingClientRect().height && r.getBoundingClientRect().bottom < innerHeight).length"); n < 12 {
			t.Errorf("%d x %d: %d rows of the cue's table are in sight", size[0], size[1], n)
		}
		tab.Key(strings.Repeat("]", at-5))
		for _, q := range []struct{ question, element, answer string }{
			{"who opens next", soon("opens"), strings.Join(opens, ", ")},
			{"who is loudest", fact(3), loudest},
			{"which seats flam", soon("least in time"), "% of home side lower, side "},
			{"where does Bari 13 walk", "[...document.querySelectorAll('.names text')].find(e => e.textContent === 'Bari 13')", "Bari 13"},
			{"when is the next pack swap", soon("handover"), "in 132 counts (2:9): P17, Bari 6 to Bari 16"},
			{"how many mics are open", fact(0), fmt.Sprintf("%d open", open)},
			{"what is the worst seat share", fact(2), fmt.Sprintf("%s %.0f %%", worst, 100*least)},
			{"who stops", "document.querySelector('.stops')", fmt.Sprintf("%d mics close Tpt 1, 6, 9, 11, 15, 17, 20; Mello 2, 7, 9, 11", len(stops))},
			{"what is wrong", "document.querySelector('#state')", "no problems"},
			{"how long until the next cue", soon("next") + ".firstChild", "in 8 counts, 4.7 s"},
		} {
			got := browser.Eval[string](tab, "("+q.element+").textContent")
			if !strings.Contains(got, q.answer) || q.answer == "" {
				t.Errorf("%d x %d: %s? The page says %q, not %q", size[0], size[1], q.question, got, q.answer)
			}
			if cut := browser.Eval[bool](tab, "(e => { const r = e.getBoundingClientRect(); return r.width === 0 || r.top < 0 || r.bottom > innerHeight || "+
				"r.right > innerWidth || e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).overflow === 'hidden' })("+q.element+")"); cut {
				t.Errorf("%d x %d: %s? %q is out of sight or cut", size[0], size[1], q.question, got)
			}
		}
	}
}
