package page_test

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp/kb"

	"backfield/cmd/backfield/browser"
	"backfield/cmd/backfield/page"
	"backfield/cmd/backfield/show"
	"backfield/cue/seat"
	"backfield/layout/source"
)

// demo is the demo, compiled once for all tests of the package.
var demo = sync.OnceValue(func() *show.Loaded {
	var p source.Problems
	s, err := show.Load(show.Disk{}, "../../../examples/harbor/show.toml", show.LoadOptions{}, &p)
	if err != nil || s.Show == nil {
		panic("the demo does not compile")
	}
	return s
})

// harbor is the page of the demo, for all tests of the package. It ends with the program.
var harbor = sync.OnceValue(func() string {
	explain := func(*show.Loaded, string, string) (string, error) { return "", nil }
	site := page.NewSite(explain, nil, "")
	if err := site.Update(demo(), nil); err != nil {
		panic(err)
	}
	return httptest.NewServer(site.Handler(page.Loopback)).URL + "/"
})

// fetched is a reply of the page as a value.
func fetched[T any](t *testing.T, path string) (v T) {
	t.Helper()
	reply, err := http.Get(harbor() + path)
	if err != nil {
		t.Fatal(err)
	}
	defer reply.Body.Close()
	data, err := io.ReadAll(reply.Body)
	if err == nil && reply.StatusCode == http.StatusOK {
		err = json.Unmarshal(data, &v)
	}
	if err != nil || reply.StatusCode != http.StatusOK {
		t.Fatalf("%s: %v, %d %.200s", path, err, reply.StatusCode, data)
	}
	return v
}

// demoCount is the count of cue 6.
func demoCount(t *testing.T) float64 { return fetched[page.ShowView](t, "view").Cues[5].At }

// hears is what a place hears of Tpt 1 at a count.
func hears(t *testing.T, place string, count float64, way seat.Way) seat.Heard {
	t.Helper()
	return fetched[seat.Heard](t, fmt.Sprintf("seat?%s&player=%s&count=%g&way=%s", place, url.QueryEscape("Tpt 1"), count, way))
}

// sit opens the page at cue 6, where Tpt 1 is featured, and goes to the press box.
func sit(t *testing.T, b *browser.Tab) {
	t.Helper()
	b.Go(harbor())
	b.Await("document.querySelector('#timeline .cue')", time.Minute)
	b.Key("]]]]]h")
	b.Await("document.querySelector('#strip-b .arrival')", time.Minute)
}

// goTo types a row and a seat.
func goTo(b *browser.Tab, row, number int) {
	b.Focus("#seat .pick input")
	browser.Eval[bool](b, fmt.Sprintf("(([row, seat]) => { row.value = %d; seat.value = %d; return seat.dispatchEvent(new Event('input')) })("+
		"document.querySelectorAll('#seat .pick input'))", row, number))
}

// says waits until the screen has the verdict of a reply.
func says(b *browser.Tab, h seat.Heard) {
	b.Await(fmt.Sprintf("document.querySelector('.verdict').textContent === %q", h.Verdict+h.Why), time.Minute)
}

// bar is one sound of the strip, in pixels of the window.
type bar struct {
	From    string
	X, Y, Z float64 // Y is its top, Z its foot
}

// stripOf measures a strip: its axis from the first sound to 200 ms, the lines of 0 and -20 dB, and its bars.
const stripOf = `(id => {
	const root = document.querySelector('#strip-' + id + ' svg'), at = e => e.getBoundingClientRect(), middle = r => (r.left + r.right) / 2
	const axis = at(root.querySelector('line.axis')), levels = [...root.querySelectorAll('line.level')].map(e => (at(e).top + at(e).bottom) / 2)
	return { from: axis.left, to: axis.right, levels, bars: [...root.querySelectorAll('.arrival')].map(g => {
		const r = at(g.querySelector('.bar'))
		return { from: g.dataset.from, x: middle(r), y: r.top, z: r.bottom }
	}) }
})`

