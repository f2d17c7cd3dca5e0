// A sweep as a picture that can be pressed: pulls over one dimension, or a map over two.

import { named } from "./answer_table.js";
import { grouped, pullWords } from "./case_table.js";
import { roundStep, svg } from "./svg.js";

const [WIDE, HIGH, LEFT, FOOT, TOP] = [640, 300, 62, 40, 14];
const SHAPES = ["M-6 0a6 6 0 1 0 12 0a6 6 0 1 0-12 0", "M-6-6h12v12h-12z", "M0-8l8 14h-16z", "M0-8l7 8-7 8-7-8z", "M-6-2h4v-4h4v4h4v4h-4v4h-4v-4h-4z"];

function table(text) {
  const rows = text.trim().split("\n").map((line) => [...line.matchAll(/("(?:[^"]|"")*"|[^,]*)(?:,|$)/g)].map((m) => m[1].replace(/^"|"$/g, "")));
  const [names, ...lines] = rows;
  return lines.map((cells) => Object.fromEntries(names.map((name, k) => [name, cells[k]])));
}

// A value of the joint that was asked of; null where its ears or gaps differ in it.
function valueOf(plain, path) {
  const [part, key] = path.split(".");
  const values = [plain[part]].flat().flatMap((p) => p?.[key]);
  return typeof values[0] === "number" && values.every((v) => v === values[0]) ? values[0] : null;
}

// take(changes): a press takes a joint of the sweep; titles: of modes
export async function showSweep(place, base, study, take, titles) {
  const paths = study.options.vary.map((v) => v.split("=")[0].trim());
  const rows = table(await (await fetch(`${base}table.csv`)).text());
  const columns = paths.map((p) => Object.keys(rows[0]).find((name) => name.startsWith(p)));
  const points = rows.filter((r) => Number(r.load_N) > 0).map((r) => ({ at: columns.map((c) => Number(r[c])), load: Number(r.load_N), kind: named(titles[r.mode] ?? r.mode, r.member || r.part) }));
  const units = columns.map((c, k) => c.slice(paths[k].length + 1));
  if (!points.length) {
    place.append("No joint of these gave an answer.");
    return;
  }
  const kinds = [...new Set(points.map((p) => p.kind))];
  const root = svg("svg", { viewBox: `0 0 ${WIDE} ${HIGH}`, class: "sweep", role: "group", "aria-label": `Pull at which the first part gives, over ${paths.join(" and ")}` });
  const now = paths.map((p) => valueOf(study.plain, p));
  const axis = (values, low, high) => {
    const [a, b] = [Math.min(...values), Math.max(...values)];
    const room = 0.1 * (b - a || 1);
    return { a: a - room, b: b + room, at: (v) => low + ((v - a + room) / (b - a + 2 * room)) * (high - low) };
  };
  const x = axis([...points.map((p) => p.at[0]), ...(now[0] ? [now[0]] : [])], LEFT, WIDE - 20);
  const second = (p) => (paths.length > 1 ? p.at[1] : p.load);
  const y = axis([...points.map(second), ...(paths.length > 1 && now[1] ? [now[1]] : [])], HIGH - FOOT, TOP);
  const loads = points.map((p) => p.load);
  const share = (load) => (load - Math.min(...loads)) / (Math.max(...loads) - Math.min(...loads) || 1);
  for (const [along, to] of [[x, "x"], [y, "y"]]) {
    const step = roundStep((along.b - along.a) / 4);
    for (let v = Math.ceil(along.a / step) * step; v <= along.b; v += step) {
      if (to === "x") root.append(svg("text", { x: along.at(v), y: HIGH - FOOT + 16, class: "number middle" }, Number(v.toPrecision(5))));
      else root.append(svg("path", { d: `M${LEFT} ${along.at(v)}H${WIDE - 20}`, class: "grid" }), svg("text", { x: LEFT - 6, y: along.at(v) + 4, class: "number end" }, grouped(v, paths.length > 1 && step < 1 ? 1 : 0)));
    }
  }
  root.append(svg("text", { x: 0.5 * (LEFT + WIDE), y: HIGH - 6, class: "word middle" }, `${wordsOf(paths[0])}, ${units[0]}`));
  root.append(svg("text", { x: 2, y: 11, class: "word" }, paths.length > 1 ? `${wordsOf(paths[1])}, ${units[1]}` : "first to give, N"));
  if (paths.length < 2) {
    const line = [...points].sort((a, b) => a.at[0] - b.at[0]).map((p, k) => `${k ? "L" : "M"}${x.at(p.at[0])} ${y.at(p.load)}`);
    root.append(svg("path", { d: line.join(""), class: "pull-curve" }));
  }
  for (const point of points) {
    const { kind } = point;
    const group = svg("g", { class: "point", tabindex: 0, role: "button", transform: `translate(${x.at(point.at[0])} ${y.at(second(point))})` });
    const said = `${paths.map((p, k) => `${wordsOf(p)} ${point.at[k]} ${units[k]}`).join(", ")}: ${kind} at ${pullWords(point.load)}`;
    group.setAttribute("aria-label", `${said}. Take it into the drawing.`);
    group.append(svg("title", {}, said), svg("circle", { r: 13, class: "near" }));
    const mark = svg("path", { d: SHAPES[kinds.indexOf(kind) % SHAPES.length], class: "mark" });
    mark.style.fillOpacity = 0.12 + 0.88 * share(point.load);
    group.append(mark);
    if (paths.length > 1) group.append(svg("text", { y: 22, class: "number middle" }, grouped(point.load)));
    const press = () => take(Object.fromEntries(paths.map((p, k) => [p, units[k] ? `${point.at[k]} ${units[k]}` : point.at[k]])));
    group.addEventListener("click", press);
    group.addEventListener("keydown", (e) => ["Enter", " "].includes(e.key) && (e.preventDefault(), press()));
    root.append(group);
  }
  const here = paths.length > 1 ? now[1] && y.at(now[1]) : null;
  if (now[0]) root.append(here ? svg("circle", { cx: x.at(now[0]), cy: here, r: 10, class: "here" }) : svg("path", { d: `M${x.at(now[0])} ${TOP}V${HIGH - FOOT}`, class: "here-line" }));
  const key = document.createElement("ul");
  key.className = "sweep-key";
  kinds.forEach((kind, k) => {
    const item = document.createElement("li");
    const sign = svg("svg", { viewBox: "-9 -9 18 18", width: 16, height: 16, "aria-hidden": "true" });
    sign.append(svg("path", { d: SHAPES[k % SHAPES.length], class: "mark" }));
    item.append(sign, ` ${kind}`);
    key.append(item);
  });
  const words = document.createElement("p");
  words.textContent = `The fuller the mark, the higher the pull: ${grouped(Math.min(...loads))} to ${grouped(Math.max(...loads))} N. The ring, or the upright line, is the joint as it was; press a mark to take it into the drawing.`;
  place.append(root, key, words);
}

const wordsOf = (path) => path.replace(".", ": ").replaceAll("_", " ");
