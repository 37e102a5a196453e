// The page: takes each version of the show that the program sends, and shows the field at one count.

import { CueCard } from "./card.js"
import { html, list, plural, put, svg } from "./draw.js"
import { Field, shades, shade, signs } from "./field.js"
import { Levels } from "./levels.js"
import { Seat } from "./seat.js"
import { StandsLane } from "./standslane.js"
import { Timeline } from "./timeline.js"
import { ShowTime, clock } from "./time.js"

const $ = id => document.getElementById(id)
const tabs = ["cue", "player", "problems", "changes", "levels"]

const state = { paths: null, view: null, time: null, count: 0, cue: null, chosen: "", tab: "cue", animation: null, stands: false, map: "" }
const field = new Field($("field"), choose)
const levels = new Levels(field, $("levels"), drawLegend)
const seat = new Seat(field, $("seat"), state, () => { if (state.map) showMap(""); else if (!state.stands) showStands(true) }, () => $("sit").focus(), name => choose(name))
const card = new CueCard($("cue"), choose, goToCue, () => tab("problems"))
const timeline = new Timeline($("timeline"), $("sections"), count => { halt(); seek(count) }, name => { state.chosen = name; timeline.highlight(name); askPaths(); askLane() })

function show(view) {
  state.view = view
  state.time = new ShowTime(view)
  state.cue = null
  document.title = `${view.title} · Backfield`
  $("title").textContent = view.title || "untitled show"
  $("venue").textContent = [view.venue, view.air].filter(Boolean).join(" · ")
  showState()
  $("tab-problems").textContent = view.problems.length ? `problems (${view.problems.length})` : "problems"
  $("tab-changes").textContent = view.changes ? "changes •" : "changes"
  $("names").replaceChildren(...[...view.players.map(p => p.name), ...view.field.mics.map(m => m.name)].map(n => html("option", { value: n })))
  field.show(view)
  seat.showView(view)
  if (state.chosen && !field.players.has(state.chosen)) state.chosen = ""
  timeline.chosen = state.chosen
  timeline.show(view, state.time)
  askPaths()
  askLane()
  problems()
  changes()
  seek(Math.min(state.count, view.counts), true)
}

// showState shows the number of errors and warnings, and what was not checked.
function showState() {
  const { problems, broken, stale, unchecked } = state.view, errors = problems.filter(p => p.severity === "error").length, warnings = problems.length - errors
  const found = [errors ? plural(errors, "error") : "", warnings ? plural(warnings, "warning") : "", unchecked].filter(Boolean).join(", ")
  $("state").textContent = broken ? `${plural(errors, "error")}: ${stale ? "the page shows the version before" : "fix them to see the cues"}` : found || "no problems"
  if (!broken && !found && state.view.accepted.length) $("state").append(html("span", { class: "more" }, ", some accepted"))
  $("state").className = errors ? "bad" : warnings ? "warnings" : unchecked ? "unchecked" : ""
}

// seek goes to a count of the show.
function seek(count, redraw) {
  const v = state.view
  state.count = Math.min(Math.max(count, 0), v.counts)
  let cue = null
  for (const c of v.cues) if (c.at <= state.count + 1e-6) cue = c; else break
  if (run.following) cue = v.cues.find(c => c.id === run.step) || null // the cue that the mixer has, even if the next one is due
  const other = redraw || cue !== state.cue
  state.cue = cue
  field.walk(state.count, cue, state.chosen)
  timeline.move(state.count)
  $("here").textContent = state.time.words(state.count)
  $("clock").textContent = clock(state.time.seconds(state.count))
  $("tempo").textContent = `${state.time.bpm(state.count)} bpm`
  if (other) { card.show(state); if (state.tab === "player") playerCard(); say(cue) }
  card.move(state.count, state.time)
  sayWho()
  askSeats()
  askLevels()
  seat.ask()
}

function choose(name) {
  state.chosen = name
  sayWho()
  timeline.highlight(name)
  askPaths()
  askLane()
  $("find").value = name
  if (name) tab("player")
  else playerCard()
  seek(state.count)
}

