// How one note crosses the field, slowed: a ring leaves the player, and one leaves each stack after its delay. Seen from
// above, the front of a sound is a circle whose radius is the speed of sound times its time. A seat is marked when the
// first sound reaches the ears there, at their height: as a dot by the player, as a triangle by a stack.

import { html, put, svg, round } from "./draw.js"
import { soft } from "./seatstrip.js"

const slower = 20 // times
const stepMS = 2 // seats that are reached within one step are marked together
const still = matchMedia("(prefers-reduced-motion: reduce)")

// radius is how far a sound has come that left at leaveMS, in meters.
export const radius = (leaveMS, ms, speedMPS) => Math.max(0, ms - leaveMS) / 1000 * speedMPS

// firstAt is when the first sound reaches a place, and whether it is the player's.
export function firstAt(heard, [x, y, z]) {
  let ms = Infinity, kind = ""
  for (const a of heard.arrivals) {
    const at = a.leaveMS + Math.hypot(x - a.at[0], y - a.at[1], z - a.at[2]) / heard.speedMPS * 1000
    if (at < ms) { ms = at; kind = a.kind }
  }
  return { ms, kind }
}

// Fronts draws the fronts and the seats that they have reached, at any time after the note.
export class Fronts {
  constructor(heard, seats) {
    this.heard = heard
    const steps = new Map()
    for (const at of seats) {
      const { ms, kind } = firstAt(heard, at), step = Math.ceil(ms / stepMS), name = `${step} ${kind}`
      if (!steps.has(name)) steps.set(name, { ms: step * stepMS, kind, d: "" })
      steps.get(name).d += reached[kind](round(at[0]), round(-at[1]))
    }
    this.steps = [...steps.values()].map(s => ({ ms: s.ms, path: svg("path", { class: `reached by-${s.kind}`, d: s.d }) }))
    this.rings = heard.arrivals.map(a => ({ a, circle: svg("circle", { class: `front from-${a.kind}${soft(a) ? " soft" : ""}`, cx: round(a.at[0]), cy: round(-a.at[1]), "data-from": a.from }) }))
    this.root = svg("g", { class: "fronts" }, ...this.steps.map(s => s.path), ...this.rings.map(r => r.circle))
  }

  draw(ms) {
    for (const s of this.steps) if (s.on !== s.ms <= ms) { s.on = s.ms <= ms; s.path.setAttribute("display", s.on ? "inline" : "none") }
    for (const { a, circle } of this.rings) circle.setAttribute("r", round(radius(a.leaveMS, ms, this.heard.speedMPS)))
    return this
  }
}

const reached = {
  player: (x, y) => `M${round(x - 0.34)} ${y}a.34 .34 0 1 0 .68 0a.34 .34 0 1 0 -.68 0`,
  stack: (x, y) => `M${round(x - 0.42)} ${round(y + 0.36)}h.84l-.42 -.8z`,
}

// moments are four times that show the same without motion: twice on the way, when the first sound reaches the seat, and
// when the other one does that matters: the player, or the first stack after the player.
export function moments(heard) {
  const matter = heard.arrivals.filter(a => !soft(a)), first = matter[0]
  const other = matter.find(a => a.kind === "player" && a !== first) || matter.find(a => a !== first) || first
  return [{ ms: Math.round(first.timeMS / 3) }, { ms: Math.round(first.timeMS * 2 / 3) }, ...[first, other].map(a => ({ ms: Math.ceil(a.timeMS), words: `: ${a.from} reaches you` }))]
}

export class Play {
  // field is the drawing of the field; moved is called with the time that is drawn, or null for none.
  constructor(field, moved) {
    Object.assign(this, { field, moved, layer: svg("g", { class: "seat-fronts" }) })
    this.button = html("button", { id: "seat-play", title: "p", onclick: () => this.toggle() })
    this.slider = html("input", { type: "range", min: 0, value: 0, "aria-label": "time after the note, in ms", oninput: () => { this.halt(); this.draw(Number(this.slider.value)) } })
    this.clock = html("output", {})
    this.panel = html("div", { class: "play", role: "group", "aria-label": "play" }, this.button, this.slider, this.clock)
    this.signs = html("ul", { class: "play-signs", hidden: true })
    this.stills = html("div", { id: "stills", hidden: true })
    still.addEventListener("change", () => this.show(this.heard, this.seats))
    this.show(null)
  }

