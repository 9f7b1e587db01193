// From the load: what the heat pump needs, the ground and the kind of array; a sized array comes
// back that can be laid out on the bench.

import { digits, el, fixed, short } from "./dom.js";
import { checkField, choiceField, held, numberField, pipeField, textField, wayField } from "./fields.js";
import { MONTHS, facts, findingsOf, hurtBox, methodOf, temperatureChart, titled } from "./parts.js";
import { below, isObject } from "./request.js";

const YEAR_WAYS = [["heating_hours", "By run hours"], ["monthly_heat_kwh", "Month by month"]];
const GROUND_WAYS = [["soil", "By class of soil"], ["conductivity_w_m_k", "Measured"]];
const KINDS = {
  slinky: "Slinkies in trenches",
  straight: "Straight pipe in trenches",
  pond_mat: "Mats in open water",
  borehole: "Boreholes",
};
const METRES = { trench: "trench", bore: "borehole", pipe: "pipe" };
const FRESH_KIND = {
  slinky: { pipe: "PE100 SDR11 32", depth_m: 1.2 },
  straight: { pipe: "PE100 SDR11 40", depth_m: 1.2, passes: 2 },
  pond_mat: { pipe: "PE100 SDR11 32", coldest_water_c: 4 },
  borehole: {
    pipe: "PE100 SDR11 40", borehole_diameter_mm: 130, pipe_centre_mm: 35, grout_conductivity_w_m_k: 1.8,
  },
};
const GOVERNS = {
  monthly_draw: "the heat drawn month after month",
  peak: "the peak",
  pipe: "film, wall and grout",
};

/** What the ways of telling something share, kept when another is chosen. */
const kept = (value, names) => Object.fromEntries(
  names.map((name) => [name, value[name]]).filter(([, each]) => each !== undefined));

function heatForm(at) {
  const place = below(at, "heat_load");
  const n = (name, label, options) => numberField(below(place, name), label, options);
  const fresh = {
    heating_hours: { heating_hours: 1800 },
    monthly_heat_kwh: {
      monthly_heat_kwh: [2900, 2500, 2000, 1200, 600, 250, 250, 250, 500, 1300, 2100, 2800],
    },
  };
  const draw = (way) => [
    el("div", { class: "grid" },
      n("heat_pump_output_kw", "Heat pump gives", { unit: "kW", step: 0.5 }),
      n("seasonal_performance", "Seasonal performance", { step: 0.1 }),
      n("design_performance", "COP at design", { step: 0.1, placeholder: "as the season" }),
      way === "heating_hours" ? [
        n("heating_hours", "Heating hours", { unit: "a year", step: 100 }),
        n("hot_water_kwh", "Hot water", { unit: "kWh a year", step: 100, placeholder: "0" }),
        n("hot_water_performance", "Performance on it", { step: 0.1, placeholder: "as heating" })] : null),
    way === "monthly_heat_kwh" ? el("div", { class: "grid months" }, MONTHS.map((month, index) =>
      numberField(below(place, "monthly_heat_kwh", index), month, { unit: "kWh", step: 50 }))) : null,
    el("div", { class: "grid" },
      n("peak_hours", "Peak lasts", { unit: "h", placeholder: "24" }),
      n("first_month", "Begins in month", { placeholder: "1" }),
      numberField(below(at, "temperature_change_k"), "Rise of the brine", { unit: "K", step: 0.1 })),
  ];
  const shared = ["heat_pump_output_kw", "seasonal_performance", "design_performance", "peak_hours", "first_month"];
  return wayField(place, "The year is told", YEAR_WAYS, {
    fresh: (way, value) => ({ ...kept(value, shared), ...structuredClone(fresh[way]) }), draw,
  });
}

