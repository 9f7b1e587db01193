// Even it out: the ways to balance the array side by side, and what the imbalance costs in heat.

import { button, digits, el, fixed, folded, short, svg } from "./dom.js";
import { listField, numberField, textField, wayField } from "./fields.js";
import { facts, findingsOf, hurtBox, methodOf, table, titled } from "./parts.js";
import { below, typedNumber } from "./job.js";
import { dropWords, inDrop, inUnits, units } from "./units.js";

const TARGETS = [
  ["even", "Every loop alike"],
  ["by_length", "In proportion to its length"],
  ["shares", "In shares given here"],
];
const WAYS = {
  regulating_valves: "Regulating valves",
  spare_pipe: "Pipe coiled into short loops",
  reverse_return: "Reverse return",
  larger_headers: "Larger headers",
  other_loop_pipe: "Other pipe in the loops",
};
const VERDICTS = { reaches: "= reaches", misses: "▼ misses", not_possible: "– not possible" };

/** Shares of the loops, a line each: its name and its share. */
const sharesField = (at) => textField(at, "A line for each loop: its name and its share", {
  wide: true, rows: 4,
  write: (shares) => (Array.isArray(shares) ? shares.map((each) => `${each?.loop} ${each?.share}`).join("\n") : ""),
  read: (typed) => {
    const lines = typed.split("\n").map((line) => line.trim()).filter(Boolean);
    const shares = lines.map((line) => ({
      loop: line.slice(0, line.search(/\s\S*$/)).trim(), share: typedNumber(line.slice(line.search(/\s\S*$/))),
    }));
    const wrong = shares.findIndex(({ loop, share }) => loop === "" || typeof share !== "number");
    return wrong < 0 ? shares : { unread: `Line ${wrong + 1}, “${lines[wrong]}”: it has no number after the loop's name. Until then the job keeps what it had.` };
  },
});

/** Deviation of every loop from its target as dots on the tolerance band. */
function strip(loops, tolerance, reach, words) {
  const [width, height] = [150, 26];
  const X = (percent) => width / 2 + Math.max(-1, Math.min(1, percent / reach)) * (width / 2 - 6);
  const worst = loops.reduce((most, each) => Math.max(most, Math.abs(each.deviation_percent)), 0);
  return svg("svg", {
    class: "strip", viewBox: `0 0 ${width} ${height}`, width, height, role: "img",
    "aria-label": `${words}: furthest loop ${fixed(worst, 1)} % off its target`,
  },
  svg("rect", { class: "band", x: X(-tolerance), y: 2, width: X(tolerance) - X(-tolerance), height: height - 4 }),
  svg("line", { class: "even", x1: width / 2, x2: width / 2, y1: 2, y2: height - 2 }),
  loops.slice(0, 400).map((each) => svg("circle", {
    class: Math.abs(each.deviation_percent) > tolerance ? "off" : "on",
    cx: X(each.deviation_percent), cy: height / 2, r: 4,
  })));
}

const isError = ({ severity }) => severity === "error";

/** What a way comes to: one that brings an error reaches nothing that could be built. */
function verdictOf({ verdict, findings }) {
  const errors = findings.filter(isError).length;
  return verdict === "not_possible" || !errors ? { mark: verdict, words: VERDICTS[verdict] }
    : { mark: "faulty", words: `■ ${errors} error${errors === 1 ? "" : "s"}` };
}

function takes(way) {
  const parts = [];
  if (way.valves) parts.push(`${way.valves} valves`);
  for (const each of way.pipes ?? []) {
    parts.push(`${each.length_m < 0 ? "−" : "+"}${fixed(Math.abs(each.length_m), 0)} m ${each.pipe}`);
  }
  return parts.join(", ") || "nothing more";
}

/** What has to be done by hand, loop by loop, in words. */
function instructions(way) {
  if (way.settings) {
    return way.settings.map((each) => `${each.loop}: ${each.fully_open ? "fully open" : "set"}`
      + `${each.position === undefined ? "" : ` at position ${short(each.position)}`}`
      + `${each.kv_m3_h === undefined ? "" : `, Kv ${digits(each.position_kv_m3_h ?? each.kv_m3_h)} m³/h`}`
      + `${each.kv_before_m3_h === undefined ? "" : ` (now Kv ${digits(each.kv_before_m3_h)})`}`
      + `, drops ${dropWords(each.drop_kpa)}`);
  }
  if (way.spare_pipe) {
    return way.spare_pipe.map((each) => (each.length_m > 0
      ? `${each.loop}: ${digits(each.length_m)} m more, left coiled` : `${each.loop}: as it is`));
  }
  return [];
}

