// Even it out: the ways to balance the array side by side, and what the imbalance costs in heat.

import { digits, el, fixed, short, svg } from "./dom.js";
import { framed, held, listField, numberField, textField, wayField } from "./fields.js";
import { facts, findingsOf, hurtBox, methodOf, table, titled } from "./parts.js";
import { below, branchesOf, isObject, typedNumber, valueAt } from "./request.js";

const TARGETS = [
  ["even", "Every loop alike"],
  ["by_length", "In proportion to its length"],
  ["shares", "In shares given here"],
];
export const WAYS = {
  regulating_valves: "Regulating valves",
  spare_pipe: "Pipe coiled into short loops",
  reverse_return: "Reverse return",
  larger_headers: "Larger headers",
  other_loop_bore: "Another loop bore",
};
const VERDICTS = { reaches: "= reaches", misses: "▼ misses", not_possible: "– not possible" };

/** Shares of the loops as numbers with blanks between. */
function sharesField(at, edit) {
  const now = held(at);
  const input = el("textarea", {
    rows: 2, value: Array.isArray(now) ? now.join(" ") : "",
    oninput: (event) => {
      const typed = input.value.split(/[\s;]+/).filter(Boolean).map(typedNumber);
      edit(at, typed.length ? typed : undefined, event);
    },
  });
  return framed(at, "A share for each loop, in order", input, { wide: true });
}

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
      + `, drops ${digits(each.pressure_drop_kpa)} kPa`);
  }
  if (way.spare_pipe) {
    return way.spare_pipe.map((each) => (each.length_m > 0
      ? `${each.loop}: ${digits(each.length_m)} m more, left coiled` : `${each.loop}: as it is`));
  }
  return [];
}

// ------------------------------------------------------------------------------ applying a way

/** Values of a way by loop, gathered by the branch that the loops come from. */
function byBranch(asItIs, values) {
  const found = new Map();
  asItIs.loops.forEach((loop, index) => {
    if (!found.has(loop.where)) found.set(loop.where, []);
    found.get(loop.where).push(values[index]);
  });
  return found;
}

const alike = (values) => values.every((each) =>
  JSON.stringify(each) === JSON.stringify(values[0]));

/** Change each loop by its own value; equal loops that then differ are written out one by one.
 * Returns false where the request's form does not allow it. */
function changeLoops(request, values, change) {
  const unlike = [];
  for (const [where, own] of values) {
    const branch = valueAt(request, where);
    if (!isObject(branch)) return false;
    if (alike(own)) change(branch, own[0]);
    else if (own.length === branch.count) unlike.push([where, own]);
    else return false; // a circuit that stands for several, which would then differ
  }
  // From the last, so that the places of those before stay as they are.
  for (const [where, own] of unlike.reverse()) {
    const cut = where.lastIndexOf("/");
    const list = valueAt(request, where.slice(0, cut));
    const index = Number(where.slice(cut + 1));
    const copies = own.map((value, number) => {
      const copy = structuredClone(list[index]);
      delete copy.count;
      copy.loop = `${copy.loop}-${number + 1}`;
      change(copy, value);
      return copy;
    });
    list.splice(index, 1, ...copies);
  }
  return true;
}

function* circuitsOf(array) {
  yield array;
  for (const [branch] of branchesOf(array, "/array")) {
    if (isObject(branch) && isObject(branch.circuit)) yield branch.circuit;
  }
}

function reversed(request, closing) {
  for (const circuit of circuitsOf(request.array)) {
    if (circuit.arrangement !== "direct_return") continue;
    const header = circuit.branches.map((each) => (each.header_m ?? 0) * (each.count ?? 1));
    const between = header.slice(1).some((each) => each > 0)
      || ((circuit.branches[0].count ?? 1) > 1 && header[0] > 0);
    if (!between) continue;
    circuit.arrangement = "reverse_return";
    circuit.closing_m = closing ?? header.reduce((sum, each) => sum + each, 0);
    for (const branch of circuit.branches) delete branch.return_header_pipe;
  }
  return true;
}

/** Exchange pipes by name in the places given; false where nothing was exchanged. */
function exchanged(request, changes, inLoops) {
  const by = new Map(changes.map((each) => [each.old, each.new]));
  let count = 0;
  const change = (holder, name) => {
    if (!isObject(holder) || holder[name] === undefined) return;
    const pipe = holder[name];
    const known = by.get(isObject(pipe) ? pipe.name : pipe);
    if (known === undefined) return;
    holder[name] = known;
    count += 1;
  };
  for (const circuit of circuitsOf(request.array)) {
    if (!inLoops) change(circuit, "header_pipe");
    for (const branch of circuit.branches) {
      if (inLoops) {
        change(branch, "pipe");
        for (const leg of branch.legs ?? []) change(leg, "pipe");
        continue;
      }
      change(branch, "header_pipe");
      change(branch, "return_header_pipe");
      for (const run of branch.runs ?? []) change(run, "pipe");
    }
  }
  return count > 0;
}

