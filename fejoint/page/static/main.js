// The page: a joint or several, and what they share: scales, colours, the axis of pull.

import { grouped, pullWords } from "./case_table.js";
import { Drawing } from "./drawing.js";
import { JointView } from "./joint_view.js";
import { fromAddress, Keeping } from "./keeping.js";
import { get, listen, newName, post } from "./link.js";
import { limitsOf, PullAxis } from "./pull_axis.js";
import { showMetals } from "./metals.js";
import { heaviestBearing, room } from "./shape_view.js";
import { Studies } from "./studies.js";

const $ = (id) => document.getElementById(id);
const joints = [];
const axis = new PullAxis($("axis"), $("line"), $("pull-at"), (load) => goTo(load));
const keeping = new Keeping(restore, () => {
  $("undo").disabled = !keeping.before;
  $("redo").disabled = !keeping.after;
});
const printing = matchMedia("print");
const PLACES = ["a", "b", "c", "d"]; // of the joints that stand on the page together
const SETTLED = 1500; // ms after which an answer is told
const PLAYED = 6000; // ms that a whole pull is played in
const TEXT = "input:is([type=text], [type=number], :not([type])):not([data-path]), [data-path$=hardness]";
let typedInto = null; // box, since it was entered
let start;
let studies = null;
let place = null; // on the axis of pull; null follows the first part to give
let proofLoad = null; // N; null follows the first joint

function look() {
  const chosen = document.documentElement.dataset.paper;
  const dark = printing.matches ? false : chosen ? chosen === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
  const style = getComputedStyle(document.documentElement);
  const colour = (name) => style.getPropertyValue(`--${name}`).trim();
  const tops = {};
  for (const joint of joints)
    for (const [name, top] of Object.entries(joint.scene?.header.stress_top_MPa ?? {})) tops[name] = Math.max(tops[name] ?? 0, top);
  return {
    paper: dark ? "dark" : "light",
    what: document.querySelector("input[name=quantity]:checked").value,
    enlarge: Number(document.querySelector("input[name=enlarge]:checked").value),
    tops,
    font: "12px system-ui, sans-serif",
    ...Object.fromEntries(["ink", "quiet", "metal", "steel", "second"].map((n) => [n, colour(n)])),
  };
}

function solved() {
  return joints.filter((joint) => joint.scene);
}

// What all joints are drawn by.
function shared() {
  const scenes = solved().map((joint) => joint.scene);
  const to = look();
  const rooms = scenes.map(room);
  const most = (pick) => Math.max(...rooms.map(pick));
  const ear = { left: most((r) => r.ear.left), right: most((r) => r.ear.right), half: most((r) => r.ear.half) };
  const withPin = rooms.filter((r) => r.pin);
  const pin = withPin.length ? Object.fromEntries(["left", "right", "top", "deep"].map((k) => [k, Math.max(...withPin.map((r) => r.pin[k]))])) : null;
  const width = joints[0].find(".outcome").clientWidth;
  const stacked = width < 480;
  const strip = pin ? (stacked ? 100 : 110) : 0;
  const [earWide, pinWide] = [ear.left + ear.right, pin ? pin.left + pin.right : 0];
  const zoom = stacked
    ? Math.min((width - 4) / earWide, pin ? (width - strip - 8) / pinWide : 99)
    : Math.min((width - strip - 24) / (earWide + pinWide), 340 / Math.max(2 * ear.half, pin ? pin.top + pin.deep : 0));
  return {
    room: { ear, pin },
    zoom,
    strip,
    heaviest: Math.max(...scenes.map(heaviestBearing)),
    look: to,
    limits: {
      load: 1.08 * Math.max(...scenes.map((s) => s.most)),
      elongation: 1.05 * Math.max(...scenes.map((s) => Math.max(...s.elongation))),
    },
  };
}

let frame = 0;
let due = "";
function drawSoon(what = "all") {
  due = due && due !== what ? "all" : what;
  cancelAnimationFrame(frame);
  frame = requestAnimationFrame(draw);
}

function draw() {
  const began = performance.now();
  if (!joints.length) return;
  if (due !== "pull") drawSketches();
  if (due !== "sketch") drawAnswers();
  due = "";
  document.body.dataset.work = (performance.now() - began).toFixed(1);
}

