// The timeline of the whole show: movements and tempo, sets, cues, a bar for each channel where it is open, and where
// the delay and the pan of the chosen mic go. Dragging along it moves the drill.

import { svg, round } from "./draw.js"
import { Lanes, lanesHigh } from "./lanes.js"
import { clock } from "./time.js"

const margin = { left: 100, right: 14 }
const together = 12 // the most rows of a section that open at once
const named = 11.5, readable = 9 // pixels: a row with its name, the least of one
const folded = 4, labeled = 13 // pixels: a row without its name, the rows of a section with its label
const stacked = "(max-width: 999px), (max-height: 599px)" // as in page.css
const top = { tempo: 14, sets: 44, cues: 62, bars: 84 }

export class Timeline {
  // seek is called with a count when the reader moves, choose with a player when the reader picks a bar.
  constructor(into, seek, choose) {
    this.into = into
    this.seek = seek
    this.choose = choose
    this.count = 0
    this.span = "all"
    this.chosen = ""
    this.opened = "" // the section whose rows have names where there is no room for all
    this.withStands = false
    const drag = e => { this.seek(this.at(e.clientX)); e.preventDefault() }
    into.addEventListener("pointerdown", e => {
      if (!this.view) return
      const group = e.target.closest("[data-group]")
      if (group) { this.opened = group.getAttribute("data-group"); return this.draw() }
      const bar = e.target.closest("[data-player]")
      if (bar) this.choose(bar.getAttribute("data-player"))
      into.setPointerCapture(e.pointerId)
      into.focus({ preventScroll: true })
      this.dragging = true
      const cue = e.target.closest("[data-cue]")
      if (cue) this.seek(Number(cue.getAttribute("data-at")))
      else drag(e)
    })
    into.addEventListener("pointermove", e => { if (this.dragging) drag(e) })
    for (const end of ["pointerup", "pointercancel"]) into.addEventListener(end, () => { this.dragging = false })
    new ResizeObserver(() => this.draw()).observe(into)
    addEventListener("resize", () => this.draw())
  }

  show(view, time) { this.view = view; this.time = time; this.draw() }

  // showPaths draws the lanes of the chosen mic below the bars; null for none.
  showPaths(paths) {
    this.lanes = paths && paths.stretches.length ? new Lanes(paths) : null
    this.draw()
  }

  // shownCounts is the first and the last count that are drawn.
  shownCounts() {
    if (this.span === "movement" && this.view.movements.length) {
      const m = this.view.movements[this.time.movement(this.count)]
      return [m.from, m.from + m.counts]
    }
    if (this.span === "close") {
      const lo = Math.max(0, Math.min(this.count - 16, this.view.counts - 64))
      return [lo, Math.min(lo + 64, Math.max(this.view.counts, 1))]
    }
    return [0, Math.max(this.view.counts, 1)]
  }

  x(count) { return margin.left + (count - this.lo) / (this.hi - this.lo) * (this.wide - margin.left - margin.right) }

  at(clientX) {
    const x = clientX - this.into.getBoundingClientRect().left
    const count = this.lo + (x - margin.left) / (this.wide - margin.left - margin.right) * (this.hi - this.lo)
    return Math.min(Math.max(Math.round(count * 4) / 4, 0), this.view.counts)
  }

  draw() {
    if (!this.view || !this.into.clientWidth) return
    const v = this.view
    ;[this.lo, this.hi] = this.shownCounts()
    const lanes = this.lanes, most = this.most(), slim = most < 300
    const below = 26 + (lanes ? lanesHigh(slim) : 0)
    const { rows, labels, high } = this.rows(most - top.bars - below)
    this.wide = this.into.clientWidth
    this.high = Math.round(top.bars + high + below)
    this.into.style.height = `${this.high}px`
    const root = svg("svg", { width: this.wide, height: this.high, viewBox: `0 0 ${this.wide} ${this.high}` })
    const inside = (a, b = a) => b >= this.lo && a <= this.hi
    const foot = this.high - 26, bars = foot - (lanes ? lanesHigh(slim) : 0)
    this.movements(root, inside, foot)
    this.sets(root, inside, foot)
    for (const r of rows) this.channel(root, r, inside)
    for (const g of labels) this.label(root, g)
    this.cues(root, inside, foot)
    if (lanes) lanes.draw(root, this.lo, this.hi, count => this.x(count), bars + 4, margin.left, this.wide - margin.right, slim)
    this.open(root, inside, foot)
    this.playhead = svg("g", { class: "head" }, svg("line", { y1: 0, y2: this.high }), svg("path", { d: "M-6 0H6L0 9Z" }))
    root.append(this.playhead)
    this.into.replaceChildren(root)
    this.into.setAttribute("aria-valuemax", v.counts)
    this.highlight(this.chosen)
    this.move(this.count)
  }

