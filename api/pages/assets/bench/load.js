// From the load: what the heat pump needs, the ground and the kind of array; a sized array comes
// back that can be laid out on the bench.

import { button, digits, el, fixed, folded, short } from "./dom.js";
import { checkField, choiceField, held, numberField, numbersOf, pipeField, textField, wayField } from "./fields.js";
import { MONTHS, facts, findingsOf, hurtBox, methodOf, stepsChart, temperatureChart, titled } from "./parts.js";
import { below, branchesOf, isObject, sectionOf, typedNumber } from "./job.js";
import { pointsOf } from "./plan.js";
import { dropWords, flowWords } from "./units.js";

const YEAR_WAYS = [["heating_h", "By run hours"], ["monthly_kwh", "Month by month"]];
const GROUND_WAYS = [["soil", "By class of soil"], ["conductivity_w_m_k", "Measured"]];
const KINDS = {
  slinky: "Slinkies in trenches",
  trench: "Straight pipe in trenches",
  pond_mat: "Mats in open water",
  borehole: "Boreholes",
};
const METRES = { trench: "trench", borehole: "borehole", pipe: "pipe" };
const FRESH_KIND = {
  slinky: { pipe: "PE100 SDR11 32", depth_m: 1.2 },
  trench: { pipe: "PE100 SDR11 40", depth_m: 1.2, passes: 2 },
  pond_mat: { pipe: "PE100 SDR11 32" },
  borehole: {
    pipe: "PE100 SDR11 40", diameter_mm: 130, pipe_offset_mm: 35, grout_conductivity_w_m_k: 1.8,
  },
};
const STANDS = ["rows", "perimeter", "positions"]; // any of them tells where boreholes stand
const GOVERNS = {
  monthly_draw: "the heat drawn month after month",
  peak: "the peak",
  pipe: "film, wall and grout",
};

const WERE = {
  ground_conductivity: "Conductivity ± 20 %", water_film: "Water's film 30 % weaker",
  ground_temperature: "1 K to the worse side", load: "Load 10 % more", together: "All of these",
};

/** What the ways of telling something share, kept when another is chosen. */
const kept = (value, names) => Object.fromEntries(
  names.map((name) => [name, value[name]]).filter(([, each]) => each !== undefined));

function heatForm() {
  const n = (name, label, options) => numberField(`/heat/${name}`, label, options);
  const fresh = {
    heating_h: 1800,
    monthly_kwh: [2900, 2500, 2000, 1200, 600, 250, 250, 250, 500, 1300, 2100, 2800],
  };
  const draw = (way) => [
    el("div", { class: "grid" },
      n("output_kw", "Heat pump gives", { unit: "kW", step: 0.5 }),
      n("seasonal_performance", "Seasonal performance", { step: 0.1 }),
      n("design_performance", "COP at design", { step: 0.1, placeholder: "as the season" }),
      way === "heating_h" ? [
        n("heating_h", "Heating hours", { unit: "a year", step: 100 }),
        n("hot_water_kwh", "Hot water", { unit: "kWh a year", step: 100, placeholder: "0" }),
        n("hot_water_performance", "Performance on it", { step: 0.1, placeholder: "as heating" })] : null),
    way === "monthly_kwh" ? el("div", { class: "grid months" }, MONTHS.map((month, index) =>
      n(`monthly_kwh/${index}`, month, { unit: "kWh", step: 50 }))) : null,
    el("div", { class: "grid" },
      n("peak_h", "Peak lasts", { unit: "h", placeholder: "24" }),
      numbersField("/heat/peak_months", "Months of the peak", { placeholder: "all with heat" }),
      n("first_month", "Begins in month", { placeholder: "1" }),
      n("temperature_change_k", "Rise of the brine", { unit: "K", step: 0.1 }),
      n("performance_slope_percent_k", "Performance gains", { unit: "% per K", step: 0.5, placeholder: "not told" })),
  ];
  const shared = ["output_kw", "seasonal_performance", "design_performance", "peak_h", "first_month",
    "temperature_change_k", "performance_slope_percent_k", "cooling", "recharge_kwh", "peak_months"];
  return wayField("/heat", "The year is told", YEAR_WAYS, {
    fresh: (way, value) => ({ ...kept(value, shared), [way]: fresh[way] }), draw,
  });
}

