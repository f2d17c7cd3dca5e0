// One joint on the page: its case, its drawing, its answer.

import { showDownloads, showOrder } from "./answer_table.js";
import { CaseTable, grouped, pullWords } from "./case_table.js";
import { drawCurve } from "./curve.js";
import { Drawing } from "./drawing.js";
import { faultWords, Fields } from "./fields.js";
import { showKey } from "./key.js";
import { Fault, post, Puller } from "./link.js";
import { Scene } from "./scene.js";
import { drawEar, drawPin, plateNames, valueAt } from "./shape_view.js";

// ms of rest after which a joint is solved finely; ?rest= asks for another
const REST = Number(new URLSearchParams(location.search).get("rest") ?? 700);
const SETTLE = 30; // ms within which changes are taken together
const AGAIN = { 0: 3000, 409: 300, 410: 300, 503: 2000 }; // status: ms after which to ask again
const BEFORE = "Of the joint before the last change.";

export class JointView {
  // to.moved(answered): what all joints share must be drawn again; to.record(path): a change is
  // made, of which those of one path in quick steps are one; to.back(): undo;
  // to.say(joint, sentence): tell those who listen; to.away(joint): take it off the page.
  constructor(place, uid, case_, to) {
    this.place = place;
    this.uid = uid;
    this.to = to;
    this.root = document.getElementById("joint").content.firstElementChild.cloneNode(true);
    this.root.dataset.place = place;
    this.root.dataset.uid = uid;
    this.find = (selector) => this.root.querySelector(selector);
    this.table = new CaseTable(case_);
    this.puller = new Puller(place);
    this.answer = this.scene = this.id = null;
    this.version = 0; // of the joint as typed
    this.solved = -1; // version that is answered
    this.turn = 0; // of the solves begun
    this.flying = null; // detail of the one under way
    this.accepted = null; // the joint in plain numbers, as the server last took it
    this.proved = null; // name of the proof pull that is told
    const take = (...turned) => this.change(...turned);
    const hands = {
      read: (path) => this.table.text(path),
      start: (path) => this.table.number(path),
      back: to.back,
      choose: (name, value) => this.#choose(name, value),
    };
    this.drawing = new Drawing(this.find(".sketch"), take, hands);
    this.fields = new Fields(this.find, to.metals, to.ranges, take, hands);
    this.find(".title").addEventListener("change", (e) => this.change("title", e.target.value, true));
    this.find(".save").addEventListener("click", () => this.#save());
    this.find(".away").addEventListener("click", () => to.away(this));
    this.find(".open").addEventListener("click", () => this.find(".file").click());
    this.find(".file").addEventListener("change", (e) => this.#open(e.target));
    for (const canvas of this.root.querySelectorAll("canvas")) {
      canvas.addEventListener("pointermove", (e) => (this.find(".under-hand").textContent = valueAt(canvas, e.offsetX, e.offsetY) ?? ""));
      canvas.addEventListener("pointerleave", () => (this.find(".under-hand").textContent = ""));
    }
    this.find(".proof-load").addEventListener("change", (e) => to.proof(Number(e.target.value)));
    this.find(".stop").addEventListener("click", () => (this.flying ? this.#stop() : this.#solve("coarse")));
  }

  // Take a case whole, as at the start or by undo.
  begin(own = this.case, chosen = 0) {
    this.#changed();
    this.table = new CaseTable(own);
    this.table.plain = structuredClone(this.accepted);
    this.table.chosen = this.table.apart ? chosen : 0;
    this.#check();
  }

  // Take what a file or a study holds; where that is no joint, the present one stays as it is.
  async adopt(body) {
    try {
      this.begin((await post("api/joint", body)).case);
      this.to.record();
    } catch (error) {
      this.#refuse(`Not taken: ${faultWords(error).join(" ")}`);
    }
  }

  // Say that something failed which leaves the joint as it is.
  #refuse(text = "") {
    const place = this.find(".refused");
    place.textContent = text;
    place.hidden = !text;
  }

  get case() {
    return this.table.table;
  }

  // Whether something is typed that is not taken yet.
  get typing() {
    return this.drawing.typing || this.fields.typing;
  }

  get stale() {
    return this.solved !== this.version;
  }

  change(path, value, resting, stepped = false) {
    this.table.set(path, value, !resting);
    this.#unmark(path);
    this.#changed();
    this.to.moved();
    if (resting) this.to.record(stepped ? `${this.place} ${path}` : "");
    this.soon = setTimeout(() => this.#check(), resting ? 0 : SETTLE);
  }

  #choose(name, value) {
    if (name === "chosen") {
      this.table.chosen = Number(value);
      this.to.moved();
      return;
    }
    this.table.setApart(Boolean(value));
    this.change("ear.end", this.table.get("ear.end") ?? "round", true);
  }

  #changed() {
    this.version += 1;
    clearTimeout(this.soon);
    clearTimeout(this.later);
    this.root.classList.add("stale");
    this.#refuse();
    this.#state("Solving…");
  }

  // Let the server read the joint; its faults are told at once, without a solve.
  async #check() {
    const { version } = this;
    this.unchecked = this.checking;
    if (this.checking || !this.root.isConnected) return;
    this.checking = true;
    try {
      const told = await post("api/joint", { case: this.case });
      if (version !== this.version) return;
      this.accepted = told.joint;
      this.table.plain = structuredClone(told.joint);
      this.#faults([]);
      this.#solve("coarse");
    } catch (error) {
      if (version !== this.version) return;
      // a refused value leaves the drawing as it was
      if (!this.drawing.lines.dragging) this.table.plain = structuredClone(this.accepted);
      this.#failed(error, () => this.#check());
    } finally {
      this.checking = false;
      if (this.unchecked) this.#check();
      else this.to.moved();
    }
  }

  // One solve is under way; a change during a quick one waits for it, so that a hand that keeps
  // moving still sees answers, and the last change is always solved.
  async #solve(detail) {
    clearTimeout(this.later);
    // one that was taken off the page would take its place from the joint that stands there now
    if ((this.flying === "coarse" && detail === "coarse") || !this.root.isConnected) return;
    this.puller.drop();
    const turn = ++this.turn;
    const { version } = this;
    this.flying = detail;
    this.#busy(detail);
    try {
      const got = await this.puller.pull(this.case, detail, (told) => turn === this.turn && this.#tell(told, version));
      if (turn !== this.turn) return;
      this.flying = null;
      if (got) this.#show(got);
      if (version !== this.version) this.#solveLatest();
      else if (detail === "coarse") this.later = setTimeout(() => this.#solve("fine"), REST);
    } catch (error) {
      if (turn !== this.turn) return;
      this.flying = null;
      if (version !== this.version) this.#solveLatest();
      else this.#failed(error, () => this.#solve(detail));
    }
  }

  #solveLatest() {
    if (!this.faulty) this.#solve("coarse");
    else this.#idle();
  }

  #failed(error, again) {
    this.#idle();
    this.#faults(error instanceof Fault ? error.faults : [], faultWords(error));
    if (error.status in AGAIN) this.later = setTimeout(again, AGAIN[error.status]);
  }

