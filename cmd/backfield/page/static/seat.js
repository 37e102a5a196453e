// The seat's screen: what one seat, or the press box, hears of the chosen mic at this count. It takes the place of the
// cards, and draws on the field. All numbers come from the program.

import { html, put, svg, round } from "./draw.js"
import { strip } from "./seatstrip.js"
import { Play } from "./seatplay.js"
import { Ears } from "./seatears.js"
import { mics } from "./seatmics.js"

const box = -1 // the index of the press box
const pressPX = 14 // a press so close to a seat is meant for it

export class Seat {
  // field is the drawing of the field; into is where the screen goes; state is what the page shows: view, count, cue,
  // chosen, and if it walks. opened and closed are called when the screen comes and goes, choose with a player's name.
  constructor(field, into, state, opened, closed, choose) {
    Object.assign(this, { field, into, state, opened, closed, choose, index: null, last: box, kept: null, way: "compiled", other: "none", a: new Reply(), b: new Reply(), all: new Reply() })
    const number = label => html("input", { type: "number", min: 1, "aria-label": label, oninput: () => this.enter() })
    this.name = html("h2", { tabindex: -1 })
    this.block = html("select", { "aria-label": "block of seats", onchange: () => this.enter() })
    this.row = number("row")
    this.number = number("seat")
    this.rowAndSeat = html("span", {}, this.block, html("label", {}, "row ", this.row), html("label", {}, "seat ", this.number))
    this.boxButton = html("button", { onclick: () => this.sit(box) }, "press box")
    this.where = html("p", { class: "where" })
    this.big = html("p", { class: "big" })
    this.why = html("p")
    this.verdict = html("div", { class: "verdict", role: "status" }, this.big, this.why)
    this.stripA = html("div", { id: "strip-a" })
    this.stripB = html("div", { id: "strip-b" })
    this.ways = html("fieldset", { class: "ways" })
    this.others = html("select", { id: "seat-b", onchange: () => { this.other = this.others.value; this.ask() } })
    this.keep = html("button", { onclick: () => this.keepHere() }, "keep this seat as B")
    this.said = html("p", { class: "said" })
    this.mics = html("div")
    this.arrivals = html("tbody")
    this.levels = html("p", { class: "place" })
    this.numbers = html("details", { class: "numbers" }, html("summary", {}, "as a table"), html("table", {}, html("thead", {}, html("tr", {}, ...["from", "after the note", "level", "direction"].map(h => html("th", { scope: "col" }, h)))), this.arrivals))
    this.ears = new Ears(which => this[which].value)
    this.play = new Play(field, ms => this.drawClock(ms))
    field.into.before(this.play.signs, this.play.stills)
    this.keys = { p: () => this.play.toggle(), a: () => this.ears.play("a"), b: () => this.ears.play("b") }
    this.layer = svg("g", { class: "seat-layer" })
    this.paths = svg("g", { class: "seat-paths" })
    this.marker = svg("g", { class: "seat-here", tabindex: 0, role: "application" }, svg("circle", { r: 1.5 }), svg("circle", { r: 0.6, class: "dot" }), svg("text"))
    this.layer.append(this.paths, this.play.layer, this.marker)
    put(into,
      html("div", { class: "seat-head" }, this.name, html("button", { id: "seat-close", title: "Esc", onclick: () => this.close() }, "close")),
      html("div", { class: "pick", role: "group", "aria-label": "another seat" }, this.rowAndSeat, this.boxButton),
      this.where, this.verdict, this.stripA, this.ways, this.play.panel, this.ears.panel,
      html("div", { class: "compare" }, html("label", { for: "seat-b" }, html("b", {}, "B"), " is"), this.others, this.keep), this.said, this.stripB, this.mics, this.levels, this.numbers, this.ears.note)
    for (const e of [into, this.marker]) e.addEventListener("keydown", e => this.key(e))
    new ResizeObserver(() => this.drawStrips()).observe(this.stripA)
  }

  get open() { return this.index !== null }

  // showView takes a new version of the show, after the field has been drawn again.
  showView(view) {
    this.seats = view.field.seats
    this.sheet = new Map() // the names of surveyed seats, as replies give them
    this.rows = view.field.rows
    const blocks = [...new Set(this.rows.map(r => r.block))]
    put(this.block, ...blocks.map(name => html("option", {}, name)))
    this.block.hidden = blocks.length < 2
    this.rowAndSeat.hidden = !this.rows.length
    for (const kept of ["index", "last", "kept"]) if (this[kept] !== null && this[kept] >= this.seats.length) this[kept] = kept === "kept" ? null : box
    if (this.open) this.mark()
  }

