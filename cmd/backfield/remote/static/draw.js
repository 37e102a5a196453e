// Draws the page of a run from the variables view, picture and fixed of run.js.
"use strict";

function el(name, content, attributes) {
  const e = document.createElement(name);
  if (content !== undefined) e.append(content);
  for (const k in attributes) e.setAttribute(k, attributes[k]);
  return e;
}
function svg(name, attributes, content) {
  const e = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const k in attributes) e.setAttribute(k, attributes[k]);
  if (content !== undefined) e.textContent = content;
  return e;
}
function text(e, s) { if (e.textContent !== s) e.textContent = s; }
const dB = v => v.toFixed(1).replace("-", "−");
const list = x => x || [];
// inWait is whether the ensemble waits between movements: no counts are left to the cue, but time is.
const inWait = n => Math.abs(n.counts) < countSlack && n.in_s >= .2;
const awayWords = n => {
  if (inWait(n)) return `in ${n.in_s.toFixed(1)} s`;
  const c = Math.round(n.counts), s = Math.abs(c) === 1 ? "" : "s";
  return c < 0 ? `${-c} count${s} overdue` : `in ${c || 0} count${s}`;
};

let players; // the layer of the spots

// drawField draws what does not change: the field from above, the back sideline at the top, side 1 on the left.
function drawField() {
  const f = fixed.field, root = $("field");
  if (!(f.length_m > 0)) { $("ground").hidden = true; return; }
  const half = f.length_m / 2, end = half + f.end_zone_m, w = f.width_m, yard = 0.9144, margin = 3;
  const front = f.front_m + margin, back = f.back_m + margin;
  root.setAttribute("viewBox", `${-end - margin} ${-w - back} ${2 * (end + margin)} ${back + w + front}`);
  const parts = [];
  const add = (name, a, s) => parts.push(svg(name, a, s));
  add("rect", { class: "turf", x: -end, y: -w, width: 2 * end, height: w });
  const lines = Math.round(half / (5 * yard));
  for (let i = -lines; i < lines; i++) {
    if ((i + lines) % 2 === 0) add("rect", { class: "turf even", x: i * 5 * yard, y: -w, width: 5 * yard, height: w });
  }
  for (let i = -lines; i <= lines; i++) {
    const x = i * 5 * yard;
    add("line", { class: "line", x1: x, x2: x, y1: 0, y2: -w });
    const number = f.middle_yard - Math.abs(i) * 5;
    if (number > 0 && (number % 10 === 0 || i === 0)) {
      for (const y of [-w * .13, -w * .83]) add("text", { class: "number", x, y, "font-size": 3.6, textLength: 4.6 }, String(number));
    }
    for (const y of [-f.hash_m, f.hash_m - w]) add("line", { class: "line", x1: x - .6, x2: x + .6, y1: y, y2: y });
  }
  add("rect", { class: "side", x: -end, y: -w, width: 2 * end, height: w });
  // Four light masts behind the back sideline, each a beam that fades toward the front.
  const fades = svg("linearGradient", { id: "fades", x1: 0, y1: 0, x2: 0, y2: 1 });
  fades.append(svg("stop", { offset: 0, class: "bright" }), svg("stop", { offset: .9, class: "out" }));
  parts.push(fades);
  for (const s of [-1, -.38, .38, 1]) add("path", { class: "beam", fill: "url(#fades)", d: `M${s * end - .5} ${-w - back} h1 L${s * end * .5 + 26} 0 h-52 Z` });
  players = svg("g");
  parts.push(players);
  root.replaceChildren(...parts);
  if (view) drawPlayers();
}

// starting lists the players who start to be heard in the next cue, and who are not open yet.
const starting = () => view.next ? list(view.next.starts).filter(name => !list(picture.rows).some(o => o.open && o.player === name)) : [];

// nextState is what the next cue does to an open mic: "closes" if its player stops being heard on it, or nothing.
const nextState = mic => view.next && list(view.next.stops).includes(mic.channel) ? "closes" : "";

