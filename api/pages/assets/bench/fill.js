// Fill, purge and test: what goes in, what drives the air out, at what pressure the pipe is proved
// and what every loop's meter should show.

import { button, digits, el, fixed, folded, short, signed } from "./dom.js";
import { checkField, choiceField, held, listField, numberField, textField, wayField } from "./fields.js";
import { facts, findingsOf, hurtBox, methodOf, table, titled } from "./parts.js";
import { below, isDrilled, isObject } from "./job.js";
import { flowWords, inFlow, units } from "./units.js";

const PARTS = { loops: "Loops", headers: "Headers", runs: "Routes", plant_runs: "Plant's runs" };
export const STAGES = {
  relaxation: "Relaxation", pressurising: "Pressurising", holding: "Holding", resting: "Resting",
  letting_down: "Letting down", main: "Main test",
};
export const VERDICTS = { pass: "= passed by the record", fail: "▼ failed by the record", undetermined: "? not told by the record" };
export const METERS = { low: "▼ low", within: "= within", high: "△ high" };
const VESSEL = { precharge_pressure_kpa: 50, min_fluid_c: -4, max_fluid_c: 25 };
const NO_TEST = "No pressure test is planned: nothing here proves the pipe. Tell its pressure before the pipe is covered; "
  + "that of boreholes, with what stands on their feet, is for whoever knows the probe.";
const stageWords = (stage) => STAGES[stage] ?? stage.replaceAll("_", " ");

function testForm(at) {
  const n = (name, label, options) => numberField(below(at, name), label, options);
  const fresh = (way, { design_pressure_kpa, test_pressure_kpa, surge_calculated, ...rest }) => ({
    design_pressure_kpa: { ...rest, design_pressure_kpa: 300 },
    test_pressure_kpa: { ...rest, test_pressure_kpa: 450 },
  })[way];
  const draw = (way) => (way === "none" ? [el("p", { class: "hint", text: NO_TEST })] : [
    el("div", { class: "grid" },
      way === "design_pressure_kpa" ? [n("design_pressure_kpa", "Design pressure", { unit: "kPa", step: 10 }),
        checkField(below(at, "surge_calculated"), "the surge in it was calculated", false)]
        : n("test_pressure_kpa", "Test pressure", { unit: "kPa", step: 10 }),
      n("pipe_c", "Pipe's wall", { unit: "°C", placeholder: "not told" }),
      n("gauge_step_kpa", "Gauge shows steps of", { unit: "kPa", placeholder: "1" }),
      choiceField(below(at, "procedure"), "Procedure", [["en_805", "EN 805, A.27"], ["w_400_2", "contraction, DVGW W 400-2"]], { wide: true })),
    folded("The record, for a verdict",
      listField(below(at, "readings"), {
        words: "reading", none: "No readings yet: the plan alone is given.",
        needs: ["time_min", "pressure_kpa"],
        fresh: (items) => ({ stage: items.at(-1)?.stage ?? "relaxation" }),
        row: (place, _item, _redraw, key) => [
          choiceField(below(place, "stage"), "Stage", Object.entries(STAGES), { key }),
          numberField(below(place, "time_min"), "At", { unit: "min" }),
          numberField(below(place, "pressure_kpa"), "Pressure", { unit: "kPa", step: 5 }),
          numberField(below(place, "drawn_off_l"), "Drawn off", { unit: "L", step: 0.1, placeholder: "none" })],
      })),
  ]);
  return wayField(at, "Pressure test", [["design_pressure_kpa", "By the design pressure, EN 805"],
    ["test_pressure_kpa", "At a pressure given"], ["none", "Not asked"]], { fresh, draw });
}

