// The page of a run. It shows the state that the run sends, and sends commands; the run decides what they do. A state that
// is older than two seconds no longer shows the run: then the page says so and takes no commands.
"use strict";

const $ = id => document.getElementById(id);
const OLD_MS = 2000, AGAIN_MS = 1000, TWICE_MS = 2000, RAPID_MS = 150, SAID_MS = 4000, SILENT_MS = 3000;

let fixed = null;      // what does not change: the field, whether this page is read-only
let picture = null;    // the newest state
let view = null;       // of it
let heardAt = -Infinity, seenMS = 0; // when the last message came; when the run was looked at, by its own clock
let offset = Infinity; // this clock minus the run's, from the message that was fastest
let source = null, gone = "", connecting = false;

const now = () => performance.now();
// ageMS is the age of the state shown, with its time on the network.
const ageMS = () => view === null ? Infinity : now() - offset - seenMS;
const locked = () => gone !== "" || ageMS() > OLD_MS || now() - heardAt > OLD_MS;

// ---- the connection to the run

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
    heardAt = Math.max(heardAt, now() - OLD_MS); // give it time for a first message
    s.onmessage = e => { if (s === source) hear(JSON.parse(e.data)); };
    s.addEventListener("ended", () => { if (s === source) { gone = "ended"; s.close(); checkAge(); } });
    s.onerror = () => { if (s === source) { s.close(); source = null; } };
  } catch (e) { // the timer below tries again
  } finally { connecting = false; }
}

function hear(word) {
  const t = now();
  // The fastest message gives the best offset. It ages, since two clocks drift apart.
  offset = Math.min(offset + 0.1, t - word.now_ms);
  heardAt = t;
  seenMS = word.seen_ms;
  if (word.picture && word.picture.view) {
    const followed = follows();
    picture = word.picture;
    view = picture.view;
    if (followed !== follows()) { // what was refused no longer would be; and the strip at the bottom is another button now
      say("");
      disarm();
      went = now();
    }
    draw();
  }
  checkAge();
}

let tries = 0;
function checkAge() {
  const t = now(), silent = t - heardAt;
  let big = "", small = "";
  if (gone === "ended") {
    [big, small] = ["THE RUN HAS ENDED", "The mixer keeps its last values."];
  } else if (gone === "out") {
    [big, small] = ["THIS DEVICE WAS REMOVED", "For a new link, type :page at the terminal."];
  } else if (view === null) {
    [big, small] = t > OLD_MS ? ["NO CONNECTION YET", "trying"] : ["", ""];
  } else if (silent > OLD_MS) {
    [big, small] = [`NO CONNECTION FOR ${Math.floor(silent / 1000)} s`, "This page is old. The terminal runs the show."];
  } else if (ageMS() > OLD_MS) {
    [big, small] = [`NO ANSWER FROM THE RUN FOR ${Math.floor(ageMS() / 1000)} s`, "This page is old."];
  }
  if (lost.dataset.big !== big) { // so that a screen reader does not read every second
    lost.dataset.big = big;
    lost.replaceChildren(...(big ? [big, el("small", small)] : []));
  }
  lock(locked() || follows());
  $("go").disabled = locked();
  if (chosen !== null && view) drawPanel();
  if (armed && t - armed.at > TWICE_MS) disarm();
  if (saidAt && t - saidAt > SAID_MS) say("");
}
const lost = $("lost");

setInterval(() => {
  checkAge();
  if (gone === "ended") return;
  if (source === null) { if (tries++ % (gone === "out" ? 20 : 2) === 0) connect(); }
  else if (now() - heardAt > SILENT_MS + OLD_MS) connect(); // open but silent: the network is broken somewhere
}, 250);
addEventListener("online", connect);
document.addEventListener("visibilitychange", checkAge);

// ---- commands

let armed = null;   // {verb, at, id}: a second press carries it out
let went = -Infinity; // the last go that was sent
let busy = false;

async function give(verb, more) {
  if (locked() || follows() !== (verb === "takeover") || !fixed || fixed.read_only) return;
  if (busy) return say(`${verb} ignored (the last command is still running)`, true, place(verb));
  busy = true;
  const of = chosen; // whose panel the answer belongs to
  const order = { verb, pressed_ms: Math.round(now() - offset), ...more };
  if (verb === "go" || verb === "back") order.next = view.next ? view.next.id : "";
  try {
    const r = await fetch("do", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(order), signal: AbortSignal.timeout(OLD_MS) });
    const a = await r.json().catch(() => ({}));
    if (a.now_ms !== undefined) offset = now() - a.now_ms; // this page's clock was ahead, as after a laptop that slept
    const answer = a.said || a.error || (r.ok ? `${verb}: done, but its answer was lost: look at the cue` : `${verb} refused, and the reason was lost: look at the cue, then try again`);
    lastAnswer = answer;
    if (r.ok && plain.includes(verb) && !answer.includes(";")) { say(""); lastSaid = answer; }
    else say(answer, !r.ok, place(verb, of), a.short);
    return r.ok;
  } catch (e) {
    say(`${verb}: no answer. It may or may not have worked: look at the cue`, true, place(verb, of));
  } finally { busy = false; }
}

