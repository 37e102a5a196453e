// The cue's card: its numbers, what comes next, a row for each open mic with what changes first, and the same in words.

import { html, list, plural, put, round, svg } from "./draw.js"

const roleMark = rank => ["●", "◉", "◍", "◌", "·"][Math.min(rank, 4)]

export class CueCard {
  // choose is called with a player, goTo with a cue, problems when the reader wants to see the problems.
  constructor(into, choose, goTo, problems) {
    Object.assign(this, { into, choose, goTo, problems })
    this.stands = null // the lane of the stands, once it is there
    this.next = this.opens = this.handover = this.few = null
  }

  // show draws the card of a cue. Above its table every row has its place and its height, whatever the cue has to say.
  show({ view, cue: c }) {
    this.view = view
    this.cue = c
    const upcoming = view.cues.find(n => !c || n.at > c.at + 1e-6)
    this.upcoming = upcoming
    this.when = html("span", { class: "when" })
    this.handover = html("dd")
    this.few = html("dd")
    const row = (name, dd, high = "") => [html("dt", { class: high }, name), dd.nodeName ? (dd.className = high, dd) : html("dd", { class: high, title: dd }, dd)]
    const head = (id, name, where) => html("div", { class: "head" }, html("span", { class: "id", "aria-hidden": "true" }, id), html("p", { class: "where" }, where), html("h2", { title: name }, html("span", { class: "unseen" }, id ? `cue ${id}: ` : ""), name))
    if (!view.cues.length) return put(this.into, head("", "No cues yet", "Every channel stays closed."), ...this.start(view))
    const soon = html("dl", { class: "soon" },
      ...row("loudest", c ? c.loudest : "nobody: every mic is closed", "two"),
      ...row("closes now", c ? c.closes : "nobody", "two"),
      ...row("next cue", html("dd", {}, this.when, upcoming ? html("a", { href: "#", onclick: e => { e.preventDefault(); this.goTo(upcoming.id) } }, `${upcoming.id} ${upcoming.name}`) : "the end of the show"), "two"),
      ...row("opens next", upcoming ? upcoming.opens : "nobody", "two"),
      ...row("closes next", upcoming ? upcoming.closes : "nobody", "two"),
      ...row("handover", this.handover),
      ...row("worst seats", this.few, "two"),
      ...row("wrong", this.wrong(view, c)))
    if (!c) return put(this.into, head("", "Before the first cue", "Every channel is closed."), this.facts([{ big: "0 open", small: "every channel is closed" }]), soon)
    const changed = c.open.filter(m => !m.fixed || m.sign), fixed = c.open.filter(m => m.fixed && !m.sign)
    put(this.into,
      head(c.id, c.name, c.where + (c.auto ? " · AUTO: goes without a press" : "")),
      this.facts(c.facts), soon,
      changed.length ? this.table(changed) : null,
      fixed.length ? html("details", { open: !changed.length }, html("summary", {}, `${fixed.length} fixed, no change`), this.table(fixed)) : null,
      c.diff.length ? html("div", { class: "diff" }, html("h3", {}, `△ ${c.mark} since ${view.against}`), list(c.diff)) : null,
      html("h3", {}, "in words"), list(c.says, "changes nothing"),
      c.open.length ? html("details", {}, html("summary", {}, "pan, echo, press box, and the mixer's own"),
        table(["player", "image", "no echo", "press box", "own"], c.open.map(m => html("tr", {}, html("th", { scope: "row" }, m.player), ...[m.pan, m.no_echo, m.box, m.own.join(", ")].map(t => html("td", {}, t)))))) : null,
      c.place ? html("p", { class: "place" }, c.place) : null)
  }

  facts(all) { return html("dl", { class: "facts" }, ...all.map(f => html("div", {}, html("dt", {}, f.big), html("dd", {}, f.small)))) }

  // start says what to do where there is no cue yet.
  start(view) {
    if (view.broken) return [html("p", {}, "The show has errors. ", html("button", { class: "plain", onclick: this.problems }, "See the problems"), " and fix them.")]
    return [html("p", {}, "A cue says who is open from a count on. Add one to the score file:"),
      html("pre", {}, view.first_cue),
      html("p", {}, "Save, and the page shows it. If the show has music and parts, backfield suggest --cues proposes all cues. More: backfield help score.")]
  }

  // wrong says what is wrong in a cue, and what else there is.
  wrong(view, c) {
    const here = view.problems.filter(p => c && p.cue === c.id), others = view.problems.length - here.length
    const accepted = c && view.accepted_in[c.id] || 0
    const rest = [others ? `${plural(others, "problem")}${here.length ? " more" : " elsewhere"}` : "", accepted ? `${plural(accepted, "warning")} accepted` : "", view.unchecked].filter(Boolean).join("; ")
    const words = here.length ? `▲ ${here[0].text}` : rest ? `nothing in this cue; ${rest}` : "nothing"
    return view.problems.length || view.accepted.length ? html("dd", {}, html("button", { class: "plain", title: words, onclick: this.problems }, words)) : html("dd", {}, words)
  }

  // move writes what depends on the count: how long until the next cue and the next handover, and where the fewest seats
  // are in time.
  move(count, time) {
    if (!this.view || !this.when) return
    const away = at => `in ${plural(Math.max(Math.round(10 * (at - count)) / 10, 0), "count")}`
    const end = this.upcoming ? this.upcoming.at : this.view.counts
    this.when.textContent = `${away(end)}, ${(time.seconds(end) - time.seconds(count)).toFixed(1)} s: `
    const s = this.view.handovers.find(s => s.at > count + 1e-6)
    this.handover.textContent = s ? `${away(s.at)} (${time.words(s.at)}): ${s.pack}, ${s.from} to ${s.to}` : "none to come"
    const few = this.stands && this.stands.fewest(count)
    this.few.textContent = few ? `${few} in time` : this.stands ? "no worn mic is open" : this.view.field.seats.length ? "computing" : "no stands in the rig"
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

const table = (heads, rows, kind) => html("div", { class: "wide" }, html("table", { class: kind }, html("thead", {}, html("tr", {}, ...heads.map(h => html("th", { scope: "col" }, h)))), html("tbody", {}, ...rows)))

// image draws where a pan goes from one side to the other.
function image(m) {
  const x = side => round(28 + 24 * side)
  return svg("svg", { class: "side", viewBox: "0 0 56 12", role: "img", "aria-label": m.pan }, svg("title", {}, m.pan), svg("path", { d: "M4 6H52M28 2V10", class: "row" }),
    svg("path", { d: `M${x(m.side[0])} 6H${x(m.side[1])}`, class: "way" }), svg("circle", { cx: x(m.side[1]), cy: 6, r: 3.2 }))
}
