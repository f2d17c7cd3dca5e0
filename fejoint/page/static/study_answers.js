// Answers of studies that are read: what a command says, and changes that can be tried.

import { grouped, pullWords, shown } from "./case_table.js";

export function showText(place, said) {
  const lines = said.split("\n").filter((line) => !line.startsWith("wrote "));
  place.append(Object.assign(document.createElement("pre"), { textContent: lines.join("\n").trim(), tabIndex: 0 }));
}

// take(changes): a change is tried.
export function showAdvice(place, said, take) {
  const told = JSON.parse(said);
  const say = (text) => place.append(Object.assign(document.createElement("p"), { textContent: text }));
  say(`Now the first gives at ${pullWords(told.present.load_N)}; to be reached: ${pullWords(told.goal_N)}.`);
  if (told.reached) say("The joint reaches it as it is.");
  for (const [title, changes] of [["Change one dimension", told.one_dimension], ["Change two", told.two_dimensions]]) {
    if (!changes.length) continue;
    const list = document.createElement("ul");
    for (const { change, changes: all, row } of changes) {
      const item = document.createElement("li");
      const words = change.map((c) => `${c.dimension.replace(".", ": ").replaceAll("_", " ")} ${shown(c.from)} to ${shown(c.to)} ${c.unit}`).join(" and ");
      const button = Object.assign(document.createElement("button"), { type: "button", textContent: "Try it" });
      button.addEventListener("click", () => take(all));
      item.append(`${words}: gives at ${grouped(row.load_N)} N `, button);
      list.append(item);
    }
    say(`${title}:`);
    place.append(list);
  }
  for (const [name, best] of Object.entries(told.out_of_reach_alone)) say(`${name.replace(".", ": ").replaceAll("_", " ")} alone does not reach it: ${grouped(best)} N at best.`);
}
