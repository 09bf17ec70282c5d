// Elements made from what they hold: text is text, never markup.

const SVG = "http://www.w3.org/2000/svg";

function filled(element, given, children) {
  for (const [name, value] of Object.entries(given ?? {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "value") element.value = value;
    else if (name === "checked" || name === "disabled" || name === "selected" || name === "multiple") element[name] = true;
    else if (name === "tint") element.style.setProperty("--tint", value);
    else element.setAttribute(name, value === true ? "" : value);
  }
  for (const child of children.flat(Infinity)) {
    if (child !== null && child !== undefined && child !== false) element.append(child);
  }
  return element;
}

export const h = (tag, given, ...children) => filled(document.createElement(tag), given, children);
export const s = (tag, given, ...children) => filled(document.createElementNS(SVG, tag), given, children);

export function into(element, ...children) {
  element.replaceChildren(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false));
  return element;
}

export const field = (label, control, hint) => h("label", { class: "field" }, h("span", {}, label), control, hint ? h("small", {}, hint) : null);
export const tick = (label, given) => h("label", { class: "tick" }, h("input", { type: "checkbox", ...given }), label);
export const facts = (rows) =>
  h("dl", { class: "facts" }, rows.filter((row) => row && row[1] !== "" && row[1] !== null && row[1] !== undefined).map(([name, value]) => [h("dt", {}, name), h("dd", {}, value)]));

let timers = new Map();
export function soon(name, milliseconds, work) {
  clearTimeout(timers.get(name));
  timers.set(name, setTimeout(work, milliseconds));
}