function drawSketches() {
  studies?.mark();
  const plains = joints.filter((j) => j.table.plain);
  document.body.classList.toggle("behind", joints.some((j) => j.stale));
  if (plains.length) {
    const scale = Math.min(...plains.map((j) => Drawing.scale(j.table, j.find(".sketch").clientWidth)));
    for (const joint of plains) {
      joint.scale = scale;
    }
  }
  for (const joint of joints) joint.show();
}

function drawAnswers() {
  document.body.classList.toggle("behind", joints.some((j) => j.stale));
  if (!solved().length) return;
  axis.draw(joints.map((j) => (j.scene ? j : null)));
  const input = $("pull-at");
  const at = Math.min(place ?? solved()[0].answer.verdict.load_N, Number(input.max));
  input.value = at;
  const limits = solved().flatMap((joint) => limitsOf(joint.answer));
  const near = limits.find((l) => Math.abs(l.load - at) <= 1e-6 * at);
  const figures = near && (near.figures ?? 3);
  const to = { ...shared(), figures };
  for (const joint of solved()) joint.showAt(at, to);
  const words = pullWords(at, figures);
  $("pull-words").textContent = `Shown at a pull of ${words}`;
  input.setAttribute("aria-valuetext", words);
}

// What a proof pull leaves behind, of every joint; the load is one for all.
function proof(chosen = null) {
  if (chosen !== null) proofLoad = chosen;
  for (const joint of joints) {
    if (joint.detail !== "fine" || joint.stale) continue;
    const load = proofLoad ?? joints[0].proofLoad?.();
    const box = joint.find(".proof-load");
    if (document.activeElement !== box) box.value = load;
    if (!(load > 0)) {
      joint.kept("");
      continue;
    }
    const name = `${joint.id} ${load}`;
    if (joint.proved === name) continue;
    joint.kept("letting go…", name);
    post(`api/pulls/${joint.id}/proof`, { load_N: load })
      .then(keptWords, (error) => error.message)
      .then((words) => joint.proved === name && joint.kept(words, name));
  }
}

function keptWords(told) {
  if (!told.reached) return `more than it bears, which is ${pullWords(told.most_N)}.`;
  const hole = told.hole_mm === null ? "the hole could not be followed" : `the hole stays ${told.hole_mm.toFixed(3)} mm longer (${grouped((100 * told.hole_mm) / told.hole_diameter_mm, 2)} % of its diameter)`;
  const pin = told.sag_mm === null ? "" : `, bend left in the pin ${told.sag_mm.toFixed(3)} mm`;
  return `${hole}${pin}.`;
}

// What a link's maker should know, until something is changed.
function sayOfLink(fault) {
  $("link-fault").textContent = fault;
  $("link-fault").hidden = !fault;
}

function moved(answered = false) {
  drawSoon(answered ? "all" : "sketch");
  if (!answered) return;
  proof();
  for (const joint of joints) joint.showDownloads();
}

// One sentence for those who listen, once a joint's answer has settled.
let said = "";
function say(joint, sentence) {
  clearTimeout(joint.quiet);
  joint.quiet = setTimeout(() => {
    const whose = joints.length > 1 ? `${joint.table.get("title")}: ` : "";
    if (joint.stale || whose + sentence === said) return;
    $("said").textContent = said = whose + sentence;
  }, SETTLED);
}

function record(path = "") {
  sayOfLink("");
  keeping.record(joints.map((j) => ({ case: j.case, uid: j.uid })), path);
}

// The other joints that are solved exactly, as it is itself.
function beside(joint) {
  const exact = (j) => j.id && j.detail === "fine" && !j.stale;
  return exact(joint) ? joints.filter((j) => j !== joint && exact(j)) : [];
}

// uid: a joint's name, by which what was asked of it finds it again
function add(case_, uid = newName(), at = joints.length) {
  const { metals, fields, pictures, meanings } = start;
  const to = { metals, ranges: fields, pictures, meanings, moved, proof, record, beside, say, back: () => keeping.go(-1), away };
  const joint = new JointView(PLACES.find((place) => joints.every((j) => j.place !== place)), uid, case_, to);
  $("joints").insertBefore(joint.root, joints[at]?.root ?? null);
  joints.splice(at, 0, joint);
  joint.begin();
  counted();
}

// Take a joint off the page.
function away(joint) {
  drop(joint);
  record();
  $("another").focus();
}

function drop(joint) {
  joints.splice(joints.indexOf(joint), 1);
  joint.remove();
  counted();
}