// ------------------------------------------------------------------------------------ the step

function waysTable(answer, { take, say, goTo, job }) {
  const { before, max_deviation_percent: tolerance } = answer;
  const all = [before.loops, ...answer.ways.map((each) => each.loops ?? [])].flat();
  const reach = Math.max(tolerance * 1.6,
    ...all.map((each) => Math.min(100, Math.abs(each.deviation_percent)) * 1.05));
  const rows = [{
    mark: "asitis",
    cells: ["As it is", before.imbalance.within_tolerance ? "= on target" : "▼ off target",
      strip(before.loops, tolerance, reach, "As it is"), fixed(before.imbalance.spread_percent, 1),
      digits(inDrop(before.pump.head_kpa), 4), fixed(before.pump.hydraulic_power_w, 1), fixed(before.pump.energy_kwh, 0)],
  }];
  for (const way of answer.ways) {
    const words = WAYS[way.way];
    const possible = way.verdict !== "not_possible" && way.pump;
    const change = way.decides;
    const hand = possible ? instructions(way) : [];
    const verdict = before.imbalance.within_tolerance && way.verdict === "not_possible"
      ? { mark: way.verdict, words: "– not needed" } : verdictOf(way);
    const found = way.findings.length ? findingsOf(way.findings, goTo) : null;
    rows.push({
      mark: verdict.mark,
      cells: possible ? [words, verdict.words,
        strip(way.loops, tolerance, reach, words), fixed(way.spread_percent, 1),
        digits(inDrop(way.pump.head_kpa), 4), fixed(way.pump.hydraulic_power_w, 1),
        `${fixed(way.pump.energy_kwh, 0)} (${way.energy_change_kwh < 0 ? "−" : "+"}${fixed(Math.abs(way.energy_change_kwh), 0)})`,
      ] : [words, verdict.words, "", "–", "–", "–", "–"],
      under: [
        verdict.mark === "faulty" ? found : null,
        el("p", { text: `${way.reason[0].toUpperCase()}${inUnits(way.reason.slice(1))}.${possible ? ` Takes ${takes(way)}.` : ""}` }),
        change ? el("div", { class: "buttons" }, button("Put it in", "small changes", () => {
          const { take: _, ...balancing } = job().balancing; // it is taken now
          take({ ...change, balancing }, { compare: true });
          say(`${words}: put into the array. Undo takes it out.`);
        }, { label: `Put it in: ${words}` })) : possible ? el("p", { text: "It is beyond what a job can hold; do it by hand:" }) : null,
        hand.length ? el("details", { class: "more", open: !change && possible ? true : null },
          el("summary", { text: way.settings ? "Setting of every valve" : "Pipe for every loop" }),
          el("ul", {}, hand.slice(0, 400).map((text) => el("li", { text })))) : null,
        verdict.mark === "faulty" ? null : found,
      ],
    });
  }
  return table("Ways to balance, side by side", [
    ["Way", ""], ["Verdict", ""], ["Loops off target", ""], ["Spread", "%"], ["Pump", units.drop], ["Power", "W"],
    ["In a year", "kWh"]], rows);
}