// known is the player whose name is in the box, in small letters or large; "" for nobody.
function known() {
  const typed = $("find").value.trim().toLowerCase()
  return [...field.players.keys()].find(name => name.toLowerCase() === typed) || ""
}

// leaveFind leaves the box with the player who was typed, or with the one before: the next key is for the page again.
function leaveFind(take) {
  const name = known(), typed = $("find").value.trim()
  $("find").value = take && name || state.chosen
  $("find").blur()
  if (!take) return
  if (name) choose(name)
  else if (typed) Object.assign($("who"), { textContent: `No player or mic has the name "${typed}".`, className: "" })
}

function tab(name) {
  state.tab = name
  for (const t of tabs) {
    $(t).hidden = t !== name
    $(`tab-${t}`).setAttribute("aria-selected", t === name)
    $(`tab-${t}`).tabIndex = t === name ? 0 : -1
  }
  if (name === "player") playerCard()
  if (name === "changes") askEdits()
  askLevels()
}

function goToCue(id) {
  const c = state.view.cues.find(c => c.id === id)
  if (c) { halt(); seek(c.at) }
}

let asked = 0
async function playerCard() {
  const panel = $("player"), name = state.chosen
  if (!name) return panel.replaceChildren(html("p", {}, "Choose a player on the field, on the timeline, or by name."))
  const p = field.players.get(name), mine = ++asked
  const bars = state.view.channels.flatMap(c => c.bars.filter(b => b.player === name).map(b => ({ ...b, channel: c.number })))
  const head = [
    html("h2", {}, name),
    html("p", { class: "where" }, [p && p.section >= 0 ? state.view.sections[p.section] : "", p && p.wears ? p.wears : p && p.fixed ? "fixed mic" : "no mic"].filter(Boolean).join(" · ")),
    state.stands ? html("div", { id: "heard" }) : html("p", {}, html("button", { class: "plain", onclick: () => showStands(true) }, "how the stands hear this mic")),
    bars.length ? html("details", { open: !state.stands }, html("summary", {}, `open ${plural(bars.length, "time")}`), html("ul", { class: "bars" }, ...bars.map(b => html("li", {}, html("button", { class: "plain", onclick: () => { halt(); seek(b.from) } }, `${state.time.words(b.from)} to ${state.time.words(b.to)}`), ` ${b.role}, ${b.level}`)))) : html("p", {}, "never open"),
  ]
  panel.replaceChildren(...head)
  askSeats(true)
  if (!state.cue || !bars.length) return
  const reply = await fetch(`explain?cue=${encodeURIComponent(state.cue.id)}&player=${encodeURIComponent(name)}`)
  const text = await reply.text()
  if (mine === asked) panel.append(html("pre", {}, text))
}

// askPaths asks where the delay and the pan of the chosen mic go.
async function askPaths() {
  const name = state.chosen, version = state.view.version
  let paths = null
  if (name) try {
    const reply = await fetch(`paths?player=${encodeURIComponent(name)}&v=${version}`)
    if (reply.ok) paths = await reply.json()
  } catch { /* the page says elsewhere that there is no reply */ }
  if (name !== state.chosen || version !== state.view.version) return
  state.paths = paths
  timeline.showPaths(paths)
  sayWho()
}

// sayWho says of the chosen player: if the mic is open, or who has none at this count, and where the player walks until
// the next cue.
function sayWho() {
  const { chosen: name, cue, view, paths, count, time } = state, p = field.players.get(name)
  let text = "Where does a player walk? Click a mark, or press / and type a name."
  if (p) {
    const mic = cue && cue.open.find(m => m.player === name), next = view.cues.find(c => !cue || c.at > cue.at + 1e-6)
    const hands = view.handovers.filter(h => h.from === name || h.to === name), had = hands.findLast(h => h.at <= count + 1e-6), will = hands.find(h => h.at > count + 1e-6)
    const without = !p.wears ? "no mic" : had ? had.from === name && `no mic since ${time.words(had.at)}` : will && will.to === name && `no mic until ${time.words(will.at)}`
    const walk = paths && paths.player === name && paths.walks[cue ? view.cues.indexOf(cue) + 1 : 0]
    text = [name, mic ? `open, ${mic.role} ${mic.level} dB` : p.fixed ? "fixed mic, closed" : without || "mic closed", walk && `${next ? `by cue ${next.id}` : "by the end"} ${walk}`].filter(Boolean).join(" · ")
  }
  if ($("who").textContent === text) return
  $("who").textContent = $("who").title = text
  $("who").className = p ? "" : "hint"
}

