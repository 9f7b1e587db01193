// Variants of a job that are kept beside each other: what each asks of the pump, how even it is, what it takes.

import { button, byId, digits, el, fixed, percent } from "./dom.js";
import { evenness, table, titled } from "./parts.js";
import { keep, kept } from "./service.js";
import { inDrop, inFlow, units } from "./units.js";

const KEPT = "evenloop-bench-variants";
const MOST = 12;

const before = kept(KEPT);
let variants = Array.isArray(before) ? before.map((each) => ({ id: "", ...each })) : [];
let desk = null; // what the bench gives: job(), id(), answer(), findings(), told(), choose(job, id), say()

export function startVariants(given) {
  desk = given;
  byId("keep-variant").addEventListener("click", keepThis);
}

/** What a variant is compared by; its findings are those of the flows and of the array beside its load. */
function numbersOf({ loops, closed_loops: closed, pump, imbalance }) {
  const findings = desk.findings();
  return {
    loops: loops.length,
    pipe_m: loops.reduce((sum, loop) => sum + loop.length_m, 0)
      + closed.reduce((sum, loop) => sum + loop.count * loop.length_m, 0),
    flow_l_s: pump.flow_l_s, head_kpa: pump.head_kpa, power_w: pump.hydraulic_power_w,
    spread_percent: imbalance?.spread_percent ?? 0, even: imbalance?.within_tolerance ?? false,
    errors: findings.filter((each) => each.severity === "error").length,
    warnings: findings.filter((each) => each.severity === "warning").length,
  };
}

function keepThis() {
  const answer = desk.answer();
  if (!answer || desk.problem()) {
    desk.say("Only what has an answer can be kept.");
    return;
  }
  const taken = new Set(variants.map((each) => each.name));
  const stem = desk.job().name || "Variant";
  let name = stem;
  for (let number = 2; taken.has(name); number += 1) name = `${stem} (${number})`;
  variants = [...variants, { name, id: desk.id(), job: structuredClone(desk.job()), numbers: numbersOf(answer), told: desk.told() }].slice(-MOST);
  store(`${name} is kept.`);
}

function store(words) {
  keep(KEPT, variants);
  showVariants();
  desk.say(words);
}

/** A number, and by how much it differs from that on the bench. */
function beside(value, now, words) {
  if (now === undefined || Math.abs(value - now) <= 0.0005 * Math.abs(now)) return words(value);
  const change = 100 * (value / now - 1);
  return el("b", { text: `${words(value)}${Number.isFinite(change) ? ` (${change > 0 ? "+" : "−"}${fixed(Math.abs(change), 0)} %)` : ""}` });
}

const COLUMNS = () => [["Variant", ""], ["Loops", ""], ["Pipe of loops", "m"], ["Pump moves", units.flow],
  ["against", units.drop], ["Hydraulic", "W"], ["Spread", ""], ["Findings", ""]];

const cellsOf = ({ name, numbers }, than) => [
  name, fixed(numbers.loops, 0), beside(numbers.pipe_m, than.pipe_m, (each) => fixed(each, 0)),
  beside(numbers.flow_l_s, than.flow_l_s, (each) => digits(inFlow(each))),
  beside(numbers.head_kpa, than.head_kpa, (each) => digits(inDrop(each))),
  beside(numbers.power_w, than.power_w, (each) => digits(each)),
  `${evenness(numbers.even, numbers.errors)}, ${percent(numbers.spread_percent)}`,
  [numbers.errors ? `${numbers.errors} error${numbers.errors > 1 ? "s" : ""}, ` : "",
    `${numbers.warnings} warning${numbers.warnings === 1 ? "" : "s"}`].join(""),
];

const rowOf = (variant, than) => ({
  cells: cellsOf(variant, than),
  under: [
    variant.told ? el("p", { text: variant.told }) : null,
    el("div", { class: "buttons" },
      button("Put on the bench", "small", () => desk.choose(variant.job, variant.id), { label: `Put on the bench: ${variant.name}` }),
      button("Forget", "small", () => {
        variants = variants.filter((each) => each !== variant);
        store(`${variant.name} is forgotten.`);
      }, { label: `Forget ${variant.name}` })),
  ],
});

/** Show the variants of the job beside what is on the bench, and those of other jobs apart from it. */
export function showVariants() {
  const box = byId("variants");
  byId("variants-panel").hidden = variants.length === 0;
  const own = variants.filter((each) => each.id === desk.id());
  const others = variants.filter((each) => !own.includes(each));
  const answer = desk.answer();
  const now = answer && !desk.problem() ? numbersOf(answer) : {};
  const rows = own.map((each) => rowOf(each, now));
  if (rows.length && now.loops) {
    rows.unshift({ mark: "asitis", cells: cellsOf({ name: "On the bench", numbers: now }, {}),
      under: desk.told() ? el("p", { text: desk.told() }) : null });
  }
  box.replaceChildren(...[
    rows.length ? table("Variants, side by side", COLUMNS(), rows) : null,
    rows.length ? el("p", { class: "key", text: "Bold differs from what is on the bench, by so many per cent. The document is made of what is on the bench." }) : null,
    others.length ? titled("Of other jobs", el("p", { class: "hint", text: "Kept from another job than the one on the bench, "
      + "and not compared with it. Put on the bench, one takes the place of the job there." }),
    table("Variants of other jobs", COLUMNS(), others.map((each) => rowOf(each, {})))) : null,
  ].filter(Boolean));
}