function groundForm(at, soils) {
  const place = below(at, "ground");
  const n = (name, label, options) => numberField(below(place, name), label, options);
  const fresh = {
    soil: { soil: "clay", moisture: "usual" },
    conductivity_w_m_k: { conductivity_w_m_k: 1.3, heat_capacity_mj_m3_k: 2.3 },
  };
  const draw = (way) => [
    el("div", { class: "grid" },
      way === "soil" ? [
        choiceField(below(place, "soil"), "Soil", soils.soils.map((each) => [each.soil, each.title])),
        choiceField(below(place, "moisture"), "Moisture", soils.soils[0].states
          .map((each) => [each.moisture, each.moisture.replaceAll("_", " ")]))] : [
        n("conductivity_w_m_k", "Conductivity", { unit: "W/m K", step: 0.1 }),
        n("heat_capacity_mj_m3_k", "Heat capacity", { unit: "MJ/m³ K", step: 0.1 })]),
    way === "soil" ? el("p", { class: "hint", text: soils.caution }) : null,
    el("div", { class: "grid" },
      numberField(below(place, "surface_temperature", "mean_c"), "Surface, mean", { unit: "°C", step: 0.1 }),
      numberField(below(place, "surface_temperature", "swing_k"), "Swing, half", { unit: "K", step: 0.1 }),
      numberField(below(place, "surface_temperature", "coldest_day"), "Coldest day", { unit: "of the year", placeholder: "35" })),
  ];
  return wayField(place, "How it conducts is told", GROUND_WAYS, {
    fresh: (way, value) => ({
      ...kept(value, ["surface_temperature", "geothermal_gradient_k_m"]), ...fresh[way],
    }), draw,
  });
}

function kindForm(at) {
  const place = below(at, "array_kind");
  return wayField(place, "Kind of array", Object.entries(KINDS), {
    fresh: (kind) => ({ [kind]: structuredClone(FRESH_KIND[kind]) }),
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
        straight: () => [
          n("depth_m", "Depth", { unit: "m", step: 0.1 }),
          n("passes", "Passes in a trench", { step: 2 }),
          n("spacing_m", "Between passes", { unit: "m", step: 0.1, placeholder: "0.4" })],
        pond_mat: () => [
          n("coldest_water_c", "Coldest water", { unit: "°C", step: 0.5 }),
          n("mat_inner_diameter_m", "Mat, inner", { unit: "m", step: 0.1, placeholder: "0.6" }),
          n("mat_outer_diameter_m", "Mat, outer", { unit: "m", step: 0.1, placeholder: "2" }),
          n("mat_spacing_m", "Turns apart", { unit: "m", step: 0.01, placeholder: "0.1" })],
        borehole: () => [
          n("borehole_diameter_mm", "Borehole", { unit: "mm", step: 5 }),
          n("pipe_centre_mm", "Centre to pipe", { unit: "mm" }),
          n("grout_conductivity_w_m_k", "Grout conducts", { unit: "W/m K", step: 0.1 }),
          n("u_tubes", "U-tubes", { placeholder: "1" }),
          n("spacing_m", "Between boreholes", { unit: "m", step: 0.5, placeholder: "6" }),
          n("deepest_m", "Deepest", { unit: "m", step: 10, placeholder: "150" }),
          choiceField(below(own, "field_shape"), "Field", [
            ["line", "in a line"], ["rectangle", "a rectangle"], ["l", "an L"], ["u", "a U"],
            ["open_rectangle", "an open rectangle"]]),
          n("rows", "Across", { placeholder: "about square" })],
      };
      return [el("div", { class: "grid" }, pipeField(below(own, "pipe"), "Pipe"), fields[kind]())];
    },
  });
}

const metreOf = (kind) => (isObject(kind) && "borehole" in kind ? "bore"
  : isObject(kind) && "pond_mat" in kind ? "pipe" : "trench");

function rateForm(at) {
  const place = below(at, "extraction_rate");
  return wayField(place, "Sized by", [
    ["none", "Conduction through the ground"], ["rate_w_m", "A rate from the local standard"]], {
    fresh: (way) => (way === "none" ? undefined : { rate_w_m: 20, per: metreOf(held(below(at, "array_kind"))) }),
    draw: (way) => (way === "none" ? [] : [el("div", { class: "grid" },
      numberField(below(place, "rate_w_m"), "Rate", { unit: "W/m" }),
      choiceField(below(place, "per"), "Metre of", Object.entries(METRES)),
      numberField(below(place, "hours"), "For full hours", { unit: "a year", step: 100, placeholder: "any" }),
      textField(below(place, "source"), "Its table"))]),
  });
}

