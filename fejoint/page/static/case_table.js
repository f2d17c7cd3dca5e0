// A case table as in a case file, and the same joint in plain mm, N, MPa and degrees.

const KGF = 9.80665;
export const kgf = (newtons) => newtons / KGF;
export const grouped = (value, digits = 0) =>
  value.toLocaleString("en", { minimumFractionDigits: digits, maximumFractionDigits: digits });
// A load as it is told: to three figures, or to as many as its band allows.
export const told = (value, figures = 3) => grouped(Number(value.toPrecision(figures)));
// figures: to which the load is told elsewhere; else to the newton
export const pullWords = (n, figures = 9) => `${told(n, figures)} N (${told(kgf(n), figures)} kgf)`;
export const shown = (value) => (value === null ? "" : String(Number(value.toPrecision(6))));

// What of a joint in plain numbers makes it another: not its title and notes.
export const plainOf = (plain) => JSON.stringify(plain && [plain.ear, plain.pin, plain.shank, plain.fit, plain.pull, plain.material]);

const INSTEAD = ["material", "hardness", "rigid"];
const NUMBER = /^[+-]?(?:\d+\.?\d*|\.\d+)$/;

// What a box holds as a case takes it: a bare number is mm or degrees, all else is left as typed.
export function asValue(text) {
  const typed = text.trim();
  return NUMBER.test(typed) ? Number(typed) : typed;
}

// Millimetres or degrees of a value where that is plain; the server reads all that a case may say.
function plainly(value) {
  if (typeof value === "number") return value;
  const found = /^([+-]?[\d.]+)\s*(?:mm|deg|°)$/.exec(value ?? "");
  return found && Number.isFinite(Number(found[1])) ? Number(found[1]) : null;
}

export class CaseTable {
  constructor(table) {
    this.table = structuredClone(table);
    this.plain = null; // of the last accepted state; edits show in it at once
    this.before = new WeakMap(); // part: the metals whose place others took
    this.chosen = 0; // the ear that is shown and changed, where each has its own dimensions
  }

  ears() {
    const ear = this.table.ear;
    return Array.isArray(ear) ? ear : [ear];
  }

  // Whether each of two ears has dimensions of its own.
  get apart() {
    return Array.isArray(this.table.ear) && this.table.ear.length > 1;
  }

  get count() {
    return Array.isArray(this.table.ear) ? this.table.ear.length : (this.table.ear?.count ?? 2);
  }

  setApart(wanted) {
    if (wanted === this.apart) return;
    const { count: _, ...one } = this.ears()[this.apart ? this.chosen : 0] ?? {};
    this.table.ear = wanted ? [one, structuredClone(one)] : { count: 2, ...one };
    if (!wanted && this.plain) {
      this.plain.ear = this.plain.ear.map(() => structuredClone(this.plain.ear[this.chosen]));
      this.plain.fit.gap = this.plain.fit.gap.map(() => this.plain.fit.gap[this.chosen]);
      if (Array.isArray(this.table.fit?.gap)) this.table.fit.gap = this.table.fit.gap[this.chosen];
    }
    if (!wanted) this.chosen = 0;
  }

  // The plain ear that is shown and changed.
  get ear() {
    return this.plain?.ear[Math.min(this.chosen, this.plain.ear.length - 1)];
  }

  get(path) {
    const [part, key] = path.split(".");
    if (part === "title" || part === "note") return this.table[part] ?? "";
    if (path === "ear.count") return this.count;
    const own = part === "ear" ? this.ears()[this.apart ? this.chosen : 0] : this.table[part];
    const value = own?.[key];
    return path === "fit.gap" && Array.isArray(value) ? value[Math.min(this.chosen, value.length - 1)] : value;
  }

  // The number for a path, whether the case names it or leaves it to follow others.
  number(path) {
    const [part, key] = path.split(".");
    const value = (part === "ear" ? this.ear : this.plain?.[part])?.[key];
    if (Array.isArray(value)) return value[Math.min(this.chosen, value.length - 1)];
    return typeof value === "number" ? value : null;
  }

  // What a box shows: text of the case where it has a unit of its own, else the number.
  text(path) {
    const own = this.get(path);
    if (typeof own === "string") return plainly(own) === null ? own : shown(plainly(own));
    return typeof own === "number" ? shown(own) : own === undefined ? shown(this.number(path)) : String(own);
  }

  // seen: shown in the drawing at once, as a hand that drags wants it
  set(path, value, seen = false) {
    const [part, key] = path.split(".");
    if (part === "title" || part === "note") {
      this.table[part] = value;
      return;
    }
    if (path === "ear.count") {
      this.setApart(false);
      const { count: _, ...one } = this.ears()[0] ?? {};
      this.table.ear = { count: value, ...one };
      if (Array.isArray(this.table.fit?.gap)) this.table.fit.gap = this.table.fit.gap[0];
      this.#count(value);
      return;
    }
    if (path === "fit.gap" && this.apart) {
      const now = this.table.fit?.gap ?? 0;
      const each = Array.isArray(now) ? now : [now, now];
      value = each.map((gap, k) => (k === this.chosen ? value : gap));
    }
    for (const target of this.#targets(part)) {
      if (INSTEAD.includes(key)) this.#instead(target, key, value);
      else if (value === null) delete target[key];
      else target[key] = value;
      if (key === "end" && value !== "clipped") delete target.clip;
      if (key === "end" && value === "clipped") target.clip ??= Number((0.2 * (this.number(`${part}.width`) ?? 10)).toFixed(1));
    }
    if (seen) this.#show(part, key, value);
  }

  // One metal takes the place of another, which comes back when it is taken out again.
  #instead(target, key, value) {
    const before = INSTEAD.filter((other) => other in target).map((other) => [other, target[other]]);
    for (const other of INSTEAD) delete target[other];
    const kept = this.before.get(target) ?? this.before.set(target, []).get(target);
    if (value === null) Object.assign(target, Object.fromEntries(kept.pop() ?? []));
    else {
      if (before.some(([other]) => other !== key)) kept.push(before);
      target[key] = value;
    }
  }

  #targets(part) {
    if (part !== "ear") return [(this.table[part] ??= {})];
    return this.apart ? [this.table.ear[this.chosen]] : [(this.table.ear ??= {})].flat();
  }

  #count(count) {
    if (!this.plain?.ear) return;
    this.plain.ear = Array.from({ length: count }, () => structuredClone(this.plain.ear[0]));
    const gap = this.plain.fit.gap;
    this.plain.fit.gap = Array.from({ length: count }, (_, k) => gap[k] ?? gap[0]);
  }

  #show(part, key, value) {
    if (!this.plain) return;
    const plain = part === "ear" ? (this.apart ? [this.ear] : this.plain.ear) : [this.plain[part]];
    for (const target of plain.filter(Boolean)) {
      if (key === "gap") {
        const each = Array.isArray(value) ? value : target.gap.map(() => value);
        if (each.every((gap) => plainly(gap) !== null)) target.gap = each.map(plainly);
      } else if (key === "end" || key === "ends") target[key] = value;
      else if (plainly(value) !== null) target[key] = plainly(value);
      if (key === "end") target.clip = value === "clipped" ? (plainly(this.get(`${part}.clip`)) ?? 0) : 0;
    }
  }
}
