// The cue's card: its numbers, what comes next, a row for each open mic with what changes first, and the same in words.

import { html, list, plural, put, round, short, svg } from "./draw.js"

const roleMark = rank => ["●", "◉", "◍", "◌", "·"][Math.min(rank, 4)]

export class CueCard {
  // choose is called with a player, goTo with a cue, problems when the reader wants to see the problems.
  constructor(into, choose, goTo, problems) {
    Object.assign(this, { into, choose, goTo, problems })
    this.stands = null // the lane of the stands, once it is there
    this.next = this.opens = this.handover = this.few = null
  }

  show({ view, cue: c }) {
    this.view = view
    this.cue = c
    const upcoming = view.cues.find(n => !c || n.at > c.at + 1e-6)
    this.upcoming = upcoming
    const opens = upcoming ? upcoming.open.filter(m => m.sign === "starts").map(m => m.player) : []
    this.when = html("span", { class: "when" })
    this.handover = html("dd")
    this.few = html("dd")
    const row = (name, dd) => [html("dt", {}, name), dd]
    const wrong = view.problems.filter(p => c && p.cue === c.id), others = view.problems.length - wrong.length
    const soon = html("dl", { class: "soon" },
      ...row("next", upcoming ? html("dd", { class: "to" }, this.when, html("button", { class: "plain", title: upcoming.name, onclick: () => this.goTo(upcoming.id) }, `${upcoming.id} ${upcoming.name}`)) : html("dd", {}, this.when, "the end of the show")),
      ...row("opens", html("dd", { title: opens.join(", ") }, opens.length ? short(opens) : "nobody")),
      ...(view.handovers.length ? row("handover", this.handover) : []),
      ...(view.field.seats.length ? row("least in time", this.few) : []),
      ...(view.problems.length ? row("wrong", html("dd", {}, html("button", { class: "plain", onclick: this.problems }, wrong.length ? `▲ ${wrong[0].text}` : `nothing in this cue, ${plural(others, "problem")} elsewhere`))) : []))
    const head = (id, name, where) => html("div", { class: "head" }, html("span", { class: "id", "aria-hidden": "true" }, id), html("h2", { title: name }, html("span", { class: "unseen" }, id ? `cue ${id}: ` : ""), name), html("p", { class: "where" }, where))
    if (!c) return put(this.into, ...(view.cues.length ? [head("", "Before the first cue", "Every channel is closed."), soon] : [head("", "No cues yet", "See the problems.")]))
    const changed = c.open.filter(m => !m.fixed || m.sign), fixed = c.open.filter(m => m.fixed && !m.sign)
    put(this.into,
      head(c.id, c.name, c.where + (c.auto ? " · AUTO: goes without a press" : "")),
      html("dl", { class: "facts" }, ...c.facts.map(f => html("div", {}, html("dt", {}, f.big), html("dd", {}, f.small)))),
      soon,
      changed.length ? this.table(changed) : null,
      c.stops.length ? html("p", { class: "stops" }, html("span", { class: "sign", "aria-hidden": "true" }, "✕"), html("b", {}, `${plural(c.stops.length, "mic")} close${c.stops.length === 1 ? "s" : ""} `), short(c.stops)) : null,
      fixed.length ? html("details", { open: !changed.length }, html("summary", {}, `${fixed.length} fixed, no change`), this.table(fixed)) : null,
      c.diff.length ? html("div", { class: "diff" }, html("h3", {}, `△ ${c.mark} since ${view.against}`), list(c.diff)) : null,
      html("h3", {}, "in words"), list(c.says, "changes nothing"),
      c.open.length ? html("details", {}, html("summary", {}, "pan, echo, press box, and the mixer's own"),
        table(["player", "image", "no echo", "press box", "own"], c.open.map(m => html("tr", {}, html("th", { scope: "row" }, m.player), ...[m.pan, m.no_echo, m.box, m.own.join(", ")].map(t => html("td", {}, t)))))) : null,
      c.place ? html("p", { class: "place" }, c.place) : null)
  }

  // move writes what depends on the count: how long until the next cue and the next handover, and where the fewest seats
  // are in time.
  move(count, time) {
    if (!this.view || !this.when) return
    const away = at => `in ${plural(Math.max(Math.round(10 * (at - count)) / 10, 0), "count")}`
    const end = this.upcoming ? this.upcoming.at : this.view.counts
    this.when.textContent = `${away(end)}, ${(time.seconds(end) - time.seconds(count)).toFixed(1)} s:`
    const s = this.view.handovers.find(s => s.at > count + 1e-6)
    this.handover.textContent = s ? `${away(s.at)} (${time.words(s.at)}): ${s.pack}, ${s.from} to ${s.to}` : "none to come"
    const few = this.stands && this.stands.fewest(count)
    this.few.textContent = few ? `${few.share} % of ${few.name}` : this.stands ? "no worn mic is open" : "computing"
    for (const dd of [this.handover, this.few]) dd.title = dd.textContent
  }

  // table is a row for each open mic: what the cue does to it, who, how loud, where, how late, and how many seats are in
  // time.
  table(mics) {
    const words = { starts: "opens", levels: "level" }
    return table(["", "ch", "player", "role", "dB", "image", "delay, ms", "in time"], mics.map(m => html("tr", { class: `rank${Math.min(m.rank, 4)}${m.sign ? ` ${m.sign}` : ""}${m.fixed ? " fixed" : ""}`, "data-row": m.player },
      html("td", { class: "sign" }, m.sign ? html("abbr", { title: words[m.sign] }, m.sign === "starts" ? "+" : "↕") : null), html("td", { class: "n" }, m.channel),
      html("th", { scope: "row" }, html("button", { class: "plain", title: m.player, onclick: () => this.choose(m.player) }, `${roleMark(m.rank)} ${m.player}`)),
      html("td", {}, m.role), html("td", { class: "n" }, m.level), html("td", {}, image(m)), html("td", { class: "n" }, m.delay), html("td", { class: "n" }, m.in_time))), "mics")
  }
}

const table = (heads, rows, kind) => html("table", { class: kind }, html("thead", {}, html("tr", {}, ...heads.map(h => html("th", { scope: "col" }, h)))), html("tbody", {}, ...rows))

// image draws where a pan goes from one side to the other.
function image(m) {
  const x = side => round(28 + 24 * side)
  return svg("svg", { class: "side", viewBox: "0 0 56 12", role: "img", "aria-label": m.pan }, svg("title", {}, m.pan), svg("path", { d: "M4 6H52M28 2V10", class: "row" }),
    svg("path", { d: `M${x(m.side[0])} 6H${x(m.side[1])}`, class: "way" }), svg("circle", { cx: x(m.side[1]), cy: 6, r: 3.2 }))
}
