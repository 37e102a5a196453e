// Plays what a seat hears, A or B. The page makes the sound itself, from the numbers of the arrivals, and asks for nothing.

import { html } from "./draw.js"
import { render, dry, own } from "./hear.js"

const longestS = 10 // of a file of the reader's

export class Ears {
  // heard returns what A or B hears, or null.
  constructor(heard) {
    Object.assign(this, { heard, context: null, gain: null, source: null, file: null })
    this.sound = html("select", { "aria-label": "sound", onchange: () => { this.picker.hidden = this.sound.value !== "own" } },
      ...[["note", "a struck note"], ["brass", "a brass-like tone"], ["click", "a click"], ["own", "a dry file of yours"]].map(([value, words]) => html("option", { value }, words)))
    this.picker = html("input", { type: "file", accept: "audio/*", hidden: true, "aria-label": "a dry file of yours", onchange: () => this.read(this.picker.files[0]) })
    this.volume = html("input", { type: "range", min: 0, max: 100, value: 0, "aria-label": "volume", oninput: () => this.setVolume() })
    this.loud = html("output", {}, "silent")
    this.said = html("p", { class: "place", role: "status" })
    const button = which => html("button", { id: `hear-${which}`, title: which, onclick: () => this.play(which) }, `hear ${which.toUpperCase()}`)
    this.panel = html("fieldset", { class: "ears" }, html("legend", {}, "hear it"), html("div", {}, this.sound, button("a"), button("b")), html("div", {}, html("span", {}, "volume"), this.volume, this.loud), this.picker, this.said)
    this.note = html("p", { class: "place" }, "Hear it with headphones, and begin low: loud sound can harm your ears. The page makes the sound from these arrivals, and loads nothing. The head is a ball (Woodworth; Brown and Duda 1998). The loudest arrival is as loud in A as in B, and no peak is over −6 dB of full scale.")
  }

  async play(which) {
    const heard = this.heard(which)
    if (!heard || !heard.arrivals.length) return this.say("Nothing arrives there.")
    if (this.volume.value === "0") { this.volume.focus(); return this.say("The volume is at zero. Raise it slowly, then press again.") }
    if (this.sound.value === "own" && !this.file) { this.picker.focus(); return this.say("Choose a file first.") }
    const context = this.audio(), rate = context.sampleRate
    const { left, right } = render(heard.arrivals, this.sound.value === "own" ? this.file : dry(this.sound.value, rate), rate)
    const buffer = context.createBuffer(2, left.length, rate)
    buffer.copyToChannel(left, 0)
    buffer.copyToChannel(right, 1)
    this.stop()
    this.source = new AudioBufferSourceNode(context, { buffer })
    this.source.connect(this.gain)
    this.source.start()
    this.say(`${which.toUpperCase()}: ${heard.seat}, ${heard.ways.find(w => w.way === heard.way).words.toLowerCase()}`)
    await context.resume()
  }

  // audio starts the browser's sound, silent. It waits for the first press, since browsers want that.
  audio() {
    if (this.context) return this.context
    this.context = new AudioContext()
    this.gain = new GainNode(this.context, { gain: 0 })
    this.gain.connect(this.context.destination)
    this.setVolume()
    return this.context
  }

  stop() {
    if (this.source) this.source.stop()
    this.source = null
  }

  // setVolume follows the slider, in steps that the ear finds even, and never jumps.
  setVolume() {
    const part = Number(this.volume.value) / 100
    this.loud.textContent = part ? `${this.volume.value} %` : "silent"
    if (this.gain) this.gain.gain.setTargetAtTime(part ** 3, this.context.currentTime, 0.02)
  }

  // read takes a file of the reader's. It stays in the page.
  async read(file) {
    this.file = null
    if (!file) return
    try {
      const data = await this.audio().decodeAudioData(await file.arrayBuffer()), n = Math.min(data.length, longestS * data.sampleRate), sum = new Float64Array(n)
      for (let c = 0; c < data.numberOfChannels; c++) data.getChannelData(c).subarray(0, n).forEach((v, i) => { sum[i] += v / data.numberOfChannels })
      this.file = own(sum, data.sampleRate)
      this.say(`${file.name}: ${(n / data.sampleRate).toFixed(1)} s${n < data.length ? `, the first ${longestS} s of it` : ""}`)
    } catch { this.say(`${file.name} is no sound that this browser can read. Try a WAV file.`) }
  }

  say(text) { this.said.textContent = text }
}