// TestSeatStrip compares the bars, the verdict and the shares of the screen with the reply that they are from, for seats that
// hear the stack early, in time and with an echo, and in other ways.
func TestSeatStrip(t *testing.T) {
	t.Parallel()
	b := browser.Open(t, 1440, 900)
	sit(t, b)
	count := demoCount(t)
	says(b, hears(t, "place=box", count, seat.Compiled))
	states := map[seat.State]bool{}
	for _, c := range []struct {
		row, number int
		way         seat.Way
	}{{12, 66, seat.Compiled}, {12, 66, seat.Zones}, {12, 66, seat.NoDelay}, {20, 20, seat.Stereo}, {1, 45, seat.Compiled}} {
		goTo(b, c.row, c.number)
		browser.Eval[bool](b, fmt.Sprintf("document.querySelector('.ways [value=%s]').click() || true", c.way))
		h := hears(t, fmt.Sprintf("row=%d&seat=%d", c.row, c.number), count, c.way)
		says(b, h)
		states[h.State] = true
		if name := browser.Eval[string](b, "document.querySelector('#seat h2').textContent"); name != fmt.Sprintf("Row %d, seat %d", c.row, c.number) {
			t.Errorf("the screen is of %q", name)
		}
		strip := browser.Eval[struct {
			From, To float64
			Levels   []float64
			Bars     []bar
		}](b, stripOf+"('a')")
		if len(strip.Bars) != len(h.Arrivals) || len(strip.Levels) != 3 {
			t.Fatalf("%d bars for %d sounds, levels %v", len(strip.Bars), len(h.Arrivals), strip.Levels)
		}
		dB := (strip.Levels[2] - strip.Levels[0]) / 20
		for i, a := range h.Arrivals {
			x := strip.From + (a.TimeMS-h.Arrivals[0].TimeMS)/200*(strip.To-strip.From)
			y := min(strip.Levels[0]-a.LevelDB*dB, strip.Bars[i].Z-4) // the softest still show
			if got := strip.Bars[i]; got.From != a.From || math.Abs(got.X-x) > 0.6 || math.Abs(got.Y-y) > 1.1 || got.Z <= got.Y {
				t.Errorf("row %d, seat %d, %s: %+v for %s at %.1f, %.1f", c.row, c.number, c.way, got, a.From, x, y)
			}
		}
		words := browser.Eval[string](b, "document.querySelector('#strip-a svg').getAttribute('aria-label')")
		for _, a := range h.Arrivals {
			if want := fmt.Sprintf("%s %.0f, ", a.From, a.TimeMS-h.Arrivals[0].TimeMS); !strings.Contains(words, want) {
				t.Errorf("a screen reader hears %q without %q", words, want)
			}
		}
	}
	// The list of all open mics at the last seat.
	gaps := fetched[[]seat.MicGap](t, fmt.Sprintf("gaps?row=1&seat=45&count=%g", count))
	drawn := browser.Eval[[]struct {
		Player, Text string
		At           float64
	}](b, `[...document.querySelectorAll('#seat .gaps li')].map(li => {
		const track = li.querySelector('.track').getBoundingClientRect(), sign = li.querySelector('svg').getBoundingClientRect()
		return { player: li.dataset.player, text: li.querySelector('.text').textContent, at: ((sign.left + sign.right) / 2 - track.left) / track.width }
	})`)
	if len(drawn) != len(gaps) || len(gaps) < 8 {
		t.Fatalf("%d of %d open mics are listed", len(drawn), len(gaps))
	}
	for i, g := range gaps {
		at := 0.5 + 0.5*min(max(g.GapMS/60, -1), 1)
		words := map[seat.State]string{seat.Early: "early", seat.Late: "late", seat.InTime: "in time", seat.Echo: "in time, echo"}[g.State]
		if d := drawn[i]; d.Player != g.Player || math.Abs(d.At-at) > 0.01 || !strings.HasSuffix(d.Text, "ms "+words) {
			t.Errorf("%+v is drawn as %+v, want it at %.3f", g, d, at)
		}
	}
	if !states[seat.Early] || !states[seat.InTime] {
		t.Errorf("only %v: the demo no longer tests this", states)
	}
	if faults := b.Faults(); faults != "" {
		t.Error(faults)
	}
}

// clickSeat presses on a seat of the field with the mouse.
func clickSeat(b *browser.Tab, v page.ShowView, index int) {
	at := v.Field.Seats[index]
	p := browser.Eval[[]float64](b, fmt.Sprintf("(p => [p.x, p.y])(new DOMPoint(%g, %g).matrixTransform("+
		"document.querySelector('#field svg').getScreenCTM()))", at[0], -at[1]))
	b.Drag(p[0], p[1], p[0], p[1])
}

