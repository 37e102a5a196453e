// The field as the press box sees it: side 1 on the left, the front sideline and the stacks at the bottom. One unit
// of the drawing is a meter. In the drawing y grows downward, so it is the negative of y on the field.

import { svg, round } from "./draw.js"

const yard = 0.9144
const namePX = 11 // height of a name, where that is from 1.2 to 7 m
const stackWide = 3, ringPX = 14 // the width of a stack's mark in meters; of the smallest ring that is drawn, in pixels

export class Field {
  constructor(into, choose) { this.into = into; this.choose = choose; this.withStands = false; this.withLevels = false; this.whole = false; new ResizeObserver(() => this.frame()).observe(into) }

  // show draws a new version of the show.
  show(view) {
    this.view = view
    this.labels = null
    this.count ??= 0
    this.keys = view.keys
    this.players = new Map()
    this.root = svg("svg", { role: "img", "aria-label": "the field", preserveAspectRatio: "xMidYMid meet" })
    this.seats = svg("g", { class: "seats" })
    this.rings = svg("g", { class: "rings" })
    this.bells = svg("g", { class: "bells" })
    this.sound = svg("g", { class: "sound" })
    this.walks = svg("g", { class: "walks" })
    this.crosses = svg("path", { class: "crosses" })
    this.ghosts = svg("g", { class: "ghosts" })
    this.people = svg("g", { class: "people" })
    this.names = svg("g", { class: "names" })
    this.problems = svg("g", { class: "problems" })
    this.root.append(this.drawGround(view.field), this.seats, this.rings, this.walks, this.sound, this.bells, this.ghosts, this.people, this.crosses, this.names, this.problems)
    view.players.forEach((p, i) => {
      const g = svg("g", { class: "player", "data-name": p.name }, svg("title", {}, p.name), svg("circle", { r: 1.1, class: "halo" }), this.mark(p.section))
      g.addEventListener("pointerdown", e => { e.stopPropagation(); this.choose(p.name) })
      const ghost = p.was ? svg("g", { class: "ghost" }, svg("line"), this.mark(p.section)) : null
      this.people.append(g)
      if (ghost) this.ghosts.append(ghost)
      this.players.set(p.name, { ...p, g, ghost, at: null })
    })
    for (const m of view.field.mics) {
      const g = svg("g", { class: "player fixed", "data-name": m.name, transform: `translate(${m.at[0]} ${-m.at[1]})` }, svg("title", {}, m.name), svg("circle", { r: 1.1, class: "halo" }), svg("path", { d: "M0 -.7V.7M-.6 0H.6", class: "mark stroked" }))
      g.addEventListener("pointerdown", e => { e.stopPropagation(); this.choose(m.name) })
      this.people.append(g)
      this.players.set(m.name, { name: m.name, path: [], g, at: m.at, fixed: true })
    }
    this.into.replaceChildren(this.root)
    this.frame()
  }

  // frame sets what is in sight: of the field where mics are open in this movement, so that it stays from cue to cue; or all
  // of the field that the show uses; with the stands both.
  frame() {
    if (!this.view) return
    const g = this.view.field
    let side = 18, front = 6, back = 12
    for (const k of g.stacks) { side = Math.max(side, Math.abs(k.at[0]) + 4); front = Math.max(front, -k.at[1] + (this.withLevels ? 14 : k.zone ? 4.6 : 3.2)) } // 14 m for most rings
    const take = ([x, y]) => { side = Math.max(side, Math.abs(x) + 4); back = Math.max(back, y + 4); front = Math.max(front, 2 - y) }
    if (this.whole || this.withStands) for (const p of this.view.players) p.path.forEach(take)
    else this.open().concat(this.chosenPlaces()).forEach(take)
    if (this.withStands) {
      front = Math.max(front, -g.reference[1] + 3)
      for (const [x, y] of g.seats) { side = Math.max(side, Math.abs(x) + 2); front = Math.max(front, -y + 2) }
    }
    this.root.setAttribute("viewBox", `${round(-side)} ${round(-back)} ${round(2 * side)} ${round(back + front)}`)
    this.metersPX = Math.max(2 * side / Math.max(this.into.clientWidth, 1), (back + front) / Math.max(this.into.clientHeight, 1))
    const wide = this.into.clientWidth * this.metersPX / 2, high = this.into.clientHeight * this.metersPX / 2, middle = (front - back) / 2
    this.shown = { x: -wide, y: middle - high, w: 2 * wide, h: 2 * high } // also what is beside the frame
    this.nameHigh = Math.min(Math.max(namePX * this.metersPX, 1.2), 7)
    this.root.style.setProperty("--name", `${round(this.nameHigh)}px`)
    this.labelStacks()
    this.drawRings()
    if (this.labels) this.label(...this.labels)
  }