  // pressed is the seat, or the press box, that a press on the field is meant for; null for none.
  pressed(e) {
    if (!this.seats) return null
    const p = new DOMPoint(e.clientX, e.clientY).matrixTransform(this.field.root.getScreenCTM().inverse())
    let best = null, least = Math.max(1.2, pressPX * this.field.metersPX)
    const look = ([x, y], index) => { const m = Math.hypot(x - p.x, -y - p.y); if (m < least) { least = m; best = index } }
    this.seats.forEach(look)
    look(this.state.view.field.reference, box)
    return best
  }

  // sit goes to a seat, or to the press box.
  sit(index, focus) {
    const first = !this.open, [x, y] = this.state.view.field.reference
    if (index !== box && !this.rowOf(index) && this.seats[index][0] === x && this.seats[index][1] === y) index = box // which may be one of the seats
    this.index = this.last = index
    if (first) {
      this.into.hidden = false
      document.body.classList.add("seated")
      this.big.textContent = "computing what arrives" // the first time takes as long as the levels
      this.opened()
    }
    this.mark()
    this.ask()
    if (focus) this.marker.focus({ preventScroll: true })
  }

  // toggle goes to the last seat, or leaves it.
  toggle() {
    if (this.open) return this.close()
    this.sit(this.last)
    this.name.focus()
  }

  close() {
    if (!this.open) return
    this.index = null
    for (const reply of [this.a, this.b, this.all]) Object.assign(reply, { asked: null, next: null })
    this.play.show(null)
    this.ears.stop()
    this.layer.remove()
    this.field.root.classList.remove("at-box")
    this.into.hidden = true
    document.body.classList.remove("seated")
    this.closed()
  }

  // enter sits where the reader has typed.
  enter() {
    const row = this.rows.find(r => r.block === this.block.value && r.row === Number(this.row.value)), n = Number(this.number.value)
    this.row.setCustomValidity(row ? "" : "there is no such row")
    this.number.setCustomValidity(!row || n >= 1 && n <= row.seats ? "" : `row ${row.row} has seats 1 to ${row.seats}`)
    const fault = [this.row, this.number].find(e => !e.checkValidity())
    if (fault) this.where.textContent = `${fault.validationMessage}.`
    else this.sit(row.from + n - 1)
  }

  keepHere() {
    this.kept = this.index
    this.other = "kept"
    this.drawChoices(this.a.value ? this.a.value.ways : [])
    this.ask()
  }

  key(e) {
    if (e.ctrlKey || e.metaKey || e.altKey) return
    if (e.key === "Escape") this.close()
    else if (this.keys[e.key] && e.target.type === "number") this.keys[e.key]() // elsewhere the page does it
    else if (e.currentTarget === this.marker && e.key.startsWith("Arrow")) this.sit(this.beside(e.key), true)
    else return
    e.stopPropagation()
    e.preventDefault()
  }

  rowOf(index) { return this.rows.find(r => r.from <= index && index < r.from + r.seats) }

  // beside is the next seat in a direction: along the row, or the nearest one in the row before or behind. The field is up.
  beside(key) {
    const row = this.rowOf(this.index), by = key === "ArrowLeft" || key === "ArrowUp" ? -1 : 1
    if (this.index === box) return this.seats.length ? this.nearest(0, 0, this.seats.length) : box
    if (!row) return Math.min(Math.max(this.index + by, 0), this.seats.length - 1) // surveyed, in the order of the sheet
    if (key === "ArrowLeft" || key === "ArrowRight") return Math.min(Math.max(this.index + by, row.from), row.from + row.seats - 1)
    const other = this.rows[this.rows.indexOf(row) + by]
    return other ? this.nearest(this.seats[this.index][0], other.from, other.seats) : this.index
  }

  nearest(x, from, seats) {
    let best = from
    for (let i = from; i < from + seats; i++) if (Math.abs(this.seats[i][0] - x) < Math.abs(this.seats[best][0] - x)) best = i
    return best
  }

