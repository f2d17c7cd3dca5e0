// Pull over how much longer the hole is, with what happens on the way.

import { grouped, kgf } from "./case_table.js";
import { roundStep, svg } from "./svg.js";

const LEFT = 58;
const RIGHT = 52;
const FOOT = 34;

// events: those that were reached, as in the answer.
export function drawCurve(root, scene, seen, index, limits) {
  const width = root.parentElement.clientWidth;
  const height = 190;
  root.setAttribute("viewBox", `0 0 ${width} ${height}`);
  root.style.height = `${height}px`;
  root.replaceChildren();
  const inner = width - LEFT - RIGHT;
  const x = (mm) => LEFT + (mm / limits.elongation) * inner;
  const y = (load) => height - FOOT - (load / limits.load) * (height - FOOT - 12);
  const add = (name, attributes, text) => root.append(svg(name, attributes, text));
  const step = roundStep(limits.load / 2.5);
  for (let load = 0; load <= limits.load; load += step) {
    add("path", { d: `M${LEFT} ${y(load)}H${width - RIGHT}`, class: "grid" });
    add("text", { x: LEFT - 6, y: y(load) + 4, class: "number end" }, grouped(load));
    add("text", { x: width - RIGHT + 6, y: y(load) + 4, class: "number" }, grouped(kgf(load)));
  }
  const across = roundStep(limits.elongation / 4);
  for (let mm = 0; mm <= limits.elongation * 1.001; mm += across)
    add("text", { x: x(mm), y: height - FOOT + 15, class: "number middle" }, Number(mm.toPrecision(4)));
  add("text", { x: LEFT + 0.5 * inner, y: height - 4, class: "word middle" }, "hole longer, mm");
  add("text", { x: 2, y: 10, class: "word" }, "N");
  add("text", { x: width - 2, y: 10, class: "word end" }, "kgf");
  const path = Array.from(scene.load, (load, k) => `${k ? "L" : "M"}${x(scene.elongation[k])} ${y(load)}`);
  add("path", { d: path.join(""), class: "pull-curve" });
  place(seen, x, y, width - RIGHT, height - FOOT).forEach(({ event, at, label, end }) => {
    add("path", { d: `M${at[0]} ${at[1]}L${label[0] + (end ? 3 : -3)} ${label[1] - 3.5}`, class: "foot" });
    add("circle", { cx: at[0], cy: at[1], r: 3.2, class: event.first ? "event main" : "event" });
    add("text", { x: label[0], y: label[1], class: `word${end ? " end" : ""}` }, event.title.split(" (")[0]);
  });
  const here = [x(scene.at(scene.elongation, index)), y(scene.at(scene.load, index))];
  add("circle", { cx: here[0], cy: here[1], r: 5, class: "here" });
  const words = seen.map((e) => `${e.title} at ${grouped(e.load_N)} N`).join("; ");
  root.setAttribute("aria-label", `Pull over how much longer the hole is: ${words}`);
}

// Give every event's name a line of its own: in a column under the curve, where a rising curve
// leaves room, or to the left of an event that lies beyond it.
function place(events, x, y, right, floor) {
  const sorted = [...events].sort((a, b) => b.load_N - a.load_N);
  const column = LEFT + 0.42 * (right - LEFT);
  let last = 12;
  return sorted.map((event, k) => {
    const at = [x(event.hole_elongation_mm), y(event.load_N)];
    const most = floor - 5 - 14 * (sorted.length - 1 - k);
    const down = Math.min(Math.max(at[1] + (at[0] < column - 20 ? 4 : 22), last + 14), most);
    last = down;
    const far = at[0] > column + 0.3 * (right - LEFT);
    return { event, at, label: [far ? at[0] - 16 : Math.max(column, at[0] + 8), down], end: far };
  });
}