  // labelStacks puts the names of the stacks where they do not cover each other: under the stack, or some lines below; the
  // zone is part of the last line. A name that fits nowhere is left out.
  labelStacks() {
    const high = this.nameHigh, s = this.shown
    this.stackNames = []
    for (const g of this.root.querySelectorAll(".stack")) {
      const [x, y] = g.getAttribute("transform").match(/-?[\d.]+(e-?\d+)?/g).map(Number)
      for (const text of g.querySelectorAll("text")) {
        const wide = 0.62 * high * text.textContent.length, middle = Math.max(s.x + wide / 2, Math.min(x, s.x + s.w - wide / 2))
        const first = y + 1.7 + 0.85 * high // the base line of a name right under its stack
        const at = [0, 1, 2].map(n => box(middle - wide / 2, first + (n - 0.85) * 1.15 * high, wide, 1.05 * high)).find(b => !this.stackNames.some(t => covers(b, t)))
        text.setAttribute("visibility", at ? "inherit" : "hidden")
        if (!at) continue
        this.stackNames.push(at)
        text.setAttribute("x", round(middle - x))
        text.setAttribute("y", round(at.y + 0.85 * high - y))
      }
    }
  }

  // chosenPlaces lists where the chosen player is in the movement of this count, with or without a mic.
  chosenPlaces() {
    const p = this.players.get(this.chosen), m = this.view.movements.find(m => this.count < m.from + m.counts) || this.view.movements[this.view.movements.length - 1]
    if (!p || p.fixed || !m) return []
    return [m.from, m.from + m.counts, ...this.keys.filter(k => k > m.from && k < m.from + m.counts)].map(k => this.place(p.path, k)).filter(Boolean)
  }

  // open lists where players are while they are open in the movement of this count; all that happens, before any is open.
  open() {
    const movement = this.view.movements.find(m => this.count < m.from + m.counts) || this.view.movements[this.view.movements.length - 1]
    const places = []
    if (movement) for (const c of this.view.channels) for (const b of c.bars) {
      const p = this.players.get(b.player), from = Math.max(b.from, movement.from), to = Math.min(b.to, movement.from + movement.counts)
      if (!p || p.fixed || from >= to) continue
      for (const at of [from, to, ...this.keys.filter(k => k > from && k < to)]) places.push(this.place(p.path, at))
    }
    const known = places.filter(Boolean)
    return known.length ? known : this.view.players.flatMap(p => p.path)
  }

