// Draws the page of a run from the variables view, picture and fixed of run.js. Every box keeps its place whatever is in it.
"use strict";

const phone = matchMedia("(max-height: 599px), (max-width: 599px)");
const countSlack = 1e-4; // how far counts may be over a whole number and still be that many: cue times are rounded

// inWait is whether the ensemble waits between movements: no counts are left to the cue, but time is.
const inWait = n => Math.abs(n.counts) < countSlack && n.in_s >= .2;
const awayWords = n => {
  if (inWait(n)) return `in ${n.in_s.toFixed(1)} s`;
  const c = Math.round(n.counts), s = Math.abs(c) === 1 ? "" : "s";
  return c < 0 ? `${-c} count${s} overdue` : `in ${c || 0} count${s}`;
};
const tempoWords = rate => Math.round(100 * rate) === 100 ? "as written" : `${(100 * rate).toFixed(0)} % of written`;
const titled = n => n.name ? `${n.id}  "${n.name}"` : n.id;
const clockTime = s => `${s < 0 ? "−" : ""}${Math.floor(Math.abs(s) / 60)}:${(Math.abs(s) % 60).toFixed(1).padStart(4, "0")}`;

// starting lists the players who start to be heard in the next cue, and who are not open yet.
const starting = () => view.next ? list(view.next.starts).filter(name => !list(picture.tiles).some(o => o.open && o.player === name)) : [];

// nextState is what the next cue does to a channel: "closes" if its player stops being heard on it, "opens" if one starts.
const nextState = t => !view.next ? "" : list(view.next.stops).includes(t.at) ? "closes" : !t.open && starting().includes(t.player) ? "opens" : "";

// follows is whether this laptop only shows what another one does, and takes no commands.
const follows = () => !!(view && view.pair && !view.pair.sends);
const readOnly = () => !!(fixed && fixed.read_only);

let announced = null;
function draw() {
  const v = view, n = v.next;
  document.title = v.title ? `${v.title}: the run` : "Backfield: the run";
  text($("place"), `${phone.matches ? "" : "count "}${v.now.movement}:${Math.floor(v.now.count + countSlack)}${v.now.set ? " · set " + v.now.set : ""}`);
  fit($("cue"), [v.step ? `${v.step}  ${v.name}` : "before the first cue"], phone.matches ? [13, 12] : [17, 16, 15, 14, 13], phone.matches ? [19, 16, 14] : [25, 22, 19, 17]);
  drawStatus(v);
  drawNext(v, n);
  drawLines(v, n);
  drawTimeline(v, n);
  drawBench();
  drawPlayers();
  drawPanel();
  if (!$("sheet").hidden) drawSheet();
  labelButtons();
  const key = `${v.step}|${n ? n.id : ""}|${v.hush}`;
  if (announced !== null && announced !== key) {
    text($("live"), `${v.step ? "Cue " + v.step : "Before the first cue"}. ${v.hush ? "Hushed. " : ""}${n ? `Next ${n.id}, ${n.name}. ${list(picture.lines).filter(l => l.n).map(l => `${l.what} ${l.who[0]}`).join("; ")}` : "End of show."}`);
  }
  announced = key;
}

// pressing is an alarm with what to press about it, by its name here.
const buttonNames = { go: "GO", hush: "Hush", unhush: "Unhush", takeover: "Take over" };
function pressing(a) {
  if (readOnly() || !a.key && a.kind !== "manual") return a.text;
  if (a.key === "takeover") return `${a.text}. Tap Take over twice`;
  if (a.key) return `${a.text}. ${buttonNames[a.key]} ${a.does}`;
  return follows() ? a.text : `${a.text}. Touch a tile to release it`;
}

// wrongs lists what is wrong, the worst first.
function wrongs() {
  const all = list(picture.alarms).map(a => ({ kind: a.kind, text: pressing(a), short: a.short }));
  if (picture.ring) all.push({ kind: "ring", text: picture.ring, short: picture.ring.split(":")[0] });
  if (picture.problem && view.problem_ago_s < 30) all.push({ kind: "problem", text: picture.problem, short: "PROBLEM (···)" });
  return all;
}