function drawPlayers() {
  if (!players) return;
  const box = $("field").getBoundingClientRect(), vb = $("field").viewBox.baseVal;
  const m = Math.max(vb.width / Math.max(box.width, 1), vb.height / Math.max(box.height, 1)); // meters in a pixel
  const spots = [];
  for (const o of list(picture.rows)) {
    const p = picture.places[o.player], level = parseFloat(o.level);
    if (p) spots.push({ name: o.player, x: p.x, y: -p.y, r: Math.max(5 * m, Math.min(10, 9 + (isNaN(level) ? -15 : level) / 3) * m), nextState: nextState(o), sign: o.sign });
  }
  for (const name of starting()) {
    const p = picture.places[name];
    if (p) spots.push({ name, x: p.x, y: -p.y, r: 8 * m, nextState: "opens" });
  }
  const shapes = [], size = 17 * m, taken = spots.map(s => [s.x - s.r, s.y - s.r, s.x + s.r, s.y + s.r]);
  for (const s of spots) {
    if (s.nextState === "opens") shapes.push(svg("circle", { class: "ring", cx: s.x, cy: s.y, r: s.r, "stroke-width": 3 * m, "stroke-dasharray": `${5 * m} ${3.5 * m}` }));
    else {
      shapes.push(svg("circle", { class: "pool", cx: s.x, cy: s.y, r: s.r * 2 }), svg("circle", { class: "spot", "data-sign": s.sign, "stroke-width": 2.5 * m, cx: s.x, cy: s.y, r: s.r }));
      if (s.nextState === "closes") {
        const d = s.r * 1.15;
        shapes.push(svg("path", { class: "cross", "stroke-width": 3 * m, d: `M${s.x - d} ${s.y - d}L${s.x + d} ${s.y + d}M${s.x - d} ${s.y + d}L${s.x + d} ${s.y - d}` }));
      }
    }
  }
  // A name is drawn where there is room. All names are in the list below.
  for (const s of spots) {
    const wide = s.name.length * size * .66, gap = s.r + 3 * m;
    for (const [x, y, anchor] of [[s.x + gap, s.y + size * .35, "start"], [s.x - gap, s.y + size * .35, "end"], [s.x, s.y - gap - 1 * m, "middle"], [s.x, s.y + gap + size * .75, "middle"]]) {
      const left = anchor === "start" ? x : anchor === "end" ? x - wide : x - wide / 2, b = [left, y - size * .8, left + wide, y + size * .2];
      if (b[0] < vb.x || b[2] > vb.x + vb.width || b[1] < vb.y || b[3] > vb.y + vb.height) continue;
      if (taken.some(t => t[0] < b[2] && b[0] < t[2] && t[1] < b[3] && b[1] < t[3])) continue;
      taken.push(b);
      shapes.push(svg("text", { class: "name", x, y, "font-size": size, "text-anchor": anchor }, s.name));
      break;
    }
  }
  players.replaceChildren(...shapes);
}
let announced = null;
function draw() {
  const v = view, n = v.next;
  document.title = v.title ? `${v.title}: the run` : "Backfield: the run";
  text($("cue"), v.step ? `${v.step}${v.name ? `  "${v.name}"` : ""}` : "before the first cue");
  text($("place"), `count ${v.now.movement}:${Math.floor(v.now.count + countSlack)}${v.now.set ? "  set " + v.now.set : ""}`);
  $("tempo").toggleAttribute("data-stopped", !v.running);
  text($("tempo"), v.running ? `${v.bpm.toFixed(0)} bpm (${tempoWords(v.rate)})` : ("clock stopped " + (v.stopped || "")).trim() + (follows() ? "" : ": start runs it"));
  $("ring").hidden = !v.ring; // where it can be said, its row stays, so that nothing else moves
  text($("ring"), picture.ring);
  drawLamp();
  drawAlarms();
  $("hushed").hidden = !v.hush;
  drawNext(v, n);
  drawTimeline(v, n);
  drawMics(v);
  drawStatus(v);
  drawPlayers();
  labelButtons();
  const key = `${v.step}|${n ? n.id : ""}|${v.hush}`;
  if (announced !== null && announced !== key) {
    text($("live"), `${v.step ? "Cue " + v.step : "Before the first cue"}. ${v.hush ? "Hushed. " : ""}${n ? `Next ${n.id}, ${n.name}. ${changeList().map(c => c.join(" ")).join("; ")}` : "End of show."}`);
  }
  announced = key;
}

