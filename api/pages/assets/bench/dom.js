// Makes elements; whatever a person wrote reaches the page as text, never as markup.

const SVG = "http://www.w3.org/2000/svg";

function fill(node, given, children) {
  for (const [name, value] of Object.entries(given ?? {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (name === "text") node.textContent = value;
    else if (name === "value") node.value = value;
    else node.setAttribute(name, value === true ? "" : String(value));
  }
  node.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined));
  return node;
}

export function el(tag, given, ...children) {
  return fill(document.createElement(tag), given, children);
}

export function svg(tag, given, ...children) {
  return fill(document.createElementNS(SVG, tag), given, children);
}

/** A button of a kind: small, add, main, link or none; `label` is what it is called where its text is brief. */
export const button = (text, kind, onclick, { key, label, ...more } = {}) => el("button", {
  type: "button", class: kind, text, onclick, "aria-label": label, title: label, "data-key": key, ...more,
});

/** What is folded until it is wanted. */
export const folded = (words, ...children) =>
  el("details", { class: "more" }, el("summary", { text: words }), children);

export const byId = (id) => document.getElementById(id);

/** Put words into an element, only where they differ, so that live regions speak once. */
export function say(node, words) {
  if (node.textContent !== words) node.textContent = words;
}

const WHOLE = 1e5; // beyond, nothing that is shown is known to the last digit

/** A number at a fixed number of decimals, beyond a hundred thousand to four digits, with a real minus sign. */
export function fixed(given, decimals) {
  const value = Math.abs(given) < WHOLE ? given : Number(given.toPrecision(4));
  return value.toFixed(decimals).replace(/^-(?=0(\.0*)?$)/, "").replace("-", "−");
}

/** A number to a few significant digits, with a real minus sign; from a thousand to a million to four at least. */
export function digits(given, count = 3) {
  const value = Math.abs(given) < 1000 ? given : Number(given.toPrecision(Math.abs(given) < 1e6 ? Math.max(count, 4) : count));
  if (value === 0) return "0";
  const decimals = Math.max(0, count - 1 - Math.floor(Math.log10(Math.abs(value))));
  return fixed(value, Math.min(decimals, 6));
}

/** A number as short as it can be said to a few significant digits. */
export const short = (value, count = 3) => String(Number(value.toPrecision(count))).replace("-", "−");

/** A message of the service with the signs of print: −1.5, 20 %, 1500. */
export const inPrint = (message) => message.replace(/(^|[\s(])-(?=\d)/g, "$1−").replace(/(\d)%/g, "$1 %")
  .replace(/\b\d(\.\d+)?e[+-]\d+\b/g, (number) => String(Number(number)));

/** Per cent of a spread: to two digits, and no finer than is known. */
export const percent = (value) => `${short(Number(value.toFixed(2)), 2)} %`;

/** A number to a tenth, and no finer than three digits. */
export const tenths = (value) => (Math.abs(value) < 100 ? fixed(value, 1) : short(value));

/** Per cent with its sign: a deviation. */
export function signed(percent, decimals = 1) {
  const text = Math.abs(percent) < 100 ? fixed(percent, decimals) : short(percent);
  return `${percent > 0 && Number(percent.toFixed(decimals)) !== 0 ? "+" : ""}${text} %`;
}
