// Short names for tiles. A short name stands for one mic of the show only: it is never the start of two sections, and never
// what another name shortens to.
"use strict";

// sectionOf splits a name with a number at its end: "Tpt 11" into "Tpt" and "11". Another name has no number.
const sectionOf = name => { const m = name.match(/^(.*\S) (\d\S*)$/); return m ? [m[1], m[2]] : [name, ""]; };

// cutsOf are the shorter forms of a name, the longest first: "Tpt 11", "Tp 11" and "Tp11" where there is a Tuba too; and
// "field R", "fld R" and "fldR" for "field right".
function cutsOf(name, sections) {
  const [section, number] = sectionOf(name), words = name.split(" ");
  if (!number) {
    if (words.length < 2) return [];
    const first = words[0], initials = words.slice(1).map(w => w[0].toUpperCase()).join("");
    const bones = first[0] + first.slice(1).replace(/[aeiou]/gi, "");
    return [`${first} ${initials}`, ...(bones === first ? [] : [`${bones} ${initials}`]), bones + initials];
  }
  const starts = n => [...sections].filter(s => s.slice(0, n).toLowerCase() === section.slice(0, n).toLowerCase()).length;
  let least = 1;
  while (least < section.length && starts(least) > 1) least++;
  if (starts(least) > 1) return [];
  const lengths = [...new Set([Math.max(least, 3), least])].filter(n => n < section.length);
  const last = section.slice(0, least) + number;
  return [...lengths.map(n => `${section.slice(0, n)} ${number}`), last];
}

let known = { key: "", cuts: new Map() };

// shortNames are the name of a mic from long to short. The last is its channel, which is never in doubt.
function shortNames(name, channel) {
  const names = list(picture.tiles).map(t => t.player).filter(s => s), key = names.join("\n");
  if (known.key !== key) {
    const sections = new Set(names.map(s => sectionOf(s)[0])), used = new Map();
    const all = [...new Set(names)].map(s => [s, cutsOf(s, sections)]);
    for (const [s, cuts] of all) for (const cut of new Set([s, ...cuts])) used.set(cut, (used.get(cut) || 0) + 1);
    known = { key, cuts: new Map(all.map(([s, cuts]) => [s, cuts.filter(cut => used.get(cut) === 1)])) };
  }
  return [...(name ? [name, ...(known.cuts.get(name) || [])] : []), `ch ${channel}`, `ch${channel}`];
}
