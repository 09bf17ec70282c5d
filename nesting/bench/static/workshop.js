// The workshop's own table: machine, margins, prices, the setting book and test pieces; and how the page speaks.

import { ask, deed, get, post, tell } from "./ask.js";
import { refresh, state } from "./bench.js";
import { facts, field, h, into, soon } from "./make.js";
import { said } from "./said.js";
import { inch, say, settings, size, thickness, three, useUnits } from "./words.js";

const TABLES = {
  machine: ["name", "bed_width_mm", "bed_height_mm", "rated_w", "bed_margin_mm", "bed_stop", "feed_through", "overhang_mm", "travel_mm_s", "engrave_mm_s", "acceleration_mm_s2", "load_minutes"],
  margins: ["kerf_mm", "gap_mm", "edge_mm", "knife_mm", "flaw_mm"],
  prices: ["currency", "machine_per_hour", "labour_per_hour", "labour_minutes_per_part", "masking_per_m2", "offcut_credit"],
  offcuts: ["smallest_mm"],
  thickness: ["confidence", "spread_mm"],
  engraving: ["depth"],
};
const CHOICES = { bed_stop: ["bottom left", "bottom right", "top left", "top right"], feed_through: ["none", "width", "height"], depth: ["shallow", "deep"] };
const TEXTS = ["name", "currency", "machine_per_hour", "labour_per_hour", "masking_per_m2"];