function vesselForm(at) {
  const n = (name, label, options) => numberField(below(at, name), label, options);
  const fresh = (way, { safety_valve_pressure_kpa, max_pressure_kpa, ...rest }) => ({
    safety_valve_pressure_kpa: { ...VESSEL, ...rest, safety_valve_pressure_kpa: 300 },
    max_pressure_kpa: { ...VESSEL, ...rest, max_pressure_kpa: 250 },
  })[way];
  const draw = (way) => (way === "none" ? [] : [el("div", { class: "grid" },
    n(way, way === "safety_valve_pressure_kpa" ? "Safety valve" : "Highest", { unit: "kPa", step: 10 }),
    n("precharge_pressure_kpa", "Precharge", { unit: "kPa", step: 10 }),
    n("min_fluid_c", "Coldest fluid", { unit: "°C" }),
    n("max_fluid_c", "Warmest fluid", { unit: "°C" }))]);
  return wayField(at, "Expansion vessel", [["safety_valve_pressure_kpa", "Under a safety valve, EN 12828"],
    ["max_pressure_kpa", "With its highest pressure given"], ["none", "Not asked"]], { fresh, draw });
}

function purgeForm(at) {
  return wayField(at, "Purging", [["yes", "Clear every pipe of air"], ["no", "Not asked"]], {
    way: (value) => (isObject(value) ? "yes" : "no"),
    fresh: (way) => (way === "yes" ? {} : undefined),
    draw: (way) => [way === "yes" ? el("div", { class: "grid" },
      numberField(below(at, "min_velocity_m_s"), "At", { unit: "m/s", step: 0.1, placeholder: "0.6" }),
      choiceField(below(at, "fluid"), "With", [["water", "clean water"], ["mixture", "the mixture"]])) : null],
  });
}

function boughtForm(at) {
  return wayField(at, "Antifreeze is bought", [["none", "Pure"], ["concentration_percent", "As concentrate or premix"]], {
    fresh: (way) => (way === "none" ? undefined : { concentration_percent: held("/antifreeze")?.concentration_percent ?? 100, basis: held("/antifreeze")?.basis ?? "mass" }),
    draw: (way) => [way === "none" ? null : el("div", { class: "grid" },
      numberField(below(at, "concentration_percent"), "Strength", { unit: "%" }),
      choiceField(below(at, "basis"), "By", [["volume", "volume"], ["mass", "mass"]]))],
  });
}