export const load = {
  key: "sizing",
  title: "From the load",
  path: "/v1/array-sizing",
  verb: "Size the array",
  lead: "How many metres keep the brine that comes back above its limit in every year of the "
    + "array's life? The numbers to begin with are those of an invented house.",
  fresh: () => ({
    heat_load: {
      heat_pump_output_kw: 8, seasonal_performance: 3.6, design_performance: 3.1,
      heating_hours: 1800, hot_water_kwh: 3000, hot_water_performance: 2.8,
    },
    temperature_change_k: 3.5,
    ground: { soil: "clay", moisture: "usual", surface_temperature: { mean_c: 10.2, swing_k: 7.5 } },
    array_kind: { slinky: structuredClone(FRESH_KIND.slinky) },
    site: { length_m: 75, width_m: 40 },
    limits: { tail_m: 12, longest_pipe_m: 400, largest_pressure_drop_kpa: 35 },
    design_years: 20,
    least_return_c: 0,
  }),

  form(at, { soils, goTo }) {
    const n = (path, label, options) => numberField(below(at, ...path.split(".")), label, options);
    return [
      el("h3", { text: "Heat" }), heatForm(at),
      el("h3", { text: "Ground" }), groundForm(at, soils),
      el("h3", { text: "Array" }), kindForm(at),
      el("div", { class: "grid" }, n("limits.tail_m", "Tail to the manifold, one way", { unit: "m", placeholder: "0" })),
      el("h3", { text: "To be kept" }),
      el("div", { class: "grid" },
        n("least_return_c", "Coldest return", { unit: "°C", step: 0.5, placeholder: "0" }),
        n("design_years", "Through", { unit: "years", placeholder: "20" })),
      rateForm(at),
      el("h3", { text: "Room on site" }),
      el("div", { class: "grid" },
        n("site.length_m", "Plot, along", { unit: "m", placeholder: "not checked" }),
        n("site.width_m", "Plot, across", { unit: "m", placeholder: "not checked" }),
        n("site.area_m2", "Or its area", { unit: "m²", placeholder: "not checked" }),
        n("site.trench_length_m", "Trench to be had", { unit: "m", placeholder: "not checked" }),
        n("site.centres_m", "Trench centres", { unit: "m", placeholder: "5" }),
        n("site.border_m", "Border", { unit: "m", placeholder: "2.5" })),
      el("details", { class: "more" }, el("summary", { text: "What makes a loop practical" }),
        el("div", { class: "grid" },
          n("limits.loops", "Equal loops", { placeholder: "least" }),
          n("limits.longest_pipe_m", "Longest pipe", { unit: "m", placeholder: "any" }),
          n("limits.largest_pressure_drop_kpa", "Largest drop", { unit: "kPa", placeholder: "30" }),
          n("limits.largest_velocity_m_s", "Fastest", { unit: "m/s", step: 0.1, placeholder: "1.5" }))),
      el("p", { class: "hint" }, "The brine is the one of the bench: ", el("button", {
        type: "button", class: "link", text: "change it there", onclick: () => goTo("/antifreeze/kind"),
      }), "."),
    ];
  },

  body: (job, request) => ({ name: request.name, antifreeze: request.antifreeze, ...job.sizing }),

  words: (answer) => `${answer.loops} loop${answer.loops === 1 ? "" : "s"}, `
    + `${short(answer.total_length_m, 4)} m of ${METRES[answer.metre]}`,

  show(answer, { width, goTo, layOut }) {
    const metre = METRES[answer.metre];
    const { site, sensitivity, limiting_load: limiting, extraction } = answer;
    const kept = answer.margin_k >= 0;
    const half = width > 620 ? Math.floor((width - 24) / 2) : width;
    const room = site.fits === undefined ? "room not given"
      : site.fits ? "it fits" : "■ it does not fit";
    const needs = `${fixed(site.area_needed_m2, 0)} m² (${short(site.length_m)} × ${short(site.width_m)} m)`;
    const have = site.area_available_m2 === undefined ? "" : ` of ${fixed(site.area_available_m2, 0)} m²`;
    return [
      el("p", { class: kept ? "outcome" : "outcome bad" },
        el("b", { text: `${short(answer.total_length_m, 4)} m of ${metre}` }),
        ` in ${answer.loops} equal loop${answer.loops === 1 ? "" : "s"} of ${short(answer.loop.length_m, 4)} m; `
        + `the brine comes back at ${fixed(answer.coldest_return_c, 1)} °C at the coldest, `
        + (kept ? `${fixed(answer.margin_k, 1)} K above its limit.`
          : `${fixed(-answer.margin_k, 1)} K below its limit.`)),
      el("div", { class: "buttons" }, el("button", {
        type: "button", class: "main", text: "Lay it out",
        onclick: () => layOut(answer.flow_split_request),
      }), el("p", { class: "hint", text: "Puts these loops on the bench in place of its array; the "
        + "plant and the tolerance stay, and Undo brings the array back." })),
      facts([
        ["Pipe in all", `${fixed(answer.pipe_total_m, 0)} m, ${fixed(answer.loop.pipe_m, 0)} m a loop`],
        ["Each metre gives", `${digits(extraction.peak_w_m)} W at the peak, ${digits(extraction.annual_kwh_m)} kWh a year`],
        ["Ground gives", `${digits(answer.ground_draw.peak_kw)} kW, ${fixed(answer.ground_draw.annual_kwh, 0)} kWh a year`],
        ["Coldest, out to ground", `${fixed(answer.coldest_going_c, 1)} °C`],
        ["Land needed", el("span", { class: site.fits === false ? "bad" : null, text: `${needs}${have}: ${room}` })],
        ["Trench", site.trench_available_m === undefined || site.trench_needed_m === undefined ? undefined
          : `${fixed(site.trench_needed_m, 0)} of ${fixed(site.trench_available_m, 0)} m`],
        ["Just enough would be", answer.needed_length_m === undefined ? "no length of so many loops"
          : `${short(answer.needed_length_m, 4)} m`],
        ["One loop drops", `${digits(answer.loop.pressure_drop_kpa)} kPa at ${digits(answer.loop.flow_l_s)} L/s`],
      ]),
      answer.by_month ? el("div", { class: "charts" },
        el("figure", {}, el("figcaption", { text: "Coldest brine of each month, all years" }), temperatureChart({
          width: half, limit: answer.least_return_c,
          points: answer.by_month.map((each) => ({ label: MONTHS[each.month - 1][0], back: each.return_c, out: each.going_c })),
          said: `Coldest brine from the ground by month: ${answer.by_month.map((each) => `${MONTHS[each.month - 1]} ${fixed(each.return_c, 1)}`).join(", ")} °C.`,
        })),
        el("figure", {}, el("figcaption", { text: "Coldest brine of each year" }), temperatureChart({
          width: half, limit: answer.least_return_c, every: Math.max(1, Math.ceil(answer.by_year.length / 10)),
          points: answer.by_year.map((each) => ({ label: String(each.year), back: each.return_c, out: each.going_c })),
          said: `Coldest brine from the ground: year 1 ${fixed(answer.by_year[0].return_c, 1)} °C, year ${answer.by_year.length} ${fixed(answer.by_year.at(-1).return_c, 1)} °C.`,
        })),
        el("p", { class: "key", text: "Thick line: from the ground; thin dashes: to the ground." })) : null,
      limiting ? titled(`What sets the length: ${MONTHS[limiting.month - 1]} of year ${limiting.year}, governed by ${GOVERNS[limiting.governs]}`,
        facts([
          ["Ground without the array", `${fixed(limiting.undisturbed_c, 1)} °C`],
          ["Fall owing to all months", `− ${fixed(limiting.fall_from_months_k, 1)} K`],
          ["Fall owing to the peak", `− ${fixed(limiting.fall_from_peak_k, 1)} K`],
          ["Through pipe and film", `− ${fixed(limiting.fall_through_pipe_k, 1)} K`],
          ["Half the brine's rise", `+ ${fixed(limiting.rise_of_brine_k, 1)} K`],
          ["Brine from the ground", el("b", { text: `= ${fixed(answer.coldest_return_c, 1)} °C` })],
        ])) : null,
      titled("How sure the length is", el("p", { text: sureWords(sensitivity, answer) })),
      hurtBox("Before anyone builds it", answer.cautions),
      titled("Findings", findingsOf(answer.findings, goTo)),
      methodOf(answer.method, answer.notes),
    ];
  },
};

function sureWords(sensitivity, answer) {
  const base = answer.needed_length_m ?? answer.total_length_m;
  const asks = (length) => `${short(length, 4)} m (${length >= base ? "+" : "−"}`
    + `${fixed(Math.abs(100 * (length / base - 1)), 0)} %)`;
  const [worse, better] = sensitivity.of === "water_film"
    ? ["With water moving 30 % more weakly round the mats", "30 % more strongly"]
    : ["Ground that conducts 20 % less", "20 % more"];
  const bad = sensitivity.length_if_worse_m;
  const good = sensitivity.length_if_better_m;
  return `${worse} asks for ${bad === undefined ? "more than any length" : asks(bad)}`
    + `${good === undefined ? "" : `; ${better}, for ${asks(good)}`}.`;
}
