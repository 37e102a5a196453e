// Makes texts fit their boxes, which never change: a smaller type first, then a shorter text.
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
const list = x => x || [];
const minus = s => s.replace(/-/g, "−");

const ink = document.createRange();
function overflows(e) {
  ink.selectNodeContents(e);
  const style = getComputedStyle(e), room = e.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight);
  return ink.getBoundingClientRect().width > room + .5 || e.scrollHeight > e.clientHeight + 1;
}

// fit puts the first of some texts into an element that fits there, in the largest of the sizes in pixels. The last one
// goes in whether it fits or not. What was fitted is kept until a text or the box changes. The first text is tried in one
// line first, if there are sizes for that.
function fit(e, texts, sizes, oneLine = []) {
  const key = JSON.stringify([texts, sizes, e.clientWidth, e.clientHeight]);
  if (e.fitted && e.fitted.key === key && e.fitted.text === e.textContent) return;
  const fits = (s, size) => { e.textContent = s; e.style.fontSize = size + "px"; return !overflows(e); };
  if (oneLine.length) e.style.whiteSpace = "nowrap";
  if (!oneLine.some(size => fits(texts[0], size))) {
    if (oneLine.length) e.style.whiteSpace = "";
    texts.some(s => sizes.some(size => fits(s, size)));
  }
  e.fitted = { key, text: e.textContent };
}

const pen = document.createElement("canvas").getContext("2d"), widths = new Map();

// wide is the width of a text in pixels.
function wide(s, size, weight) {
  const font = `${weight} ${size}px ${getComputedStyle(document.body).fontFamily}`, key = font + s;
  if (!widths.has(key)) {
    if (widths.size > 5000) widths.clear();
    pen.font = font;
    widths.set(key, pen.measureText(s).width);
  }
  return widths.get(key);
}