// drawStatus draws the one line for good and bad news.
function drawStatus(v) {
  const all = wrongs(), sizes = phone.matches ? [17, 15, 14, 13, 12] : [21, 19, 17, 16, 15, 14, 13];
  const as = tempoWords(v.rate), tempo = phone.matches ? (as === "as written" ? "" : ", " + as) : ` (${as})`;
  const clock = v.running ? `${v.bpm.toFixed(0)} bpm${tempo}  ${clockTime(v.show_s)}` : phone.matches ? "clock stopped" : `clock stopped ${v.stopped || ""}`.trim() + (follows() || readOnly() ? "" : ": Start runs it");
  $("status").dataset.kind = all.length ? all[0].kind : "calm";
  $("status").toggleAttribute("data-crowded", all.length > 0);
  text($("tempo"), clock);
  if (!all.length) { $("alarms").style.whiteSpace = ""; return fit($("alarms"), calmWords(v), phone.matches ? [14, 13, 12] : [16, 15, 14]); }
  const others = all.slice(1).map(a => a.short).join(" · ");
  const after = s => others ? `${s} · ${others}` : s;
  fit($("alarms"), [after(all[0].text), all.length > 1 ? `${all[0].text} · and ${all.length - 1} more (···)` : all[0].text, after(all[0].short),
    `${all[0].short} (···)`], sizes.filter(s => s <= 17), sizes.filter(s => s >= 15));
}

const mixerWords = d => !d.up ? d.reason || "not connected yet" : d.no_reply ? "no reply: check power and cable" : d.waiting ? "sending" : d.confirms ? (d.unconfirmed > 0 ? `waiting for ${d.unconfirmed} value${d.unconfirmed === 1 ? "" : "s"}` : "OK") : "sent (this mixer cannot confirm)";

// calmWords says how the mixers are, from long to short.
function calmWords(v) {
  const mixers = list(v.mixers);
  if (!mixers.length) return ["mixers not heard"];
  const busy = mixers.filter(d => d.up && (d.waiting || d.confirms && d.unconfirmed > 0)).length;
  if (mixers.length > 1) return [busy ? `${mixers.length} mixers, ${busy} waiting` : `${mixers.length} mixers OK`];
  const d = mixers[0], s = `Mixer ${mixerWords(d)}`;
  const time = v.outer ? ` · ${v.outer.text}` : "";
  return [(d.reply_ago_s >= 0 ? `${s}, last reply ${d.reply_ago_s.toFixed(0)} s ago` : s) + time, s + time, s, d.unconfirmed > 0 ? `waiting for ${d.unconfirmed}` : s];
}

// countWords is how many counts are left, as a drum major counts: 1 is the last. Overdue counts have a + before them. In a
// wait between movements, where no counts are left but time is, it is the seconds, with their unit.
function countWords(n) {
  const c = n.counts, whole = Math.ceil(c - countSlack);
  if (c <= -1) return "+" + Math.min(Math.floor(countSlack - c), 999);
  if (inWait(n)) return Math.min(Math.ceil(n.in_s), 9999) + " s";
  return String(Math.min(Math.abs(whole), 9999));
}

const nobody = () => picture.orphan ? "nobody is known to send it" : "";

