// What of a job can be varied, and what of its answer be kept, in the words of the bench's boxes.

import { ARRANGEMENTS, LEG_KINDS, below, isObject, legKind, typedNumber, valueAt } from "../bench/job.js";

/** Boxes that stand once in a job: [group, [[pointer, label, unit], ...]]. */
const BOXES = [
  ["Brine", [["/antifreeze/concentration_percent", "Strength", "%"]]],
  ["Duty", [
    ["/duty/heat_kw", "Heat from ground", "kW"], ["/duty/flow_l_s", "Flow", "L/s"],
    ["/duty/to_ground_c", "Out to ground", "°C"], ["/duty/from_ground_c", "Back from ground", "°C"]]],
  ["Heat", [
    ["/heat/output_kw", "Heat pump gives", "kW"], ["/heat/seasonal_performance", "Seasonal performance", ""],
    ["/heat/design_performance", "COP at design", ""], ["/heat/heating_h", "Heating hours", "a year"],
    ["/heat/hot_water_kwh", "Hot water", "kWh a year"], ["/heat/temperature_change_k", "Rise of the brine", "K"]]],
  ["Ground", [
    ["/ground/conductivity_w_m_k", "Conductivity", "W/m K"], ["/ground/heat_capacity_mj_m3_k", "Heat capacity", "MJ/m³ K"],
    ["/ground/undisturbed_c", "Undisturbed, down a borehole", "°C"], ["/ground/surface/mean_c", "Surface, mean", "°C"],
    ["/ground/surface/swing_k", "Swing, half", "K"], ["/ground/bulking_percent", "Bulks by", "%"]]],
  ["Sizing", [
    ["/sizing/loop_count", "Equal loops", ""], ["/sizing/tail_m", "Tail to the manifold, one way", "m"],
    ...["slinky", "trench", "borehole"].flatMap((kind) => [
      [`/sizing/array_kind/${kind}/depth_m`, kind === "slinky" ? "Depth of the coils" : "Depth", "m"],
      [`/sizing/array_kind/${kind}/pitch_m`, "Pitch", "m"], [`/sizing/array_kind/${kind}/coil_diameter_m`, "Coil", "m"],
      [`/sizing/array_kind/${kind}/spacing_m`, "Between passes", "m"], [`/sizing/array_kind/${kind}/passes`, "Passes in a trench", ""],
      [`/sizing/array_kind/${kind}/diameter_mm`, "Borehole", "mm"], [`/sizing/array_kind/${kind}/u_tubes`, "U-tubes", ""],
      [`/sizing/array_kind/${kind}/grout_conductivity_w_m_k`, "Grout", "W/m K"]]),
    ["/limits/min_from_ground_c", "Coldest return", "°C"], ["/limits/years", "Through", "years"],
    ["/plot/spacing_m", "Centre to centre", "m"]]],
];

const number = (at, label, unit, now, group) => ({ at: [at].flat(), label, unit, now, group });
const choice = (at, label, options, now, group) => ({ at: [at].flat(), label, unit: "", now, group, options });

const MOISTURES = ["dry", "usual", "saturated"].map((each) => [each, each]);

/** Places of an array: of its loops, each and all that are made alike, and of its circuits. */
function ofArray(job, pipes) {
  const found = [];
  const alike = new Map(); // label -> fields of several loops
  const note = (field) => {
    found.push(field);
    const whole = `${field.label} ${field.unit} ${field.options ? "" : "number"}`;
    if (field.loop) alike.set(whole, [...alike.get(whole) ?? [], field]);
  };
  const walk = (circuit, place, called) => {
    if (!isObject(circuit)) return;
    const group = called ? `Circuit ${called}` : "Array";
    if (circuit.arrangement) note(choice(below(place, "arrangement"), "Arrangement", Object.entries(ARRANGEMENTS), circuit.arrangement, group));
    if (circuit.header_pipe) note(choice(below(place, "header_pipe"), "Header pipe", pipes, circuit.header_pipe, group));
    if (circuit.closing_m !== undefined) note(number(below(place, "closing_m"), "Return from the last branch to the start", "m", circuit.closing_m, group));
    (Array.isArray(circuit.branches) ? circuit.branches : []).forEach((branch, index) => {
      const at = below(place, "branches", index);
      if (isObject(branch?.circuit)) walk(branch.circuit, below(at, "circuit"), branch.circuit.name || `${index + 1}`);
      if (!isObject(branch?.loop)) return;
      const { loop } = branch;
      const of = `Loop ${[called, loop.name || index + 1].filter(Boolean).join("/")}`;
      note({ ...choice(below(at, "loop", "pipe"), "Pipe", pipes, loop.pipe, of), loop: true });
      if (branch.count !== undefined) note({ ...number(below(at, "count"), "Equal loops", "", branch.count, of), loop: true });
      if (branch.header_m !== undefined) note({ ...number(below(at, "header_m"), "Header from the branch before", "m", branch.header_m, of), loop: true });
      (Array.isArray(loop.legs) ? loop.legs : []).forEach((leg, which) => {
        const kind = legKind(leg);
        for (const [name, label, unit] of kind ? LEG_KINDS[kind].fields : []) {
          if (typeof leg[kind]?.[name] !== "number") continue;
          const words = `Leg ${which + 1}, ${LEG_KINDS[kind].title.toLowerCase()}: ${label.toLowerCase()}`;
          note({ ...number(below(at, "loop", "legs", which, kind, name), words, unit, leg[kind][name], of), loop: true });
        }
      });
    });
  };
  walk(job.array, "/array", "");
  const together = [...alike.values()].filter((each) => each.length > 1).map((each) => ({
    ...each[0], at: each.flatMap(({ at }) => at), group: "All loops alike", loop: false,
  }));
  return [...together, ...found];
}