// wears reports whether a player has a mic that is ever open.
const wears = name => state.view.channels.some(c => c.bars.some(b => b.player === name))

// askLane asks how many seats of each part of the stands are in time over the whole show: for all mics, which the card
// needs, and for the chosen one. Where the chosen player has no mic, all mics stay. It takes longer than all else, and comes when it is there.
async function askLane() {
  const asks = player => `lane?player=${encodeURIComponent(player)}&v=${state.view.version}`, mine = state.lane = asks(wears(state.chosen) ? state.chosen : ""), ours = asks("")
  const ask = async address => {
    let lane = null
    try {
      const reply = await fetch(address)
      if (reply.ok) lane = await reply.json()
    } catch { /* the page says elsewhere that there is no reply */ }
    return lane && lane.parts.length ? new StandsLane(lane) : null
  }
  if (state.laneOfAll !== ours) {
    state.laneOfAll = ours
    state.all = ask(ours)
    card.stands = null
  }
  const all = await state.all
  if (ours === state.laneOfAll) { card.stands = all; card.move(state.count, state.time) }
  const stands = mine === ours ? all : await ask(mine)
  if (mine !== state.lane) return
  timeline.showStands(stands)
  $("shares").hidden = !stands
}

// say announces another cue to who does not see it, while the show does not walk.
function say(cue) {
  if (!state.animation && !run.following) $("said").textContent = cue ? `cue ${cue.id}, ${cue.name}: ${plural(cue.open.length, "mic")} open` : "before the first cue"
}

// askSeats asks how the seats hear the chosen mic at this count. One question is open at a time; the newest goes next.
const question = { open: false, again: false, last: "" }
async function askSeats(force) {
  if (!state.stands || state.map || !state.chosen || !state.cue) { if (question.last) { question.last = ""; field.showSeats(null) } return }
  const asks = `seats?cue=${encodeURIComponent(state.cue.id)}&player=${encodeURIComponent(state.chosen)}&at=${Math.round(state.count * 4) / 4}&v=${state.view.version}`
  if (asks === question.last && !force) return
  if (question.open) { question.again = true; return }
  question.open = true
  question.last = asks
  try {
    const reply = await fetch(asks)
    if (reply.ok) seatsCard(await reply.json())
    else { field.showSeats(null); seatsCard(null, await reply.text()) }
  } catch { field.showSeats(null) }
  question.open = false
  if (question.again) { question.again = false; askSeats() }
}

function seatsCard(seats, why) {
  if (!state.stands || state.map) return // the reader has moved on
  const into = $("heard")
  $("map-title").textContent = `${state.chosen} at this count`
  if (!seats) { if (into) into.replaceChildren(html("p", {}, why)); return }
  if (!seats.gap_ms.length) { field.showSeats(null); if (into) into.replaceChildren(html("p", {}, "No seat hears this mic: there are no stands, or no stack carries it.")); return }
  const w = state.view.window_ms
  field.showSeats(seats.gap_ms, w, seats.echo)
  const counts = new Map(shades.map(s => [s.name, 0]))
  for (const ms of seats.gap_ms) counts.set(shade(ms, w), counts.get(shade(ms, w)) + 1)
  const words = { "very-early": "stack early by over 10 ms", early: "stack early", "in-time": `in time, 0 to ${w} ms after the player`, late: "late", "very-late": "late by over 10 ms" }
  put($("legend"), ...shades.map(s => legendItem(s.name, s.path, `${words[s.name]}: ${counts.get(s.name)}`)), legendItem("echo", signs.echo, `another stack is heard as an echo: ${seats.echo.length}`))
  if (!into) return
  put(into,
    html("h3", {}, `in the stands: ${Math.round(seats.in_time * 100)} % of seats in time, ${Math.round(seats.no_echo * 100)} % without an echo`),
    html("p", {}, `press box: ${seats.box_ms.toFixed(1)} ms after the player`),
    seats.closed ? html("p", {}, `closed here; these are the numbers of cue ${seats.cue}`) : null)
}

