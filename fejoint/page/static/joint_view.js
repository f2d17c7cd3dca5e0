// One joint on the page: its case, its drawing, its answer.

import { CaseTable, grouped, kgf } from "./case_table.js";
import { drawCurve } from "./curve.js";
import { Drawing } from "./drawing.js";
import { Fields } from "./fields.js";
import { Fault, post, Puller } from "./link.js";
import { gradient } from "./paint.js";
import { Scene } from "./scene.js";
import { drawEar, drawPin, PLASTIC_TOP } from "./shape_view.js";

// ms of rest after which a joint is solved finely; ?rest= asks for another
const REST = Number(new URLSearchParams(location.search).get("rest") ?? 700);
const SETTLE = 40; // ms within which changes are taken together

export class JointView {
  // moved(): what all joints share must be drawn again.
  constructor(place, case_, { metals, ranges, pictures, moved, proof }) {
    this.place = place;
    this.moved = moved;
    this.pictures = pictures;
    this.root = document.getElementById("joint").content.firstElementChild.cloneNode(true);
    this.root.dataset.place = place;
    this.find = (selector) => this.root.querySelector(selector);
    this.table = new CaseTable(case_);
    this.puller = new Puller(place);
    this.answer = this.scene = this.id = null;
    const change = (path, value, resting) => this.change(path, value, resting);
    this.drawing = new Drawing(this.find(".sketch"), change);
    this.fields = new Fields(this.find, metals, ranges, change);
    this.find(".title").addEventListener("change", (e) => this.change("title", e.target.value, true));
    this.find(".save").addEventListener("click", () => this.#save());
    this.find(".open").addEventListener("click", () => this.find(".file").click());
    this.find(".file").addEventListener("change", (e) => this.#open(e.target));
    this.find(".proof-load").addEventListener("change", (e) => proof(Number(e.target.value)));
    this.find(".stop").addEventListener("click", () => this.#stop());
  }

  async start() {
    await this.#accept({ case: this.table.table });
  }

  // Take a case whole, from the server's check of it.
  async #accept(body) {
    try {
      const told = await post("api/joint", body);
      this.table = new CaseTable(told.case);
      this.table.plain = told.joint;
      this.#faults([]);
      this.answer = this.scene = this.id = null;
      this.#solve("coarse");
    } catch (error) {
      this.#faults(error instanceof Fault ? error.faults : [], error.message);
    }
    this.moved();
  }

  change(path, value, resting) {
    if (resting && this.table.get(path) === value && !this.faulty) return;
    this.table.set(path, value);
    this.#unmark(path);
    this.moved();
    clearTimeout(this.soon);
    clearTimeout(this.later);
    this.soon = setTimeout(() => this.#solve("coarse"), resting ? 0 : SETTLE);
  }

  async #solve(detail) {
    this.#busy(detail);
    clearTimeout(this.later);
    try {
      const got = await this.puller.pull(this.table.table, detail, (told) => this.#tell(told));
      if (!got) return;
      this.#show(got);
      if (detail === "coarse") this.later = setTimeout(() => this.#solve("fine"), REST);
    } catch (error) {
      this.#idle();
      if (error instanceof Fault && error.faults.length) this.#faults(error.faults);
      else if (error.status === 503) this.later = setTimeout(() => this.#solve(detail), 2000);
      else this.#faults([], error.message);
    }
  }

  // Say what gives, before there is anything to draw.
  #tell({ id, detail, answer }) {
    const began = performance.now();
    this.#faults([]);
    this.id = id;
    this.detail = detail;
    this.told = answer;
    this.table.plain = structuredClone(answer.case);
    this.find(".sentence").textContent = answer.verdict.sentence;
    this.find(".state").textContent =
      detail === "coarse"
        ? "On a coarse mesh; a fine one follows when the hand rests."
        : `The pull ended where ${answer.trust.ended}. ` +
          (answer.trust.finished ? "" : "It stopped early.");
    this.#order();
    this.#take();
    this.root.dataset.shown = id;
    this.root.dataset.detail = detail;
    this.spent = performance.now() - began;
  }

  #show({ answer, scene }) {
    const began = performance.now();
    this.answer = answer;
    this.scene = new Scene(scene);
    this.#idle();
    this.root.dataset.drawn = this.id;
    this.root.dataset.work = (this.spent + performance.now() - began).toFixed(1);
    this.moved(true);
  }

  // Draw what belongs to the input; the scale is given by what all joints share.
  show() {
    if (!this.table.plain) return;
    if (this.scale && this.root.isConnected) this.drawing.draw(this.table, this.scale);
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
    const ear = this.find("canvas.ear");
    const pin = this.find("canvas.pin");
    drawEar(ear, this.scene, index, shared.room.ear, shared.zoom, shared.look);
    pin.hidden = !this.scene.header.pin;
    let said = `${grouped(load)} N (${grouped(kgf(load))} kgf): hole ${longer.toFixed(2)} mm longer`;
    if (this.scene.header.pin) {
      drawPin(pin, this.scene, index, shared.room.pin, shared.zoom, shared.strip, shared.look, shared.heaviest);
      const sag = this.scene.at(this.scene.arrays["pin.sag"].values, this.scene.moment("pin", index));
      if (this.scene.header.stress_top_MPa.pin) said += `, pin sags ${sag.toFixed(2)} mm`;
      pin.setAttribute("aria-label", `The bent pin in its plates at ${said}`);
    }
    if (place > this.scene.end + 1e-6 * this.scene.most) said += `. This joint's pull ended here: ${this.answer.trust.ended}.`;
    ear.setAttribute("aria-label", `The deformed ear at ${said}`);
    this.find(".said").textContent = said;
    this.#key(shared.look);
    // a coarse mesh sees the first yield too late
    const events = this.answer.events.filter((e) => e.load_N !== null && (this.detail === "fine" || !e.name.startsWith("first yield")));
    drawCurve(this.find(".curve svg"), this.scene, events, index, shared.limits);
  }

  #key(look) {
    const key = this.find(".key");
    const { ear, pin } = look.tops;
    const top = look.what === "stress" ? pin && pin !== ear ? `${grouped(ear)} MPa in the ear, ${grouped(pin)} MPa in the pin` : `${grouped(ear)} MPa` : `${100 * PLASTIC_TOP} %, roots evenly spaced`;
    const name = `${look.paper} ${look.what} ${top}`;
    if (key.dataset.name === name) return;
    key.dataset.name = name;
    const bar = document.createElement("i");
    bar.style.backgroundImage = gradient(look.paper, look.what);
    key.replaceChildren(look.what === "stress" ? "von Mises stress 0 " : "plastic strain 0 ", bar, ` ${top}`);
  }

  #order() {
    const body = this.find(".order tbody");
    const rows = [];
    const first = this.told.verdict.load_N;
    const cell = (tag, text, kind = "") => Object.assign(document.createElement(tag), { textContent: text, className: kind });
    for (const row of this.told.verdict.order) {
      [row, ...row.later].forEach((limit, k) => {
        const line = document.createElement("tr");
        if (k) line.className = "further";
        const hand = limit.handbook_load_N;
        const by = limit.source === "computed" ? limit.cause : `${limit.cause}, by hand`;
        const part = cell("th", k ? "" : limit.member);
        part.scope = "row";
        line.append(part, cell("td", `${limit.title} (${by})`), cell("td", grouped(limit.load_N), "n"), cell("td", grouped(kgf(limit.load_N)), "n"));
        line.append(cell("td", limit.load_N === first ? "first" : limit.past_highest_pull ? "past the highest pull" : `+ ${grouped(100 * (limit.load_N / first - 1))} %`, "n"));
        const outside = limit.handbook_note;
        const last = cell("td", hand === null ? "" : outside ? `(${grouped(hand)})` : grouped(hand), "n");
        if (limit.handbook_source) last.title = outside ? `${limit.handbook_source}; ${outside}` : limit.handbook_source;
        line.append(last);
        rows.push(line);
      });
    }
    body.replaceChildren(...rows);
    this.find(".notes").replaceChildren(...this.told.warnings.map((w) => cell("li", w)));
  }

  #take() {
    const take = this.find(".take");
    take.replaceChildren();
    if (this.detail !== "fine") return;
    const link = (text, path) => {
      const a = Object.assign(document.createElement("a"), { textContent: text, href: `api/pulls/${this.id}/${path}` });
      a.download = "";
      return a;
    };
    take.append("Take away: ", link("answer", "answer.json"), ", ", link("report", "report.html"));
    for (const [what, name] of this.pictures) take.append(", ", link(name, `pictures/${what}.png`), " (", link("svg", `pictures/${what}.svg`), ")");
  }

