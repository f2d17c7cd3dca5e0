// The metals: values, source and what was taken for granted; and a hardness on other scales.

import { grouped } from "./case_table.js";
import { faultWords } from "./fields.js";
import { get } from "./link.js";

const VALUES = [
  ["rp02", "Rp0.2", "MPa"], ["rm", "Rm", "MPa"], ["uniform_strain", "uniform strain", "%"], ["fracture_strain", "fracture strain (true)", ""],
  ["fracture_band", "its band", ""], ["modulus", "modulus", "MPa"], ["density", "density", "g/cm³"], ["law", "hardening", ""], ["family", "family", ""], ["aliases", "also called", ""], ["source", "source", ""],
];

function value(key, unit, got) {
  if (got === undefined || got === null || got === "" || (Array.isArray(got) && !got.length)) return null;
  if (Array.isArray(got)) return got.join(key === "aliases" ? ", " : " to ");
  if (unit === "%") return typeof got === "number" ? `${Number((100 * got).toPrecision(3))} %` : String(got);
  return typeof got === "number" ? `${grouped(got, got < 100 ? 2 : 0)} ${unit}`.trim() : String(got);
}

export function showMetals(root, materials) {
  const choice = root.querySelector("#metal");
  const place = root.querySelector(".metal-values");
  choice.replaceChildren(...materials.map((m) => new Option(m.name, m.name)));
  const show = () => {
    const metal = materials.find((m) => m.name === choice.value) ?? materials[0];
    place.replaceChildren();
    for (const [key, name, unit] of VALUES) {
      const text = value(key, unit, metal[key]);
      if (text !== null) place.append(Object.assign(document.createElement("dt"), { textContent: name }), Object.assign(document.createElement("dd"), { textContent: text }));
    }
  };
  choice.addEventListener("change", show);
  show();
  const told = root.querySelector("#hardness-told");
  root.querySelector("#hardness-form").addEventListener("submit", async (event) => {
    event.preventDefault();
    try {
      const found = await get(`api/hardness?of=${encodeURIComponent(root.querySelector("#hardness").value)}`);
      const scales = ["HV", "HB", "HRC"].filter((s) => found[s] !== null).map((s) => `${Number(found[s].toPrecision(4))} ${s}`);
      told.textContent = `${scales.join(" = ")}; Rm ${grouped(found.rm_MPa)} MPa (${grouped(found.low_MPa)} to ${grouped(found.high_MPa)}), for ${found.holds_for} only. ${found.source}`;
    } catch (error) {
      told.textContent = faultWords(error).join(" ");
    }
  });
}
