// A box that one types into: what is typed is never overwritten, Enter or leaving takes it,
// Escape gives it back.

import { asValue } from "./case_table.js";

export const STEPS = { "fit.gap": 0.05, "pull.angle": 1, "fit.friction": 0.01 };
export const round = (value, step) => Number((Math.round(value / step) * step).toFixed(4));

export class TypedBox {
  // read(): text of the case now; take(value, stepped): a value was typed, or stepped to by an arrow key;
  // back(): give up a value at fault.
  constructor(input, path, { read, take, back }) {
    Object.assign(this, { input, path, read, take, back });
    this.typing = false;
    Object.assign(input, { type: "text", autocomplete: "off", spellcheck: false, maxLength: 40 });
    input.dataset.path = path;
    input.addEventListener("input", () => (this.typing = true));
    input.addEventListener("change", () => this.#taken());
    input.addEventListener("keydown", (event) => this.#key(event));
  }

  // Show what the case says, unless the hand is at it.
  show() {
    if (this.typing) return;
    const text = this.read();
    if (this.input.value !== text) this.input.value = text;
  }

  #taken() {
    if (!this.typing) return;
    this.typing = false;
    if (this.input.value.trim() !== this.read()) this.take(this.#value());
    else this.show();
  }

  #key(event) {
    if (event.key === "Enter") this.#taken();
    else if (event.key === "Escape") {
      const typed = this.typing;
      this.typing = false;
      this.show();
      if (!typed && this.input.hasAttribute("aria-invalid")) this.back();
    } else if (event.key === "ArrowUp" || event.key === "ArrowDown") this.#step(event);
  }

  // Arrow keys turn the number and leave its unit: a step, ten with Shift; 1 Rockwell, 10 Vickers.
  #step(event) {
    const found = /^\s*([+-]?(?:\d+\.?\d*|\.\d+))\s*(\D*)$/.exec(this.input.value);
    if (!found) return;
    event.preventDefault();
    const hard = this.path.endsWith(".hardness");
    const own = hard ? (/^HR/i.test(found[2]) ? 1 : 10) : (STEPS[this.path] ?? 0.1);
    const way = (event.key === "ArrowUp" ? 1 : -1) * (event.shiftKey ? 10 : 1);
    const unit = found[2].trim();
    const value = round(Number(found[1]) + way * own, own);
    this.typing = false;
    this.input.value = unit ? `${value} ${unit}` : String(value);
    this.take(this.#value(), true);
  }

  // A hardness is text: no bare number says its scale.
  #value() {
    const { value } = this.input;
    return this.path.endsWith(".hardness") ? value.trim() : asValue(value);
  }
}
