// Dimension lines with their boxes, and shapes that can be dragged.

import { svg } from "./svg.js";
import { round, STEPS, TypedBox } from "./typed_box.js";

const LABELS = {
  "ear.width": ["Ear width", ""],
  "ear.hole": ["Hole of the ear, diameter", "⌀"],
  "ear.edge_distance": ["Ear: hole centre to the end", ""],
  "ear.grip_length": ["Ear: hole centre to the grip", ""],
  "ear.thickness": ["Ear thickness", ""],
  "ear.clip": ["Ear: cut corner, leg", ""],
  "ear.hole_slot": ["Ear: slot, longer than round by", "slot"],
  "ear.hole_offset": ["Ear: hole off the axis by", "off"],
  "ear.flare_depth": ["Ear: flare of the hole, depth", "flare"],
  "fit.gap": ["Gap beside the shank", "gap"],
  "shank.thickness": ["Shank thickness", ""],
  "shank.hole": ["Hole of the shank, diameter", "⌀"],
  "shank.edge_distance": ["Shank: hole centre to the end", ""],
  "pin.diameter": ["Pin diameter", "⌀"],
  "pull.angle": ["Angle of the pull", ""],
};

export class DimensionLines {
  // take(path, value, resting, stepped): a dimension is turned; resting is false while it is dragged.
  // hands.read(path) and hands.start(path): text and number of the case; hands.back(): undo.
  constructor(root, take, hands) {
    this.svg = root.querySelector("svg");
    this.dims = root.querySelector(".dims");
    Object.assign(this, { root, take, hands });
    this.boxes = {};
    this.scale = 1;
    this.dragging = false;
  }

  begin(scale) {
    this.scale = scale;
    this.used = new Set();
  }

  end() {
    for (const [path, { label }] of Object.entries(this.boxes)) label.hidden = !this.used.has(path);
  }

  add(name, attributes, text = null) {
    const made = svg(name, attributes, text);
    this.svg.append(made);
    return made;
  }

  // factor: millimetres of the value a millimetre of drag.
  across(path, a, b, y, foot, factor, aside = 0) {
    for (const x of [a, b]) this.add("path", { d: `M${x} ${foot + 4}V${y + 5}`, class: "foot" });
    this.#line(`M${a} ${y}H${b}`, [a, y, 1, 0], [b, y, -1, 0], Math.abs(b - a));
    this.grab(`M${a} ${y}H${b}`, "sideways", path, [factor, 0]);
    this.box(path, 0.5 * (a + b) + aside, y);
  }

  upright(path, a, b, x, foot, factor, side) {
    for (const y of [a, b]) this.add("path", { d: `M${foot + 4 * side} ${y}H${x + 5 * side}`, class: "foot" });
    this.#line(`M${x} ${a}V${b}`, [x, a, 0, 1], [x, b, 0, -1], b - a);
    this.grab(`M${x} ${a - 4}V${b + 4}`, "upright", path, [0, factor]);
    this.box(path, x + (b - a < 34 ? 14 * side : 0), 0.5 * (a + b) - (b - a < 34 ? 17 : 0));
  }

  leader(path, at, to, way) {
    const d = `M${at[0]} ${at[1]}L${to[0]} ${to[1]}`;
    this.#line(d, null, null, 0);
    this.grab(d, "any", path, [2 * way[0], 2 * way[1]]);
    this.box(path, to[0], to[1]);
  }

  #line(d, a, b, long) {
    this.add("path", { d, class: "dim-line" });
    for (const end of long > 18 ? [a, b] : []) {
      const [x, y, u, v] = end;
      this.add("path", { d: `M${x} ${y}l${7 * u - 2.5 * v} ${7 * v + 2.5 * u}l${5 * v} ${-5 * u}Z`, class: "dim-tip" });
    }
  }

  // A line that is dragged along a way; its value grows by `way` a millimetre of drag.
  grab(d, kind, path, way) {
    this.#drag(this.add("path", { d, class: `grab ${kind}` }), path, (x, y, from) => from.value + ((x - from.x) * way[0] + (y - from.y) * way[1]) / this.scale);
  }

  // A rim that is dragged to or from its middle.
  rim(d, path, x0, y0, factor) {
    const far = (x, y) => Math.hypot(x - x0, y - y0);
    this.#drag(this.add("path", { d, class: "grab any" }), path, (x, y, from) => from.value + (factor * (far(x, y) - far(from.x, from.y))) / this.scale);
  }

  // The tip of the pull, which turns about a point.
  tip(x, y, x0, y0) {
    const grip = this.add("circle", { cx: x, cy: y, r: 15, class: "grab turn" });
    this.#drag(grip, "pull.angle", (px, py) => (Math.atan2(y0 - py, px - x0) * 180) / Math.PI);
  }

  #drag(shape, path, read) {
    shape.dataset.turns = path;
    shape.addEventListener("pointerdown", (down) => {
      if (down.button || this.dragging) return;
      down.preventDefault();
      const box = this.svg.getBoundingClientRect();
      const from = { x: down.clientX - box.left, y: down.clientY - box.top, value: this.hands.start(path) ?? 0 };
      const turning = path === "pull.angle";
      const step = turning ? 1 : (STEPS[path] ?? 0.1) / 2;
      let last = null;
      this.dragging = true;
      this.root.classList.add("dragging");
      // the shapes are drawn anew while one drags; the drawing itself stays
      this.svg.setPointerCapture(down.pointerId);
      const move = (event) => {
        const value = read(event.clientX - box.left, event.clientY - box.top, from);
        const next = round(turning ? value : Math.max(value, step), step);
        if (next === last) return;
        last = next;
        this.take(path, next, false);
      };
      const up = () => {
        this.svg.removeEventListener("pointermove", move);
        for (const end of ["pointerup", "pointercancel"]) this.svg.removeEventListener(end, up);
        this.dragging = false;
        this.root.classList.remove("dragging");
        if (last !== null) this.take(path, last, true);
      };
      this.svg.addEventListener("pointermove", move);
      for (const end of ["pointerup", "pointercancel"]) this.svg.addEventListener(end, up);
    });
  }

  // A box on the drawing; the drawing's edges hold it.
  box(path, x, y) {
    this.used.add(path);
    this.boxes[path] ??= this.#newBox(path);
    const { label, typed } = this.boxes[path];
    label.style.left = `${Math.min(Math.max(x, 34), this.root.clientWidth - 34)}px`;
    label.classList.toggle("at-left", x < 120);
    label.classList.toggle("at-right", x > this.root.clientWidth - 120);
    label.style.top = `${y}px`;
    typed.show();
  }

  #newBox(path) {
    const [name, sign] = LABELS[path];
    const label = document.createElement("label");
    label.className = "dim";
    const input = document.createElement("input");
    const angle = path === "pull.angle";
    const said = `${name}, ${angle ? "degrees" : "mm, or with its unit"}`;
    input.setAttribute("aria-label", said);
    input.title = said;
    const typed = new TypedBox(input, path, {
      read: () => this.hands.read(path),
      take: (value, stepped) => this.take(path, value, true, stepped),
      back: this.hands.back,
    });
    if (sign) label.append(Object.assign(document.createElement("span"), { textContent: sign }));
    label.append(input);
    if (angle) label.append(Object.assign(document.createElement("span"), { textContent: "°" }));
    this.dims.append(label);
    return { label, typed };
  }
}
