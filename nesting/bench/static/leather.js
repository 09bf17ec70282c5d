// Leather comes in: photos to trace, and hides to put right by pointing.

import { ask, deed, done, maybe, post, put, tell } from "./ask.js";
import { state } from "./bench.js";
import * as draw from "./draw.js";
import { facts, field, h, into, s, soon } from "./make.js";
import { plainly, said } from "./said.js";
import { View } from "./view.js";
import { area, length, money, say, thickness } from "./words.js";

export const open = (middle, name) => (name === "photo" || !name ? shelf(middle) : editor(middle, name));

// the shelf

async function shelf(middle) {
  const work = h("div", { "aria-live": "polite" });

  async function bring(files) {
    for (const file of files) {
      into(work, h("p", { class: "note" }, say("leather.looking", { name: file.name })));
      try {
        const task = await done(await ask("POST", `/api/photos?name=${encodeURIComponent(file.name.slice(-180))}`, file, "application/octet-stream"));
        await reference(task.answer.photo);
      } catch (fault) {
        into(work, h("div", { class: "wrong" }, said(fault.message)));
      }
    }
  }

  // what is known before a photo is traced, and what gives the scale
  async function reference(photo) {
    const name = h("input", { value: photo.replace(/\.\w+$/, ""), maxlength: 60 });
    const kind = h("select", {}, ["auto", "markers", "a4", "letter", "card"].map((one) => h("option", { value: one }, say(`reference.${one}`))));
    const thick = h("input", { placeholder: "1.8 mm, 4.5 oz", value: "" });
    const tannage = h("select", {}, ["", "vegetable", "chrome", "synthetic"].map((one) => h("option", { value: one }, say(`tannage.${one || "unknown"}`))));
    const [leather, colour, price] = [h("input", {}), h("input", {}), h("input", { inputmode: "decimal" })];
    let corners = [];
    let lengths = [];
    let pointing = null;
    const view = new View(say("leather.photo"));
    const picture = h("img", { alt: "" });
    const hint = h("p", { class: "small", "aria-live": "polite" }, say("leather.reference_words"));
    const told = h("div", { "aria-live": "polite" });
    picture.onload = () => {
      const [w, d] = [picture.naturalWidth, picture.naturalHeight];
      view.world.append(s("image", { href: `/api/photos/${photo}`, width: w, height: d, transform: `translate(0 0) scale(1 -1)` }));
      view.show([0, -d, w, 0]);
    };
    picture.src = `/api/photos/${photo}`;
    const mark = () => {
      const r = 7 / view.k;
      into(view.over, corners.length > 1 ? s("path", { class: "rough", d: draw.path(corners.map(([x, y]) => [x, -y]), corners.length === 4) }) : null, lengths.map((one) => s("path", { class: "rough", d: draw.path(one.slice(0, 2).map(([x, y]) => [x, -y]), false) })), [...corners, ...lengths.flatMap((one) => one.slice(0, 2))].map(([x, y]) => s("circle", { class: "point", cx: x, cy: -y, r })));
    };
    view.scaled = mark;
    view.tapped = (event) => {
      const [x, y] = view.at(event);
      const pixel = [x - 0.5, -y - 0.5];
      if (pointing === "corners") {
        corners = [...corners.slice(corners.length === 4 ? 4 : 0), pixel];
        if (corners.length === 4) { pointing = null; hint.textContent = say("leather.corners_done"); view.element.classList.remove("pointing"); }
        else hint.textContent = say("leather.corners", { left: 4 - corners.length });
      } else if (pointing === "length") {
        const open = lengths.find((one) => one.length < 2);
        if (!open) lengths.push([pixel]);
        else {
          open.push(pixel);
          pointing = null;
          view.element.classList.remove("pointing");
          const typed = prompt(say("leather.length_ask"));
          const mm = Number((typed ?? "").replace(",", "."));
          if (mm > 0) open.push(mm);
          else lengths = lengths.filter((one) => one !== open);
        }
      }
      mark();
    };
    const point = (what) => {
      pointing = what;
      if (what === "corners") corners = [];
      if (what === "corners" && kind.value === "auto") kind.value = "a4";
      view.element.classList.add("pointing");
      hint.textContent = what === "corners" ? say("leather.corners", { left: 4 }) : say("leather.length_words");
      mark();
    };
    const go = h("button", { class: "deed", type: "button", onclick: deed(async () => {
      into(told, h("p", { class: "note" }, say("leather.tracing")), h("progress", { "aria-label": say("leather.tracing") }));
      const asked = { photo, reference: kind.value, corners: corners.length === 4 ? corners : null, lengths: lengths.filter((one) => one.length === 3), nominal: thick.value, tannage: tannage.value, leather: leather.value, colour: colour.value, price: price.value };
      try {
        const task = await done(await post(`/api/hides/${encodeURIComponent(name.value.trim() || "hide")}/trace`, asked));
        location.hash = `#/leather/${task.answer.hide}`;
      } catch (fault) {
        into(told, h("div", { class: "wrong" }, h("b", {}, say("leather.not_traced")), h("p", {}, said(fault.message)), h("p", {}, say("leather.not_traced_words"))));
      }
    }) }, say("leather.trace"));
    into(work, h("section", { class: "sheet" }, h("h3", {}, say("leather.new", { photo })),
      h("fieldset", {}, h("legend", {}, say("leather.known")), h("div", { class: "bar" }, field(say("leather.name"), name), field(say("hide.leather"), leather), field(say("leather.tannage"), tannage), field(say("leather.thickness"), thick), field(`${say("leather.price")} ${state.bench.currency}`, price), field(say("leather.colour"), colour))),
      h("div", { class: "bar" }, field(say("leather.reference"), kind), h("button", { type: "button", onclick: () => point("corners") }, say("leather.point_corners")), h("button", { type: "button", onclick: () => point("length") }, say("leather.point_length")), go),
      hint, told, view.element));
  }

  function whole() {
    const drop = h("label", { class: "drop" }, h("b", {}, say("leather.drop")), h("br"), h("small", {}, say("leather.kinds")), h("input", { class: "unseen", type: "file", accept: "image/jpeg,image/png,image/webp", onchange: (event) => bring(event.target.files) }));
    drop.addEventListener("dragover", (event) => { event.preventDefault(); drop.classList.add("over"); });
    drop.addEventListener("dragleave", () => drop.classList.remove("over"));
    drop.addEventListener("drop", (event) => { event.preventDefault(); drop.classList.remove("over"); bring(event.dataTransfer.files); });
    const free = state.bench.untraced;
    into(middle, h("h2", {}, say("page.leather")), drop, work,
      free.length ? h("div", { class: "bar" }, h("span", {}, say("leather.untraced")), free.map((photo) => h("button", { type: "button", onclick: () => reference(photo) }, photo))) : null,
      h("div", { class: "gallery top" }, state.bench.hides.map((hide) => h("a", { class: "sheet", href: `#/leather/${hide.name}` }, hide.fault ? h("p", { class: "bad" }, said(hide.fault)) : draw.thumbnail(hide), h("h3", {}, hide.name), hide.fault ? null : h("small", {}, [area(hide.area_mm2), hide.nominal_mm ? thickness(hide.nominal_mm) : "", say(`tannage.${hide.tannage}`), hide.colour, money(hide.price)].filter(Boolean).join(" · "))))),
      h("p", { class: "small" }, h("a", { href: "/api/marker-sheets.pdf", download: "marker-sheets.pdf" }, say("workshop.markers_file")), " ", say("leather.markers")));
  }

  whole();
  return { changed: (what) => { if (!work.childNodes.length) whole(); else if (what === "hides") soon("rail", 100, () => {}); } };
}

