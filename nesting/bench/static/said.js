// What the server says in English, in the language of the page: whole where the catalogue has it, else bit by bit.
// What it does not have stays English and is marked as such.

import { h } from "./make.js";

const ENGLISH = /\b(the|of|and|is|are|be|been|with|without|for|from|that|it|its|by|to|at|on|no|not|or|give|take|than|which|this|there|has|have|each|every|only|must|would|should|their|they|if|may|does|do|as|into|under|over|too|again|you|your|did)\b/i;
const BETWEEN = /: |; |, | > | and |\. /g;
const kind = (gap) => (/^n\d*$/.test(gap) ? "number" : ["own", "setting"].includes(gap) ? gap : "said");
const BIT = "((?:(?![:;] ).)+?)";
const GAPS = { number: "([-+]?\\d[\\d.,]*(?: ?%)?)", own: "(.+?)", setting: BIT, said: BIT };
const FILLED = { number: (text) => comma(text), own: (text) => text, setting: (text) => text, said: (text) => put(text) };
let exact = new Map();
let patterns = [];
let known = new Map();
let comma = (text) => text;

export function learn(rows, language) {
  const point = new Intl.NumberFormat(language).format(0.5)[1];
  comma = (text) => text.replace(/^([-+]?\d+)\.(\d+)( [A-Z]{3})?$/, `$1${point}$2$3`).replace(/(\d)%$/, "$1 %");
  exact = new Map(rows.filter(([english]) => !english.includes("{")));
  patterns = rows.filter(([english]) => english.includes("{")).map(([english, other]) => {
    const bits = english.split(/\{(\w+)\}/);
    const names = bits.filter((_, place) => place % 2);
    const source = bits.map((bit, place) => (place % 2 === 0 ? bit.replace(/[.*+?^${}()|[\]\\]/g, "\\$&") : GAPS[kind(bit)]));
    return { at: new RegExp(`^${source.join("")}$`, "s"), names, other, least: english.replace(/\{\w+\}/g, "").length };
  });
  // what says most of itself comes before what would fit anything
  patterns.sort((a, b) => b.least - a.least);
  known = new Map();
}

function matched(text) {
  if (exact.has(text)) return exact.get(text);
  for (const { at, names, other } of patterns) {
    const found = at.exec(text);
    if (!found) continue;
    const values = new Map(names.map((name, place) => [name, FILLED[kind(name)](found[place + 1])]));
    if (![...values.values()].includes(null)) return other.replace(/\{(\w+)\}/g, (all, name) => values.get(name));
  }
  return null;
}

// a text in the language of the page; null where there is no such thing
function put(text) {
  if (known.has(text)) return known.get(text);
  // what is no sentence stays as it is, save an amount of money
  known.set(text, ENGLISH.test(text) ? null : /\d [A-Z]{3}$/.test(text) ? comma(text) : text);
  const answer = matched(text) ?? parted(text) ?? known.get(text);
  if (known.size > 5000) known.clear();
  known.set(text, answer);
  return answer;
}

function parted(text) {
  const cuts = [...text.matchAll(BETWEEN)];
  const beyond = (cut, head) => {
    const rest = head === null ? null : put(text.slice(cut.index + cut[0].length));
    return rest === null ? null : head + (cut[0] === " and " ? ` ${exact.get("and")} ` : cut[0]) + rest;
  };
  for (const cut of cuts.toReversed()) {
    const found = beyond(cut, matched(text.slice(0, cut.index)));
    if (found !== null) return found;
  }
  // a name, a number or a file comes first
  const [first] = cuts;
  const head = first && text.slice(0, first.index);
  return first && !ENGLISH.test(head) ? beyond(first, comma(head)) : null;
}

const neat = (text) => text.replace(/\b(d?m{1,2})2\b/g, "$1²");

// as text, where there can be no element
export const plainly = (text) => neat((patterns.length ? put(String(text).trim()) : null) ?? String(text));

export function said(text) {
  if (text === null || text === undefined) return text;
  const found = patterns.length ? put(String(text).trim()) : String(text);
  return found === null ? h("span", { lang: "en" }, neat(String(text))) : neat(found);
}