function drawNext(v, n) {
  const late = !!n && n.counts <= -1;
  $("next").dataset.state = late ? "late" : n && n.counts <= 3 && !inWait(n) ? "soon" : "";
  const digits = n ? countWords(n) : "–";
  const high = parseFloat(getComputedStyle($("digits")).getPropertyValue("--digits"));
  fit($("digits"), [digits], [1, .85, .7, .55, .4].map(part => Math.round(part * high)));
  const at = n ? `cue ${n.id} at ${n.at}` : "", s = /^\+?1( s)?$/.test(digits) ? "" : "s";
  const lead = !n ? "no cue is left" : inWait(n) ? `second${s} to ${at}` : late ? `count${s} late: ${at}` : `count${s} to ${at}`;
  const more = !n ? "" : nobody() ? ": " + nobody() : !v.running ? "" : n.counts < 0 ? "" : `, in ${n.in_s.toFixed(1)} s`;
  const auto = n && n.auto && !nobody() ? (v.running ? ", AUTO" : ", AUTO when the clock runs") : "";
  const whens = n && nobody() ? [lead + more, `${at}: ${nobody()}`, nobody()] : [lead + more + auto, lead + auto, at + auto];
  fit($("when"), whens, phone.matches ? [14, 13, 12] : [16, 15, 14, 13]);
  fit($("nextname"), [n ? n.name || n.id : "end of show"], phone.matches ? [20, 18, 16, 14, 12] : [28, 25, 22, 19, 16, 14]);
  drawGo(v, n);
}

const lineSigns = { opens: "⊕", closes: "✕", levels: "⇅", also: "◇" };

// drawLines says what the next cue changes, always in the same lines.
function drawLines(v, n) {
  const all = list(picture.lines), box = $("lines"), sizes = phone.matches ? [13, 12] : [16, 15, 14, 13];
  if (box.children.length !== all.length) {
    box.replaceChildren(...all.map(l => { const li = el("li", el("i", lineSigns[l.what])); li.append(el("b"), el("span")); return li; }));
  }
  const a = v.next_auto, hushed = n && n.intent ? "after unhush: " : "";
  all.forEach((l, i) => {
    const [, label, who] = box.children[i].children, auto = l.what === "also" && a;
    fit(label, auto ? [`auto ${a.id}`, "auto"] : [`${l.what} ${l.n}`], sizes);
    const texts = list(l.who).map(s => hushed + minus(s));
    if (hushed && l.n) texts.push(`${l.n} after unhush`);
    const lead = auto ? `${v.running ? "" : "when the clock runs, "}${nobody() || awayWords(a)}` : "";
    fit(who, lead ? [...texts.map(s => `${lead}; ${s}`), lead, awayWords(a)] : texts.length ? texts : [""], sizes);
    box.children[i].toggleAttribute("data-none", !l.n && !auto);
  });
}

// drawGo draws the strip at the bottom: go, or on a laptop that stands by take over, in the same place and drawn differently.
function drawGo(v, n) {
  const takes = follows(), later = !takes && picture.later;
  $("go").toggleAttribute("data-takeover", takes);
  $("go").toggleAttribute("data-later", later);
  $("go").toggleAttribute("data-quiet", takes && v.pair.yielded);
  $("go").dataset.state = takes ? "" : $("next").dataset.state;
  const word = takes ? "take over" : n ? (n.auto && v.running ? "go now" : "go") : "end";
  if (!armed || armed.id !== "go") fit($("goword"), [word], takes ? [38, 34, 30, 26, 22, 20, 18] : phone.matches ? [44, 36, 30, 26] : [50, 44, 36, 30]);
  const name = takes ? (v.pair.yielded ? ["no need: the other laptop sends"] : v.pair.gone ? ["press twice"] : ["press twice; the other laptop goes silent", "press twice"])
    : !n ? ["end of show"] : later ? [`${titled(n)}: sent once a mixer hears it`, `${n.id}: sent once a mixer hears it`] : [titled(n)];
  fit($("goname"), name, [22, 20, 18, 16, 14, 13, 12]);
  text($("gokey"), takes ? "t t" : "Space");
}

