// The plan: choose leather, search, watch it improve, and settle it by hand.

import { deed, get, maybe, post, tell } from "./ask.js";
import { refresh, state, takenUp, tints } from "./bench.js";
import { credit } from "./credit.js";
import { curve } from "./curve.js";
import * as draw from "./draw.js";
import { facts, field, h, into, s, soon, tick } from "./make.js";
import { plainly, said } from "./said.js";
import { View } from "./view.js";
import { amount, area, count, day, money, percent, say, seconds, settings, thickness } from "./words.js";

const TIMES = [10, 30, 120, 600, 3600];
const FEW = 12; // hides whose names are shown without being asked for
const LAP = 40; // mm between hides on the bench
let remembered = { seconds: 30, hides: null };

export async function open(middle) {
  const view = new View(say("plan.picture"));
  const title = h("div", { class: "title" });
  const bar = h("div", { class: "bar" });
  const state_ = h("div", { "aria-live": "polite" });
  const sums = h("div", { class: "sheet" });
  const lines = h("div", { class: "sheet" });
  const about = h("div", { class: "sheet pointed" });
  const costs = h("div", {});
  const out = h("div", {});
  into(middle, title, bar, state_, view.element, h("div", { class: "cards" }, about, sums, lines), costs, out);

  let shown = null; // the layout drawn
  let live = null; // the search under way, as last told
  let points = [];
  let chosen = null; // key of the part chosen
  let places = new Map(); // hide -> [dx, dy] on the bench
  let nodes = new Map(); // key -> its group
  let trying = null;
  const colours = () => tints(shown?.parts);

  const running = () => state.bench.tasks.find((task) => task.kind === "plan" && task.state === "running") ?? (live?.state === "running" ? live : null);

  function controls() {
    const task = running();
    into(title, h("h2", {}, say("plan.title")), state.bench.stale && shown && !task ? h("span", { class: "note" }, say("plan.stale")) : null);
    if (task) {
      const told = task.told ?? {};
      const step = { reading: "plan.reading", warming: "plan.warming", checking: "plan.checking", drawing: "plan.drawing" }[told.step];
      into(
        bar,
        h("button", { class: "stop", type: "button", disabled: task.stopping, onclick: deed(async () => { live = await post("/api/plan/stop"); controls(); }) }, task.stopping ? say("plan.stopping") : say("plan.stop")),
        h("div", { class: "field push", id: "far" }, h("span", {}, step ? say(step) : told.of ? say("plan.searching", { placed: count(Math.max(told.placed, shown?.live ? shown.parts.length : 0)), of: count(told.of), time: seconds(told.seconds) }) : say("plan.reading")), h("progress", { max: "1", ...(told.share === undefined ? {} : { value: told.share }), "aria-label": say("plan.far") })),
      );
      return;
    }
    const hides = state.bench.hides.filter((hide) => !hide.fault);
    const time = h("select", {}, TIMES.map((one) => h("option", { value: one, selected: one === remembered.seconds }, seconds(one))));
    time.value = remembered.seconds;
    time.onchange = () => { remembered.seconds = Number(time.value); };
    const picked = () => remembered.hides?.length ?? hides.length;
    const names = h("summary", {});
    const tellPicked = () => into(names, say("plan.picked", { count: count(picked()), of: count(hides.length) }));
    tellPicked();
    const ticks = hides.map((hide) => tick(hide.name, { value: hide.name, checked: remembered.hides === null || remembered.hides.includes(hide.name), onchange: () => {
      const on = [...bar.querySelectorAll("fieldset input:checked")].map((one) => one.value);
      remembered.hides = on.length === hides.length ? null : on;
      tellPicked();
    } }));
    const all = (on) => () => {
      remembered.hides = on ? null : [];
      for (const one of bar.querySelectorAll("fieldset input")) one.checked = on;
      tellPicked();
    };
    const choice = h("div", { class: "ticks" }, ticks);
    const begin = (resume) => deed(async () => {
      if (remembered.hides?.length === 0) throw new Error(say("plan.no_hide"));
      live = await post("/api/plan", { seconds: remembered.seconds, hides: remembered.hides ? hides.filter((hide) => remembered.hides.includes(hide.name)).map((hide) => hide.id) : [], resume });
      points = [];
      state.bench.tasks = [live];
      select(null);
      controls();
    });
    const faulty = state.bench.faults.length > 0 || !hides.length;
    into(
      bar,
      h("fieldset", {}, h("legend", {}, say("plan.hides")), hides.length <= FEW ? choice : h("details", { open: picked() < hides.length }, names, h("div", { class: "bar" },
        h("button", { type: "button", onclick: all(true) }, say("plan.every_hide")),
        h("button", { type: "button", onclick: all(false) }, say("plan.no_hides"))), choice)),
      field(say("plan.time"), time),
      shown ? h("button", { class: "deed", type: "button", disabled: faulty, onclick: begin(true) }, say("plan.go_on")) : null,
      h("button", { class: shown ? "" : "deed", type: "button", disabled: faulty, onclick: begin(false) }, shown ? say("plan.anew") : say("plan.begin")),
      shown ? h("span", { class: "push" },
        h("button", { type: "button", disabled: !shown.undo, title: say("view.undo"), "aria-label": say("view.undo"), onclick: deed(() => post("/api/layout/step", { by: -1 })) }, "↶"), " ",
        h("button", { type: "button", disabled: !shown.redo, title: say("view.redo"), "aria-label": say("view.redo"), onclick: deed(() => post("/api/layout/step", { by: 1 })) }, "↷")) : null,
    );
  }

  function words() {
    const faults = state.bench.faults;
    into(
      state_,
      !state.bench.hides.length ? h("p", { class: "note" }, say("plan.needs_hide"), " ", h("a", { href: "#/leather" }, say("leather.add"))) : null,
      faults.length && state.bench.hides.length ? h("div", { class: "wrong" }, h("b", {}, say("plan.faults")), faults.slice(0, 6).map((fault) => h("p", {}, said(fault)))) : null,
      state.bench.notes.map((note) => h("p", { class: "note" }, takenUp(note))),
      (shown?.tight ?? []).map((one) => h("p", { class: "note" }, say("plan.tight"), " ", said(one))),
      (shown?.unfilled ?? []).map((one) => h("p", { class: "note" }, said(one), " ", h("a", { href: "#/workshop" }, say("page.workshop")))),
      live?.state === "fault" ? h("div", { class: "wrong" }, live.faults.map((fault) => h("p", {}, said(fault)))) : null,
      live?.answer?.words ? h("p", { class: "note" }, said(live.answer.words)) : null,
      live?.state === "lost" ? h("div", { class: "note" }, live.told?.kept ? say("plan.lost_kept", { parts: plainly(live.told.kept) }) : say("plan.lost")) : null,
      (live?.told?.dropped ?? []).length ? h("details", { class: "note" }, h("summary", {}, say("plan.dropped", { count: live.told.dropped.length })), live.told.dropped.map((one) => h("p", {}, said(one)))) : null,
      (live?.told?.notes ?? []).length ? h("details", {}, h("summary", {}, say("plan.notes")), live.told.notes.map((one) => h("p", { class: "small" }, said(one)))) : null,
    );
  }

  function lay(hides) {
    // hides side by side in rows, about as wide as the picture
    places = new Map();
    const boxes = hides.map((hide) => [hide, draw.bounds(hide.outline)]);
    const whole = boxes.reduce((sum, [, box]) => sum + (box[2] - box[0] + LAP) * (box[3] - box[1] + LAP), 0);
    const { width, height } = view.element.getBoundingClientRect();
    const most = Math.max(Math.sqrt(whole * Math.max(width / Math.max(height, 1), 0.6)) * 1.05, ...boxes.map(([, box]) => box[2] - box[0] + LAP));
    let [x, y, row] = [0, 0, 0];
    const all = [Infinity, Infinity, -Infinity, -Infinity];
    for (const [hide, box] of boxes) {
      const [w, d] = [box[2] - box[0], box[3] - box[1]];
      if (x > 0 && x + w > most) {
        x = 0;
        y -= row + LAP;
        row = 0;
      }
      places.set(hide.id, [x - box[0], y - box[3]]);
      all[0] = Math.min(all[0], x);
      all[1] = Math.min(all[1], y - d);
      all[2] = Math.max(all[2], x + w);
      all[3] = Math.max(all[3], y + 22);
      x += w + LAP;
      row = Math.max(row, d);
    }
    view.show(all);
  }

  function picture() {
    nodes = new Map();
    view.world.replaceChildren();
    view.over.replaceChildren();
    const hides = shown ? shown.hides : state.bench.hides.filter((hide) => !hide.fault);
    if (!hides.length) return;
    lay(hides);
    const tint = colours();
    for (const hide of hides) {
      const [dx, dy] = places.get(hide.id);
      const group = s("g", { transform: `translate(${dx} ${dy})` }, draw.hide(hide));
      const box = draw.bounds(hide.outline);
      group.append(draw.text((box[0] + box[2]) / 2, box[3] + 8, 14, hide.id, { class: "name", "data-name": hide.id, "data-room": box[2] - box[0] + LAP }));
      for (const cut of shown?.cuts ?? []) if (cut.hide === hide.id) group.append(s("path", { class: `knife${draw.lines(hide)}`, d: draw.path(cut.line, false) }));
      for (const part of shown?.parts ?? []) {
        if (part.hide !== hide.id) continue;
        const shape = shown.shapes[part.shape];
        const node = draw.part(shape, part, tint.get(part.order));
        node.dataset.key = part.key;
        const [cx, cy] = draw.centre(shape.outline);
        const box = draw.bounds(shape.outline);
        const tall = Math.min(box[2] - box[0], box[3] - box[1]);
        if (tall > 9) {
          const words = s("g", { class: "fine", transform: `translate(${cx} ${cy}) rotate(${-part.angle})` }, draw.text(0, -2, Math.min(6, tall / 4), part.order), draw.text(0, -2 - Math.min(6.5, tall / 4), Math.min(5, tall / 5), part.part));
          node.append(words);
        }
        if (part.pinned) node.append(s("circle", { class: "pin", cx, cy, r: Math.max(1.6, Math.min(4, tall / 8)) }));
        nodes.set(part.key, node);
        group.append(node);
      }
      view.world.append(group);
    }
    names(view.k);
    if (chosen && nodes.has(chosen)) select(chosen);
    else select(null);
  }

  function figures() {
    const task = running();
    const total = shown?.figures?.total;
    const last = [...points].reverse().find((point) => point.cost !== undefined);
    const now = task && last ? last : total;
    const sold = now === total ? shown?.figures?.costs?.sold : null;
    into(sums, h("h3", {}, say("plan.made")), now
      ? h("div", { class: "sums" },
          h("div", {}, h("span", { class: "big" }, `${count(now.pieces_whole)} / ${count(now.pieces_wanted)}`), h("small", {}, say("plan.pieces"))),
          h("div", {}, h("span", { class: "big" }, percent(now.yield_of_consumed)), h("small", {}, say("plan.yield"))),
          h("div", {}, h("span", { class: "big" }, money(now.cost)), h("small", {}, say("plan.cost"))),
          sold ? h("div", {}, h("span", { class: "big" }, money(sold.margin)), h("small", {}, say("plan.margin", { price: money(sold.price) }))) : null,
          h("div", {}, h("span", { class: "big" }, area(now.consumed_mm2)), h("small", {}, say("plan.used"))))
      : h("p", { class: "small" }, shown ? say("plan.working_out") : say("plan.nothing_yet")),
      !task && Number(shown?.figures?.costs?.credited) ? h("p", { class: "small" }, say("plan.credited", { share: percent(shown.offcut_credit), area: area(total.offcuts_mm2), money: money(shown.figures.costs.credited) })) : null,
      !task && shown?.today && total ? h("p", { class: "note" }, shown.today.cost ? say("plan.today", { cost: money(shown.today.cost) }) : say("plan.today_working")) : null,
      !task && shown && total ? (shown.figures.costs?.notes ?? []).map((note) => h("p", { class: "small" }, said(note))) : null,
      !task && shown && total ? h("p", {}, h("a", { class: "button", href: "/api/made/report.html", target: "_blank", rel: "noopener" }, say("plan.report"))) : null);
    into(lines, h("h3", {}, say("curve.title")), points.length ? curve(points) : h("p", { class: "small" }, say("curve.none")));
  }

  function byOrder() {
    const found = shown?.live ? null : shown?.by_order;
    const kinds = ["leather", "machine", "labour", "masking", "other"].filter((kind) => kind !== "other" || Number(found?.total.other));
    const none = (kind) => found.unpriced.includes(kind);
    const priced = Boolean(found?.total.sold);
    const row = (one, name, own) => h("tr", own, h("td", { class: name.length < 20 ? "brief" : null }, own.class ? h("b", {}, name) : name), h("td", { class: "number" }, `${count(one.complete)} / ${count(one.pieces)}`), kinds.map((kind) => h("td", { class: "number" }, none(kind) ? "–" : amount(one[kind]))), h("td", { class: "number" }, h("b", {}, amount(one.total))), priced ? ["price", "margin"].map((name) => h("td", { class: "number" }, one.sold ? amount(one[name]) : "–")) : null);
    into(costs, !shown?.live && Number(shown?.figures?.total.cost) ? credit() : null, found?.rows.length ? h("section", { class: "sheet top" }, h("h3", {}, say("plan.by_order")), h("div", { class: "wide" }, h("table", { class: "dense" },
      h("thead", {}, h("tr", {}, h("th", { scope: "col" }, say("orders.order")), h("th", { scope: "col", class: "number" }, say("plan.pieces")), kinds.map((kind) => h("th", { scope: "col", class: "number" }, say(`cost.${kind}`), none(kind) ? [h("br"), h("small", {}, say("cost.no_price"))] : null)), h("th", { scope: "col", class: "number" }, say("plan.cost")), priced ? ["price", "margin"].map((name) => h("th", { scope: "col", class: "number" }, say(`cost.${name}`))) : null)),
      h("tbody", {}, found.rows.map((one) => row(one, one.order, {})), row(found.total, say("cost.all"), { class: "all" })))),
      h("p", { class: "small" }, say("cost.in", { currency: settings.currency }), " ", priced && found.total.sold < found.total.pieces ? say("cost.sold") : null)) : null);
  }

  function leftOut() {
    const rows = shown?.live ? [] : (shown?.left_out ?? []);
    const alike = new Map();
    for (const row of rows) {
      const name = [row.order, row.product, row.reason].join("\t");
      alike.set(name, { ...row, pieces: [...(alike.get(name)?.pieces ?? []), row.piece] });
    }
    const cells = (row) => [row.order, row.product, row.pieces.join(", "), day(row.due), said(row.reason)].map((text, place) => h("td", { class: place === 4 ? "broad" : place !== 1 && text.length < 20 ? "brief" : null }, text));
    const heads = [say("orders.order"), say("orders.product"), say("part.piece"), say("orders.due"), say("plan.why")];
    into(out, rows.length ? h("section", { class: "sheet top" }, h("h3", {}, say("plan.left_out", { count: rows.length })), h("div", { class: "wide" }, h("table", { class: "stacked" }, h("thead", {}, h("tr", {}, heads.map((name) => h("th", { scope: "col" }, name)))), h("tbody", {}, [...alike.values()].map((row) => h("tr", {}, cells(row)))))),
      shown.few_readings.map((one) => h("p", { class: "note" }, said(one)))) : null);
  }

  const partOf = (key) => shown?.parts.find((part) => part.key === key) ?? null;

  function select(key) {
    nodes.get(chosen)?.classList.remove("chosen");
    chosen = nodes.has(key) ? key : null;
    nodes.get(chosen)?.classList.add("chosen");
    view.over.replaceChildren();
    if (chosen) handle(partOf(chosen));
    details(partOf(chosen));
  }

  function handle(part) {
    // a knob to turn the part by
    if (part.burnt || running()) return;
    const [dx, dy] = places.get(part.hide);
    const shape = shown.shapes[part.shape];
    const [cx, cy] = draw.centre(shape.outline);
    const box = draw.bounds(shape.outline);
    const reach = box[2] - cx + 14;
    const group = s("g", { transform: `translate(${dx} ${dy}) ${draw.posed(part.x, part.y, part.angle)}` }, s("path", { class: "turnline", d: `M${cx} ${cy}L${cx + reach} ${cy}` }), s("circle", { class: "turn", cx: cx + reach, cy, r: Math.max(3, 9 / view.k) }));
    view.over.append(group);
  }

  function details(part) {
    const list = h("select", { "aria-label": say("part.choose"), onchange: (event) => select(event.target.value) }, h("option", { value: "" }, say("part.choose")), (shown?.parts ?? []).map((one) => h("option", { value: one.key, selected: one.key === part?.key }, `${one.order} · ${one.part} ${one.piece}.${one.copy} · ${one.hide}`)));
    list.value = part?.key ?? "";
    if (!part) {
      into(about, h("h3", {}, say("part.title")), shown ? [h("p", { class: "small" }, say("part.none")), list] : h("p", { class: "small" }, say("plan.nothing_yet")));
      return;
    }
    const costs = shown.figures?.costs?.pieces?.find((row) => row.order === part.order && row.product === part.product && row.piece === part.piece);
    into(
      about,
      h("h3", {}, `${part.part}`, part.mirrored ? ` · ${say("part.mirrored")}` : ""),
      facts([
        [say("orders.order"), part.order],
        [say("orders.product"), `${part.product} ${part.piece}`],
        [say("part.grade"), part.grade],
        [say("part.under"), part.under ? `${thickness(part.under[0])} – ${thickness(part.under[1])} (${percent(part.under[2])})` : null],
        [say("part.setting"), said(part.setting)],
        [say("part.where"), `${part.hide} / ${part.panel}`],
        [say("part.cost"), costs ? money(costs.total ?? costs.cost) : null],
        [say("part.margin"), costs?.margin ? money(costs.margin) : null],
        [say("part.state"), part.burnt ? say("loads.burnt") : part.pinned ? say("part.pinned") : say("part.free")],
      ]),
      h("div", { class: "ticks" },
        part.burnt ? null : h("button", { type: "button", "aria-pressed": String(part.pinned), disabled: Boolean(running()), onclick: deed(async () => { await post("/api/parts/pin", { keys: [part.key], stay: !part.pinned }); }) }, part.pinned ? say("part.unpin") : say("part.pin")),
        part.burnt ? null : h("button", { type: "button", title: say("part.left"), "aria-label": say("part.left"), onclick: () => nudge(part, 0, 0, 5) }, "⟲"),
        part.burnt ? null : h("button", { type: "button", title: say("part.right"), "aria-label": say("part.right"), onclick: () => nudge(part, 0, 0, -5) }, "⟳"),
        h("button", { type: "button", disabled: Boolean(running()), onclick: deed(async () => {
          if (!confirm(say("part.spoiled_sure", { part: part.part, order: part.order }))) return;
          await post("/api/parts/spoiled", { key: part.key });
          tell(say("part.spoiled_done"));
        }) }, say("part.spoiled"))),
      h("p", { class: "small" }, say("part.keys")),
      list,
    );
  }

  // where a part would lie when it is moved and turned about its middle
  function poseOf(part, dx, dy, turn, hide = part.hide) {
    const [cx, cy] = draw.centre(shown.shapes[part.shape].outline);
    const rotated = (angle) => [cx * Math.cos(angle) - cy * Math.sin(angle), cx * Math.sin(angle) + cy * Math.cos(angle)];
    const [a, b] = [rotated((part.angle * Math.PI) / 180), rotated(((part.angle + turn) * Math.PI) / 180)];
    const [from, to] = [places.get(part.hide), places.get(hide)];
    return { key: part.key, hide, x: part.x + a[0] - b[0] + dx + from[0] - to[0], y: part.y + a[1] - b[1] + dy + from[1] - to[1], angle: part.angle + turn };
  }

  function put(pose, part) {
    const node = nodes.get(part.key);
    const [from, to] = [places.get(part.hide), places.get(pose.hide)];
    node.setAttribute("transform", draw.posed(pose.x + to[0] - from[0], pose.y + to[1] - from[1], pose.angle));
    node.classList.remove("may", "not");
  }

  function verdict(part, answer) {
    const node = nodes.get(part.key);
    if (!node) return;
    node.classList.toggle("may", answer.may);
    node.classList.toggle("not", !answer.may);
    view.say(answer.may ? say("part.may") : reasons(answer.why), answer.may ? "good" : "bad");
  }

  const few = (why) => (why.some((one) => one.rule === 3) && shown.hides.some((hide) => hide.readings_missing) ? [say("part.few_readings")] : []);
  const reasons = (why) => [...why.slice(0, 3).map((one) => (one.rule ? `${say(`rule.${one.rule}`)}: ${plainly(one.what)}, ${plainly(one.value)} (${plainly(one.bound)})` : plainly(one.value))), ...few(why)].join("; ");

  // asks about the newest pose only, one question at a time
  async function attempt(part, pose) {
    if (trying) {
      trying.next = pose;
      return;
    }
    trying = { next: null };
    try {
      let now = pose;
      while (now) {
        const answer = await post("/api/parts/try", now);
        if (drag) verdict(part, answer);
        now = trying.next;
        trying.next = null;
      }
    } finally {
      trying = null;
    }
  }

  // names of hides keep their size on the screen; of one that is wider than its room the end is what tells it apart;
  // of many hides seen from afar there are none, for they would lie over the leather
  const names = (k) => {
    const far = (shown?.hides.length ?? 0) > FEW && LAP * k < 9;
    for (const name of view.world.querySelectorAll("text.name")) {
      name.setAttribute("font-size", 13 / k);
      const most = Math.max(Math.floor((name.dataset.room * k) / 8), 3);
      name.textContent = far ? "" : name.dataset.name.length > most ? `…${name.dataset.name.slice(1 - most)}` : name.dataset.name;
    }
  };
  view.scaled = (k) => soon("names", 20, () => names(k));

  let drag = null;

  async function settle(part, pose) {
    drag = null;
    const answer = await post("/api/parts/move", pose).catch((fault) => ({ may: false, why: [{ rule: 0, value: fault.message }] }));
    if (answer.may) {
      view.say(say("part.moved"), "good");
      Object.assign(part, { x: pose.x, y: pose.y, angle: pose.angle, hide: pose.hide, pinned: true });
      soon("quiet", 2500, () => view.say(""));
    } else {
      verdict(part, answer);
      const node = nodes.get(part.key);
      node?.classList.remove("may", "not");
      node?.classList.add("arriving");
      setTimeout(() => node?.classList.remove("arriving"), 300);
      put({ ...part, key: part.key }, part);
      view.say(`${say("part.back")} ${reasons(answer.why)}`, "bad");
    }
  }

  function nudge(part, dx, dy, turn) {
    if (part.burnt || running()) return;
    drag ??= { part, dx: 0, dy: 0, turn: 0 };
    drag.dx += dx;
    drag.dy += dy;
    drag.turn += turn;
    const pose = poseOf(part, drag.dx, drag.dy, drag.turn);
    put(pose, part);
    view.over.replaceChildren();
    attempt(part, pose);
    soon("nudge", 900, () => settle(part, pose));
  }

  view.grab = (event) => {
    if (!shown) return null;
    const turning = event.target.classList.contains("turn");
    const key = turning ? chosen : event.target.closest?.(".part")?.dataset.key;
    const part = partOf(key);
    if (!part) return null;
    const held = { tap: () => select(key) };
    if (part.burnt || running()) return held;
    const start = view.at(event);
    let pose = null;
    return {
      ...held,
      drag: (move) => {
        if (chosen !== key) select(key);
        if (!drag) view.say(say("part.looking"));
        drag = { part };
        const now = view.at(move);
        if (turning) {
          const [ox, oy] = places.get(part.hide);
          const middle = draw.centre(shown.shapes[part.shape].outline);
          const turn = (part.angle * Math.PI) / 180;
          const [cx, cy] = [part.x + ox + middle[0] * Math.cos(turn) - middle[1] * Math.sin(turn), part.y + oy + middle[0] * Math.sin(turn) + middle[1] * Math.cos(turn)];
          const by = ((Math.atan2(now[1] - cy, now[0] - cx) - Math.atan2(start[1] - cy, start[0] - cx)) * 180) / Math.PI;
          pose = poseOf(part, 0, 0, Math.abs(by) > 2 ? Math.round(by) : by);
        } else {
          const under = shown.hides.find((hide) => {
            const [ox, oy] = places.get(hide.id);
            const box = draw.bounds(hide.outline);
            return now[0] >= box[0] + ox && now[0] <= box[2] + ox && now[1] >= box[1] + oy && now[1] <= box[3] + oy;
          });
          pose = poseOf(part, now[0] - start[0], now[1] - start[1], 0, under?.id ?? part.hide);
        }
        view.over.replaceChildren();
        put(pose, part);
        nodes.get(key).parentNode.append(nodes.get(key));
        attempt(part, pose);
      },
      drop: () => settle(part, pose),
      leave: () => {
        drag = null;
        put(part, part);
      },
    };
  };
  view.tapped = () => {
    select(null);
    view.say("");
  };
  view.hover = (event) => {
    if (drag) return;
    const part = partOf(event.target.closest?.(".part")?.dataset.key);
    view.say(part ? `${part.order} · ${part.product} ${part.piece} · ${part.part} · ${say("part.grade")} ${part.grade}${part.under ? ` · ${thickness(part.under[0])} – ${thickness(part.under[1])}` : ""}` : "");
  };
  view.key = (event) => {
    const part = partOf(chosen);
    const step = event.shiftKey ? 10 : 1;
    if ((event.key === "." || event.key === ",") && shown?.parts.length) {
      const at = shown.parts.findIndex((one) => one.key === chosen);
      select(shown.parts.at((at + (event.key === "." ? 1 : -1) + shown.parts.length) % shown.parts.length).key);
      return true;
    }
    if (!part) return false;
    const moves = { ArrowLeft: [-step, 0, 0], ArrowRight: [step, 0, 0], ArrowUp: [0, step, 0], ArrowDown: [0, -step, 0], "[": [0, 0, 1], "]": [0, 0, -1], "{": [0, 0, 15], "}": [0, 0, -15] }[event.key];
    if (moves) nudge(part, ...moves);
    else if (event.key === "Escape") {
      if (drag) {
        soon("nudge", 0, () => {});
        drag = null;
        put(part, part);
        view.say("");
      }
      select(null);
    } else if (event.key === "p") deed(() => post("/api/parts/pin", { keys: [part.key], stay: !part.pinned }))();
    else return false;
    return true;
  };

  async function fetchLive() {
    const found = await maybe("/api/search");
    if (found?.layout) {
      const same = shown?.hides.map((hide) => hide.id).join() === found.layout.hides.map((hide) => hide.id).join();
      if (!same) view.touched = false;
      shown = { ...found.layout, undo: false, redo: false, live: true };
      picture();
    }
    if (found) points = found.curve;
    figures();
  }

  async function whole() {
    shown = state.layout;
    points = shown?.curve ?? [];
    if (running()) await fetchLive();
    controls();
    words();
    picture();
    figures();
    byOrder();
    leftOut();
  }

  await whole();
  return {
    changed: async () => {
      if (!drag) await whole();
    },
    task: async (task) => {
      if (task.kind !== "plan") return;
      live = task;
      const before = state.bench.tasks.find((one) => one.number === task.number);
      state.bench.tasks = [...state.bench.tasks.filter((one) => one.number !== task.number), ...(task.state === "running" ? [task] : [])];
      controls();
      words();
      if (before && task.state !== "running") await refresh().then(whole);
    },
    progress: (data) => {
      const task = running();
      if (!task) return;
      task.told = { ...task.told, ...data };
      points.push(data);
      soon("far", 200, () => {
        controls();
        figures();
      });
    },
    priced: (point) => {
      points.push(point);
      points.sort((a, b) => a.seconds - b.seconds);
      figures();
    },
    better: () => soon("better", 100, deed(fetchLive)),
    leave: () => {},
  };
}