  // A proof pull that is worth asking about, if none was chosen: two thirds of what gives first.
  proofLoad() {
    const load = (2 / 3) * this.told.verdict.load_N;
    const step = 10 ** Math.max(Math.floor(Math.log10(load)) - 1, 0);
    return Math.round(load / step) * step;
  }

  kept(text) {
    this.find(".kept").textContent = text;
  }

  progress({ section, load_N }) {
    if (this.root.classList.contains("busy"))
      this.find(".state").textContent = `Solving the ${section}: ${grouped(load_N)} N`;
  }

  #busy(detail) {
    this.root.classList.add("busy");
    this.root.classList.toggle("stale", detail === "coarse");
    this.find(".stop").hidden = false;
    this.find(".state").textContent = detail === "coarse" ? "Solving…" : "Refining…";
  }

  #idle() {
    this.root.classList.remove("busy", "stale");
    this.find(".stop").hidden = true;
  }

  #stop() {
    clearTimeout(this.soon);
    clearTimeout(this.later);
    this.puller.drop();
    this.#idle();
    this.root.classList.toggle("stale", this.detail !== "fine");
    this.find(".state").textContent = "Stopped. The answer shown is the last one solved; change something to go on.";
  }

  #faults(faults, message = "") {
    this.faulty = faults.length > 0;
    for (const marked of this.root.querySelectorAll("[aria-invalid]")) unmarked(marked);
    const list = this.find("ul.faults");
    const said = faults.map((f) => `${f.value ? `${words(f.field)} = ${f.value}` : words(f.field)}: ${f.allowed}; ${f.mend}`);
    if (message && !faults.length) said.push(message);
    list.replaceChildren(...said.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
    list.hidden = !said.length;
    if (said.length) {
      this.#idle();
      this.root.classList.add("stale");
      this.find(".state").textContent = "Not solved: see what is marked.";
    }
    for (const fault of faults) {
      const path = fault.field.replace(/^ear\.\d\./, "ear.").replace(/^fit\.gap\.\d$/, "fit.gap");
      for (const control of this.root.querySelectorAll(`[data-path="${CSS.escape(path)}"]`)) marked(control, `${fault.allowed}; ${fault.mend}`);
    }
  }

  #unmark(path) {
    for (const control of this.root.querySelectorAll(`[data-path="${CSS.escape(path)}"][aria-invalid]`)) unmarked(control);
  }

  async #save() {
    try {
      const { text } = await post("api/joint", { case: this.table.table });
      const a = document.createElement("a");
      a.href = URL.createObjectURL(new Blob([text], { type: "text/plain" }));
      a.download = `${(this.table.get("title") || "joint").toLowerCase().replace(/[^a-z0-9]+/g, "-")}.toml`;
      a.click();
      setTimeout(() => URL.revokeObjectURL(a.href), 5000);
    } catch (error) {
      this.#faults(error.faults ?? [], error.message);
    }
  }

  async #open(input) {
    const [file] = input.files;
    input.value = "";
    if (!file) return;
    if (file.size > 200_000) this.#faults([], "the file is over 200 kB, which no case is");
    else await this.#accept({ text: await file.text() });
  }

  remove() {
    clearTimeout(this.soon);
    clearTimeout(this.later);
    this.puller.drop();
    this.root.remove();
  }
}

const percent = (share) => Number((100 * (share ?? 0)).toPrecision(2));
const words = (field) => field.replaceAll("_", " ").replace(".", ", ");

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