// drawTimeline draws the counts from the last cue that was pressed to the next. The solid part is what is left. It has a
// mark every eight counts before the cue, and a diamond for each automatic cue.
function drawTimeline(v, n) {
  const way = n ? v.wait_counts : 0, late = !!n && n.counts <= -1;
  $("timeline").toggleAttribute("data-none", !(way > 0));
  $("timeline").dataset.state = $("next").dataset.state;
  fit($("due"), late && way > 0 ? [`cue ${n.id} was due at ${n.at}`, `due at ${n.at}`, "overdue"] : [""], [14, 13, 12]);
  if (!(way > 0)) { $("marks").replaceChildren(); $("left").style.display = "none"; text($("from"), ""); text($("to"), ""); return; }
  for (const [at, id] of [["from", v.step || "start"], ["to", n.id]]) { // a long name takes two lines
    fit($(at), [id, ...[9, 7, 5].filter(most => most < id.length).map(most => id.slice(0, most) + "…")], [12], [17, 15, 13, 12]);
  }
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

// ---- the bench: every channel has its tile for the whole show

const tileGap = 4, leastTile = 44, tileWidths = [88, 76, 66, 58]; // in pixels, the best first
let bench = { key: "" }, benchPage = 0;

// layBench makes the tiles. Their places depend on how many there are and on the window alone. Where not all have room, the
// last place turns the page.
function layBench(n) {
  const box = $("bench"), style = getComputedStyle(box);
  const w = box.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight);
  const h = box.clientHeight - parseFloat(style.paddingTop) - parseFloat(style.paddingBottom);
  const fits = (size, room) => Math.max(Math.floor((room + tileGap) / (size + tileGap)), 1), mostRows = fits(leastTile, h);
  const most = tileWidths.map(size => fits(size, w)).find(columns => columns * mostRows >= n) || fits(tileWidths[tileWidths.length - 1], w);
  let rows = Math.min(Math.ceil(n / most), mostRows), columns = Math.min(Math.ceil(n / rows), most);
  const pages = rows * columns >= n ? 1 : Math.ceil(n / (most * mostRows - 1));
  if (pages > 1) [rows, columns] = [mostRows, most];
  const key = [n, w, h, rows, columns].join(" ");
  if (bench.key === key) return;
  const room = pages > 1 ? rows * columns - 1 : n, cell = (w - (columns - 1) * tileGap) / columns;
  bench = { key, room, pages, wide: cell, high: (h - (rows - 1) * tileGap) / rows, tiles: [] };
  benchPage = Math.min(benchPage, pages - 1);
  box.style.gridTemplate = `repeat(${rows}, minmax(0, 1fr)) / repeat(${columns}, minmax(0, 1fr))`;
  for (let i = 0; i < room; i++) {
    const b = el("button", undefined, { type: "button", class: "tile" });
    const [name, number, level, sign, note] = ["i", "small", "b", "span", "em"].map(kind => el(kind)), top = el("p", name), middle = el("p", level);
    top.append(number);
    middle.append(sign);
    b.append(top, middle, note);
    b.parts = { name, number, level, sign, note };
    b.addEventListener("click", () => openPanel(b.dataset.channel));
    bench.tiles.push(b);
  }
  if (pages > 1) {
    bench.turn = el("button", "", { type: "button", id: "turn" });
    bench.turn.addEventListener("click", () => { benchPage = (benchPage + 1) % bench.pages; drawBench(); });
  }
  box.replaceChildren(...bench.tiles, ...(pages > 1 ? [bench.turn] : []));
}

// closedWord is what tiles say of a closed mic: one word on all of them, the long one if a narrow tile has room for it.
const closedWord = () => wide("closed ?", 12, 700) <= bench.wide - 16 ? "closed" : "off";

const others = "others"; // the tile of the channels that the show does not use

// levelWords is what a tile says of the level, from long to short.
function levelWords(t) {
  const level = minus(t.level.replace(/ dB$/, "").replace("level unknown", "?"));
  if (t.sign === "still open") return ["OPEN"];
  if (t.sign === "muted") return ["MUTED", "MUTE"];
  const whole = isNaN(parseFloat(t.level)) ? level : minus(String(Math.round(parseFloat(t.level))));
  if (t.differs) return [level, whole];
  const sure = t.sign === "ok";
  if (!t.open && view.hush && t.kind === "worn") return sure ? ["hushed", "hush"] : ["hushed ?", "hush ?"];
  if (!t.open) return [closedWord() + (sure ? "" : " ?")];
  return [level + (t.mark ? " " + t.mark : ""), whole + t.mark, ...(t.mark === "~" ? [whole] : [])];
}

