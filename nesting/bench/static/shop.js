// The shop: the shelf, orders and their state, yield and money over time, what to buy and what to make.

import { deed, done, get, maybe, post, tell } from "./ask.js";
import { state } from "./bench.js";
import { bars } from "./chart.js";
import { credit } from "./credit.js";
import * as draw from "./draw.js";
import { facts, field, h, into, soon, tick } from "./make.js";
import { plainly, said } from "./said.js";
import { area, count, day, money, percent, say, settings, size, thickness } from "./words.js";

const PARTS = { shelf, orders, money: earned, make: ahead };

export async function open(middle, part = "shelf") {
  const where = PARTS[part] ? part : "shelf";
  let view = null;

  async function whole() {
    const shop = await get("/api/shop");
    if (!shop.there) {
      into(middle, h("h2", {}, say("page.shop")), h("p", {}, say("shop.none")), h("div", { class: "bar" }, h("button", { class: "deed", type: "button", onclick: deed(async () => {
        told(await post("/api/shop/begin"));
        await whole();
      }) }, say("shop.begin"))));
      return;
    }
    const [last] = shop.steps;
    const body = h("div", { "aria-live": "polite" });
    into(middle,
      h("div", { class: "title" }, h("h2", {}, say("page.shop"))),
      h("nav", { class: "tabs", "aria-label": say("shop.parts") }, Object.keys(PARTS).map((one) => h("a", { href: `#/shop/${one}`, ...(one === where ? { "aria-current": "page" } : {}) }, say(`shop.tab_${one}`)))),
      body,
      h("details", { class: "top steps" }, h("summary", {}, say("shop.steps")), h("ol", { class: "plain" }, shop.steps.map((step) => h("li", {}, h("small", {}, `${day(step.at.slice(0, 10))} ${step.at.slice(11, 16)}`), " ", said(step.words))))),
      last ? h("div", { class: "bar" }, h("button", { type: "button", onclick: deed(async () => {
        const taken = await post("/api/shop/undo");
        tell(say("shop.undone", { words: plainly(taken.words) }));
      }) }, `↶ ${say("shop.undo")}`), h("small", {}, said(last.words))) : null,
    );
    view = await PARTS[where](body);
  }

  await whole();
  if (view) told(await post("/api/shop/look"));
  return { changed: whole, task: (task) => view?.task?.(task) };
}

function told(taken) {
  for (const line of [...taken.done, ...taken.notes]) tell(said(line));
}

// the shelf