/** Numbers in a row, a space or a comma and a space apart. */
const numbersField = (pointer, label, options) => textField(pointer, label, {
  ...options,
  read: (typed) => numbersOf(typed, /[;\s]+|,\s+/),
  write: (numbers) => (Array.isArray(numbers) ? numbers.join(" ") : ""),
});

/** Two numbers of a line, or why they cannot be read; with a `comma` they may have one between them. */
function pairOf(line, number, names, comma) {
  const parts = line.split(/,?[;\s]+/);
  const values = (comma && parts.length === 1 ? line.split(",") : parts).map(typedNumber);
  const words = values.find((each) => typeof each !== "number");
  if (values.length === 2 && words === undefined) return { [names[0]]: values[0], [names[1]]: values[1] };
  const told = line.length > 40 ? `${line.slice(0, 40)}…` : line;
  return {
    unread: `Line ${number}, “${told}”: ${words === undefined ? `it has ${values.length} number${values.length === 1 ? "" : "s"}`
      : `“${words}” cannot be read as one number`}. Each line has two numbers and nothing else, with a space, tab or `
      + "semicolon between them: no number or name of a point, no level, one point a line. Until then the job keeps what it had.",
  };
}

/** A line for each, its two numbers apart. */
export const pairsField = (pointer, label, names, placeholder, { comma, ...options } = {}) => textField(pointer, label, {
  rows: 3, placeholder, wide: true, ...options,
  read: (typed) => {
    const lines = typed.split("\n").map((line, at) => [line.trim(), at + 1]).filter(([line]) => line);
    const pairs = lines.map(([line, number]) => pairOf(line, number, names, comma));
    return pairs.find(({ unread }) => unread) ?? pairs;
  },
  write: (pairs) => (Array.isArray(pairs) ? pairs.map((each) => names.map((name) => each?.[name] ?? "").join(" ")).join("\n") : ""),
});

const NO_COLD = [0, 0, 0, 0, 0, 500, 800, 800, 0, 0, 0, 0];

/** The other season: cold given by month, and heat put back by other means. */
function coolingForm() {
  const n = (name, label, options) => numberField(`/heat/cooling/${name}`, label, options);
  return wayField("/heat/cooling", "Cooling", [["none", "None"], ["monthly_kwh", "Month by month"]], {
    fresh: (way) => (way === "none" ? undefined : { output_kw: 6, performance: 5, monthly_kwh: [...NO_COLD] }),
    draw: (way) => (way === "none" ? [] : [
      el("div", { class: "grid" },
        n("output_kw", "Cold at its peak", { unit: "kW", step: 0.5 }),
        n("performance", "Cold for electricity", { step: 0.1 }),
        n("peak_h", "Peak lasts", { unit: "h", placeholder: "24" }),
        numberField("/limits/max_from_ground_c", "Warmest return", { unit: "°C", step: 0.5, placeholder: "30" })),
      el("div", { class: "grid months" }, MONTHS.map((month, index) =>
        n(`monthly_kwh/${index}`, month, { unit: "kWh", step: 50 })))]),
  });
}

const SUN = [0, 0, 200, 500, 900, 1000, 1000, 900, 500, 200, 0, 0];

/** Heat put back by sun, free cooling or waste heat. */
function rechargeForm() {
  const place = "/heat/recharge_kwh";
  return wayField(place, "Heat put back by sun, free cooling or waste heat", [
    ["none", "None"], ["monthly", "Month by month"]], {
    way: (value) => (value === undefined ? "none" : "monthly"),
    fresh: (way) => (way === "none" ? undefined : [...SUN]),
    draw: (way) => (way === "none" ? [] : [el("div", { class: "grid months" }, MONTHS.map((month, index) =>
      numberField(below(place, index), month, { unit: "kWh", step: 50 })))]),
  });
}

