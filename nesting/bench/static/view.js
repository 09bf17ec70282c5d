// A drawing to move about in: wheel, fingers, keys and buttons. Its world is in mm, y up.

import { h, s } from "./make.js";
import { say } from "./words.js";

export class View {
  constructor(label) {
    this.world = s("g", { class: "world" });
    this.over = s("g", { class: "over" });
    this.svg = s("svg", { role: "group", "aria-label": label, tabindex: "0" }, this.world, this.over);
    this.verdict = h("div", { class: "verdict", role: "status", hidden: true });
    const button = (name, sign, work) => h("button", { type: "button", title: say(name), "aria-label": say(name), onclick: work }, sign);
    this.tools = h("div", { class: "tools" }, button("view.in", "+", () => this.zoom(1.4)), button("view.out", "−", () => this.zoom(1 / 1.4)), button("view.fit", "⤢", () => this.fit()));
    // what takes pointers stays while the picture in it is moved
    this.stage = h("div", { class: "stage" }, this.svg);
    this.element = h("div", { class: "canvas" }, this.stage, this.tools, this.verdict);
    this.box = [0, 0, 100, 100];
    this.k = 1;
    this.x = 0;
    this.y = 0;
    this.fingers = new Map();
    this.grab = null; // a part takes the pointer when this gives true
    this.key = null;
    this.touched = false;
    this.stage.addEventListener("wheel", (event) => this.#wheel(event), { passive: false });
    this.stage.addEventListener("pointerdown", (event) => this.#down(event));
    this.stage.addEventListener("pointermove", (event) => this.#move(event));
    this.stage.addEventListener("pointerup", (event) => this.#up(event));
    this.stage.addEventListener("pointercancel", (event) => this.#up(event));
    this.stage.addEventListener("keydown", (event) => this.#keys(event));
    new ResizeObserver(() => {
      if (!this.touched) this.fit();
    }).observe(this.element);
  }

  // the part of the world to show: left, low, right, high in mm
  show(box) {
    this.box = box;
    if (!this.touched) this.fit();
  }

  fit() {
    const { width, height } = this.stage.getBoundingClientRect();
    if (!width || !height) return;
    const [left, low, right, high] = this.box;
    this.k = Math.min((width - 24) / Math.max(right - left, 1), (height - 24) / Math.max(high - low, 1));
    this.x = width / 2 - (this.k * (left + right)) / 2;
    this.y = height / 2 + (this.k * (low + high)) / 2;
    this.touched = false;
    this.#draw();
  }

  zoom(by, px, py) {
    const { width, height } = this.stage.getBoundingClientRect();
    const [cx, cy] = px === undefined ? [width / 2, height / 2] : [px, py];
    const k = Math.min(Math.max(this.k * by, 0.02), 60);
    this.x = cx - ((cx - this.x) * k) / this.k;
    this.y = cy - ((cy - this.y) * k) / this.k;
    this.k = k;
    this.touched = true;
    this.#apply();
  }

  // where in the world a pointer is, mm
  at(event) {
    const { left, top } = this.stage.getBoundingClientRect();
    return [(event.clientX - left - this.x) / this.k, -(event.clientY - top - this.y) / this.k];
  }

  say(text, kind) {
    this.verdict.hidden = !text;
    this.verdict.className = `verdict ${kind ?? ""}`;
    this.verdict.textContent = text ?? "";
  }

  // While it moves, what is drawn is moved as it is, which costs little however much that is; drawn anew once it rests.
  #apply() {
    if (this.waiting) return;
    this.waiting = requestAnimationFrame(() => {
      this.waiting = 0;
      clearTimeout(this.resting);
      if (!this.drawn) {
        this.#draw();
        return;
      }
      const by = this.k / this.drawn.k;
      this.svg.style.transform = `translate(${this.x - this.drawn.x * by}px, ${this.y - this.drawn.y * by}px) scale(${by})`;
      this.resting = setTimeout(() => this.#draw(), 120);
    });
  }

  #draw() {
    const matrix = `matrix(${this.k} 0 0 ${-this.k} ${this.x} ${this.y})`;
    this.world.setAttribute("transform", matrix);
    this.over.setAttribute("transform", matrix);
    this.svg.classList.toggle("far", this.k < 0.9);
    this.svg.classList.toggle("farther", this.k < 0.3);
    this.svg.style.transform = "";
    this.drawn = { k: this.k, x: this.x, y: this.y };
    this.scaled?.(this.k);
  }

  #wheel(event) {
    event.preventDefault();
    const { left, top } = this.stage.getBoundingClientRect();
    this.zoom(Math.exp(-event.deltaY * (event.deltaMode === 1 ? 0.05 : 0.0016)), event.clientX - left, event.clientY - top);
  }

  #down(event) {
    if (event.button > 0) return;
    this.fingers.set(event.pointerId, [event.clientX, event.clientY]);
    this.stage.setPointerCapture(event.pointerId);
    if (this.fingers.size === 1) {
      this.holder = this.grab?.(event) ?? null;
      this.moved = 0;
    } else if (this.holder) {
      this.holder.leave?.();
      this.holder = null;
    }
  }

  #move(event) {
    const before = this.fingers.get(event.pointerId);
    if (!before) {
      this.hover?.(event);
      return;
    }
    const now = [event.clientX, event.clientY];
    const [dx, dy] = [now[0] - before[0], now[1] - before[1]];
    this.moved += Math.hypot(dx, dy);
    if (this.holder) {
      if (this.moved > 4) this.holder.drag?.(event);
      this.fingers.set(event.pointerId, now);
      return;
    }
    if (this.fingers.size === 2) {
      const other = [...this.fingers].find(([id]) => id !== event.pointerId)[1];
      const by = Math.hypot(now[0] - other[0], now[1] - other[1]) / Math.max(Math.hypot(before[0] - other[0], before[1] - other[1]), 1);
      const { left, top } = this.stage.getBoundingClientRect();
      this.x += dx / 2;
      this.y += dy / 2;
      this.zoom(by, (now[0] + other[0]) / 2 - left, (now[1] + other[1]) / 2 - top);
    } else {
      this.x += dx;
      this.y += dy;
      this.touched = true;
      this.#apply();
    }
    this.fingers.set(event.pointerId, now);
  }

  #up(event) {
    if (!this.fingers.delete(event.pointerId)) return;
    if (this.holder) {
      const holder = this.holder;
      this.holder = null;
      if (this.moved > 4) holder.drop?.(event);
      else holder.tap?.(event);
    } else if (this.moved <= 4) this.tapped?.(event);
  }

  #keys(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (this.key?.(event)) {
      event.preventDefault();
      return;
    }
    const by = { ArrowLeft: [60, 0], ArrowRight: [-60, 0], ArrowUp: [0, 60], ArrowDown: [0, -60] }[event.key];
    if (by) {
      this.x += by[0];
      this.y += by[1];
      this.touched = true;
      this.#apply();
    } else if (event.key === "+" || event.key === "=") this.zoom(1.25);
    else if (event.key === "-") this.zoom(0.8);
    else if (event.key === "0") this.fit();
    else return;
    event.preventDefault();
  }
}
