// The same joint as plain fields with units, and its materials.

import { shown, STEPS } from "./drawing.js";

// [path, what, unit]; a unit of null takes text as in a case file.
const MADE = [
  ["Made of", [
    ["ear.material", "ears", "metal"],
    ["pin.material", "pin", "metal"],
    ["pin.hardness", "or steel of hardness", null],
    ["pin.rigid", "or rigid", ["", "never gives"]],
    ["shank.material", "shank", "metal"],
    ["shank.hardness", "or steel of hardness", null],
  ]],
  ["Put together", [
    ["ear.count", "number of ears", ["2", "1"]],
    ["ear.end", "end of the ears", ["round", "square", "clipped"]],
    ["pin.ends", "ends of the pin", ["free", "headed", "held"]],
    ["fit.friction", "friction", ""],
  ]],
];
const ALL = [
  ["Ears", [
    ["ear.thickness", "thickness", "mm"],
    ["ear.width", "width", "mm"],
    ["ear.hole", "hole, diameter", "mm"],
    ["ear.edge_distance", "hole centre to the end", "mm"],
    ["ear.grip_length", "hole centre to the grip", "mm"],
  ]],
  ["Shank", [
    ["shank.thickness", "thickness", "mm"],
    ["shank.hole", "hole, diameter", "mm"],
    ["shank.width", "width", "mm"],
    ["shank.edge_distance", "hole centre to the end", "mm"],
    ["shank.length", "hole centre to its grip", "mm"],
    ["shank.end", "end", ["round", "square", "clipped"]],
  ]],
  ["Pin, fit and pull", [
    ["pin.diameter", "pin, diameter", "mm"],
    ["fit.gap", "gap beside the shank", "mm"],
    ["pull.angle", "angle of the pull", "°"],
  ]],
];

let serial = 0;

export class Fields {
  constructor(find, metals, ranges, change) {
    this.change = change;
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
    const control = this.#control(path, unit, metals);
    control.id = id;
    control.dataset.path = path;
    if (range?.note) control.title = range.note;
    row.append(label, control);
    if (typeof unit === "string" && unit !== "metal") row.append(Object.assign(document.createElement("span"), { textContent: unit }));
    this.controls[path] = control;
    return row;
  }

  #control(path, unit, metals) {
    if (Array.isArray(unit) || unit === "metal") {
      const select = document.createElement("select");
      const options = unit === "metal" ? [["", "—"], ...metals.map((m) => [m, m])] : unit.map((u) => [u, u || "—"]);
      for (const [value, text] of options) select.append(new Option(text, value));
      select.addEventListener("change", () => this.#chosen(path, select.value));
      return select;
    }
    const input = document.createElement("input");
    if (unit === null) {
      Object.assign(input, { type: "text", maxLength: 40, placeholder: "48 HRC" });
      input.addEventListener("change", () => this.change(path, input.value.trim() || null, true));
      input.addEventListener("keydown", (event) => this.#stepped(event, path, input));
    } else {
      Object.assign(input, { type: "number", step: STEPS[path] ?? 0.1, inputMode: "decimal" });
      input.addEventListener("input", () => input.value !== "" && this.change(path, Number(input.value), true));
      input.addEventListener("change", () => input.value === "" && this.change(path, "", true));
    }
    return input;
  }

  // Arrow keys turn a hardness by a point of Rockwell, or by ten of Vickers or Brinell.
  #stepped(event, path, input) {
    const way = { ArrowUp: 1, ArrowDown: -1 }[event.key];
    const found = /^\s*(\d+(?:\.\d+)?)\s*([A-Za-z]+)\s*$/.exec(input.value);
    if (!way || !found) return;
    event.preventDefault();
    input.value = `${Number(found[1]) + way * (/^HR/i.test(found[2]) ? 1 : 10)} ${found[2]}`;
    this.change(path, input.value, true);
  }

  #chosen(path, value) {
    if (path === "ear.count") this.change(path, Number(value), true);
    else if (path === "pin.rigid") this.change(path, value ? true : null, true);
    else if (value) this.change(path, value, true);
  }

  show(table) {
    for (const [path, control] of Object.entries(this.controls)) {
      if (control.hasAttribute("aria-invalid") || control === document.activeElement) continue;
      const key = path.split(".")[1];
      let value;
      if (path === "ear.count") value = Array.isArray(table.table.ear) ? table.table.ear.length : (table.get(path) ?? 2);
      else if (key === "rigid") value = table.get(path) ? "never gives" : "";
      else if (key === "end") value = table.get(path) ?? "round";
      else if (key === "ends") value = table.get(path) ?? "free";
      else if (["material", "hardness"].includes(key)) value = table.get(path) ?? "";
      else value = shown(table.number(path));
      if (control instanceof HTMLSelectElement && ![...control.options].some((o) => o.value === String(value)))
        control.append(new Option(value, value));
      control.value = value;
    }
  }
}