function drawBench() {
  const tiles = list(picture.tiles);
  layBench(tiles.length + 1);
  const outside = list(picture.outside), first = benchPage * bench.room;
  bench.tiles.forEach((b, i) => {
    const t = tiles[first + i];
    if (t) return drawTile(b, t);
    b.style.visibility = first + i === tiles.length ? "" : "hidden";
    if (first + i === tiles.length) drawOthers(b, outside);
  });
  if (bench.turn && bench.pages > 1) {
    const bad = tiles.filter((t, i) => t.differs && Math.floor(i / bench.room) !== benchPage).length;
    fit(bench.turn, [bad ? `${bad} MANUAL on page ${(benchPage + 1) % bench.pages + 1}` : `page ${benchPage + 1} of ${bench.pages}`, bad ? `${bad} !` : `${benchPage + 1}/${bench.pages}`], [15, 13, 12]);
    bench.turn.toggleAttribute("data-differs", bad > 0);
  }
}

// put puts a text into a part of a tile: the first that fits, in the largest size.
function put(e, texts, room, sizes, weight) {
  for (const s of texts) {
    for (const size of sizes) {
      if (wide(s, size, weight) > room && !(s === texts[texts.length - 1] && size === sizes[sizes.length - 1])) continue;
      text(e, s);
      if (e.style.fontSize !== size + "px") e.style.fontSize = size + "px";
      return;
    }
  }
}

const signRoom = 13; // of a sign or a short mark on a tile, in pixels

function drawTile(b, t) {
  const { name, number, level, note, sign } = b.parts, roomy = bench.wide >= 84, tall = bench.high >= 62, inner = bench.wide - (roomy ? 20 : 16);
  const set = (k, v) => { if (b.dataset[k] !== v) b.dataset[k] = v; };
  b.style.visibility = "";
  set("channel", String(t.channel));
  set("sign", t.sign);
  set("role", t.open ? t.role || (t.kind === "worn" ? "full" : t.kind) : "");
  set("open", t.open ? "open" : "closed");
  set("next", nextState(t));
  b.toggleAttribute("data-differs", t.differs);
  b.toggleAttribute("data-tall", tall);
  b.toggleAttribute("data-narrow", !roomy);
  b.toggleAttribute("data-chosen", chosen === String(t.channel));
  const swapped = t.at !== t.channel, mark = [t.held ? "held" : "", swapped ? `ch ${t.at}` : "", t.nudge ? minus(t.nudge) : ""].filter(s => s);
  const short = !tall && mark.length ? (mark.length > 1 ? "✱" : t.held ? "H" : swapped ? "S" : "N") : "";
  // Where an alarm leaves the sign of the next cue no room in its line, the sign goes up, in the place of the short mark.
  const words = levelWords(t), signed = b.dataset.next ? signRoom : 0, up = signed > 0 && wide(words[words.length - 1], 12, 700) > inner - signed;
  const beside = up || short ? "" : String(t.at), taken = roomy ? 22 + (up ? signRoom : 0) : up || short ? signRoom : 0;
  put(name, shortNames(t.player, t.channel), inner - taken, roomy ? [15, 14, 13, 12] : [13, 12], 600);
  const left = inner - wide(name.textContent, parseFloat(name.style.fontSize), 600) - 4; // for the number of the channel
  text(number, up ? "" : short || (roomy || wide(beside, 12, 600) <= left ? beside : ""));
  put(level, words, inner - (up ? 0 : signed), roomy && tall ? [21, 19, 17, 15, 13, 12] : [16, 15, 14, 13, 12], 700);
  const line = (up ? name : level).parentElement;
  if (sign.parentElement !== line) line.append(sign);
  const show = !t.differs ? "" : t.open ? (t.note.match(/show [+-][\d.]+/) || [""])[0] : `show ${closedWord()}`;
  const notes = [...(show ? [minus(show)] : []), ...mark];
  // In a narrow tile letters stand for what was done. The number of the channel is at the top of the tile in any case.
  const letters = [t.held ? "H" : "", swapped ? "S" : ""].filter(s => s).join(""), nudged = t.nudge ? minus(t.nudge) : "";
  const shorter = mark.length > 1 && !show ? [`${letters} ${nudged}`, `${letters} ${nudged.replace(/ dB$/, "")}`].map(s => s.trim()) : [];
  if (!tall) text(note, "");
  else put(note, notes.length ? [notes.join(", "), ...shorter, notes[0], ...mark, ""] : [""], inner, [13, 12], 600);
  text(sign, { closes: "✕", opens: "⊕" }[b.dataset.next] || "");
  const label = `${t.player}, channel ${t.at}, ${levelWords(t)[0]}, ${t.note}${mark.length ? ", " + mark.join(", ") : ""}${b.dataset.next ? ", " + b.dataset.next + " next" : ""}`;
  if (b.getAttribute("aria-label") !== label) b.setAttribute("aria-label", label);
}