function problems() {
  const items = state.view.problems.map(p => html("li", { class: p.severity },
    html("p", { class: "place" }, `${p.severity === "error" ? "✖ error" : "▲ warning"} · ${p.place || "the show"} · ${p.code}`), html("p", {}, p.text), p.line ? html("pre", {}, p.line) : null,
    p.at >= 0 ? html("button", { onclick: () => { halt(); if (p.player) state.chosen = p.player; seek(p.at, true) } }, p.cue ? `go to cue ${p.cue}` : `go to ${state.time.words(p.at)}`) : null))
  const { unchecked, accepted } = state.view
  put($("problems"), unchecked ? html("p", {}, unchecked) : items.length ? null : html("p", {}, "No problems."), items.length ? html("ul", { class: "problem-list" }, ...items) : null,
    accepted.length ? html("h3", {}, "accepted by the score (allow)") : null, list(accepted))
}

function changes() {
  const v = state.view, changed = v.cues.filter(c => c.mark), edits = html("ul")
  const walkers = v.players.filter(p => p.was).map(p => p.name)
  put($("changes"),
    html("p", {}, v.changes ? `Since ${v.against}: ${v.changes}` : `No change at the mixer since ${v.against}.`), edits,
    walkers.length ? html("p", {}, `New path (a hollow mark shows where they were): ${walkers.length > 12 ? `${walkers.slice(0, 12).join(", ")} and ${walkers.length - 12} more` : walkers.join(", ")}`) : null,
    html("ul", {}, ...changed.map(c => html("li", {}, html("button", { class: "plain", onclick: () => { goToCue(c.id); tab("cue") } }, `△ ${c.id} ${c.name}`), ` ${c.mark}`))))
  state.edits = v.changes || walkers.length ? edits : null
  if (state.tab === "changes") askEdits()
}

// askEdits asks what each edit changes, when the reader looks: it takes a while.
async function askEdits() {
  const into = state.edits
  state.edits = null // once for each version
  if (!into) return
  put(into, html("li", {}, "finding out which edit does what"))
  try {
    const reply = await fetch("changes")
    put(into, ...(reply.ok ? await reply.json() : [await reply.text()]).map(line => html("li", {}, line)))
  } catch { put(into) /* the page says elsewhere that there is no reply */ }
}

// play walks the drill in time. It runs on seconds, since in a pause the count does not change. For who wants less motion
// it goes from count to count.
const still = matchMedia("(prefers-reduced-motion: reduce)")
function play() {
  if (state.animation) return halt()
  if (state.count >= state.view.counts) seek(0)
  let last = performance.now(), seconds = state.time.seconds(state.count)
  const frame = now => {
    seconds += (now - last) / 1000 * Number($("speed").value)
    last = now
    const count = state.time.count(seconds)
    seek(still.matches ? Math.floor(count + 1e-6) : count)
    if (state.count >= state.view.counts) return halt()
    state.animation = requestAnimationFrame(frame)
  }
  state.animation = requestAnimationFrame(frame)
  $("play").textContent = "stop"
}

function halt() {
  if (run.following) followRun(false)
  if (state.animation) cancelAnimationFrame(state.animation)
  state.animation = null
  $("play").textContent = "walk"
}

// askLevels draws how loud the cue is, where that is in sight.
function askLevels() {
  const map = state.stands ? state.map : ""
  if (state.view) levels.show(!!map || state.tab === "levels", map, state.cue, state.view.version)
}

// drawLegend names the signs of a map of the stands, or says why there is none.
function drawLegend(map, why) {
  $("map-title").textContent = map ? [map.title, map.why].filter(Boolean).join(": ") : why || "before the first cue"
  put($("legend"), ...(map && map.classes || []).map(c => legendItem(c.sign, signs[c.sign], `${c.words}: ${c.share}`)), map && map.box ? legendItem("box", signs.box, `press box: ${map.box}`) : null, map && map.note ? html("li", {}, map.note) : null)
}