  drawGround(g) {
    const half = g.length / 2, all = svg("g", { class: "ground" })
    this.numbers = [] // where the yard numbers are; names go beside them
    const line = (x1, y1, x2, y2, kind) => all.append(svg("line", { x1: round(x1), y1: round(-y1), x2: round(x2), y2: round(-y2), class: kind }))
    all.append(svg("rect", { x: -half - g.end_zone, y: -g.width, width: g.length + 2 * g.end_zone, height: g.width, class: "turf" }))
    const lines = Math.round(half / (5 * yard))
    for (let n = -lines; n <= lines; n++) {
      const x = n * 5 * yard, number = g.middle - 5 * Math.abs(n)
      line(x, 0, x, g.width, n === 0 ? "yard middle" : "yard")
      for (const h of g.hashes) line(x - 0.9, h, x + 0.9, h, "hash")
      if (number % 10 === 0 && number > 0) for (const y of [7, g.width - 7]) {
        all.append(svg("text", { x: round(x), y: round(-y + 0.9), class: "number" }, String(number)))
        this.numbers.push(box(x - 1.8, -y - 1.1, 3.6, 2.1))
      }
    }
    for (const y of [0, g.width]) line(-half - g.end_zone, y, half + g.end_zone, y, "sideline")
    for (const b of g.blocks) {
      const points = []
      for (let i = 0; i < b.length; i += 2) points.push(`${b[i]},${-b[i + 1]}`)
      all.append(svg("polygon", { points: points.join(" "), class: "block" }))
    }
    for (const k of g.stacks) {
      all.append(svg("g", { class: k.sub ? "stack sub" : "stack", transform: `translate(${k.at[0]} ${-k.at[1]})` },
        svg("path", { d: k.sub ? "M-.9 -.5H.9V.5H-.9Z" : "M-.9 -.7H.9L1.5 .9H-1.5Z" }), svg("text", { y: 2.6 }, k.name), k.zone ? svg("text", { y: 4.4 }, `zone ${k.zone}`) : null))
    }
    all.append(svg("g", { class: "reference", transform: `translate(${g.reference[0]} ${-g.reference[1]})` },
      svg("path", { d: "M-1.2 0 0 -1.2 1.2 0 0 1.2Z" }), svg("text", { x: 1.8, y: 0.5 }, "press box")))
    return all
  }

  mark(section) {
    const outline = this.view.marks[section < 0 ? this.view.marks.length - 1 : section % this.view.marks.length] // a player without a section has the last mark
    return svg("path", { class: "mark", d: "M" + outline.map(p => p.map(v => round(v * 0.55)).join(" ")).join("L") + "Z" })
  }

  // place is where a player is at a count, on the straight line between two points of the path.
  place(path, count) {
    if (!path.length) return null
    let lo = 0, hi = this.keys.length
    while (hi - lo > 1) { const mid = (lo + hi) >> 1; if (this.keys[mid] <= count) lo = mid; else hi = mid }
    const next = Math.min(lo + 1, this.keys.length - 1), span = this.keys[next] - this.keys[lo]
    const part = span > 0 ? Math.min(Math.max((count - this.keys[lo]) / span, 0), 1) : 0
    return [path[lo][0] + (path[next][0] - path[lo][0]) * part, path[lo][1] + (path[next][1] - path[lo][1]) * part]
  }

  // walk moves all players to a count, and shows who is open in a cue.
  walk(count, cue, chosen) {
    const movement = this.view.movements.findIndex(m => count < m.from + m.counts)
    if (this.movement !== movement || this.chosen !== chosen) { // another part of the field
      Object.assign(this, { movement, count, chosen })
      this.labels = null
      this.frame()
    }
    const open = new Map((cue ? cue.open : []).map(m => [m.player, m]))
    const named = []
    for (const p of this.players.values()) {
      if (!p.fixed) p.at = this.place(p.path, count)
      if (!p.at) { p.g.setAttribute("visibility", "hidden"); continue }
      const mic = open.get(p.name)
      p.g.setAttribute("transform", `translate(${round(p.at[0])} ${round(-p.at[1])})`)
      const state = (p.fixed ? "player fixed" : "player") + (mic ? ` open rank${Math.min(mic.rank, 4)} ${mic.sign}` : "") + (p.wears ? " wears" : "") + (p.name === chosen ? " chosen" : "")
      if (p.state !== state) { p.state = state; p.g.setAttribute("class", state) }
      if (mic) named.push({ p, mic })
      else if (p.name === chosen) named.push({ p, mic: null })
      if (p.ghost) {
        const was = this.place(p.was, count), off = was && Math.hypot(was[0] - p.at[0], was[1] - p.at[1]) > 0.02
        p.ghost.setAttribute("visibility", off ? "visible" : "hidden")
        if (off) {
          const [line, mark] = p.ghost.children
          for (const [k, v] of [["x1", was[0]], ["y1", -was[1]], ["x2", p.at[0]], ["y2", -p.at[1]]]) line.setAttribute(k, round(v))
          mark.setAttribute("transform", `translate(${round(was[0])} ${round(-was[1])})`)
        }
      }
    }
    this.markProblems(count, cue)
    this.drawWalks(count, cue, open, chosen)
    this.drawBells(count, cue)
    this.sound.replaceChildren(...named.filter(l => l.mic && !l.p.fixed).map(({ p, mic }) => svg("line", {
      x1: round(p.at[0]), y1: round(-p.at[1]), x2: mic.image[0], y2: -mic.image[1], class: `rank${Math.min(mic.rank, 4)}${p.name === chosen ? " chosen" : ""}`,
    })))
    this.label(named, chosen)
  }

