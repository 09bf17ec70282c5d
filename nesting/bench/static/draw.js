// Hides, parts and knife lines as SVG.

import { s } from "./make.js";
import { plainly } from "./said.js";

// the colours of orders, as the report has them
let colours = [];
export function useTints(given) {
  colours = given;
}

export function tints(orders) {
  return new Map([...new Set(orders)].map((order, number) => [order, colours[number % colours.length]]));
}

export const path = (points, closed = true) => (points.length ? `M${points.map(([x, y]) => `${x} ${y}`).join("L")}${closed ? "Z" : ""}` : "");
export const paths = (lines, closed = true) => lines.map((line) => path(line, closed)).join("");

export function bounds(points) {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (const [x, y] of points) {
    if (x < box[0]) box[0] = x;
    if (y < box[1]) box[1] = y;
    if (x > box[2]) box[2] = x;
    if (y > box[3]) box[3] = y;
  }
  return box;
}

export function centre(points) {
  let [sum, cx, cy] = [0, 0, 0];
  for (let i = 0; i < points.length; i += 1) {
    const [x0, y0] = points[i];
    const [x1, y1] = points[(i + 1) % points.length];
    const cross = x0 * y1 - x1 * y0;
    sum += cross;
    cx += (x0 + x1) * cross;
    cy += (y0 + y1) * cross;
  }
  if (Math.abs(sum) < 1e-9) return points[0] ?? [0, 0];
  return [cx / (3 * sum), cy / (3 * sum)];
}

// text in a world whose y points up
export const text = (x, y, height, words, given = {}) => s("text", { ...given, transform: `translate(${x} ${y}) scale(1 -1)`, "font-size": height, "text-anchor": given["text-anchor"] ?? "middle" }, words);

// what lines on leather have to be to show on its colour, as classes
export const lines = (one) => (one?.tint ? (one.tint.deep ? " deep" : " pale") : "");

export function hide(one, given = {}) {
  const group = s("g", { class: `leather${lines(one)}`, tint: one.tint?.fill, ...given }, s("path", { class: "hide", "fill-rule": "evenodd", d: paths([one.outline, ...(one.holes ?? [])]) }));
  for (const zone of one.zones ?? []) group.append(s("path", { class: "zone", d: path(zone.polygon) }, s("title", {}, `${zone.grade} ${plainly(zone.kind)}`)));
  for (const doubt of one.doubts ?? []) group.append(s("path", { class: "doubt", d: path(doubt.polygon) }, s("title", {}, plainly(doubt.kind))));
  if (one.backbone) group.append(s("path", { class: "spine", d: path(one.backbone, false) }));
  return group;
}

export const turned = (points, degrees) => {
  const [cos, sin] = [Math.cos((degrees * Math.PI) / 180), Math.sin((degrees * Math.PI) / 180)];
  return points.map(([x, y]) => [x * cos - y * sin, x * sin + y * cos]);
};

export function thumbnail(one) {
  const [left, low, right, high] = bounds(one.outline);
  const edge = Math.max(right - left, high - low) * 0.04;
  return s("svg", { viewBox: `${left - edge} ${-high - edge} ${right - left + 2 * edge} ${high - low + 2 * edge}`, "aria-hidden": "true" }, s("g", { transform: "scale(1 -1)" }, hide(one)));
}

export const posed = (x, y, angle) => `translate(${x} ${y}) rotate(${angle})`;

export function part(shape, one, tint) {
  const group = s("g", { class: `part${one.pinned ? " pinned" : ""}${one.burnt ? " burnt" : ""}`, transform: posed(one.x, one.y, one.angle), tint });
  group.append(s("path", { class: "edge", "fill-rule": "evenodd", d: paths([shape.outline, ...shape.cutouts]) }));
  const filled = (shape.filled ?? []).map((number) => shape.engrave[number]);
  if (filled.length) group.append(s("path", { class: "filled", "fill-rule": "evenodd", d: paths(filled) }));
  const fine = paths(shape.stitch, false) + paths(shape.engrave, false);
  if (fine) group.append(s("path", { class: "fine", d: fine }));
  if (shape.folds.length) group.append(s("path", { class: "fold", d: paths(shape.folds, false) }));
  return group;
}

// drawings of parts side by side, as a small picture
export function parts(rows, given = {}) {
  const group = s("g", { transform: "scale(1 -1)" });
  let [x, high] = [0, 0];
  const most = Math.max(...rows.map((row) => { const box = bounds(row.outline); return box[3] - box[1]; }), 1);
  for (const row of rows) {
    const [left, low, right, top] = bounds(row.outline);
    const one = s("g", { transform: `translate(${x - left} ${-low})` }, s("path", { d: path(row.outline) }));
    for (const [kind, closed] of [["cutouts", true], ["stitch", false], ["engrave", false], ["folds", false]]) {
      if (row[kind].length) one.append(s("path", { class: `label-${kind.replace(/s$/, "")}`, d: paths(row[kind], closed) }));
    }
    for (const zone of row.zones ?? []) one.append(s("path", { class: "label-zone", d: path(zone.polygon) }));
    group.append(one);
    x += right - left + most * 0.08;
    high = Math.max(high, top - low);
  }
  const wide = Math.max(x - most * 0.08, 1);
  const edge = 0.03 * Math.max(wide, high);
  return s("svg", { class: "thumb", viewBox: `${-edge} ${-high - edge} ${wide + 2 * edge} ${high + 2 * edge}`, role: "img", ...given }, group);
}

// a whole layout as a small picture: the hides that are cut, side by side
export function picture(layout, label, orders = []) {
  const tint = tints([...layout.orders, ...orders, ...layout.parts.map((one) => one.order)]);
  const world = s("g", { transform: "scale(1 -1)" });
  let [x, high] = [0, 0];
  for (const one of layout.hides.filter((hide) => layout.parts.some((part) => part.hide === hide.id))) {
    const box = bounds(one.outline);
    world.append(s("g", { transform: `translate(${x - box[0]} ${-box[1]})` }, hide(one), layout.parts.filter((row) => row.hide === one.id).map((row) => part(layout.shapes[row.shape], row, tint.get(row.order)))));
    x += box[2] - box[0] + 30;
    high = Math.max(high, box[3] - box[1]);
  }
  return s("svg", { class: "far farther", viewBox: `-5 ${-high - 5} ${Math.max(x, 10)} ${high + 10}`, role: "img", "aria-label": label }, world);
}
