// Charts of rows with a name each: bars side by side, or a line; told in a table below as well.

import { h, s } from "./make.js";

const [WIDE, HIGH, LEFT, LOW, TOP] = [440, 190, 56, 32, 14];

// a round number that no value is beyond
function roof(value) {
  if (!(value > 0)) return 1;
  const size = 10 ** Math.floor(Math.log10(value));
  return [1, 2, 2.5, 5, 10].map((step) => step * size).find((one) => one >= value);
}

function frame(title, top, low, scale) {
  const svg = s("svg", { class: "chart", viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img", "aria-label": title });
  const lines = low < 0 ? [low, 0, top] : [0, top / 2, top];
  const y = (value) => TOP + (HIGH - TOP - LOW) * (1 - (value - low) / (top - low));
  for (const value of lines) {
    svg.append(s("path", { class: value === 0 ? "base" : "grid", d: `M${LEFT} ${y(value)}H${WIDE}` }), s("text", { x: LEFT - 6, y: y(value) + 4, "text-anchor": "end" }, scale(value)));
  }
  return { svg, y };
}

// as many names below as have room
function names(svg, rows, each) {
  const longest = Math.min(13, Math.max(4, ...rows.map((row) => row.name.length)));
  const every = Math.ceil(rows.length / Math.max(1, Math.floor((WIDE - LEFT) / (9.5 * longest))));
  rows.forEach((row, number) => {
    if (number % every) return;
    const text = row.name.length > 13 ? `${row.name.slice(0, 12)}…` : row.name;
    svg.append(s("text", { x: LEFT + (number + 0.5) * each, y: HIGH - LOW + 18, "text-anchor": "middle" }, text));
  });
}

// rows: {name, values: {series: number}}; series: [[name, words]]
export function bars(title, rows, series, scale, highest = null) {
  const values = rows.flatMap((row) => series.map(([name]) => row.values[name] ?? 0));
  const top = highest ?? roof(Math.max(...values, 0));
  const low = Math.min(...values) < 0 ? -roof(-Math.min(...values)) : 0;
  const { svg, y } = frame(title, top, low, scale);
  const each = (WIDE - LEFT) / Math.max(rows.length, 1);
  const wide = Math.min((0.72 * each) / series.length, 46);
  rows.forEach((row, number) => series.forEach(([name, words], place) => {
    const value = row.values[name];
    if (value === undefined || value === null) return;
    const x = LEFT + (number + 0.5) * each + (place - series.length / 2) * wide;
    const bar = s("rect", { class: `bar-${name}`, x, y: Math.min(y(value), y(0)), width: Math.max(wide - 1.5, 1), height: Math.max(Math.abs(y(value) - y(0)), 0.6) });
    bar.append(s("title", {}, `${row.name}, ${words}: ${scale(value)}`));
    svg.append(bar);
  }));
  names(svg, rows, each);
  return h("figure", {}, h("figcaption", {}, title, " ", key(series)), svg);
}

function key(series) {
  if (series.length < 2) return null;
  return h("span", { class: "key" }, series.map(([name, words]) => h("span", {}, s("svg", { class: "chart", viewBox: "0 0 12 12", "aria-hidden": "true" }, s("rect", { class: `bar-${name}`, width: 12, height: 12 })), ` ${words}`)));
}