// TestSeatByMouseAndKeyboard goes from seat to seat, and on with the drill, and leaves again.
func TestSeatByMouseAndKeyboard(t *testing.T) {
	t.Parallel()
	b := browser.Open(t, 1440, 900)
	v := fetched[page.ShowView](t, "view")
	count := v.Cues[5].At
	sit(t, b)
	for _, at := range []struct {
		key         string
		row, number int
	}{{"", 12, 66}, {kb.ArrowRight, 12, 67}, {kb.ArrowUp, 11, 67}, {kb.ArrowDown, 12, 67}, {kb.ArrowLeft, 12, 66}} {
		row := v.Field.Rows[at.row-1]
		if at.key == "" {
			clickSeat(b, v, row.From+at.number-1)
		} else {
			b.Key(at.key)
		}
		says(b, hears(t, fmt.Sprintf("row=%d&seat=%d", at.row, at.number), count, seat.Compiled))
		if name := browser.Eval[string](b, "document.activeElement.getAttribute('aria-label')"); name != fmt.Sprintf("Row %d, seat %d. Arrow keys go to the next seat.", at.row, at.number) {
			t.Errorf("the focus is on %q", name)
		}
	}
	browser.Eval[bool](b, "document.activeElement.blur() || true")
	b.Key(kb.ArrowRight)
	next := hears(t, "row=12&seat=66", math.Floor(count+1), seat.Compiled)
	says(b, next)
	if was := hears(t, "row=12&seat=66", count, seat.Compiled); *was.GapMS == *next.GapMS {
		t.Error("nothing moves in a count: the demo no longer tests this")
	}

	// B is another seat.
	b.Click(".compare button")
	b.Await("document.querySelector('#seat-b').value === 'kept' && document.querySelector('.said').textContent === document.querySelector('.big').textContent", 10*time.Second)
	goTo(b, 20, 20)
	says(b, hears(t, "row=20&seat=20", math.Floor(count+1), seat.Compiled))
	if said := browser.Eval[string](b, "document.querySelector('.said').textContent"); said != next.Verdict {
		t.Errorf("the kept seat says %q, not %q", said, next.Verdict)
	}
	goTo(b, 20, 200)
	b.Await("document.querySelector('#seat .where').textContent === 'row 20 has seats 1 to 80.'", 10*time.Second)

	b.Key(kb.Escape)
	b.Await("!document.querySelector('.seat-here') && document.querySelector('#seat').hidden && document.querySelector('.tabs').clientHeight > 0", 10*time.Second)
	if faults := b.Faults(); faults != "" {
		t.Error(faults)
	}
}