  // show takes what a seat hears, null for nothing, and all seats with their heights.
  show(heard, seats) {
    this.halt()
    Object.assign(this, { heard, seats, fronts: null })
    this.layer.replaceChildren()
    const sign = (words, ...marks) => html("li", {}, svg("svg", { viewBox: "-.8 -.8 1.6 1.6", "aria-hidden": "true" }, ...marks), words), own = heard && heard.arrivals.find(a => a.kind === "player")
    put(this.signs, ...[own && sign(`the sound of ${own.from}`, svg("circle", { r: 0.5, class: "front from-player" })), heard && sign("the sound of a stack", svg("circle", { r: 0.6, class: "front from-stack" })),
      own && seats.length && sign(`heard ${own.from} first`, svg("path", { class: "reached by-player", d: reached.player(0, 0) })), heard && seats.length && sign("heard a stack first", svg("path", { class: "reached by-stack", d: reached.stack(0, 0) }))].filter(Boolean))
    this.closeStills()
    this.button.disabled = this.slider.disabled = !heard || !heard.arrivals.length
    this.endMS = this.button.disabled ? 1 : Math.ceil((heard.arrivals[heard.arrivals.length - 1].timeMS + 30) / 10) * 10
    this.slider.max = this.endMS
    this.at(0)
  }

  toggle() {
    if (this.frame) return this.halt()
    if (still.matches) return this.stills.hidden ? this.openStills() : this.closeStills()
    let from = performance.now() - (this.ms < this.endMS ? this.ms : 0) * slower
    const step = now => {
      const ms = Math.min((now - from) / slower, this.endMS)
      this.draw(ms)
      this.frame = ms < this.endMS ? requestAnimationFrame(step) : null
      this.name()
    }
    this.frame = requestAnimationFrame(step)
    this.name()
  }

  halt() {
    if (this.frame) cancelAnimationFrame(this.frame)
    this.frame = null
    this.name()
  }

  name() { this.button.textContent = still.matches ? (this.stills.hidden ? "show four moments" : "back to the field") : this.frame ? "stop" : `play, ${slower} times slower` }

  draw(ms) {
    if (!this.heard) return
    if (!this.stills.hidden) this.closeStills()
    if (!this.fronts) {
      this.fronts = new Fronts(this.heard, this.seats)
      this.layer.replaceChildren(this.fronts.root)
    }
    this.fronts.draw(ms)
    this.at(ms)
  }

  at(ms) {
    this.ms = ms
    this.slider.value = ms
    this.clock.textContent = `${Math.round(ms)} ms`
    this.signs.hidden = !(ms > 0)
    this.field.into.classList.toggle("playing", ms > 0)
    this.moved(ms > 0 ? ms : null)
  }

  // openStills shows the field four times in place of once.
  openStills() {
    const parts = [...this.field.root.children].filter(g => !g.classList.contains("seat-layer") && !g.classList.contains("seats"))
    put(this.stills, ...moments(this.heard).map(({ ms, words }) => {
      const root = svg("svg", { viewBox: this.field.root.getAttribute("viewBox"), role: "img", style: this.field.root.getAttribute("style") }, ...parts.map(g => g.cloneNode(true)), new Fronts(this.heard, this.seats).draw(ms).root,
        svg("g", { transform: `translate(${this.heard.x} ${-this.heard.y})`, class: "seat-here" }, svg("circle", { r: 1.5 }), svg("circle", { r: 0.6, class: "dot" })))
      root.setAttribute("aria-label", `${ms} ms after the note: ${this.fronted(ms)}`)
      return html("figure", { "data-ms": ms }, root, html("figcaption", {}, html("b", {}, `${ms} ms after the note`), words || ""))
    }))
    this.stills.hidden = this.signs.hidden = false
    this.field.into.hidden = true
    this.name()
  }

  fronted(ms) { return this.heard.arrivals.map(a => a.leaveMS > ms ? `${a.from} has not begun` : `${a.from} ${Math.round(radius(a.leaveMS, ms, this.heard.speedMPS))} m`).join(", ") }

  closeStills() {
    this.stills.replaceChildren()
    this.stills.hidden = this.signs.hidden = true
    this.field.into.hidden = false
    this.name()
  }
}
