// The timeline of the whole show: movements and tempo, sets, cues, a bar for each channel where it is open, and where
// the delay and the pan of the chosen mic go, and how many seats are in time. Dragging along it moves the drill.

import { html, svg, round } from "./draw.js"
import { Lanes } from "./lanes.js"
import { clock } from "./time.js"

const margin = { left: 100, right: 14 }
const together = 12 // the most rows of a section that open at once
const named = 13, readable = 9, widest = 22 // pixels: a row with its name, the least of one, the most
const folded = 4, labeled = 14 // pixels: a row without its name, the rows of a section with its label
const digit = 8.5 // pixels: the width of a character of a cue's label
const stacked = "(max-width: 999px), (max-height: 599px)" // as in page.css
const top = { tempo: 14, sets: 44, cues: 62, bars: 84 }

export class Timeline {
  // seek is called with a count when the reader moves, choose with a player when the reader picks a bar.
  constructor(into, sections, seek, choose) {
    this.into = into
    this.sections = sections // holds a button for each section, over the names
    this.standsLane = null
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
      const bar = e.target.closest("[data-player]")
      if (bar) this.choose(bar.getAttribute("data-player"))
      into.setPointerCapture(e.pointerId)
      into.focus({ preventScroll: true })
      this.dragging = true
      const cue = e.target.closest("[data-cue]")
      if (cue) this.seek(Number(cue.getAttribute("data-at")))
      else drag(e)
    })
    into.addEventListener("pointermove", e => {
      if (this.dragging) drag(e)
      else if (this.view && e.pointerType !== "touch") this.openAt(e.clientY - this.into.getBoundingClientRect().top)
    })
    for (const end of ["pointerup", "pointercancel"]) into.addEventListener(end, () => { this.dragging = false })
    new ResizeObserver(() => this.draw()).observe(into)
    addEventListener("resize", () => this.draw())
  }

  show(view, time) { this.view = view; this.time = time; this.draw() }

  // showStands draws the lane of the stands; null for none.
  showStands(lane) { this.standsLane = lane; this.draw() }

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

  x(count) { return margin.left + (count - this.lo) / (this.hi - this.lo) * (this.wide - margin.left - this.right) }

  at(clientX) {
    const x = clientX - this.into.getBoundingClientRect().left
    const count = this.lo + (x - margin.left) / (this.wide - margin.left - this.right) * (this.hi - this.lo)
    return Math.min(Math.max(Math.round(count * 4) / 4, 0), this.view.counts)
  }

  draw() {
    if (!this.view || !this.into.clientWidth) return
    const v = this.view
    ;[this.lo, this.hi] = this.shownCounts()
    const lanes = this.lanes, most = this.most(), slim = most < 340, stands = this.withStands && slim ? null : this.standsLane // the stands are in sight
    const lanesHigh = lanes ? lanes.high(slim) : 0, standsHigh = stands ? stands.high(slim) : 0
    const below = 26 + lanesHigh + standsHigh
    const { rows, labels, high } = this.rows(most - top.bars - below)
    const last = v.cues[v.cues.length - 1]
    this.right = Math.max(margin.right, last ? 8 + digit * last.id.length : 0) // the last cue may be at the very end
    this.wide = this.into.clientWidth
    this.high = Math.round(top.bars + high + below)
    this.into.style.height = `${this.high}px`
    const root = svg("svg", { width: this.wide, height: this.high, viewBox: `0 0 ${this.wide} ${this.high}` })
    const inside = (a, b = a) => b >= this.lo && a <= this.hi
    const foot = this.high - 26, below1 = foot - standsHigh, below2 = below1 - lanesHigh
    this.movements(root, inside, foot)
    this.sets(root, inside, foot)
    this.cueLines(root, inside, foot)
    for (const r of rows) this.channel(root, r, inside)
    this.label(labels)
    this.cues(root, inside)
    const x = count => this.x(count)
    if (lanes) lanes.draw(root, this.lo, this.hi, x, below2 + 4, margin.left, this.wide - this.right, slim)
    if (stands) stands.draw(root, this.lo, this.hi, x, below1 + 4, margin.left, this.wide - this.right, slim)
    this.open(root, inside, foot)
    this.now = svg("g", { class: "now" }, svg("rect", { height: 17, y: top.cues }), svg("text", { y: top.cues + 13 }))
    root.append(this.now)
    this.playhead = svg("g", { class: "head" }, svg("line", { y1: 0, y2: this.high }), svg("path", { d: "M-6 0H6L0 9Z" }))
    root.append(this.playhead)
    this.into.replaceChildren(root)
    this.into.setAttribute("aria-valuemax", v.counts)
    this.highlight(this.chosen)
    this.move(this.count)
  }

  // most is the height that the timeline may have: less than half of the window, so that the field keeps its part. The stands take
  // more of it, and where the page is stacked the tabs below are to be in sight.
  most() {
    if (matchMedia(stacked).matches) return Math.max(200, Math.round(innerHeight / 4))
    return this.withStands ? Math.max(200, Math.round(innerHeight / 3)) : Math.max(250, Math.round(0.45 * innerHeight))
  }

  // rows lays out the channels, each with its name if there is room. Otherwise those of one section have names, and each
  // other section has a label with the number of its rows; a large section has several. The height is the same whichever
  // one is open. Where there is no room for that either, every section has a label.
  rows(room) {
    const groups = []
    for (const c of this.view.channels) {
      let g = groups.findLast(g => g.name === c.group)
      if (!g || g.channels.length === together) groups.push(g = { name: c.group || "no section", key: g ? `${c.group} ${c.number}` : c.group, label: g ? `from ${c.number}` : clip(c.group || "no section", 10), channels: [] })
      g.channels.push(c)
    }
    const rows = [], all = this.view.channels.length
    let y = 0
    const add = (g, high, name) => { for (const c of g.channels) { rows.push({ channel: c, y: top.bars + y, high, name }); y += high } }
    this.groups = []
    if (all * named <= room || !all) {
      for (const g of groups) add(g, Math.min(16, room / all), true)
      return { rows, labels: [], high: y }
    }
    let pitch = folded
    const shut = g => Math.max(labeled, g.channels.length * pitch)
    const others = g => groups.reduce((sum, o) => sum + (o === g ? 0 : shut(o)), 0)
    const least = () => Math.min(...groups.map(g => (room - others(g)) / g.channels.length)) // with the worst section open
    while (pitch > 2 && least() < named) pitch--
    if (least() < readable) pitch = 1
    if (least() < readable) {
      for (pitch = folded; pitch > 1 && others() > room;) pitch--
      const labels = groups.map(g => {
        const label = { ...g, y: top.bars + y, high: shut(g), fixed: true }
        add(g, Math.min(shut(g) / g.channels.length, 9), false)
        y = label.y - top.bars + shut(g)
        return label
      })
      return { rows, labels, high: y }
    }
    const mine = this.chosen !== this.shown && groups.find(g => g.channels.some(c => c.bars.some(b => b.player === this.chosen)))
    if (mine) this.opened = mine.key
    this.shown = this.chosen
    const high = Math.min(room, Math.max(...groups.map(g => others(g) + g.channels.length * widest)))
    const step = g => Math.min((high - others(g)) / g.channels.length, widest)
    const open = groups.find(g => g.key === this.opened) || groups[0]
    this.opened = open.key
    // Where the pointer is: a section begins at the same place whichever one is open, unless one before it is. So a pointer
    // that opens a section stays in it if each takes a part of the height that it covers when it is open.
    let begins = 0, count = 0, ends = 0
    this.groups = groups.map(g => {
      const from = Math.max(begins, Math.min(ends, high * count / all))
      ends = begins + step(g) * g.channels.length
      begins += shut(g)
      count += g.channels.length
      return { key: g.key, from: top.bars + from }
    })
    this.rowsEnd = top.bars + high
    const labels = groups.map(g => {
      const label = { ...g, y: top.bars + y, open: g === open }
      const next = y + (g === open ? step(g) * g.channels.length : shut(g))
      if (g === open) add(g, step(g), true)
      else add(g, Math.min(shut(g) / g.channels.length, 9), false)
      y = next
      return { ...label, high: next + top.bars - label.y }
    })
    return { rows, labels, high }
  }

  // openAt opens the section at a height in pixels.
  openAt(y) {
    if (!this.groups.length || y < top.bars || y > this.rowsEnd) return
    this.openSection(this.groups.findLast(g => g.from <= y).key)
  }

  openSection(key) {
    if (key === this.opened) return
    this.opened = key
    this.draw()
  }

  // label puts a button over each section's names. The buttons stay when the rows are drawn again, so that they keep the
  // focus.
  label(labels) {
    const names = g => g.channels.map(c => c.name).join(", ")
    const here = [...this.sections.children]
    if (labels.length !== here.length || labels.some((g, i) => g.key !== here[i].dataset.group)) this.sections.replaceChildren(...labels.map(g => html("button", { class: "group", "data-group": g.key,
      onfocus: () => this.openSection(g.key), onclick: () => this.openSection(g.key) })))
    for (const g of labels) {
      const button = [...this.sections.children].find(b => b.dataset.group === g.key)
      button.textContent = g.open ? "" : `${g.label} ×${g.channels.length}`
      button.disabled = !!g.fixed
      button.setAttribute("aria-label", `${g.name}, ${g.channels.length} channels: ${names(g)}`)
      button.setAttribute("aria-expanded", !!g.open)
      Object.assign(button.style, { top: `${round(g.y)}px`, height: `${round(g.high)}px` })
    }
  }

  // highlight marks the bars of one player.
  highlight(name) {
    this.chosen = name
    for (const bar of this.into.querySelectorAll(".bar")) bar.classList.toggle("chosen", bar.getAttribute("data-player") === name)
  }

  movements(root, inside, foot) {
    let fastest = 1, labelX = -99
    for (const m of this.view.movements) fastest = Math.max(fastest, ...m.bpm)
    this.view.movements.forEach((m, i) => {
      if (!inside(m.from, m.from + m.counts)) return
      const x1 = Math.max(this.x(m.from), margin.left), x2 = Math.min(this.x(m.from + m.counts), this.wide - this.right)
      root.append(svg("rect", { x: round(x1), y: 0, width: round(Math.max(x2 - x1, 0)), height: foot, class: i % 2 ? "movement odd" : "movement" }))
      root.append(svg("text", { x: round(x1 + 5), y: 12, class: "movement-name" }, x2 - x1 < 24 ? String(i + 1) : clip(`${i + 1} ${m.name}`, Math.floor((x2 - x1 - 6) / 8.6))))
      const height = b => 40 - 22 * b / fastest
      const points = m.bpm.map((b, n) => [m.from + n, b]).filter(([n]) => inside(n)).map(([n, b]) => `${round(this.x(n))},${round(height(b))}`)
      root.append(svg("polyline", { points: points.join(" "), class: "tempo" }))
      let last = 0
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
    let labelX = -99, last = 0
    for (const s of this.view.sets) {
      if (!inside(s.at)) continue
      const x = round(this.x(s.at))
      root.append(svg("line", { x1: x, x2: x, y1: top.sets, y2: foot, class: "set" }))
      if (x - labelX > 5 + 7.5 * last) { root.append(svg("text", { x: x + 2, y: top.sets + 10, class: "set-label" }, s.label)); labelX = x; last = s.label.length }
    }
  }

  // cueLines draws a thin line for each cue, under the bars.
  cueLines(root, inside, foot) {
    const xs = this.view.cues.filter(c => inside(c.at)).map(c => round(this.x(c.at)))
    root.append(svg("path", { class: "cue-lines", d: xs.map(x => `M${x} ${top.bars}V${foot}`).join("") }))
  }

  cues(root, inside) {
    root.append(svg("text", { x: 4, y: top.cues + 13, class: "legend" }, "cues"))
    this.cueLabels = []
    let labelX = -99, last = 0
    for (const c of this.view.cues) {
      if (!inside(c.at)) continue
      const x = round(this.x(c.at))
      const g = svg("g", { class: `cue${c.auto ? " auto" : ""}${c.mark ? " changed" : ""}`, "data-cue": c.id, "data-at": c.at })
      g.append(svg("line", { x1: x, x2: x, y1: top.cues, y2: top.bars }))
      if (x - labelX > 5 + digit * last) {
        const text = svg("text", { x: x + 2, y: top.cues + 13 }, c.id)
        this.cueLabels.push({ text, from: x + 2, to: x + 2 + digit * c.id.length })
        g.append(text)
        labelX = x
        last = c.id.length
      }
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
    if (name) root.append(svg("text", { x: 4, y: round(y + high / 2 + 4), class: high < 12 ? "channel-name small" : "channel-name" }, clip(`${c.number} ${c.name}`, 14), svg("title", {}, c.name)))
    for (const b of c.bars) {
      if (!inside(b.from, b.to)) continue
      const x1 = Math.max(this.x(b.from), margin.left), x2 = Math.min(this.x(b.to), this.wide - this.right)
      const part = [0.86, 0.7, 0.52, 0.36, 0.22][Math.min(b.rank, 4)] // softer roles have thinner bars
      const top = y + high * (1 - part) / 2, [from, thick] = name ? [top, high * part] : [Math.round(top), Math.max(Math.round(high * part), 1)] // a narrow bar is whole pixels, or it is gray
      root.append(svg("rect", { x: round(x1), y: round(from), width: round(Math.max(x2 - x1, 1)), height: round(thick), class: `bar rank${Math.min(b.rank, 4)}`, "data-player": b.player }, svg("title", {}, `${b.player}: ${b.role}, ${b.level}`)))
    }
    for (const w of this.view.handovers) { // the pack goes to another player
      if (w.channel !== c.number || !inside(w.at)) continue
      const x0 = this.x(w.at), mid = y + high / 2
      root.append(svg("path", { class: "swap", d: `M${round(x0 - 5)} ${round(mid - 2)}h9l-3 -2.5M${round(x0 + 5)} ${round(mid + 2)}h-9l3 2.5` }, svg("title", {}, `pack ${w.pack}: ${w.from} to ${w.to}`)))
    }
    for (const [from, to] of c.plays ?? []) { // under the bars: the wearer plays
      if (!inside(from, to)) continue
      const x1 = Math.max(this.x(from), margin.left), x2 = Math.min(this.x(to), this.wide - this.right)
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
      const x = Math.max(this.x(s.at), margin.left), x2 = Math.min(this.x(to), this.wide - this.right)
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
    if (!this.playhead) return
    this.playhead.setAttribute("transform", `translate(${round(this.x(count))} 0)`)
    const cue = this.view.cues.findLast(c => c.at <= count + 1e-6), shown = cue && cue.at >= this.lo
    this.now.setAttribute("visibility", shown ? "visible" : "hidden")
    let from = 0, to = 0
    if (shown) { // the labels that it would cut are hidden
      const [box, text] = this.now.children, wide = digit * cue.id.length + 6
      from = Math.min(this.x(cue.at), this.wide - wide)
      to = from + wide
      text.textContent = cue.id
      box.setAttribute("width", wide)
      this.now.setAttribute("transform", `translate(${round(from)} 0)`)
      text.setAttribute("x", 3)
    }
    for (const l of this.cueLabels) l.text.setAttribute("visibility", shown && l.from < to && from < l.to ? "hidden" : "visible")
    this.into.setAttribute("aria-valuenow", Math.round(count))
    this.into.setAttribute("aria-valuetext", `${this.time.words(count)}, ${clock(this.time.seconds(count))}`)
  }
}

const clip = (text, most) => text.length > most ? text.slice(0, most - 1) + "…" : text
