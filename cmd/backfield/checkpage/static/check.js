// The page of a line check. It shows the state that the laptop sends, and sends keys; the laptop decides what they do. Each
// key is for the pack that the page showed, so a late tap is refused. A state older than two seconds takes no keys.
"use strict";

const $ = id => document.getElementById(id);
const OLD_MS = 2000;
let view = null, heardAt = -Infinity, source = null, gone = "", busy = false, asked = 0;

const now = () => performance.now();
const old = () => gone !== "" || now() - heardAt > OLD_MS;

function connect() {
  if (source) source.close();
  const s = source = new EventSource("events");
  s.onmessage = e => {
    if (s !== source) return;
    heardAt = now();
    const v = JSON.parse(e.data);
    if (v !== null) view = v;
    draw();
  };
  s.addEventListener("ended", () => { gone = "THE LINE CHECK HAS ENDED: every mic is closed"; s.close(); draw(); });
  s.onerror = () => { if (s === source) { s.close(); source = null; } };
}

setInterval(() => {
  if (gone === "" && (source === null || now() - heardAt > 2 * OLD_MS)) connect();
  drawLost();
}, 1000);

function say(text, wrong) {
  $("said").textContent = text;
  $("said").className = wrong ? "wrong" : "";
}

async function press(key, who) {
  if (busy || old() || view === null) return;
  busy = true;
  draw();
  try {
    const r = await fetch("do", {
      method: "POST", headers: { "Content-Type": "application/json" }, signal: AbortSignal.timeout(OLD_MS),
      body: JSON.stringify({ key, who: who || "", seq: who ? asked : view.seq }),
    });
    if (r.status === 404) gone = "THIS DEVICE WAS REMOVED: get a new link at the laptop";
    const answer = await r.json();
    say(answer.said || answer.error, !answer.said);
  } catch (e) {
    say(key + ": no answer from the laptop. Look at the state above, then press again", true);
  }
  busy = false;
  draw();
}

function draw() {
  drawLost();
  if (view === null) return;
  const v = view, pack = v.pack, open = v.phase === "open";
  const failed = v.failed || [], fixed = v.fixed || [];
  const alarm = [v.alarm, v.outside].filter(x => x).join(". ");
  if ($("alarm").textContent !== alarm) $("alarm").textContent = alarm;
  $("alarm").hidden = alarm === "";
  $("count").textContent = (pack ? `${v.number} of ${v.of}: ` : "") + `${v.good} good, ${failed.length} not, ${v.left} left`;
  $("name").textContent = pack ? pack.Player : "No pack is left";
  $("pack").textContent = pack ? `${pack.Section} · pack ${pack.Pack || "without a label"} · channel ${pack.Channel}` : "";
  $("facts").textContent = (v.facts || []).join("; ");
  $("state").textContent = v.state;
  $("state").className = open ? "open" : "";
  $("hint").textContent = v.hint;
  $("hint").hidden = !v.hint;
  $("offer").textContent = v.offer ? v.offer + ", tap here" : "";
  $("offer").hidden = !v.offer;
  $("again").hidden = !(v.phase === "done" && failed.length > 0);
  $("close").textContent = v.held ? "OPEN AGAIN" : "CLOSE MIC";
  $("close").dataset.key = v.held ? "open" : "close";
  const lines = failed.map(x => "not good: " + x).concat(fixed.map(x => "for tonight: " + x));
  if ($("failed").innerText !== lines.join("\n")) {
    $("failed").replaceChildren(...lines.map(x => Object.assign(document.createElement("li"), { textContent: x })));
  }
  for (const b of document.querySelectorAll("#keys button, #offer, #again")) {
    const hears = ["good", "no sound", "noise"].includes(b.dataset.key) || b.id === "wrong";
    const needs = ["skip", "fresh"].includes(b.dataset.key);
    b.disabled = old() || busy && b.id !== "close" || hears && !open || needs && !pack;
  }
  if (!$("who").hidden && v.seq !== asked) { // another device has judged it
    closeWho();
    say("Another pack is open by now", true);
  }
}

function drawLost() {
  const text = gone || (old() && heardAt > 0 ? "NO CONNECTION: this page is old. The laptop goes on" : "");
  if ($("lost").textContent !== text) $("lost").textContent = text;
  $("lost").hidden = text === "";
}

// ---- who was heard

$("wrong").onclick = () => {
  if (old() || view.phase !== "open") return;
  asked = view.seq;
  $("whohead").textContent = `Who was heard in the pack of ${view.pack.Player}?`;
  $("typed").value = "";
  $("main").hidden = true;
  $("who").hidden = false;
  list();
  scrollTo(0, 0);
};

function closeWho() {
  $("who").hidden = true;
  $("main").hidden = false;
}

async function list() {
  const typed = $("typed").value;
  try {
    const r = await fetch("players?typed=" + encodeURIComponent(typed), { signal: AbortSignal.timeout(OLD_MS) });
    const names = await r.json();
    if (typed !== $("typed").value) return; // a newer one is on the way
    $("players").replaceChildren(...names.map(name => {
      const b = Object.assign(document.createElement("button"), { textContent: name });
      b.onclick = () => { closeWho(); press("wrong", name); };
      return b;
    }));
  } catch (e) { // typing again asks again
  }
}

$("typed").oninput = list;
$("cancel").onclick = closeWho;
for (const b of document.querySelectorAll("button[data-key]")) b.onclick = () => press(b.dataset.key);
connect();
