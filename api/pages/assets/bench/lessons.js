// Lessons: six mistakes made on one invented site, what each costs by the service's own answer, each live on the bench.

import { button, byId, digits, el, fixed, short, signed } from "./dom.js";
import { table } from "./parts.js";
import { attempt, post } from "./service.js";
import { dropWords } from "./units.js";

const SITE = {
  format: 1,
  antifreeze: { kind: "propylene_glycol", concentration_percent: 25, basis: "volume" },
  ground_at_loops: { ground_c: 8, resistance_m_k_w: 0.25 },
  balancing: {},
};
const plant = (flow_l_s, pipe) => ({ heat_exchanger: [{ flow_l_s, drop_kpa: 14 }], runs: [{ pipe, length_m: 12 }], run_h: 2400 });
const DUTY = { heat_kw: 6, to_ground_c: -2.5, from_ground_c: 0.5 };
const straight = (length_m) => ({ straight: { length_m } });

/** Four slinky trenches on a manifold, each with tails of so many metres and its valve's Kv. */
const trenches = (tails, kv = []) => ({
  ...SITE, plant: plant(0.55, "PE100 SDR11 50"), duty: DUTY,
  array: { arrangement: "manifold", branches: tails.map((tail, at) => ({
    loop: { name: `T${at + 1}`, pipe: "PE100 SDR11 32", legs: [
      straight(tail), { slinky: { coils: 30, coil_diameter_m: 1, pitch_m: 1 } }, straight(tail)] },
    ...kv[at] && { fittings: [{ kv_m3_h: kv[at] }] },
  })) },
});

/** Six rows of straight pipe along one header. */
const rows = (arrangement, header_pipe) => ({
  ...SITE, plant: plant(0.8, "PE100 SDR11 63"), duty: { ...DUTY, heat_kw: 9 },
  array: {
    arrangement, header_pipe,
    branches: Array.from({ length: 6 }, (_, at) => ({
      header_m: 12, loop: { name: `R${at + 1}`, pipe: "PE100 SDR11 40", legs: [straight(160)] },
    })),
  },
});

const bores = (depths) => ({
  ...SITE, plant: plant(1.4, "PE100 SDR11 63"), duty: { heat_kw: 16, to_ground_c: -1, from_ground_c: 2 },
  array: { arrangement: "manifold", branches: depths.map((depth_m, at) => ({
    loop: { name: `B${at + 1}`, pipe: "PE100 SDR11 40", legs: [straight(12), { borehole: { depth_m } }, straight(12)] },
  })) },
});

const named = (job, name) => ({ ...job, name });
const worst = ({ before }) => before.loops.reduce((least, each) => (each.deviation_percent < least.deviation_percent ? each : least));
const most = ({ before }) => before.loops.reduce((top, each) => (each.deviation_percent > top.deviation_percent ? each : top));
const off = (loop) => signed(loop.deviation_percent, 0);
const dearer = (right, wrong) => `${signed(100 * (wrong.before.pump.energy_kwh / right.before.pump.energy_kwh - 1), 0)}`;
const heat = ({ heat_cost: cost }) => `${fixed(cost.heat_lost_w, 0)} W`;