// drawOthers draws the tile of the channels that the show does not use.
function drawOthers(b, outside) {
  const { name, number, level, note, sign } = b.parts, inner = bench.wide - (bench.wide >= 84 ? 20 : 16);
  const set = (k, v) => { if (b.dataset[k] !== v) b.dataset[k] = v; };
  for (const [k, v] of [["channel", others], ["sign", outside.length ? "outside" : "ok"], ["role", ""], ["open", outside.length ? "open" : "closed"], ["next", ""]]) set(k, v);
  b.toggleAttribute("data-differs", false);
  b.toggleAttribute("data-narrow", bench.wide < 84);
  b.toggleAttribute("data-chosen", chosen === others);
  put(name, ["not in show", "others"], inner, [13, 12], 600);
  text(number, "");
  put(level, outside.length ? [`${outside.length} OPEN`] : picture.unknown ? [`${picture.unknown} unknown`, `${picture.unknown} ?`] : [closedWord()], inner, [16, 14, 13, 12], 700);
  text(note, "");
  text(sign, "");
  b.setAttribute("aria-label", `channels that the show does not use: ${level.textContent}`);
}

// drawSheet lists everything that has no room on the grid.
function drawSheet() {
  const v = view, rows = [], add = (head, what) => rows.push([head, what]);
  const ago = s => s < 100 ? `${s.toFixed(0)} s ago` : `${(s / 60).toFixed(0)} min ago`;
  for (const a of wrongs()) add("!", a.text);
  if (picture.problem) add(`problem ${ago(v.problem_ago_s)}`, picture.problem);
  for (const d of list(v.mixers)) add("mixer", `${d.to.replace(/^.*:\/\//, "")} ${mixerWords(d)}${d.reply_ago_s >= 0 ? `, last reply ${d.reply_ago_s.toFixed(0)} s ago` : ""}`);
  for (const [head, what] of [["held", v.holds], ["swapped", v.swaps], ["nudged", v.nudges]]) if (list(what).length) add(head, what.join(", "));
  for (const l of list(picture.lines)) if (l.n) add(`next ${l.what}`, l.who[0]);
  if (v.notice && v.notice_ago_s < 60) add(`notice ${ago(v.notice_ago_s)}`, v.notice);
  if (lastAnswer) add("last answer", lastAnswer);
  if (picture.pages > 1) add("pages", `${picture.pages} open`);
  const key = JSON.stringify(rows);
  if ($("list").dataset.key === key) return;
  $("list").dataset.key = key;
  $("list").replaceChildren(...rows.map(([head, what]) => { const li = el("li", el("b", head + " ")); li.append(what); return li; }));
  for (const size of [15, 14, 13, 12]) { $("list").style.fontSize = size + "px"; if (!overflows($("list"))) break; }
}