/** Fields of a job that can be varied: { key, at, label, unit, now, group, options }, `at` all places that change together. */
export function fieldsOf(job, { pipes, antifreezes }) {
  const names = [...new Set([...(Array.isArray(job.pipes) ? job.pipes : []).map((each) => each?.name), ...pipes.map(({ name }) => name)])]
    .filter(Boolean).map((name) => [name, name]);
  const found = [];
  if (isObject(job.antifreeze)) {
    found.push(choice("/antifreeze/kind", "Antifreeze", antifreezes.map(({ kind, title }) => [kind, title]), job.antifreeze.kind, "Brine"));
  }
  for (const [group, boxes] of BOXES) {
    for (const [at, label, unit] of boxes) {
      const now = valueAt(job, at);
      if (typeof now === "number") found.push(number(at, label, unit, now, group));
    }
  }
  const { moisture } = isObject(job.ground) ? job.ground : {};
  if (moisture) found.push(choice("/ground/moisture", "Moisture", MOISTURES, moisture, "Ground"));
  return [...found, ...ofArray(job, names)].map((field) => ({ ...field, key: field.at.join(" ") }));
}

const SPLIT = [
  ["/pump/head_kpa", "Head", "kPa"], ["/pump/head_high_kpa", "Head, at most", "kPa"], ["/pump/flow_l_s", "Flow", "L/s"],
  ["/pump/hydraulic_power_w", "Hydraulic power", "W"], ["/imbalance/spread_percent", "Spread", "%"],
  ["/imbalance/within_tolerance", "Even", ""], ["/imbalance/min_share_loop", "Starved loop", ""],
  ["/loops/0/reynolds", "Reynolds number of the first loop", ""], ["/loops/0/drop_kpa", "Drop of the first loop", "kPa"],
];
const SIZING = [
  ["/length_m", "Length", "m"], ["/loop_count", "Loops", ""], ["/pipe_m", "Pipe", "m"],
  ["/min_from_ground_c", "Coldest return", "°C"], ["/extraction/peak_w_m", "Peak extraction", "W/m"], ["/land/area_m2", "Land", "m²"],
];
const DIGGING = [["/total/dug_m3", "Dug", "m³"], ["/digger_h", "Digger", "h"], ["/land/area_m2", "Land", "m²"], ["/bill/total", "Bill", ""]];
const within = (part, results) => results.map(([at, label, unit]) => [`/${part}${at}`, label, unit]);

/** What is asked of each case: name -> [words, needs of the job, results [pointer, words, unit], how many are ticked at first]. */
export const CALCULATIONS = {
  split: ["The flow split", ["array", "duty", "antifreeze"], SPLIT, ["/pump/head_kpa", "/pump/flow_l_s", "/imbalance/spread_percent", "/imbalance/within_tolerance"]],
  sizing: ["The array that a load needs", ["heat", "ground", "sizing", "antifreeze"], SIZING, ["/length_m", "/pipe_m", "/min_from_ground_c"]],
  groundworks: ["The digging", ["array", "ground", "groundworks"], DIGGING, ["/total/dug_m3", "/digger_h"]],
  designs: ["The whole design", ["antifreeze"],
    [...within("split", SPLIT), ...within("sizing", SIZING), ...within("groundworks", DIGGING)],
    ["/split/pump/head_kpa", "/split/imbalance/within_tolerance"]],
};

/** What was typed, one after the other: numbers as numbers, what reads as JSON as that, else words. */
export const typedValues = (text) => text.split(/;|\n|,\s+/).map((each) => each.trim()).filter(Boolean).map((each) => {
  const value = typedNumber(each);
  if (typeof value === "number") return value;
  try {
    return JSON.parse(each);
  } catch {
    return each;
  }
});

/** A variation as the service takes it. */
const asVariation = ({ at, values, min, max, count }) => {
  if (values) {
    return at.length === 1 ? { listed: { at: at[0], values } }
      : { paired: { at, values: values.map((value) => at.map(() => value)) } };
  }
  if (at.length === 1) return { range: { at: at[0], min, max, count } };
  const step = (max - min) / (count - 1);
  return asVariation({ at, values: Array.from({ length: count }, (_, n) => (n === count - 1 ? max : min + n * step)) });
};

const countOf = ({ values, count }) => (values ? values.length : count);

/** The variations and how many cases they make. */
export function variationsOf(varied, { method, points, seed }) {
  if (method === "grid") {
    return { variations: varied.map(asVariation), cases: varied.reduce((all, each) => all * countOf(each), 1), sizes: varied.map(countOf) };
  }
  const places = varied.map(({ at, values, min, max }) => (values ? { at: at[0], values } : { at: at[0], min, max }));
  const cases = points * (method === "sensitivity" ? places.length + 2 : 1);
  return { variations: [{ sampled: { method, points, seed, places } }], cases, sizes: [cases] };
}