function groundForm(soils) {
  const n = (name, label, options) => numberField(`/ground/${name}`, label, options);
  const fresh = {
    soil: { soil: "clay", moisture: "usual" },
    conductivity_w_m_k: { conductivity_w_m_k: 1.3, heat_capacity_mj_m3_k: 2.3 },
  };
  const draw = (way) => [
    el("div", { class: "grid" },
      way === "soil" ? [
        choiceField("/ground/soil", "Soil", soils.soils.map((each) => [each.soil, each.title])),
        choiceField("/ground/moisture", "Moisture", [["", "usual, or by its water"], ...soils.soils[0].states
          .map((each) => [each.moisture, each.moisture.replaceAll("_", " ")])])] : [
        n("conductivity_w_m_k", "Conductivity", { unit: "W/m K", step: 0.1 }),
        n("heat_capacity_mj_m3_k", "Heat capacity", { unit: "MJ/m³ K", step: 0.1 }),
        n("undisturbed_c", "Undisturbed, down a borehole", { unit: "°C", step: 0.1, placeholder: "by the surface" })]),
    way === "soil" ? el("p", { class: "hint", text: soils.caution }) : null,
    el("div", { class: "grid" },
      n("surface/mean_c", "Surface, mean", { unit: "°C", step: 0.1 }),
      n("surface/swing_k", "Swing, half", { unit: "K", step: 0.1 }),
      n("surface/coldest_day", "Coldest day", { unit: "of the year", placeholder: "35" })),
    folded("Measured, covered or freezing ground",
      el("div", { class: "grid" },
        n("surface/depth_m", "That wave is measured at", { unit: "m deep", step: 0.1, placeholder: "0" }),
        n("surface/film_w_m2_k", "Surface passes to the air", { unit: "W/m² K", placeholder: "freely" }),
        n("gradient_k_m", "Warmer with depth", { unit: "K/m", step: 0.01, placeholder: "0" }),
        way === "soil" ? n("water_content_percent", "Water, of the dry mass", { unit: "%", placeholder: "by the moisture" }) : null,
        way === "soil" ? n("dry_density_kg_m3", "Dry density", { unit: "kg/m³", step: 50, placeholder: "usual" }) : null,
        n("freezing_water_kg_m3", "Water that freezes", { unit: "kg/m³", step: 10, placeholder: "not counted" }),
        n("frozen_conductivity_w_m_k", "Frozen, it conducts", { unit: "W/m K", step: 0.1, placeholder: "as unfrozen" })),
      pairsField("/ground/measured", "Temperatures down a borehole: depth in m and °C, a line each",
        ["depth_m", "ground_c"], "5 10.4\n20 10.9"),
      numbersField("/ground/surface/monthly_air_c", "Or the air's twelve months in °C, instead of the wave", {
        wide: true, placeholder: "4.1 4.6 6.6 9.1 12.3 15.2 17.3 17 14.5 10.8 7 4.6" })),
  ];
  // Measured ground may have a class of soil beside it, for the digging.
  return wayField("/ground", "How it conducts is told", GROUND_WAYS, {
    way: (value) => (isObject(value) && "conductivity_w_m_k" in value ? "conductivity_w_m_k" : "soil"),
    fresh: (way, value) => ({
      ...fresh[way], ...kept({ ...value, surface: held("/ground/surface") }, ["soil", "surface", "gradient_k_m",
        "bulking_percent", "min_water_c", "freezing_water_kg_m3", "frozen_conductivity_w_m_k",
        ...way === "conductivity_w_m_k" ? ["undisturbed_c", "measured"] : []]),
    }), draw,
  });
}

/** The plot, and the distances kept on it; `drawn(way)` gives the fields of what is drawn on it, where
 * they are shown. */