export const even = {
  key: "balancing",
  title: "Even it out",
  address: "balancing",
  verb: "Compare the ways",
  lead: "Which way brings every loop to its flow, what does it take, and what does the pump pay for it?",
  fields: ["ground_at_loops"],
  begins: () => ({ "/balancing": {} }),

  form({ edit, loops }) {
    const n = (name, label, options) => numberField(below("/balancing", name), label, options);
    const ground = "/ground_at_loops";
    const valve = "/balancing/valve";
    return [
      wayField("/balancing/target", "Each loop should have", TARGETS, {
        way: (value) => value ?? "even",
        fresh: (way) => {
          edit("/balancing/shares", way === "shares" ? loops().map((loop) => ({ loop, share: 1 })) : undefined);
          return way;
        },
        draw: (way) => [way === "shares" ? sharesField("/balancing/shares") : null],
      }),
      wayField(valve, "Valves", [
        ["none", "That can be set to any Kv"], ["positions", "With positions from a data sheet"]], {
        fresh: (way) => (way === "none" ? undefined : {
          positions: [{ position: 1, kv_m3_h: 1.1 }, { position: 2, kv_m3_h: 2.5 }, { position: 3, kv_m3_h: 4.7 }],
        }),
        draw: (way) => (way === "none" ? [] : [
        el("div", { class: "grid" }, textField(below(valve, "name"), "Its name", { wide: true })),
        listField(below(valve, "positions"), {
          words: "position", shortest: 1,
          needs: ["kv_m3_h"],
          fresh: (items) => ({ position: (Number(items.at(-1)?.position) || 0) + 1 }),
          row: (place, _item, _redraw, key) => [
            numberField(below(place, "position"), "Position", { step: 0.5, key }),
            numberField(below(place, "kv_m3_h"), "Kv", { unit: "m³/h", step: 0.1 })],
        })]),
      }),
      wayField(ground, "What imbalance costs in heat", [
        ["none", "Not asked"], ["ground_c", "Told, for this ground"]], {
        fresh: (way) => (way === "none" ? undefined : { ground_c: 8, resistance_m_k_w: 0.25 }),
        draw: (way) => (way === "none" ? [] : [el("div", { class: "grid" },
          numberField(below(ground, "ground_c"), "Ground, far off", { unit: "°C", step: 0.5 }),
          numberField(below(ground, "resistance_m_k_w"), "From pipe to it", { unit: "m K/W", step: 0.05 }))]),
      }),
      folded("Pump, spare pipe",
        el("div", { class: "grid" },
          n("pump_efficiency_percent", "Pump's efficiency", { unit: "%", placeholder: "30" }),
          n("spare_coil_diameter_m", "Spare coil", { unit: "m", step: 0.1, placeholder: "1" }),
          n("spare_step_m", "Spare, in steps of", { unit: "m", placeholder: "any" }),
          n("closing_m", "Reverse return comes back by", { unit: "m", placeholder: "as its header" }))),
    ];
  },

  words(answer) {
    if (answer.before.imbalance.within_tolerance) return "on target as it is";
    const reach = answer.ways.filter((each) => verdictOf(each).mark === "reaches").length;
    return `${reach} of ${answer.ways.length} ways reach it`;
  },

  show(answer, given) {
    const heat = answer.heat_cost;
    return [
      el("p", { class: answer.before.imbalance.within_tolerance ? "outcome" : "outcome bad" },
        el("b", { text: `Spread ${fixed(answer.before.imbalance.spread_percent, 1)} %` }),
        ` as it is; every loop within ±${short(answer.max_deviation_percent)} % of its target is asked for. `
        + `Energy is for ${short(answer.run_h, 4)} h a year at ${short(answer.pump_efficiency_percent)} % efficiency.`),
      waysTable(answer, given),
      el("p", { class: "key", text: "Dots are loops, the band is the tolerance. Every way is solved "
        + "at the total flow of the array as it is. Put into the array, a way is compared with what was before." }),
      heat ? titled("What the imbalance costs in heat", el("p", {},
        el("b", { text: `${fixed(Math.abs(heat.heat_lost_w), 0)} W, ${fixed(Math.abs(heat.heat_lost_percent), 1)} %` }),
        heat.heat_lost_w >= 0
          ? ` of the heat at target flows is lost; the brine would have to go out ${fixed(heat.colder_k, 2)} K further from the ground's temperature to make up for it.`
          : " more heat than at the target flows: they would cost heat, not gain it."),
      facts([
        ["Comes back now", `${fixed(heat.from_ground_c, 2)} °C`],
        ["At target flows", `${fixed(heat.from_ground_at_target_c, 2)} °C`],
      ]),
      table("Heat of every loop", [["Loop", ""], ["Heat", "W"], ["at target", "W"], ["Leaves at", "°C"], ["Film", ""]],
        heat.loops.map((each) => [each.loop, fixed(each.heat_w, 0), fixed(each.heat_at_target_w, 0),
          fixed(each.from_ground_c, 2), each.laminar ? "laminar" : "turbulent"])),
      el("details", {}, el("summary", { text: "Model of the heat, and its limits" }), el("p", { text: heat.model }),
        el("ul", { class: "cautions" }, heat.leaves_out.map((text) => el("li", { text }))))) : null,
      titled("Findings about the array as it is", findingsOf(answer.findings, given.goTo)),
      hurtBox("Before anyone changes it", answer.cautions),
      methodOf(answer.method),
    ];
  },
};