async function shelf(body) {
  let [start, gone] = [0, false];
  const find = h("input", { type: "search", oninput: () => soon("find", 250, deed(() => look(0))) });
  const rows = h("div", { class: "gallery roomy" });
  const sums = h("p", { class: "small" });
  const more = h("button", { type: "button", onclick: deed(() => look(start)) }, say("shop.more"));
  const which = tick(say("shop.gone"), { onchange: deed((event) => { gone = event.target.checked; return look(0); }) });
  into(body, h("div", { class: "bar" }, field(say("shop.find"), find), which, h("a", { class: "button", href: "/api/shop/labels", target: "_blank", rel: "noopener" }, say("shop.labels"))), sums, rows, h("div", { class: "bar" }, more));

  async function look(from) {
    const found = await get(`/api/shop/shelf?start=${from}&gone=${gone}&find=${encodeURIComponent(find.value)}`);
    if (!from) into(rows);
    rows.append(...found.rows.map((row) => hide(row)));
    if (!found.count) into(rows, h("p", {}, say("shop.empty")));
    into(sums, say("shop.sums", { count: count(found.count), offcuts: count(found.offcuts), area: area(found.area_mm2) }));
    start = found.next;
    more.hidden = found.next === null;
  }

  function hide(row) {
    const supplier = h("input", { value: row.supplier });
    const measure = h("input", { placeholder: "18.5 sq ft", value: "" });
    const price = h("input", { inputmode: "decimal", value: row.state === "shelf" ? row.price ?? "" : "" });
    const there = ["shelf", "offcut", "opened"].includes(row.state);
    return h("article", { class: "sheet" },
      row.shape ? draw.thumbnail(row.shape) : h("span", { class: "bad" }, say("shop.unread")),
      h("h3", {}, row.here ? h("a", { href: `#/leather/${row.name}` }, row.name) : row.name),
      h("small", {}, h("b", {}, row.code), ` · ${say(`shop.is_${row.state}`)}`),
      facts([
        [say("hide.area"), row.state === "opened" ? say("shop.left", { left: area(row.left_mm2), all: area(row.area_mm2) }) : area(row.area_mm2)],
        [say("shop.largest"), row.parent ? size(...row.largest_mm) : ""],
        [say("leather.thickness"), row.thickness_mm ? thickness(row.thickness_mm) : ""],
        [say("shop.kind"), said(row.kind)],
        [say("shop.of"), row.parent ?? ""],
        [say("shop.worth"), money(row.price)],
        [say("shop.supplier"), row.supplier],
        [say("shop.since"), day(row.since)],
        [say("shop.why"), row.why],
      ]),
      row.short ? h("p", { class: "note" }, h("a", { href: `/api/shop/short/${encodeURIComponent(row.name)}`, target: "_blank", rel: "noopener" }, say("shop.short"))) : null,
      there ? h("div", { class: "answers" },
        h("a", { class: "button", href: `/api/shop/labels?name=${encodeURIComponent(row.name)}`, target: "_blank", rel: "noopener", "aria-label": say("shop.label_of", { name: row.name }) }, say("shop.label")),
        row.state === "opened"
          ? h("button", { type: "button", onclick: deed(async () => {
              if (!confirm(say("shop.back_sure", { name: row.name }))) return;
              left(await post("/api/shop/back", { name: row.name }), body);
            }) }, say("shop.back"))
          : h("button", { type: "button", "aria-label": say("shop.retire_of", { name: row.name }), onclick: deed(async () => {
              const why = prompt(say("shop.retire_ask", { name: row.name }));
              if (why !== null) await post("/api/shop/retire", { name: row.name, why });
            }) }, say("shop.retire"))) : null,
      there && !row.parent ? h("details", {}, h("summary", {}, say("shop.bought")), h("form", { class: "stack", onsubmit: deed(async (event) => {
        event.preventDefault();
        await post("/api/shop/bought", { name: row.name, supplier: supplier.value, measure: measure.value, price: price.value });
      }) }, field(say("shop.supplier"), supplier), field(say("shop.measure"), measure, row.bought_mm2 ? area(row.bought_mm2) : null), field(say("leather.price"), price), h("button", {}, say("shop.note")))) : null,
    );
  }

  await look(0);
  return {};
}

// what a load, or a hide given up, left: named, with labels to print
export function left(found, place) {
  const names = found.offcuts ?? [];
  const line = names.length
    ? h("p", { class: "note" }, say("shop.left_over", { names: names.join(", ") }), " ", h("a", { href: `/api/shop/labels?${names.map((name) => `name=${encodeURIComponent(name)}`).join("&")}`, target: "_blank", rel: "noopener" }, say("shop.labels_new")))
    : h("p", { class: "note" }, say("shop.nothing_left"));
  place.prepend(line);
}

// orders

async function orders(body) {
  const every = tick(say("shop.every"), { onchange: deed((event) => look(event.target.checked)) });
  const table = h("div", { class: "wide sheet" });
  into(body, h("div", { class: "bar" }, every, h("a", { class: "button", href: "#/orders" }, say("shop.type"))), table);

  async function look(all) {
    const found = await get(`/api/shop/orders?every=${all}`);
    const head = ["order", "product", "state", "made", "due", "note", "done"];
    into(table,
      h("table", {}, h("caption", {}, found.most ? say("shop.most", { count: count(found.most) }) : say("shop.states")),
        h("thead", {}, h("tr", {}, head.map((name) => h("th", { scope: "col", class: name === "made" ? "number" : "" }, say(`shop.o_${name}`))))),
        h("tbody", {}, found.rows.map((row) => h("tr", {},
          h("td", { class: "brief" }, row.order), h("td", {}, row.product),
          h("td", {}, h("span", { class: `state ${row.state}` }, say(`state.${row.state}`)), row.spoiled && row.state !== "done" ? h("small", { class: "bad" }, ` ${say("shop.spoiled", { count: row.spoiled })}`) : null),
          h("td", { class: "number" }, `${count(row.made)} / ${count(row.quantity)}`),
          h("td", { class: "brief" }, day(row.due)), h("td", {}, row.note),
          h("td", {}, tick(say("state.done"), { checked: row.state === "done", "aria-label": say("shop.done_of", { order: row.order, product: row.product }), onchange: deed((event) => settle(row, event.target)) })))))),
      found.rows.length ? null : h("p", {}, say("orders.none")));
  }

  async function settle(row, box) {
    const given = box.checked && row.unmade ? confirm(say("shop.done_sure", { order: row.order, product: row.product, unmade: plainly(row.unmade) })) : true;
    if (given) await post("/api/shop/orders/done", { order: row.order, product: row.product, done: box.checked }).catch((fault) => { box.checked = !box.checked; throw fault; });
    else box.checked = false;
  }

  await look(false);
  return {};
}