  // Say what gives, before there is anything to draw.
  #tell({ id, detail, answer, cut_N }, version) {
    const began = performance.now();
    const current = version === this.version;
    if (current) this.#faults([]);
    this.id = id;
    this.detail = detail;
    this.told = answer;
    this.solved = version;
    this.kept("");
    this.find(".sentence").textContent = answer.verdict.sentence;
    this.root.classList.toggle("stale", !current);
    this.root.classList.toggle("cut", !answer.trust.finished);
    this.cut = answer.trust.finished ? "" : `Not solved to its end: ${answer.trust.ended}. What gives later is missing here.`;
    this.words = [];
    if (detail === "coarse") this.words.push("Quick answer; the exact one follows.");
    if (detail === "coarse" && cut_N !== null) this.words.push(`Followed up to ${grouped(cut_N)} N.`);
    if (answer.trust.matters_most) this.words.push(answer.trust.matters_most);
    if (detail === "fine" && answer.trust.finished) this.words.push(`The pull ended where ${answer.trust.ended}.`);
    this.#state(...(current ? [] : this.standing));
    showOrder(this.find, answer, this.to.meanings);
    this.showDownloads();
    this.root.dataset.shown = id;
    this.root.dataset.detail = detail;
    this.spent = performance.now() - began;
  }

  // How it stands: what is done just now or came to its end, else what the answer adds; and always
  // what is wrong with the answer that is shown.
  #state(doing = "", ended = "") {
    this.standing = [doing, ended];
    const more = doing || ended || this.stale ? [] : this.words;
    const said = [ended, this.stale && this.told && BEFORE, this.told && this.cut, doing, ...more];
    this.find(".state").textContent = said.filter(Boolean).join(" ");
  }

  #show({ answer, scene }) {
    const began = performance.now();
    this.answer = answer;
    this.scene = new Scene(scene);
    this.#idle();
    if (!this.stale) this.#state();
    this.root.dataset.drawn = this.id;
    this.root.dataset.work = (this.spent + performance.now() - began).toFixed(1);
    this.to.moved(true);
    if (!this.stale) this.to.say(this, answer.verdict.sentence);
  }

  // Draw what belongs to the input; the scale is given by what all joints share.
  show() {
    if (!this.table.plain) this.find("details.fields").open ||= this.faulty; // there are no boxes on a drawing
    else if (this.scale && this.root.isConnected) this.drawing.draw(this.table, this.scale);
    this.fields.show(this.table);
    const title = this.find(".title");
    if (document.activeElement !== title) title.value = this.table.get("title");
  }

  // Draw the answer at a place of the pull; `shared` holds scales, limits and colours.
  showAt(place, shared) {
    if (!this.scene) return;
    const index = (this.index = this.scene.indexAt(place));
    const load = this.scene.at(this.scene.load, index);
    const longer = this.scene.at(this.scene.elongation, index);
    const { name } = this.scene.header.ear; // "ear 2" where the two differ
    const told = Math.abs(load - place) <= 1e-6 * place ? shared.figures : undefined;
    const ear = this.find("canvas.ear");
    const pin = this.find("canvas.pin");
    drawEar(ear, this.scene, index, shared.room.ear, shared.zoom, shared.look);
    pin.hidden = !this.scene.header.pin;
    let said = `${pullWords(load, told)}: hole${name === "ear" ? "" : ` of ${name}`} ${longer.toFixed(2)} mm longer`;
    if (this.scene.header.pin) {
      drawPin(pin, this.scene, index, shared.room.pin, shared.zoom, shared.strip, shared.look, shared.heaviest);
      const sag = this.scene.at(this.scene.arrays["pin.sag"].values, this.scene.moment("pin", index));
      if (this.scene.header.stress_top_MPa.pin) said += `, pin sags ${sag.toFixed(2)} mm`;
      pin.setAttribute("aria-label", `The bent pin in its plates (${plateNames(this.scene).join(", ")}) at ${said}`);
    }
    if (place > this.scene.end + 1e-6 * this.scene.most) said += `. This joint's pull ended here: ${this.answer.trust.ended}.`;
    ear.setAttribute("aria-label", `The deformed ${name} at ${said}`);
    this.find(".said").textContent = said;
    showKey(this.find(".key"), shared.look, this.answer.case, name);
    // a coarse mesh sees the first yield too late
    const events = this.answer.events.filter((e) => e.load_N !== null && (this.detail === "fine" || !e.name.startsWith("first yield")));
    const gives = this.answer.verdict.load_N;
    const marked = events.map((e) => ({ ...e, first: Math.abs(e.load_N - gives) < 1e-6 * gives }));
    drawCurve(this.find(".curve svg"), this.scene, marked, index, shared.limits);
  }

  showDownloads() {
    const others = this.to.beside(this).map((j) => [j.id, j.table.get("title")]);
    const ears = this.told?.case.ear ?? [];
    const alike = ears.length === 2 && JSON.stringify(ears[0]) === JSON.stringify(ears[1]);
    const plates = [...(ears.length === 2 && !alike ? ["ear-1", "ear-2"] : ["ear"]), "shank"];
    showDownloads(this.find(".take"), this.detail === "fine" ? this.id : null, this.to.pictures, plates, others);
  }

  // A proof pull that is worth asking about, if none was chosen: two thirds of what gives first.
  proofLoad() {
    if (!this.told) return null;
    const load = (2 / 3) * this.told.verdict.load_N;
    const step = 10 ** Math.max(Math.floor(Math.log10(load)) - 1, 0);
    return Math.round(load / step) * step;
  }

  // of: name of the proof pull that it is of
  kept(text, of = null) {
    this.proved = of;
    this.find(".kept").textContent = text;
  }

  progress({ section, load_N }) {
    // what is still solved is a joint before a fault
    if (!this.flying || this.faulty) return;
    this.#state(`Solving the ${section}: ${grouped(load_N)} N`);
  }

  #busy(detail) {
    this.root.classList.add("busy");
    this.find(".stop").hidden = false;
    this.find(".stop").textContent = "Stop";
    this.#state(detail === "coarse" ? "Solving…" : "Quick answer; solving exactly…");
  }

  #idle() {
    this.root.classList.remove("busy");
    this.root.classList.toggle("stale", this.stale);
    this.find(".stop").hidden = true;
  }

  #stop() {
    clearTimeout(this.soon);
    clearTimeout(this.later);
    this.puller.drop();
    this.turn += 1;
    this.flying = null;
    this.#idle();
    this.find(".stop").hidden = false;
    this.find(".stop").textContent = "Solve again";
    this.#state("", "Stopped.");
  }

  #faults(faults, said = []) {
    this.faulty = faults.length > 0;
    for (const control of this.root.querySelectorAll("[aria-invalid]")) unmarked(control);
    const list = this.find("ul.faults");
    list.replaceChildren(...said.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
    list.hidden = !said.length;
    if (said.length) {
      this.root.classList.add("stale");
      this.find(".stop").hidden = faults.length > 0;
      this.find(".stop").textContent = "Solve again";
      this.#state("", "Not solved.");
    }
    for (const fault of faults) {
      const which = /^ear\.(\d+)\./.exec(fault.field);
      if (which && this.table.apart && Number(which[1]) !== this.table.chosen + 1) continue;
      const path = fault.field.replace(/^ear\.\d+\./, "ear.").replace(/^fit\.gap\.\d+$/, "fit.gap");
      for (const control of this.root.querySelectorAll(`[data-path="${CSS.escape(path)}"]`)) marked(control, `${fault.allowed}; ${fault.mend}`);
    }
  }

  #unmark(path) {
    for (const control of this.root.querySelectorAll(`[data-path="${CSS.escape(path)}"][aria-invalid]`)) unmarked(control);
  }

  async #save() {
    try {
      const { text } = await post("api/joint", { case: this.case });
      const a = document.createElement("a");
      a.href = URL.createObjectURL(new Blob([text], { type: "text/plain" }));
      a.download = `${(this.table.get("title") || "joint").toLowerCase().replace(/[^a-z0-9]+/g, "-")}.toml`;
      a.click();
      setTimeout(() => URL.revokeObjectURL(a.href), 5000);
    } catch (error) {
      this.#refuse(`Not saved: ${faultWords(error).join(" ")}`);
    }
  }

  async #open(input) {
    const [file] = input.files;
    input.value = "";
    if (!file) return;
    if (file.size > 200_000) this.#refuse("Not taken: the file is over 200 kB, which no case is.");
    else await this.adopt({ text: await file.text() });
  }

  remove() {
    clearTimeout(this.soon);
    clearTimeout(this.later);
    clearTimeout(this.quiet);
    this.puller.drop();
    this.root.remove();
  }
}

function marked(control, text) {
  control.setAttribute("aria-invalid", "true");
  const note = Object.assign(document.createElement("span"), { className: "fault", textContent: text });
  note.id = `fault-${Math.random().toString(36).slice(2)}`;
  control.setAttribute("aria-describedby", note.id);
  control.after(note);
}

function unmarked(control) {
  control.removeAttribute("aria-invalid");
  control.removeAttribute("aria-describedby");
  if (control.nextElementSibling?.classList.contains("fault")) control.nextElementSibling.remove();
}
