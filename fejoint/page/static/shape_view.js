// The deformed ear, and the bent pin in its plates, at any place of the pull.

import { fill } from "./paint.js";
import { roundStep } from "./svg.js";

const BARE = 0.62; // plate shown beside the pin, in pin diameters
export const PLASTIC_TOP = 0.5; // upper end of the plastic strain scale

// Millimetres that the two views of a scene need: {ear: [w, h], pin: [w, h]}.
export function room(scene) {
  const ear = scene.header.ear;
  const last = deformed(scene, "ear", lastMoment(scene, "ear"), 1);
  let right = ear.edge_distance;
  let half = 0.5 * ear.width;
  for (let k = 0; k < last.length; k += 2) {
    right = Math.max(right, last[k]);
    half = Math.max(half, Math.abs(last[k + 1]));
  }
  const left = Math.max(0.62 * ear.width, 1.5 * ear.hole);
  const box = { left, right: 1.02 * right, half: 1.03 * half };
  if (!scene.header.pin) return { ear: box, pin: null };
  const d = scene.header.pin.diameter;
  const pin = deformed(scene, "pin", lastMoment(scene, "pin"), 1);
  let [low, high, deep] = [-0.5 * d, 0.5 * d, 0];
  for (let k = 0; k < pin.length; k += 2) {
    low = Math.min(low, pin[k + 1]);
    high = Math.max(high, pin[k + 1]);
    deep = Math.max(deep, pin[k]);
  }
  return { ear: box, pin: { left: BARE * d - low, right: high + BARE * d, top: 0.14 * d, deep: deep + 0.55 * d } };
}

export function drawEar(canvas, scene, index, box, scale, look) {
  const { context, width, height } = prepared(canvas, (box.left + box.right) * scale, 2 * box.half * scale);
  const moment = scene.moment("ear", index);
  const now = deformed(scene, "ear", moment, look.enlarge);
  const ratio = canvas.width / width;
  const fit = ([x, y]) => [(x + box.left) * scale, 0.5 * height - y * scale];
  const places = new Float32Array(now.length);
  for (let k = 0; k < now.length; k += 2) {
    places[k] = (now[k] + box.left) * scale * ratio;
    places[k + 1] = (0.5 * height - now[k + 1] * scale) * ratio;
  }
  const plate = scene.arrays["ear.triangles"].values.subarray(0, 3 * scene.header.ear.plate_triangles);
  const rest = scene.arrays["ear.rest"].values;
  fill(context, plate, places, shares(scene, "ear", moment, look), look.paper, look.what);
  canvas.told = { places, ratio, values: scene.row(`ear.${look.what}`, moment), what: look.what };
  const rings = scene.rings("ear");
  const [pinRing] = scene.header.ear.plate_triangles * 12 < 4 * scene.arrays["ear.triangles"].values.length ? rings.slice(2) : [];
  trace(context, rings.slice(0, 2), (k) => fit([rest[2 * k], rest[2 * k + 1]]), look.quiet, 0.9, [4, 3]);
  context.fillStyle = look.steel;
  const circle = scene.arrays["ear.pin_circle"];
  let middle;
  if (pinRing) {
    trace(context, [pinRing], (k) => fit([now[2 * k], now[2 * k + 1]]), look.ink, 1.1, [], true);
    middle = mean(pinRing, now);
  } else if (circle) {
    const [x, y, r] = scene.row("ear.pin_circle", moment);
    const [fromX, fromY] = scene.row("ear.pin_circle", 0);
    middle = [fromX + look.enlarge * (x - fromX), fromY + look.enlarge * (y - fromY)];
    context.beginPath();
    context.arc(...fit(middle), r * scale, 0, 7);
    context.fill();
    stroke(context, look.ink, 1.1);
  }
  trace(context, rings.slice(0, 2), (k) => fit([now[2 * k], now[2 * k + 1]]), look.ink, 1.2);
  if (middle) arrow(context, fit(middle), scene.header.ear.direction, 0.36 * scene.header.ear.hole * scale, look.ink);
  scaleBar(context, scale, height, look);
}

