// Makes HTML and SVG elements.

const svgSpace = "http://www.w3.org/2000/svg"

export function svg(name, attributes = {}, ...children) { return fill(document.createElementNS(svgSpace, name), attributes, children) }

export function html(name, attributes = {}, ...children) { return fill(document.createElement(name), attributes, children) }

function fill(element, attributes, children) {
  for (const [k, v] of Object.entries(attributes)) {
    if (k.startsWith("on")) element.addEventListener(k.slice(2), v)
    else if (v !== null && v !== undefined && v !== false) element.setAttribute(k, v)
  }
  element.append(...children.filter(c => c !== null && c !== undefined))
  return element
}

// put replaces the content of an element, and leaves out missing children.
export function put(element, ...children) { element.replaceChildren(...children.filter(c => c !== null && c !== undefined)) }

export const round = v => Math.round(v * 1000) / 1000

export const plural = (n, word) => `${n} ${word}${n === 1 ? "" : "s"}`

export function list(lines, empty) {
  if (!lines.length) return empty ? html("p", {}, empty) : null
  return html("ul", {}, ...lines.map(l => html("li", {}, l)))
}
