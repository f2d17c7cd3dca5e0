// What was changed, to be undone and done again, and the joints in the page's address.

const MOST = 200;
const MOST_JOINTS = 4;
const TOGETHER = 900; // ms within which arrow keys' steps of one field are one change

function packed(state) {
  const bytes = new TextEncoder().encode(JSON.stringify(state));
  let text = "";
  for (const byte of bytes) text += String.fromCharCode(byte);
  return btoa(text).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
}

function unpacked(text) {
  const bytes = Uint8Array.from(atob(text.replaceAll("-", "+").replaceAll("_", "/")), (c) => c.charCodeAt(0));
  return JSON.parse(new TextDecoder().decode(bytes));
}

// The cases in an address, null where it holds none that can be read.
export function fromAddress(hash) {
  if (!hash.startsWith("#joint=")) return null;
  try {
    const state = unpacked(hash.slice(7));
    const cases = Array.isArray(state) ? state.slice(0, MOST_JOINTS) : [];
    return cases.length && cases.every((c) => c && typeof c === "object") ? cases : null;
  } catch {
    return null;
  }
}

export class Keeping {
  // apply(cases): show these again; changed(): what can be undone is another.
  constructor(apply, changed) {
    Object.assign(this, { apply, changed });
    this.states = [];
    this.at = -1;
    this.last = { path: "", when: 0 };
  }

  record(cases, path = "") {
    const state = JSON.stringify(cases);
    if (state === this.states[this.at]) return;
    const now = performance.now();
    const same = path && path === this.last.path && now - this.last.when < TOGETHER && this.at > 0;
    this.states.length = this.at + 1;
    if (same) this.states[this.at] = state;
    else this.states.push(state);
    if (this.states.length > MOST) this.states.shift();
    this.at = this.states.length - 1;
    this.last = { path, when: now };
    this.#keep();
  }

  get before() {
    return this.at > 0;
  }

  get after() {
    return this.at < this.states.length - 1;
  }

  go(way) {
    if (way < 0 ? !this.before : !this.after) return;
    this.at += way;
    this.last.path = "";
    this.apply(JSON.parse(this.states[this.at]));
    this.#keep();
  }

  #keep() {
    clearTimeout(this.soon);
    // browsers refuse an address that changes many times a second
    this.soon = setTimeout(() => this.write(), 250);
    this.changed();
  }

  write() {
    clearTimeout(this.soon);
    if (this.at < 0) return;
    history.replaceState(null, "", `#joint=${packed(JSON.parse(this.states[this.at]))}`);
  }
}
