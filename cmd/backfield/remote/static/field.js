// Draws the field, cropped to the mics that are open and those that open next. The box never changes; what is cropped
// changes with the cue, and when somebody walks out of it.
"use strict";

let players = null, numbers = null, crop = null; // the layers; the part of the field that is drawn, in meters

// drawField draws what does not change: the field from above, the back sideline at the top, side 1 on the left.
function drawField() {
  const f = fixed.field, root = $("field");
  crop = null;
  if (!(f.length_m > 0)) { root.replaceChildren(); players = null; return; }
  const half = f.length_m / 2, end = half + f.end_zone_m, w = f.width_m, yard = 0.9144, parts = [];
  const add = (name, a, s) => parts.push(svg(name, a, s));
  add("rect", { class: "turf", x: -end, y: -w, width: 2 * end, height: w });
  const lines = Math.round(half / (5 * yard));
  for (let i = -lines; i < lines; i++) {
    if ((i + lines) % 4 < 2) add("rect", { class: "turf even", x: i * 5 * yard, y: -w, width: 5 * yard, height: w });
  }
  for (let i = -lines; i <= lines; i++) {
    const x = i * 5 * yard;
    add("line", { class: "line", x1: x, x2: x, y1: 0, y2: -w });
    for (const y of [-f.hash_m, f.hash_m - w]) add("line", { class: "line", x1: x - .6, x2: x + .6, y1: y, y2: y });
  }
  add("rect", { class: "side", x: -end, y: -w, width: 2 * end, height: w });
  numbers = svg("g");
  players = svg("g");
  root.replaceChildren(...parts, numbers, players);
}

// aim chooses the part of the field to draw, so that all marks are in it with their names.
function aim(marks, cue) {
  const box = $("field").getBoundingClientRect();
  if (!(box.width > 0 && box.height > 0)) return false;
  const inside = crop && marks.every(p => p.x > crop.x + crop.m * 12 && p.x < crop.x + crop.w - crop.m * 12 &&
    p.y > crop.y + crop.m * 12 && p.y < crop.y + crop.h - crop.m * 12);
  if (crop && crop.cue === cue && crop.wide === box.width && crop.high === box.height && inside) return true;
  const xs = marks.map(p => p.x), ys = marks.map(p => p.y), snap = (v, up) => (up ? Math.ceil(v / 5) : Math.floor(v / 5)) * 5;
  let x0 = snap(Math.min(...xs, 8) - 3), x1 = snap(Math.max(...xs, -8) + 3, true);
  let y0 = snap(Math.min(...ys, -8) - 3), y1 = snap(Math.max(...ys, 0) + 3, true);
  const m = Math.max((x1 - x0) / box.width, (y1 - y0) / box.height); // meters in a pixel
  const w = m * box.width, h = m * box.height;
  crop = { x: (x0 + x1 - w) / 2, y: (y0 + y1 - h) / 2, w, h, m, cue, wide: box.width, high: box.height };
  $("field").setAttribute("viewBox", `${crop.x} ${crop.y} ${crop.w} ${crop.h}`);
  const f = fixed.field, yard = 0.9144, half = Math.round(f.length_m / 2 / (5 * yard)), list = [];
  for (let i = -half; i <= half; i++) {
    const n = f.middle_yard - Math.abs(i) * 5, x = i * 5 * yard;
    if (n > 0 && n % 10 === 0 && x > crop.x + 12 * m && x < crop.x + w - 12 * m) {
      list.push(svg("text", { class: "number", x, y: Math.min(-5 * m, crop.y + h - 4 * m), "font-size": 13 * m }, String(n)));
    }
  }
  numbers.replaceChildren(...list);
  return true;
}

