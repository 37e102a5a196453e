// What two ears hear at a seat, as samples. The arithmetic and its constants are those of the command's `listen`, where the
// comments say where they are from. Nothing here plays, draws, or asks for anything:
//
//	const sound = await (await fetch("seat?row=12&seat=66&channel=7&count=123")).json()
//	const heard = render(sound.arrivals, dry("note", rate), rate)
//	buffer.copyToChannel(heard.left, 0); buffer.copyToChannel(heard.right, 1)

const headM = 0.0875, soundMPS = 343, acrossS = headM / soundMPS
const darkRad = 150 * Math.PI / 180, dark = 0.1
const leadS = 0.05, tailS = 0.1, loudestDB = -12, peakDB = -6
const half = 16, tail = 256, beta = 9.6

// The sounds that dry makes, the usual one first.
export const dryNames = ["note", "brass", "click"]

// render is what the ears hear of a dry sound through the arrivals of a seat ({timeMS, levelDB, azimuthDeg, elevationDeg}).
// The dry sound leaves the player after leadS seconds. downDB is how much all of it was turned down, 0 or less, so that
// no sample is over peakDB.
export function render(arrivals, dry, rate) {
  const lastS = Math.max(0, ...arrivals.map(a => a.timeMS / 1000))
  const n = Math.ceil((leadS + lastS + tailS) * rate) + dry.length + tail + 2 * half
  const sides = [new Float64Array(n), new Float64Array(n)]
  for (const a of arrivals) for (const side of [-1, 1]) {
    const angle = incidence(a.azimuthDeg, a.elevationDeg ?? 0, side)
    addAt(sides[side < 0 ? 0 : 1], shadowed(dry, angle, rate), (leadS + a.timeMS / 1000 + earS(angle)) * rate, gain(a.levelDB + loudestDB))
  }
  let peak = 0
  for (const y of sides) for (const x of y) peak = Math.max(peak, Math.abs(x))
  const down = Math.min(1, gain(peakDB) / peak) // 1 where all is silent
  const [left, right] = sides.map(y => Float32Array.from(y, x => x * down))
  return { left, right, rate, leadS, downDB: 20 * Math.log10(down) }
}

// dry is one of the sounds that the page makes, with a peak of 1.
export function dry(name, rate) {
  const make = { note: struckNote, brass: brassTone, click }[name]
  if (!make) throw new Error(`no sound ${name}`)
  return toPeak(make(rate))
}

// own prepares the samples of the user's own sound, which are at the rate already: a peak of 1, and ends that do not click.
export function own(samples, rate) {
  const y = toPeak(Float64Array.from(samples))
  const n = Math.min(Math.floor(0.005 * rate), Math.floor(y.length / 2))
  for (let i = 0; i < n; i++) { const a = rise(i / n); y[i] *= a; y[y.length - 1 - i] *= a }
  return y
}

const gain = db => 10 ** (db / 20)

// The angle between a direction and the axis of an ear: side is -1 for the left one, 1 for the right one.
function incidence(azimuthDeg, elevationDeg, side) {
  const rad = Math.PI / 180
  return Math.acos(Math.max(-1, Math.min(side * Math.sin(azimuthDeg * rad) * Math.cos(elevationDeg * rad), 1)))
}

// How much later than at the middle of the head it is at the ear.
const earS = angle => angle < Math.PI / 2 ? -acrossS * Math.cos(angle) : acrossS * (angle - Math.PI / 2)

// The filter of the head, with its tail.
function shadowed(x, angle, rate) {
  const alpha = (1 + dark / 2) + (1 - dark / 2) * Math.cos(angle / darkRad * Math.PI)
  const b = 2 / acrossS, k = 2 * rate
  const b0 = (b + alpha * k) / (b + k), b1 = (b - alpha * k) / (b + k), a1 = (b - k) / (b + k)
  const y = new Float64Array(x.length + tail)
  for (let i = 0, x1 = 0, y1 = 0; i < y.length; i++) {
    const x0 = i < x.length ? x[i] : 0
    y[i] = y1 = b0 * x0 + b1 * x1 - a1 * y1
    x1 = x0
  }
  return y
}

// Adds samples so many samples after the start, between samples too.
function addAt(out, samples, at, amplitude) {
  const whole = Math.floor(at), kernel = between(at - whole)
  for (let i = 0; i < samples.length; i++) {
    const x = samples[i] * amplitude, first = whole + i - half + 1
    for (let j = 0; j < kernel.length; j++) { const n = first + j; if (n >= 0 && n < out.length) out[n] += x * kernel[j] }
  }
}

// A sample that comes part of a sample late, as samples from half - 1 before it: a sinc under a Kaiser window.
function between(part) {
  const kernel = new Float64Array(2 * half)
  let sum = 0
  for (let j = 0; j < kernel.length; j++) sum += kernel[j] = sinc(j - half + 1 - part)
  return kernel.map(k => k / sum)
}

function sinc(x) {
  if (x === 0) return 1
  if (Math.abs(x) >= half) return 0
  return Math.sin(Math.PI * x) / (Math.PI * x) * bessel(beta * Math.sqrt(1 - (x / half) ** 2)) / bessel(beta)
}

function bessel(x) {
  let sum = 1
  for (let k = 1, term = 1; term > 1e-17 * sum; k++) { term *= (x / 2 / k) ** 2; sum += term }
  return sum
}

function struckNote(rate) {
  const hz = 523.25, lengthS = 0.4, partials = [[1, 1, 0.05], [4, 0.8, 0.012], [10, 0.5, 0.004]]
  return made(rate, lengthS, t => {
    let y = 0
    for (const [times, amplitude, decayS] of partials) y += amplitude * Math.exp(-t / decayS) * Math.sin(2 * Math.PI * hz * times * t)
    return y * rise(t / 0.001) * rise((lengthS - t) / 0.05)
  })
}

function brassTone(rate) {
  const hz = 233.08, lengthS = 0.5, attackS = 0.02, releaseS = 0.08, perPartialS = 0.001
  return made(rate, lengthS, t => {
    let y = 0
    for (let n = 1; n <= 24; n++) y += n ** -1.2 * rise(t / (attackS + n * perPartialS)) * rise((lengthS - n * perPartialS - t) / releaseS) * Math.sin(2 * Math.PI * hz * n * t)
    return y
  })
}

function click(rate) {
  const hz = 2000, lengthS = 0.001
  return made(rate, lengthS, t => rise(2 * t / lengthS) * rise(2 - 2 * t / lengthS) * Math.sin(2 * Math.PI * hz * t))
}

// From 0 at 0 to 1 at 1, smoothly.
const rise = part => (1 - Math.cos(Math.PI * Math.max(0, Math.min(part, 1)))) / 2

function made(rate, lengthS, of) {
  return Float64Array.from({ length: Math.round(lengthS * rate) }, (_, i) => of(i / rate))
}

function toPeak(samples) {
  let most = 0
  for (const x of samples) most = Math.max(most, Math.abs(x))
  return most ? samples.map(x => x / most) : samples
}
