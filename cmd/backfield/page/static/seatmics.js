// All open mics at one seat: a row for each, with the sign of the seats' map at its arrival gap.

import { html, svg, round } from "./draw.js"
import { shades, shade } from "./field.js"

const reachMS = 60 // to both sides of the player; what is farther stands at the edge
const words = { early: "early", "in-time": "in time", late: "late", echo: "in time, echo" }

// mics lists the gaps ({player, gapMS, state}). choose is called with a name.
export function mics(gaps, windowMS, chosen, choose) {
  const at = ms => `${round(50 + 50 * Math.min(Math.max(ms / reachMS, -1), 1))}%`, lost = gaps.filter(g => g.state !== "in-time").length
  return [html("h3", {}, `${lost ? `${lost} of ${gaps.length} open worn mics not in time` : `in time: all ${gaps.length} open worn mics`} at this seat`),
    html("ol", { class: "gaps" }, ...gaps.map(g => html("li", { class: g.player === chosen ? "chosen" : "", "data-player": g.player },
      html("button", { class: "plain", onclick: () => choose(g.player) }, g.player),
      html("span", { class: "track", "aria-hidden": "true" }, html("span", { class: "window", style: `left:${at(windowMS[0])};width:calc(${at(windowMS[1])} - ${at(windowMS[0])})` }), html("span", { class: "zero" }), sign(g, windowMS, at(g.gapMS))),
      html("span", { class: "text" }, `${g.gapMS < 0 ? "−" : "+"}${Math.round(Math.abs(g.gapMS))} ms ${words[g.state]}`)))),
    html("p", { class: "place" }, "As compiled. Left of the line: the stack is heard first. Shaded: in time.")]
}

function sign(g, windowMS, left) {
  const kind = shades.find(s => s.name === shade(g.gapMS, windowMS[1]))
  return svg("svg", { class: "seats", viewBox: "-.7 -.7 1.4 1.4", style: `left:${left}` }, svg("path", { d: kind.path(0, 0), class: kind.name }))
}
