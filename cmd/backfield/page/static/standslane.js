// The stands over the whole show as a lane of the timeline: a row for each part of the stands, from side 1 to side 2, and
// a color for the share of its seats in time. The farther a color is from the ground, the fewer.

import { svg, round } from "./draw.js"

export const breaks = [45, 60, 75, 90] // percent
const roomFor = 72 // characters: two lines of the card, less " in time"
const partHigh = slim => slim ? 3 : 4

// step is which of the five colors a share has, from 0 for the fewest.
export const step = share => breaks.filter(b => share >= b).length

export class StandsLane {
  constructor(lane) {
    this.lane = lane
    const stands = lane.parts.map(name => name.split(", ")[0]) // one name for all says nothing
    this.names = lane.parts.map(name => (new Set(stands).size === 1 && name.includes(", ") ? name.slice(stands[0].length + 2) : name).replace(", at", " at"))
  }

  high(slim) { return this.lane.parts.length * partHigh(slim) + 8 }

  // draw draws the part from lo to hi. x is the pixel of a count, y the upper edge of the lane.
  draw(root, lo, hi, x, y, left, right, slim) {
    const { step: counts, shares, parts } = this.lane, high = partHigh(slim)
    const paths = ["", "", "", "", ""]
    shares.forEach((row, b) => {
      const top = y + 2 + b * high
      for (let n = Math.max(Math.floor(lo / counts), 0), next; n < row.length && n * counts < hi; n = next) {
        const kind = row[n] < 0 ? -1 : step(row[n])
        for (next = n + 1; next < row.length && (row[next] < 0 ? -1 : step(row[next])) === kind;) next++
        if (kind < 0) continue
        const from = round(Math.max(x(n * counts), left)), to = round(Math.min(x(next * counts), right))
        if (to > from) paths[kind] += `M${from} ${top}H${to}v${high}H${from}z`
      }
    })
    const all = svg("g", { class: "in-stands" }, svg("text", { x: 4, y: y + 11, class: "legend" }, "stands"))
    paths.forEach((d, kind) => { if (d) all.append(svg("path", { d, class: `share${kind}` })) })
    if (parts.length > 3 && !slim) all.append(svg("text", { x: left - 4, y: y + 11, class: "scale" }, "side 1"), svg("text", { x: left - 4, y: y + parts.length * high + 2, class: "scale" }, "side 2"))
    root.append(all)
  }

  // fewest names up to three parts of the stands with the smallest shares at a count, and these; null where no worn mic is
  // open. A part with nearly all seats in time is not named after another one.
  fewest(count) {
    const { step: counts, shares } = this.lane, n = Math.floor(count / counts + 1e-6)
    const all = shares.map((row, b) => ({ b, share: n < row.length ? row[n] : -1 })).filter(p => p.share >= 0).sort((p, q) => p.share - q.share || p.b - q.b)
    let text = null
    for (const { b, share } of all.slice(0, 3)) {
      const words = `${this.names[b]}: ${share} %`
      if (text === null) text = words
      else if (share < breaks[3] && text.length + words.length < roomFor) text += `; ${words}`
    }
    return text
  }
}