/** The request with a way put into its array, or null where it cannot be told as a change of it. */
export function withWay(given, answer, way, options) {
  const request = structuredClone(given);
  if (way.way === "regulating_valves") {
    const kv = way.settings.map((each) => each.position_kv_m3_h ?? each.kv_m3_h);
    const done = changeLoops(request, byBranch(answer.as_it_is, kv), (branch, value) => {
      if (value !== undefined) branch.fittings = [...branch.fittings ?? [], { kv_m3_h: value }];
    });
    return done ? request : null;
  }
  if (way.way === "spare_pipe") {
    const lengths = way.spare_pipe.map((each) => each.length_m);
    const coil = options.spare_coil_diameter_m ?? 1;
    const done = changeLoops(request, byBranch(answer.as_it_is, lengths), (branch, value) => {
      if (value > 0) branch.legs = [...branch.legs, { coiled_m: value, coil_diameter_m: coil }];
    });
    return done ? request : null;
  }
  if (way.way === "reverse_return") return reversed(request, options.closing_m) ? request : null;
  const best = way.tried?.find((each) => each.spread_percent === way.spread_percent
    && each.pump_duty.head_kpa === way.pump_duty.head_kpa);
  const inLoops = way.way === "other_loop_bore";
  return best && exchanged(request, best.changes, inLoops) ? request : null;
}

// ------------------------------------------------------------------------------------ the step

function waysTable(answer, { apply, request, options, goTo }) {
  const before = answer.as_it_is.pump_duty;
  const all = [answer.targets, ...answer.ways.map((each) => each.loops ?? [])].flat();
  const reach = Math.max(answer.tolerance_percent * 1.6,
    ...all.map((each) => Math.min(100, Math.abs(each.deviation_percent)) * 1.05));
  const now = answer.as_it_is;
  const rows = [{
    mark: "asitis",
    cells: ["As it is", now.within_tolerance ? "= even" : "▼ uneven",
      strip(answer.targets, answer.tolerance_percent, reach, "As it is"), fixed(now.spread_percent, 1),
      fixed(before.head_kpa, 1), fixed(before.hydraulic_power_w, 1), fixed(before.energy_kwh, 0), "–"],
  }];
  for (const way of answer.ways) {
    const words = WAYS[way.way];
    const possible = way.verdict !== "not_possible" && way.pump_duty;
    const change = possible ? withWay(request, answer, way, options) : null;
    const hand = possible ? instructions(way) : [];
    rows.push({
      mark: way.verdict,
      cells: possible ? [words, VERDICTS[way.verdict],
        strip(way.loops, answer.tolerance_percent, reach, words), fixed(way.spread_percent, 1),
        `${fixed(way.pump_duty.head_kpa, 1)}`, fixed(way.pump_duty.hydraulic_power_w, 1),
        `${fixed(way.pump_duty.energy_kwh, 0)} (${way.energy_change_kwh < 0 ? "−" : "+"}${fixed(Math.abs(way.energy_change_kwh), 0)})`,
        takes(way),
      ] : [words, VERDICTS[way.verdict], "", "–", "–", "–", "–", "–"],
      under: [
        el("p", { text: `${way.reason[0].toUpperCase()}${way.reason.slice(1)}.` }),
        change ? el("div", { class: "buttons" }, el("button", {
          type: "button", class: "small changes", text: "Put it in", "aria-label": `Put into the array: ${words}`,
          onclick: () => apply(change, `${words}: put into the array. Undo takes it out.`),
        }), way.way === "other_loop_bore" ? el("span", { class: "hint",
          text: "Fittings then take the new pipe's size, so that the split may come out a little different." }) : null) : possible ? el("p", { text: "It cannot be put into this request for you; do it by hand:" }) : null,
        hand.length ? el("details", { class: "more", open: !change && possible ? true : null },
          el("summary", { text: way.settings ? "Setting of every valve" : "Pipe for every loop" }),
          el("ul", {}, hand.slice(0, 400).map((text) => el("li", { text })))) : null,
        way.findings.length ? findingsOf(way.findings, goTo) : null,
      ],
    });
  }
  return table("Ways to balance, side by side", [
    ["Way", ""], ["Verdict", ""], ["Loops off target", ""], ["Spread", "%"], ["Pump", "kPa"], ["Power", "W"],
    ["In a year", "kWh"], ["Takes", ""]], rows, { textLast: true });
}