const tempoWords = rate => Math.round(100 * rate) === 100 ? "as written" : `${(100 * rate).toFixed(0)} % of written`;

const mixerWords = d => !d.up ? d.reason || "not connected yet" : d.no_reply ? "check power and cable" : d.waiting ? "sending" : d.confirms ? (d.unconfirmed > 0 ? `waiting for ${d.unconfirmed} value${d.unconfirmed === 1 ? "" : "s"}` : "OK") : "sent (this mixer cannot confirm)";

const mixerAlarm = d => !d.up || d.no_reply || d.restarted || d.overwritten || d.contested || d.slow_s > 0;

function drawLamp() {
  const mixers = list(view.mixers), down = mixers.filter(mixerAlarm);
  const busy = mixers.some(d => d.up && (d.waiting || d.confirms && d.unconfirmed > 0));
  $("lamp").dataset.state = down.length ? "down" : busy || !mixers.length ? "wait" : "up";
  const state = down.some(d => !d.up) ? "NO LINK" : down.some(d => d.no_reply) ? "NO REPLY" : down.every(d => d.slow_s > 0) ? "SLOW" : "CHECK";
  if (!mixers.length) return text($("lamp"), "mixers not heard");
  text($("lamp"), down.length ? (mixers.length > 1 ? `${down.length} of ${mixers.length} mixers: ${state}` : `mixer: ${state}`)
    : mixers.length === 1 ? "mixer: " + mixerWords(mixers[0]) : busy ? "mixers: sending" : `${mixers.length} mixers up`);
}

// countSlack is how far counts may be over a whole number and still be that many: cue times are rounded.
const countSlack = 1e-4;

// countWords is how many counts are left, as a drum major counts: 1 is the last. Overdue counts have a + before them. In a
// wait between movements, where no counts are left but time is, it is the seconds, with their unit.
function countWords(n) {
  const c = n.counts, whole = Math.ceil(c - countSlack);
  if (c <= -1) return "+" + Math.min(Math.floor(countSlack - c), 999);
  if (inWait(n)) return Math.min(Math.ceil(n.in_s), 9999) + " s";
  return String(Math.min(Math.abs(whole), 9999));
}

// changeList is what the next cue changes. A name or level stays whole at the end of a row.
const changeList = () => list(picture.changes).map(c => [c.what, c.what[0] === "→" ? c.who : c.who.replace(/([^,]) /g, "$1\u00a0")]);

// follows is whether this laptop only shows what another one does, and takes no commands.
const follows = () => !!(view && view.pair && !view.pair.sends);

function drawNext(v, n) {
  const near = n && n.counts <= 8;
  $("next").toggleAttribute("data-near", !!near);
  const digits = n ? countWords(n) : "–";
  text($("digits"), digits);
  $("digits").toggleAttribute("data-long", digits.length > 2 || digits[0] === "+");
  text($("nextname"), n ? titled(n) : "end of show");
  const nobody = picture.orphan ? "nobody is known to send it" : "";
  const when = !n ? "" : nobody ? `at ${n.at}: ${nobody}` : n.counts < 0 ? `at ${n.at}, OVERDUE` : v.running ? `at ${n.at}, in ${n.in_s.toFixed(1)} s` : `at ${n.at}`;
  const auto = n && n.auto && !nobody ? (v.running ? ", AUTO" : ", AUTO when the clock runs") : "";
  text($("when"), when + auto);
  $("auto").hidden = !v.next_auto;
  if (v.next_auto) text($("auto"), `AUTO${v.running ? "" : " when the clock runs"}: ${v.next_auto.id} ${nobody || awayWords(v.next_auto)}`);
  const key = n ? JSON.stringify([n.id, changeList()]) : "";
  if ($("changes").dataset.key !== key) {
    $("changes").dataset.key = key;
    $("changes").replaceChildren(...(n ? changeList().map(([what, who]) => { const li = el("li", el("b", what)); li.append(who); return li; }) : []));
  }
  drawGo(v, n);
}

