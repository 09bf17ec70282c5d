// The page: what lies around the bench, and which view stands in the middle of it.

import { deed, get, listen, on, post, tell } from "./ask.js";
import * as draw from "./draw.js";
import { h, into, soon } from "./make.js";
import { plainly } from "./said.js";
import { area, load, say, settings } from "./words.js";

const VIEWS = {
  plan: () => import("./plan.js"),
  leather: () => import("./leather.js"),
  orders: () => import("./orders.js"),
  loads: () => import("./loads.js"),
  shop: () => import("./shop.js"),
  compare: () => import("./compare.js"),
  workshop: () => import("./workshop.js"),
};

export const state = { bench: null, layout: null, orders: null };
const middle = document.getElementById("middle");
const noted = new Set();
let open = null;
let route = "";

export async function refresh() {
  const [bench, orders] = await Promise.all([get("/api/bench"), get("/api/orders").catch(() => null)]);
  state.bench = bench;
  draw.useTints(bench.tints);
  state.orders = orders;
  for (const note of bench.notes.map(takenUp).filter((one) => !noted.has(one))) {
    noted.add(note);
    // the plan shows it itself
    if (!/^(#\/plan)?$/.test(location.hash)) tell(note);
  }
  settings.units = bench.units;
  settings.currency = bench.currency;
  await refreshLayout();
  around();
}

// what became of a search that was broken off with the bench
export const takenUp = (note) => (note.parts ? say("plan.taken_up", { parts: plainly(note.parts) }) : say("plan.not_taken_up", { fault: plainly(note.fault) }));

async function refreshLayout() {
  state.layout = state.bench?.planned ? await get("/api/layout").catch(() => null) : null;
}

// one colour an order, the same in every view
export const tints = (parts = state.layout?.parts ?? []) => draw.tints([...(state.layout?.orders ?? []), ...(state.orders?.rows ?? []), ...parts, ...(state.bench.wanted ?? [])].map((one) => one.order).filter(Boolean));

function around() {
  const { bench, layout, orders } = state;
  document.title = `${bench.folder} – ${say("page.title")}`;
  document.getElementById("name").textContent = bench.folder;
  into(
    document.getElementById("leather"),
    h("h2", {}, h("a", { href: "#/leather" }, say("page.leather"))),
    h("ul", {}, bench.hides.map((hide) => h("li", {}, h("a", { href: `#/leather/${hide.name}` }, hide.fault ? h("span", { class: "bad" }, "!") : draw.thumbnail(hide), h("span", {}, h("b", {}, hide.name), h("small", {}, hide.fault ? say("leather.faulty") : area(hide.area_mm2), hide.in_doubt ? ` · ${say("leather.doubts", { count: hide.in_doubt })}` : "")))))),
    h("p", {}, h("a", { class: "button", href: "#/leather" }, say("leather.add"))),
  );
  const whole = new Map();
  for (const piece of layout?.pieces ?? []) {
    const name = `${piece.order}\t${piece.product}`;
    const [made, of] = whole.get(name) ?? [0, 0];
    whole.set(name, [made + (piece.whole ? 1 : 0), of + 1]);
  }
  // with a stock book, what it has still to be made; else the list as it is typed
  const listed = (orders?.rows ?? []).filter((row) => row.order || row.product).map((row) => [row, row.quantity, ...(whole.get(`${row.order}\t${row.product}`) ?? [null, null])]);
  const lots = bench.wanted?.map((row) => [row, row.left, layout ? row.planned : null, row.left]) ?? listed;
  const colours = tints();
  into(
    document.getElementById("strip"),
    h("h2", {}, h("a", { href: "#/orders" }, say("page.orders"))),
    lots.map(([row, pieces, made, of]) => h("a", { class: "lot", href: bench.wanted ? "#/shop/orders" : "#/orders", tint: colours.get(row.order) }, h("span", {}, `${pieces} × ${row.product}`), h("small", { class: made !== null && made < of ? "short" : "" }, made === null ? row.order : `${row.order} · ${say(bench.wanted ? "orders.planned" : "orders.made", { made, of })}`))),
    lots.length ? null : h("span", { class: "small" }, say(bench.wanted ? "orders.all_made" : "orders.none")),
  );
  const panels = inOrder(layout);
  into(
    document.getElementById("loads"),
    h("h2", {}, h("a", { href: "#/loads" }, say("page.loads"))),
    panels.length
      ? h("ul", {}, panels.map((panel) => {
          const parts = layout.parts.filter((part) => part.hide === panel.hide && part.panel === panel.id);
          return h("li", {}, h("a", { href: "#/loads" }, draw.thumbnail({ outline: draw.turned(panel.polygon, panel.turn), tint: layout.hides.find((hide) => hide.id === panel.hide)?.tint }), h("span", {}, h("b", {}, `${panel.hide} / ${panel.id}`), panel.burnt ? null : h("small", { class: "lines" }, turnWords(turnOf(layout, panel))), h("small", { class: "lines" }, panel.burnt ? say("loads.burnt") : say("loads.parts", { count: parts.length })))));
        }))
      : h("p", { class: "small" }, say("loads.none")),
  );
  for (const link of document.querySelectorAll(".head nav a, .foot a")) {
    const here = link.getAttribute("href").slice(2) === route.split("/")[0];
    if (here) link.setAttribute("aria-current", "page");
    else link.removeAttribute("aria-current");
  }
}

// the bed loads: in the order in which to burn them, then what is burnt, hide by hide
export function inOrder(layout) {
  const rank = new Map((layout?.hides ?? []).map((hide, number) => [hide.id, number]));
  const turn = (panel) => turnOf(layout, panel)?.place ?? Infinity;
  return [...(layout?.panels ?? [])].sort((a, b) => turn(a) - turn(b) || rank.get(a.hide) - rank.get(b.hide) || a.id.localeCompare(b.id, undefined, { numeric: true }));
}

export function turnOf(layout, panel) {
  const place = (layout?.turns ?? []).findIndex((turn) => turn.hide === panel.hide && turn.panel === panel.id);
  return place < 0 ? null : { ...layout.turns[place], place };
}

export const turnWords = (turn) => (!turn?.number || turn.of === 1 ? "" : turn.number === 1 ? say("loads.first") : say("loads.turn", { number: turn.number, of: turn.of }));

async function show() {
  route = location.hash.slice(2) || "plan";
  const [name, ...rest] = route.split("/").map(decodeURIComponent);
  if (!state.bench.begun) {
    welcome();
    return;
  }
  open?.leave?.();
  document.body.dataset.view = name;
  // each view paints a place of its own, so that what it hears of late cannot paint over the view that came after it
  const place = h("div");
  into(middle, place);
  open = null;
  const view = await (VIEWS[name] ?? VIEWS.plan)();
  const opened = await view.open(place, ...rest);
  if (place.isConnected) open = opened;
  else opened?.leave?.();
  around();
}

function welcome() {
  const inches = h("input", { type: "checkbox" });
  into(
    middle,
    h("h2", {}, say("begin.title")),
    h("p", {}, say("begin.words", { folder: state.bench.folder })),
    h("div", { class: "bar" }, h("label", { class: "tick" }, inches, say("begin.inch")), h("button", { class: "deed", onclick: deed(async () => {
      await post("/api/begin", { inch: inches.checked });
      await refresh();
      location.hash = "#/workshop";
      await show();
    }) }, say("begin.go"))),
  );
}

window.addEventListener("hashchange", deed(show));
on("changed", (data) => soon("changed", 150, deed(async () => {
  await refresh();
  await open?.changed?.(data.what);
})));
for (const event of ["task", "progress", "priced", "better"]) on(event, (data) => open?.[event]?.(data));
on("lost", () => soon("lost", 4000, () => tell(say("page.lost"))));
on("back", deed(async () => {
  soon("lost", 0, () => {});
  await refresh();
  await open?.changed?.("all");
}));

async function main() {
  await load();
  await refresh();
  listen();
  await show();
  document.documentElement.dataset.ready = "yes";
}

// views import this module, so it may not wait for them while it is loaded
main();
