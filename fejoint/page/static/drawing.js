// The joint to scale: on the flat, and below it cut along the pin. Its dimensions are the input.

import { DimensionLines } from "./dimension_lines.js";
import { svg } from "./svg.js";

const ROW = 26; // height of a row of dimensions, px
const HEAD = [0.35, 0.3]; // what a head stands out and its height, over the pin's diameter

export class Drawing {
  constructor(root, take, hands) {
    this.root = root;
    this.lines = new DimensionLines(root, take, hands);
    this.svg = this.lines.svg;
    this.note = root.querySelector(".scale-note");
    this.held = null; // scale kept while a dimension is dragged
  }

  get typing() {
    return Object.values(this.lines.boxes).some(({ typed }) => typed.typing);
  }

  // Pixels a millimetre so that the joint fits.
  static scale(table, width) {
    const { plain, ear } = table;
    const { left, right } = reach(plain, ear);
    const high = Math.max(ear.width, tilt(plain, ear)) + grip(plain) + 1.6 * plain.pin.diameter;
    return Math.max(Math.min((width - 2 * 70) / (left + right), 470 / high, 90), 1e-3);
  }

  draw(table, scale) {
    const { plain, ear } = table;
    this.held = this.lines.dragging ? (this.held ?? scale) : null;
    scale = this.held ?? scale;
    const width = this.root.clientWidth;
    const d = plain.pin.diameter;
    const { left, right } = reach(plain, ear);
    const flatHalf = (0.5 * Math.max(ear.width, tilt(plain, ear)) + Math.abs(ear.hole_offset ?? 0)) * scale;
    const flat = ROW * 1.3 + flatHalf;
    const head = plain.pin.ends === "headed" ? HEAD[1] * d : 0.25 * d;
    const cutTop = flat + flatHalf + ROW * 1.9 + head * scale;
    const height = cutTop + (grip(plain) + head) * scale + ROW * 1.6;
    const x0 = 0.5 * width + 0.5 * (left - right) * scale;
    this.svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.svg.style.height = `${height}px`;
    this.svg.replaceChildren();
    this.lines.begin(scale);
    this.#hatch();
    this.#flat(table, x0, flat, scale, left);
    this.#cut(table, x0, cutTop, scale, left, right);
    this.lines.end();
  }