  words(index) {
    if (index === box) return "Press box"
    const row = this.rowOf(index)
    if (!row) return this.sheet.get(index) || "A seat of the sheet"
    return this.block.hidden ? `Row ${row.row}, seat ${index - row.from + 1}` : `${row.block}, row ${row.row}, seat ${index - row.from + 1}`
  }

  // mark draws where the reader sits.
  mark() {
    if (this.layer.parentNode !== this.field.root) this.field.root.append(this.layer)
    const [x, y] = this.index === box ? this.state.view.field.reference : this.seats[this.index], row = this.rowOf(this.index), name = this.words(this.index)
    if (this.name.textContent !== name) this.name.textContent = name
    if (row && !this.rowAndSeat.contains(document.activeElement)) { this.block.value = row.block; this.row.value = row.row; this.number.value = this.index - row.from + 1 }
    this.boxButton.setAttribute("aria-pressed", this.index === box)
    this.field.root.classList.toggle("at-box", this.index === box) // whose own label would be under this one
    this.marker.setAttribute("transform", `translate(${round(x)} ${round(-y)})`)
    this.marker.setAttribute("aria-label", `${name}. Arrow keys go to the next seat.`)
    const text = this.marker.lastChild, frame = this.field.root.viewBox.baseVal, high = this.field.nameHigh
    const left = x + 2.2 + 0.6 * high * name.length > frame.x + frame.width
    text.textContent = name
    for (const [k, v] of Object.entries({ x: left ? -2.2 : 2.2, y: round(high * 0.35), "text-anchor": left ? "end" : "start" })) text.setAttribute(k, v)
  }

  // question asks of a seat in a way at this count; "" if there is no mic to ask about.
  question(index, way) {
    const { cue, chosen } = this.state, player = chosen || cue && cue.open.length && cue.open[0].player
    return player ? `seat?${this.place(index)}&player=${encodeURIComponent(player)}&way=${way}` : ""
  }

  // place is what every question says: where, when, and of which version of the show.
  place(index) { return `${index === box ? "place=box" : `index=${index}`}&count=${Math.round(this.state.count * 4) / 4}&v=${this.state.view.version}` }

  // ask asks for both, A and B, at this count.
  ask() {
    if (!this.open) return
    const elsewhere = { box, kept: this.kept }[this.other]
    this.verdict.setAttribute("aria-live", this.state.animation ? "off" : "polite") // a screen reader waits for the end of the walk
    this.a.ask(this.question(this.index, this.way), () => this.draw())
    this.b.ask(elsewhere === undefined ? this.question(this.index, this.other) : this.question(elsewhere, "compiled"), () => this.drawB())
    for (const li of this.mics.querySelectorAll("li")) li.classList.toggle("chosen", li.dataset.player === this.state.chosen)
    this.all.ask(`gaps?${this.place(this.index)}`, () => this.drawMics())
  }

  drawMics() {
    const gaps = this.open && this.all.value
    const row = this.mics.contains(document.activeElement) && document.activeElement.closest("li"), player = row && row.dataset.player
    put(this.mics, ...(gaps && gaps.length ? mics(gaps, [0, this.state.view.window_ms], this.state.chosen, this.choose) : []))
    const again = row && [...this.mics.querySelectorAll("li")].find(li => li.dataset.player === player)
    if (again) again.querySelector("button").focus({ preventScroll: true })
  }

  draw() {
    if (!this.open) return
    const v = this.a.value, say = (e, text) => { if (e.textContent !== text) e.textContent = text }
    this.verdict.className = `verdict ${v ? v.state : ""}`
    if (v && v.index === this.index && !this.rowOf(this.index) && !this.sheet.has(this.index)) { this.sheet.set(this.index, v.seat[0].toUpperCase() + v.seat.slice(1)); this.mark() }
    say(this.big, v ? v.verdict : this.a.why)
    say(this.why, v ? v.why : "")
    say(this.where, v ? about(v) : "")
    this.drawChoices(v ? v.ways : [])
    this.play.show(v, this.seats)
    put(this.paths, ...(v ? v.arrivals : []).map(a => svg("line", { class: `from-${a.kind}`, x1: round(a.at[0]), y1: round(-a.at[1]), x2: v.x, y2: -v.y })))
    put(this.arrivals, ...(v ? v.arrivals : []).map(a => html("tr", {}, html("th", { scope: "row" }, a.from), ...[`${a.timeMS.toFixed(1)} ms`, `${a.levelDB.toFixed(1)} dB`, turn(a.azimuthDeg)].map(t => html("td", {}, t)))))
    say(this.levels, v ? levels[v.levels](v) : "")
    this.drawStrips()
  }