export function plotForm(drawn) {
  const n = (name, label, options) => numberField(`/plot/${name}`, label, options);
  const distances = ["spacing_m", "border_m", "max_trench_m"];
  const standing = ["plant_room", "keep_outs", "water", "chambers", "levels", "origin"];
  const fresh = {
    none: () => ({}),
    area_m2: () => ({ area_m2: 1000 }),
    length_m: (value) => ({ length_m: 60, width_m: 40, ...kept(value, standing) }),
    boundary: ({ length_m = 60, width_m = 40, ...value }) => ({
      boundary: [[0, 0], [length_m, 0], [length_m, width_m], [0, width_m]].map(([x_m, y_m]) => ({ x_m, y_m })),
      plant_room: { x_m: 0, y_m: width_m / 2 }, ...kept(value, standing),
    }),
  };
  return wayField("/plot", "The plot is told", [
    ["none", "Not at all"], ["length_m", "By its sides"], ["boundary", "By its corners"], ["area_m2", "By its area"]], {
    fresh: (way, value) => ({ ...fresh[way](value), ...kept(value, distances) }),
    draw: (way) => [
      el("div", { class: "grid" },
        way === "length_m" ? [n("length_m", "Along the trenches", { unit: "m" }), n("width_m", "Across", { unit: "m" })] : null,
        way === "area_m2" ? n("area_m2", "Area", { unit: "m²" }) : null,
        n("spacing_m", "Centre to centre", { unit: "m", step: 0.5, placeholder: "usual" }),
        n("border_m", "Border", { unit: "m", step: 0.5, placeholder: "2.5" })),
      ...drawn?.(way) ?? (way === "boundary"
        ? [el("p", { class: "hint", text: `${held("/plot/boundary").length} corners, drawn on the plot.` })] : [])],
  });
}

function kindForm(at) {
  const place = below(at, "array_kind");
  return wayField(place, "Kind of array", Object.entries(KINDS), {
    fresh: (kind) => ({ [kind]: FRESH_KIND[kind] }),
    draw: (kind) => {
      if (!(kind in KINDS)) return [];
      const own = below(place, kind);
      const n = (name, label, options) => numberField(below(own, name), label, options);
      const fields = {
        slinky: () => [
          n("depth_m", "Depth of the coils", { unit: "m", step: 0.1 }),
          n("coil_diameter_m", "Coil", { unit: "m", step: 0.1, placeholder: "1" }),
          n("pitch_m", "Pitch", { unit: "m", step: 0.1, placeholder: "1" }),
          checkField(below(own, "upright"), "stood upright", false)],
        trench: () => [
          n("depth_m", "Depth", { unit: "m", step: 0.1 }),
          n("passes", "Passes in a trench", { step: 2 }),
          n("spacing_m", "Between passes", { unit: "m", step: 0.1, placeholder: "0.4" })],
        pond_mat: () => [
          numberField("/ground/min_water_c", "Coldest water", { unit: "°C", step: 0.5 }),
          n("inner_diameter_m", "Mat, inner", { unit: "m", step: 0.1, placeholder: "0.6" }),
          n("outer_diameter_m", "Mat, outer", { unit: "m", step: 0.1, placeholder: "2" }),
          n("spacing_m", "Turns apart", { unit: "m", step: 0.01, placeholder: "0.1" })],
        borehole: () => [
          n("diameter_mm", "Borehole", { unit: "mm", step: 5 }),
          n("u_tubes", "U-tubes", { placeholder: "1" }),
          n("max_depth_m", "Deepest", { unit: "m", step: 10, placeholder: "150" }),
          n("top_m", "Begins below the surface", { unit: "m", step: 0.5, placeholder: "1" }),
          n("rows", "Rows", { placeholder: "by the plot" }),
          checkField(below(own, "perimeter"), "along the sides only", false)],
      };
      return [el("div", { class: "grid" }, pipeField(below(own, "pipe"), "Pipe"), fields[kind]()),
        ...kind === "borehole" ? [resistanceForm(own), placesField(own)] : []];
    },
  });
}

const GROUTED = { pipe_offset_mm: 35, grout_conductivity_w_m_k: 1.8 };

/** From brine to the borehole's wall: of its grout, or as a thermal response test measures it. */
function resistanceForm(own) {
  const n = (name, label, options) => numberField(below(own, name), label, options);
  return wayField(own, "Its resistance", [
    ["grout_conductivity_w_m_k", "By grout and pipe"], ["resistance_m_k_w", "By a response test"]], {
    fresh: (way, value) => {
      const { pipe_offset_mm, grout_conductivity_w_m_k, resistance_m_k_w, ...rest } = value;
      return { ...rest, ...way === "resistance_m_k_w" ? { [way]: 0.11 } : GROUTED };
    },
    draw: (way) => [el("div", { class: "grid" }, way === "resistance_m_k_w"
      ? n("resistance_m_k_w", "Measured", { unit: "m K/W", step: 0.01 })
      : [n("pipe_offset_mm", "Centre to pipe", { unit: "mm" }),
        n("grout_conductivity_w_m_k", "Grout conducts", { unit: "W/m K", step: 0.1 })])],
  });
}