  #hatch() {
    const pattern = svg("pattern", { id: "cut-hatch", width: 7, height: 7, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" });
    pattern.append(svg("path", { d: "M0 0V7", class: "hatch" }));
    const defs = svg("defs");
    defs.append(pattern);
    this.svg.append(defs);
  }

  // The chosen ear about its hole, whose centre lies at x0, y0.
  #flat(table, x0, y0, s, left) {
    const { plain, ear } = table;
    const { lines } = this;
    const turn = (plain.pull.angle * Math.PI) / 180;
    const out = [Math.cos(turn), -Math.sin(turn)];
    const axis = y0 + (ear.hole_offset ?? 0) * s; // a hole off the axis moves the ear under it
    const shape = outline(ear, x0, axis, s, left);
    lines.add("path", { d: `${shape}Z`, class: "metal open" });
    lines.add("path", { d: shape, class: "rim" });
    lines.add("path", { d: torn(x0 - left * s, axis, 0.5 * ear.width * s), class: "break" });
    const half = 0.5 * ear.width * s;
    const edge = x0 + ear.edge_distance * s;
    const r = 0.5 * ear.hole * s;
    const slot = (ear.hole_slot ?? 0) * s;
    const mouth = flare(ear) * s;
    if (mouth > 0) lines.add("path", { d: obround(x0, y0, r + mouth, slot), class: "bore" });
    lines.add("path", { d: obround(x0, y0, r, slot), class: "bore" });
    const shift = 0.5 * (ear.hole - plain.pin.diameter) * s;
    const pinAt = [x0 + (out[0] > 0 ? slot : 0) + shift * out[0], y0 + shift * out[1]];
    lines.add("circle", { cx: pinAt[0], cy: pinAt[1], r: 0.5 * plain.pin.diameter * s, class: "steel" });
    const arm = r + 9;
    lines.add("path", { d: `M${x0 - arm} ${y0}h${2 * arm + slot}M${x0} ${y0 - arm}v${2 * arm}`, class: "centre" });
    if (Math.abs(axis - y0) > 1) lines.add("path", { d: `M${x0 - left * s} ${axis}H${edge}`, class: "centre" });
    if (table.apart) lines.add("text", { x: 2, y: 12, class: "word" }, `ear ${table.chosen + 1} of two`);
    // the ear itself is dragged by its end and its sides, its hole by the rim
    lines.grab(`M${edge} ${axis - 0.5 * half}V${axis + 0.5 * half}`, "sideways", "ear.edge_distance", [1, 0]);
    for (const side of [-1, 1])
      lines.grab(`M${x0 - left * s + 8} ${axis + side * half}H${x0 - r}`, "upright", "ear.width", [0, 2 * side]);
    lines.rim(obround(x0, y0, r, slot), "ear.hole", x0, y0, 2);
    const below = axis + half + 0.85 * ROW;
    lines.across("ear.grip_length", x0 - left * s, x0, below, axis + half, -1);
    lines.across("ear.edge_distance", x0, edge, below, y0, 1);
    lines.upright("ear.width", axis - half, axis + half, x0 - left * s - 36, x0 - left * s, 2, -1);
    lines.leader("ear.hole", [x0 - 0.707 * r, y0 - 0.707 * r], [x0 - r - 0.22 * half - 12, axis - half - 0.55 * ROW], [-0.707, -0.707]);
    const corner = (ear.end === "clipped" ? (ear.clip ?? 0) : 0) * s;
    if (corner > 0)
      lines.leader("ear.clip", [edge - 0.5 * corner, axis + half - 0.5 * corner], [edge + 26, axis + half - 0.5 * corner + 14], [-0.5, -0.5]);
    if (slot > 0) lines.leader("ear.hole_slot", [x0 + slot + 0.5 * r, y0 - 0.87 * r], [x0 + slot + r + 14, axis - half - 0.55 * ROW], [0.5, 0]);
    if (axis !== y0) lines.leader("ear.hole_offset", [x0 - left * s + 30, axis], [x0 - left * s + 52, axis + 0.5 * half], [0, 0.5]);
    this.#pull(plain, x0, y0, out, edge);
  }