// plain are the commands whose success the page shows anyway: a line that says it would only cover the cue.
const plain = ["go", "back", "hush", "unhush", "start", "stop", "takeover"];

// place is where an answer is shown: on the field that it concerns.
// An answer whose panel is closed by then is shown over the cue.
const place = (verb, of = chosen) => verb === "jump" ? "jump" : ["release", "hold", "swap", "nudge"].includes(verb) && of === chosen ? "panel" : "cue";

function go() {
  if (follows()) return pressDouble("go");
  disarm();
  if (locked() || !view) return;
  if (now() - went < AGAIN_MS) return say("GO ignored (held down, or pressed twice)", true);
  went = now();
  $("go").setAttribute("data-pressed", "");
  setTimeout(() => $("go").removeAttribute("data-pressed"), 250);
  give("go");
}

// What a second press of a double button does, and in words. For hush and start a bounce does no harm.
const doublePress = {
  back: () => ["back", "go back one cue"],
  hush: () => view.hush && !view.only ? ["unhush", "open what the current cue has open"] : ["hush", "close every worn mic"],
  go: () => ["takeover", "take over: this laptop sends to the mixers"],
  clock: () => view.running ? ["stop", "stop the show clock"] : ["start", "start the show clock"],
};
const actsAtOnce = verb => verb === "hush" || verb === "start";

function pressDouble(id) {
  if (locked() || !view) return;
  const a = armed, t = now();
  disarm();
  if (a && a.id === id && t - a.at <= TWICE_MS) {
    if (t - a.at < RAPID_MS && !actsAtOnce(a.verb)) return say(`${a.verb.toUpperCase()} ignored (held down, or pressed too fast)`, true);
    say("");
    return give(a.verb);
  }
  const [verb, meaning] = doublePress[id]();
  armed = { id, verb, at: now() };
  $(id).setAttribute("data-armed", "");
  fit($(id).firstChild, [`again: ${verb === "takeover" ? "take over" : verb}`, "again"], buttonSizes(id));
  say(`Press again to ${meaning}`);
}

// buttonSizes are the sizes of type of a button, in pixels.
const buttonSizes = id => id === "go" ? [44, 36, 30, 26] : [18, 16, 15, 14, 13, 12];

function disarm() {
  if (!armed) return;
  const id = armed.id;
  armed = null;
  $(id).removeAttribute("data-armed");
  if (view) { labelButtons(); drawGo(view, view.next); }
}

function labelButtons() {
  for (const id in doublePress) if (id !== "go" && (!armed || armed.id !== id)) fit($(id).firstChild, [doublePress[id]()[0]], buttonSizes(id));
}

// lastAnswer is the last answer or refusal. A prompt to press again is neither.
let saidAt = 0, lastSaid = "", lastAnswer = "", saidIn = "", saidWrong = false;

// say shows an answer or a refusal for a few seconds, in one line over the field that it concerns: the jump box, the panel of
// a channel, or else the current cue. It never covers a button. Where there is a short form, that is shown; the long one is
// behind the dots.
function say(what, wrong, where = "cue", short = "") {
  const box = $("said"), panel = where === "panel" && chosen !== null;
  if (what !== "") lastSaid = what;
  if (wrong && what !== "") lastAnswer = what;
  [saidIn, saidWrong, saidAt] = [what === "" ? "" : panel ? "panel" : where, !!wrong, what === "" ? 0 : now()];
  const shown = panel ? "" : short || what, over = !$("sheet").hidden ? $("tools") : where === "jump" && $("jump").clientWidth >= 300 ? $("jump") : $("now");
  if (box.parentElement !== over) over.append(box);
  box.toggleAttribute("data-shown", shown !== "");
  box.toggleAttribute("data-wrong", !!wrong && shown !== "");
  fit(box, [shown, shown.replace(/^[^:]*: /, ""), shown.split("; ")[0]], [17, 16, 15, 14, 13, 12]);
  if (chosen !== null) drawPanel();
  if (view && !$("sheet").hidden) drawSheet();
}