// money

const month = (text) => new Intl.DateTimeFormat(settings.language, { month: "short", year: "2-digit" }).format(new Date(`${text}-15T12:00`));
const amount = (text) => money(text).replace(settings.currency, "").trim();
const round = (value) => `${new Intl.NumberFormat(settings.language, { maximumFractionDigits: value < 10 ? 2 : 0 }).format(value)}`;

async function earned(body) {
  into(body, h("p", { class: "small" }, say("shop.adding")));
  const found = await get("/api/shop/money");
  if (!found.products.length) {
    into(body, h("p", { class: "note" }, say("shop.uncut")));
    return {};
  }
  const months = found.months.map((row) => ({ name: month(row.name), values: { yield: row.yield, spent: Number(row.spent), worth: Number(row.worth) } }));
  const made = found.products.filter((row) => row.each !== null);
  const sum = (name) => found.products.reduce((all, row) => all + Number(row[name] ?? 0), 0);
  const share = (value) => `${count(value * 100)} %`;
  const cells = (row) => ["pieces", "leather", "scrap", "doubt", "work", "other", "spoiled", "begun", "total", "each", "price", "margin"].map((name) => h("td", { class: "number" }, name === "pieces" ? count(row.pieces) : row[name] === null ? "–" : amount(row[name])));
  into(body,
    credit(),
    h("div", { class: "sums sheet" }, [["total", say("shop.spent_all")], ["price", say("shop.sold_all")], ["margin", say("shop.earned_all")]].map(([name, words]) => h("div", {}, h("span", { class: "big" }, money(String(sum(name)))), h("small", {}, words)))),
    h("div", { class: "charts" },
      h("section", { class: "sheet" }, bars(`${say("shop.c_money")}, ${settings.currency}`, months, [["spent", say("shop.c_spent")], ["worth", say("shop.c_worth")]], round)),
      h("section", { class: "sheet" }, bars(say("shop.c_yield"), months, [["yield", say("shop.c_yield")]], share, 1)),
      h("section", { class: "sheet" }, bars(say("shop.c_hides"), found.hides.map((row) => ({ name: row.name, values: { yield: row.yield } })), [["yield", say("shop.c_yield")]], share, 1)),
      h("section", { class: "sheet" }, bars(`${say("shop.c_pieces")}, ${settings.currency}`, made.map((row) => ({ name: row.name, values: { spent: Number(row.each), worth: row.price === null ? null : Number(row.price) / row.pieces } })), [["spent", say("shop.c_each")], ["worth", say("shop.c_price")]], round)),
    ),
    h("div", { class: "wide sheet top" }, h("table", { class: "dense" }, h("caption", {}, `${say("shop.t_products")} ${say("shop.t_currency", { currency: settings.currency })}`), h("thead", {}, h("tr", {}, h("th", { scope: "col" }, say("orders.product")), ["pieces", "leather", "scrap", "doubt", "work", "other", "spoiled", "begun", "total", "each", "price", "margin"].map((name) => h("th", { scope: "col", class: "number" }, say(`shop.m_${name}`))))), h("tbody", {}, found.products.map((row) => h("tr", {}, h("th", { scope: "row" }, row.name), cells(row)))))),
    h("div", { class: "wide sheet top" }, h("table", {}, h("caption", {}, say("shop.t_suppliers")), h("thead", {}, h("tr", {}, h("th", { scope: "col" }, say("shop.supplier")), ["cut", "parts", "offcuts", "yield", "paid", "credit"].map((name) => h("th", { scope: "col", class: "number" }, say(`shop.y_${name}`))))), h("tbody", {}, found.suppliers.map((row) => h("tr", {}, h("th", { scope: "row" }, row.name === "not known" ? say("shop.unknown") : row.name), h("td", { class: "number" }, area(row.cut_mm2)), h("td", { class: "number" }, area(row.parts_mm2)), h("td", { class: "number" }, area(row.offcuts_mm2)), h("td", { class: "number" }, percent(row.yield)), h("td", { class: "number" }, money(row.paid)), h("td", { class: "number" }, money(row.credit))))))),
  );
  return {};
}

