// What leftovers are worth: asked once, where costs are first looked at, and kept in the workshop's file.

import { deed, post, tell } from "./ask.js";
import { state } from "./bench.js";
import { h } from "./make.js";
import { say } from "./words.js";

export function credit() {
  if (!state.bench.asks.includes("offcut_credit")) return null;
  const answer = (share) => deed(async () => {
    if (!(share() >= 0 && share() <= 1)) {
      tell(say("credit.wrong"));
      return;
    }
    await post("/api/workshop", { table: "prices", key: "offcut_credit", value: share() });
    tell(say("credit.kept"));
  });
  const own = h("input", { inputmode: "decimal", size: 4, "aria-label": say("credit.own") });
  const choices = [["nothing", 0], ["half", 0.5], ["all", 1]];
  return h("section", { class: "sheet top asked" }, h("h3", {}, say("credit.title")), h("p", { class: "small" }, say("credit.words")),
    h("div", { class: "ticks" }, choices.map(([name, share]) => h("button", { type: "button", onclick: answer(() => share) }, say(`credit.${name}`))),
      h("span", { class: "own" }, own, " % ", h("button", { type: "button", onclick: answer(() => (own.value.trim() ? Number(own.value.replace(",", ".")) / 100 : NaN)) }, say("credit.put")))));
}
