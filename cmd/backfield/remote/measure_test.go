package remote

// measureScript finds what is wrong with the layout of a page, a line each; empty for nothing. It is run in the browser.
//   - moved: the boxes of all that keeps its place, as text, to half a pixel
//   - texts whose box is smaller than they are, and boxes outside the window
//   - parts of the grid that overlap
//   - what is touched and under 44 pixels (WCAG 2.2, success criterion 2.5.5)
//   - what scrolls
//   - contrast under 4.5 for texts, and under 3 for the edges of what is touched (WCAG 2.2, 1.4.3 and 1.4.11)
const measureScript = `(() => {
	const faults = [], name = e => e.id || e.className && e.dataset.channel && "tile " + e.dataset.channel || e.tagName + " in " + (e.parentElement.closest("[id], .tile").id || "tile " + e.parentElement.closest("[id], .tile").dataset.channel)
	const seen = e => { const r = e.getBoundingClientRect(); return r.width > 0 && r.height > 0 && getComputedStyle(e).visibility !== "hidden" }
	const all = [...document.body.querySelectorAll("*")].filter(e => seen(e) && !e.closest("svg") && e.id !== "live" && !["SCRIPT", "OPTION"].includes(e.tagName))
	const covers = [...document.querySelectorAll("#panel, #sheet, #said, #lost")].filter(seen)
	const covered = e => covers.some(c => { if (c.contains(e) || c === e) return false
		const a = c.getBoundingClientRect(), b = e.getBoundingClientRect(); return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom })

	// clipped
	for (const e of all) {
		const own = [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()), cuts = getComputedStyle(e).overflow === "hidden"
		if (own && !(e.tagName === "INPUT")) {
			const range = document.createRange(); range.selectNodeContents(e)
			const box = e.getBoundingClientRect()
			for (const r of range.getClientRects()) {
				const high = (r.top + r.bottom) / 2, most = parseFloat(getComputedStyle(e).fontSize) * .36 // the ink, not the line's box
				if (r.left < box.left - 1 || r.right > box.right + 1 || high - most < box.top - 1 || high + most > box.bottom + 1) {
					if (cuts && !(["cue", "nextname"].includes(e.id) && e.textContent.length > 60)) // the name of a cue may end in an ellipsis
					 { faults.push("clipped: " + name(e) + " " + e.textContent); break }
				}
			}
			let p = e.parentElement
			const b = e.getBoundingClientRect()
			while (p && p !== document.body) {
				const q = p.getBoundingClientRect()
				if (getComputedStyle(p).overflow === "hidden" && (b.left < q.left - 1 || b.right > q.right + 1 || b.top < q.top - 1 || b.bottom > q.bottom + 1)) {
					faults.push("cut off by " + name(p) + ": " + name(e) + " " + e.textContent); break
				}
				p = p.parentElement
			}
		}
	}
	for (const e of all) {
		const r = e.getBoundingClientRect()
		if (r.left < -1 || r.top < -1 || r.right > innerWidth + 1 || r.bottom > innerHeight + 1) faults.push("outside the window: " + name(e))
	}

	// overlapped
	const parts = ["status", "now", "ground", "next", "lines", "timeline", "bench", "buttons", "strip"].map($).filter(seen)
	const touched = all.filter(e => e.matches("button, input, a"))
	const apart = (list, what) => list.forEach((a, i) => list.slice(i + 1).forEach(b => {
		if (a.contains(b) || b.contains(a)) return
		const p = a.getBoundingClientRect(), q = b.getBoundingClientRect()
		const w = Math.min(p.right, q.right) - Math.max(p.left, q.left), h = Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top)
		if (w > .5 && h > .5) faults.push(what + " overlap: " + name(a) + ", " + name(b))
	}))
	const side = innerHeight < 600 && innerWidth > innerHeight // there the lines are within the next cue's box
	apart(parts.filter(e => !(side && e.id === "lines")), "parts")
	if (!covers.some(e => e.id === "panel" || e.id === "sheet")) apart(touched, "targets")
	for (const e of touched) for (const id of ["go", "digits"]) if ($(id) !== e && covers.length) {
		const c = covers.filter(c => c.id !== "lost" && !(c.id === "said" && c.closest("#sheet")))
		for (const x of c) { const a = x.getBoundingClientRect(), b = $(id).getBoundingClientRect()
			if (x.id !== "sheet" || id === "go") if (Math.min(a.right, b.right) - Math.max(a.left, b.left) > .5 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > .5) faults.push(x.id + " covers " + id) }
	}
	for (const e of all.filter(e => e.matches(".tile p > *, #go > *, #status > *, #now > p:not(#said, #place)")))
		for (const f of e.parentElement.children) if (f !== e && seen(f) && f.textContent && e.textContent && f.id !== "said") {
			const ink = x => { const r = document.createRange(); r.selectNodeContents(x); return r.getBoundingClientRect() }, a = ink(e), b = ink(f)
			if (Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 4) faults.push("texts overlap: " + e.textContent + ", " + f.textContent + " in " + name(e.parentElement))
		}

	const drawn = e => { // without the outline, which is in the box that Firefox gives
		const b = e.getBBox(), m = e.getScreenCTM()
		return { left: m.a * b.x + m.e, right: m.a * (b.x + b.width) + m.e, top: m.d * b.y + m.f, bottom: m.d * (b.y + b.height) + m.f, height: m.d * b.height }
	}
	const words = [...document.querySelectorAll("#field .name, #field .number:not([visibility=hidden])")].map(e => [e.textContent, drawn(e)])
	words.forEach(([s, a], i) => words.slice(i + 1).forEach(([t, b]) => { // the ink, not the lines' boxes
		if (Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > .3 * a.height) faults.push("names on the field overlap: " + s + ", " + t)
	}))

	for (const e of touched) {
		const r = e.getBoundingClientRect()
		if (r.width < 43.9 || r.height < 43.9) faults.push("small target: " + name(e) + " " + Math.round(r.width) + "x" + Math.round(r.height))
	}
	for (const e of [document.scrollingElement, document.body, ...all]) {
		if (e !== document.scrollingElement && !/auto|scroll/.test(getComputedStyle(e).overflowY + getComputedStyle(e).overflowX)) continue
		if (e.tagName !== "INPUT" && (e.scrollHeight > e.clientHeight + 1 || e.scrollWidth > e.clientWidth + 1)) faults.push("scrolls: " + name(e))
	}

	// contrast (WCAG 2.2, relative luminance and contrast ratio)
	const rgba = s => { const n = s.match(/[\d.]+/g).map(Number); return n.length < 4 ? [...n.slice(0, 3), 1] : n }
	const lin = v => { v /= 255; return v <= .04045 ? v / 12.92 : ((v + .055) / 1.055) ** 2.4 }
	const lum = c => .2126 * lin(c[0]) + .7152 * lin(c[1]) + .0722 * lin(c[2])
	const ratio = (a, b) => { const [x, y] = [lum(a), lum(b)].sort((p, q) => q - p); return (x + .05) / (y + .05) }
	const over = (top, under) => top[3] >= 1 ? top : [0, 1, 2].map(i => top[i] * top[3] + under[i] * (1 - top[3])).concat(1)
	const grounds = e => { // the colors behind an element: of a striped background all
		for (; e; e = e.parentElement) {
			const s = getComputedStyle(e), c = rgba(s.backgroundColor)
			if (s.backgroundImage !== "none" && !e.matches("#go")) {
				const list = (s.backgroundImage.match(/rgba?\([^)]*\)/g) || []).map(rgba).filter(c => c[3] > 0)
				if (list.length) return [...list, ...(c[3] > 0 ? [c] : grounds(e.parentElement))]
			}
			if (c[3] >= 1) return [c]
			if (e.tagName === "HTML") return [rgba(getComputedStyle(document.body).backgroundColor)]
		}
		return [[255, 255, 255, 1]]
	}
	for (const e of all) {
		if (covered(e)) continue
		const s = getComputedStyle(e), own = [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim())
		if (own) for (const g of grounds(e)) {
			const c = over(rgba(s.color), g), r = ratio(c, g)
			if (r < 4.5) { faults.push("contrast " + r.toFixed(2) + " of the text " + name(e) + " " + e.textContent); break }
		}
		if (e.matches("button:not(#go), input, a, #passed, #panel")) for (const g of grounds(e.parentElement)) {
			const edges = ["Top", "Left", "Bottom"].filter(k => s["border" + k + "Style"] !== "none" && parseFloat(s["border" + k + "Width"]) > 0).map(k => rgba(s["border" + k + "Color"]))
			const ground = rgba(s.backgroundColor), best = Math.max(...[...edges, ...(ground[3] >= 1 ? [ground] : [])].map(c => ratio(over(c, g), g)))
			if (!(best >= 3)) { faults.push("contrast " + best.toFixed(2) + " of the edge of " + name(e)); break }
		}
	}
	return [...new Set(faults)].join("\n")
})()`

