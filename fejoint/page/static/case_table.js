// A case table as in a case file, and the same joint in plain mm, N, MPa and degrees.

const KGF = 9.80665;
export const kgf = (newtons) => newtons / KGF;
export const grouped = (value, digits = 0) =>
  value.toLocaleString("en", { minimumFractionDigits: digits, maximumFractionDigits: digits });
export const pullWords = (n) => `${grouped(n)} N (${grouped(kgf(n))} kgf)`;

const INSTEAD = ["material", "hardness", "rigid"];

export class CaseTable {
  constructor(table) {
    this.table = structuredClone(table);
    this.plain = null; // of the last accepted state; edits show in it at once
  }

  ears() {
    const ear = this.table.ear;
    return Array.isArray(ear) ? ear : [ear];
  }

  get(path) {
    const [part, key] = path.split(".");
    if (part === "title" || part === "note") return this.table[part] ?? "";
    const own = part === "ear" ? this.ears()[0] : this.table[part];
    return own?.[key];
  }

  // The number shown for a path, whether the case names it or leaves it to follow others.
  number(path) {
    const [part, key] = path.split(".");
    const own = part === "ear" ? this.plain?.ear?.[0] : this.plain?.[part];
    const value = own?.[key];
    if (typeof value === "number") return value;
    if (Array.isArray(value)) return value[0];
    return null;
  }

  set(path, value) {
    const [part, key] = path.split(".");
    if (part === "title" || part === "note") {
      this.table[part] = value;
      return;
    }
    const targets = part === "ear" ? this.ears() : [(this.table[part] ??= {})];
    if (path === "ear.count" && Array.isArray(this.table.ear)) {
      this.table.ear = structuredClone(this.table.ear[0]);
      targets.splice(0, targets.length, this.table.ear);
    }
    for (const target of targets) {
      if (INSTEAD.includes(key)) for (const other of INSTEAD) delete target[other];
      if (value === null) delete target[key];
      else target[key] = value;
    }
    if (path === "ear.end" && value !== "clipped") for (const ear of targets) delete ear.clip;
    if (path === "ear.end" && value === "clipped")
      for (const ear of targets) ear.clip ??= 0.2 * (this.number("ear.width") ?? 10);
    this.#show(part, key, value);
  }

  #show(part, key, value) {
    if (!this.plain) return;
    if (part === "ear" && key === "count" && this.plain.ear) {
      this.plain.ear = Array.from({ length: value }, () => structuredClone(this.plain.ear[0]));
      const gap = this.plain.fit.gap;
      this.plain.fit.gap = Array.from({ length: value }, (_, k) => gap[k] ?? gap[0]);
      return;
    }
    const shown = part === "ear" ? this.plain.ear : [this.plain[part]];
    for (const target of shown ?? []) {
      if (!target) continue;
      if (key === "gap" && typeof value === "number") target.gap = target.gap.map(() => value);
      else if (typeof value === "number" || key === "end" || key === "ends") target[key] = value;
      if (key === "end" && part === "ear") target.clip = value === "clipped" ? this.ears()[0].clip : 0;
    }
  }
}
