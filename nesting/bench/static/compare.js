// The same orders cut in several ways, side by side.

import { deed, get, maybe, post } from "./ask.js";
import { state } from "./bench.js";
import * as draw from "./draw.js";
import { field, h, into } from "./make.js";
import { plainly, said } from "./said.js";
import { area, count, money, percent, say, seconds } from "./words.js";

const BY = ["hides", "settings", "bed", "gaps", "patterns"];

export async function open(middle) {
  let byHides = true;
  let live = state.bench.tasks.find((task) => task.kind === "compare") ?? null;
  const by = h("select", {}, BY.map((one) => h("option", { value: one }, say(`compare.${one}`))));
  const gaps = h("input", { value: "0.5 2", inputmode: "decimal" });
  const beds = h("input", { placeholder: "600 x 400" });
  const drawings = Object.keys((await get("/api/products")).drawings);
  const one = (label) => h("select", {}, h("option", { value: "" }, say(label)), drawings.map((name) => h("option", { value: name }, name)));
  const [old, changed] = [one("compare.choose"), one("compare.choose")];
  const extra = h("div", { class: "bar" });
  by.addEventListener("change", asking);

  function asking() {
    const rows = { gaps: [field(say("compare.gaps_mm"), gaps)], bed: [field(say("compare.beds_mm"), beds, say("compare.beds_hint"))], patterns: [field(say("compare.old"), old), field(say("compare.changed"), changed, say("compare.changed_hint"))] };
    into(extra, rows[by.value] ?? []);
  }

  const numbers = (text) => (text.replace(/,(\d)/g, ".$1").match(/\d+(\.\d+)?/g) ?? []).map(Number);
  function asked() {
    const sides = numbers(beds.value);
    return {
      by: by.value,
      seconds: Number(time.value),
      gaps: by.value === "gaps" ? numbers(gaps.value) : [],
      beds: by.value === "bed" && sides.length > 1 ? [sides.slice(0, 2)] : [],
      patterns: by.value === "patterns" && old.value && changed.value ? [[old.value, changed.value]] : [],
    };
  }

  const time = h("select", {}, [20, 60, 300, 1800].map((one) => h("option", { value: one, selected: one === 60 }, seconds(one))));
  const bar = h("div", { class: "bar" });
  const found = h("div", { "aria-live": "polite" });
  into(middle, h("h2", {}, say("page.compare")), h("p", { class: "small" }, say("compare.words")), bar, found);

  function controls() {
    const running = live?.state === "running";
    into(bar, running
      ? [h("button", { class: "stop", type: "button", disabled: live.stopping, onclick: deed(async () => { live = await post("/api/compare/stop"); controls(); }) }, live.stopping ? say("plan.stopping") : say("compare.stop")), h("div", { class: "field push" }, h("span", {}, live.told?.step ? say("compare.now", { name: plainly(live.told.step) }) : say("plan.reading")), h("progress", { "aria-label": say("plan.far") }))]
      : [field(say("compare.what"), by), extra, field(say("compare.time"), time), h("button", { class: "deed", type: "button", onclick: deed(async () => { live = await post("/api/compare", asked()); controls(); }) }, say("compare.go"))],
      live?.state === "fault" ? h("div", { class: "wrong" }, live.faults.map((fault) => h("p", {}, said(fault)))) : null);
  }

  async function whole() {
    controls();
    const data = await maybe("/api/compare");
    if (!data) return;
    const rows = data.ways;
    byHides = data.by === "hides";
    const best = data.by === "hides" ? 0 : -1;
    const year = data.rate.known;
    into(found,
      h("p", { class: "note" }, said(data.why)),
      data.by === "hides" && rows.length ? h("div", { class: "bar" }, h("button", { class: "deed", type: "button", onclick: deed(async () => { await post("/api/plan", { seconds: 30, compared: true }); location.hash = "#/plan"; }) }, say("compare.take"))) : null,
      h("div", { class: "wide sheet" }, h("table", {}, h("caption", {}, say(byHides ? "compare.caption" : "compare.caption_ways")), h("thead", {}, h("tr", {}, ["way", "pieces", "cost", "used", "of_hide", "of_used", ...(year ? ["year"] : [])].map((name, index) => h("th", { scope: "col", class: index ? "number" : "" }, say(`compare.${name}`))))), h("tbody", {}, rows.map((row, index) => h("tr", {}, h("td", {}, index === best ? h("b", {}, named(row)) : named(row)), h("td", { class: "number" }, `${count(row.whole)} / ${count(row.wanted)}`), h("td", { class: "number" }, money(row.cost)), h("td", { class: "number" }, area(row.total.consumed_mm2)), h("td", { class: "number" }, percent(row.total.yield_of_hide)), h("td", { class: "number" }, percent(row.total.yield_of_consumed)), year ? h("td", { class: "number" }, row.saved === null ? "–" : money(row.saved)) : null))))),
      year ? h("p", { class: "small" }, say(data.rate.weeks === null ? "compare.year_list" : "compare.year_book", { weeks: data.rate.weeks })) : null,
      h("div", { class: "cards" }, rows.slice(0, 8).map((row) => h("article", { class: "sheet" }, h("h3", {}, named(row)), draw.picture(row.layout, say("plan.picture_short"), (state.orders?.rows ?? []).map((one) => one.order)), h("small", {}, `${count(row.whole)} / ${count(row.wanted)} · ${money(row.cost)}`)))));
  }

  const named = (row) => `${byHides && row.hides.length ? row.hides.join(" + ") : plainly(row.name)}${row.planned ? ` (${say("compare.planned")})` : ""}`;

  await whole();
  return {
    task: async (task) => {
      if (task.kind !== "compare") return;
      live = task;
      if (task.state === "running") controls();
      else await whole();
    },
    changed: () => {},
  };
}