const titled = n => n.name ? `${n.id}  "${n.name}"` : n.id;

// drawGo draws the strip at the bottom: go, or on a laptop that stands by take over, in the same place and drawn differently.
function drawGo(v, n) {
  const takes = follows(), later = !takes && picture.later;
  $("go").toggleAttribute("data-takeover", takes);
  $("go").toggleAttribute("data-later", later);
  $("go").toggleAttribute("data-quiet", takes && v.pair.yielded);
  if (!armed || armed.id !== "go") text($("goword"), takes ? "take over" : n ? (n.auto && v.running ? "go now" : "go") : "end");
  text($("goname"), takes ? (v.pair.yielded ? "no need: the other laptop sends" : v.pair.gone ? "press twice" : "press twice; the other laptop goes silent")
    : n ? titled(n) + (later ? ": sent once a mixer hears it" : "") : "end of show");
  text($("gokey"), takes ? "t t" : "Space");
}

// drawTimeline draws the counts from the last cue that was pressed to the next. The solid part is what is left. It has a
// mark every eight counts before the cue, and a diamond for each automatic cue.
function drawTimeline(v, n) {
  const way = n ? v.wait_counts : 0;
  $("timeline").hidden = !(way > 0);
  if (!(way > 0)) return;
  text($("from"), v.step ? (v.step.length > 12 ? v.step.slice(0, 11) + "…" : v.step) : "start");
  text($("to"), n.id);
  const width = $("tape").clientWidth || 1, at = c => 100 * Math.min(Math.max(1 - c / way, 0), 1);
  $("left").style.left = at(n.counts) + "%";
  $("left").style.display = n.counts > 0 ? "" : "none";
  let phrase = way <= 8 ? 4 : 8;
  while (phrase * width / way < 44) phrase *= 2;
  const marks = [];
  for (let c = phrase; c < way; c += phrase) {
    const s = el("span"), i = el("i", String(c));
    s.style.left = i.style.left = at(c) + "%";
    s.toggleAttribute("data-passed", c >= n.counts);
    marks.push(s, i);
  }
  for (const t of list(v.ticks)) {
    const c = n.counts - t.counts;
    if (c <= 0 || t.counts < 0) continue;
    const e = el("em");
    e.style.left = at(c) + "%";
    marks.push(e);
  }
  $("marks").replaceChildren(...marks);
}

