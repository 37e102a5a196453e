// The page of a run. It shows what the run tells and sends what a finger asks for; what comes of that is the run's to
// know. Whatever is older than two seconds is no longer the run: then it says so, and takes nothing.
"use strict";

const $ = id => document.getElementById(id);
const OLD_MS = 2000, AGAIN_MS = 1000, TWICE_MS = 2000, RAPID_MS = 150, SAID_MS = 15000, SILENT_MS = 3000;

let fixed = null;      // what does not change: the field, whether this page looks on only
let picture = null;    // the newest
let view = null;       // of it
let heardAt = -Infinity, seenMS = 0; // when the last word came; when the run was looked at, by its own clock
let offset = Infinity; // this clock against the run's, as far as the quickest word tells
let source = null, gone = "", connecting = false;

const now = () => performance.now();
// ageMS is how old what stands here is: on the way, and before.
const ageMS = () => view === null ? Infinity : now() - offset - seenMS;
const locked = () => gone !== "" || ageMS() > OLD_MS || now() - heardAt > OLD_MS;

// ---- the road to the run

async function connect() {
  if (connecting || gone === "ended") return;
  connecting = true;
  if (source) source.close();
  source = null;
  try {
    const r = await fetch("show.json", { signal: AbortSignal.timeout(OLD_MS) });
    if (r.status === 404) gone = "out";
    if (!r.ok) throw new Error(r.status);
    fixed = await r.json();
    gone = "";
    document.body.toggleAttribute("data-readonly", fixed.read_only);
    drawField();
    const s = source = new EventSource("events");
    heardAt = Math.max(heardAt, now() - OLD_MS); // it has time to speak
    s.onmessage = e => { if (s === source) hear(JSON.parse(e.data)); };
    s.addEventListener("ended", () => { if (s === source) { gone = "ended"; s.close(); watch(); } });
    s.onerror = () => { if (s === source) { s.close(); source = null; } };
  } catch (e) { // the next try is watch's
  } finally { connecting = false; }
}

function hear(word) {
  const t = now();
  // The quickest word is the nearest to the truth; it ages, as two clocks drift apart.
  offset = Math.min(offset + 0.1, t - word.now_ms);
  heardAt = t;
  seenMS = word.seen_ms;
  if (word.picture && word.picture.view) {
    picture = word.picture;
    view = picture.view;
    draw();
  }
  watch();
}

let tries = 0;
function watch() {
  const t = now(), silent = t - heardAt;
  let big = "", small = "";
  if (gone === "ended") {
    [big, small] = ["THE RUN HAS ENDED", "The mixer keeps what it was last told."];
  } else if (gone === "out") {
    [big, small] = ["THIS DEVICE IS NOT LET IN ANY MORE", "Ask for a new link at the terminal: :page"];
  } else if (view === null) {
    [big, small] = t > OLD_MS ? ["NO CONNECTION YET", "trying"] : ["", ""];
  } else if (silent > OLD_MS) {
    [big, small] = [`NO CONNECTION FOR ${Math.floor(silent / 1000)} s`, "What stands here is old. The terminal runs the show."];
  } else if (ageMS() > OLD_MS) {
    [big, small] = [`THE RUN HAS NOT ANSWERED FOR ${Math.floor(ageMS() / 1000)} s`, "What stands here is old."];
  }
  if (lost.dataset.big !== big) { // the seconds are not read out each
    lost.dataset.big = big;
    lost.replaceChildren(...(big ? [big, el("small", small)] : []));
  }
  lock(locked());
  if (armed && t - armed.at > TWICE_MS) disarm();
  if (saidAt && t - saidAt > SAID_MS) say("");
}
const lost = $("lost");

setInterval(() => {
  watch();
  if (gone === "ended") return;
  if (source === null) { if (tries++ % (gone === "out" ? 20 : 2) === 0) connect(); }
  else if (now() - heardAt > SILENT_MS + OLD_MS) connect(); // open, and silent: a road that is broken in the middle
}, 250);
addEventListener("online", connect);
document.addEventListener("visibilitychange", watch);

// ---- what a finger asks for

let armed = null;   // {verb, button, at}: a second press does it
let went = -Infinity; // the last go that was sent
let busy = false;

async function give(verb, more) {
  if (locked() || !fixed || fixed.read_only) return;
  if (busy) return say(`${verb}: the command before is still being carried out; not taken`, true);
  busy = true;
  const order = { verb, asked_ms: Math.round(now() - offset), ...more };
  if (verb === "go" || verb === "back") order.next = view.next ? view.next.id : "";
  try {
    const r = await fetch("do", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(order), signal: AbortSignal.timeout(OLD_MS) });
    const a = await r.json().catch(() => ({}));
    say(a.said || a.error || `${verb}: not taken (${r.status})`, !r.ok);
    return r.ok;
  } catch (e) {
    say(`${verb}: no answer. It may have been taken or not: look at the cue`, true);
  } finally { busy = false; }
}

