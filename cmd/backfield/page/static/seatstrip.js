// The strip of a seat: what arrives there in the first 200 ms, each sound as a bar. A bar stands at its time after the
// first sound, and is as high as it is loud. The time in which the stacks have to follow the player is shaded.

import { svg, round } from "./draw.js"

export const spanMS = 200
const floorDB = -30 // the level of a bar without height
const letterPX = 7, lineHigh = 16, top = 2, left = 36, right = 14

// strip draws the arrivals in an SVG of that width in pixels. slim has lower bars, and neither levels nor the gap.
export function strip(heard, wide, slim) {
  const x = ms => round(left + (ms / spanMS) * (wide - left - right))
  const bars = sinceFirst(heard.arrivals), labels = place(bars, x, wide)
  const ceiling = top + Math.max(0, ...labels.map(l => l.line + 1)) * lineHigh + 6, base = ceiling + (slim ? 34 : 72), high = base + (slim ? 20 : 40)
  const y = db => round(base - Math.max(4, (1 - Math.max(db, floorDB) / floorDB) * (base - ceiling)))
  const root = svg("svg", { class: `strip ${heard.state}`, width: wide, height: high, viewBox: `0 0 ${wide} ${high}`, role: "img", "aria-label": spoken(bars) })
  const player = bars.find(b => b.kind === "player")
  if (player) {
    const [from, to] = heard.windowMS.map(ms => x(Math.min(player.ms + ms, spanMS)))
    root.append(svg("rect", { class: "window", x: from, y: ceiling - 4, width: round(to - from), height: base - ceiling + 4 }))
  }
  if (!slim) for (const db of [0, -10, -20]) root.append(svg("line", { class: "level", x1: left, x2: wide - right, y1: y(db), y2: y(db) }), svg("text", { class: "level", x: left - 5, y: y(db) + 4 }, db ? `−${-db}` : "0 dB"))
  root.append(svg("line", { class: "axis", x1: left, x2: wide - right, y1: base, y2: base }))
  for (let ms = 0; ms <= spanMS; ms += 10) {
    root.append(svg("line", { class: "axis", x1: x(ms), x2: x(ms), y1: base, y2: base + (ms % 50 ? 3 : 6) }))
    if (ms % 50 === 0) root.append(svg("text", { class: `tick${ms === spanMS ? " last" : ""}`, x: x(ms) + (ms === spanMS ? right : 0), y: base + 18 }, ms === spanMS ? `${ms} ms` : ms))
  }
  const names = svg("g", { class: "names-of" }) // over all bars
  bars.forEach(b => {
    const at = x(Math.min(b.ms, spanMS))
    root.append(svg("g", { class: `arrival from-${b.kind}${soft(b) ? " soft" : ""}`, "data-from": b.from, "data-ms": b.ms, "data-db": b.levelDB },
      b.ms > spanMS ? svg("path", { class: "beyond", d: `M${at - 6} ${base - 14}l8 6 -8 6z` }) : svg("line", { class: "bar", x1: at, x2: at, y1: y(b.levelDB), y2: base }),
      b.kind === "player" && b.ms <= spanMS ? svg("circle", { class: "head", cx: at, cy: y(b.levelDB), r: 5 }) : ""))
  })
  for (const l of labels) {
    const line = top + l.line * lineHigh
    root.append(svg("line", { class: "lead", x1: l.at, x2: l.at, y1: line + lineHigh - 2, y2: y(l.levelDB) }))
    names.append(svg("text", { x: l.x, y: line + 12, class: `name from-${l.kind}${l.end ? " end" : ""}` }, l.text))
  }
  root.append(names)
  if (!slim && player && heard.gapMS !== null) root.append(gap(heard, player, x, base + 31, wide))
  return root
}

// sinceFirst adds to each sound how long after the first one it comes.
export const sinceFirst = arrivals => arrivals.map(a => ({ ...a, ms: round(a.timeMS - arrivals[0].timeMS) }))

// soft is a stack that is too soft to count as the first.
export const soft = a => a.kind === "stack" && !a.counts

// gap is a dimension line from the player to the first stack, in words.
function gap(heard, player, x, y, wide) {
  const ends = [0, heard.gapMS].map(ms => x(Math.min(Math.max(player.ms + ms, 0), spanMS))).sort((a, b) => a - b), ms = heard.gapMS
  const whole = ms < 0 ? `${tens(-ms)} ms: stack before ${player.from}` : `${tens(ms)} ms: stack after ${player.from}`
  const fits = words => words.length * letterPX + 8 < Math.max(wide - ends[1], ends[0])
  const words = fits(whole) ? whole : `${tens(Math.abs(ms))} ms` // where it is beside both ends too long
  const before = ends[1] + 8 + words.length * letterPX > wide
  return svg("g", { class: "gap" }, svg("path", { d: `M${ends[0]} ${y - 5}v10M${ends[1]} ${y - 5}v10M${ends[0]} ${y}H${ends[1]}` }), svg("text", { x: before ? ends[0] - 6 : ends[1] + 6, y: y + 4, class: before ? "end" : "" }, words))
}

const tens = ms => ms < 0.95 ? ms.toFixed(1) : Math.round(ms)

// place finds a line for each name so that none covers another; the earliest is next to its bar. Bars that nearly touch
// share a name.
function place(bars, x, wide) {
  const labels = []
  for (const b of bars) {
    const at = x(Math.min(b.ms, spanMS)), text = `${b.from}${b.ms > spanMS ? ` at ${Math.round(b.ms)} ms` : ""}${b.echo ? ", echo" : ""}`, last = labels[labels.length - 1]
    if (last && last.kind === b.kind && at - last.at < 4) { last.text += ` + ${text}`; last.levelDB = Math.max(last.levelDB, b.levelDB) }
    else labels.push({ at, text, kind: b.kind, levelDB: b.levelDB })
  }
  const lines = []
  for (const l of labels) {
    const w = l.text.length * letterPX
    l.end = l.at - 5 + w > wide && l.at + 5 - w > 0
    l.x = l.end ? l.at + 5 : Math.max(Math.min(l.at - 5, wide - w), 0)
    const from = l.end ? l.x - w : l.x
    l.line = 0
    while ((lines[l.line] || []).some(([a, z]) => from < z + 8 && a < from + w + 8)) l.line++
    ;(lines[l.line] ||= []).push([from, from + w])
  }
  for (const l of labels) l.line = lines.length - 1 - l.line
  return labels
}

// spoken is the strip in words.
function spoken(bars) {
  const level = db => db > -0.5 ? "loudest" : `${Math.round(-db)} dB softer`
  return `In ms after the first sound: ${bars.map(b => `${b.from} ${Math.round(b.ms)}, ${level(b.levelDB)}${b.echo ? ", an echo" : ""}`).join("; ")}`
}