  // markProblems marks the players that a problem at this count or in this cue is about.
  markProblems(count, cue) {
    const marks = new Map()
    for (const t of this.view.problems) {
      const p = this.players.get(t.player)
      if (!p || !p.at || t.at >= 0 && !(cue && t.cue === cue.id) && Math.abs(t.at - count) > 2) continue
      if (!marks.has(p) || t.severity === "error") marks.set(p, t)
    }
    this.problems.replaceChildren(...[...marks].map(([p, t]) => svg("g", { class: `player-problem ${t.severity}`, transform: `translate(${round(p.at[0])} ${round(-p.at[1] - 1.7)})` },
      svg("circle", { r: 0.8 }), svg("text", { y: 0.45 }, "!"), svg("title", {}, t.text))))
  }

  // label writes the names next to the open marks, each in the first free place: around the mark, or farther away with a line.
  label(named, chosen) {
    this.labels = [named, chosen]
    const nameHigh = this.nameHigh, s = this.shown
    const taken = [...this.stackNames, ...named.map(({ p }) => box(p.at[0] - 0.6, -p.at[1] - 0.6, 1.2, 1.2))], names = []
    const order = named.filter(l => !l.p.fixed || l.p.name === chosen).sort((a, b) => (b.p.name === chosen) - (a.p.name === chosen) || (a.mic ? a.mic.rank : 9) - (b.mic ? b.mic.rank : 9))
    for (const { p, mic } of order) {
      const wide = (mic && mic.rank < 2 || p.name === chosen ? 0.68 : 0.6) * nameHigh * p.name.length, x = p.at[0], y = -p.at[1]
      const near = [[x + 1, y - nameHigh / 2], [x - 1 - wide, y - nameHigh / 2], [x - wide / 2, y - 1 - nameHigh], [x - wide / 2, y + 1],
        [x + 0.8, y - 1 - nameHigh], [x + 0.8, y + 1], [x - 0.8 - wide, y - 1 - nameHigh], [x - 0.8 - wide, y + 1]]
      const far = farther.map(([dx, dy]) => [x + dx * nameHigh - (dx < 0 ? wide : dx ? 0 : wide / 2), y + dy * nameHigh - nameHigh / 2])
      const inside = [...near, ...far].map(([bx, by], n) => ({ ...box(bx, by - 0.1 * nameHigh, wide, 1.2 * nameHigh), far: n >= near.length }))
        .filter(b => b.x >= s.x && b.y >= s.y && b.x + b.w <= s.x + s.w && b.y + b.h <= s.y + s.h)
      const free = inside.filter(b => !taken.some(t => covers(b, t)))
      const at = free.find(b => !this.numbers.some(t => covers(b, t))) || free[0] || p.name === chosen && inside[0]
      if (!at) continue
      taken.push(at)
      if (at.far) names.push(svg("line", { x1: x, y1: y, x2: round(Math.min(Math.max(x, at.x), at.x + wide)), y2: round(at.y + (y > at.y ? 1.1 : 0.1) * nameHigh) }))
      names.push(svg("text", { x: round(at.x), y: round(at.y + nameHigh * 0.9), class: `${mic ? `rank${Math.min(mic.rank, 4)}` : "closed"}${p.name === chosen ? " chosen" : ""}` }, p.name))
    }
    this.names.replaceChildren(...names)
  }