const placesField = (own) => pairsField(below(own, "positions"),
  "Or where each stands: x and y in m, a line each", ["x_m", "y_m"], "0 0\n6 0");

const metreOf = (kind) => (isObject(kind) && "borehole" in kind ? "borehole"
  : isObject(kind) && "pond_mat" in kind ? "pipe" : "trench");

function rateForm(at) {
  const place = below(at, "extraction_rate");
  return wayField(place, "Sized by", [
    ["none", "Conduction through the ground"], ["rate_w_m", "A rate from the local standard"]], {
    fresh: (way) => (way === "none" ? undefined : { rate_w_m: 20, per: metreOf(held(below(at, "array_kind"))) }),
    draw: (way) => (way === "none" ? [] : [el("div", { class: "grid" },
      numberField(below(place, "rate_w_m"), "Rate", { unit: "W/m" }),
      choiceField(below(place, "per"), "Metre of", Object.entries(METRES)),
      numberField(below(place, "full_h"), "For full hours", { unit: "a year", step: 100, placeholder: "any" }),
      textField(below(place, "source"), "Its table"))]),
  });
}

export const load = {
  key: "sizing",
  title: "From the load",
  address: "sizing",
  verb: "Size the array",
  lead: "How many metres keep the brine that comes back above its limit in every year of the "
    + "array's life? Where the job told nothing, the numbers to begin with are those of an invented house.",
  fields: ["heat", "ground", "plot", "limits", "array"],
  /** Boreholes on a plot by its corners are sized where they are set out there, unless it is told how they stand. */
  asksWith: () => {
    const { borehole } = held("/sizing/array_kind") ?? {};
    const { boundary, plant_room: room } = held("/plot") ?? {};
    return isObject(borehole) && STANDS.every((name) => borehole[name] === undefined) && isObject(room)
      && pointsOf(boundary).length > 2 ? ["/setting_out"] : [];
  },
  begins: () => ({
    "/heat": {
      output_kw: 8, seasonal_performance: 3.6, design_performance: 3.1, temperature_change_k: 3.5,
      heating_h: 1800, hot_water_kwh: 3000, hot_water_performance: 2.8,
    },
    "/ground": { soil: "clay", moisture: "usual" },
    "/ground/surface": { mean_c: 10.2, swing_k: 7.5 },
    "/sizing": { array_kind: { slinky: FRESH_KIND.slinky }, tail_m: 12 },
  }),

  form({ soils, goTo }) {
    const l = (name, label, options) => numberField(`/limits/${name}`, label, options);
    return [
      el("h3", { text: "Heat" }), heatForm(), coolingForm(), rechargeForm(),
      el("h3", { text: "Ground" }), groundForm(soils),
      el("h3", { text: "Array" }), kindForm("/sizing"),
      el("div", { class: "grid" },
        numberField("/sizing/tail_m", "Tail to the manifold, one way", { unit: "m", placeholder: "0" })),
      el("h3", { text: "To be kept" }),
      el("div", { class: "grid" },
        l("min_from_ground_c", "Coldest return", { unit: "°C", step: 0.5, placeholder: "0" }),
        l("years", "Through", { unit: "years", placeholder: "20" })),
      rateForm("/sizing"),
      el("h3", { text: "Room on site" }), plotForm(),
      el("div", { class: "grid" },
        numberField("/plot/max_trench_m", "Trench to be had", { unit: "m", placeholder: "not checked" })),
      folded("What makes a loop practical",
        el("div", { class: "grid" },
          numberField("/sizing/loop_count", "Equal loops", { placeholder: "least" }),
          l("max_pipe_m", "Longest pipe", { unit: "m", placeholder: "any" }),
          l("max_loop_drop_kpa", "Largest drop", { unit: "kPa", placeholder: "30" }),
          l("max_velocity_m_s", "Fastest", { unit: "m/s", step: 0.1, placeholder: "1.5" }))),
      el("p", { class: "hint" }, "The brine is the one of the bench: ", button("change it there", "link", () => goTo("/antifreeze/kind")), "."),
    ];
  },

  words: (answer) => `${answer.loop_count} loop${answer.loop_count === 1 ? "" : "s"}, `
    + `${short(answer.length_m, 4)} m of ${METRES[answer.per]}`,

  show(answer, { width, goTo, job, take, say, posted, expectPlan }) {
    const metre = METRES[answer.per];
    const { land, each_loop: loop, sensitivity, limiting_load: limiting, extraction, decides } = answer;
    const margin = answer.from_ground_margin_k;
    const chart = (title, all, label, told) => el("figure", {}, el("figcaption", { text: title }), temperatureChart({
      width: width > 620 ? Math.floor((width - 24) / 2) : width, limit: answer.from_ground_limit_c,
      every: all.length > 12 ? Math.ceil(all.length / 10) : 1,
      points: all.map((each) => ({ label: label(each), back: each.from_ground_c, out: each.to_ground_c })),
      said: `Coldest brine from the ground ${told}.`,
    }));
    const told = posted.plot?.boundary ? "whether it fits within its corners, “On the plot” tells"
      : land.plot_m2 === undefined ? "room not given" : "whether it fits, the plot's sides would tell";
    const room = land.fits === undefined ? told : land.fits ? "it fits" : "■ it does not fit";
    const legs = [...branchesOf(decides.array ?? { branches: [] })].flatMap((branch) => branch.loop?.legs ?? []);
    const depth = posted.sizing.array_kind.borehole && legs.find((leg) => leg.borehole)?.borehole.depth_m;
    const needs = `${fixed(land.area_m2, 0)} m² (${short(land.length_m)} × ${short(land.width_m)} m)`;
    const have = land.plot_m2 === undefined ? "" : ` of ${fixed(land.plot_m2, 0)} m²`;
    return [
      el("p", { class: margin >= 0 ? "outcome" : "outcome bad" },
        el("b", { text: `${short(answer.length_m, 4)} m of ${metre}` }),
        ` in ${answer.loop_count} equal loop${answer.loop_count === 1 ? "" : "s"} of ${short(loop.length_m, 4)} m; `
        + `the brine comes back at ${fixed(answer.min_from_ground_c, 1)} °C at the coldest, `
        + `${fixed(Math.abs(margin), 1)} K ${margin >= 0 ? "above" : "below"} its limit.`),
      el("div", { class: "buttons" }, button("Lay it out", "main changes", () => {
        const { groundworks } = job();
        const section = sectionOf(answer.decides.array); // none of boreholes and mats
        const trench = { ...groundworks?.trench, ...section };
        expectPlan(answer.decides.array);
        take({ ...answer.decides, ...groundworks && "width_m" in section && { groundworks: { ...groundworks, trench } } },
          { compare: false });
        say(`Laid out: ${answer.loop_count} loops. Undo brings the array before back.`);
      }), el("p", { class: "hint", text: "Puts these loops on the bench in place of its array; the "
        + "plant and the limits stay, and Undo brings the array back." })),
      facts([
        ["Drilled to", depth > loop.length_m ? `${short(depth, 4)} m; no heat is counted from the uppermost ${short(depth - loop.length_m)} m` : undefined],
        ["Pipe in all", `${fixed(answer.pipe_m, 0)} m, ${fixed(loop.pipe_m, 0)} m a loop`],
        ["Each metre gives", `${digits(extraction.peak_w_m)} W at the peak, ${digits(extraction.annual_kwh_m)} kWh a year`],
        ["Ground gives", `${digits(answer.ground_draw.peak_kw)} kW, ${fixed(answer.ground_draw.annual_draw_kwh, 0)} kWh a year`],
        ["Coldest, out to ground", `${fixed(answer.min_to_ground_c, 1)} °C`],
        ["Land needed", el("span", { class: land.fits === false ? "bad" : null, text: `${needs}${have}: ${room}` })],
        ["Trench", land.max_trench_m === undefined || land.trench_m === undefined ? undefined
          : `${fixed(land.trench_m, 0)} of ${fixed(land.max_trench_m, 0)} m`],
        ["Just enough would be", answer.needed_m === undefined ? "no length of so many loops"
          : `${short(answer.needed_m, 4)} m`],
        ["One loop drops", `${dropWords(loop.drop_kpa)} at ${flowWords(loop.flow_l_s)}`],
      ]),
      answer.by_month ? el("div", { class: "charts" },
        chart("Coldest brine of each month, all years", answer.by_month, (each) => MONTHS[each.month - 1][0],
          `by month: ${answer.by_month.map((each) => `${MONTHS[each.month - 1]} ${fixed(each.from_ground_c, 1)}`).join(", ")} °C`),
        chart("Coldest brine of each year", answer.by_year, (each) => String(each.year), [answer.by_year[0], answer.by_year.at(-1)]
          .map((each) => `year ${each.year} ${fixed(each.from_ground_c, 1)} °C`).join(", ")),
        el("p", { class: "key", text: "Thick line: from the ground; thin dashes: to the ground." })) : null,
      limiting ? titled(`What sets the length: ${MONTHS[limiting.month - 1]} of year ${limiting.year}, governed by ${GOVERNS[limiting.governs]}`,
        stepsChart({
          from: limiting.undisturbed_c, width: Math.min(width, 460), said: partsSaid(limiting),
          steps: [["months", -limiting.fall_from_months_k], ["peak", -limiting.fall_from_peak_k],
            ["film, wall", -limiting.fall_through_pipe_k], ["brine", limiting.rise_of_brine_k]],
        }),
        el("p", { class: "key", text: "From the ground without the array to the brine that comes back: what all months "
          + "and the peak take, what film and wall take, and the brine's rise above its mean." })) : null,
      titled("How sure the length is", facts(sensitivity.map((each) => [
        each.less_load ? "Load 10 % less" : WERE[each.input], sureWords(each, answer)]))),
      titled("At other limits on the brine from the ground", facts(answer.return_limits.map((each) => [
        `${digits(each.from_ground_c)} °C`, limitWords(each)]))),
      titled("What others would take; none is called right", ...answer.published.flatMap((each) => [
        el("p", {}, el("b", { text: each.length_m === undefined ? `${fixed(each.area_m2, 0)} m² of land`
          : `${fixed(each.length_m, 0)} m of borehole` }), ` ${each.rule} (${each.source}).`),
        el("p", { class: "hint", text: each.differs })])),
      hurtBox("Before anyone builds it", answer.cautions),
      titled("Findings", findingsOf(answer.findings, goTo)),
      methodOf(answer.method, answer.notes),
    ];
  },
};