// drawPlayers draws a mark for each open mic, in the words of its tile: full where the mixer has confirmed it, hollow where
// not, in a box where someone moved it, crossed where it closes next, and a ring with a plus for who opens next.
function drawPlayers() {
  if (!players || !picture) return;
  const marks = [];
  for (const t of list(picture.tiles)) {
    const p = picture.places[t.player];
    if (p && (t.open || t.differs)) marks.push({ name: t.player, x: p.x, y: -p.y, state: nextState(t), sign: t.sign, worn: t.kind === "worn" });
  }
  for (const name of starting()) {
    const p = picture.places[name];
    if (p) marks.push({ name, x: p.x, y: -p.y, state: "opens", worn: true });
  }
  if (!marks.length && !crop) marks.push();
  if (!aim(marks, `${view.step}|${view.next ? view.next.id : ""}`)) return;
  const m = crop.m, r = 7.5 * m, shapes = [], size = 13 * m;
  const taken = marks.map(s => [s.x - r, s.y - r, s.x + r, s.y + r]);
  for (const s of marks) {
    const cx = s.x, cy = s.y;
    if (s.state === "opens") {
      shapes.push(svg("circle", { class: "ring", cx, cy, r, "stroke-width": 2 * m, "stroke-dasharray": `${4 * m} ${2.5 * m}` }),
        svg("path", { class: "plus", "stroke-width": 2 * m, d: `M${cx - r / 2} ${cy}h${r}M${cx} ${cy - r / 2}v${r}` }));
      continue;
    }
    if (s.sign === "ok") shapes.push(svg("circle", { class: "pool", cx, cy, r: r * 2 }));
    shapes.push(svg("circle", { class: "spot", "data-sign": s.sign, "stroke-width": 2 * m, cx, cy, r: s.sign === "ok" ? r : r - m }));
    if (["manual", "muted", "still open"].includes(s.sign)) {
      shapes.push(svg("rect", { class: "box", "stroke-width": 2 * m, x: cx - r * 1.4, y: cy - r * 1.4, width: r * 2.8, height: r * 2.8 }));
    }
    if (s.state === "closes") {
      const d = r * 1.15, path = `M${cx - d} ${cy - d}L${cx + d} ${cy + d}M${cx - d} ${cy + d}L${cx + d} ${cy - d}`;
      shapes.push(svg("path", { class: "under", "stroke-width": 5 * m, d: path }), svg("path", { class: "cross", "stroke-width": 2 * m, d: path }));
    }
  }
  const yards = [...numbers.children], boxOf = e => {
    const x = +e.getAttribute("x"), y = +e.getAttribute("y"), half = wide(e.textContent, 13, 700) * m / 2;
    return [x - half, y - size * .85, x + half, y + size * .25];
  };
  const meet = (a, b) => a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];
  for (const s of marks) { // a name is drawn where there is room, beside a yard number if it can be; all are on the tiles
    const w = wide(s.name, 13, 700) * m, gap = r + 3 * m;
    const ways = [[s.x + gap, s.y + size * .35, "start"], [s.x - gap, s.y + size * .35, "end"],
      [s.x, s.y - gap - m, "middle"], [s.x, s.y + gap + size * .75, "middle"]];
    for (const [x, y, anchor, clear] of [...ways.map(way => [...way, true]), ...ways]) {
      const left = anchor === "start" ? x : anchor === "end" ? x - w : x - w / 2, b = [left, y - size * .85, left + w, y + size * .25];
      if (b[0] < crop.x || b[2] > crop.x + crop.w || b[1] < crop.y || b[3] > crop.y + crop.h) continue;
      if (taken.some(t => meet(t, b)) || clear && yards.some(e => meet(boxOf(e), b))) continue;
      taken.push(b);
      shapes.push(svg("text", { class: "name", x, y, "font-size": size, "text-anchor": anchor, "stroke-width": 3 * m }, s.name));
      break;
    }
  }
  for (const e of yards) e.setAttribute("visibility", taken.some(t => meet(t, boxOf(e))) ? "hidden" : "visible");
  players.replaceChildren(...shapes);
}