// TestSeatPlay: at any time each ring has the radius of the speed of sound times its time, and those seats are marked that
// the first sound has reached.
func TestSeatPlay(t *testing.T) {
	t.Parallel()
	b := browser.Open(t, 1440, 900)
	v := fetched[page.ShowView](t, "view")
	sit(t, b)
	goTo(b, 12, 66)
	h := hears(t, "row=12&seat=66", v.Cues[5].At, seat.Compiled)
	says(b, h)
	for _, a := range h.Arrivals {
		flight := 1000 * math.Hypot(math.Hypot(a.At[0]-h.XM, a.At[1]-h.YM), a.At[2]-h.ZM) / h.SpeedMPS
		if math.Abs(a.LeaveMS+flight-a.TimeMS) > 0.02 {
			t.Errorf("%s leaves at %.3f ms and flies for %.3f ms, but arrives at %.3f ms", a.From, a.LeaveMS, flight, a.TimeMS)
		}
	}
	for _, ms := range []float64{30, 116, 180} {
		browser.Eval[bool](b, fmt.Sprintf("(e => { e.value = %g; return e.dispatchEvent(new Event('input')) })(document.querySelector('.play input'))", ms))
		radii := browser.Eval[map[string]float64](b, "Object.fromEntries([...document.querySelectorAll('#field .front')].map(e => [e.dataset.from, Number(e.getAttribute('r'))]))")
		for _, a := range h.Arrivals {
			if want := max(0, ms-a.LeaveMS) / 1000 * h.SpeedMPS; math.Abs(radii[a.From]-want) > 0.002 {
				t.Errorf("at %g ms the ring of %s has %.3f m, not %.3f m", ms, a.From, radii[a.From], want)
			}
		}
		want := map[string]int{}
		for _, s := range v.Field.Seats {
			first, kind := math.Inf(1), ""
			for _, a := range h.Arrivals {
				at := a.LeaveMS + 1000*math.Hypot(math.Hypot(s[0]-a.At[0], s[1]-a.At[1]), s[2]-a.At[2])/h.SpeedMPS
				if at < first {
					first, kind = at, a.Kind
				}
			}
			if 2*math.Ceil(first/2) <= ms { // seats are marked in steps of 2 ms
				want[kind]++
			}
		}
		got := browser.Eval[map[string]int](b, "Object.fromEntries(['player', 'stack'].map(kind => [kind, [...document.querySelectorAll('#field .by-' + kind)]"+
			".filter(e => e.getAttribute('display') !== 'none').reduce((n, e) => n + e.getAttribute('d').split('M').length - 1, 0)]))")
		for _, kind := range []string{"player", "stack"} {
			if math.Abs(float64(got[kind]-want[kind])) > 1 { // one may be on the edge of a step
				t.Errorf("at %g ms %d seats have heard the %s first, %d are marked", ms, want[kind], kind, got[kind])
			}
		}
		if ms == 180 && (want["player"] < 100 || want["stack"] < 100) {
			t.Errorf("%v: the demo no longer tests this", want)
		}
	}
	browser.Eval[bool](b, "(e => { e.value = 0; return e.dispatchEvent(new Event('input')) })(document.querySelector('.play input'))")
	const clock = "parseInt(document.querySelector('.play output').textContent)"
	begun := time.Now()
	b.Key("p")
	b.Await(clock+" >= 10", time.Minute)
	at := browser.Eval[float64](b, clock)
	if limit := time.Since(begun).Seconds()*1000/20 + 1; at > limit {
		t.Errorf("%g ms of sound in %.0f ms: not 20 times slower", at, 20*limit)
	}
	b.Key("p")
	at = browser.Eval[float64](b, clock)
	time.Sleep(100 * time.Millisecond)
	if now := browser.Eval[float64](b, clock); now != at {
		t.Errorf("stopped, it goes from %g to %g ms", at, now)
	}

	// Whoever asked for less motion sees four drawings.
	b.LessMotion()
	b.Await("document.querySelector('#seat-play').textContent === 'show four moments'", 10*time.Second)
	b.Click("#seat-play")
	times := browser.Eval[[]float64](b, "[...document.querySelectorAll('#stills figure')].map(e => Number(e.dataset.ms))")
	own := 0.0
	for _, a := range h.Arrivals {
		if a.Kind == seat.PlayerKind {
			own = a.TimeMS
		}
	}
	if first := h.Arrivals[0].TimeMS; len(times) != 4 || times[2] != math.Ceil(first) || times[3] != math.Ceil(own) {
		t.Errorf("drawings of %v ms; the first sound comes at %.1f, the player at %.1f", times, first, own)
	}
	for i, ms := range times {
		r := browser.Eval[float64](b, fmt.Sprintf("Number(document.querySelectorAll('#stills figure')[%d].querySelector('.from-player').getAttribute('r'))", i))
		if want := ms / 1000 * h.SpeedMPS; math.Abs(r-want) > 0.002 {
			t.Errorf("drawing %d has a ring of %.3f m, not %.3f m", i+1, r, want)
		}
	}
	b.Click("#seat-play")
	b.Await("document.querySelector('#field').clientHeight > 100", 10*time.Second)
	if faults := b.Faults(); faults != "" {
		t.Error(faults)
	}
}

