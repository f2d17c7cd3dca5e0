// Questions that take minutes: asked here, answered beside, and kept when the page is loaded again.

import { get, post } from "./link.js";
import { plainOf } from "./case_table.js";
import { faultWords } from "./fields.js";
import { showAdvice, showText } from "./study_answers.js";
import { questions } from "./study_questions.js";
import { showSweep } from "./sweep_view.js";

const EVERY = 1000; // ms between two looks at what runs

const made = (tag, more = {}, ...inside) => {
  const element = Object.assign(document.createElement(tag), more);
  element.append(...inside);
  return element;
};

export class Studies {
  // joints(): those on the page; book: name of the results book, or null; titles: of modes
  constructor(root, joints, { book, titles }) {
    Object.assign(this, { root, joints, titles, questions: questions(book) });
    this.shown = new Map(); // id: {box, state, study}
    this.list = root.querySelector(".study-list");
    const forms = root.querySelector(".questions");
    for (const question of this.questions) forms.append(this.#form(question));
    this.look();
  }

  #form(question) {
    const form = made("form", { className: "question" }, made("p", { textContent: question.what }));
    const inputs = {};
    for (const [name, label, kind, start, more] of question.inputs) {
      const input = kind === "choice" ? made("select") : made("input", { type: kind === "text" ? "text" : kind, value: kind === "file" ? "" : start, maxLength: 60 });
      if (kind === "choice") for (const [value, text] of more) input.append(new Option(text, value, false, value === start));
      if (kind === "checkbox") input.checked = start;
      inputs[name] = input;
      form.append(made("label", { className: kind === "checkbox" ? "check" : "" }, made("span", { textContent: label }), input));
    }
    const whose = made("select", { ariaLabel: "For which joint" });
    const fault = made("p", { className: "fault", role: "alert" });
    form.append(made("div", {}, whose, made("button", { type: "submit", textContent: question.go })), fault);
    form.addEventListener("pointerenter", () => this.#offer(whose));
    form.addEventListener("focusin", () => this.#offer(whose));
    this.#offer(whose);
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.#ask(question, inputs, this.joints()[Number(whose.value)] ?? this.joints()[0], fault);
    });
    return made("details", { name: "question" }, made("summary", { textContent: question.title }), form);
  }