// one hide

const TOOLS = ["look", "edge", "zone", "reading", "spine", "measure"];

async function editor(middle, name) {
  const view = new View(say("hide.picture"));
  const loupe = h("div", { class: "loupe", hidden: true });
  view.element.append(loupe);
  const bar = h("div", { class: "bar", role: "toolbar", "aria-label": say("hide.tools") });
  const side = h("div", { class: "stack" });
  const wrong = h("div", { "aria-live": "polite" });
  into(middle, h("div", { class: "title" }, h("h2", {}, name), h("a", { href: "#/leather" }, say("leather.back"))), bar, wrong, h("div", { class: "split" }, view.element, side));
  let one = await maybe(`/api/hides/${name}`);
  if (!one) {
    into(middle, h("p", { class: "wrong" }, say("leather.gone"), " ", h("a", { href: "#/leather" }, say("leather.back"))));
    return {};
  }
  let tool = "look";
  let chosen = null; // index of the point chosen, or of a doubt or zone
  let begun = []; // points of what is being drawn
  let answers = {}; // doubt -> answer
  let busy = false;
  let photo = null;

  const near = (pixels) => pixels / view.k;
  const ringOf = (ring) => (ring === 0 ? one.hide.outline : one.hide.holes[ring - 1]);

  // one after another, so that nothing done meanwhile is passed over; quietly where somebody may be typing
  let saving = Promise.resolve();
  function save(quietly = false) {
    busy = true;
    saving = saving.then(async () => {
      const sent = JSON.stringify(one.hide);
      const answer = await put(`/api/hides/${name}`, one.hide);
      const same = JSON.stringify(one.hide) === sent;
      one = { ...answer, hide: same ? (answer.hide ?? one.hide) : one.hide };
      if (quietly || !same) controls();
      else paint();
    }).catch((fault) => tell(said(fault.message))).finally(() => { busy = false; });
    return saving;
  }

  async function again() {
    one = (await maybe(`/api/hides/${name}`)) ?? one;
    paint();
  }

  function controls() {
    into(bar,
      TOOLS.map((what) => h("button", { type: "button", "aria-pressed": String(tool === what), onclick: () => { tool = what; begun = []; chosen = null; paint(); } }, say(`hide.tool_${what}`))),
      h("span", { class: "push" },
        h("button", { type: "button", disabled: !one.undo, title: say("view.undo"), "aria-label": say("view.undo"), onclick: deed(() => step(-1)) }, "↶"), " ",
        h("button", { type: "button", disabled: !one.redo, title: say("view.redo"), "aria-label": say("view.redo"), onclick: deed(() => step(1)) }, "↷")));
    into(wrong,
      h("p", { class: "small" }, say(`hide.how_${tool}`)),
      tool === "reading" ? measuring() : null,
      // there from the first, so that the photo stays where it is under the finger
      tool === "reading" ? h("p", { class: one.readings_missing && one.hide.readings?.length ? "note" : "note held" }, say("hide.readings_few", { count: one.readings_missing || 1, taken: one.hide.readings?.length || 1 })) : null,
      tool === "zone" ? h("div", { class: begun.length > 2 ? "ticks" : "ticks held", inert: begun.length <= 2 }, h("span", {}, say("hide.zone_grade")), [..."BCDE"].map((grade) => h("button", { type: "button", onclick: deed(() => zone(grade)) }, say(`hide.zone_${grade}`))), h("button", { type: "button", onclick: () => { begun = []; paint(); } }, say("hide.drop_it"))) : null,
      one.faults.length ? h("div", { class: "wrong" }, h("b", {}, one.draft ? say("hide.draft") : say("leather.faulty")), one.faults.slice(0, 4).map((fault) => h("p", {}, said(fault)))) : null);
  }

  // where a thickness is typed in; there from the first, too
  function measuring() {
    const mm = h("input", { inputmode: "decimal", size: "6" });
    return h("form", { class: begun.length ? "ticks measuring" : "ticks measuring held", inert: !begun.length, onsubmit: deed(async (event) => {
      event.preventDefault();
      const typed = Number(mm.value.trim().replace(",", ".").replace(/\s*mm$/, ""));
      if (!(typed > 0)) throw new Error(say("hide.reading_wrong", { typed: mm.value.trim() || "–" }));
      const [[x, y]] = begun;
      begun = [];
      one.hide.readings = [...(one.hide.readings ?? []), { x, y, mm: typed }];
      await save();
    }) }, h("label", {}, say("hide.reading_ask"), "\u00a0", mm), h("button", { class: "deed" }, say("hide.reading_add")), h("button", { type: "button", onclick: () => { begun = []; paint(); } }, say("hide.drop_it")));
  }

  async function step(by) {
    const answer = await post(`/api/hides/${name}/step`, { by });
    if (answer.gone) location.hash = "#/leather";
    else {
      one = answer;
      paint();
    }
  }

  async function zone(grade) {
    one.hide.zones = [...(one.hide.zones ?? []), { grade, kind: say("hide.zone_kind"), polygon: begun }];
    begun = [];
    await save();
  }

  function paint() {
    const hide = one.hide;
    if (!hide?.outline) {
      controls();
      into(side);
      return;
    }
    into(view.world);
    if (one.picture) {
      const [left, low, right, high] = one.picture.box;
      const address = `/api/hides/${name}/picture?at=${one.picture.at}`;
      view.world.append(s("image", { href: address, x: left, y: -high, width: right - left, height: high - low, preserveAspectRatio: "none", transform: "scale(1 -1)" }));
      photo = address;
    }
    view.world.classList.toggle("deep", one.tint?.deep === true);
    view.world.classList.toggle("pale", one.tint?.deep === false);
    const drawn = draw.hide({ ...hide, tint: one.tint, doubts: [], backbone: hide.backbone });
    if (one.picture) drawn.classList.add("over-photo");
    view.world.append(drawn);
    (hide.zones ?? []).forEach((zone) => {
      const [x, y] = draw.centre(zone.polygon);
      view.world.append(draw.text(x, y, 16, zone.grade, { class: "name" }));
    });
    one.doubts.forEach((doubt) => view.world.append(s("path", { class: `doubt${chosen === `d${doubt.number}` ? " chosen" : ""}`, "data-doubt": doubt.number, d: draw.path(doubt.polygon) }, s("title", {}, `${doubt.number} ${plainly(doubt.kind)}`))));
    (hide.suggestions ?? []).forEach((zone, index) => {
      const [x, y] = draw.centre(zone.polygon);
      view.world.append(s("path", { class: "zone suggested", d: draw.path(zone.polygon) }), draw.text(x, y, 16, `?${index + 1}`, { class: "name" }));
    });
    view.show(one.picture ? one.picture.box : draw.bounds(hide.outline));
    marks();
    controls();
    panels();
  }

  // marks of a constant size on the screen
  function marks() {
    const hide = one.hide;
    if (!hide?.outline) return;
    const shown = [];
    if (tool === "edge") {
      const r = near(view.k > 1.5 ? 7 : 4.5);
      [hide.outline, ...(hide.holes ?? [])].forEach((ring, number) => ring.forEach(([x, y], index) => shown.push(s("circle", { class: `point${chosen === `${number}:${index}` ? " chosen" : ""}`, "data-point": `${number}:${index}`, cx: x, cy: y, r }))));
    }
    for (const reading of hide.readings ?? []) shown.push(s("circle", { class: "reading", cx: reading.x, cy: reading.y, r: near(6) }), draw.text(reading.x, reading.y + near(9), near(12), thickness(reading.mm), { class: "measured" }));
    if (begun.length) {
      shown.push(s("path", { class: "rough", d: draw.path(begun, tool === "zone") }));
      for (const [x, y] of begun) shown.push(s("circle", { class: "point", cx: x, cy: y, r: near(6) }));
    }
    if (tool === "measure" && begun.length === 2) {
      const [[x0, y0], [x1, y1]] = begun;
      shown.push(draw.text((x0 + x1) / 2, (y0 + y1) / 2 + near(8), near(16), length(Math.hypot(x1 - x0, y1 - y0)), { class: "name" }));
    }
    into(view.over, shown);
  }
  view.scaled = () => soon("marks", 30, marks);

  function panels() {
    const hide = one.hide;
    const told = hide.trace;
    const edit = (key, label, given = {}) => field(label, h("input", { value: hide[key] ?? "", ...given, onchange: deed(async (event) => {
      const text = event.target.value.trim();
      const value = given.number ? Number(text.replace(",", ".")) : text;
      if (text === "") delete one.hide[key];
      else one.hide[key] = value;
      await save(true);
    }) }));
    const tannage = h("select", { onchange: deed(async (event) => { one.hide.tannage = event.target.value; await save(true); }) }, ["unknown", "vegetable", "chrome", "synthetic"].map((kind) => h("option", { value: kind, selected: kind === (hide.tannage ?? "unknown") }, say(`tannage.${kind}`))));
    into(side,
      one.doubts.length ? h("section", { class: "sheet" }, h("h3", {}, say("hide.doubts", { count: one.doubts.length })), h("p", { class: "small" }, say("hide.doubts_words")),
        h("div", { class: "doubts", tabindex: "0", role: "group", "aria-label": say("hide.doubts", { count: one.doubts.length }) }, one.doubts.map((doubt) => h("div", {},
          h("button", { type: "button", class: "plainly", onclick: () => show(doubt) }, `${doubt.number}. ${plainly(doubt.kind)}, ${length(doubt.size_mm)}`), doubt.wins_mm2 < 500 ? null : h("small", {}, ` ${say("hide.wins", { area: area(doubt.wins_mm2) })}`),
          h("div", { class: "answers" }, ["correct", "leather", "floor", "cut"].map((answer) => h("button", { type: "button", "aria-pressed": String(answers[doubt.number] === answer), title: say(`answer.${answer}_words`), onclick: () => { view.say(""); if (answers[doubt.number] === answer) delete answers[doubt.number]; else answers[doubt.number] = answer; panels(); } }, say(`answer.${answer}`))))))),
        h("button", { class: "deed", type: "button", disabled: !Object.keys(answers).length || !hide.photo, onclick: deed(retrace) }, say("hide.apply", { count: Object.keys(answers).length }))) : null,
      (hide.suggestions ?? []).length ? h("section", { class: "sheet" }, h("h3", {}, say("hide.suggested", { count: hide.suggestions.length })), h("p", { class: "small" }, say("hide.suggested_words")), hide.suggestions.map((flaw, index) => h("div", { class: "answers" }, h("span", { class: "over" }, `?${index + 1} · ${flaw.grade} · ${plainly(flaw.kind)}`), h("button", { type: "button", onclick: deed(() => sort([index + 1], false)) }, say("hide.accept")), h("button", { type: "button", onclick: deed(() => sort([index + 1], true)) }, say("hide.dismiss"))))) : null,
      (hide.zones ?? []).length ? h("section", { class: "sheet" }, h("h3", {}, say("hide.zones")), hide.zones.map((zone, index) => h("div", { class: "answers" }, h("select", { "aria-label": say("hide.zone_of", { number: index + 1 }), onchange: deed(async (event) => { zone.grade = event.target.value; await save(); }) }, [..."BCDE"].map((grade) => h("option", { value: grade, selected: grade === zone.grade }, grade))), h("input", { "aria-label": say("hide.zone_kind_of", { number: index + 1 }), value: zone.kind ?? "", onchange: deed(async (event) => { zone.kind = event.target.value; await save(); }) }), h("button", { type: "button", "aria-label": say("hide.zone_remove", { number: index + 1 }), onclick: deed(async () => { hide.zones.splice(index, 1); await save(); }) }, "×")))) : null,
      h("section", { class: "sheet" }, h("h3", {}, say("hide.facts")),
        facts([[say("hide.area"), area(polygonArea(hide))], [say("hide.readings"), `${(hide.readings ?? []).length}${hide.readings?.length && one.readings_missing ? ` · ${say("hide.readings_unused", { count: one.readings_missing })}` : ""}`], [say("hide.error"), told ? length(told.expected_error_mm) : null], [say("hide.scale"), told?.reference ? said(told.reference) : null]]),
        h("div", { class: "stack" }, edit("leather", say("hide.leather")), field(say("leather.tannage"), tannage), edit("nominal_mm", say("leather.thickness_mm"), { number: true, inputmode: "decimal" }), edit("price", say("leather.price"), { inputmode: "decimal" }), edit("colour", say("leather.colour")), edit("finish", say("hide.finish")), edit("lot", say("hide.lot"))),
        hide.tannage === "vegetable" ? null : h("p", { class: "note" }, say("hide.unsafe"))),
      h("section", { class: "sheet" }, h("div", { class: "ticks" }, hide.photo && state.bench.photos.includes(hide.photo) ? h("button", { type: "button", onclick: deed(retrace) }, say("hide.trace_again")) : null, h("button", { type: "button", onclick: deed(async () => {
        if (!confirm(say("hide.aside_sure", { name }))) return;
        await ask("DELETE", `/api/hides/${name}`);
        location.hash = "#/leather";
      }) }, say("hide.aside")))));
  }

  function polygonArea(hide) {
    const ring = (points) => Math.abs(points.reduce((sum, [x, y], i) => { const [u, v] = points[(i + 1) % points.length]; return sum + x * v - u * y; }, 0) / 2);
    return ring(hide.outline) - (hide.holes ?? []).reduce((sum, hole) => sum + ring(hole), 0);
  }

  function show(doubt) {
    chosen = `d${doubt.number}`;
    const box = draw.bounds(doubt.polygon);
    const edge = Math.max(40, box[2] - box[0], box[3] - box[1]);
    view.touched = false;
    const kept = view.box;
    view.box = [box[0] - edge, box[1] - edge, box[2] + edge, box[3] + edge];
    view.fit();
    view.touched = true;
    view.box = kept;
    for (const node of view.world.querySelectorAll("[data-doubt]")) node.classList.toggle("chosen", node.dataset.doubt === String(doubt.number));
    // answers by the names of the buttons that give them
    const settles = plainly(doubt.settles).replace(/\((correct|leather|floor|cut)\)/g, (all, answer) => `(${say(`answer.${answer}`)})`);
    view.say(`${plainly(doubt.kind)}: ${settles}`);
  }

  async function sort(numbers, drop) {
    one = await post(`/api/hides/${name}/suggestions`, { numbers, drop });
    paint();
  }

  async function retrace() {
    const by = { correct: [], leather: [], floor: [], cut: [] };
    for (const [number, answer] of Object.entries(answers)) by[answer].push(Number(number));
    into(wrong, h("p", { class: "note" }, say("leather.tracing")), h("progress", { "aria-label": say("leather.tracing") }));
    try {
      await done(await post(`/api/hides/${name}/trace`, { photo: one.hide.photo, answers: by, reference: { markers: "markers", a4: "a4", letter: "letter", card: "card" }[one.hide.trace?.reference] ?? "auto" }));
      answers = {};
      view.touched = false;
    } catch (fault) {
      tell(said(fault.message));
    }
    await again();
  }

  // pointing

  const nearest = (point) => {
    let best = [Infinity, 0, 0];
    [one.hide.outline, ...(one.hide.holes ?? [])].forEach((ring, number) => ring.forEach(([x, y], index) => {
      const [u, v] = ring[(index + 1) % ring.length];
      const share = Math.min(Math.max(((point[0] - x) * (u - x) + (point[1] - y) * (v - y)) / Math.max((u - x) ** 2 + (v - y) ** 2, 1e-9), 0), 1);
      const far = Math.hypot(point[0] - x - share * (u - x), point[1] - y - share * (v - y));
      if (far < best[0]) best = [far, number, index];
    }));
    return best;
  };
  const rounded = ([x, y]) => [Math.round(x * 100) / 100, Math.round(y * 100) / 100];

  view.grab = (event) => {
    const at = event.target.dataset?.point;
    if (tool !== "edge" || !at) return null;
    const [ring, index] = at.split(":").map(Number);
    const points = ringOf(ring);
    const before = points[index];
    return {
      tap: () => { chosen = at; marks(); },
      drag: (move) => {
        points[index] = rounded(view.at(move));
        chosen = at;
        view.world.querySelector("path.hide").setAttribute("d", draw.paths([one.hide.outline, ...(one.hide.holes ?? [])]));
        event.target.setAttribute("cx", points[index][0]);
        event.target.setAttribute("cy", points[index][1]);
        glass(move);
      },
      drop: () => { loupe.hidden = true; save(); },
      leave: () => { points[index] = before; loupe.hidden = true; paint(); },
    };
  };

  view.tapped = deed(async (event) => {
    const point = rounded(view.at(event));
    if (tool === "look") {
      const doubt = one.doubts.find((row) => row.number === Number(document.elementsFromPoint(event.clientX, event.clientY).find((node) => node.dataset?.doubt)?.dataset.doubt));
      if (doubt) show(doubt);
      else { chosen = null; view.say(""); for (const node of view.world.querySelectorAll("[data-doubt].chosen")) node.classList.remove("chosen"); }
    } else if (tool === "edge") {
      const [far, ring, index] = nearest(point);
      if (far < near(16)) {
        ringOf(ring).splice(index + 1, 0, point);
        chosen = `${ring}:${index + 1}`;
        await save();
      }
    } else if (tool === "zone") {
      begun.push(point);
      marks();
      controls();
    } else if (tool === "reading") {
      begun = [point];
      marks();
      controls();
      wrong.querySelector(".measuring input").focus({ preventScroll: true });
    } else {
      begun = begun.length === 2 ? [point] : [...begun, point];
      if (tool === "spine" && begun.length === 2) {
        one.hide.backbone = begun;
        begun = [];
        await save();
      } else marks();
    }
  });

  view.key = (event) => {
    if ((event.key === "Delete" || event.key === "Backspace") && tool === "edge" && chosen) {
      const [ring, index] = chosen.split(":").map(Number);
      if (ringOf(ring).length > 3) {
        ringOf(ring).splice(index, 1);
        chosen = null;
        save();
      }
    } else if (event.key === "Escape") {
      begun = [];
      chosen = null;
      paint();
    } else if (tool === "edge" && chosen && event.shiftKey && event.key.startsWith("Arrow")) {
      const [ring, index] = chosen.split(":").map(Number);
      const [dx, dy] = { ArrowLeft: [-0.5, 0], ArrowRight: [0.5, 0], ArrowUp: [0, 0.5], ArrowDown: [0, -0.5] }[event.key];
      const at = ringOf(ring)[index];
      ringOf(ring)[index] = rounded([at[0] + dx, at[1] + dy]);
      marks();
      soon("nudged", 600, save);
    } else return false;
    return true;
  };

  // a loupe at the pointer: the photo four times as large
  function glass(event) {
    if (!photo) return;
    const [x, y] = view.at(event);
    const [left, low, right, high] = one.picture.box;
    const zoom = 4 * view.k;
    loupe.hidden = false;
    loupe.style.backgroundImage = `url("${photo}")`;
    loupe.style.backgroundSize = `${(right - left) * zoom}px ${(high - low) * zoom}px`;
    loupe.style.backgroundPosition = `${72 - (x - left) * zoom}px ${72 - (high - y) * zoom}px`;
    const { left: edge, width } = view.element.getBoundingClientRect();
    loupe.classList.toggle("right", event.clientX - edge < width / 2);
  }
  view.hover = (event) => {
    if (tool !== "look" && event.pointerType === "mouse") glass(event);
    else loupe.hidden = true;
  };
  view.stage.addEventListener("pointerleave", () => { loupe.hidden = true; });

  paint();
  return { changed: async (what) => { if (!busy && what === "all") await again(); } };
}
