// Converts counts through the whole show to seconds and back, and both to text.

const quarterCount = 0.25

export class ShowTime {
  constructor(view) { this.movements = view.movements; this.counts = view.counts }

  movement(count) {
    let i = this.movements.length - 1
    while (i > 0 && this.movements[i].from > count) i--
    return i
  }

  // seconds since the show's first downbeat
  seconds(count) {
    const m = this.movements[this.movement(count)]
    if (!m) return 0
    const at = Math.min(Math.max(count - m.from, 0), m.counts) / quarterCount, lo = Math.min(Math.floor(at), m.times.length - 1)
    const hi = Math.min(lo + 1, m.times.length - 1)
    return m.times[lo] + (m.times[hi] - m.times[lo]) * (at - lo)
  }

  count(seconds) {
    for (let i = this.movements.length - 1; i >= 0; i--) {
      const m = this.movements[i]
      if (i > 0 && m.times[0] > seconds) continue
      let lo = 0, hi = m.times.length - 1
      if (seconds >= m.times[hi]) return m.from + m.counts
      while (hi - lo > 1) { const mid = (lo + hi) >> 1; if (m.times[mid] <= seconds) lo = mid; else hi = mid }
      const part = (seconds - m.times[lo]) / (m.times[lo + 1] - m.times[lo])
      return m.from + (lo + Math.min(Math.max(part, 0), 1)) * quarterCount
    }
    return 0
  }

  bpm(count) {
    const m = this.movements[this.movement(count)]
    return m ? m.bpm[Math.min(Math.max(Math.floor(count - m.from), 0), m.bpm.length - 1)] : 0
  }

  // movement and count, as in the score: "2:33"
  words(count) {
    const i = this.movement(count), m = this.movements[i]
    return m ? `${i + 1}:${Math.round((count - m.from + 1) * 100) / 100}` : ""
  }
}

export function clock(s) {
  const tenths = Math.round(Math.max(s, 0) * 10)
  return `${Math.floor(tenths / 600)}:${String(Math.floor(tenths / 10) % 60).padStart(2, "0")}.${tenths % 10}`
}
