// What is ordered, what the workshop makes, and the drawings it is made from.

import { ask, deed, done, get, post, put, tell } from "./ask.js";
import * as draw from "./draw.js";
import { field, h, into, s, soon, tick } from "./make.js";
import { plainly, said } from "./said.js";
import { View } from "./view.js";
import { money, say, settings, size } from "./words.js";

const MAIN = ["order", "product", "quantity", "due", "priority", "thread", "note"];
const ROOMY = ["product", "note", "due"];
const LABELS = ["cutout", "stitch", "engrave", "engrave fill", "engrave line", "fold", ""];

// the name of a colour, by its hue
function hue(colour) {
  const [red, green, blue] = [1, 3, 5].map((at) => parseInt(colour.slice(at, at + 2), 16));
  const [least, most] = [Math.min(red, green, blue), Math.max(red, green, blue)];
  if (most - least < 40) return most < 64 ? "black" : most > 230 ? "white" : "grey";
  const sixth = most === red ? (green - blue) / (most - least) : most === green ? 2 + (blue - red) / (most - least) : 4 + (red - green) / (most - least);
  const degrees = (60 * sixth + 360) % 360;
  return [[20, "red"], [45, most < 170 ? "brown" : "orange"], [70, "yellow"], [165, "green"], [195, "turquoise"], [260, "blue"], [300, "purple"], [345, "pink"]].find(([end]) => degrees < end)?.[1] ?? "red";
}

const written = (day) => (settings.language === "de" ? (day ?? "").replace(/^(\d{4})-(\d\d)-(\d\d)$/, "$3.$2.$1") : (day ?? ""));

