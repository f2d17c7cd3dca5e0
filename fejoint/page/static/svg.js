// Making SVG elements.

export function svg(name, attributes = {}, text = null) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (text !== null) made.textContent = text;
  return made;
}

// The largest of 1, 2 and 5 times a power of ten that is not above a value.
export function roundStep(value) {
  const power = 10 ** Math.floor(Math.log10(value));
  return Math.max(...[1, 2, 5].map((k) => k * power).filter((step) => step <= value * (1 + 1e-9)));
}
