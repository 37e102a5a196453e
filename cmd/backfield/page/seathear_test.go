package page_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp/kb"

	"backfield/cmd/backfield/browser"
	"backfield/cue/seat"
)

// listening records what the page hands to the browser's sound, and each file and address that it asks for.
const listening = `(() => {
	window.heard = { started: 0, sides: [], asked: [] }
	const copy = AudioBuffer.prototype.copyToChannel, start = AudioBufferSourceNode.prototype.start, ask = window.fetch
	AudioBuffer.prototype.copyToChannel = function (samples, side) { heard.sides[side] = samples; copy.call(this, samples, side) }
	AudioBufferSourceNode.prototype.start = function () { heard.started++; heard.rate = this.buffer.sampleRate; start.call(this) }
	window.fetch = function (address) { heard.asked.push(String(address)); return ask.apply(this, arguments) }
	heard.loaded = () => performance.getEntriesByType('resource').length + heard.asked.length
	return true
})()`

// sameAs compares what was played with what hear.js makes of a reply of the endpoint: the greatest difference of a sample.
const sameAs = `h => import('./hear.js').then(m => {
	const rate = heard.rate, made = m.render(h.arrivals, m.dry('note', rate), rate)
	return window.off = Math.max(...[made.left, made.right].map((side, i) => side.length === heard.sides[i].length ? side.reduce((most, v, n) => Math.max(most, Math.abs(v - heard.sides[i][n])), 0) : 9))
})`

// TestSeatIsHeard plays A and B. The page starts silent, plays the arrivals of the screen, and asks for nothing to do so.
func TestSeatIsHeard(t *testing.T) {
	t.Parallel()
	b := browser.Open(t, 1280, 720)
	sit(t, b)
	goTo(b, 12, 66)
	a, other := hears(t, "row=12&seat=66", demoCount(t), seat.Compiled), hears(t, "row=12&seat=66", demoCount(t), seat.NoDelay)
	says(b, a)
	b.Await(fmt.Sprintf("document.querySelector('.said').textContent === %q", other.Verdict), 20*time.Second)
	browser.Eval[bool](b, listening)
	const said, volume = "document.querySelector('.ears .place').textContent", "document.querySelector('.ears input[type=range]').value"
	if v := browser.Eval[string](b, volume); v != "0" {
		t.Errorf("the volume begins at %s", v)
	}
	b.Click("#hear-a")
	b.Await(said+".startsWith('The volume is at zero')", 10*time.Second)
	if n := browser.Eval[int](b, "heard.started"); n != 0 {
		t.Errorf("%d sounds at a volume of zero", n)
	}
	b.Key(strings.Repeat(kb.ArrowRight, 3)) // the focus is on the volume by now
	if v := browser.Eval[string](b, volume); v != "3" {
		t.Errorf("three presses raise the volume to %s", v)
	}
	before := browser.Eval[int](b, "heard.loaded()")
	for i, c := range []struct {
		press, says string
	}{{"a", "A: row 12, seat 66, as compiled"}, {"b", "B: row 12, seat 66, no delay"}} {
		b.Click("#hear-" + c.press)
		b.Await(fmt.Sprintf("heard.started === %d && %s === %q", i+1, said, c.says), 20*time.Second)
		if now := browser.Eval[int](b, "heard.loaded()"); now != before {
			t.Errorf("for the sound of %s the page has asked for %d things: %v", c.press, now-before, browser.Eval[[]string](b, "heard.asked"))
		}
		browser.Eval[bool](b, fmt.Sprintf("window.off = null, fetch('seat?row=12&seat=66&player=Tpt+1&count=%g&way=%s').then(r => r.json()).then(%s) && true",
			demoCount(t), map[string]seat.Way{"a": seat.Compiled, "b": seat.NoDelay}[c.press], sameAs))
		b.Await("window.off !== null", 20*time.Second)
		if off := browser.Eval[float64](b, "window.off"); off > 1e-6 {
			t.Errorf("what %s plays is off by %g from the arrivals of the screen", c.press, off)
		}
		before = browser.Eval[int](b, "heard.loaded()")
	}

	// A file of the reader's: a sound, and something else.
	const give = `((name, bytes) => {
		const files = new DataTransfer(), picker = document.querySelector('.ears input[type=file]'), sound = document.querySelector('.ears select')
		sound.value = 'own'; sound.dispatchEvent(new Event('change'))
		files.items.add(new File([new Uint8Array(bytes)], name)); picker.files = files.files
		return picker.dispatchEvent(new Event('change'))
	})`
	browser.Eval[bool](b, give+"('notes.txt', [1, 2, 3])")
	b.Await(said+".startsWith('notes.txt is no sound')", 10*time.Second)
	b.Click("#hear-a")
	b.Await(said+" === 'Choose a file first.'", 10*time.Second)
	browser.Eval[bool](b, give+`('horn.wav', (() => {
		const text = s => [...s].map(c => c.charCodeAt(0)), le = (v, n) => [...Array(n)].map((_, i) => v >> 8 * i & 255), n = 4800
		return [...text('RIFF'), ...le(36 + 2 * n, 4), ...text('WAVEfmt '), ...le(16, 4), ...le(1, 2), ...le(1, 2), ...le(48000, 4), ...le(96000, 4), ...le(2, 2), ...le(16, 2),
			...text('data'), ...le(2 * n, 4), ...[...Array(n)].flatMap((_, i) => le(Math.round(9000 * Math.sin(i / 20)), 2))]
	})())`)
	b.Await(said+" === 'horn.wav: 0.1 s'", 10*time.Second)
	b.Click("#hear-a")
	b.Await("heard.started === 3", 20*time.Second)
	if now := browser.Eval[int](b, "heard.loaded()"); now != before {
		t.Errorf("for a file of the reader's the page has asked for %d things", now-before)
	}
	if peak := browser.Eval[float64](b, "Math.max(...heard.sides.map(s => s.reduce((most, v) => Math.max(most, Math.abs(v)), 0)))"); peak < 0.1 || peak > 0.502 {
		t.Errorf("the peak of the reader's sound is %g of full scale", peak)
	}
	if faults := b.Faults(); faults != "" {
		t.Error(faults)
	}
}