export async function open(middle) {
  let sheet = null;
  let saving = Promise.resolve();
  const table = h("div", { class: "wide" });
  const wrong = h("div", { "aria-live": "polite" });
  const heard = h("div", { "aria-live": "polite" });
  const steps = h("span", { class: "push" });
  const shelf = h("section", {});
  let more = false;
  into(middle, h("h2", {}, say("page.orders")), h("p", { class: "small" }, say("orders.words"), " ", say("orders.meaning")), h("div", { class: "sheet" }, table, h("div", { class: "bar" }, h("button", { type: "button", onclick: () => { rows().push({}); paint(); focus(sheet.rows.length - 1, "order"); } }, say("orders.more")), h("button", { type: "button", "aria-pressed": "false", onclick: (event) => { more = !more; event.currentTarget.setAttribute("aria-pressed", String(more)); paint(); } }, say("orders.asking")), steps), heard, wrong), shelf);

  const rows = () => sheet.rows;
  const columns = () => [...MAIN, ...sheet.columns.filter((name) => !MAIN.includes(name) && (more || rows().some((row) => row[name])))];
  const focus = (row, name) => table.querySelector(`[data-at="${row} ${name}"]`)?.focus();

  function paint() {
    // there is always a cell to type or paste into
    if (!rows().length) rows().push({});
    const names = columns();
    const product = (row, number) => h("select", { "aria-label": `${say("orders.product")} ${number + 1}`, "data-at": `${number} product`, onchange: (event) => set(row, "product", event.target.value) }, h("option", { value: "" }, ""), [...new Set([...sheet.products, row.product].filter(Boolean))].map((name) => h("option", { value: name, selected: name === row.product }, name)));
    // a day is written as the page's language does, whatever the browser's own field of dates would ask for
    const due = (row, number) => {
      const typed = h("input", { type: "text", placeholder: say("orders.due_hint"), "aria-label": `${say("orders.due")} ${number + 1}`, "data-at": `${number} due`, value: written(row.due), autocomplete: "off", onchange: (event) => set(row, "due", event.target.value), onpaste: (event) => paste(event, number, "due") });
      const picker = h("input", { type: "date", class: "unseen", tabindex: "-1", "aria-label": say("orders.calendar"), value: /^\d{4}-\d\d-\d\d$/.test(row.due ?? "") ? row.due : "", onchange: (event) => {
        typed.value = written(event.target.value);
        set(row, "due", event.target.value);
      } });
      return h("span", { class: "day" }, typed, picker, h("button", { type: "button", tabindex: "-1", title: say("orders.calendar"), "aria-label": `${say("orders.calendar")} – ${number + 1}`, onclick: () => picker.showPicker() }, "▾"));
    };
    const cell = (row, number, name) => {
      if (name === "product" && (sheet.products.includes(row.product) || !row.product)) return product(row, number);
      if (name === "due") return due(row, number);
      return h("input", { type: "text", inputmode: name === "quantity" || name === "priority" ? "numeric" : null, "aria-label": `${say(`orders.${name}`)} ${number + 1}`, "data-at": `${number} ${name}`, value: row[name] ?? "", autocomplete: "off", onchange: (event) => set(row, name, event.target.value), onpaste: (event) => paste(event, number, name) });
    };
    into(
      table,
      h("table", { class: "grid" }, h("thead", {}, h("tr", {}, names.map((name) => h("th", { scope: "col" }, say(`orders.${name}`))), h("th", {}, h("span", { class: "unseen" }, say("orders.remove"))))),
        h("tbody", {}, rows().map((row, number) => h("tr", {}, names.map((name) => h("td", { class: ["quantity", "priority"].includes(name) ? "tight" : ROOMY.includes(name) ? `roomy of-${name}` : `of-${name}` }, cell(row, number, name))), h("td", { class: "last" }, h("button", { type: "button", title: say("orders.remove"), "aria-label": `${say("orders.remove")} ${number + 1}`, onclick: () => { rows().splice(number, 1); paint(); save(); } }, "×")))))),
    );
    if (!rows().some((row) => row.order || row.product)) table.append(h("p", { class: "small" }, say("orders.none")));
    faults();
  }

  function faults() {
    const at = (place) => /^row (\d+)(?: > (\w+))?/.exec(place);
    // a row of the file by its number is one of those here that hold something, the names of columns being the first
    const filled = [...rows().keys()].filter((number) => Object.values(rows()[number]).some((cell) => String(cell ?? "").trim()));
    const shown = (number) => filled[number - 2] ?? number - 2;
    const words = (one) => `${one.place.replace(/^row (\d+)/, (all, number) => `row ${shown(Number(number)) + 1}`)}: ${one.value}: ${one.mend}`;
    into(wrong, sheet.faults.length ? h("div", { class: "wrong" }, h("b", {}, sheet.draft ? say("orders.draft") : say("orders.faults")), sheet.faults.slice(0, 8).map((one) => h("p", {}, said(words(one))))) : null);
    for (const td of table.querySelectorAll(".wrongcell")) td.classList.remove("wrongcell");
    for (const one of sheet.faults) {
      const found = at(one.place);
      if (!found) continue;
      for (const input of table.querySelectorAll(`[data-at^="${shown(Number(found[1]))} "]`)) {
        if (!found[2] || input.dataset.at.endsWith(` ${found[2]}`)) {
          input.parentElement.classList.add("wrongcell");
          input.title = plainly(one.mend);
        }
      }
    }
    into(steps,
      h("button", { type: "button", disabled: !sheet.undo, title: say("view.undo"), "aria-label": say("view.undo"), onclick: deed(() => step(-1)) }, "↶"), " ",
      h("button", { type: "button", disabled: !sheet.redo, title: say("view.redo"), "aria-label": say("view.redo"), onclick: deed(() => step(1)) }, "↷"));
  }

  async function step(by) {
    sheet = await post("/api/orders/step", { by });
    paint();
  }

  function set(row, name, value) {
    row[name] = value.trim();
    save();
  }

  function paste(event, number, name) {
    const text = event.clipboardData.getData("text");
    if (!/[\t\n]/.test(text.trim())) return;
    event.preventDefault();
    const names = columns();
    const typed = text.replace(/\r/g, "").split("\n").filter((line) => line.trim());
    // cells of a spreadsheet come with tabs between them, rows of a file with semicolons or commas
    const between = ["\t", ";", ","].find((mark) => typed.every((line) => line.includes(mark))) ?? "\t";
    let lines = typed.map((line) => line.split(between).map((cell) => cell.trim().replace(/^"(.*)"$/, "$1")));
    let order = names.slice(names.indexOf(name));
    const notes = [];
    const first = lines[0];
    const heads = headings(lines);
    if (heads) {
      lines = lines.slice(1);
      order = heads.order;
      if (heads.product) notes.push(say("orders.as_product", { name: heads.product }));
    }
    const left = first.map((cell, column) => [cell, column]).filter(([, column]) => !order[column] && lines.some((cells) => cells[column]));
    if (left.length) notes.push(say("orders.not_taken", { names: left.map(([cell, column]) => `“${(heads && cell) || column + 1}”`).join(", "), known: sheet.columns.map((one) => say(`orders.${one}`)).join(", ") }));
    if (!order.some(Boolean)) return into(heard, notes.map((note) => h("p", { class: "note" }, note)));
    const taken = new Map();
    lines.forEach((cells, index) => {
      rows()[number + index] ??= {};
      cells.forEach((cell, column) => {
        if (!order[column]) return;
        rows()[number + index][order[column]] = order[column] === "product" ? product(cell) ?? cell : cell;
        if (order[column] === "product" && product(cell) && product(cell) !== cell) taken.set(cell, product(cell));
      });
    });
    for (const [typed, name] of taken) notes.push(say("orders.taken_as", { typed, name }));
    paint();
    save();
    into(heard, notes.map((note) => h("p", { class: "note" }, note)));
    tell(say("orders.pasted", { count: lines.length }));
  }

  // case, hyphens and spaces tell no two names apart
  const plain = (text) => text.toLowerCase().replace(/[\s_.:-]+/g, " ").trim();

  function product(cell) {
    const alike = sheet.products.filter((one) => plain(one) === plain(cell));
    return sheet.products.includes(cell.trim()) ? cell.trim() : alike.length === 1 ? alike[0] : undefined;
  }

  // what the columns are, where a first row of names says so, and each is taken once; one without a known name that
  // holds products is theirs
  function headings([first, ...lines]) {
    const named = (cell) => sheet.columns.find((one) => [one, say(`orders.${one}`), ...sheet.headings[one]].some((name) => plain(name) === plain(cell)));
    const order = first.map(named).map((one, at, all) => (all.indexOf(one) === at ? one : undefined));
    const row = first.some((cell) => product(cell) || /^\d+$/.test(cell));
    // or it names them in words of its own, over numbers of pieces
    const numbers = first.some((cell, at) => cell && lines.every((cells) => Number(cells[at]) > 0));
    if (row || !lines.length || !(order.some(Boolean) || numbers)) return null;
    const held = (column) => lines.map((cells) => cells[column]).filter(Boolean);
    const column = order.includes("product") ? -1 : order.findIndex((one, at) => !one && held(at).length && 2 * held(at).filter(product).length >= held(at).length);
    if (column >= 0) order[column] = "product";
    return { order, product: column >= 0 && first[column] };
  }

  function save() {
    const sent = rows().map((row) => Object.fromEntries(Object.entries(row).map(([name, value]) => [name, String(value ?? "")])));
    const filled = rows().filter((row) => Object.values(row).some((cell) => String(cell ?? "").trim()));
    saving = saving.then(() => put("/api/orders", { rows: sent })).then((answer) => {
      // a day in words comes back as it is written
      answer.rows.forEach((row, number) => {
        const input = table.querySelector(`[data-at="${rows().indexOf(filled[number])} due"]`);
        if (!input || input === document.activeElement || row.due === filled[number].due || !/^\d{4}-\d\d-\d\d$/.test(row.due)) return;
        input.value = filled[number].due = row.due;
      });
      Object.assign(sheet, { faults: answer.faults, draft: answer.draft, undo: answer.undo, redo: answer.redo });
      faults();
    }).catch((fault) => tell(said(fault.message)));
    return saving;
  }

  // drawings and products

  let made = null;

  async function products() {
    made = await get("/api/products");
    const drop = h("label", { class: "drop" }, h("b", {}, say("drawing.drop")), h("br"), h("small", {}, say("drawing.kinds")), h("input", { class: "unseen", type: "file", accept: ".svg,.dxf,.pdf", multiple: true, onchange: (event) => bring(event.target.files) }));
    drop.addEventListener("dragover", (event) => { event.preventDefault(); drop.classList.add("over"); });
    drop.addEventListener("dragleave", () => drop.classList.remove("over"));
    drop.addEventListener("drop", (event) => { event.preventDefault(); drop.classList.remove("over"); bring(event.dataTransfer.files); });
    const used = new Set(made.products.map((one) => one.pattern));
    into(
      shelf,
      h("div", { class: "title" }, h("h2", {}, say("product.title"))),
      h("p", { class: "small" }, say("product.words")),
      drop,
      h("div", { class: "gallery top" },
        made.products.map((one, number) => article(one, number)),
        Object.entries(made.drawings).filter(([name]) => !used.has(name)).map(([name, one]) => h("article", { class: "sheet" }, one.parts.length ? draw.parts(one.parts, { "aria-label": name }) : null, h("h3", {}, name), one.fault ? h("p", { class: "bad" }, said(one.fault)) : [
          h("p", { class: "small" }, say("drawing.unlisted")),
          lines(name, one),
          h("button", { type: "button", onclick: deed(async () => { if (one.guessed) await post(`/api/drawings/${name}/agree`); await post(`/api/drawings/${name}/list`); await products(); }) }, say("drawing.list"))]))),
    );
  }

  // what the lines of a drawing are, by their colours
  function key(parts, every = false) {
    const kinds = [["outline", "drawing.cut"], ["cutout", "line.cutout"], ["stitch", "line.stitch"], ["engrave", "line.engrave"], ["fold", "line.fold"]];
    const there = { outline: parts.length, cutout: parts.some((part) => part.cutouts.length), stitch: parts.some((part) => part.stitch.length), engrave: parts.some((part) => part.engrave.length), fold: parts.some((part) => part.folds.length) };
    return h("div", { class: "key" }, kinds.filter(([kind]) => every || there[kind]).map(([kind, word]) => h("span", {}, s("svg", { class: "thumb", viewBox: "0 0 18 6", "aria-hidden": "true" }, s("path", { class: `label-${kind}`, d: "M0 3H18" })), " ", say(word))),
      every ? h("span", {}, say("drawing.not_drawn")) : null);
  }

  const folds = (parts) => (parts.some((part) => part.folds.length) ? h("p", { class: "small" }, say("drawing.folds")) : null);

  // what only a person can say of the lines of a colour
  const question = (name, { colour, count }) => h("div", { class: "note" },
    h("p", {}, s("svg", { class: "patch", viewBox: "0 0 10 10", "aria-hidden": "true" }, s("rect", { width: 10, height: 10, fill: colour })), " ", say("drawing.asked", { count, colour: say(`hue.${hue(colour)}`) })),
    h("div", { class: "ticks" }, ["cutout", "engrave", "stitch", ""].map((label) => h("button", { type: "button", onclick: deed(async () => { await post(`/api/drawings/${name}/colour`, { colour, label }); await products(); }) }, say(`all.${label || "none"}`)))));

  const lines = (name, one) => [
    one.asked.map((asked) => question(name, asked)),
    key(one.parts),
    folds(one.parts),
    one.told.map((text) => h("p", { class: "small" }, said(text))),
    h("button", { type: "button", onclick: () => label(name) }, say("drawing.lines")),
    one.guessed ? h("button", { type: "button", onclick: deed(async () => { await post(`/api/drawings/${name}/agree`); await products(); }) }, say("drawing.agree")) : null,
  ];

  function article(one, number) {
    const drawing = made.drawings[one.pattern];
    const change = (part, key, value) => deed(async () => {
      made = await post("/api/products", { product: number, part, key, value });
      await products();
    })();
    return h("article", { class: "sheet" },
      drawing?.parts.length ? draw.parts(drawing.parts, { "aria-label": say("drawing.of", { name: one.name }) }) : h("p", { class: "bad" }, drawing?.fault ? said(drawing.fault) : say("drawing.missing", { name: one.pattern })),
      h("h3", {}, one.name),
      h("small", {}, say("product.parts", { count: one.parts.reduce((sum, part) => sum + Number(part.count) * (part.mirrored_twin ? 2 : 1), 0) }), one.price ? ` · ${isNaN(one.price) ? one.price : money(one.price)}` : ""),
      field(say("product.price"), h("input", { value: one.price ?? "", size: 6, inputmode: "decimal", "aria-label": `${say("product.price")} ${one.name}`, onchange: (event) => change(null, "price", event.target.value.trim() || null) })),
      drawing ? lines(one.pattern, drawing) : null,
      h("button", { type: "button", onclick: () => needs(one, number, change) }, say("product.needs")));
  }

  function needs(one, number, change) {
    const drawing = made.drawings[one.pattern];
    const pick = (names, now, work, label) => h("select", { "aria-label": label, onchange: (event) => work(event.target.value) }, names.map(([value, text]) => h("option", { value, selected: value === now }, text)));
    const close = h("button", { class: "deed", type: "button", onclick: () => dialog.close() }, say("page.done"));
    const dialog = h("dialog", { "aria-label": one.name },
      h("h2", {}, one.name),
      h("div", { class: "bar" },
        field(say("product.name"), h("input", { value: one.name, onchange: (event) => change(null, "name", event.target.value) })),
        field(say("product.same_hide"), pick([["no", say("same.no")], ["piece", say("same.piece")], ["order", say("same.order")]], one.same_hide, (value) => change(null, "same_hide", value), say("product.same_hide"))),
        field(say("product.burn"), pick([["", say("burn.lines")], ["yes", say("burn.yes")], ["no", say("burn.no")]], one.burn === null ? "" : one.burn ? "yes" : "no", (value) => change(null, "burn", value ? value === "yes" : null), say("product.burn"))),
        field(say("product.longer"), pick(["knife", "two loads", "refuse"].map((name) => [name, say(`longer.${name.replace(" ", "_")}`)]), one.longer, (value) => change(null, "longer", value), say("product.longer")))),
      h("div", { class: "ticks" }, ["filler", "partial", "same_lot", "flesh_out"].map((key) => tick(say(`product.${key}`), { checked: one[key], onchange: (event) => change(null, key, event.target.checked) }))),
      h("div", { class: "wide" }, h("table", { class: "grid" }, h("thead", {}, h("tr", {}, ["name", "size", "count", "grade", "direction", "tolerance", "thickness", "twin"].map((name) => h("th", { scope: "col" }, say(`product.${name}`))))), h("tbody", {}, one.parts.map((part, index) => {
        const drawn = drawing?.parts.find((row) => row.name === part.name);
        const label = (name) => `${say(`product.${name}`)} ${part.name}`;
        return h("tr", {},
          h("td", {}, part.name), h("td", {}, drawn ? size(...drawn.size_mm) : ""),
          h("td", { class: "tight" }, h("input", { "aria-label": label("count"), inputmode: "numeric", value: part.count, onchange: (event) => change(index, "count", Number(event.target.value)) })),
          h("td", {}, pick([..."ABCDE"].map((grade) => [grade, grade]), part.grade, (value) => change(index, "grade", value), label("grade"))),
          h("td", {}, pick(["free", "along", "across", "fixed"].map((name) => [name, say(`direction.${name}`)]), part.direction, (value) => change(index, "direction", value), label("direction"))),
          h("td", { class: "tight" }, h("input", { "aria-label": label("tolerance"), inputmode: "decimal", value: part.tolerance_deg, onchange: (event) => change(index, "tolerance_deg", Number(event.target.value)) })),
          h("td", {}, h("input", { "aria-label": label("thickness"), placeholder: "1.2-1.8 mm", value: Array.isArray(part.thickness_mm) ? `${part.thickness_mm.join("-")} mm` : (part.thickness_mm ?? ""), onchange: (event) => change(index, "thickness_mm", event.target.value) })),
          h("td", {}, h("input", { type: "checkbox", "aria-label": label("twin"), checked: part.mirrored_twin, onchange: (event) => change(index, "mirrored_twin", event.target.checked) })));
      })))),
      h("p", { class: "small" }, say("product.meaning")),
      h("div", { class: "bar" }, h("button", { type: "button", onclick: deed(async () => { if (!confirm(say("product.remove_sure", { name: one.name }))) return; await ask("DELETE", `/api/products/${number}`); dialog.close(); await products(); }) }, say("product.remove")), h("span", { class: "push" }, close)));
    show(dialog);
  }

  function show(dialog) {
    dialog.addEventListener("close", () => dialog.remove());
    document.body.append(dialog);
    dialog.showModal();
  }

  function label(name) {
    const view = new View(say("drawing.view"));
    const picked = h("div", { class: "ticks", "aria-live": "polite" });
    const dialog = h("dialog", { class: "large", "aria-label": name }, h("h2", {}, name), h("p", { class: "small" }, say("drawing.point")), key([], true), view.element, picked, h("div", { class: "bar" }, h("button", { type: "button", onclick: deed(async () => { await post(`/api/drawings/${name}/step`, { by: -1 }); await again(); }) }, say("view.undo")), h("span", { class: "push" }, h("button", { class: "deed", type: "button", onclick: () => { dialog.close(); products(); } }, say("page.done")))));
    const again = async () => { made = await get("/api/products"); paintLines(); };

    function paintLines() {
      const all = [Infinity, Infinity, -Infinity, -Infinity];
      into(view.world);
      into(picked);
      made.drawings[name].parts.forEach((part, index) => {
        const box = draw.bounds(part.outline);
        for (const side of [0, 1]) { all[side] = Math.min(all[side], box[side]); all[side + 2] = Math.max(all[side + 2], box[side + 2]); }
        const group = s("g", { class: "thumb" }, s("path", { d: draw.path(part.outline) }));
        for (const [kind, key, closed] of [["cutout", "cutouts", true], ["stitch", "stitch", false], ["engrave", "engrave", false], ["fold", "folds", false]]) {
          part[key].forEach((line, number) => group.append(s("g", { class: "line", onclick: (event) => pick(event.currentTarget, index, kind, number) }, s("path", { class: `label-${kind}`, d: draw.path(line, closed) }), s("path", { class: "reach", d: draw.path(line, closed) }))));
        }
        group.append(draw.text((box[0] + box[2]) / 2, box[1] - 6, 5, part.name, { class: "name" }));
        view.world.append(group);
      });
      view.show([all[0], all[1] - 12, all[2], all[3]]);
    }

    function pick(node, part, kind, number) {
      for (const other of view.world.querySelectorAll(".line.chosen")) other.classList.remove("chosen");
      node.classList.add("chosen");
      into(picked, h("span", {}, say("drawing.is")), LABELS.map((one) => h("button", { type: "button", "aria-pressed": String(one === kind), onclick: deed(async () => {
        await post(`/api/drawings/${name}/line`, { part, kind, number, label: one });
        await again();
      }) }, say(`line.${one.replace(" ", "_") || "none"}`))), h("div", { class: "small" }, ["engrave", "engrave_fill", "engrave_line"].map((one) => h("p", {}, h("b", {}, say(`line.${one}`)), " ", say(`line.${one}_is`)))));
    }
    view.tapped = (event) => {
      // the svg holds the pointer, so that the line under it has to be looked for
      document.elementsFromPoint(event.clientX, event.clientY).find((node) => node.classList?.contains("reach"))?.parentNode.dispatchEvent(new Event("click"));
    };
    show(dialog);
    paintLines();
  }

  async function bring(files) {
    for (const file of files) {
      tell(say("drawing.reading", { name: file.name }));
      try {
        const task = await done(await ask("POST", `/api/drawings?name=${encodeURIComponent(file.name.slice(-180))}`, file, "application/octet-stream"));
        tell(task.answer.guessed ? say("drawing.look", { name: file.name }) : say("drawing.brought", { name: file.name }));
        for (const text of task.answer.told) tell(said(text));
      } catch (fault) {
        tell(said(fault.message));
      }
    }
    sheet.products = (await get("/api/orders")).products;
    paint();
    await products();
  }

  sheet = await get("/api/orders");
  paint();
  await products();
  return {
    changed: async (what) => {
      if (what === "products" || what === "all") soon("products", 200, deed(async () => {
        if (document.querySelector("dialog[open]")) return;
        await products();
      }));
      if (what === "all") { sheet = await get("/api/orders"); paint(); }
    },
  };
}
