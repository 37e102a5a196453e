// The panel of one channel: release, hold, swap and nudge, behind the touch of its tile. It covers the field, never the
// digits or go. Its buttons keep their places.
"use strict";

let chosen = null;               // the channel of the open panel, as a text; or others; or null
let choosing = false, spareFrom = 0; // whether it shows the spares, and from which one on
let panelTouched = 0;
const PANEL_MS = 60000, sparePlaces = 6;

const chosenTile = () => chosen === null || !picture ? null : list(picture.tiles).find(t => String(t.channel) === chosen) || null;

function openPanel(channel) {
  if (!view || !fixed || chosen === channel) return closePanel();
  [chosen, choosing, spareFrom, panelTouched] = [channel, false, 0, now()];
  forgetAnswer();
  disarm();
  drawPanel();
  drawBench();
  const first = $("panel").querySelector("button:not(:disabled)");
  if (first && document.activeElement && document.activeElement.closest("#bench")) first.focus({ preventScroll: true });
}

// forgetAnswer takes away the answer of a panel, which must not stand over the buttons of another player.
function forgetAnswer() { if (saidIn === "panel") say(""); }

function closePanel() {
  const was = chosen;
  chosen = null;
  forgetAnswer();
  drawPanel();
  if (view) drawBench();
  const back = was && document.querySelector(`#bench [data-channel="${was}"]`);
  if (back && document.activeElement === document.body) back.focus({ preventScroll: true });
}

// act sends a command for the channel, with the player that the panel shows on it: the run refuses it if somebody else is
// on the channel by now.
async function act(verb, more) {
  const t = chosenTile();
  if (!t) return;
  panelTouched = now();
  await give(verb, { name: String(t.channel), player: t.player, ...more });
}

// panelButtons are what the buttons of a channel say and do; null in does for one that is off.
function panelButtons(t) {
  const taken = follows() || readOnly() || locked();
  const on = (word, small, does) => ({ word, small, does: taken ? null : does });
  if (choosing) {
    const back = t.at !== t.channel, all = [...(back ? [0] : []), ...list(picture.spares)];
    if (spareFrom >= all.length) spareFrom = 0;
    const few = all.slice(spareFrom, spareFrom + sparePlaces - 2);
    const cells = few.map(n => on(n ? `ch ${n}` : `back to ${t.channel}`, n ? "not in show" : "", () => { choosing = false; act("swap", { spare: n }); }));
    while (cells.length < sparePlaces - 2) cells.push(on("", "", null));
    const turns = all.length > sparePlaces - 2;
    return [...cells, on(turns ? "more" : "", "", turns ? () => { spareFrom += sparePlaces - 2; drawPanel(); } : null), { word: "cancel", small: "", does: () => { choosing = false; drawPanel(); } }];
  }
  const off = t.held ? "to the cues" : t.release, free = off !== "";
  return [
    on("release", free ? minus(off) : ["nothing to release", "nothing"], free ? () => act("release") : null),
    on("hold", t.held ? "held already" : "as it is now", t.held ? null : () => act("hold")),
    on("swap mic", t.at !== t.channel ? `on ch ${t.at}` : "to a spare", () => { choosing = true; spareFrom = 0; drawPanel(); }),
    on("−1 dB", t.nudge ? `total ${minus(t.nudge)}` : "nudge", () => act("nudge", { db: -1 })),
    on("+1 dB", t.nudge ? `total ${minus(t.nudge)}` : "nudge", () => act("nudge", { db: 1 })),
    { word: "done", small: "", does: closePanel },
  ];
}

function drawPanel() {
  const panel = $("panel"), t = chosenTile();
  if (chosen !== null && now() - panelTouched > PANEL_MS) chosen = null;
  panel.hidden = chosen === null || !t && chosen !== others;
  if (panel.hidden) return;
  if (!panel.children.length) {
    panel.append(el("h3"));
    for (let i = 0; i < 6; i++) {
      const b = el("button", el("b"), { type: "button" });
      b.append(el("small"));
      b.addEventListener("click", () => { panelTouched = now(); if (b.does) b.does(); });
      panel.append(b);
    }
  }
  const [head, ...buttons] = panel.children, sizes = [19, 17, 15, 14, 13, 12];
  let cells;
  if (chosen === others) {
    const open = list(picture.outside).map(o => `ch ${o.at}`);
    const unknown = picture.unknown ? `${picture.unknown} of them may be open: unknown` : "";
    fit(head, [[open.length ? `Open at the mixer, not in the show: ${open.join(", ")}. Hush closes them` : "No channel outside the show is known to be open", unknown].filter(s => s).join(". "),
      `${open.length} open, ${picture.unknown} unknown`], sizes);
    head.removeAttribute("data-wrong");
    cells = [...Array(5).fill({ word: "", small: "", does: null }), { word: "done", small: "", does: closePanel }];
  } else {
    const who = `${t.at}  ${t.player}`, level = t.level ? minus(t.level) + (t.mark ? " " + t.mark : "") : "", said = saidIn === "panel" ? lastSaid : "";
    const note = choosing ? "swap to which channel?" : `mixer ${level}, ${minus(t.note)}`;
    const own = !said.startsWith(t.player) ? `${who}: ${said}` : `${t.at}  ${said}`;
    fit(head, said ? [own, own.split("; ")[0]] : [`${who}   ${note}`, who], sizes);
    head.toggleAttribute("data-wrong", !!said && saidWrong);
    cells = panelButtons(t);
  }
  cells.forEach((c, i) => {
    const b = buttons[i], [word, small] = b.children;
    b.does = c.does;
    b.disabled = !c.does;
    b.toggleAttribute("data-empty", !c.word);
    b.toggleAttribute("data-first", i === 0 && !choosing && !!c.does);
    fit(word, [c.word], [18, 16, 14, 13]);
    fit(small, [].concat(c.small), [13, 12]);
  });
}
