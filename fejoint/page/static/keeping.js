// What was changed, to be undone and done again, and the joints in the page's address.

const MOST = 200;
const MOST_JOINTS = 4;
const UNWRITTEN = "unwritten";
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

// The joints in an address as [{case, uid}], and a fault to tell; none where it names no joint.
export function fromAddress(hash) {
  const known = unwritten(hash) ?? hash;
  if (!known.startsWith("#joint=")) return { joints: [], fault: "" };
  const [text, uids = ""] = known.slice(7).split("&of=");
  try {
    const cases = unpacked(text);
    if (!cases.length || !cases.every((c) => c && typeof c === "object" && !Array.isArray(c))) throw new TypeError();
    const names = [...new Set(uids.split("."))];
    const joints = cases.slice(0, MOST_JOINTS).map((c, k) => ({ case: c, uid: names[k] || undefined }));
    return { joints, fault: cases.length > MOST_JOINTS ? `The link holds ${cases.length} joints; the first ${MOST_JOINTS} are shown.` : "" };
  } catch {
    return { joints: [], fault: "The link holds no joint that can be read: it was cut short or changed on its way." };
  }
}

// A change that was made too shortly before the page was loaded again to stand in its address.
function unwritten(hash) {
  const { of, wanted } = JSON.parse(sessionStorage.getItem(UNWRITTEN) ?? "{}");
  sessionStorage.removeItem(UNWRITTEN);
  return of === hash ? wanted : null;
}

export class Keeping {
  // apply(joints): show these again; changed(): what can be undone is another.
  constructor(apply, changed) {
    Object.assign(this, { apply, changed });
    this.states = [];
    this.at = -1;
    this.last = { path: "", when: 0 };
  }

  // joints: [{case, uid}]
  record(joints, path = "") {
    const state = JSON.stringify(joints);
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
    this.soon = setTimeout(() => history.replaceState(null, "", this.#address()), 250);
    this.changed();
  }

  #address() {
    const joints = JSON.parse(this.states[this.at]);
    return `#joint=${packed(joints.map((j) => j.case))}&of=${joints.map((j) => j.uid).join(".")}`;
  }

  // The page goes: a browser that loads it again takes the address as it was before.
  leave() {
    const wanted = this.at < 0 ? "" : this.#address();
    if (wanted && wanted !== location.hash) sessionStorage.setItem(UNWRITTEN, JSON.stringify({ of: location.hash, wanted }));
  }
}
