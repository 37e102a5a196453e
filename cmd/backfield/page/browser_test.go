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
	if (document.documentElement.scrollWidth > innerWidth) bad.push('the page is wider than its window, by ' + [...new Set(all('body *').filter(e => box(e).right > innerWidth + 1 && !e.closest('.wide, #timeline svg, #field svg')).slice(-3).map(named))].join('; '))
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
		if ((r.right > innerWidth + 1 || r.left < -1) && !e.closest('.wide')) bad.push('out of the window: ' + named(e))
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
const places = `[...document.querySelectorAll('header > *:not(.unseen), nav button, .transport > *, .tabs button, #field, #timeline, .group, div.head, .facts, .soon > dt'), ...[...document.querySelectorAll('.mics thead')].filter(e => !e.closest('details')).slice(0, 1)]
	.map(e => { const r = e.getBoundingClientRect(); return (e.id || e.className || e.textContent).toString().slice(0, 12) + ' ' + [r.left, r.top, r.width, r.height].map(v => Math.round(2 * v) / 2).join(' ') }).join('\n')`

// sizes are those of windows, and of laptops and phones at 200 % zoom, where a window has half as many pixels of the page.
var sizes = [][2]int{{195, 422}, {390, 844}, {640, 360}, {720, 450}, {768, 1024}, {844, 390}, {1024, 768}, {1280, 720}, {1440, 900}}

// moved goes through the cues of the show, and says which parts of the page move.
const moved = `(() => {
	const press = key => document.body.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true })), where = () => ` + places + `
	press('Home')
	const first = where().split('\n'), bad = []
	for (let n = document.querySelectorAll('#timeline .cue').length; n > 1; n--) {
		press(']')
		where().split('\n').forEach((now, i) => { if (now !== first[i]) bad.push(document.querySelector('#here').textContent + ': ' + now + ', was ' + first[i]) })
	}
	return bad.slice(0, 5).join('\n')
})()`

// measured looks at the page at some sizes, in the two lights in turn, since a light changes no layout.
func measured(t *testing.T, r reader, sizes [][2]int) {
	t.Helper()
	r.Go(harbor())
	r.Wait("document.querySelector('.in-stands')")
	for _, size := range sizes {
		r.Resize(size[0], size[1])
		r.Wait(fmt.Sprintf("innerWidth === %d && document.querySelector('#timeline svg').clientWidth <= document.querySelector('#timeline').clientWidth", size[0]))
		said := map[string]bool{}
		r.Key("d")
		for _, keys := range []string{"]]]]]]]]]", "s", "s2", "3", "5", "1"} { // cue 10, with and without a chosen player
			r.Key(keys)
			r.Wait("document.querySelector('#here').textContent === '1:97'")
			for _, bad := range strings.Split(r.Text(measure), "\n") {
				if bad != "" && !said[bad] {
					said[bad] = true
					t.Errorf("%d x %d, after %q: %s", size[0], size[1], keys, bad)
				}
			}
		}
		press(r, "Escape")
		press(r, "1")
		if size[0] >= 390 { // at 200 % zoom on a phone what is read is not cut, and all scrolls
			if bad := r.Text(moved); bad != "" {
				t.Errorf("%d x %d: from cue to cue these move:\n%s", size[0], size[1], bad)
			}
		}
		press(r, "Home")
	}
}

// press presses a key that the two browsers' protocols number differently.
func press(r reader, key string) {
	r.Text(fmt.Sprintf("document.body.dispatchEvent(new KeyboardEvent('keydown', { key: %q, bubbles: true })) + ''", key))
}

// TestLayoutInChromium measures the page at all sizes: nothing is clipped, covered or moved between cues.
func TestLayoutInChromium(t *testing.T) {
	tab := browser.Open(t, 1280, 720)
	measured(t, inChromium{tab}, sizes)
	tab.Resize(1280, 720)
	keyboard(t, inChromium{tab}, "\t")
	if faults := tab.Faults(); faults != "" {
		t.Errorf("faults of the page:\n%s", faults)
	}
}

// TestInFirefox measures a few sizes in Firefox, and looks at what is read aloud, at the keyboard, and at less motion. One
// start serves all.
func TestInFirefox(t *testing.T) {
	w := firefox.Open(t)
	measured(t, inFirefox{w}, [][2]int{{195, 422}, {390, 844}, {1280, 720}}) // one of each layout

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
