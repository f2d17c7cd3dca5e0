// What gives, in order, as a table; and what can be taken away of an answer.

import { grouped, kgf, told } from "./case_table.js";

const cell = (tag, text, kind = "") => Object.assign(document.createElement(tag), { textContent: text, className: kind });

// meanings: what each limit is counted as, by its mode and cause
export function showOrder(find, answer, meanings) {
  const first = answer.verdict.load_N;
  const rows = [];
  for (const row of answer.verdict.order)
    [row, ...row.later].forEach((limit, k) => rows.push(line(limit, k, first, figuresOf(answer, limit), meanings.find((m) => m.mode === limit.mode && m.cause === limit.cause)?.says)));
  find(".order tbody").replaceChildren(...rows);
  find(".notes").replaceChildren(...answer.warnings.map((w) => cell("li", w)));
}

// How many figures a limit's load is told to; three where no band is known.
export function figuresOf(answer, limit) {
  const same = (b) => b.member === limit.member && b.mode === limit.mode && b.cause === limit.cause;
  return (answer.trust.band_N ?? []).find(same)?.figures;
}

// A mode's title with its member before it, unless the title names it.
export const named = (title, member) => (!member || title.startsWith(member) ? title : `${member}: ${title}`);

function line(limit, k, first, figures, meaning) {
  const made = document.createElement("tr");
  if (k) made.className = "further";
  const hand = limit.handbook_load_N;
  const by = limit.source === "handbook" ? `${limit.cause}, by hand` : limit.cause;
  const part = cell(k ? "td" : "th", k ? "" : limit.member);
  if (!k) part.scope = "row";
  made.append(part, meant(`${limit.title} (${by})`, meaning), cell("td", told(limit.load_N, figures), "n"), cell("td", told(kgf(limit.load_N), figures), "n"));
  made.append(cell("td", limit.load_N === first ? "first" : limit.past_highest_pull ? "past the highest pull" : `+ ${grouped(100 * (limit.load_N / first - 1))} %`, "n"));
  const outside = limit.handbook_note;
  const last = cell("td", hand === null ? "" : outside ? `(${told(hand)})` : told(hand), "n");
  if (limit.handbook_source) last.title = outside ? `${limit.handbook_source}; ${outside}` : limit.handbook_source;
  made.append(last);
  return made;
}

// A cell that opens to say what its words mean.
function meant(words, meaning) {
  if (!meaning) return cell("td", words);
  const opens = document.createElement("details");
  opens.className = "meaning";
  opens.append(cell("summary", words), cell("p", meaning));
  const made = document.createElement("td");
  made.append(opens);
  return made;
}

// id: of an exact answer, or null; plates: names of its drawings; others: [id, title] of the
// joints beside.
export function showDownloads(place, id, pictures, plates, others) {
  place.replaceChildren();
  if (id === null) return;
  const link = (text, path) => {
    const a = Object.assign(document.createElement("a"), { textContent: text, href: `api/pulls/${id}/${path}` });
    a.download = "";
    return a;
  };
  const items = [[link("answer", "answer.json")], [link("report", "report.html")]];
  if (others.length) {
    const whom = others.length === 1 ? others[0][1] || "the other joint" : `the other ${others.length} joints`;
    items.push([link(`report beside ${whom}`, `report.html?${others.map(([one]) => `beside=${one}`).join("&")}`)]);
  }
  for (const [what, name] of pictures) items.push([link(name, `pictures/${what}.png`), " (", link("svg", `pictures/${what}.svg`), ")"]);
  for (const plate of plates) items.push([link(`${plate.replace("-", " ")}, to cut`, `cut/${plate}.dxf`), " (", link("svg", `cut/${plate}.svg`), ")"]);
  const list = document.createElement("ul");
  for (const parts of items) {
    const item = document.createElement("li");
    item.append(...parts);
    list.append(item);
  }
  place.append("Download", list);
}
