// The same joint as plain fields with units, and its metals.

import { TypedBox } from "./typed_box.js";

// [path, what, unit]; a list is a choice, of [value, words] or plain words.
const MADE = [
  ["Metals", [
    ["ear.material", "ears", "metal"],
    ["ear.hardness", "or steel of hardness", "hardness"],
    ["pin.material", "pin", "metal"],
    ["pin.hardness", "or steel of hardness", "hardness"],
    ["pin.rigid", "or rigid", [["", "no"], ["yes", "never gives"]]],
    ["shank.material", "shank", "metal"],
    ["shank.hardness", "or steel of hardness", "hardness"],
  ]],
  ["Fit", [
    ["ear.count", "ears", [["2", "two (double shear)"], ["1", "one (single shear)"]]],
    ["ear.apart", "their dimensions", [["", "alike"], ["yes", "each its own"]]],
    ["ear.chosen", "shown and changed", [["0", "ear 1"], ["1", "ear 2"]]],
    ["ear.end", "end of the ears", ["round", "square", "clipped"]],
    ["pin.ends", "ends of the pin", ["free", "headed", "held"]],
    ["pin.head", "heads or washers, diameter", "mm"],
    ["fit.gap", "gap beside the shank", "mm"],
    ["fit.friction", "friction", ""],
  ]],
];
const ALL = [
  ["Ear", [
    ["ear.thickness", "thickness", "mm"],
    ["ear.width", "width", "mm"],
    ["ear.hole", "hole, diameter", "mm"],
    ["ear.edge_distance", "hole centre to the end", "mm"],
    ["ear.grip_length", "hole centre to the grip", "mm"],
    ["ear.clip", "cut corner of a clipped end", "mm"],
    ["ear.hole_slot", "slot: longer than round by", "mm"],
    ["ear.hole_offset", "hole off the axis by", "mm"],
    ["ear.flare_depth", "flare of the hole, depth", "mm"],
    ["ear.flare_angle", "flare, whole angle", "°"],
  ]],
  ["Shank", [
    ["shank.thickness", "thickness", "mm"],
    ["shank.hole", "hole, diameter", "mm"],
    ["shank.width", "width", "mm"],
    ["shank.edge_distance", "hole centre to the end", "mm"],
    ["shank.length", "hole centre to its grip", "mm"],
    ["shank.end", "end", ["round", "square", "clipped"]],
    ["shank.clip", "cut corner of a clipped end", "mm"],
  ]],
  ["Pin and pull", [
    ["pin.diameter", "pin, diameter", "mm"],
    ["pull.angle", "angle of the pull", "°"],
    ["pull.stop_load", "stop at a pull of", "N"],
  ]],
];
const ENDS = { "ear.end": "round", "shank.end": "round", "pin.ends": "free" };

// A maker's words for a field of the case, such as "ear 2, hole".
export function fieldWords(field) {
  const path = field.replace(/^ear\.\d+\./, "ear.").replace(/^fit\.gap\.\d+$/, "fit.gap");
  const found = [...MADE, ...ALL].flatMap(([, rows]) => rows).find(([own]) => own === path);
  const which = /^ear\.(\d+)\./.exec(field);
  const part = { ear: which ? `ear ${which[1]}` : "ears", pin: "pin", shank: "shank" }[path.split(".")[0]];
  if (!found) return field.replaceAll("_", " ").replaceAll(".", ", ");
  const name = found[2] === "metal" ? "metal" : found[1].replace(/^or /, "").replace(/ of the ears$/, "");
  return part && !name.startsWith(part) ? `${part}: ${name}` : name;
}

// Each fault of an error in a maker's words; its message where it names none.
export function faultWords({ faults = [], message }) {
  const said = faults.map((f) => `${fieldWords(f.field)}${f.value ? ` ${f.value}` : ""} ${f.allowed}; ${f.mend}`);
  return said.length ? said : [message];
}

let serial = 0;

export class Fields {
  // hands: as for the drawing, with choose(name, value) for which ears are shown
  constructor(find, metals, ranges, take, hands) {
    Object.assign(this, { take, hands });
    this.controls = {};
    for (const [place, groups] of [[".made", MADE], [".all", ALL]])
      for (const [title, rows] of groups) {
        const group = document.createElement("fieldset");
        group.append(Object.assign(document.createElement("legend"), { textContent: title }));
        for (const [path, name, unit] of rows) group.append(this.#row(path, name, unit, metals, ranges[path]));
        find(place).append(group);
      }
  }

  #row(path, name, unit, metals, range) {
    const row = document.createElement("p");
    const id = `field-${++serial}`;
    const label = Object.assign(document.createElement("label"), { htmlFor: id, textContent: name });
    const made = Array.isArray(unit) || unit === "metal" ? this.#choice(path, unit, metals) : this.#box(path);
    made.control.id = id;
    made.control.dataset.path = path;
    if (range?.note) made.control.title = range.note;
    row.append(label, made.control);
    if (unit === "hardness") made.control.placeholder = "48 HRC";
    else if (typeof unit === "string" && unit !== "metal") row.append(Object.assign(document.createElement("span"), { textContent: unit }));
    this.controls[path] = { ...made, row };
    return row;
  }

  #choice(path, unit, metals) {
    const control = document.createElement("select");
    const options = unit === "metal" ? [["", "—"], ...metals.map((m) => [m, m])] : unit.map((u) => (Array.isArray(u) ? u : [u, u]));
    for (const [value, text] of options) control.append(new Option(text, value));
    control.options[0].disabled = unit === "metal"; // says that there is none, and is no metal to choose
    control.addEventListener("change", () => this.#chosen(path, control.value));
    return { control };
  }

  #box(path) {
    const control = document.createElement("input");
    const optional = path.endsWith(".hardness") || path === "pull.stop_load";
    const typed = new TypedBox(control, path, {
      read: () => this.hands.read(path),
      take: (value, stepped) => this.take(path, value === "" && optional ? null : value, true, stepped),
      back: this.hands.back,
    });
    return { control, typed };
  }

  #chosen(path, value) {
    if (path === "ear.apart" || path === "ear.chosen") this.hands.choose(path.slice(4), value);
    else if (path === "ear.count") this.take(path, Number(value), true);
    else if (path === "pin.rigid") this.take(path, value ? true : null, true);
    else if (value) this.take(path, value, true);
  }

  show(table) {
    for (const [path, { control, typed, row }] of Object.entries(this.controls)) {
      if (path === "ear.apart") row.hidden = table.count < 2;
      if (path === "ear.chosen") row.hidden = !table.apart;
      if (path.endsWith(".clip")) row.hidden = table.get(`${path.slice(0, -5)}.end`) !== "clipped";
      if (path === "ear.flare_angle") row.hidden = !(table.number("ear.flare_depth") > 0);
      if (typed) typed.show();
      else this.#select(control, this.#value(table, path));
    }
  }

  get typing() {
    return Object.values(this.controls).some(({ typed }) => typed?.typing);
  }

  #value(table, path) {
    if (path === "ear.apart") return table.apart ? "yes" : "";
    if (path === "ear.chosen") return String(table.chosen);
    if (path === "pin.rigid") return table.get(path) ? "yes" : "";
    return String(table.get(path) ?? ENDS[path] ?? "");
  }

  #select(control, value) {
    if (![...control.options].some((o) => o.value === value)) control.append(new Option(value, value));
    control.value = value;
  }
}