  #offer(whose) {
    const titles = this.joints().map((j, k) => j.table.get("title") || `joint ${k + 1}`);
    if (titles.length !== whose.options.length || titles.some((t, k) => whose.options[k].text !== t)) whose.replaceChildren(...titles.map((t, k) => new Option(t, k)));
    whose.hidden = titles.length < 2;
  }

  async #ask(question, inputs, joint, fault) {
    fault.textContent = "";
    try {
      const values = {};
      for (const [name, input] of Object.entries(inputs))
        values[name] = input.type === "checkbox" ? input.checked : input.type === "file" ? await this.#file(input) : input.value.trim();
      const asked = question.ask(values, structuredClone(joint.case));
      const told = await post("api/studies", { kind: question.kind, case: asked.case ?? joint.case, options: asked.options, joint: joint.uid });
      this.#show(told);
      this.look();
    } catch (error) {
      fault.textContent = faultWords(error).join(" ");
    }
  }

  async #file(input) {
    return input.files[0] ? input.files[0].text() : "";
  }

  // See where all studies stand, again and again while one runs.
  async look() {
    clearTimeout(this.soon);
    let going = false;
    try {
      const { studies } = await get("api/studies");
      for (const study of studies) {
        this.#show(study);
        going ||= ["waits", "runs"].includes(study.state);
      }
      const known = new Set(studies.map((s) => s.id));
      for (const [id, { box }] of this.shown)
        if (!known.has(id)) {
          box.remove();
          this.shown.delete(id);
        }
    } catch {
      going = this.shown.size > 0;
    }
    this.list.hidden = !this.shown.size;
    if (going) this.soon = setTimeout(() => this.look(), EVERY);
  }

  #show(study) {
    let known = this.shown.get(study.id);
    if (!known) {
      known = this.#box(study);
      this.shown.set(study.id, known);
      this.list.prepend(known.box);
    }
    const going = ["waits", "runs"].includes(study.state);
    known.where.textContent = where(study);
    known.bar.hidden = !going;
    if (study.total) known.bar.value = study.done / study.total;
    else known.bar.removeAttribute("value");
    known.cancel.textContent = going ? "Cancel" : "Throw away";
    if (known.state !== study.state && !going) this.#answer(study, known);
    known.state = study.state;
  }

  // Say of every answer whether its joint is still the one that it was asked of; without it
  // there is nothing that its buttons could act on.
  mark() {
    for (const { study, plain, since, inside } of this.shown.values()) {
      const joint = this.joints().find((j) => j.uid === study.joint);
      since.textContent = !joint ? "Its joint is not on the page any more." : plain && plainOf(joint.table.plain) !== plain ? "Its joint has been changed since." : "";
      for (const button of inside.querySelectorAll("button, [role=button]")) {
        button.disabled = !joint;
        button.setAttribute("aria-disabled", !joint);
      }
    }
  }

  #box(study) {
    const question = this.questions.find((q) => q.kind === study.kind);
    const where = made("p", { className: "where" });
    const since = made("p", { className: "since" });
    const bar = made("progress", { max: 1, ariaLabel: "How far it is" });
    const cancel = made("button", { type: "button" });
    const inside = made("div", { className: "study-answer" });
    cancel.addEventListener("click", async () => {
      await post(`api/studies/${study.id}/${cancel.textContent === "Cancel" ? "cancel" : "forget"}`, {}).catch(() => {});
      this.look();
    });
    const head = made("header", {}, made("h3", { textContent: question?.title ?? study.kind }), made("span", { textContent: study.title }), where, bar, cancel, since);
    const box = made("article", { className: "study" }, head, inside);
    box.dataset.kind = study.kind;
    return { box, where, bar, cancel, inside, since, study };
  }

  async #answer(study, known) {
    try {
      const whole = await get(`api/studies/${study.id}`);
      const base = `api/studies/${study.id}/files/`;
      known.inside.replaceChildren();
      // a change is made in the joint as it was asked, so that what it gives is what was pulled
      const take = (changes) => this.joints().find((j) => j.uid === study.joint)?.adopt({ case: whole.case, changes });
      if (whole.state === "done" && study.kind === "advise") showAdvice(known.inside, whole.said, take);
      else if (whole.state === "done" && study.kind === "sweep") await showSweep(known.inside, base, whole, take, this.titles);
      else showText(known.inside, whole.said);
      for (const name of whole.files.filter((f) => /\.(png|webp)$/.test(f) && study.kind !== "sweep"))
        known.inside.append(made("img", { src: base + name, alt: `${name.replace(/\.\w+$/, "")}: ${study.title}`, loading: "lazy" }));
      if (whole.files.length) {
        const links = whole.files.map((name) => made("li", {}, made("a", { href: base + name, download: name.split("/").pop(), textContent: name })));
        known.inside.append(made("div", { className: "take" }, "Download", made("ul", {}, ...links)));
      }
      known.plain = plainOf(whole.plain);
      this.mark();
      known.box.dataset.answered = whole.state;
    } catch (error) {
      known.where.textContent = error.message;
    }
  }
}

function where(study) {
  const { state, done, total, left_s, seconds } = study;
  if (state === "waits") return "Waits for the one before it.";
  if (state === "failed") return `It came to no answer: ${study.what || "it ended without a word"}`;
  if (state === "cancelled") return "Cancelled.";
  const counted = total ? `${done} of ${total}` : study.what.slice(0, 80);
  if (state === "done") return `Done in ${minutes(seconds)}.`;
  return `${counted || "Begins"}${left_s === null ? "" : `, about ${minutes(left_s)} left`}`;
}

const minutes = (seconds) => (seconds < 90 ? `${Math.round(seconds)} s` : `${Math.round(seconds / 60)} min`);
