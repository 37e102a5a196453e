// Prints the notes of the suite's files as musicxml-io (npm, MIT) reads them: file, part from 1, staff, beginning and
// length in quarter notes, MIDI key (-1 unpitched). Tied notes are one; cue notes and grace notes are left out. Notes are
// those that are played, with repeats; where there are any, a line "order" has the measures as played, counted from 1.
//
//   npm install musicxml-io@0.9.6
//   node independent.mjs FILE.xml ... > independent.tsv
import { readFileSync } from "node:fs";
import { basename } from "node:path";
import { generatePlaybackSequence, parse } from "musicxml-io";

const steps = { C: 0, D: 2, E: 4, F: 5, G: 7, A: 9, B: 11 };
const round = (x) => Math.round(x * 1e4) / 1e4;

// walk calls visit with every note of a measure and its place in quarters, and returns where the measure ends.
function walk(measure, state, visit) {
  let place = 0, before = 0, end = 0;
  const attributes = (a) => {
    if (a?.divisions) state.divisions = Number(a.divisions);
    if (a?.time) state.time = a.time;
    const t = a?.transpose;
    for (const one of t ? [t].flat() : []) state.shift = Number(one.chromatic ?? 0) + 12 * Number(one.octaveChange ?? 0);
  };
  attributes(measure.attributes);
  for (const e of measure.entries) {
    const long = (e.duration ?? 0) / state.divisions;
    if (e.type === "attributes") attributes(e.attributes ?? e);
    if (e.type === "backup") place -= long;
    if (e.type === "forward") place += long;
    if (e.type === "note") {
      const at = e.chord ? before : place;
      visit(e, at, e.grace ? 0 : long);
      if (!e.chord) [before, place] = [place, place + (e.grace ? 0 : long)];
    }
    end = Math.max(end, place);
  }
  return end;
}

for (const path of process.argv.slice(2)) {
  const name = basename(path);
  let score;
  try {
    score = parse(readFileSync(path, "utf8"));
  } catch (e) {
    console.log([name, "error", String(e.message).split("\n")[0]].join("\t"));
    continue;
  }
  const lengths = [];
  for (const part of score.parts) {
    const state = { divisions: 1, shift: 0 };
    part.measures.forEach((m, i) => {
      const end = walk(m, state, () => {});
      lengths[i] = Math.max(lengths[i] ?? 0, end);
    });
  }
  const order = generatePlaybackSequence(score).map((m) => m.measureIndex);
  if (order.some((m, i) => m !== i)) console.log([name, "order", order.map((m) => m + 1).join(" ")].join("\t"));
  score.parts.forEach((part, p) => {
    const state = { divisions: 1, shift: 0 }, written = [], notes = [];
    part.measures.forEach((m, i) => {
      written[i] = [];
      walk(m, state, (e, at, long) => {
        if (e.grace || e.cue || e.rest) return;
        const ties = [e.tie, e.ties, (e.notations ?? []).filter((n) => n.type === "tied")].flat(2).filter(Boolean)
          .map((t) => t.type === "tied" ? t.tiedType : t.type);
        const key = e.pitch ? 12 * (e.pitch.octave + 1) + steps[e.pitch.step] + (e.pitch.alter ?? 0) + state.shift : -1;
        written[i].push({ staff: e.staff ?? 1, at, to: at + long, key, ties });
      });
      const t = state.time, beats = String(t?.beats ?? 4).split("+").reduce((a, b) => a + Number(b), 0);
      lengths[i] ||= beats * 4 / Number(t?.beatType ?? 4);
    });
    let start = 0;
    for (const i of order) {
      for (const n of written[i] ?? []) notes.push({ ...n, at: start + n.at, to: start + n.to });
      start += lengths[i];
    }
    notes.sort((a, b) => a.staff - b.staff || round(a.at) - round(b.at) || a.key - b.key);
    const list = [], open = new Map();
    for (const n of notes) {
      const id = n.staff + " " + n.key, o = open.get(id);
      open.delete(id);
      if (n.ties.includes("stop") && o && round(o.to) === round(n.at)) {
        o.to = n.to;
        if (n.ties.includes("start")) open.set(id, o);
        continue;
      }
      list.push(n);
      if (n.ties.includes("start")) open.set(id, n);
    }
    for (const n of list) console.log([name, p + 1, n.staff, round(n.at), round(n.to - n.at), n.key].join("\t"));
  });
}