function legendItem(kind, path, text) {
  return html("li", {}, svg("svg", { class: "seats", viewBox: "-.7 -.7 1.4 1.4", "aria-hidden": "true" }, svg("path", { d: path(0, 0), class: kind })), text)
}

// showMap chooses the map of the stands: "" for the seats in time, "lead" or "over".
function showMap(name) {
  state.map = name
  $("map").querySelector(`[value="${name}"]`).checked = true
  field.showSeats(null)
  put($("legend"))
  $("map-title").textContent = name || state.chosen ? "" : "choose a player"
  showStands(true)
}

function showStands(on) {
  state.stands = on
  if (!on) seat.close()
  $("map").hidden = !on
  document.body.classList.toggle("with-stands", on)
  timeline.withStands = on
  timeline.draw()
  field.withStands = on
  $("stands").setAttribute("aria-pressed", on)
  field.frame()
  if (!on) { field.showSeats(null); put($("legend")) }
  askLevels()
  if (on && !state.map && !state.chosen && state.cue && state.cue.open.length) return choose(state.cue.open[0].player)
  if (state.tab === "player") playerCard(); else askSeats(true)
}

function theme(name) {
  document.documentElement.dataset.theme = name
  $("theme").textContent = name === "dark" ? "light" : "dark"
}

function stepCue(by) {
  const cues = state.view.cues
  const next = by > 0 ? cues.find(c => c.at > state.count + 1e-6) : cues.findLast(c => c.at < state.count - 1e-6)
  halt()
  if (next) seek(next.at); else seek(by > 0 ? state.view.counts : 0)
}

function chooseOpen(by) {
  const open = state.cue ? state.cue.open.map(m => m.player) : []
  if (!open.length) return
  const i = open.indexOf(state.chosen)
  choose(open[i < 0 ? (by > 0 ? 0 : open.length - 1) : (i + by + open.length) % open.length])
}

const actions = {
  ArrowLeft: e => { halt(); seek(Math.ceil(state.count - (e.shiftKey ? 8 : 1))) },
  ArrowRight: e => { halt(); seek(Math.floor(state.count + (e.shiftKey ? 8 : 1))) },
  ArrowUp: () => chooseOpen(-1), ArrowDown: () => chooseOpen(1),
  "[": () => stepCue(-1), "]": () => stepCue(1), PageUp: () => stepCue(-1), PageDown: () => stepCue(1),
  Home: () => { halt(); seek(0) }, End: () => { halt(); seek(state.view.counts) },
  " ": play, Escape: () => seat.open ? seat.close() : choose(""), h: () => seat.toggle(), w: () => $("whole").click(), s: () => showStands(!state.stands), d: () => $("theme").click(), m: () => showMap({ "": "lead", lead: "over", over: "" }[state.map]),
  f: () => { if (run.live) followRun(!run.following) }, "/": () => $("find").focus(), "?": () => $("help").showModal(),
  ...Object.fromEntries(tabs.map((name, i) => [i + 1, () => { seat.close(); tab(name) }])),
}

