// The same orders cut in several ways, side by side.

import { deed, maybe, post } from "./ask.js";
import { state } from "./bench.js";
import * as draw from "./draw.js";
import { field, h, into, s } from "./make.js";
import { area, count, money, percent, say, seconds } from "./words.js";

const BY = ["hides", "settings", "bed"];

export async function open(middle) {
  let live = state.bench.tasks.find((task) => task.kind === "compare") ?? null;
  const by = h("select", {}, BY.map((one) => h("option", { value: one }, say(`compare.${one}`))));
  const time = h("select", {}, [20, 60, 300, 1800].map((one) => h("option", { value: one, selected: one === 60 }, seconds(one))));
  const bar = h("div", { class: "bar" });
  const found = h("div", { "aria-live": "polite" });
  into(middle, h("h2", {}, say("page.compare")), h("p", { class: "small" }, say("compare.words")), bar, found);

  function controls() {
    const running = live?.state === "running";
    into(bar, running
      ? [h("button", { class: "stop", type: "button", disabled: live.stopping, onclick: deed(async () => { live = await post("/api/compare/stop"); controls(); }) }, live.stopping ? say("plan.stopping") : say("compare.stop")), h("div", { class: "field push" }, h("span", {}, live.told?.step ? say("compare.now", { name: live.told.step }) : say("plan.reading")), h("progress", { "aria-label": say("plan.far") }))]
      : [field(say("compare.what"), by), field(say("compare.time"), time), h("button", { class: "deed", type: "button", onclick: deed(async () => { live = await post("/api/compare", { by: by.value, seconds: Number(time.value) }); controls(); }) }, say("compare.go"))],
      live?.state === "fault" ? h("div", { class: "wrong" }, live.faults.map((fault) => h("p", {}, fault))) : null);
  }

  async function whole() {
    controls();
    const data = await maybe("/api/compare");
    if (!data) return;
    const rows = data.ways;
    const best = data.by === "hides" ? 0 : -1;
    into(found,
      h("p", { class: "note" }, data.why),
      data.by === "hides" && rows.length ? h("div", { class: "bar" }, h("button", { class: "deed", type: "button", onclick: deed(async () => { await post("/api/plan", { seconds: 30, compared: true }); location.hash = "#/plan"; }) }, say("compare.take"))) : null,
      h("div", { class: "wide sheet" }, h("table", {}, h("caption", {}, say("compare.caption")), h("thead", {}, h("tr", {}, ["way", "pieces", "cost", "used", "of_hide", "of_used"].map((name, index) => h("th", { scope: "col", class: index ? "number" : "" }, say(`compare.${name}`))))), h("tbody", {}, rows.map((row, index) => h("tr", {}, h("td", {}, index === best ? h("b", {}, name(row)) : name(row)), h("td", { class: "number" }, `${count(row.whole)} / ${count(row.wanted)}`), h("td", { class: "number" }, money(row.cost)), h("td", { class: "number" }, area(row.total.consumed_mm2)), h("td", { class: "number" }, percent(row.total.yield_of_hide)), h("td", { class: "number" }, percent(row.total.yield_of_consumed))))))),
      h("div", { class: "cards" }, rows.slice(0, 8).map((row) => h("article", { class: "sheet" }, h("h3", {}, name(row)), picture(row.layout), h("small", {}, `${count(row.whole)} / ${count(row.wanted)} · ${money(row.cost)}`)))));
  }

  const name = (row) => `${row.hides.length ? row.hides.join(" + ") : row.name}${row.planned ? ` (${say("compare.planned")})` : ""}`;

  function picture(layout) {
    const tint = draw.tints([...(state.orders?.rows ?? []).map((row) => row.order), ...layout.parts.map((part) => part.order)]);
    const world = s("g", { transform: "scale(1 -1)" });
    let [x, high] = [0, 0];
    const used = layout.hides.filter((hide) => layout.parts.some((part) => part.hide === hide.id));
    for (const hide of used) {
      const box = draw.bounds(hide.outline);
      world.append(s("g", { transform: `translate(${x - box[0]} ${-box[1]})` }, draw.hide(hide), layout.parts.filter((part) => part.hide === hide.id).map((part) => draw.part(layout.shapes[part.shape], part, tint.get(part.order)))));
      x += box[2] - box[0] + 30;
      high = Math.max(high, box[3] - box[1]);
    }
    return s("svg", { class: "far", viewBox: `-5 ${-high - 5} ${Math.max(x, 10)} ${high + 10}`, role: "img", "aria-label": say("plan.picture_short") }, world);
  }

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
