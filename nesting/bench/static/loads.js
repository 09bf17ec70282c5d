// At the laser: one bed load after another, the files to burn, and ticks for what is burnt.

import { deed, done, get, post, tell } from "./ask.js";
import { inOrder, refresh, state, tints, turnOf, turnWords } from "./bench.js";
import * as draw from "./draw.js";
import { facts, field, h, into, s, tick } from "./make.js";
import { said } from "./said.js";
import { left } from "./shop.js";
import { count, day, length, moment, say } from "./words.js";

export async function open(middle) {
  let made = [];
  let lately = null;

  async function whole() {
    const layout = state.layout;
    if (!layout?.parts.length) {
      into(middle, h("h2", {}, say("page.loads")), h("p", { class: "note" }, say("loads.nothing"), " ", h("a", { href: "#/plan" }, say("page.plan"))));
      return;
    }
    const there = await get("/api/made");
    made = there.files;
    const kind = h("select", {}, h("option", { value: "svg" }, "SVG"), h("option", { value: "dxf" }, "DXF"));
    const heat = h("input", { type: "checkbox" });
    const notes = h("div", {});
    const write = h("button", { class: "deed", type: "button", onclick: deed(async () => {
      try {
        // what a search finds takes the place of the run before, its files to burn with it
        const searching = (await get("/api/bench")).tasks.find((task) => task.kind === "plan" && task.state === "running");
        if (searching) {
          write.textContent = say("loads.waits");
          await done(searching).catch(() => null);
        }
        write.textContent = say("loads.writing");
        const task = await done(await post("/api/export", { kind: kind.value, spread_heat: heat.checked }));
        await refresh();
        await whole();
        if (task.answer.findings.length) into(middle.querySelector(".told"), h("div", { class: "wrong" }, say("loads.broken"), task.answer.findings.slice(0, 5).map((one) => h("p", {}, said(one)))));
      } finally {
        write.textContent = say("loads.write");
      }
    }) }, say("loads.write"));
    const burn = made.filter((file) => file.kind === "burn");
    const fresh = burn.length > 0 && layout.cut_for === layout.mark;
    const tint = tints(layout.parts);
    const lying = new Map();
    for (const part of layout.parts) {
      const panel = `${part.hide}/${part.panel}`;
      if (!lying.has(panel)) lying.set(panel, []);
      lying.get(panel).push(part);
    }
    into(
      middle,
      h("div", { class: "title" }, h("h2", {}, say("page.loads"))),
      h("p", { class: "note" }, say("loads.caution")),
      burn.length && !fresh ? h("p", { class: "wrong" }, say("loads.old"), " ", inFolder(there)) : null,
      h("div", { class: "bar" }, field(say("loads.kind"), kind), h("label", { class: "tick" }, heat, say("loads.heat")), write,
        made.filter((file) => file.name === "cards.pdf" && fresh).map(() => h("a", { class: "button", href: "/api/made/cards.pdf", target: "_blank", rel: "noopener" }, say("loads.cards"))),
        fresh ? h("a", { class: "button", href: "/api/burn.zip" }, say("loads.all")) : null),
      state.bench.stale ? h("p", { class: "note" }, say("loads.stale"), " ", h("a", { href: "#/plan" }, say("loads.plan_again"))) : null,
      fresh ? h("p", { class: "small" }, say("loads.fresh"), " ", inFolder(there)) : null,
      fresh ? layout.told.map((one) => h("p", { class: "note" }, said(one))) : null,
      h("div", { class: "told" }),
      h("div", { class: "cards" }, inOrder(layout).map((panel) => load(panel, lying.get(`${panel.hide}/${panel.id}`) ?? [], layout.shapes, tint, fresh))),
      guides(layout),
    );
    if (lately) left(lately, middle.querySelector(".told"));
  }

  // what was written, as the folder has it
  function inFolder({ files, written }) {
    const kinds = [["burn", "loads.n_burn"], ["guide", "loads.n_guide"], ["template", "loads.n_template"]];
    const some = kinds.map(([kind, word]) => [files.filter((file) => file.kind === kind).length, word]).filter(([number]) => number).map(([number, word]) => say(word, { count: number }));
    if (files.some((file) => file.kind === "cards")) some.push(say("loads.cards"));
    return say("loads.written", { when: moment(written), what: some.join(", ") });
  }

  function load(panel, parts, shapes, tint, fresh) {
    // as it lies on the bed, the stops as the card has them
    const [left, low, right, high] = draw.bounds(draw.turned(panel.polygon, panel.turn));
    const group = s("g", { transform: `scale(1 -1) rotate(${panel.turn})` }, draw.hide({ outline: panel.polygon, tint: state.layout.hides.find((hide) => hide.id === panel.hide)?.tint }), parts.map((part) => draw.part(shapes[part.shape], part, tint.get(part.order))));
    const turn = turnOf(state.layout, panel);
    const when = turnWords(turn);
    const edge = 6;
    const picture = s("svg", { class: "load", viewBox: `${left - edge} ${-high - edge} ${right - left + 2 * edge} ${high - low + 2 * edge}`, role: "img", "aria-label": say("loads.picture", { hide: panel.hide, panel: panel.id }) }, group);
    const files = fresh ? made.filter((file) => file.name.startsWith(`${panel.hide}-panel-${panel.id}`) && /^(-|\.)/.test(file.name.slice(`${panel.hide}-panel-${panel.id}`.length))) : [];
    const orders = new Map();
    for (const part of parts) orders.set(`${part.order} ${part.product}`, (orders.get(`${part.order} ${part.product}`) ?? 0) + 1);
    const settings = [...new Set(parts.map((part) => part.setting).filter(Boolean))].join(", ");
    return h("article", { class: "sheet one-load" },
      h("h3", {}, `${panel.hide} /\u00a0${panel.id}`, when ? h("small", { class: turn.number === 1 ? "when soon" : "when" }, when) : null),
      picture,
      facts([
        [say("loads.waiting"), waiting(turn)],
        [say("loads.free"), turn?.lines.length ? say("loads.lines", { count: turn.lines.length, lines: turn.lines.join(", ") }) : null],
        [say("loads.size"), panel.size_mm.map((side) => length(side)).join(" × ")],
        [say("part.setting"), settings ? said(settings) : say("loads.by_hand")],
        [say("loads.in_it"), `${say("loads.parts", { count: count(parts.length) })}: ${[...orders].map(([name, number]) => `${count(number)} × ${name}`).join(", ")}`],
      ]),
      h("div", { class: "ticks" },
        files.map((file) => h("a", { class: "button", href: file.kind === "guide" ? `/look/${file.name}` : `/api/made/${file.name}${file.kind === "burn" ? "?take=true" : ""}`, ...(file.kind === "burn" ? { download: file.name } : { target: "_blank", rel: "noopener" }) }, file.kind === "burn" ? say("loads.file") : file.kind === "guide" ? say("loads.guide") : say("loads.template"))),
        tick(say("loads.is_burnt"), { checked: panel.burnt, onchange: deed(async (event) => {
          const ticked = event.target.checked;
          try {
            const now = await post("/api/panels/burnt", { hide: panel.hide, panel: panel.id, done: ticked });
            tell(say(ticked ? "loads.ticked" : "loads.unticked", { panel: `${panel.hide} / ${panel.id}` }));
            lately = ticked && now.offcuts ? now : null;
          } catch (fault) {
            event.target.checked = !ticked;
            throw fault;
          }
        }) })),
      panel.burnt ? h("details", {}, h("summary", {}, say("loads.spoiled")), h("p", { class: "small" }, say("loads.spoiled_words")), h("div", { class: "ticks" }, parts.map((part) => h("button", { type: "button", onclick: deed(async () => {
        if (!confirm(say("part.spoiled_sure", { part: part.part, order: part.order }))) return;
        await post("/api/parts/spoiled", { key: part.key });
        tell(say("part.spoiled_done"));
      }) }, `${part.order} ${part.part} ${part.piece}.${part.copy}`)))) : null,
    );
  }

  // the orders that wait for a load, by the day they are due
  function waiting(turn) {
    const days = new Map();
    for (const { order, due } of turn?.waiting ?? []) days.set(due, [...(days.get(due) ?? []), order]);
    return days.size ? [...days].map(([due, orders]) => h("div", {}, h("b", {}, due ? say("loads.due", { day: day(due) }) : say("loads.no_due")), ` ${orders.map((order) => order.replaceAll("-", "\u2011")).join(", ")}`)) : null;
  }

  function guides(layout) {
    const cutting = made.filter((file) => file.name.startsWith("cutting-guide-"));
    if (!cutting.length) return null;
    return h("section", {}, h("h3", {}, say("loads.knife")), h("p", { class: "small" }, say("loads.knife_words")), h("div", { class: "cards" }, cutting.map((file) => h("a", { class: "sheet", href: `/look/${file.name}`, target: "_blank", rel: "noopener" }, h("img", { src: `/api/made/${file.name}`, alt: say("loads.knife_picture", { name: file.name }), class: "fill", loading: "lazy" })))));
  }

  await whole();
  return { changed: whole };
}
