// The joint to scale: on the flat, and below it cut along the pin. Its dimensions are the input.

import { svg } from "./svg.js";

const ROW = 26; // height of a row of dimensions, px
const HEAD = [0.35, 0.3]; // what a head stands out and its height, over the pin's diameter

const LABELS = {
  "ear.width": ["Ear width", ""],
  "ear.hole": ["Hole of the ear, diameter", "⌀"],
  "ear.edge_distance": ["Hole centre to the end", ""],
  "ear.grip_length": ["Hole centre to the grip", ""],
  "ear.thickness": ["Ear thickness", ""],
  "ear.clip": ["Cut corner, leg", ""],
  "fit.gap": ["Gap beside the shank", "gap"],
  "shank.thickness": ["Shank thickness", ""],
  "shank.hole": ["Hole of the shank, diameter", "⌀"],
  "pin.diameter": ["Pin diameter", "⌀"],
  "pull.angle": ["Angle of the pull", ""],
};
export const STEPS = { "fit.gap": 0.05, "pull.angle": 1, "fit.friction": 0.01 };

export class Drawing {
  // change(path, value, resting): a dimension is turned; resting is false while it is dragged.
  constructor(root, change) {
    this.svg = root.querySelector("svg");
    this.dims = root.querySelector(".dims");
    this.root = root;
    this.change = change;
    this.boxes = {};
    this.held = null; // scale kept while a dimension is dragged
  }

  // Pixels a millimetre so that the joint fits.
  static scale(plain, width) {
    const ear = plain.ear[0];
    const { left, right } = reach(plain);
    const high = Math.max(ear.width, tilt(plain)) + grip(plain) + 1.6 * plain.pin.diameter;
    return Math.min((width - 2 * 70) / (left + right), 470 / high, 90);
  }

  draw(table, scale) {
    const plain = table.plain;
    this.table = table;
    if (this.held) scale = this.held;
    this.scale = scale;
    const width = this.root.clientWidth;
    const ear = plain.ear[0];
    const d = plain.pin.diameter;
    const { left, right } = reach(plain);
    const flatHalf = (0.5 * Math.max(ear.width, tilt(plain))) * scale;
    const flat = ROW * 1.3 + flatHalf;
    const head = plain.pin.ends === "headed" ? HEAD[1] * d : 0.25 * d;
    const cutTop = flat + flatHalf + ROW * 1.9 + head * scale;
    const height = cutTop + (grip(plain) + head) * scale + ROW * 1.5;
    const x0 = 0.5 * width + 0.5 * (left - right) * scale;
    this.svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.svg.style.height = `${height}px`;
    this.svg.replaceChildren();
    this.used = new Set();
    this.x0 = x0;
    this.#hatch();
    this.#flat(plain, x0, flat, scale, left);
    this.#cut(plain, x0, cutTop, scale, left, right);
    for (const [path, box] of Object.entries(this.boxes)) box.label.hidden = !this.used.has(path);
  }

  #hatch() {
    const pattern = svg("pattern", { id: "cut-hatch", width: 7, height: 7, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" });
    pattern.append(svg("path", { d: "M0 0V7", class: "hatch" }));
    const defs = svg("defs");
    defs.append(pattern);
    this.svg.append(defs);
  }

  #add(name, attributes, text = null) {
    const made = svg(name, attributes, text);
    this.svg.append(made);
    return made;
  }