// drawMics lists the channels as the mixers have them, by role, worn mics first, from left to right on the field, and then
// those that open next.
function drawMics(v) {
  const x = name => (picture.places[name] || { x: 0 }).x;
  const groups = new Map();
  for (const o of list(picture.rows)) {
    const head = o.differs ? "▒ moved at the mixer" : o.role || (o.open ? "open" : "closing");
    if (!groups.has(head)) groups.set(head, { first: o.differs ? 2 : 0, mics: [] });
    const g = groups.get(head);
    if (o.kind === "worn") g.first = Math.max(g.first, 1);
    g.mics.push({ channel: o.channel, name: o.player || `channel ${o.channel}`, level: o.level.replace("-", "−") + o.mark,
      note: o.differs ? o.note.replace("-", "−") : "", sign: o.sign, nextState: nextState(o),
      does: follows() || fixed.read_only ? "" : o.release.replace("-", "−") });
  }
  const order = [...groups].sort((a, b) => b[1].first - a[1].first);
  const soon = starting();
  if (soon.length) order.push(["○ opens next", { mics: soon.map(name => ({ name, level: "", note: "", nextState: "opens" })) }]);
  const rows = order.map(([head, g]) => {
    const li = el("li", el("b", head), head.startsWith("▒") ? { "data-differs": "" } : {});
    g.mics.sort((a, b) => x(a.name) - x(b.name) || (a.name < b.name ? -1 : 1));
    for (const m of g.mics) {
      const s = el("span", "", { "data-to": m.nextState, "data-sign": m.sign || "" });
      if (m.channel) s.append(el("small", String(m.channel)), " ");
      s.append(m.nextState === "closes" ? "✕ " + m.name : m.name);
      if (m.level) s.append(el("i", m.level));
      if (m.note) s.append(el("em", m.note));
      if (m.does) {
        s.append(el("u", `${isArmed(m.channel) ? "again" : "tap twice"}: release ${m.does}`));
        for (const [k, value] of [["data-channel", m.channel], ["data-does", m.does], ["role", "button"], ["tabindex", 0]]) s.setAttribute(k, value);
        s.toggleAttribute("data-armed", isArmed(m.channel));
      }
      li.append(s);
    }
    return li;
  });
  if (!list(picture.rows).length) rows.unshift(el("li", el("b", picture.closed)));
  const key = rows.map(r => r.outerHTML).join("");
  if ($("mics").dataset.key !== key) { $("mics").dataset.key = key; $("mics").replaceChildren(...rows); }
  countHidden();
}

// countHidden says how many names there is no room for. They can be scrolled to.
function countHidden() {
  const end = Math.min($("mics").getBoundingClientRect().bottom, document.querySelector("footer").getBoundingClientRect().top) + 2;
  const hidden = [...document.querySelectorAll("#mics span")].filter(s => s.getBoundingClientRect().bottom > end).length;
  $("cut").hidden = $("what").getBoundingClientRect().bottom <= $("next").getBoundingClientRect().bottom + 2;
  text($("more"), hidden === 0 ? "" : `and ${hidden} more below`);
}

// drawAlarms shows what is wrong, the worst first.
function drawAlarms() {
  const all = list(picture.alarms), taps = !(fixed && fixed.read_only), key = JSON.stringify([all, taps, follows()]);
  $("alarms").hidden = !all.length;
  if ($("alarms").dataset.key === key) return;
  $("alarms").dataset.key = key;
  // The keys are named as they are here.
  const twice = "tap Take over twice";
  const words = a => a.text.replace("SPACE", "GO").replace("h h opens", "unhush opens")
    .replace(/\b[Pp]ress t twice\b|\bt t takes over\b|\bt t\b/, s => taps ? twice : s) + (a.kind === "manual" && taps && !follows() ? ". Tap a row below twice to release it" : "");
  $("alarms").replaceChildren(...all.map(a => el("li", words(a), { "data-kind": a.kind })));
}

function drawStatus(v) {
  const rows = [];
  const add = (head, what, loud) => { const li = el("li", el("b", head + " "), loud ? { "data-loud": "" } : {}); li.append(what); rows.push(li); };
  const ago = s => s < 100 ? `${s.toFixed(0)} s ago` : `${(s / 60).toFixed(0)} min ago`;
  if (picture.problem) add(`problem ${ago(v.problem_ago_s)}`, picture.problem, v.problem_ago_s < 10);
  const mixers = list(v.mixers);
  for (const [head, what] of [["held", v.holds], ["swapped", v.swaps], ["nudged", v.nudges]]) if (list(what).length) add(head, what.join(", "));
  if (mixers.length > 1) for (const d of mixers) add(!d.up ? "mixer NO LINK" : d.no_reply ? "mixer NO REPLY" : "mixer up", `${d.to.replace(/^.*:\/\//, "")}  ${mixerWords(d)}${d.reply_ago_s >= 0 ? `, last reply ${d.reply_ago_s.toFixed(0)} s ago` : ""}`, !d.up || d.no_reply);
  if (v.notice && v.notice_ago_s < 60) add(`notice ${ago(v.notice_ago_s)}`, v.notice);
  if (picture.pages > 1) add("pages", `${picture.pages} open`);
  $("status").replaceChildren(...rows);
}