export function drawPin(canvas, scene, index, box, scale, strip, look, heaviest) {
  const across = (box.left + box.right) * scale;
  const { context, width, height } = prepared(canvas, across + strip, (box.top + box.deep) * scale);
  const moment = scene.moment("pin", index);
  const now = deformed(scene, "pin", moment, look.enlarge);
  const ratio = canvas.width / width;
  const fit = (along, side) => [(side + box.left) * scale, (along + box.top) * scale];
  const told = scene.header.pin;
  context.save();
  context.beginPath();
  context.rect(0, 0, across, height);
  context.clip();
  const names = plateNames(scene);
  told.plates.forEach((plate, k) => drawPlate(context, scene, plate, k, names[k], moment, fit, box, look));
  context.restore();
  const places = new Float32Array(now.length);
  for (let k = 0; k < now.length; k += 2) {
    const [x, y] = fit(now[k], now[k + 1]);
    places[k] = x * ratio;
    places[k + 1] = y * ratio;
  }
  canvas.told = { places, ratio, values: scene.row(`pin.${look.what}`, moment), what: look.what };
  const rest = scene.arrays["pin.rest"].values;
  const [ring] = scene.rings("pin");
  if (scene.header.stress_top_MPa.pin)
    fill(context, scene.arrays["pin.triangles"].values, places, shares(scene, "pin", moment, look), look.paper, look.what);
  else {
    context.fillStyle = look.steel; // rigid
    along(context, ring, (k) => fit(now[2 * k], now[2 * k + 1]));
    context.fill();
  }
  trace(context, [ring], (k) => fit(rest[2 * k], rest[2 * k + 1]), look.quiet, 0.9, [4, 3]);
  trace(context, [ring], (k) => fit(now[2 * k], now[2 * k + 1]), look.ink, 1.2);
  if (strip > 0) drawBearing(context, scene, moment, across + 0.5 * strip + 6, 0.5 * strip - 8, (along) => fit(along, 0)[1], look, heaviest, height);
}

// What the pin's plates are called; by number where the ears differ.
export function plateNames(scene) {
  const apart = scene.header.ear.name !== "ear";
  return scene.header.pin.plates.map((plate, k) => (plate.shank ? "shank" : apart ? `ear ${k ? 2 : 1}` : "ear"));
}

function drawPlate(context, scene, plate, k, name, moment, fit, box, look) {
  const radius = 0.5 * scene.header.pin.diameter;
  const pressed = scene.row(`plate${k}.pressed`, moment);
  const before = scene.row(`plate${k}.pressed`, 0);
  for (let i = 0; i < pressed.length; i++) pressed[i] = before[i] + look.enlarge * (pressed[i] - before[i]);
  const moved = look.enlarge * scene.row(`plate${k}.moved`, moment)[0];
  const cuts = scene.arrays[`plate${k}.cuts`].values;
  const sense = plate.shank ? -1 : 1;
  const [far, away] = sense > 0 ? [box.right + 1, -box.left - 1] : [-box.left - 1, box.right + 1];
  const bore = [[plate.faces[0], radius + pressed[0]]];
  for (let i = 0; i < pressed.length; i++) bore.push([0.5 * (cuts[i] + cuts[i + 1]), radius + pressed[i]]);
  bore.push([plate.faces[1], radius + pressed[pressed.length - 1]]);
  const near = bore.map(([along, deep]) => fit(along, moved + sense * deep));
  near.push(fit(plate.faces[1], far), fit(plate.faces[0], far));
  const back = moved - sense * (radius + (scene.header.ear.hole - 2 * radius));
  const behind = [fit(plate.faces[0], back), fit(plate.faces[1], back), fit(plate.faces[1], away), fit(plate.faces[0], away)];
  for (const shape of [near, behind]) {
    context.beginPath();
    shape.forEach(([x, y], i) => (i ? context.lineTo(x, y) : context.moveTo(x, y)));
    context.closePath();
    context.fillStyle = look.metal;
    context.fill();
    stroke(context, look.quiet, 0.9);
  }
  context.fillStyle = look.ink;
  context.font = look.font;
  context.textBaseline = "middle";
  context.textAlign = sense > 0 ? "left" : "right";
  const [x, y] = fit(0.5 * (plate.faces[0] + plate.faces[1]), sense > 0 ? -box.left : box.right);
  if ((plate.faces[1] - plate.faces[0]) * (fit(1, 0)[1] - fit(0, 0)[1]) > 14)
    context.fillText(name, x + 4 * sense, y);
}

// Force a millimetre of pin beside it: on ears to the right, on the shank to the left.
function drawBearing(context, scene, moment, middle, half, fit, look, heaviest, height) {
  context.fillStyle = look.second;
  let most = 0;
  scene.header.pin.plates.forEach((_, k) => {
    const line = scene.row(`plate${k}.bearing`, moment);
    const cuts = scene.arrays[`plate${k}.cuts`].values;
    for (let i = 0; i < line.length; i++) {
      const [y1, y2] = [fit(cuts[i]), fit(cuts[i + 1])];
      most = Math.max(most, Math.abs(line[i]));
      const long = (line[i] / heaviest) * half;
      context.fillRect(Math.min(middle, middle + long), y1, Math.abs(long), y2 - y1 + 0.5);
    }
  });
  context.beginPath();
  context.moveTo(middle, 0);
  context.lineTo(middle, height - 34);
  stroke(context, look.ink, 0.9);
  context.fillStyle = look.quiet;
  context.font = look.font;
  context.textAlign = "right";
  context.textBaseline = "bottom";
  const right = middle + half;
  context.fillText("bearing, at most", right, height - 16);
  context.fillText(`${Math.round(most).toLocaleString("en")} N/mm`, right, height - 2);
}

