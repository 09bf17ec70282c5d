// The catalogue, and numbers with their units as somebody wants to read them.

import { learn } from "./said.js";

let catalogue = {};
export const settings = { units: "mm", language: document.documentElement.lang, currency: "" };

export async function load() {
  const answer = await fetch(`/words/${settings.language}`);
  const found = await answer.json();
  catalogue = found.words;
  learn(found.said, settings.language);
  settings.chosen = localStorage.getItem("units");
}

export function say(name, given = {}) {
  // one of something has words of its own where they differ
  const one = String(given.count) === "1" ? catalogue[`${name}_one`] : undefined;
  const text = one ?? catalogue[name] ?? name;
  return text.replace(/\{(\w+)\}/g, (all, key) => given[key] ?? all);
}

const number = (value, digits) => new Intl.NumberFormat(settings.language, { minimumFractionDigits: digits, maximumFractionDigits: digits }).format(value);
export const inch = () => (settings.chosen ?? settings.units) === "inch";
export const length = (mm) => (inch() ? `${number(mm / 25.4, 2)} in` : `${number(mm, mm < 100 ? 1 : 0)} mm`);
export const thickness = (mm) => (inch() ? `${number((mm / 25.4) * 64, 1)} oz` : `${number(mm, 2)} mm`);
export const area = (mm2) => (inch() ? `${number(mm2 / 92903.04, 2)} ${say("unit.sqft")}` : `${number(mm2 / 10000, 1)} dm²`);
export const size = (w, d) => (inch() ? `${number(w / 25.4, 1)} × ${number(d / 25.4, 1)} in` : `${number(w, 0)} × ${number(d, 0)} mm`);
export const percent = (share) => `${number(share * 100, 1)} %`;
export const count = (value) => number(value, 0);
export const three = (value) => new Intl.NumberFormat(settings.language, { maximumSignificantDigits: 3, minimumSignificantDigits: 3 }).format(value);
export const money = (text) => (text === null || text === undefined || text === "" ? "" : `${number(Number(text), 2)} ${settings.currency}`);
export const amount = (text) => (text === null || text === undefined || text === "" ? "" : number(Number(text), 2));
export const seconds = (value) => {
  if (value < 90) return `${number(value, 0)} s`;
  if (value < 3600) return `${number(value / 60, value % 60 ? 1 : 0)} min`;
  return `${number(value / 3600, value % 3600 ? 1 : 0)} h`;
};
export const moment = (since) => new Intl.DateTimeFormat(settings.language, { dateStyle: "medium", timeStyle: "short" }).format(new Date(since * 1000));
export const day = (text) => (text ? new Intl.DateTimeFormat(settings.language, { day: "numeric", month: "short" }).format(new Date(`${text}T12:00`)) : "");

export function useUnits(units) {
  settings.chosen = units;
  localStorage.setItem("units", units);
}
