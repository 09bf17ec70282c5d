// Asking the server, hearing from it, and saying what came of it.

import { h } from "./make.js";
import { said } from "./said.js";

class Refused extends Error {
  constructor(text, faults, status) {
    super(text);
    this.faults = faults;
    this.status = status;
  }
}

export async function ask(method, path, body, type = "application/json") {
  const sent = body === undefined ? undefined : type === "application/json" ? JSON.stringify(body) : body;
  let answer;
  try {
    answer = await fetch(path, { method, body: sent, headers: sent === undefined ? {} : { "content-type": type } });
  } catch {
    throw new Refused("…", [], 0);
  }
  const text = await answer.text();
  let data = null;
  try {
    data = JSON.parse(text);
  } catch {
    data = { detail: text };
  }
  if (answer.ok) return data;
  const faults = data.faults ?? [];
  const told = faults.length ? faults.map((one) => [one.file, one.place, one.value, one.mend].filter(Boolean).join(": ")) : [];
  const detail = typeof data.detail === "string" ? data.detail : JSON.stringify(data.detail);
  throw new Refused(told[0] ?? detail, faults, answer.status);
}

export const get = (path) => ask("GET", path);
export const post = (path, body = {}) => ask("POST", path, body);
export const put = (path, body) => ask("PUT", path, body);
export const maybe = (path) => get(path).catch((fault) => (fault.status === 404 ? null : Promise.reject(fault)));

export function tell(text) {
  const line = h("div", {}, text);
  document.getElementById("say").append(line);
  setTimeout(() => line.remove(), Math.min(12000, 3500 + 45 * line.textContent.length));
}

// runs work of a button, says what went wrong, and keeps it from being pressed twice
export function deed(work) {
  return async (event) => {
    const button = event?.currentTarget;
    if (button?.tagName === "BUTTON") button.disabled = true;
    try {
      await work(event);
    } catch (fault) {
      tell(said(fault.message));
      if (!(fault instanceof Refused)) console.error(fault);
    } finally {
      if (button?.tagName === "BUTTON") button.disabled = false;
    }
  };
}

const ears = new Map();
export const on = (event, work) => {
  ears.set(event, [...(ears.get(event) ?? []), work]);
};
export function heard(event, data) {
  for (const work of ears.get(event) ?? []) Promise.resolve(work(data)).catch((fault) => console.error(fault));
}

export function listen() {
  const source = new EventSource("/api/events");
  for (const name of ["task", "progress", "priced", "better", "changed"]) {
    source.addEventListener(name, (event) => heard(name, JSON.parse(event.data)));
  }
  let lost = false;
  source.addEventListener("error", () => {
    lost = true;
    heard("lost");
  });
  source.addEventListener("open", () => {
    if (lost) heard("back");
    lost = false;
  });
  return source;
}

// waits until a task is over; gives it, or throws what went wrong
export async function done(task) {
  for (;;) {
    const now = await get(`/api/tasks/${task.number}`);
    if (now.state === "done") return now;
    if (now.state !== "running") throw new Refused(now.faults[0] ?? now.state, [], 500);
    await new Promise((resolve) => setTimeout(resolve, 250));
  }
}