  // most is the height that the timeline may have: half of the window, so that the field keeps its part. The stands take
  // more of it, and where the page is stacked the tabs below are to be in sight.
  most() {
    if (matchMedia(stacked).matches) return Math.max(200, Math.round(innerHeight / 4))
    return this.withStands ? Math.max(200, Math.round(innerHeight / 3)) : Math.max(250, Math.round(innerHeight / 2))
  }

  // rows lays out the channels, each with its name if there is room. Otherwise those of one section have names, and each
  // other section has a label with the number of its rows; a large section has several. The height is the same whichever
  // one is open. Where there is no room for that either, every section has a label.
  rows(room) {
    const groups = []
    for (const c of this.view.channels) {
      let g = groups.findLast(g => g.name === c.group)
      if (!g || g.channels.length === together) groups.push(g = { name: c.group, key: g ? `${c.group} ${c.number}` : c.group, label: g ? `from ${c.number}` : clip(c.group || "no section", 10), channels: [] })
      g.channels.push(c)
    }
    const rows = [], labels = [], all = this.view.channels.length
    let y = 0
    const add = (g, high, name) => { for (const c of g.channels) { rows.push({ channel: c, y: top.bars + y, high, name }); y += high } }
    if (all * named <= room || !all) {
      for (const g of groups) add(g, Math.min(13, room / all), true)
      return { rows, labels, high: y }
    }
    let pitch = folded
    const shut = g => Math.max(labeled, g.channels.length * pitch)
    const others = g => groups.reduce((sum, o) => sum + (o === g ? 0 : shut(o)), 0)
    const high = () => Math.min(...groups.map(g => (room - others(g)) / g.channels.length)) // with the worst section open
    while (pitch > 1 && high() < named) pitch--
    const step = Math.min(high(), 14)
    const fold = g => {
      labels.push({ ...g, y: top.bars + y, opens: step >= readable })
      const next = y + shut(g)
      add(g, Math.min(shut(g) / g.channels.length, 9), false)
      y = next
    }
    if (step < readable) {
      for (pitch = folded; pitch > 1 && others() > room;) pitch--
      groups.forEach(fold)
      return { rows, labels, high: y }
    }
    const mine = this.chosen !== this.shown && groups.find(g => g.channels.some(c => c.bars.some(b => b.player === this.chosen)))
    if (mine) this.opened = mine.key
    this.shown = this.chosen
    const open = groups.find(g => g.key === this.opened) || groups[0]
    for (const g of groups) if (g === open) add(g, step, true); else fold(g)
    return { rows, labels, high: Math.max(...groups.map(g => g.channels.length * step + others(g))) }
  }

  // label writes the label of a section whose rows have no names.
  label(root, g) {
    const text = svg("text", { x: 4, y: round(g.y + 10.5) }, `${g.opens ? "▸ " : ""}${g.label} ×${g.channels.length}`)
    if (!g.opens) return root.append(text)
    root.append(svg("g", { class: "group", "data-group": g.key }, svg("rect", { x: 0, y: round(g.y), width: margin.left - 4, height: labeled }),
      text, svg("title", {}, `${g.name}: show the names`)))
  }

  // highlight marks the bars of one player.
  highlight(name) {
    this.chosen = name
    for (const bar of this.into.querySelectorAll(".bar")) bar.classList.toggle("chosen", bar.getAttribute("data-player") === name)
  }

  movements(root, inside, foot) {
    let fastest = 1
    for (const m of this.view.movements) fastest = Math.max(fastest, ...m.bpm)
    this.view.movements.forEach((m, i) => {
      if (!inside(m.from, m.from + m.counts)) return
      const x1 = Math.max(this.x(m.from), margin.left), x2 = Math.min(this.x(m.from + m.counts), this.wide - margin.right)
      root.append(svg("rect", { x: round(x1), y: 0, width: round(Math.max(x2 - x1, 0)), height: foot, class: i % 2 ? "movement odd" : "movement" }))
      root.append(svg("text", { x: round(x1 + 5), y: 12, class: "movement-name" }, `${i + 1} ${m.name}`))
      const height = b => 40 - 22 * b / fastest
      const points = m.bpm.map((b, n) => [m.from + n, b]).filter(([n]) => inside(n)).map(([n, b]) => `${round(this.x(n))},${round(height(b))}`)
      root.append(svg("polyline", { points: points.join(" "), class: "tempo" }))
      let labelX = -99, last = 0
      m.bpm.forEach((b, n) => {
        const x = this.x(m.from + n)
        const steady = b === m.bpm[n + 1] || n === m.bpm.length - 1
        if (steady && b !== last && inside(m.from + n) && x - labelX > 42) { root.append(svg("text", { x: round(x + 2), y: round(height(b) + 11), class: "bpm" }, `${b}`)); labelX = x }
        if (steady) last = b
      })
    })
    root.append(svg("text", { x: 4, y: 26, class: "legend" }, "tempo, bpm"))
  }

