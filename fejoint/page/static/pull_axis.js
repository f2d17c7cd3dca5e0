// One axis of pull in N and kgf; limits of the first joint stand on it, of the second hang below.
// Of more joints, what gives first in each stands on it, and the others are dots.
// A line with the slider stays at hand while one scrolls.

import { figuresOf, named } from "./answer_table.js";
import { grouped, kgf, told } from "./case_table.js";
import { roundStep, svg } from "./svg.js";

const SIDE = 26;
const LINE = 15;
const THUMB = 24;

export class PullAxis {
  // go(load): show the joints at this pull
  constructor(root, line, input, go) {
    Object.assign(this, { root, line, input, go });
    this.svg = root.querySelector("svg");
    this.short = line.querySelector("svg");
  }

  // joints: [{answer, scene, table}], some of them null.
  draw(joints) {
    const width = this.root.clientWidth;
    const known = joints.filter(Boolean);
    const ends = known.map((j) => Math.max(j.scene.end, ...limitsOf(j.answer).map((l) => l.load)));
    const end = Math.max(...ends, 1);
    const narrow = width < 620;
    const spare = narrow ? 30 : 168; // a label hangs to the right of the last tick
    const length = width - 2 * SIDE - spare;
    const x = (load) => SIDE + (load / end) * length;
    // on a narrow page only what gives first is named; the table names the others
    const many = joints.length > 2;
    const bare = narrow || many;
    const flagged = (l) => !bare || l.first;
    const sets = many
      ? [flags(known.flatMap((j) => limitsOf(j.answer).filter(flagged).map((l) => ({ ...l, name: `${j.table.get("title")}: ${l.name}` }))).sort((a, b) => a.load - b.load), x)]
      : joints.map((j) => (j ? flags(limitsOf(j.answer).filter(flagged), x) : []));
    const up = LINE * 2 * Math.max(1, ...sets[0].map((f) => f.row + 1)) + 10;
    const down = sets[1]?.length ? LINE * 2 * Math.max(...sets[1].map((f) => f.row + 1)) + 8 : 0;
    const at = up + 4;
    const height = at + 46 + down;
    this.svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.root.style.height = `${height}px`;
    this.svg.replaceChildren();
    this.#ruler(x, at, end);
    if (bare)
      for (const limit of known.flatMap((j) => limitsOf(j.answer)))
        this.#add("circle", { cx: x(limit.load), cy: at, r: 3, class: `flag ${limit.computed ? "" : "by-hand"}` });
    sets.forEach((set, k) => set.forEach((flag) => this.#flag(flag, at, k === 0 ? 1 : -1)));
    this.#slider(known);
  }

  // The slider's own line: limits as dots.
  #slider(known) {
    const width = this.line.clientWidth;
    const most = Math.max(...known.map((j) => j.scene.end), 1);
    Object.assign(this.input, { min: 0, max: most });
    const x = (load) => THUMB / 2 + (load / most) * (width - THUMB);
    this.short.setAttribute("viewBox", `0 0 ${width} ${THUMB}`);
    this.short.replaceChildren(svg("path", { d: `M${x(0)} ${THUMB / 2}H${x(most)}`, class: "axis" }));
    for (const limit of known.flatMap((j) => limitsOf(j.answer)).filter((l) => l.load <= most)) {
      const kind = limit.first ? "first" : limit.computed ? "" : "by-hand";
      this.short.append(svg("circle", { cx: x(limit.load), cy: THUMB / 2, r: limit.first ? 5 : 3.5, class: `flag ${kind}` }));
    }
  }

  #add(name, attributes, text) {
    const made = svg(name, attributes, text ?? null);
    this.svg.append(made);
    return made;
  }

  #ruler(x, at, end) {
    this.#add("path", { d: `M${x(0)} ${at}H${x(end)}`, class: "axis" });
    for (const [unit, factor, low] of [["N", 1, 24], ["kgf", 9.80665, 40]]) {
      const step = roundStep(end / factor / (x(end) > 500 ? 7 : 3.2));
      for (let value = 0; value * factor <= end * 1.0001; value += step) {
        const place = x(value * factor);
        const tick = unit === "N" ? `M${place} ${at}v9` : `M${place} ${at + 27}v4`;
        this.#add("path", { d: tick, class: "tick" });
        this.#add("text", { x: place, y: at + low, class: "number middle" }, grouped(value));
      }
      this.#add("text", { x: x(end) + 10, y: at + low, class: "word" }, unit);
    }
  }

  // A flag; a press on it shows the joints at its pull.
  #flag(flag, at, way) {
    const { limit, place, row, first, long } = flag;
    const beside = Math.max(Math.min(place + 5, this.root.clientWidth - long), 2);
    const kind = `${first ? "first" : limit.computed ? "" : "by-hand"}`;
    const base = way > 0 ? at : at + 46;
    const top = way > 0 ? at - LINE * 2 * (row + 1) - 6 : base + LINE * 2 * (row + 1) - 4;
    const group = svg("g", { class: "jump" });
    group.append(svg("path", { d: `M${place} ${at}V${top}`, class: `flag ${kind}` }));
    group.append(svg("circle", { cx: place, cy: at, r: first ? 4.5 : 3.5, class: `flag ${kind}` }));
    const text = way > 0 ? top + 10 : top - LINE + 3;
    group.append(svg("text", { x: beside, y: text, class: `flag-name ${kind}` }, limit.name));
    const [newtons, kilos] = [limit.load, kgf(limit.load)].map((load) => told(load, limit.figures));
    const said = limit.computed ? `${newtons} N · ${kilos} kgf` : `${newtons} N by hand`;
    group.append(svg("text", { x: beside, y: text + LINE - 2, class: `flag-load ${kind}` }, said));
    group.addEventListener("click", () => this.go(limit.load));
    this.svg.append(group);
  }
}

// Every part's limits by rising load.
export function limitsOf(answer) {
  const found = [];
  answer.verdict.order.forEach((row, k) =>
    [row, ...row.later].forEach((limit, i) =>
      found.push({
        load: limit.load_N,
        figures: figuresOf(answer, limit),
        name: i && limit.mode === row.mode ? short(`${limit.member}: ${limit.cause}`) : named(limit.title, limit.member),
        computed: limit.source !== "handbook",
        first: k === 0 && i === 0,
      }),
    ),
  );
  return found.sort((a, b) => a.load - b.load);
}

const short = (text) => (text.length > 30 ? `${text.slice(0, 29)}…` : text);

// A row for each flag, given from right to left: clear of all that it would touch.
function flags(limits, x) {
  const told = [];
  for (const limit of [...limits].reverse()) {
    const place = x(limit.load);
    const long = 7.2 * Math.max(limit.name.length, 19);
    const near = told.filter((f) => f.place < place + long + 8).map((f) => f.row);
    told.push({ limit, place, long, row: Math.max(-1, ...near) + 1, first: limit.first });
  }
  return told;
}