  #flat(plain, x0, y0, s, left) {
    const ear = plain.ear[0];
    const turn = (plain.pull.angle * Math.PI) / 180;
    const out = [Math.cos(turn), -Math.sin(turn)];
    const shape = outline(ear, x0, y0, s, left);
    this.#add("path", { d: `${shape}Z`, class: "metal open" });
    this.#add("path", { d: shape, class: "rim" });
    this.#add("path", { d: torn(x0 - left * s, y0, 0.5 * ear.width * s), class: "break" });
    this.#add("circle", { cx: x0, cy: y0, r: 0.5 * ear.hole * s, class: "bore" });
    const shift = 0.5 * (ear.hole - plain.pin.diameter) * s;
    this.#add("circle", { cx: x0 + shift * out[0], cy: y0 + shift * out[1], r: 0.5 * plain.pin.diameter * s, class: "steel" });
    const arm = 0.5 * ear.hole * s + 9;
    this.#add("path", { d: `M${x0 - arm} ${y0}h${2 * arm}M${x0} ${y0 - arm}v${2 * arm}`, class: "centre" });
    const half = 0.5 * ear.width * s;
    const edge = x0 + ear.edge_distance * s;
    const below = y0 + half + 0.85 * ROW;
    this.#across("ear.grip_length", x0 - left * s, x0, below, y0 + half, -1);
    this.#across("ear.edge_distance", x0, edge, below, y0, 1);
    this.#upright("ear.width", y0 - half, y0 + half, x0 - left * s - 36, x0 - left * s, 2, -1);
    const r = 0.5 * ear.hole * s;
    this.#leader("ear.hole", [x0 - 0.707 * r, y0 - 0.707 * r], [x0 - r - 0.22 * half - 12, y0 - half - 0.55 * ROW], [-0.707, -0.707]);
    const corner = (typeof ear.clip === "number" ? ear.clip : 0) * s;
    if (ear.end === "clipped")
      this.#leader("ear.clip", [edge - 0.5 * corner, y0 + half - 0.5 * corner], [edge + 26, y0 + half - 0.5 * corner + 14], [-0.5, -0.5]);
    this.#pull(plain, x0, y0, s, out, edge);
  }

  // The pull: an arrow out of the pin, whose tip turns it.
  #pull(plain, x0, y0, s, out, edge) {
    const long = edge - x0 + 34;
    const tip = [x0 + long * out[0], y0 + long * out[1]];
    this.#add("path", { d: `M${x0} ${y0}L${tip[0]} ${tip[1]}`, class: "pull" });
    const [a, b] = [tip[0] - 9 * out[0], tip[1] - 9 * out[1]];
    this.#add("path", { d: `M${tip[0]} ${tip[1]}L${a - 4 * out[1]} ${b + 4 * out[0]}L${a + 4 * out[1]} ${b - 4 * out[0]}Z`, class: "pull-tip" });
    const grip = this.#add("circle", { cx: tip[0], cy: tip[1], r: 15, class: "grab turn" });
    this.#drag(grip, "pull.angle", (x, y) => (Math.atan2(y0 - y, x - x0) * 180) / Math.PI, true);
    const beside = Math.min(tip[0] + 26, this.root.clientWidth - 34);
    this.#box("pull.angle", beside, tip[1] + (out[1] < -0.3 ? -16 : out[1] > 0.3 ? 16 : 0) - 16);
  }

  #cut(plain, x0, top, s, left, right) {
    const d = plain.pin.diameter;
    const half = 0.5 * d * s;
    let y = top;
    const rows = [];
    plain.ear.forEach((ear, k) => {
      if (k === 0) {
        rows.push({ part: ear, y, ear: true });
        y += ear.thickness * s + plain.fit.gap[0] * s;
        rows.push({ part: plain.shank, y, ear: false });
        y += plain.shank.thickness * s;
      } else {
        y += plain.fit.gap[1] * s;
        rows.push({ part: ear, y, ear: true });
        y += ear.thickness * s;
      }
    });
    const bottom = y;
    for (const row of rows) {
      const high = row.part.thickness * s;
      const bore = 0.5 * row.part.hole * s;
      const shift = (row.ear ? -1 : 1) * (bore - half); // the pin bears on the ear's right side
      const [from, to] = row.ear
        ? [x0 - left * s, x0 + row.part.edge_distance * s]
        : [x0 - Math.min(row.part.edge_distance, left) * s, x0 + right * s];
      for (const [a, b] of [[from, x0 + shift - bore], [x0 + shift + bore, to]]) {
        const box = { x: a, y: row.y, width: Math.max(b - a, 0), height: high };
        this.#add("rect", { ...box, class: "metal open" });
        this.#add("rect", { ...box, class: "cut" });
        this.#add("path", { d: `M${a} ${row.y}H${b}M${a} ${row.y + high}H${b}`, class: "rim" });
        for (const end of [a, b])
          if (end !== (row.ear ? from : to)) this.#add("path", { d: `M${end} ${row.y}v${high}`, class: "rim" });
      }
      const broken = row.ear ? from : to;
      this.#add("path", { d: torn(broken, row.y + 0.5 * high, 0.5 * high), class: "break" });
    }
    this.#pin(plain, x0, top, bottom, half, s);
    const first = rows[0];
    const shank = rows[1];
    const [thick, shankHigh] = [first.part.thickness * s, shank.part.thickness * s];
    this.#upright("ear.thickness", first.y, first.y + thick, x0 - left * s - 22, x0 - left * s, 1, -1);
    this.#upright("shank.thickness", shank.y, shank.y + shankHigh, x0 + right * s + 22, x0 + right * s, 1, 1);
    const gap = first.y + thick + 0.5 * plain.fit.gap[0] * s;
    const near = x0 - left * s + 4;
    this.#leader("fit.gap", [near, gap], [near - 26, gap + Math.max(24, 0.45 * shankHigh)], [0, 0.8]);
    const wall = x0 + shank.part.hole * s - half;
    const inside = wall + Math.max(0.5 * (x0 + right * s - wall), 40);
    this.#leader("shank.hole", [wall, shank.y + 0.5 * shankHigh], [inside, shank.y + 0.5 * shankHigh], [1, 0]);
    this.#add("text", { x: 2, y: bottom + 1.3 * ROW, class: "word quiet" }, "mm");
    const under = bottom + (plain.pin.ends === "headed" ? HEAD[1] : 0.25) * d * s + 0.8 * ROW;
    this.#across("pin.diameter", x0 - half, x0 + half, under, bottom, 2, -62);
  }

  #pin(plain, x0, top, bottom, half, s) {
    const d = plain.pin.diameter;
    const bare = plain.pin.ends === "headed" ? 0 : 0.25 * d * s;
    const from = plain.pin.ends === "held" ? top : top - bare;
    this.#add("rect", { x: x0 - half, y: from, width: 2 * half, height: bottom + bare - from, class: "steel" });
    if (plain.pin.ends === "headed")
      for (const at of [top - HEAD[1] * d * s, bottom])
        this.#add("rect", { x: x0 - half - HEAD[0] * d * s, y: at, width: 2 * half + 2 * HEAD[0] * d * s, height: HEAD[1] * d * s, rx: 3, class: "steel" });
    if (plain.pin.ends === "held")
      this.#add("path", { d: `M${x0 - half - 5} ${top - 3}h${2 * half + 10}`, class: "held" });
    this.#add("path", { d: `M${x0} ${top - 0.45 * d * s - 8}V${bottom + 0.45 * d * s + 8}`, class: "centre" });
  }

  // Dimension lines. factor: millimetres of the value a millimetre of drag; 0 cannot be dragged.
  #across(path, a, b, y, foot, factor, aside = 0) {
    for (const x of [a, b]) this.#add("path", { d: `M${x} ${foot + 4}V${y + 5}`, class: "foot" });
    this.#line(`M${a} ${y}H${b}`, [a, y, 1, 0], [b, y, -1, 0], b - a);
    const grab = this.#add("path", { d: `M${a} ${y}H${b}`, class: "grab sideways" });
    const slide = factor < 0 ? -1 : factor;
    this.#drag(grab, path, null, false, [slide, 0]);
    this.#box(path, 0.5 * (a + b) + aside, y);
  }

  #upright(path, a, b, x, foot, factor, side) {
    for (const y of [a, b]) this.#add("path", { d: `M${foot + 4 * side} ${y}H${x + 5 * side}`, class: "foot" });
    this.#line(`M${x} ${a}V${b}`, [x, a, 0, 1], [x, b, 0, -1], b - a);
    const grab = this.#add("path", { d: `M${x} ${a - 4}V${b + 4}`, class: "grab upright" });
    this.#drag(grab, path, null, false, [0, factor]);
    this.#box(path, x + (b - a < 34 ? 14 * side : 0), 0.5 * (a + b) - (b - a < 34 ? 17 : 0));
  }

  #leader(path, at, to, way) {
    this.#line(`M${at[0]} ${at[1]}L${to[0]} ${to[1]}`, null, null, 99);
    const grab = this.#add("path", { d: `M${at[0]} ${at[1]}L${to[0]} ${to[1]}`, class: "grab any" });
    this.#drag(grab, path, null, false, [2 * way[0], 2 * way[1]]);
    this.#box(path, to[0], to[1]);
  }

  #line(d, a, b, long) {
    this.#add("path", { d, class: "dim-line" });
    for (const end of long > 18 ? [a, b] : []) {
      if (!end) continue;
      const [x, y, u, v] = end;
      this.#add("path", { d: `M${x} ${y}l${7 * u - 2.5 * v} ${7 * v + 2.5 * u}l${5 * v} ${-5 * u}Z`, class: "dim-tip" });
    }
  }

  // A number box on the drawing.
  #box(path, x, y) {
    this.used.add(path);
    this.boxes[path] ??= this.#newBox(path);
    const { label, input } = this.boxes[path];
    label.style.left = `${Math.min(Math.max(x, 34), this.root.clientWidth - 34)}px`;
    label.style.top = `${y}px`;
    const value = this.table.number(path);
    if (document.activeElement !== input || Number(input.value) !== value)
      if (!input.hasAttribute("aria-invalid")) input.value = shown(value);
  }

  #newBox(path) {
    const [name, sign] = LABELS[path];
    const label = document.createElement("label");
    label.className = "dim";
    const input = document.createElement("input");
    const angle = path === "pull.angle";
    Object.assign(input, { type: "number", step: "any", inputMode: "decimal" });
    input.setAttribute("aria-label", `${name}, ${angle ? "degrees" : "mm"}`);
    input.dataset.path = path;
    input.title = `${name}, ${angle ? "degrees" : "mm"}`;
    input.addEventListener("change", () => this.change(path, input.value === "" ? "" : Number(input.value), true));
    input.addEventListener("keydown", (event) => {
      const way = { ArrowUp: 1, ArrowDown: -1 }[event.key];
      if (!way) return;
      event.preventDefault();
      const step = (STEPS[path] ?? 0.1) * (event.shiftKey ? 10 : 1);
      const value = round(Number(input.value) + way * step, STEPS[path] ?? 0.1);
      input.value = shown(value);
      this.change(path, value, true);
    });
    if (sign) label.append(Object.assign(document.createElement("span"), { textContent: sign }));
    label.append(input);
    if (angle) label.append(Object.assign(document.createElement("span"), { textContent: "°" }));
    this.dims.append(label);
    return { label, input };
  }

  // Let a shape be dragged; `read` gives the value under the pointer, or `way` says how it grows.
  #drag(shape, path, read, turning, way) {
    shape.addEventListener("pointerdown", (down) => {
      down.preventDefault();
      const box = this.svg.getBoundingClientRect();
      const start = this.table.number(path);
      const step = turning ? 1 : (STEPS[path] ?? 0.1) / 2;
      this.held = this.scale;
      const scale = this.scale;
      const move = (event) => {
        const value = read
          ? read(event.clientX - box.left, event.clientY - box.top)
          : start + ((event.clientX - down.clientX) * way[0] + (event.clientY - down.clientY) * way[1]) / scale;
        this.change(path, round(read ? value : Math.max(value, 0), step), false);
      };
      const up = () => {
        removeEventListener("pointermove", move);
        removeEventListener("pointerup", up);
        removeEventListener("pointercancel", up);
        this.held = null;
        this.root.classList.remove("dragging");
        this.change(path, this.table.number(path), true);
      };
      this.root.classList.add("dragging");
      addEventListener("pointermove", move);
      addEventListener("pointerup", up);
      addEventListener("pointercancel", up);
    });
  }
}