function counted() {
  $("another").disabled = joints.length === PLACES.length;
  for (const joint of joints) joint.find(".away").hidden = joints.length < 2;
  drawSoon();
}

// Another joint begins as a copy of the last: what is then changed is the difference.
function addAnother() {
  const copy = structuredClone(joints.at(-1).case);
  const title = (copy.title || "Joint").replace(/, changed( \d)?$/, "");
  copy.title = `${title}, changed${joints.length > 1 ? ` ${joints.length}` : ""}`;
  add(copy);
  record();
}

// Show joints again: by undo, or as an address says.
function restore(wanted) {
  for (const joint of joints.filter((j) => wanted.every((w) => w.uid !== j.uid))) drop(joint);
  wanted.forEach(({ case: own, uid }, k) => {
    const joint = joints.find((j) => j.uid === uid);
    if (!joint) add(own, uid, k);
    else if (JSON.stringify(joint.case) !== JSON.stringify(own)) joint.begin(own, joint.table.chosen);
  });
}

function goTo(load) {
  place = load;
  drawSoon("pull");
}

// Play the pull from rest to its end; a press stops it.
let playing = 0;
function play() {
  const stop = playing !== 0;
  cancelAnimationFrame(playing);
  playing = 0;
  $("play").setAttribute("aria-pressed", !stop);
  $("play").textContent = stop ? "Play" : "Halt";
  if (stop) return;
  const began = performance.now();
  const step = (now) => {
    const share = Math.min((now - began) / PLAYED, 1);
    goTo(share * Number($("pull-at").max));
    if (share < 1) playing = requestAnimationFrame(step);
    else play();
  };
  playing = requestAnimationFrame(step);
}

async function begin() {
  const [told, metals] = await Promise.all([get("api/start"), get("api/materials")]);
  start = { ...told, metals: metals.materials.map((m) => m.name) };
  for (const [id, texts] of [["cautions", told.cautions], ["limits", told.limits]])
    $(id).replaceChildren(...texts.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
  const linked = fromAddress(location.hash);
  restore(linked.joints.length ? linked.joints : [{ case: told.cases[0] }]);
  record();
  sayOfLink(linked.fault);
  showMetals($("more"), metals.materials);
  studies = new Studies($("more"), () => joints, told);
  listen((word) => joints.find((j) => j.place === word.place)?.progress(word));
}

$("another").addEventListener("click", addAnother);
$("undo").addEventListener("click", () => keeping.go(-1));
$("redo").addEventListener("click", () => keeping.go(1));
$("fresh").addEventListener("click", () => {
  restore([{ case: start.cases[0] }]);
  record();
});
$("play").addEventListener("click", play);
addEventListener("input", (event) => (typedInto = event.target));
addEventListener("focusout", () => (typedInto = null));
addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
  const key = event.key.toLowerCase();
  const way = key === "z" ? (event.shiftKey ? 1 : -1) : key === "y" ? 1 : 0;
  // what is being typed has an undo of its own, and so has a box that is no dimension; where nothing
  // was typed into it, the browser would take back what was typed elsewhere
  const own = event.target.matches?.(TEXT);
  if (!way || joints.some((j) => j.typing) || (own && typedInto === event.target)) return;
  event.preventDefault();
  if (!own) keeping.go(way);
});
// by then the address may be that of the last change again, which is written a little late
addEventListener("hashchange", (event) => {
  const linked = fromAddress(new URL(event.newURL).hash);
  if (linked.joints.length) {
    restore(linked.joints);
    record();
  }
  sayOfLink(linked.fault);
});
addEventListener("pagehide", () => keeping.leave());
$("pull-at").addEventListener("input", (event) => {
  place = Number(event.target.value);
  drawSoon("pull");
});
for (const input of document.querySelectorAll("input[name=quantity], input[name=enlarge]")) input.addEventListener("change", () => drawSoon());
for (const input of document.querySelectorAll("input[name=paper]"))
  input.addEventListener("change", () => {
    if (input.value === "auto") delete document.documentElement.dataset.paper;
    else document.documentElement.dataset.paper = input.value;
    drawSoon();
  });
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => drawSoon());
new ResizeObserver(() => drawSoon()).observe($("joints"));
// a sheet has a width of its own; there is no frame before it is printed
for (const event of ["beforeprint", "afterprint"]) addEventListener(event, () => draw());
printing.addEventListener("change", () => draw());
begin().catch((error) => {
  $("joints").textContent = `The page could not begin: ${error.message}`;
});