  // The pull: an arrow out of the pin, whose tip turns it.
  #pull(plain, x0, y0, out, edge) {
    const { lines } = this;
    const long = edge - x0 + 34;
    const tip = [x0 + long * out[0], y0 + long * out[1]];
    lines.add("path", { d: `M${x0} ${y0}L${tip[0]} ${tip[1]}`, class: "pull" });
    const [a, b] = [tip[0] - 9 * out[0], tip[1] - 9 * out[1]];
    lines.add("path", { d: `M${tip[0]} ${tip[1]}L${a - 4 * out[1]} ${b + 4 * out[0]}L${a + 4 * out[1]} ${b - 4 * out[0]}Z`, class: "pull-tip" });
    lines.tip(tip[0], tip[1], x0, y0);
    const beside = Math.min(tip[0] + 26, this.root.clientWidth - 34);
    lines.box("pull.angle", beside, tip[1] + (out[1] < -0.3 ? -16 : out[1] > 0.3 ? 16 : 0) - 16);
  }

  // Plates from top to bottom, cut along the pin's axis.
  #rows(table, top, s) {
    const { plain } = table;
    const rows = [];
    let y = top;
    plain.ear.forEach((ear, k) => {
      if (k === 1) y += plain.fit.gap[1] * s;
      rows.push({ part: ear, y, ear: true, chosen: k === Math.min(table.chosen, plain.ear.length - 1), outer: k === 0 ? -1 : 1 });
      y += ear.thickness * s;
      if (k > 0) return;
      y += plain.fit.gap[0] * s;
      rows.push({ part: plain.shank, y, ear: false });
      y += plain.shank.thickness * s;
    });
    return { rows, bottom: y };
  }

  #cut(table, x0, top, s, left, right) {
    const { plain } = table;
    const { lines } = this;
    const half = 0.5 * plain.pin.diameter * s;
    const { rows, bottom } = this.#rows(table, top, s);
    for (const row of rows) this.#plate(row, x0, half, s, left, right);
    this.#pin(plain, x0, top, bottom, half, s);
    const own = rows.find((row) => row.chosen);
    const shank = rows[1];
    const first = own.outer < 0;
    const [thick, shankHigh] = [own.part.thickness * s, shank.part.thickness * s];
    lines.upright("ear.thickness", own.y, own.y + thick, x0 - left * s - 22, x0 - left * s, first ? -1 : 1, -1);
    lines.upright("shank.thickness", shank.y, shank.y + shankHigh, x0 + right * s + 22, x0 + right * s, 1, 1);
    const gap = first ? own.y + thick + 0.5 * plain.fit.gap[0] * s : own.y - 0.5 * plain.fit.gap[1] * s;
    const near = x0 - left * s + 4;
    const toMiddle = (first ? 1 : -1) * Math.max(24, 0.45 * shankHigh);
    lines.leader("fit.gap", [near, gap], [near - 26, gap + toMiddle], [0, first ? 0.8 : -0.8]);
    const wall = x0 + shank.part.hole * s - half;
    const inside = wall + Math.max(0.5 * (x0 + right * s - wall), 40);
    lines.leader("shank.hole", [wall, shank.y + 0.5 * shankHigh], [inside, shank.y + 0.5 * shankHigh], [1, 0]);
    if ((own.part.flare_depth ?? 0) > 0) {
      const face = first ? own.y : own.y + thick;
      const mouth = x0 + half + flare(own.part) * s;
      lines.leader("ear.flare_depth", [mouth, face], [mouth + 42, face + own.outer * 16], [0, -own.outer]);
    }
    const under = bottom + (plain.pin.ends === "headed" ? HEAD[1] : 0.25) * plain.pin.diameter * s + 0.8 * ROW;
    lines.across("pin.diameter", x0 - half, x0 + half, under, bottom, 2, -62);
    for (const side of [-1, 1]) lines.grab(`M${x0 + side * half} ${top}V${bottom}`, "sideways", "pin.diameter", [2 * side, 0]);
    this.note.textContent = clearances(table);
  }

  #plate(row, x0, half, s, left, right) {
    const { lines } = this;
    const { part, y } = row;
    const high = part.thickness * s;
    const bore = 0.5 * part.hole * s;
    const slot = row.ear ? (part.hole_slot ?? 0) * s : 0;
    const shift = (row.ear ? -1 : 1) * (bore - half); // the pin bears on the ear's right side
    const [from, to] = row.ear ? [x0 - left * s, x0 + part.edge_distance * s - slot] : [x0 - Math.min(part.edge_distance, left) * s, x0 + right * s];
    const mouth = row.ear ? flare(part) * s : 0;
    const deep = row.ear ? Math.min(part.flare_depth ?? 0, part.thickness) * s : 0;
    for (const [a, b, inner] of [[from, x0 + shift - bore - slot, 1], [x0 + shift + bore, to, -1]]) {
      if (b <= a) continue;
      // corners from the outer face on: a flare opens there
      const wall = inner > 0 ? b : a;
      const outside = inner > 0 ? a : b;
      const [face, back, way] = row.outer > 0 ? [y + high, y, -1] : [y, y + high, 1];
      const shape = `M${outside} ${back}H${wall}V${face + way * deep}L${wall - inner * mouth} ${face}H${outside}`;
      lines.add("path", { d: `${shape}Z`, class: "metal open" });
      lines.add("path", { d: `${shape}Z`, class: "cut" });
      lines.add("path", { d: shape, class: "rim" });
      // the end that is not broken off is an edge too
      if (outside !== (row.ear ? from : to)) lines.add("path", { d: `M${outside} ${y}v${high}`, class: "rim" });
    }
    lines.add("path", { d: torn(row.ear ? from : to, y + 0.5 * high, 0.5 * high), class: "break" });
  }

  #pin(plain, x0, top, bottom, half, s) {
    const { lines } = this;
    const d = plain.pin.diameter;
    const bare = plain.pin.ends === "headed" ? 0 : 0.25 * d * s;
    const from = plain.pin.ends === "held" ? top : top - bare;
    lines.add("rect", { x: x0 - half, y: from, width: 2 * half, height: bottom + bare - from, class: "steel" });
    if (plain.pin.ends === "headed")
      for (const at of [top - HEAD[1] * d * s, bottom])
        lines.add("rect", { x: x0 - half - HEAD[0] * d * s, y: at, width: 2 * half + 2 * HEAD[0] * d * s, height: HEAD[1] * d * s, rx: 3, class: "steel" });
    if (plain.pin.ends === "held") lines.add("path", { d: `M${x0 - half - 5} ${top - 3}h${2 * half + 10}`, class: "held" });
    lines.add("path", { d: `M${x0} ${top - 0.45 * d * s - 8}V${bottom + 0.45 * d * s + 8}`, class: "centre" });
  }
}