  // drawWalks draws where everybody walks until the next cue, and a cross on those who stop being heard.
  drawWalks(count, cue, open, chosen) {
    const next = this.view.cues.find(c => c.at > count + 1e-6), to = next ? next.at : this.view.counts
    const counts = [...this.keys.filter(k => k > count && k < to), to]
    const lines = { closed: "", open: "", chosen: "" }, heads = { closed: "", open: "", chosen: "" }
    for (const p of this.players.values()) {
      if (p.fixed || !p.at) continue
      const way = [p.at, ...counts.map(c => this.place(p.path, c))].filter((q, i, all) => !i || Math.hypot(q[0] - all[i - 1][0], q[1] - all[i - 1][1]) > 0.03)
      const end = way[way.length - 1]
      const kind = p.name === chosen ? "chosen" : open.has(p.name) ? "open" : "closed", size = { chosen: 1.8, open: 1.1, closed: 0.7 }[kind]
      if (way.length < 2 || Math.hypot(end[0] - p.at[0], end[1] - p.at[1]) < (kind === "chosen" ? 0.02 : 0.9)) continue
      const from = way[way.length - 2]
      const long = Math.hypot(end[0] - from[0], end[1] - from[1]), ux = (end[0] - from[0]) / long * size, uy = (end[1] - from[1]) / long * size
      lines[kind] += "M" + way.map(([x, y]) => `${round(x)} ${round(-y)}`).join("L")
      heads[kind] += `M${round(end[0])} ${round(-end[1])}L${round(end[0] - ux - uy * 0.4)} ${round(-(end[1] - uy + ux * 0.4))}L${round(end[0] - ux + uy * 0.4)} ${round(-(end[1] - uy - ux * 0.4))}Z`
    }
    this.walks.replaceChildren(...["closed", "open", "chosen"].flatMap(kind => [svg("path", { d: lines[kind], class: `way ${kind}` }), svg("path", { d: heads[kind], class: `tip ${kind}` })]))
    this.crosses.setAttribute("d", (cue ? cue.stops : []).map(name => this.players.get(name)).filter(p => p && p.at).map(p => `M${round(p.at[0] - 0.8)} ${round(-p.at[1] - 0.8)}l1.6 1.6m0 -1.6l-1.6 1.6`).join(""))
  }

  // showLevels draws the rings around the stacks, and from now on the bells of that cue; null for none.
  showLevels(levels) {
    this.levels = levels
    if (this.withLevels !== !!levels) { this.withLevels = !!levels; this.frame() } else this.drawRings()
    this.drawBells(this.count, this.cue)
  }

  // drawRings draws the rings that can be seen at this scale: those that go past the mark of their stack.
  drawRings() {
    const wide = r => Math.max(...r.points.map(([x]) => x)) - Math.min(...r.points.map(([x]) => x))
    const seen = (this.levels ? this.levels.rings : []).filter(r => wide(r) > Math.max(stackWide + 1, ringPX * this.metersPX))
    this.rings.replaceChildren(...seen.map(r => svg("polygon", { points: r.points.map(([x, y]) => `${x},${-y}`).join(" "), class: `dba${r.dba}` }, svg("title", {}, r.label))))
    for (const r of seen) { // the label in front of the ring, and clear of the stack's own name
      const [x, y] = r.points[0], stack = this.view.field.stacks.find(k => !k.sub && Math.abs(k.at[0] - x) < 0.01)
      this.rings.append(svg("text", { x, y: round(Math.max(-y + 1.9, stack ? -stack.at[1] + (stack.zone ? 6.4 : 4.6) : 0)) }, r.label))
    }
  }

  // drawBells draws an arrow where each bell points, turning with the walk.
  drawBells(count, cue) {
    Object.assign(this, { count, cue })
    const levels = this.levels && cue && this.levels.cue === cue.id ? this.levels : null
    if (!levels) return this.bells.replaceChildren()
    const next = this.view.cues.find(c => c.at > cue.at), to = next ? next.at : this.view.counts
    const part = to > cue.at ? Math.min(Math.max((count - cue.at) / (to - cue.at), 0), 1) : 0
    this.bells.replaceChildren(...levels.bells.map(b => {
      const p = this.players.get(b.player)
      if (!p || !p.at) return ""
      const angle = Math.atan2(...[1, 0].map(i => (1 - part) * b.from[i] + part * b.to[i])) * -180 / Math.PI
      return svg("path", { d: "M.9 0H2.6M2.6 0l-.7 -.45v.9z", class: "bell", "data-bell": b.player, transform: `translate(${round(p.at[0])} ${round(-p.at[1])}) rotate(${round(angle)})` })
    }))
  }

