// The lanes below the bars: where the delay and the pan of the chosen mic go while it is open. What is wanted is thin,
// what is sent thick, the difference is filled, and dots are the knots. The band is what the press box leaves to the delay.

import { svg, round } from "./draw.js"

const laneHigh = slim => slim ? 22 : 40

export class Lanes {
  constructor(paths) {
    this.paths = paths
    this.lanes = [
      { name: "delay", ...span(paths.stretches), want: "want_ms", sent: "sent_ms", words: v => `${v.toFixed(1)} ms` },
      paths.zones
        ? { name: "place", lo: 0, hi: Math.max(paths.zones - 1, 1), want: "want_pan", sent: "sent_pan", words: v => v.toFixed(2) }
        : { name: "pan", lo: -1, hi: 1, want: "want_pan", sent: "sent_pan", words: v => Math.abs(v) < 0.005 ? "center" : `${Math.abs(v).toFixed(2)} ${v < 0 ? "left" : "right"}` },
    ]
  }

  high(slim) { return 2 * (laneHigh(slim) + 8) }

  // draw draws the part from lo to hi. x is the pixel of a count, y the upper edge of the lanes.
  draw(root, lo, hi, x, y, left, right, slim) {
    const high = laneHigh(slim)
    this.lanes.forEach((lane, n) => {
      const top = y + n * (high + 8)
      const down = v => round(top + high - (v - lane.lo) / (lane.hi - lane.lo) * high)
      const all = svg("g", { class: `lane ${lane.name}` })
      for (const v of [lane.lo, lane.hi]) all.append(svg("line", { x1: left, x2: right, y1: down(v), y2: down(v), class: "edge" }))
      all.append(svg("text", { x: left - 4, y: top + 9, class: "scale" }, lane.name === "pan" ? "right" : String(lane.hi)), svg("text", { x: left - 4, y: top + high, class: "scale" }, lane.name === "pan" ? "left" : String(lane.lo)))
      all.append(svg("text", { x: 4, y: top + 9, class: "legend" }, lane.name))
      lane.value = svg("text", { x: 4, y: top + Math.min(24, high), class: "value" })
      all.append(lane.value)
      for (const s of this.paths.stretches) {
        const shown = s.at.map((_, i) => i).filter(i => s.at[i] >= lo && s.at[i] <= hi)
        if (!shown.length) continue
        const line = key => shown.map(i => `${round(x(s.at[i]))},${down(s[key][i])}`).join(" ")
        if (lane.name === "delay") for (const part of runs(shown.filter(i => s.box_ms[i]))) {
          const edge = n => part.map(i => `${round(x(s.at[i]))},${down(s.box_ms[i][n])}`)
          all.append(svg("polygon", { points: [...edge(0), ...edge(1).reverse()].join(" "), class: "bound" }))
        }
        const differs = [...shown.map(i => [i, lane.sent]), ...shown.map(i => [i, lane.want]).reverse()]
        all.append(svg("polygon", { points: differs.map(([i, key]) => `${round(x(s.at[i]))},${down(s[key][i])}`).join(" "), class: "differs" }))
        all.append(svg("polyline", { points: line(lane.sent), class: "sent" }), svg("polyline", { points: line(lane.want), class: "want" }))
        for (const i of shown) if (s.knots.includes(s.at[i])) all.append(svg("circle", { cx: round(x(s.at[i])), cy: down(s[lane.sent][i]), r: 2.2, class: "knot" }))
      }
      root.append(all)
    })
  }

  // move writes what is sent at a count.
  move(count) {
    const s = this.paths.stretches.find(s => s.at[0] <= count + 1e-6 && count <= s.at[s.at.length - 1] + 1e-6)
    const i = s ? s.at.findLastIndex(at => at <= count + 1e-6) : -1
    for (const lane of this.lanes) if (lane.value) lane.value.textContent = i < 0 ? "closed" : lane.words(s[lane.sent][i])
  }
}

// span is the least and the greatest delay of the stretches, to 10 ms.
function span(stretches) {
  const all = stretches.flatMap(s => [...s.want_ms, ...s.sent_ms, ...s.box_ms.filter(Boolean).flat()])
  const lo = Math.floor(Math.min(...all) / 10) * 10, hi = Math.ceil(Math.max(...all) / 10) * 10
  return { lo, hi: Math.max(hi, lo + 10) }
}

// runs are the parts of a list of whole numbers without a gap.
function runs(list) {
  const parts = []
  for (const i of list) {
    const last = parts[parts.length - 1]
    if (last && last[last.length - 1] === i - 1) last.push(i); else parts.push([i])
  }
  return parts
}