// A finger may slip a little on the strip, as long as it comes off on it.
let down = null;
$("go").addEventListener("pointerdown", e => { if (e.button === 0 && e.isPrimary) down = e.pointerId; });
$("go").addEventListener("pointercancel", () => { down = null; });
$("go").addEventListener("pointerup", e => {
  if (down !== e.pointerId) return;
  down = null;
  const b = $("go").getBoundingClientRect();
  if (e.clientX >= b.left && e.clientX <= b.right && e.clientY >= b.top && e.clientY <= b.bottom) go();
});
$("go").addEventListener("click", e => { if (e.detail === 0) go(); }); // Enter, or a screen reader
for (const id in doublePress) if (id !== "go") $(id).addEventListener("click", () => pressDouble(id));
$("jump").addEventListener("submit", async e => {
  e.preventDefault();
  disarm();
  const name = $("where").value.trim();
  if (name === "") return $("where").focus();
  $("where").blur(); // from here on Space is go again, also after a refusal
  const done = await give("jump", { name });
  if (typing()) return; // somebody types the next one already
  if (done) $("where").value = "";
  else $("where").toggleAttribute("data-refused", done === false);
});
const typing = () => document.activeElement === $("where");
// What was typed and left, refused or not, goes when the box is touched again: what is typed then is a new jump. Another
// window in front leaves the text alone.
let leftBox = false;
$("where").addEventListener("blur", () => { leftBox = document.hasFocus(); });
$("where").addEventListener("focus", () => { if (leftBox) emptyBox(); });
$("where").addEventListener("input", () => { $("where").removeAttribute("data-refused"); say(""); });

function emptyBox() {
  leftBox = false;
  $("where").value = "";
  $("where").removeAttribute("data-refused");
  if (saidIn === "jump") say("");
}
$("more").addEventListener("click", () => showSheet($("sheet").hidden));
$("lines").addEventListener("click", () => showSheet(true));
$("light").addEventListener("click", () => light(document.documentElement.dataset.light === "sun" ? "night" : "sun"));

function showSheet(yes) {
  $("sheet").hidden = !yes;
  $("more").setAttribute("aria-expanded", yes);
  if (yes && view) { $("list").dataset.key = ""; drawSheet(); }
}

// furnish puts what is rarely touched where there is room for it: on a phone behind the button with the dots.
function furnish() {
  const small = phone.matches, home = small ? $("tools") : $("buttons");
  if ($("jump").parentElement !== home) {
    if (small) home.append($("jump"), $("light"));
    else $("clock").after($("jump"), $("light"));
  }
  if (!$("show")) $("tools").append(el("a", "the whole show", { id: "show", href: "show/?follow", target: "_blank", rel: "noopener" }));
}

function jumpBox() {
  if (phone.matches) showSheet(true);
  $("where").focus();
}

addEventListener("keydown", e => {
  if (e.ctrlKey || e.metaKey || e.altKey) return;
  if (e.key === "Escape") { if (typing()) { $("where").blur(); emptyBox(); } showSheet(false); disarm(); if (chosen !== null) closePanel(); return; }
  if (e.target === $("where")) return;
  if (e.key === "Enter") { if (e.repeat) e.preventDefault(); return; }
  const space = () => follows() ? say("Space does nothing on a laptop that stands by; t t takes over", true) : go();
  const act = { " ": space, t: () => { if (follows()) pressDouble("go"); }, b: () => pressDouble("back"), h: () => pressDouble("hush"), s: () => pressDouble("clock"), l: () => $("light").click(), "?": () => $("more").click(),
    "/": jumpBox, ":": jumpBox }[e.key.length === 1 ? e.key.toLowerCase() : e.key];
  if (!act) return;
  e.preventDefault();
  if (e.repeat) return say(`${e.key === " " ? "GO" : e.key.toUpperCase()} ignored (held down)`, true);
  if (!(fixed && fixed.read_only) || e.key === "?" || e.key === "l") act();
});
// Some browsers press the focused button when Space comes up.
addEventListener("keyup", e => { if (e.key === " " && e.target !== $("where")) e.preventDefault(); });

function lock(yes) {
  document.body.toggleAttribute("data-locked", yes);
  for (const b of document.querySelectorAll("#back, #hush, #clock, #jump button, #where, #go")) b.disabled = yes;
}

function light(kind) {
  document.documentElement.dataset.light = kind;
  text($("light"), kind === "sun" ? "night" : "sun");
  if (view) draw();
  try { localStorage.setItem("light", kind); } catch (e) { /* without storage the page starts with the default */ }
}
addEventListener("resize", () => { furnish(); if (view) draw(); });

try { light(localStorage.getItem("light") || (matchMedia("(prefers-color-scheme: light)").matches ? "sun" : "night")); } catch (e) { light("night"); }
furnish();
lock(true);
connect();