  drawB() {
    if (!this.open) return
    this.said.textContent = this.b.value ? this.b.value.verdict : this.b.why
    this.drawStrips()
  }

  drawStrips() {
    const wide = Math.max(this.stripA.clientWidth, 240)
    put(this.stripA, this.a.value && strip(this.a.value, wide, false), this.a.value && html("p", { class: "place" }, shading(this.a.value)))
    put(this.stripB, this.b.value && strip(this.b.value, wide, true))
    this.drawClock(this.play.ms || null)
  }

  // drawClock marks the time of play in the strip of A.
  drawClock(ms) {
    const line = this.stripA.querySelector(".now")
    if (line) line.remove()
    const root = this.stripA.firstChild, axis = root && root.querySelector("line.axis")
    if (!root || ms === null) return
    const [from, to, y] = ["x1", "x2", "y1"].map(k => Number(axis.getAttribute(k))), x = from + (ms - this.a.value.arrivals[0].timeMS) / 200 * (to - from)
    if (x >= from && x <= to) root.append(svg("path", { class: "now", d: `M${round(x)} 0V${y + 6}` }))
  }

  // drawChoices offers the ways in which A can be heard, and what B can be.
  drawChoices(ways) {
    const key = JSON.stringify([ways, this.kept, this.index === box])
    if (key !== this.offered) {
      this.offered = key
      put(this.ways, html("legend", {}, html("b", {}, "A"), " is"), ...ways.map(w => html("label", { title: w.why || null }, html("input", { type: "radio", name: "way", value: w.way, disabled: !w.possible, onchange: () => { this.way = w.way; this.ask() } }), html("span", {}, w.words))))
      put(this.others, ...ways.filter(w => w.possible).map(w => html("option", { value: w.way }, `here, ${w.words.toLowerCase()}`)),
        html("option", { value: "box" }, "press box, as compiled"), this.kept === null ? null : html("option", { value: "kept" }, `${this.words(this.kept)}, as compiled`))
    }
    for (const e of this.ways.querySelectorAll("input")) e.checked = e.value === this.way
    this.others.value = this.other
  }
}

const about = v => {
  const own = v.arrivals.find(a => a.kind === "player")
  return [`${own ? `${Math.round(own.distanceM)} m from ` : ""}${v.player}`, `channel ${v.channel}, ${v.role}`, v.closed ? `closed here: as it opens in cue ${v.cue}` : `cue ${v.cue}`, v.rests ? "rests here" : "", v.inTime === null ? "" : `${Math.round(v.inTime * 100)} % of seats in time at this count`].filter(Boolean).join(" · ")
}

const shading = v => `ms after the first sound${v.arrivals.some(a => a.kind === "player") ? `; shaded: in time, ${v.windowMS.join(" to ")} ms${v.levels === "assumed" ? "; the player's level is not known" : ""}` : ""}`

const levels = {
  measured: () => "Levels as measured at the site.",
  estimated: v => `Levels are estimated; the stacks against the player, give or take ${Math.round(v.giveOrTakeDB)} dB.`,
  assumed: () => "The player is drawn as loud as the loudest stack: the program does not know the instrument's level.",
}

const turn = deg => Math.abs(deg) < 0.5 ? "ahead" : `${Math.round(Math.abs(deg))}° ${deg < 0 ? "left" : "right"}`

// Reply holds the newest reply to a question. One question is open at a time; the newest goes next.
class Reply {
  constructor() { Object.assign(this, { asked: null, next: null, busy: false, value: null, why: "" }) }

  async ask(question, drawn) {
    if (this.busy) { this.next = [question, drawn]; return }
    if (question === this.asked) return
    Object.assign(this, { asked: question, busy: true })
    let value = null, why = question ? "No reply from Backfield." : "Choose a player with a mic."
    if (question) try {
      const reply = await fetch(question)
      if (reply.ok) value = await reply.json()
      else why = await reply.text()
    } catch { /* the page says elsewhere that there is no reply */ }
    Object.assign(this, { value, why, busy: false })
    const next = this.next
    this.next = null
    drawn()
    if (next) this.ask(...next)
  }
}
