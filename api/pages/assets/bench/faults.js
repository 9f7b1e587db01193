// Faults in the words of the screen: a box's label in place of a field's name, what was typed, what is allowed.

import { inPrint } from "./dom.js";
import { PARTS, partsOf } from "./job.js";
import { allFields } from "./fields.js";
import { inUnits } from "./units.js";

// What is wrong with the shape of a file: no box brought it, and it is mended in the text itself.
const OF_TEXT = /no field of this object|does not stand here|in braces|in brackets|by its kind/;
const UNIT = /_(kg_m3|mj_m3_k|w_m_k|m_k_w|w_m|k_m|rpm|m3_h|l_min|l_s|m_s|m_h|percent|kpa|min|mm|m2|m3|kwh|kw|kg|c|k|w|m|l|h)$/;
const NAME = /(?<=^|[\s(])'[^']*'|\b[a-z][a-z0-9]*(?:_[a-z0-9]+)+\b/g; // what stands in quotes is the user's

const nameOf = (pointer) => partsOf(pointer).findLast((part) => !/^\d+$/.test(part)) ?? "";
const quoted = (label) => `“${label}”`;
const plain = (name) => name.replace(UNIT, "").replaceAll("_", " ");

/** How much of two pointers is the same. */
function shared(one, other) {
  const parts = partsOf(other);
  return partsOf(one).findIndex((part, at) => part !== parts[at]) >>> 0;
}

/** What a field's name is called on the page, nearest to a place. */
function called(name, pointer) {
  const labels = [...allFields()].filter(({ input }) => nameOf(input.dataset.pointer) === name)
    .sort((a, b) => shared(b.input.dataset.pointer, pointer) - shared(a.input.dataset.pointer, pointer));
  return labels.length ? quoted(labels[0].label) : plain(name);
}

/** A sentence of the service in the words of the screen: the name of a field is what its box is called, of several
 * the one nearest to a place. `all` are fields' names where the user has named nothing in it. */
export function onScreen(message, pointer = "", { all = false } = {}) {
  const isField = (name) => all || PARTS.includes(name)
    || [...allFields()].some(({ input }) => partsOf(input.dataset.pointer).includes(name));
  return inUnits(inPrint(message.replace(NAME, (found) => (isField(found) ? called(found, pointer) : found))));
}

/** Where a control stands, from the heading of its panel inwards. */
function placeOf(control, label) {
  const inward = [];
  for (let box = control; box; box = box.parentElement) {
    if (box.matches("li[data-branch]")) inward.unshift(box.querySelector("summary b").textContent);
    else if (box.matches(".item[role=group]")) inward.unshift(box.getAttribute("aria-label"));
    else if (box.matches(".panel, .step")) inward.unshift(box.querySelector("h2").textContent);
  }
  return [...new Set([...inward, label])].filter(Boolean).join(", ");
}

/** A fault as the page tells it, at the field or the other control that shows it. */
export function told(fault, field, control) {
  const { pointer, detail, value, allowed = "" } = fault;
  if (typeof pointer !== "string" || typeof detail !== "string") return fault;
  const inText = `${pointer || "the job"}, in the job as JSON`;
  if (OF_TEXT.test(detail)) return { ...fault, place: inText };
  const place = control ? placeOf(control, field?.label) : inText;
  if (field?.own) return { ...fault, place };
  const name = nameOf(pointer);
  const within = field ? pointer.slice(field.input.dataset.pointer.length) : "";
  const [, line] = /^\/(\d+)\//.exec(within) ?? [];
  let words = detail;
  if (name && words.startsWith(`${name} `)) {
    const isAround = field?.input.dataset.pointer.startsWith(`${pointer}/`); // the fault is of more than this box
    const label = isAround ? `The ${plain(name)}`
      : field && (within === "" || /^\/\d+$/.test(within)) ? quoted(field.label) : called(name, pointer);
    words = label + words.slice(name.length);
  }
  words = words.replace(" is missing", " is empty");
  let limits = allowed.replace(/, as GET \S+ lists them/, "");
  if (words.includes(" is text; give a JSON number")) {
    words = words.replace(/ is text; give a JSON number.*/, ` is ${quoted(value)}; type ${limits.replace(/^(?=from|above)/, "a number ").replace(/^(?=more|less|at)/, "a number of ")}, without its unit.`);
    if (/^\d{1,3},\d{3}$/.test(value)) words += ` ${quoted(value)} may be ${value.replace(",", "")} or ${value.replace(",", ".")}.`;
  } else if (typeof value === "string") words = words.replace(" is text;", ` is ${quoted(value)};`);
  if (limits && !words.includes(limits)) words += ` Allowed: ${limits}.`;
  words = words.replace(NAME, (found) => (found.startsWith("'") ? found : called(found, pointer)));
  return { ...fault, place, detail: inPrint(`${line === undefined ? "" : `Line ${Number(line) + 1}: `}${words}`) };
}