export const fill = {
  key: "commissioning",
  title: "Fill, purge and test",
  address: "commissioning",
  verb: "Work out the sheet",
  lead: "How much goes in, what clears the air, how is the pipe proved, and what should every meter show?",
  fields: ["heights"],
  begins: () => ({
    // What stands on the foot of a borehole is more than the test of a trench: it is for who knows the probe to tell.
    "/commissioning": ({ array }) => ({
      filling: { filling_c: 12, spare_percent: 5 },
      purge: {},
      ...isDrilled(array) ? {} : { pressure_test: { design_pressure_kpa: 400 } },
      vessel: { ...VESSEL, safety_valve_pressure_kpa: 300 },
    }),
  }),

  form({ loops, goTo }) {
    const at = "/commissioning";
    const n = (path, label, options) => numberField(`${at}/${path}`, label, options);
    return [
      el("h3", { text: "Filling" }),
      el("div", { class: "grid" },
        n("filling/filling_c", "Filled at", { unit: "°C" }),
        n("filling/spare_percent", "To spare", { unit: "%", placeholder: "0" })),
      boughtForm(below(at, "filling", "bought")),
      el("p", { class: "hint" }, "What the plant holds is told at the bench: ", button("change it there", "link", () => goTo("/plant/volume_l")), "."),
      folded("How high it lies, above one reference", el("div", { class: "grid" },
        [["min_ground_level_m", "Lowest ground"], ["max_ground_level_m", "Highest ground"],
          ["plant_level_m", "Pump and vessel"], ["gauge_level_m", "Test's gauge"]].map(([name, label]) =>
          numberField(`/heights/${name}`, label, { unit: "m", step: 0.1, placeholder: "not told" })))),
      purgeForm(below(at, "purge")),
      testForm(below(at, "pressure_test")),
      vesselForm(below(at, "vessel")),
      el("h3", { text: "Meters" }),
      el("div", { class: "grid" },
        n("flow_meters/max_deviation_percent", "Accepted ±", { unit: "%", placeholder: () => String(held("/limits/max_deviation_percent") ?? 10) }),
        n("flow_meters/accuracy_percent", "Meters err ±", { unit: "%", placeholder: "5" }),
        n("flow_meters/min_scale_l_min", "Scale from", { unit: "L/min", placeholder: "0" }),
        n("flow_meters/max_scale_l_min", "Scale to", { unit: "L/min", placeholder: "any flow" })),
      folded("What the meters show, for a verdict",
        listField(below(at, "flow_meters", "readings"), {
          words: "meter", none: "Not read yet: what they should show is given.",
          needs: ["flow_l_min"],
          // The next loop that has no line yet; what its meter shows is for the reader to say.
          fresh: (items) => ({ loop: loops().find((name) => !items.some((each) => each?.loop === name)) ?? "" }),
          row: (place, _item, _redraw, key) => [
            textField(below(place, "loop"), "Loop", { key }),
            numberField(below(place, "flow_l_min"), "Shows", { unit: "L/min", step: 0.1 })],
        })),
    ];
  },

  words: (answer) => `${fixed(answer.contents.volume_l, 0)} L`
    + (answer.pressure_test ? `, test pressure ${fixed(answer.pressure_test.test_pressure_kpa / 100, 2)} bar` : ", no pressure test"),

  show(answer, { goTo }) {
    const { contents, filling, purge, pressure_test: test, vessel } = answer;
    const record = test?.verdict_of_record;
    const read = answer.flow_meters.some((each) => each.reading_l_min !== undefined);
    const mixed = [["Antifreeze", filling.antifreeze_l === undefined ? `${fixed(filling.antifreeze_kg, 1)} kg`
      : `${fixed(filling.antifreeze_l, 0)} L, ${fixed(filling.antifreeze_kg, 0)} kg`],
    ["of", filling.bought_mass_percent < 100 ? `${digits(filling.bought_mass_percent)} % by mass` : undefined],
    ["To buy", filling.containers.length ? `${filling.containers.map((each) => `${each.count} × ${digits(each.size_l)} L`).join(", ")}; ${fixed(filling.left_over_l, 0)} L left over` : undefined],
    ["Water to it", `${fixed(filling.water_l, 0)} L`]];
    return [
      hurtBox("Before anyone fills or pressurises", answer.cautions),
      el("p", { class: "outcome" }, el("b", { text: `${fixed(contents.volume_l, 0)} L` }),
        ` in array and plant; make up ${fixed(filling.volume_l, 0)} L, which freezes at ${fixed(filling.freezing_point_c, 1)} °C.`),
      titled("To pour together", facts([
        ...mixed,
        ["A hydrometer shows", `${fixed(filling.density_kg_m3, 0)} kg/m³ at ${short(filling.filling_c)} °C`],
        ...contents.parts.filter((each) => each.volume_l > 0).map((each) =>
          [`${PARTS[each.part] ?? each.part} hold`, `${fixed(each.volume_l, 0)} L in ${fixed(each.length_m, 0)} m`]),
        ["Plant holds", contents.plant_l ? `${fixed(contents.plant_l, 0)} L` : undefined],
      ])),
      purge ? titled(`Purging at ${short(purge.min_velocity_m_s)} m/s with ${purge.fluid}`, table("What the purge pump must do", [
        ["Open, all else shut", ""], ["Flow", units.flow], ["At the connections", "kPa"], ["Slowest", "m/s"], ["Fastest", "m/s"], ["At least", "min"]],
      purge.steps.map((each) => [
        each.count > 1 ? `${each.name} × ${each.count}` : each.name, digits(inFlow(each.flow_l_s)), fixed(each.pressure_kpa, 1),
        fixed(each.min_velocity_m_s, 2), fixed(each.max_velocity_m_s, 2), fixed(each.time_min, 1)])),
      el("p", { text: `One pump for all steps: ${flowWords(purge.max_flow_l_s)} at ${fixed(purge.max_pressure_kpa, 1)} kPa at the connections; a tank of ${fixed(purge.min_tank_l, 0)} L; ${fixed(purge.time_min, 0)} min at least.` }),
      el("p", { class: "key", text: "Hoses, strainer and valves come on top." })) : null,
      test ? titled(`Pressure test at ${fixed(test.test_pressure_kpa, 0)} kPa (${fixed(test.test_pressure_kpa / 100, 2)} bar), ${test.procedure}`,
        el("p", { text: `At the lowest pipe that is ${fixed(test.test_pressure_at_bottom_kpa, 0)} kPa.` }),
        record ? el("p", { class: record.verdict === "pass" ? "outcome" : "outcome bad" },
          el("b", { text: VERDICTS[record.verdict] }), "; whoever signs the test decides.") : null,
        record ? el("ul", { class: "cautions" }, record.stages.map((each) =>
          el("li", { text: `${stageWords(each.stage)}, ${VERDICTS[each.verdict]}: ${each.reason}` }))) : null,
        table("Stages of the pressure test", [["Stage", ""], ["Time", "min"], ["At", "kPa"], ["Ends between", "kPa"], ["What to do", ""]],
          test.stages.map((each) => [stageWords(each.stage), `${each.duration_is_max ? "at most" : "at least"} ${short(each.duration_min)}`,
            each.pressure_kpa === undefined ? "" : fixed(each.pressure_kpa, 0), `${fixed(each.min_pressure_kpa, 0)} and ${fixed(each.max_pressure_kpa, 0)}`, each.instruction]),
          { textLast: true }),
        el("p", { class: "key", text: `At the let-down ${digits(test.min_drawn_off_l)} to ${digits(test.max_drawn_off_l)} L may be drawn off at most; more means air in the pipe.` }),
        el("p", { class: "key", text: test.source })) : titled("Pressure test", el("p", { text: `▲ ${NO_TEST}` })),
      vessel ? titled("Expansion vessel", facts([
        ["To buy", `${vessel.sold_count > 1 ? `${vessel.sold_count} × ` : ""}${digits(vessel.sold_volume_l)} L, filled to ${fixed(vessel.sold_filling_pressure_kpa, 0)} kPa`],
        ["At least", `${fixed(vessel.volume_l, 1)} L; one of just that would be filled to ${fixed(vessel.filling_pressure_kpa, 0)} kPa`],
        ["Expands by", `${digits(vessel.expansion_l)} L, reserve ${digits(vessel.reserve_l)} L`],
        ["Precharged to", `${fixed(vessel.precharge_pressure_kpa, 0)} kPa`],
        ["At most", `${fixed(vessel.max_pressure_kpa, 0)} kPa at the vessel`],
        ["At the lowest pipe", `${fixed(vessel.max_pressure_at_bottom_kpa, 0)} kPa at most: by the safety valve's set pressure if there is one, fluid and pump included`]]), el("p", { class: "key", text: vessel.source })) : null,
      titled(answer.balance_proved === undefined ? "What every loop's meter should show"
        : answer.balance_proved ? "Meters: = the balance is proved" : "Meters: ▼ the balance is not proved",
      table("Every loop's meter", [["Loop", ""], ["Expected", "L/min"], ["Least", "L/min"], ["Most", "L/min"], ["Shows", "L/min"], ["Verdict", ""]],
        answer.flow_meters.map((each) => ({
          mark: each.verdict === "low" ? "starved" : each.verdict === "high" ? "greedy" : null,
          cells: [each.loop, fixed(each.expected_l_min, 2), String(each.min_flow_l_min ?? ""), String(each.max_flow_l_min ?? ""),
            each.reading_l_min === undefined ? el("span", { class: "blank", role: "img", "aria-label": read ? "not read" : "to be read" })
              : fixed(each.reading_l_min, 2),
            each.verdict ? `${METERS[each.verdict]} ${signed(each.deviation_percent ?? -100, 0)}` : ""],
        })))),
      titled("Findings", findingsOf(answer.findings, goTo)),
      methodOf(answer.method),
    ];
  },
};