export async function open(middle) {
  let found = null;
  const booked = h("small", { class: "saved", role: "status", "data-of": "book" });

  // what became of a change, said beside where it was made
  function noted(mark, ...told) {
    into(mark, told);
    if (told.every((one) => typeof one === "string")) soon(`noted ${mark.dataset.of}`, 6000, () => into(mark));
  }

  async function change(table, key, text, mark) {
    const typed = text.trim();
    const plain = typed.replace(",", ".");
    const value = typed === "" ? null : !TEXTS.includes(key) && /^-?\d+(\.\d+)?$/.test(plain) ? Number(plain) : typed;
    try {
      found = await post("/api/workshop", { table, key, value });
      noted(mark, say("page.saved"));
      // the rest stays as it is: somebody may be typing there
      head();
    } catch (fault) {
      noted(mark, h("div", { class: "wrong" }, say("page.not_saved"), " ", said(fault.message)));
    }
  }

  function value(table, key) {
    const now = found.tables[table][key];
    const label = h("span", {}, h("b", {}, say(`key.${key}`)), " ", h("small", {}, say(`key.${key}_is`)));
    const mark = h("small", { class: "saved", role: "status", "data-of": `${table} ${key}` });
    const control = CHOICES[key]
      ? h("select", { onchange: (event) => change(table, key, event.target.value, mark) }, CHOICES[key].map((one) => h("option", { value: one, selected: one === now }, say(`choice.${one.replace(" ", "_")}`))))
      : h("input", { value: now, inputmode: TEXTS.includes(key) && key !== "currency" && key !== "name" ? "decimal" : null, onchange: (event) => change(table, key, event.target.value, mark) });
    // a guess that is right is told so by a tap: nothing would be typed over it
    const guessed = found.first.some(([, one]) => one === key);
    const right = guessed ? h("button", { type: "button", onclick: async () => { await change(table, key, String(control.value), mark); right.remove(); } }, say("workshop.right")) : null;
    return h("div", {}, h("label", { class: "field" }, label, control), right, mark);
  }

  const steps = h("span", { class: "push" });
  const head = () => into(steps,
    h("button", { type: "button", disabled: !found.undo, title: say("view.undo"), "aria-label": say("view.undo"), onclick: deed(() => step(-1)) }, "↶"), " ",
    h("button", { type: "button", disabled: !found.redo, title: say("view.redo"), "aria-label": say("view.redo"), onclick: deed(() => step(1)) }, "↷"));

  function paint() {
    head();
    const units = h("select", { onchange: (event) => { useUnits(event.target.value); refresh().then(paint); } }, h("option", { value: "mm", selected: !inch() }, say("unit.metric")), h("option", { value: "inch", selected: inch() }, say("unit.inch")));
    const language = h("select", { onchange: (event) => { document.cookie = `language=${event.target.value}; path=/; max-age=31536000; samesite=strict`; location.reload(); } }, [["en", "English"], ["de", "Deutsch"]].map(([one, name]) => h("option", { value: one, selected: one === settings.language }, name)));
    into(middle,
      h("div", { class: "title" }, h("h2", {}, say("page.workshop"))),
      h("div", { class: "bar" }, field(say("workshop.units"), units), field(say("workshop.language"), language), steps),
      found.first.length ? h("section", { class: "sheet top" }, h("h3", {}, say("workshop.first")), h("p", { class: "small" }, say("workshop.first_is")), h("div", { class: "cards" }, found.first.map(([table, key]) => value(table, key)))) : null,
      h("div", { class: "cards" }, Object.entries(TABLES).map(([table, keys]) => h("section", { class: "sheet stack" }, h("h3", {}, say(`workshop.${table}`)), keys.filter((key) => !found.first.some(([, one]) => one === key)).map((key) => value(table, key))))),
      kerf(), book(), swatches(),
      h("section", { class: "sheet top" }, h("h3", {}, say("workshop.markers")), h("p", { class: "small" }, say("workshop.markers_words")), h("a", { class: "button", href: "/api/marker-sheets.pdf", download: "marker-sheets.pdf" }, say("workshop.markers_file"))));
  }

  // a comb to cut, and its widths worked into the kerf
  function kerf() {
    const mark = h("div", { class: "saved", role: "status", "data-of": "kerf" });
    const [thick, teeth, slots] = [h("input", { placeholder: "1.8 mm, 4.5 oz" }), h("input", { placeholder: "5.81 5.79 5.80" }), h("input", { placeholder: "4.19 4.21" })];
    const comb = h("a", { class: "button", href: "/api/kerf-comb.svg", download: "kerf-comb.svg" }, say("workshop.comb_file"));
    thick.oninput = () => comb.setAttribute("href", `/api/kerf-comb.svg?thickness=${encodeURIComponent(thick.value)}`);
    return h("section", { class: "sheet top" }, h("h3", {}, say("workshop.comb")), h("p", { class: "small" }, say("workshop.comb_words")),
      h("div", { class: "bar" }, field(say("workshop.comb_thickness"), thick), comb),
      h("div", { class: "bar" }, field(say("workshop.teeth"), teeth), field(say("workshop.slots"), slots), h("button", { class: "deed", type: "button", onclick: async () => {
        try {
          found = await post("/api/kerf", { teeth: teeth.value, slots: slots.value });
          const told = say("workshop.measured", { kerf: three(found.kerf.mm), error: three(found.kerf.error_mm) });
          paint();
          noted(middle.querySelector('[data-of="kerf"]'), told);
        } catch (fault) {
          noted(mark, h("div", { class: "wrong" }, say("page.not_saved"), " ", said(fault.message)));
        }
      } }, say("workshop.measure"))), mark);
  }

  async function step(by) {
    found = await post("/api/workshop/step", { by });
    paint();
  }

  function book() {
    const input = (name, given = {}) => [name, h("input", { name, ...given })];
    const made = Object.fromEntries([input("thickness", { placeholder: "1.8 mm, 4.5 oz" }), input("speed", { inputmode: "decimal" }), input("power", { inputmode: "decimal" }), input("passes", { inputmode: "numeric", value: "1" }), input("spacing", { inputmode: "decimal", placeholder: "0.1" }), input("thinnest"), input("thickest"), input("leather"), input("name")]);
    const operation = h("select", {}, found.operations.map((one) => h("option", { value: one }, say(`operation.${one.replace(" ", "_")}`))));
    const number = (text) => Number(text.replace(",", "."));
    const fields = () => Object.entries(made).filter(([name]) => name !== "spacing" || operation.value !== "cut").map(([name, control]) => field(say(`book.${name}`), control, ["thinnest", "thickest", "leather", "spacing"].includes(name) ? say(operation.value !== "cut" && name.startsWith("thi") ? `book.${name}_engraved` : `book.${name}_is`) : null));
    const typed = h("div", { class: "bar" });
    operation.onchange = () => into(typed, fields());
    operation.onchange();
    return h("section", { class: "sheet top" }, h("div", { class: "title" }, h("h3", {}, say("book.title")), booked), h("p", { class: "small" }, say("book.words")),
      found.settings.length ? h("div", { class: "wide" }, h("table", { class: "book" }, h("thead", {}, h("tr", {}, ["name", "leather", "thickness", "speed", "power", "passes", "spacing", "window", "energy"].map((name) => h("th", { scope: "col" }, say(`book.${name}`))), h("th", {}, h("span", { class: "unseen" }, say("book.remove"))))), h("tbody", {}, found.settings.map(line)))) : h("p", { class: "note" }, say("book.empty")),
      h("details", {}, h("summary", {}, say("book.add")), h("div", { class: "bar" }, field(say("book.operation"), operation)), typed, h("div", { class: "bar" }, h("button", { class: "deed", type: "button", onclick: deed(async () => {
        found = await post("/api/settings", { name: made.name.value, thickness: made.thickness.value, speed_mm_s: number(made.speed.value), power_percent: number(made.power.value), passes: number(made.passes.value), operation: operation.value, leather: made.leather.value, line_spacing_mm: number(made.spacing.value), thinnest: made.thinnest.value, thickest: made.thickest.value });
        paint();
        noted(booked, say("page.saved"));
      }) }, say("book.put")))));
  }

  // a row of the setting book, its values to be changed where they stand
  function line(row) {
    const energy = h("div", {});
    const basis = h("small", {});
    const shown = { leather: (one) => one.leather, thickness_mm: (one) => thickness(one.thickness_mm), thinnest_mm: (one) => thickness(one.thinnest_mm), thickest_mm: (one) => thickness(one.thickest_mm), speed_mm_s: (one) => one.speed_mm_s, power_percent: (one) => one.power_percent, passes: (one) => one.passes, line_spacing_mm: (one) => one.line_spacing_mm || "" };
    const inputs = {};
    const told = (one) => {
      into(energy, `${three(one.energy)} J/mm`);
      into(basis, said(one.basis));
      for (const [key, input] of Object.entries(inputs)) if (input !== document.activeElement) input.value = shown[key](one);
    };
    const cell = (key, word, given = {}) => {
      inputs[key] = h("input", { "aria-label": `${say(`book.${word}`)} ${row.name}`, "data-key": key, value: shown[key](row), inputmode: "decimal", ...given, onchange: async (event) => {
        const typed = event.target.value.trim();
        const plain = typed.replace(",", ".");
        try {
          found = await post(`/api/settings/${encodeURIComponent(row.name)}`, { key, value: key === "leather" ? typed : plain && !isNaN(plain) && !key.startsWith("thi") ? Number(plain) : plain });
          told(found.settings.find((one) => one.name === row.name));
          head();
          noted(booked, say("page.saved"));
        } catch (fault) {
          noted(booked, h("div", { class: "wrong" }, say("page.not_saved"), " ", said(fault.message)));
        }
      } });
      return inputs[key];
    };
    const own = (...given) => h("td", {}, cell(...given));
    const made = h("tr", {}, h("td", {}, row.name, h("br"), h("small", {}, say(`operation.${row.operation.replace(" ", "_")}`))),
      own("leather", "leather", { placeholder: say("book.every"), inputmode: null }), own("thickness_mm", "thickness"), own("speed_mm_s", "speed"), own("power_percent", "power"), own("passes", "passes"),
      row.operation === "cut" ? h("td", {}) : own("line_spacing_mm", "spacing", { placeholder: "0" }),
      h("td", {}, h("div", { class: "stack" }, cell("thinnest_mm", "thinnest"), cell("thickest_mm", "thickest"))),
      h("td", {}, energy, basis),
      h("td", {}, h("button", { type: "button", "aria-label": `${say("book.remove")} ${row.name}`, title: say("book.remove"), onclick: deed(async () => { found = await ask("DELETE", `/api/settings/${encodeURIComponent(row.name)}`); paint(); noted(booked, say("page.saved")); }) }, "×")));
    told(row);
    return made;
  }

  function swatches() {
    const thick = h("input", { placeholder: "1.8 mm, 4.5 oz" });
    const operation = h("select", {}, found.operations.map((one) => h("option", { value: one }, say(`operation.${one.replace(" ", "_")}`))));
    const [leather, offcut, speed, power, apart] = [h("input", {}), h("input", {}), h("input", { inputmode: "decimal" }), h("input", { inputmode: "decimal" }), h("input", { inputmode: "decimal", placeholder: "0.1" })];
    const asked = field(say("book.spacing"), apart, say("book.spacing_is"));
    asked.hidden = true;
    operation.onchange = () => { asked.hidden = operation.value === "cut"; };
    const number = (text) => (text.trim() ? Number(text.replace(",", ".")) : null);
    return h("section", { class: "sheet top" }, h("h3", {}, say("swatch.title")), h("p", { class: "small" }, say("swatch.words")),
      h("div", { class: "bar" }, field(say("book.thickness"), thick), field(say("book.operation"), operation), field(say("book.leather"), leather), field(say("swatch.offcut"), offcut), field(say("swatch.speed"), speed), field(say("swatch.power"), power), asked, h("button", { type: "button", onclick: deed(async () => {
        await post("/api/swatches", { thickness: thick.value, operation: operation.value, leather: leather.value, offcut: offcut.value, speed_mm_s: number(speed.value), power_percent: number(power.value), line_spacing_mm: operation.value === "cut" ? null : number(apart.value) });
        found = await get("/api/workshop");
        paint();
      }) }, say("swatch.make"))),
      h("p", { class: "small" }, say("swatch.caution")),
      found.swatches.map(swatch));
  }

  function swatch(one) {
    const clean = new Set();
    let best = "";
    const rows = new Map();
    for (const cell of one.cells) rows.set(cell.y, [...(rows.get(cell.y) ?? []), cell]);
    const grid = h("div", { class: "swatch", role: "group", "aria-label": say("swatch.squares") });
    const told = h("p", { class: "small", "aria-live": "polite" });
    const [thin, wide] = [h("input", {}), h("input", {})];
    const draw = () => {
      into(grid, [...rows.entries()].sort((a, b) => b[0] - a[0]).map(([, cells]) => h("div", { class: "answers" }, cells.sort((a, b) => a.x - b.x).map((cell) => h("button", { type: "button", class: best === cell.name ? "best" : "", "aria-pressed": String(clean.has(cell.name)), onclick: () => {
        // first touch: clean; second: the best of them; third: neither
        if (!clean.has(cell.name)) clean.add(cell.name);
        else if (best !== cell.name) best = cell.name;
        else { best = ""; clean.delete(cell.name); }
        draw();
      } }, h("span", {}, h("b", {}, cell.name), h("br"), `${cell.speed_mm_s} mm/s`, h("br"), `${cell.power_percent} %`))))));
      told.textContent = best ? say("swatch.best", { best, count: clean.size }) : say("swatch.how");
    };
    draw();
    return h("details", { class: "sheet top" }, h("summary", {}, say("swatch.of", { thickness: thickness(one.thickness_mm), operation: say(`operation.${one.operation.replace(" ", "_")}`), leather: one.leather || say("book.every") })),
      facts([[say("swatch.size"), size(...one.size_mm)]]),
      h("a", { class: "button", href: `/api/swatches/${encodeURIComponent(one.name)}`, download: one.name }, say("swatch.file")),
      told, grid,
      h("div", { class: "bar" }, field(say("book.thinnest"), thin, say("swatch.window_is")), field(say("book.thickest"), wide, say("swatch.window_is")), h("button", { class: "deed", type: "button", onclick: deed(async () => {
        if (!best) throw new Error(say("swatch.no_best"));
        found = await post(`/api/swatches/${encodeURIComponent(one.name)}`, { best, clean: [...clean], thinnest: thin.value, thickest: wide.value });
        tell(say("swatch.taught"));
        paint();
        noted(booked, say("page.saved"));
      }) }, say("swatch.record"))));
  }

  found = await get("/api/workshop").catch((fault) => {
    into(middle, h("h2", {}, say("page.workshop")), h("div", { class: "wrong" }, said(fault.message)), state.bench.faults.map((one) => h("p", {}, said(one))));
    return null;
  });
  if (found) paint();
  return { changed: (what) => { if (what === "workshop") soon("workshop", 50, () => {}); } };
}