/** `right` and `wrong` are jobs; `costs` tells what the service answered to both. */
export const LESSONS = [
  {
    key: "short-tail",
    title: "A tail cut short",
    story: "Four trenches lead to one manifold. The third starts beside it, so its spare pipe was cut off and taken home. "
      + "Its coils are like all others; only the way there is shorter.",
    right: named(trenches([40, 40, 40, 40]), "Heron Cottage, all tails alike (invented)"),
    wrong: named(trenches([40, 40, 5, 40]), "Heron Cottage, one tail cut short (invented)"),
    costs: (right, wrong) => `${most(wrong).loop} now takes ${off(most(wrong))} of an even share, and every other loop pays for it: `
      + `${worst(wrong).loop} is left with ${off(worst(wrong))}. The array as a whole gives ${heat(wrong)} less than with even flows.`,
    lesson: "Pipe of one length in every loop is the cheapest balance there is. Leave the spare pipe coiled in the trench, "
      + "where it can be dug in, or fit a valve and set it.",
  },
  {
    key: "wrong-return",
    title: "Reverse return joined the wrong way",
    story: "Six rows hang on one header. The return was to begin at the first row and run on past the last, so that every path "
      + "is as long as any other. On the day it was joined at the near end, where the plant is.",
    right: named(rows("reverse_return", "PE100 SDR11 63"), "Heron Field, returned from the far end (invented)"),
    wrong: named(rows("direct_return", "PE100 SDR11 63"), "Heron Field, returned at the near end (invented)"),
    costs: (right, wrong) => `The spread from most to least goes from ${fixed(right.before.imbalance.spread_percent, 1)} % to `
      + `${fixed(wrong.before.imbalance.spread_percent, 1)} %: ${most(wrong).loop}, nearest to the plant, takes ${off(most(wrong))}, `
      + `and ${worst(wrong).loop} at the far end ${off(worst(wrong))}. The pump asks for ${dropWords(wrong.before.pump.head_kpa)} `
      + `where it would ask for ${dropWords(right.before.pump.head_kpa)}, so nothing at the plant tells that the far rows starve.`,
    lesson: "First out, last back. Walk the header before it is covered and mark both pipes at both ends: the row that is fed "
      + "first must be the one that is collected last.",
  },
  {
    key: "thin-header",
    title: "A thin header",
    story: "The same six rows, returned as they should be. The merchant was out of the header's pipe, and a thinner one that lay "
      + "on the lorry went in: it carries the same litres, after all.",
    right: named(rows("reverse_return", "PE100 SDR11 63"), "Heron Field, header of 63 mm (invented)"),
    wrong: named(rows("reverse_return", "PE100 SDR11 40"), "Heron Field, header of 40 mm (invented)"),
    costs: (right, wrong) => `The pump has to lift ${dropWords(wrong.before.pump.head_kpa)} in place of ${dropWords(right.before.pump.head_kpa)}, `
      + `${dearer(right, wrong)} of electricity a year. Even with reverse return the rows part: ${worst(wrong).loop} gets ${off(worst(wrong))}, `
      + `${most(wrong).loop} ${off(most(wrong))}.`,
    lesson: "Let the loops make the drop and the header hardly any: then the loops share alike whatever the way to them. "
      + "A header that drops as much as a loop divides the flow in its own way.",
  },
  {
    key: "colder-brine",
    title: "Brine colder than planned",
    story: "Nothing was built wrong. The array turned out shorter than the load asks for, and in the second winter the brine runs "
      + "well below the temperature at which the pump was chosen. The heat that it carries is the same.",
    right: named(trenches([30, 30, 30, 30]), "Heron Cottage, brine as planned (invented)"),
    wrong: named({ ...trenches([30, 30, 30, 30]), duty: { heat_kw: 6, to_ground_c: -7, from_ground_c: -4 } },
      "Heron Cottage, brine colder than planned (invented)"),
    costs: (right, wrong) => `The same flow now asks for ${dropWords(wrong.before.pump.head_kpa)}, not ${dropWords(right.before.pump.head_kpa)}: `
      + `${dearer(right, wrong)} of electricity. In the loops the Reynolds number falls from ${fixed(right.before.loops[0].reynolds, 0)} to `
      + `${fixed(wrong.before.loops[0].reynolds, 0)} (${wrong.before.loops[0].regime}), and a pump chosen for the first of the two heads cannot hold the flow.`,
    lesson: "Brine thickens fast as it cools. Choose the pump at the coldest brine of the array's life, not at the plate's rating, "
      + "and look at the return in the second winter: colder than planned means too little ground.",
  },
  {
    key: "deeper-bore",
    title: "One bore deeper",
    story: "Four boreholes on a manifold. The second met soft ground, drilling went well, and the crew made it half as deep again: "
      + "more ground can do no harm.",
    right: named(bores([100, 100, 100, 100]), "Heron Yard, four bores alike (invented)"),
    wrong: named(bores([100, 150, 100, 100]), "Heron Yard, one bore deeper (invented)"),
    costs: (right, wrong) => {
      const deep = wrong.before.loops[1];
      return `The deeper bore is the one that starves: ${deep.loop} is ${digits(deep.length_m / wrong.before.loops[0].length_m, 3)} times as long as its neighbours `
        + `and gets ${off(deep)} of an even share; by its length it would be due more than any, and it falls short of that by `
        + `${fixed(Math.abs(deep.deviation_by_length_percent), 0)} %. The metres that were paid for bring little.`;
    },
    lesson: "Bores on one manifold want one depth. Where the ground forces another, judge them by length, and throttle the shallow "
      + "ones or give the deep one wider pipe.",
  },
  {
    key: "half-shut-valve",
    title: "A valve left half shut",
    story: "Each loop has a regulating valve. After flushing one loop at a time, three were opened again, and the second was "
      + "left where the last turn ended. No meter was read.",
    right: named(trenches([30, 30, 30, 30], [4, 4, 4, 4]), "Heron Cottage, every valve open (invented)"),
    wrong: named(trenches([30, 30, 30, 30], [4, 0.7, 4, 4]), "Heron Cottage, one valve half shut (invented)"),
    costs: (right, wrong) => `${worst(wrong).loop} is left with ${off(worst(wrong))} of its share, the others take ${off(most(wrong))}. `
      + `The pump pays ${dearer(right, wrong)} of electricity for less heat: ${heat(wrong)} are lost against even flows, all winter, `
      + "and no alarm ever says so.",
    lesson: "Read every meter after the last valve was touched, and write the readings down: the record is what proves the balance.",
  },
];