  // showMap draws a map of the stands with a sign for each class, or hatching where its figure is held back; null for none.
  showMap(map) {
    this.seats.replaceChildren()
    if (!map) return
    const draw = (seats, path, kind) => this.seats.append(svg("path", { d: seats.map(([x, y]) => path(round(x), round(-y))).join(""), class: kind }))
    if (map.held) return draw(this.view.field.seats, signs.held, "held")
    ;(map.classes || []).forEach((c, n) => draw(this.view.field.seats.filter((_, i) => map.seats[i] === n), signs[c.sign], c.sign))
  }

  // showSeats draws the arrival gap at each seat, by shape as well as by color, and a ring around the seats that hear an
  // echo. gaps is null to draw no seats.
  showSeats(gaps, windowMS, echo = []) {
    this.seats.replaceChildren()
    if (!gaps) return
    const kinds = new Map(shades.map(s => [s.name, []]))
    gaps.forEach((ms, i) => { kinds.get(shade(ms, windowMS)).push(this.view.field.seats[i]) })
    for (const s of shades) {
      const d = kinds.get(s.name).map(([x, y]) => s.path(round(x), round(-y))).join("")
      if (d) this.seats.append(svg("path", { d, class: s.name }))
    }
    const rings = echo.map(i => this.view.field.seats[i]).map(([x, y]) => signs.echo(round(x), round(-y))).join("")
    if (rings) this.seats.append(svg("path", { d: rings, class: "echo" }))
  }
}

// How the classes of a map are drawn: the larger and the farther from the ground in lightness, the worse. What is held back
// is hatched.
export const signs = {
  bad: (x, y) => `M${x - 0.42} ${y - 0.42}h.84v.84h-.84z`,
  between: (x, y) => `M${x - 0.4} ${y - 0.13}h.8v.26h-.8z`,
  good: (x, y) => ring(x, y, 0.24),
  echo: (x, y) => ring(x, y, 0.55),
  box: (x, y) => `M${x - 0.55} ${y}l.55 -.55 .55 .55 -.55 .55z`, // as on the field
  held: (x, y) => `M${x - 0.4} ${y + 0.4}l.8 -.8`,
}

const ring = (x, y, r) => `M${round(x - r)} ${y}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0`

// Where a name may go that has no room next to its mark, in heights of a name, the nearest first.
const farther = []
for (const r of [2.2, 3.2, 4.4, 5.8, 7.4, 9.2]) for (let n = 0; n < 16; n++) farther.push([r * Math.sin(n * Math.PI / 8), -r * Math.cos(n * Math.PI / 8)])

const box = (x, y, w, h) => ({ x, y, w, h })

const covers = (b, t) => b.x < t.x + t.w && t.x < b.x + b.w && b.y < t.y + t.h && t.y < b.y + b.h

// How a seat is drawn: loudspeaker ahead of the player a triangle, in time a small ring, late a bar; early or late by over
// 10 ms larger.
export const shades = [
  { name: "very-early", path: (x, y) => `M${x} ${y - 0.5}l.5 .9h-1z` },
  { name: "early", path: (x, y) => `M${x} ${y - 0.3}l.3 .55h-.6z` },
  { name: "in-time", path: signs.good },
  { name: "late", path: signs.between },
  { name: "very-late", path: (x, y) => `M${x - 0.5} ${y - 0.35}h1v.26h-1zM${x - 0.5} ${y + 0.12}h1v.26h-1z` },
]

export function shade(ms, windowMS) {
  if (ms < -10) return "very-early"
  if (ms < 0) return "early"
  if (ms <= windowMS) return "in-time"
  return ms <= windowMS + 10 ? "late" : "very-late"
}