export const even = {
  key: "balancing",
  title: "Even it out",
  path: "/v1/balancing",
  verb: "Compare the ways",
  lead: "Which way brings every loop to its flow, what does it take, and what does the pump pay for it?",
  fresh: () => ({ target: "even" }),

  form(at, { edit }) {
    const n = (name, label, options) => numberField(below(at, name), label, options);
    const ground = below(at, "ground");
    const valve = below(at, "valve");
    return [
      wayField(below(at, "target"), "Each loop should have", TARGETS, {
        way: (value) => value ?? "even",
        fresh: (way) => {
          if (way !== "shares") edit(below(at, "target_shares"), undefined);
          return way;
        },
        draw: (way) => [way === "shares" ? sharesField(below(at, "target_shares"), edit) : null],
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
          fresh: (items) => ({ position: (Number(items.at(-1)?.position) || 0) + 1, kv_m3_h: items.at(-1)?.kv_m3_h ?? 1 }),
          row: (place, _item, _redraw, key) => {
            const first = numberField(below(place, "position"), "Position", { step: 0.5 });
            first.querySelector("input").dataset.key = key;
            return [first, numberField(below(place, "kv_m3_h"), "Kv", { unit: "m³/h", step: 0.1 })];
          },
        })]),
      }),
      wayField(ground, "What imbalance costs in heat", [
        ["none", "Not asked"], ["ground_temperature_c", "Told, for this ground"]], {
        fresh: (way) => (way === "none" ? undefined : { ground_temperature_c: 8, ground_resistance_m_k_w: 0.25 }),
        draw: (way) => (way === "none" ? [] : [el("div", { class: "grid" },
          numberField(below(ground, "ground_temperature_c"), "Ground, far off", { unit: "°C", step: 0.5 }),
          numberField(below(ground, "ground_resistance_m_k_w"), "From pipe to it", { unit: "m K/W", step: 0.05 }))]),
      }),
      el("details", { class: "more" }, el("summary", { text: "Pump, hours, spare pipe" }),
        el("div", { class: "grid" },
          n("run_hours", "Pump runs", { unit: "h a year", step: 100, placeholder: "2400" }),
          n("pump_efficiency_percent", "Its efficiency", { unit: "%", placeholder: "30" }),
          n("spare_coil_diameter_m", "Spare coil", { unit: "m", step: 0.1, placeholder: "1" }),
          n("spare_length_step_m", "Spare, in steps of", { unit: "m", placeholder: "any" }),
          n("closing_m", "Reverse return comes back by", { unit: "m", placeholder: "as its header" }))),
    ];
  },

  body: (job, request) => ({ ...request, ...job.balancing }),

  words(answer) {
    if (answer.as_it_is.within_tolerance) return "even as it is";
    const reach = answer.ways.filter((each) => each.verdict === "reaches").length;
    return `${reach} of ${answer.ways.length} ways reach it`;
  },

  show(answer, { apply, goTo, request, options }) {
    const heat = answer.heat_cost;
    return [
      el("p", { class: answer.as_it_is.within_tolerance ? "outcome" : "outcome bad" },
        el("b", { text: `Spread ${fixed(answer.as_it_is.spread_percent, 1)} %` }),
        ` as it is; every loop within ±${short(answer.tolerance_percent)} % of its target is asked for. `
        + `Energy is for ${short(answer.run_hours, 4)} h a year at ${short(answer.pump_efficiency_percent)} % efficiency.`),
      waysTable(answer, { apply, request, options, goTo }),
      el("p", { class: "key", text: "Dots are loops, the band is the tolerance. Every way is solved "
        + "at the total flow of the array as it is. Put into the array, a way is compared with what was before." }),
      heat ? titled("What the imbalance costs in heat", el("p", {},
        el("b", { text: `${fixed(Math.abs(heat.heat_lost_w), 0)} W, ${fixed(Math.abs(heat.heat_lost_percent), 1)} %` }),
        heat.heat_lost_w >= 0
          ? ` of the heat at target flows is lost; the brine would have to go out ${fixed(heat.temperature_cost_k, 2)} K further from the ground's temperature to make up for it.`
          : " more heat than at the target flows: they would cost heat, not gain it."),
      facts([
        ["Comes back now", `${fixed(heat.return_temperature_c, 2)} °C`],
        ["At target flows", `${fixed(heat.return_temperature_at_target_c, 2)} °C`],
      ]),
      table("Heat of every loop", [["Loop", ""], ["Heat", "W"], ["at target", "W"], ["Leaves at", "°C"], ["Film", ""]],
        heat.loops.map((each) => [each.loop, fixed(each.heat_w, 0), fixed(each.heat_at_target_w, 0),
          fixed(each.leaving_temperature_c, 2), each.laminar ? "laminar" : "turbulent"])),
      el("details", {}, el("summary", { text: "Model of the heat, and its limits" }), el("p", { text: heat.model }),
        el("ul", { class: "cautions" }, heat.limits.map((text) => el("li", { text }))))) : null,
      titled("Findings about the array as it is", findingsOf(answer.findings, goTo)),
      hurtBox("Before anyone changes it", answer.cautions),
      methodOf(answer.method),
    ];
  },
};