document.addEventListener("keydown", e => {
  if (!state.view || e.ctrlKey || e.metaKey || e.altKey || $("help").open) return
  if (e.target === $("find") && (e.key === "Enter" || e.key === "Escape")) { leaveFind(e.key === "Enter"); return e.preventDefault() }
  const typing = e.target.closest("input:not([type=radio]), select")
  if (typing) { if (e.key === "Escape") typing.blur(); return }
  if (e.target.closest("button, summary, [type=radio]") && (e.key === " " || e.key === "Enter")) return
  if (e.target.closest("[type=radio]") && e.key.startsWith("Arrow")) return // chooses the next map
  const inTabs = e.target.closest("[role=tab]")
  if (inTabs && (e.key === "ArrowLeft" || e.key === "ArrowRight")) {
    const next = tabs[(tabs.indexOf(state.tab) + (e.key === "ArrowRight" ? 1 : tabs.length - 1)) % tabs.length]
    tab(next)
    $(`tab-${next}`).focus()
    return e.preventDefault()
  }
  const act = seat.open && seat.keys[e.key] || actions[e.key]
  if (act) { act(e); e.preventDefault() }
})
for (const t of tabs) $(`tab-${t}`).addEventListener("click", () => tab(t))
$("find").addEventListener("change", () => { if (known()) leaveFind(true) }) // also by a click in the list of names
$("find").addEventListener("focus", () => $("find").select()) // what is typed replaces the name that is there
$("find").addEventListener("pointerup", e => { if ($("find").value === state.chosen) { $("find").select(); e.preventDefault() } }) // the press itself has put the caret
$("play").addEventListener("click", play)
$("follow").addEventListener("click", () => followRun(!run.following))
$("stands").addEventListener("click", () => showStands(!state.stands))
$("whole").addEventListener("click", () => { field.whole = !field.whole; $("whole").setAttribute("aria-pressed", field.whole); field.frame() })
for (const choice of $("map").querySelectorAll("input")) choice.addEventListener("change", () => showMap(choice.value))
$("theme").addEventListener("click", () => {
  theme(document.documentElement.dataset.theme === "dark" ? "light" : "dark")
  localStorage.setItem("theme", document.documentElement.dataset.theme)
})
$("keys").addEventListener("click", () => $("help").showModal())
$("span").addEventListener("change", () => { timeline.span = $("span").value; timeline.draw() })
$("sit").addEventListener("click", () => seat.toggle())
$("field").addEventListener("pointerdown", e => { if (state.chosen && !seatAt(e)) choose("") })
$("field").addEventListener("click", e => { const at = seatAt(e); if (at) seat.sit(at.index, true) })
const seatAt = e => { // the seat that a press on the stands is meant for
  const index = state.view && state.stands && !e.target.closest(".player") ? seat.pressed(e) : null
  return index === null ? null : { index }
}

// Until the reader chooses, the page has the light of the system, also when that changes.
const light = matchMedia("(prefers-color-scheme: light)"), follow = () => { if (!localStorage.getItem("theme")) theme(light.matches ? "light" : "dark") }
theme(localStorage.getItem("theme") || "dark")
follow()
light.addEventListener("change", follow)

// Next to a live run the page follows its time and its cue, until the reader moves elsewhere.
const run = { live: new URLSearchParams(location.search).has("follow"), following: false, step: "", showS: 0, rate: 0, heard: 0 }

function followRun(on) {
  run.following = on
  $("follow").setAttribute("aria-pressed", on)
  if (on) runFrame()
  else $("state").textContent = "looking around; the run goes on"
}

function runFrame() {
  if (!run.following || !state.view) return
  const since = (performance.now() - run.heard) / 1000
  if (run.heard && since < 2) seek(state.time.count(run.showS + run.rate * since))
  $("state").textContent = !run.heard || since >= 2 ? "no reply from the run" : run.step ? `the run is at cue ${run.step}` : "the run is before its first cue"
  $("state").className = run.heard && since < 2 ? "" : "bad"
  requestAnimationFrame(runFrame)
}

if (run.live) {
  $("follow").hidden = false
  new EventSource("../events").onmessage = e => {
    const message = JSON.parse(e.data), view = message.picture && message.picture.view
    if (!view) return
    Object.assign(run, { step: view.step, showS: view.show_s, rate: view.running ? view.rate : 0, heard: performance.now() })
  }
}

// After each save the program sends an event, and the page fetches the view.
let drawn = 0
async function fetchView() {
  const reply = await fetch("view")
  if (!reply.ok) throw new Error(reply.status)
  const view = await reply.json()
  if (view.version === drawn) return run.following || showState() // replaces what was said about the connection
  const first = !state.view
  drawn = view.version
  show(view)
  if (run.live && first) followRun(true)
}
const events = new EventSource("events")
const disconnected = () => { document.body.classList.add("disconnected"); $("state").textContent = "no reply from Backfield: is it still running?" }
events.onmessage = () => fetchView().then(() => document.body.classList.remove("disconnected"), disconnected)
events.onerror = disconnected
