// How a search gets on: pieces, yield and money over time, each to a scale of its own.

import { h, s } from "./make.js";
import { count, money, percent, say, seconds } from "./words.js";

const LINES = [
  ["made", (point) => point.pieces_whole, (value) => count(value)],
  ["yield", (point) => point.yield_of_consumed, (value) => percent(value)],
  ["money", (point) => (point.cost === undefined ? undefined : Number(point.cost)), (value) => money(value)],
];

export function curve(points) {
  const told = points.filter((point) => point.cost !== undefined);
  const placed = points.filter((point) => point.placed !== undefined);
  const end = Math.max(...points.map((point) => point.seconds), 1);
  const svg = s("svg", { class: "curve", viewBox: "0 0 300 100", preserveAspectRatio: "none", role: "img", "aria-label": say("curve.title") });
  svg.append(s("path", { class: "axis", d: "M0 99.5H300M0.5 0V100" }));
  const key = h("div", { class: "key" });
  for (const [name, value, words] of LINES) {
    const rows = name === "made" && told.length < 2 ? placed.map((point) => [point.seconds, point.placed]) : told.map((point) => [point.seconds, value(point)]);
    if (!rows.length) continue;
    const values = rows.map((row) => row[1]);
    const [low, high] = [Math.min(...values), Math.max(...values)];
    const spread = Math.max(high - low, Math.abs(high) * 0.02, 1e-9);
    const step = rows.map(([at, one], number) => {
      const y = 92 - (84 * (one - low)) / spread;
      const before = number ? `${(300 * at) / end},${92 - (84 * (rows[number - 1][1] - low)) / spread} ` : "";
      return `${before}${(300 * at) / end},${y}`;
    });
    const last = rows.at(-1);
    svg.append(s("polyline", { class: name, points: `${step.join(" ")} 300,${92 - (84 * (last[1] - low)) / spread}` }));
    const label = name === "made" && told.length < 2 ? "curve.parts" : `curve.${name}`;
    const shown = name === "made" && told.length < 2 ? count(last[1]) : words(last[1]);
    key.append(h("span", {}, s("svg", { class: "curve", viewBox: "0 0 30 10", "aria-hidden": "true" }, s("polyline", { class: name, points: "0,5 30,5" })), ` ${say(label)}: ${shown}`));
  }
  key.append(h("span", { class: "small" }, seconds(end)));
  return h("div", {}, svg, key);
}