export const shown = (value) => (value === null ? "" : String(Number(value.toPrecision(6))));
export const round = (value, step) => Number((Math.round(value / step) * step).toFixed(4));
const grip = (p) => p.ear.reduce((sum, e) => sum + e.thickness, 0) + p.fit.gap.reduce((a, b) => a + b, 0) + p.shank.thickness;

// What is shown to the left and right of the hole's centre, mm: long strips are broken off.
function reach(plain) {
  const ear = plain.ear[0];
  const left = Math.min(ear.grip_length, Math.max(1.15 * ear.width, 2.4 * ear.hole));
  const right = Math.min(plain.shank.length, Math.max(ear.edge_distance + 0.45 * ear.width, 1.6 * plain.shank.hole));
  return { left, right: Math.max(right, ear.edge_distance) };
}

// Room that an oblique pull needs, mm.
function tilt(plain) {
  const turn = (plain.pull.angle * Math.PI) / 180;
  return 2 * Math.abs(Math.sin(turn)) * (plain.ear[0].edge_distance + 2.5);
}

function outline(ear, x0, y0, s, left) {
  const half = 0.5 * ear.width * s;
  const [from, end] = [x0 - left * s, x0 + ear.edge_distance * s];
  if (ear.end === "round") {
    return `M${from} ${y0 - half}H${end - half}A${half} ${half} 0 0 1 ${end - half} ${y0 + half}H${from}`;
  }
  const c = ear.end === "clipped" ? (ear.clip ?? 0) * s : 0;
  return `M${from} ${y0 - half}H${end - c}L${end} ${y0 - half + c}V${y0 + half - c}L${end - c} ${y0 + half}H${from}`;
}

// The line at which a long part is broken off.
function torn(x, y, half) {
  const w = Math.min(5, 0.4 * half);
  return `M${x} ${y - half}V${y - 0.3 * half}l${-w} ${0.15 * half}l${2 * w} ${0.3 * half}l${-w} ${0.15 * half}V${y + half}`;
}
