// The questions that the page asks of a joint in the background, each one command.

export const DIMENSIONS = [
  ["ear.width", "ear width"], ["ear.thickness", "ear thickness"], ["ear.hole", "ear hole"],
  ["ear.edge_distance", "ear: hole to the end"], ["pin.diameter", "pin diameter"],
  ["shank.thickness", "shank thickness"], ["shank.hole", "shank hole"],
  ["shank.edge_distance", "shank: hole to the end"], ["fit.gap", "gap beside the shank"],
];
const NONE = ["", "no other"];

// "14:18" or "14 to 18" with a count, as the command takes it.
function varied(path, range, count) {
  const [low, high] = range.split(/\s*(?::|\bto\b|-|–)\s*/);
  if (!(Number(low) < Number(high))) throw new Error(`write from and to as two numbers, such as 12 to 18, not "${range}"`);
  return `${path}=${low}:${high}:${count} mm`;
}

const KEEP = ["book", "keep it in the results book", "checkbox", true];

// What can be asked; book: name of the results book, or null.
export function questions(book) {
  if (!book) return QUESTIONS;
  const all = QUESTIONS.map((q) => (q.kind === "match" ? { ...q, inputs: [...q.inputs, KEEP], ask: (v) => ({ options: v.log ? v : { plan: true, book: v.book } }) } : q));
  return [...all, {
    kind: "book", title: "What does the results book say?", go: "Read it",
    what: `Every measured pull in ${book} beside its prediction, and how the predictions did.`,
    inputs: [], ask: () => ({ options: {} }),
  }];
}

// Rows of inputs: [name, words, kind, value at the start, choices].
const QUESTIONS = [
  {
    kind: "pin-range", title: "How hard should the pin be?", go: "Pull with soft to hard pins",
    what: "Pulls the joint with steel pins from soft to hard, and finds where another part comes to give first.",
    inputs: [["softest", "softest pin", "text", "150 HV"], ["hardest", "hardest pin", "text", "600 HV"], ["points", "hardnesses", "number", 12], ["after", "bend left after a pull of", "text", ""]],
    ask: (v) => ({ options: { ...v, points: Number(v.points) } }),
  },
  {
    kind: "sweep", title: "What if a dimension were another?", go: "Pull them all",
    what: "Pulls the joint with one dimension, or two, over a range; every one can then be taken into the drawing.",
    inputs: [
      ["one", "dimension", "choice", "ear.width", DIMENSIONS], ["from", "from and to, mm", "text", "12 to 18"], ["steps", "how many", "number", 5],
      ["two", "and", "choice", "", [NONE, ...DIMENSIONS]], ["from2", "from and to, mm", "text", "6 to 9"], ["steps2", "how many", "number", 4],
    ],
    ask: (v) => ({ options: { vary: [varied(v.one, v.from, v.steps), ...(v.two ? [varied(v.two, v.from2, v.steps2)] : [])] } }),
  },
  {
    kind: "advise", title: "What must change to carry a pull?", go: "Find the smallest change",
    what: "Finds the smallest change of one dimension, and of two, by which nothing gives below the pull.",
    inputs: [["target", "nothing may give below", "text", "900 kgf"], ["margin", "and a margin of", "text", "0 %"]],
    ask: (v) => ({ options: v }),
  },
  {
    kind: "scatter", title: "How much do joints of one make differ?", go: "Draw and pull them",
    what: "Draws joints within tolerances and with metals as they scatter: the band of pulls, and the odds of what gives first.",
    inputs: [["hole", "ear hole, up to ± mm", "text", "0.05"], ["end", "hole to the end, up to ± mm", "text", "0.2"], ["thick", "ear thickness, up to ± mm", "text", "0.05"], ["pin", "pin diameter, up to ± mm", "text", "0.02"], ["draws", "joints to draw", "number", 40]],
    ask: (v, table) => {
      const scatter = { ...table.scatter };
      const paths = { hole: "ear.hole", end: "ear.edge_distance", thick: "ear.thickness", pin: "pin.diameter" };
      for (const [name, path] of Object.entries(paths)) if (v[name]) scatter[path] = { within: /[a-z]/i.test(v[name]) ? v[name] : `${v[name]} mm` };
      return { case: { ...table, scatter }, options: { draws: Number(v.draws) } };
    },
  },
  {
    kind: "used", title: "What has a used joint seen?", go: "Work it out",
    what: "From what stayed stretched or bent: which pull it has most likely seen, and what it still bears. Give what you could measure.",
    inputs: [["hole", "hole longer than new by, mm", "text", "0.1"], ["bend", "pin stays bent by, mm", "text", ""], ["neck", "ear narrower beside the hole by, mm", "text", ""], ["within", "measured within, mm", "text", "0.02"]],
    ask: (v) => ({ options: Object.fromEntries(Object.entries(v).map(([k, t]) => [k, t && !/[a-z"]/i.test(t) ? `${t} mm` : t])) }),
  },
  {
    kind: "directions", title: "And pulled askew?", go: "Pull all round",
    what: "Pulls the joint straight, obliquely, sideways and back.",
    inputs: [["every", "degrees between two pulls", "number", 30]],
    ask: (v) => ({ options: { every: Number(v.every) } }),
  },
  {
    kind: "blow", title: "And struck from the side?", go: "Push an ear",
    what: "Pushes one ear sideways, across and along the pin.",
    inputs: [["angle", "angle between blow and ear, degrees", "number", 90]],
    ask: (v) => ({ options: { angle: Number(v.angle) } }),
  },
  {
    kind: "solid", title: "Does a thin end dish or curl?", go: "Pull the ear in the round",
    what: "Pulls one ear as a solid body: what it loses when its end leaves its plane. Worth asking where an end is thin and long.",
    inputs: [["ear", "ear", "choice", "1", [["1", "ear 1"], ["2", "ear 2"]]], ["head", "head or washer on it, mm across", "text", ""]],
    ask: (v) => ({ options: { ear: Number(v.ear), head: v.head && !/[a-z"]/i.test(v.head) ? `${v.head} mm` : v.head } }),
  },
  {
    kind: "pull", title: "Pictures and a film to hand on?", go: "Draw them",
    what: "Draws every picture of the pull as for print, and a film of it.",
    inputs: [], ask: () => ({ options: { film: true } }),
  },
  {
    kind: "match", title: "How does a measured pull compare?", go: "Lay it over",
    what: "Lays a rig's log over the prediction and says what was taken out of it. Without a log it writes a plan of the test, to print.",
    inputs: [
      ["log", "log of the rig", "file", ""], ["learn", "learn the metal from it", "checkbox", false], ["part", "whose metal", "choice", "ear", [["ear", "the ears'"], ["pin", "the pin's"], ["shank", "the shank's"]]],
      ["rig", "stiffness of the rig, if known", "text", ""], ["speed", "speed of the rig, if known", "text", ""],
      ["broke", "what was seen", "choice", "", [["", "not noted"], ...["hole stretched", "pin bent", "pin sheared", "end torn", "net section"].map((w) => [w, w])]],
    ],
    ask: (v) => ({ options: v.log ? v : { plan: true } }),
  },
];