  sets(root, inside, foot) {
    root.append(svg("text", { x: 4, y: top.sets + 10, class: "legend" }, "sets"))
    let labelX = -99
    for (const s of this.view.sets) {
      if (!inside(s.at)) continue
      const x = round(this.x(s.at))
      root.append(svg("line", { x1: x, x2: x, y1: top.sets, y2: foot, class: "set" }))
      if (x - labelX > 8 + 6 * s.label.length) { root.append(svg("text", { x: x + 2, y: top.sets + 10, class: "set-label" }, s.label)); labelX = x }
    }
  }

  cues(root, inside, foot) {
    root.append(svg("text", { x: 4, y: top.cues + 13, class: "legend" }, "cues"))
    let labelX = -99, last = 0
    for (const c of this.view.cues) {
      if (!inside(c.at)) continue
      const x = round(this.x(c.at))
      const g = svg("g", { class: `cue${c.auto ? " auto" : ""}${c.mark ? " changed" : ""}`, "data-cue": c.id, "data-at": c.at })
      g.append(svg("line", { x1: x, x2: x, y1: top.cues, y2: foot }))
      if (x - labelX > 5 + 8.5 * last) { g.append(svg("text", { x: x + 2, y: top.cues + 13 }, c.id)); labelX = x; last = c.id.length }
      if (c.mark) g.append(svg("path", { d: `M${x - 5} ${top.bars}h10l-5 -8z`, class: "delta" }))
      root.append(g)
    }
    for (const p of this.view.problems) {
      if (p.at < 0 || !inside(p.at)) continue
      const x = round(this.x(p.at))
      root.append(svg("g", { class: `problem ${p.severity}` }, svg("circle", { cx: x, cy: top.cues - 6, r: 6 }), svg("text", { x, y: top.cues - 2.5 }, "!"), svg("title", {}, p.text)))
    }
  }

  channel(root, { channel: c, y, high, name }, inside) {
    if (name) root.append(svg("text", { x: 4, y: round(y + high / 2 + 4), class: "channel-name" }, clip(`${c.number} ${c.name}`, 15), svg("title", {}, c.name)))
    for (const b of c.bars) {
      if (!inside(b.from, b.to)) continue
      const x1 = Math.max(this.x(b.from), margin.left), x2 = Math.min(this.x(b.to), this.wide - margin.right)
      const part = [0.86, 0.7, 0.52, 0.36, 0.22][Math.min(b.rank, 4)] // softer roles have thinner bars
      root.append(svg("rect", { x: round(x1), y: round(y + high * (1 - part) / 2), width: round(Math.max(x2 - x1, 1)), height: round(high * part), class: `bar rank${Math.min(b.rank, 4)}`, "data-player": b.player }, svg("title", {}, `${b.player}: ${b.role}, ${b.level}`)))
    }
    for (const [from, to] of c.plays ?? []) { // under the bars: the wearer plays
      if (!inside(from, to)) continue
      const x1 = Math.max(this.x(from), margin.left), x2 = Math.min(this.x(to), this.wide - margin.right)
      root.append(svg("line", { x1: round(x1), x2: round(Math.max(x2, x1 + 1)), y1: round(y + high - 1), y2: round(y + high - 1), class: "plays" }, svg("title", {}, "plays")))
    }
  }

  open(root, inside, foot) {
    root.append(svg("text", { x: 4, y: this.high - 9, class: "legend" }, "open (cost dB)"))
    const most = Math.max(1, ...this.view.open_count.map(s => s.open))
    let labelX = -99
    this.view.open_count.forEach((s, i) => {
      const next = this.view.open_count[i + 1], to = next ? next.at : this.view.counts
      if (!inside(s.at, to)) return
      const x = Math.max(this.x(s.at), margin.left), x2 = Math.min(this.x(to), this.wide - margin.right)
      const y = round(this.high - 2 - 7 * s.open / most) // under the text
      root.append(svg("line", { x1: round(x), x2: round(x2), y1: y, y2: y, class: "open-count" }))
      const text = x2 - x > 62 ? `${s.open} (${s.db})` : String(s.open)
      if (x - labelX > 20 && x2 - x > 14) { root.append(svg("text", { x: round(x + 2), y: this.high - 12, class: "open-text" }, text)); labelX = x }
    })
  }

  // move puts the playhead at a count. If the count is not in the drawn part, it draws another part.
  move(count) {
    this.count = count
    if (!this.view) return
    if (this.span !== "all" && this.playhead && (count < this.lo || count > this.hi || (this.span === "close" && !this.dragging && count > this.lo + 56 && this.hi < this.view.counts))) return this.draw()
    if (this.lanes) this.lanes.move(count)
    if (this.playhead) this.playhead.setAttribute("transform", `translate(${round(this.x(count))} 0)`)
    this.into.setAttribute("aria-valuenow", Math.round(count))
    this.into.setAttribute("aria-valuetext", `${this.time.words(count)}, ${clock(this.time.seconds(count))}`)
  }
}

const clip = (text, most) => text.length > most ? text.slice(0, most - 1) + "…" : text