export function heaviestBearing(scene) {
  let most = 1;
  scene.header.pin?.plates.forEach((_, k) => {
    for (const v of scene.arrays[`plate${k}.bearing`].values) most = Math.max(most, Math.abs(v));
  });
  return most;
}

function lastMoment(scene, section) {
  return scene.arrays[`${section}.moved`].shape[0] - 1;
}

// Places at a moment, what has moved drawn so many times as large.
function deformed(scene, section, moment, enlarge) {
  const now = scene.row(`${section}.moved`, moment);
  const rest = scene.arrays[`${section}.rest`].values;
  for (let k = 0; k < now.length; k++) now[k] = enlarge * now[k] + rest[k];
  return now;
}

// Values as shares of the colour scale; strains by their square root, to show small ones.
function shares(scene, section, moment, look) {
  const values = scene.row(`${section}.${look.what}`, moment);
  const top = look.what === "stress" ? look.tops[section] : PLASTIC_TOP;
  for (let k = 0; k < values.length; k++)
    values[k] = look.what === "stress" ? values[k] / top : Math.sqrt(values[k] / top);
  return values;
}

function prepared(canvas, width, height) {
  const ratio = Math.min(devicePixelRatio || 1, 2);
  const [w, h] = [Math.round(width * ratio), Math.round(height * ratio)];
  if (canvas.width !== w || canvas.height !== h) {
    canvas.width = w;
    canvas.height = h;
    canvas.style.width = `${width}px`;
    canvas.style.height = `${height}px`;
  }
  const context = canvas.getContext("2d");
  context.setTransform(ratio, 0, 0, ratio, 0, 0);
  context.clearRect(0, 0, width, height);
  return { context, width, height };
}

function trace(context, rings, place, colour, width, dash = [], filled = false) {
  context.beginPath();
  for (const ring of rings) along(context, ring, place, false);
  if (filled) context.fill();
  context.setLineDash(dash);
  stroke(context, colour, width);
  context.setLineDash([]);
}

function along(context, ring, place, anew = true) {
  if (anew) context.beginPath();
  // corners and middles of quadratic sides in turn: each side is a parabola through three nodes
  context.moveTo(...place(ring[0]));
  for (let i = 1; i < ring.length; i += 2) {
    const [ax, ay] = place(ring[i - 1]);
    const [mx, my] = place(ring[i]);
    const [bx, by] = place(ring[(i + 1) % ring.length]);
    context.quadraticCurveTo(2 * mx - 0.5 * (ax + bx), 2 * my - 0.5 * (ay + by), bx, by);
  }
  context.closePath();
}

function stroke(context, colour, width) {
  context.strokeStyle = colour;
  context.lineWidth = width;
  context.stroke();
}

function mean(ring, now) {
  let [x, y] = [0, 0];
  for (const k of ring) {
    x += now[2 * k];
    y += now[2 * k + 1];
  }
  return [x / ring.length, y / ring.length];
}

function arrow(context, [x, y], [u, v], long, colour) {
  const tip = [x + long * u, y - long * v];
  context.beginPath();
  context.moveTo(x - 0.3 * long * u, y + 0.3 * long * v);
  context.lineTo(...tip);
  stroke(context, colour, 1.4);
  context.beginPath();
  context.moveTo(...tip);
  context.lineTo(tip[0] - 8 * u - 4 * v, tip[1] + 8 * v - 4 * u);
  context.lineTo(tip[0] - 8 * u + 4 * v, tip[1] + 8 * v + 4 * u);
  context.fillStyle = colour;
  context.fill();
}

function scaleBar(context, scale, height, look) {
  const long = roundStep(80 / scale);
  const y = height - 7;
  context.beginPath();
  context.moveTo(5, y - 4);
  context.lineTo(5, y);
  context.lineTo(5 + long * scale, y);
  context.lineTo(5 + long * scale, y - 4);
  stroke(context, look.ink, 1.1);
  context.fillStyle = look.ink;
  context.font = look.font;
  context.textAlign = "left";
  context.textBaseline = "bottom";
  context.fillText(`${long} mm`, 9 + long * scale, y + 3);
}

// The value at the node next to a place of a canvas, px; null where the metal is far.
export function valueAt(canvas, x, y) {
  const { told } = canvas;
  if (!told) return null;
  let best = (14 * told.ratio) ** 2;
  let value = null;
  for (let k = 0; k < told.values.length; k++) {
    const far = (told.places[2 * k] - x * told.ratio) ** 2 + (told.places[2 * k + 1] - y * told.ratio) ** 2;
    if (far < best) [best, value] = [far, told.values[k]];
  }
  if (value === null) return null;
  return told.what === "stress" ? `${value.toLocaleString("en", { maximumFractionDigits: 0 })} MPa here` : `plastic strain ${(100 * value).toPrecision(2)} % here`;
}
