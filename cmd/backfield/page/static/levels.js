// How loud a cue is: the levels tab, the maps of lead and over in the stands, bells and rings on the field. All numbers
// come as text from the program, with their give or take.

import { html, put } from "./draw.js"

export class Levels {
  // field draws the seats, the bells and the rings; into is the tab's panel. mapDrawn is called with the map in sight, or
  // with null and the reason why there is none.
  constructor(field, into, mapDrawn) {
    this.field = field
    this.into = into
    this.mapDrawn = mapDrawn
    this.asked = ""
    this.levels = null
  }

  // show asks for a cue of a version of the show, and draws what is wanted of it. map is "lead", "over", or "" for none.
  // It asks for nothing while nothing is wanted, so the first drawing of a show never waits for it.
  show(wanted, map, cue, version) {
    this.map = map
    if (!wanted || !cue) {
      this.asked = ""
      this.levels = null
      if (!cue) put(this.into, html("p", {}, "Before the first cue: every channel is closed."))
      return this.draw()
    }
    const asks = `levels?cue=${encodeURIComponent(cue.id)}&v=${version}`
    if (asks === this.asked) return this.draw()
    this.asked = asks
    this.why = "computing how loud it is"
    if (!this.levels) put(this.into, html("p", {}, this.why))
    this.ask(asks)
  }

  async ask(asks) {
    let levels = null, why = "no reply from Backfield"
    try {
      const reply = await fetch(asks)
      if (reply.ok) levels = await reply.json()
      else why = await reply.text()
    } catch { /* the page says elsewhere that there is no reply */ }
    if (asks !== this.asked) return // another cue is in sight by now
    this.levels = levels
    this.why = why
    if (levels) this.card(levels)
    else put(this.into, html("p", {}, why))
    this.draw()
  }

  draw() {
    this.field.showLevels(this.levels)
    if (!this.map) return
    const map = this.levels && this.levels[this.map]
    this.field.showMap(map)
    this.mapDrawn(map, this.asked && !this.levels && this.why)
  }

  card(v) {
    const bar = m => html("li", { class: m.over ? "over" : "" }, html("span", { class: "name" }, m.name),
      html("span", { class: v.measured ? "track" : "track held" }, html("span", { class: "loop", style: `width:${m.part * 100}%` }), html("span", { class: "limit", style: `left:${v.limit * 100}%` })),
      html("span", { class: "text" }, m.over ? `▲ ${m.text}` : m.text))
    put(this.into,
      html("p", { class: "caution" }, v.ring_note),
      html("h3", {}, v.mic_note),
      v.mics.length ? html("ol", { class: "loops" }, ...v.mics.map(bar)) : html("p", {}, "No open mic reaches a stack."),
      html("p", { class: "place" }, "Those that ring first come first, at the moment of the walk that is closest. The line is the wanted margin."),
      html("pre", {}, v.text))
  }
}