function sureWords(each, answer) {
  const base = answer.needed_m ?? answer.length_m;
  const asks = (length) => `${short(length, 4)} m (${length >= base ? "+" : "−"}`
    + `${fixed(Math.abs(100 * (length / base - 1)), 0)} %)`;
  const lengths = [each.min_length_m, each.max_length_m].filter((length) => length !== undefined);
  if (!lengths.length) return "no length would do";
  const lacks = each.input === "ground_conductivity" && lengths.length < 2;
  return `${lengths.map(asks).join(" to ")}${lacks ? ", or on one side no length" : ""}`;
}

const partsSaid = (limiting) => `Ground ${fixed(limiting.undisturbed_c, 1)} °C, `
  + `months ${fixed(-limiting.fall_from_months_k, 1)} K, peak ${fixed(-limiting.fall_from_peak_k, 1)} K, film and wall `
  + `${fixed(-limiting.fall_through_pipe_k, 1)} K, brine ${fixed(limiting.rise_of_brine_k, 1)} K.`;

const limitWords = (each) => [
  each.length_m === undefined ? "no length would do"
    : `${short(each.length_m, 4)} m, in ${each.loop_count} ${each.loop_count === 1 ? "loop" : "loops"}, Reynolds number ${short(each.reynolds)}`,
  each.concentration_percent === undefined ? "no strength of the antifreeze is enough"
    : `antifreeze from ${short(each.concentration_percent)} % by mass`,
  each.performance_percent ? `heat pump ${each.performance_percent > 0 ? "+" : "−"}`
    + `${short(Math.abs(each.performance_percent))} %` : null,
].filter(Boolean).join("; ");