// boxesScript is where everything is that keeps its place, to half a pixel.
const boxesScript = `(() => [...document.querySelectorAll("body > :not(#panel, #sheet, #lost, #live, script), #digits, #what, #place, #lines li, #tape, .tile, #turn, #buttons > *, #buttons #where, #go, #goword")].map(e => {
	const b = e.getBoundingClientRect()
	return (e.id || e.dataset.channel || e.tagName) + " " + [e.id === "place" ? b.right : b.left, b.top, e.id === "place" ? 0 : b.width, b.height].map(v => Math.round(2 * v) / 2).join(" ")
}).join("\n"))()`

// measureFile is a script of the page in tests: it shows states, opens what covers parts of the page, and measures.
const measureFile = `"use strict";
const measureNow = name => ({ name, faults: ` + measureScript + `, boxes: ` + boxesScript + ` });
const realHear = hear;
hear = word => realHear({ ...word, picture: null }); // its clock goes on
const showState = picture => realHear({ now_ms: now() - offset, seen_ms: now() - offset, picture });
window.measureStates = text => JSON.stringify(JSON.parse(text).map(s => { showState(s.picture); return measureNow(s.name) }));
window.putState = text => { showState(JSON.parse(text).picture); return "true" };
window.dress = text => { light(JSON.parse(text)); furnish(); draw(); return "true" };
const nonsense = 'jump nonsense: no cue "nonsense", and "nonsense" is not a count; type 12A, 2:33 or set 14 + 4';
const overlays = [
	["a panel", () => openPanel("2")],
	["a panel with an answer", () => say("Tpt 3: +0.5 dB, +3 dB in total for this run; that is the ceiling of 3 dB", false, "panel")],
	["a nudge that is refused", () => say("nudge \"Tpt 3\" +1: Tpt 3 is at the ceiling of 3 dB already, no higher", true, "panel")],
	["a panel with nothing to release", () => openPanel("3")],
	["its spares", () => { saidIn = ""; choosing = true; drawPanel() }],
	["the others", () => openPanel("others")],
	["no panel", () => closePanel()],
	["a refusal", () => say("the next cue was 6 and is now 7; go ignored", true)],
	["a clock that is ahead", () => say("go ignored (this page's clock was 3.2 s ahead; it is right now): look, then press again", true)],
	["a refused jump", () => say(nonsense, true, "jump", "no cue, set or count nonsense")],
	["nothing refused", () => say("")],
	["the sheet", () => showSheet(true)],
	["a refusal in the sheet", () => say(nonsense, true, "jump")],
	["no sheet", () => showSheet(false)],
];
window.overlayNames = () => JSON.stringify(overlays.map(o => o[0]));
window.measureOverlay = text => { const [name, open] = overlays[JSON.parse(text)]; open(); return JSON.stringify(measureNow(name)) };
`
