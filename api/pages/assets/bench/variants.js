// Variants of a job that are kept beside each other: what each asks of the pump, how even it is, what it takes.

import { button, byId, digits, el, fixed, percent } from "./dom.js";
import { evenness, table } from "./parts.js";
import { keep, kept } from "./service.js";
import { inDrop, inFlow, units } from "./units.js";

const KEPT = "evenloop-bench-variants";
const MOST = 12;

const before = kept(KEPT);
let variants = Array.isArray(before) ? before : [];
let desk = null; // what the bench gives: job(), answer(), told(), choose(job), say()

export function startVariants(given) {
  desk = given;
  byId("keep-variant").addEventListener("click", keepThis);
}

/** What a variant is compared by. */
function numbersOf({ loops, closed_loops: closed, pump, imbalance, findings }) {
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
  variants = [...variants, { name, job: structuredClone(desk.job()), numbers: numbersOf(answer), told: desk.told() }].slice(-MOST);
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

/** Show the variants beside what is on the bench. */
export function showVariants() {
  const box = byId("variants");
  byId("variants-panel").hidden = variants.length === 0;
  if (!variants.length) {
    box.replaceChildren();
    return;
  }
  const answer = desk.answer();
  const now = answer && !desk.problem() ? numbersOf(answer) : {};
  const cells = ({ name, numbers }, than) => [
    name, fixed(numbers.loops, 0), beside(numbers.pipe_m, than.pipe_m, (each) => fixed(each, 0)),
    beside(numbers.flow_l_s, than.flow_l_s, (each) => digits(inFlow(each))),
    beside(numbers.head_kpa, than.head_kpa, (each) => digits(inDrop(each))),
    beside(numbers.power_w, than.power_w, (each) => digits(each)),
    `${evenness(numbers.even, numbers.errors)}, ${percent(numbers.spread_percent)}`,
    [numbers.errors ? `${numbers.errors} error${numbers.errors > 1 ? "s" : ""}, ` : "",
      `${numbers.warnings} warning${numbers.warnings === 1 ? "" : "s"}`].join(""),
  ];
  const rows = variants.map((each, index) => ({
    cells: cells(each, now),
    under: [
      each.told ? el("p", { text: each.told }) : null,
      el("div", { class: "buttons" },
        button("Put on the bench", "small", () => desk.choose(each.job), { label: `Put on the bench: ${each.name}` }),
        button("Forget", "small", () => {
          variants = variants.filter((_, at) => at !== index);
          store(`${each.name} is forgotten.`);
        }, { label: `Forget ${each.name}` })),
    ],
  }));
  if (answer && now.loops) {
    rows.unshift({ mark: "asitis", cells: cells({ name: "On the bench", numbers: now }, {}),
      under: desk.told() ? el("p", { text: desk.told() }) : null });
  }
  box.replaceChildren(
    table("Variants, side by side", [["Variant", ""], ["Loops", ""], ["Pipe of loops", "m"], ["Pump moves", units.flow],
      ["against", units.drop], ["Hydraulic", "W"], ["Spread", ""], ["Findings", ""]], rows),
    el("p", { class: "key", text: "Bold differs from what is on the bench, by so many per cent. The document is made of what is on the bench." }));
}