// what to buy, what to make

async function ahead(body) {
  const weeks = h("select", { onchange: deed(() => buy()) }, [0, 4, 8, 13, 26].map((one) => h("option", { value: one }, one ? say("shop.weeks", { count: one }) : say("shop.now_only"))));
  const list = h("div", {});
  const time = h("select", {}, [2, 5, 20, 60].map((one) => h("option", { value: one, selected: one === 5 }, say("shop.each_product", { count: one }))));
  const bar = h("div", { class: "bar" });
  const could = h("div", { "aria-live": "polite" });
  let live = state.bench.tasks.find((task) => task.kind === "make") ?? null;
  into(body, h("h3", {}, say("shop.buy")), h("div", { class: "bar" }, field(say("shop.buy_for"), weeks)), list, h("h3", { class: "top" }, say("shop.could")), h("p", { class: "small" }, say("shop.could_words")), bar, could);

  async function buy() {
    const found = await get(`/api/shop/buy?weeks=${weeks.value}`);
    into(list,
      found.rows.length
        ? h("div", { class: "wide sheet" }, h("table", {}, h("caption", {}, say("shop.range")), h("thead", {}, h("tr", {}, ["kind", "for", "area", "range", "cost"].map((name, place) => h("th", { scope: "col", class: place > 1 ? "number" : "" }, say(`shop.b_${name}`))))), h("tbody", {}, found.rows.map((row) => h("tr", {}, h("td", { class: "broad" }, [plainly(row.kind), row.thickness_mm ? row.thickness_mm.map(thickness).join(" – ") : ""].filter(Boolean).join(", ")), h("td", { class: "broad" }, Object.entries(row.pieces).map(([name, number]) => `${count(number)} × ${name}`).join(", ")), h("td", { class: "number" }, area(row.likely_mm2)), h("td", { class: "number" }, row.range_mm2.map(area).join(" – ")), h("td", { class: "number" }, money(row.cost)))))))
        : h("p", {}, say("shop.buy_nothing")),
      found.unkept.length ? h("details", { class: "top" }, h("summary", {}, say("shop.unkept", { count: found.unkept.length })), h("ul", {}, found.unkept.map((one) => h("li", {}, h("b", {}, one.name), ": ", said(one.why))))) : null);
  }

  function controls() {
    into(bar, live?.state === "running"
      ? h("div", { class: "field" }, h("span", {}, live.told?.step ? say("compare.now", { name: live.told.step }) : say("plan.reading")), h("progress", { "aria-label": say("plan.far") }))
      : [field(say("shop.for"), time), h("button", { class: "deed", type: "button", onclick: deed(async () => { live = await post("/api/shop/make", { seconds: Number(time.value) }); controls(); }) }, say("shop.find_out"))],
      live?.state === "fault" ? h("div", { class: "wrong" }, live.faults.map((fault) => h("p", {}, said(fault)))) : null);
  }

  async function made() {
    controls();
    const found = await maybe("/api/shop/make");
    if (!found) return;
    into(could, found.rows.length ? h("div", { class: "cards" }, found.rows.map((row, number) => h("article", { class: "sheet" },
      h("h3", {}, `${number + 1}. ${say("shop.pieces_of", { count: count(row.pieces), product: row.product })}`),
      draw.picture(row.layout, say("plan.picture_short")),
      facts([[say("shop.earns"), money(row.margin)], [say("shop.sells"), money(row.price)], [say("shop.costs"), money(row.cost)]]),
      h("button", { type: "button", onclick: deed(async () => {
        await done(await post("/api/shop/make/take", { product: row.product }));
        location.hash = "#/loads";
      }) }, say("shop.take"))))) : h("p", { class: "note" }, found.offcuts ? say("shop.none_fits") : say("shop.no_offcuts")),
      found.why.length ? h("section", { class: "sheet top" }, h("h3", {}, say("shop.not_made")), found.why.map((line) => h("p", { class: "small" }, said(line)))) : null);
  }

  await buy();
  await made();
  return {
    task: async (task) => {
      if (task.kind !== "make") return;
      live = task;
      if (task.state === "running") controls();
      else await made();
    },
  };
}
