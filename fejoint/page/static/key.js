// The key of the colours, with each metal's yield stress marked on it.

import { grouped } from "./case_table.js";
import { gradient } from "./paint.js";
import { PLASTIC_TOP } from "./shape_view.js";

// shown: name of the ear that is drawn
export function showKey(place, look, plain, shown) {
  const { ear, pin } = look.tops;
  const both = pin && pin !== ear ? `${grouped(ear)} MPa in the ear, ${grouped(pin)} MPa in the pin` : `${grouped(ear)} MPa`;
  const top = look.what === "stress" ? both : `${100 * PLASTIC_TOP} %, roots evenly spaced`;
  const yields = look.what === "stress" ? marks(plain, look.tops, shown) : [];
  const name = `${look.paper} ${look.what} ${top} ${yields.map((y) => y.share)}`;
  if (place.dataset.name === name) return;
  place.dataset.name = name;
  const bar = document.createElement("i");
  bar.style.backgroundImage = gradient(look.paper, look.what);
  for (const { share, words, side } of yields) {
    const tick = Object.assign(document.createElement("b"), { title: words, className: side });
    tick.style.left = `${100 * share}%`;
    bar.append(tick);
  }
  place.replaceChildren(look.what === "stress" ? "von Mises stress 0 " : "plastic strain 0 ", bar, ` ${top}`);
  for (const { words } of yields) place.append("; ", words);
}

// Where on the bar a metal begins to yield: the ear's mark stands above it, the pin's below.
function marks(plain, tops, shown) {
  const found = [];
  for (const [part, side, own] of [["ear", "above", plain.ear[shown === "ear 2" ? 1 : 0]], ["pin", "below", plain.pin]]) {
    const rp = plain.material?.[own.material]?.rp02;
    if (!(rp > 0) || !(tops[part] > 0) || own.rigid) continue;
    const sign = side === "above" ? "▾" : "▴";
    found.push({ share: Math.min(rp / tops[part], 1), side, words: `${sign} ${part} yields at ${grouped(rp)} MPa` });
  }
  return found;
}