function go() {
  disarm();
  if (locked() || !view) return;
  if (now() - went < AGAIN_MS) return say("go again within a second: not taken", true);
  went = now();
  $("go").setAttribute("data-pressed", "");
  setTimeout(() => $("go").removeAttribute("data-pressed"), 250);
  give("go");
}

// What a second press of a guarded button does, and in words. Hush and start do no harm when a finger bounces.
const guarded = {
  back: () => ["back", "go back to the cue before"],
  hush: () => view.hush ? ["unhush", "open what the current cue has open"] : ["hush", "close every worn mic"],
  clock: () => view.running ? ["stop", "stop the show clock"] : ["start", "let the show clock run"],
};
const harmless = verb => verb === "hush" || verb === "start";

function guard(id) {
  if (locked() || !view) return;
  const t = now();
  if (armed && armed.id === id && t - armed.at <= TWICE_MS) {
    const a = armed;
    disarm();
    if (t - a.at < RAPID_MS && !harmless(a.verb)) return say(`${a.verb}: pressed too fast, not taken`, true);
    give(a.verb);
    return;
  }
  disarm();
  const [verb, meaning] = guarded[id]();
  armed = { id, verb, at: t };
  $(id).setAttribute("data-armed", "");
  $(id).firstChild.textContent = `again: ${verb}`;
  say(`The same again: ${meaning}`);
}

function disarm() {
  if (!armed) return;
  const id = armed.id;
  armed = null;
  $(id).removeAttribute("data-armed");
  if (view) words();
}

function words() {
  for (const id in guarded) if (!armed || armed.id !== id) text($(id).firstChild, guarded[id]()[0]);
}

let saidAt = 0;
function say(what, wrong) {
  $("said").toggleAttribute("data-wrong", !!wrong && what !== "");
  text($("said"), what);
  saidAt = what === "" ? 0 : now();
}

// A finger that slips a little on the strip means it all the same, as long as it comes off on it.
let down = null;
$("go").addEventListener("pointerdown", e => { if (e.button === 0 && e.isPrimary) down = e.pointerId; });
$("go").addEventListener("pointercancel", () => { down = null; });
$("go").addEventListener("pointerup", e => {
  if (down !== e.pointerId) return;
  down = null;
  const b = $("go").getBoundingClientRect();
  if (e.clientX >= b.left && e.clientX <= b.right && e.clientY >= b.top && e.clientY <= b.bottom) go();
});
$("go").addEventListener("click", e => { if (e.detail === 0) go(); }); // Enter, or a reader's press
for (const id in guarded) $(id).addEventListener("click", () => guard(id));
$("jump").addEventListener("submit", async e => {
  e.preventDefault();
  disarm();
  const name = $("where").value.trim();
  if (name === "") return $("where").focus();
  if (await give("jump", { name })) { $("where").value = ""; $("where").blur(); }
});
$("keys").addEventListener("click", () => showSheet($("sheet").hidden));
$("light").addEventListener("click", () => light(document.documentElement.dataset.light === "sun" ? "night" : "sun"));

function showSheet(yes) {
  $("sheet").hidden = !yes;
  $("keys").setAttribute("aria-expanded", yes);
}

addEventListener("keydown", e => {
  const typing = e.target === $("where");
  if (e.ctrlKey || e.metaKey || e.altKey) return;
  if (e.key === "Escape") { $("where").blur(); showSheet(false); disarm(); return; }
  if (typing) return;
  if (e.key === "Enter") { if (e.repeat) e.preventDefault(); return; }
  const act = { " ": go, b: () => guard("back"), h: () => guard("hush"), s: () => guard("clock"), l: () => $("light").click(), "?": () => $("keys").click(),
    "/": () => $("where").focus(), ":": () => $("where").focus() }[e.key.length === 1 ? e.key.toLowerCase() : e.key];
  if (!act) return;
  e.preventDefault();
  if (e.repeat) return say(`${e.key === " " ? "Space" : e.key} is being held: not taken`, true);
  if (!(fixed && fixed.read_only) || e.key === "?" || e.key === "l") act();
});
// Some browsers press the button that has the focus when Space comes up.
addEventListener("keyup", e => { if (e.key === " " && e.target !== $("where")) e.preventDefault(); });

function lock(yes) {
  document.body.toggleAttribute("data-locked", yes);
  for (const b of document.querySelectorAll("#hands button, #hands input, #go")) b.disabled = yes;
}

function light(kind) {
  document.documentElement.dataset.light = kind;
  text($("light"), kind === "sun" ? "night" : "sun");
  try { localStorage.setItem("light", kind); } catch (e) { /* it is asked again next time */ }
}
addEventListener("resize", () => { if (view) draw(); });

try { light(localStorage.getItem("light") || (matchMedia("(prefers-color-scheme: light)").matches ? "sun" : "night")); } catch (e) { light("night"); }
lock(true);
connect();