let page = null; // what the bench gives: compare(wrong, rightAnswer)
const answers = new Map();

export function startLessons(given) {
  page = given;
}

const bothOf = (lesson) => {
  if (!answers.has(lesson.key)) {
    answers.set(lesson.key, Promise.all([lesson.right, lesson.wrong].map(async (job) => (await post("balancing", job)).json())));
  }
  return answers.get(lesson.key);
};

function beside(right, wrong) {
  const row = (name, say) => [name, say(right), say(wrong)];
  return table("Done right and done wrong", [["By the service", ""], ["done right", ""], ["the mistake", ""]], [
    row("Least supplied loop", (each) => `${worst(each).loop} ${off(worst(each))}`),
    row("Best supplied loop", (each) => `${most(each).loop} ${off(most(each))}`),
    row("Pump against", ({ before }) => dropWords(before.pump.head_kpa)),
    row("Hydraulic power", ({ before }) => `${digits(before.pump.hydraulic_power_w)} W`),
    row(`Pump in a year of ${short(wrong.run_h, 4)} h`, ({ before }) => `${fixed(before.pump.energy_kwh, 0)} kWh`),
    row("Heat lost to uneven flow", heat),
  ]);
}

/** Show the lesson of a key, the first where none is of it. */
export async function showLesson(key) {
  const lesson = LESSONS.find((each) => each.key === key) ?? LESSONS[0];
  const at = LESSONS.indexOf(lesson);
  const body = el("div", { class: "lessoncosts", "aria-busy": "true" }, el("p", { text: "Working it out…" }));
  const link = (each, words = each.title) => el("a", { href: `#lessons/${each.key}`, text: words, "aria-current": each === lesson ? "page" : null });
  byId("lessons").replaceChildren(
    el("h1", { tabindex: -1, text: "Lessons: six mistakes, and what each costs" }),
    el("p", {}, "One invented site, one mistake at a time. Every number is what the service answers now. ", el("a", { href: "#", text: "To the bench" })),
    el("nav", { "aria-label": "Lessons" }, el("ol", { class: "lessonlist" }, LESSONS.map((each) => el("li", {}, link(each))))),
    el("article", { class: "lesson", "data-lesson": lesson.key },
      el("h2", { text: `${at + 1}. ${lesson.title}` }), el("p", { class: "lead", text: lesson.story }), body,
      el("h3", { text: "What to do" }), el("p", { text: lesson.lesson }),
      LESSONS[at + 1] ? el("p", {}, "Next: ", link(LESSONS[at + 1]), ".") : null));
  await attempt(async () => {
    const [right, wrong] = await bothOf(lesson);
    body.replaceChildren(
      el("h3", { text: "What it costs" }), el("p", { text: lesson.costs(right, wrong).replaceAll(" %", "\u00a0%") }), beside(right, wrong),
      el("div", { class: "buttons" },
        button("Put the mistake on the bench, beside the right one", "main", () => page.compare(lesson.wrong, lesson.right)),
        button("Put the right one on the bench", null, () => page.compare(lesson.right))));
  }, (problem) => {
    answers.delete(lesson.key);
    body.replaceChildren(el("p", { class: "fault", text: problem.detail ?? problem.title }));
  });
  body.removeAttribute("aria-busy");
}