const grip = (p) => p.ear.reduce((sum, e) => sum + e.thickness, 0) + p.fit.gap.reduce((a, b) => a + b, 0) + p.shank.thickness;

// What a flare adds to the hole's radius on the outer face, mm.
function flare(ear) {
  return (ear.flare_depth ?? 0) * Math.tan((0.5 * (ear.flare_angle ?? 90) * Math.PI) / 180);
}

// Clearances of the pin, which follow from other dimensions.
function clearances({ plain, apart }) {
  const play = (part) => Number((part.hole - plain.pin.diameter).toFixed(3));
  const ears = plain.ear.map(play);
  if (Math.min(...ears, play(plain.shank)) < 0) return "mm, to scale; the pin does not go in";
  const said = apart && ears[0] !== ears[1] ? `${ears[0]} and ${ears[1]} in the ears` : `${ears[0]} in the ear${ears.length > 1 ? "s" : ""}`;
  return `mm, to scale; clearance of the pin ${said}, ${play(plain.shank)} in the shank`;
}

// What is shown to the left and right of the hole's centre, mm: long strips are broken off.
function reach(plain, ear) {
  const left = Math.min(ear.grip_length, Math.max(1.15 * ear.width, 2.4 * ear.hole));
  const right = Math.min(plain.shank.length, Math.max(ear.edge_distance + 0.45 * ear.width, 1.6 * plain.shank.hole));
  return { left, right: Math.max(right, ear.edge_distance) };
}

// Room that an oblique pull needs, mm.
function tilt(plain, ear) {
  const turn = (plain.pull.angle * Math.PI) / 180;
  return 2 * Math.abs(Math.sin(turn)) * (ear.edge_distance + 2.5);
}

function outline(ear, x0, y0, s, left) {
  const half = 0.5 * ear.width * s;
  const [from, end] = [x0 - left * s, x0 + ear.edge_distance * s];
  if (ear.end === "round") return `M${from} ${y0 - half}H${end - half}A${half} ${half} 0 0 1 ${end - half} ${y0 + half}H${from}`;
  const c = ear.end === "clipped" ? (ear.clip ?? 0) * s : 0;
  return `M${from} ${y0 - half}H${end - c}L${end} ${y0 - half + c}V${y0 + half - c}L${end - c} ${y0 + half}H${from}`;
}

// A round hole, drawn apart towards the end by a slot.
function obround(x, y, r, slot) {
  return `M${x} ${y - r}H${x + slot}A${r} ${r} 0 0 1 ${x + slot} ${y + r}H${x}A${r} ${r} 0 0 1 ${x} ${y - r}Z`;
}

// The line at which a long part is broken off.
function torn(x, y, half) {
  const w = Math.min(5, 0.4 * half);
  return `M${x} ${y - half}V${y - 0.3 * half}l${-w} ${0.15 * half}l${2 * w} ${0.3 * half}l${-w} ${0.15 * half}V${y + half}`;
}