// cut names what of the seat's screen is clipped, covers something else, or is not in the first sight of a wide window.
const cut = `(() => {
	const bad = [], shown = e => e.getClientRects().length, at = e => e.getBoundingClientRect(), words = e => (e.id || e.className.baseVal || e.className || e.tagName) + ' ' + e.textContent.slice(0, 20)
	if (document.documentElement.scrollWidth > innerWidth) bad.push('the page is wider than its window')
	const panel = at(document.querySelector('#seat'))
	for (const e of document.querySelectorAll('#seat button, #seat input, #seat select, #seat output, #seat .verdict, #seat svg, #seat p'))
		if (shown(e) && (at(e).right > Math.min(panel.right, innerWidth) + 1 || at(e).left < panel.left - 1)) bad.push(words(e) + ' is cut')
	for (const e of document.querySelectorAll('#seat button, #seat .ways span, #seat .big')) if (shown(e) && e.scrollWidth > e.clientWidth + 1) bad.push(words(e) + ' is too wide')
	const cross = (p, q) => p.left < q.right - 1 && q.left < p.right - 1 && p.top < q.bottom - 1 && q.top < p.bottom - 1
	for (const root of document.querySelectorAll('#seat .strip')) {
		// Letters are smaller than the box of their text, which has its outline in Firefox.
		const letters = e => { const r = at(e), high = 0.2 * r.height; return { left: r.left + 3, right: r.right - 3, top: r.top + high, bottom: r.bottom - high } }
		const box = at(root), texts = [...root.querySelectorAll('text')]
		for (const [i, e] of texts.entries()) {
			const r = letters(e)
			if (r.left < box.left || r.right > box.right || r.top < box.top || r.bottom > box.bottom) bad.push(words(e) + ' leaves the strip')
			for (const o of texts.slice(i + 1)) if (cross(r, letters(o))) bad.push(words(e) + ' covers ' + words(o))
		}
	}
	const parts = [...document.querySelector('#seat').children].filter(shown)
	for (const [i, e] of parts.entries()) for (const o of parts.slice(i + 1)) if (cross(at(e), at(o))) bad.push(words(e) + ' covers ' + words(o))
	if (innerWidth >= 1000 && innerHeight >= 600)
		for (const e of document.querySelectorAll('.verdict, #strip-a, #seat-play')) if (at(e).bottom > innerHeight || at(e).top < 0) bad.push(words(e) + ' is out of sight')
	return bad.join('; ')
})()`

// TestSeatFits measures the screen in windows of several sizes and at 200 % zoom, at seats with few and with
// many sounds.
func TestSeatFits(t *testing.T) {
	t.Parallel()
	b := browser.Open(t, 1440, 900)
	sit(t, b)
	count := demoCount(t)
	for _, size := range [][2]int{{195, 422}, {390, 844}, {640, 360}, {720, 450}, {1024, 768}, {1280, 720}, {1440, 900}} {
		b.Resize(size[0], size[1])
		for _, place := range [][2]int{{12, 66}, {30, 80}} {
			goTo(b, place[0], place[1])
			says(b, hears(t, fmt.Sprintf("row=%d&seat=%d", place[0], place[1]), count, seat.Compiled))
			if bad := browser.Eval[string](b, cut); bad != "" {
				t.Errorf("%d x %d, row and seat %v: %s", size[0], size[1], place, bad)
			}
		}
	}
	b.Click("#seat .pick button")
	says(b, hears(t, "place=box", count, seat.Compiled))
	if bad := browser.Eval[string](b, cut) + b.Faults(); bad != "" {
		t.Error(bad)
	}
}

// seatMeasured measures the screen in another browser, at a few sizes, and plays a note there.
func seatMeasured(t *testing.T, r reader) {
	t.Helper()
	r.Resize(1440, 900)
	r.Go(harbor())
	r.Wait("document.querySelector('#timeline .cue')")
	r.Key("]]]]]h")
	r.Wait("document.querySelector('#strip-b .arrival') && document.querySelector('#seat .gaps')")
	for _, size := range [][2]int{{390, 844}, {720, 450}, {1024, 768}, {1440, 900}} {
		r.Resize(size[0], size[1])
		r.Wait(fmt.Sprintf("innerWidth === %d && Math.abs(document.querySelector('#strip-a').clientWidth - document.querySelector('#strip-a svg').clientWidth) < 1", size[0]))
		if bad := r.Text(cut); bad != "" {
			t.Errorf("%d x %d: %s", size[0], size[1], bad)
		}
	}
	h := hears(t, "place=box", demoCount(t), seat.Compiled)
	radius := r.Text("(e => { e.value = 100; e.dispatchEvent(new Event('input')); return document.querySelector('.seat-fronts .front.from-player').getAttribute('r') })(document.querySelector('.play input'))")
	if want := fmt.Sprintf("%.2f", h.SpeedMPS/10); !strings.HasPrefix(radius, want) {
		t.Errorf("after 100 ms the player's ring has %s m, not %s m", radius, want)
	}
	r.Text("(e => { e.value = 1; e.dispatchEvent(new Event('input')); document.querySelector('#hear-a').click(); return '' })(document.querySelector('.ears input[type=range]'))")
	r.Wait("document.querySelector('.ears .place').textContent === 'A: press box, as compiled'")
}
