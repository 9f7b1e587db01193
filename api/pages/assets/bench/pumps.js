// Choose the pump: candidates by their tables, ranked by energy, drawn over the system curve.

import { button, digits, el, fixed, folded, short, signed, svg } from "./dom.js";
import { choiceField, held, numberField, textField, wayField } from "./fields.js";
import { evenness, facts, findingsOf, flowAxes, hurtBox, linePath, methodOf, svgWords, table, titled } from "./parts.js";
import { below, typedNumber } from "./job.js";
import { keep, kept } from "./service.js";
import { flowWords, inFlow, inUnits, units } from "./units.js";

const CONTROLS = { constant_speed: "one speed", constant_differential_pressure: "holds its head",
  proportional_pressure: "head with flow", constant_temperature_difference: "holds the change" };
const CSV_SAMPLE = "pump,speed_rpm,flow_l_s,head_m,power_w\nMine,2700,0,8.2,95\nMine,2700,0.4,7.1,118\nMine,2700,0.8,4.0,126";
const OF_PUMP = ["control", "min_speed_rpm", "set_head_m", "set_change_k", "min_flow_l_s", "rated_power_w", "inlet_kpa", "parallel", "series", "impellers"];
const OF_POINT = ["flow_l_s", "head_m", "power_w"];
const WARM = { to_ground_c: 8, from_ground_c: 11 };
const COLUMNS = ["pump", "speed_rpm", ...OF_POINT];

// ---------------------------------------------------------------------------- the pasted tables

function cellsOf(line, separator) {
  const cells = [];
  const cell = /("(?:[^"]|"")*"|[^"]*?)(?:$|SEPARATOR)/.source.replace("SEPARATOR", separator === "\t" ? "\\t" : separator);
  const pattern = new RegExp(cell, "y");
  while (pattern.lastIndex < line.length) {
    const found = pattern.exec(line);
    if (!found) break;
    cells.push(found[1].replace(/^"([^]*)"$/, "$1").replace(/""/g, '"').trim());
    if (found[0].length === 0) break;
  }
  return cells;
}

function fromCsv(text) {
  const lines = text.split(/\r?\n/).map((line, at) => [line, at + 1]).filter(([line]) => line.trim() !== "");
  const [first] = lines[0];
  const separator = ["\t", ";", ","].find((each) => first.includes(each)) ?? ",";
  const names = cellsOf(first, separator).map((each) => each.toLowerCase());
  const missing = COLUMNS.filter((each) => !names.includes(each));
  if (missing.length) {
    return { fault: `The first row names the columns; it lacks ${missing.join(", ")}. For instance: ${CSV_SAMPLE.split("\n")[0]}` };
  }
  const pumps = new Map();
  for (const [line, number] of lines.slice(1)) {
    const cells = cellsOf(line, separator);
    if (cells.length > names.length && cells.slice(names.length).some((each) => each !== "")) {
      return { fault: `Line ${number}: it has ${cells.length} cells, and the first row names ${names.length} columns; with a decimal comma part them by ;.` };
    }
    const row = Object.fromEntries(names.map((name, at) => [name, cells[at] ?? ""]));
    if (row.pump === "") return { fault: `Line ${number}: the pump has no name.` };
    const value = (name) => typedNumber(separator === "," ? row[name] : row[name].replace(",", "."));
    if (!pumps.has(row.pump)) pumps.set(row.pump, { name: row.pump, tables: new Map() });
    const pump = pumps.get(row.pump);
    for (const name of OF_PUMP) if (row[name]) pump[name] = name === "control" ? row[name] : value(name);
    if (!pump.tables.has(row.speed_rpm)) {
      pump.tables.set(row.speed_rpm, {
        speed_rpm: value("speed_rpm"), ...(row.label ? { label: row.label } : {}), points: [],
      });
    }
    for (const name of COLUMNS.slice(1)) {
      if (typeof value(name) !== "number") {
        return { fault: `Line ${number}: ${name} is ${row[name] === "" ? "missing" : `'${row[name]}'`}; a number is wanted.` };
      }
    }
    pump.tables.get(row.speed_rpm).points.push(Object.fromEntries(OF_POINT.map((name) => [name, value(name)])));
  }
  if (!pumps.size) return { fault: "There is no row below the names of the columns." };
  return { candidates: [...pumps.values()].map((pump) => ({ ...pump, tables: [...pump.tables.values()] })) };
}

/** Pumps from a pasted text, JSON or CSV, or the fault in it. */
function pumpsFrom(text) {
  const typed = text.trim();
  if (typed === "") return { fault: "Paste at least one pump's table, or try the invented ones." };
  if (!/^[[{]/.test(typed)) return fromCsv(typed);
  let read;
  try {
    read = JSON.parse(typed);
  } catch (error) {
    return { fault: `This is not JSON yet: ${error.message}.` };
  }
  const list = Array.isArray(read) ? read : read.candidates ?? read.pumps ?? [read];
  return Array.isArray(list) ? { candidates: list } : { fault: "The pumps must be a list in brackets." };
}

// ----------------------------------------------------------------------------------- the curves

/** Half way along a drawn curve, set off by so much. */
function labelAt(drawn, [right, down]) {
  const half = (drawn[0][0] + drawn.at(-1)[0]) / 2;
  const [x, y] = drawn.find(([at]) => at >= half);
  return [x + right, y + down];
}

/** System curve cold and warm, a pump's curve with its tolerance band, and operating points. */
function pumpChart(answer, pump, width) {
  const height = Math.round(Math.min(340, Math.max(250, width * 0.5)));
  const [x0, x1, y0, y1] = [40, width - 14, height - 38, 18];
  const duty = answer.pump;
  const curve = pump.curve ?? [];
  const points = pump.conditions.filter((each) => each.flow_l_s !== undefined);
  const mostFlow = Math.max(duty.flow_l_s * 1.25, ...points.map((each) => each.flow_l_s * 1.12));
  const inside = (list) => list.filter((each) => each.flow_l_s <= mostFlow);
  const mostHead = 1.06 * Math.max(duty.head_m * 1.2, ...points.map((each) => each.head_m),
    ...inside(curve).map((each) => each.max_head_m));
  const X = (flow) => x0 + flow / mostFlow * (x1 - x0);
  const Y = (head) => y0 - head / mostHead * (y0 - y1);
  const upTo = (list, name) => inside(list).filter((each) => each[name] <= mostHead).map((each) => [X(each.flow_l_s), Y(each[name])]);
  const systems = answer.conditions.map((each) => ({
    ...each, drawn: [[X(0), Y(0)], ...upTo(each.system_curve, "head_m")],
  }));
  const band = [...upTo(curve, "max_head_m"), ...upTo(curve, "min_head_m").reverse()];
  const own = upTo(curve, "head_m");
  const said = `${pump.name} over the system curve. ${points.map((each) =>
    `${each.condition}: ${flowWords(each.flow_l_s)} at ${digits(each.head_m)} m`).join("; ") || "No operating point"}. `
    + `Duty ${flowWords(duty.flow_l_s)} at ${digits(duty.head_m)} m.`;
  return svg("svg", { class: "chart pumps", viewBox: `0 0 ${width} ${height}`, width, height, role: "img", "aria-label": said },
    flowAxes({ x0, x1, y0, y1, X, Y, mostFlow, mostHead, unit: "head, m", narrow: width < 420 }),
    band.length > 2 ? svg("path", { class: "pumpband", d: `${linePath(band)}Z` }) : null,
    own.length > 1 ? svg("path", { class: "pumpcurve", d: linePath(own) }) : null,
    systems.map((each) => [
      svg("path", { class: `system ${each.condition}`, d: linePath(each.drawn) }),
      svgWords(...labelAt(each.drawn, each.condition === "cold" ? [-8, -4] : [8, 12]),
        each.condition, "curvelabel", each.condition === "cold" ? "end" : "start")]),
    svg("path", { class: "dutylines", d: `M${x0} ${Y(duty.head_m)}H${X(duty.flow_l_s)}V${y0}` }),
    points.map((each) => (each.condition === "cold"
      ? svg("circle", { class: "at cold", cx: X(each.flow_l_s), cy: Y(each.head_m), r: 6 })
      : svg("rect", { class: "at warm", x: X(each.flow_l_s) - 5, y: Y(each.head_m) - 5, width: 10, height: 10 }))));
}

// ------------------------------------------------------------------------------------ the step

const KEPT_TEXT = "evenloop-bench-pumps";
let unread = kept(KEPT_TEXT) || ""; // text that holds no pumps yet, kept beside the job, which has those that were read last

function keepText(text) {
  unread = text;
  keep(KEPT_TEXT, text);
}

function tablesField() {
  const at = "/pump_choice/candidates";
  const told = (text) => `${pumpsFrom(text).fault}${held(at) ? " The pumps read before are kept." : ""}`;
  const field = textField(at, "Tables, as CSV rows or JSON", {
    wide: true, rows: 8, placeholder: CSV_SAMPLE, own: true,
    hint: "CSV: a row for each point under pump, speed_rpm, flow_l_s, head_m, power_w; three points at "
      + "least for each speed. JSON: as pump_choice.candidates of a job.",
    why: () => (unread ? told(unread) : ""),
    write: (candidates) => unread || (candidates === undefined ? "" : JSON.stringify(candidates, null, 1)),
    read: (typed) => {
      const { candidates } = pumpsFrom(typed);
      keepText(candidates ? "" : typed);
      return candidates ?? { unread: told(typed) };
    },
  });
  field.querySelector("textarea").spellcheck = false;
  return field;
}

function pumpsForm(edit) {
  const at = "/pump_choice/use_invented_pumps";
  let aside; // one's own, while the invented ones are judged
  return wayField(at, "Pumps", [
    ["invented", "Invented ones, to try this out"], ["own", "My own, by their tables"]], {
    way: (value) => (value === true ? "invented" : "own"),
    fresh: (way) => {
      const candidates = "/pump_choice/candidates";
      const own = held(candidates);
      edit(candidates, way === "own" ? own ?? aside : undefined);
      aside = own ?? aside;
      return way === "invented" || undefined;
    },
    draw: (way) => [way === "own" ? tablesField() : el("p", { class: "invented",
      text: "No maker sells these pumps: their numbers are made up. Nobody can choose one of them." })],
  });
}

function warmForm() {
  return wayField("/warm", "Judged", [["to_ground_c", "Cold and warm"], ["none", "In the cold alone"]], {
    fresh: (way) => (way === "none" ? undefined : WARM),
    draw: (way) => (way === "none" ? [] : [el("div", { class: "grid" },
      numberField("/warm/to_ground_c", "Warm, out to ground", { unit: "°C" }),
      numberField("/warm/from_ground_c", "Warm, back", { unit: "°C" }),
      numberField("/warm/hours_percent", "Warm share of hours", { unit: "%", placeholder: "50" }))]),
  });
}

const CHOSEN = "► the job's pump";

/** What of a pump tells it from the others of a list, which may run one at several speeds or controls. */
const toldApart = ({ name, control, speed_rpm, parallel = 1, series = 1, tables = [] }) => JSON.stringify([name, control, parallel, series,
  control === "constant_speed" ? speed_rpm ?? Math.max(...tables.map((each) => each.speed_rpm)) : null]);

/** How a pump of the list stands to the job's own: "" where it is another. */
function chosenWords({ decides }, own) {
  if (!decides || !own || toldApart(decides.pump) !== toldApart(own)) return "";
  const isSetSo = ["set_head_m", "set_change_k"].every((name) => own[name] === undefined
    || digits(own[name]) === digits(decides.pump[name] ?? own[name]));
  return isSetSo ? CHOSEN : `${CHOSEN}, which has another setting`;
}

function pumpName(pump, chosen) {
  return [pump.name, chosen ? el("span", { class: "tag chosen", text: chosen }) : null, pump.invented ? el("span", { class: "tag", text: "invented" }) : null,
    el("span", { class: "quiet", text: ` ${CONTROLS[pump.control] ?? pump.control}`
      + (pump.speed_rpm === undefined ? "" : `, ${fixed(pump.speed_rpm, 0)} rpm`)
      + (pump.parallel > 1 ? `, ${pump.parallel} side by side` : "")
      + (pump.series > 1 ? `, ${pump.series} in line` : "") })];
}

export const pumps = {
  key: "pump_choice",
  title: "Choose the pump",
  address: "pump-choice",
  verb: "Judge the pumps",
  lead: "Which pump gives the flow in the cold and in the warm, and for how much electricity?",
  fields: ["warm"],
  begins: () => ({ "/warm": WARM, "/pump_choice": { use_invented_pumps: true } }),

  form: ({ edit }) => [
    pumpsForm(edit), warmForm(),
    el("div", { class: "grid" },
      choiceField("/pump_choice/acceptance_grade", "Tolerance of delivery, ISO 9906", [
        ["up_to_10_kw", "pumps up to 10 kW"], ["1B", "1B"], ["1E", "1E"], ["1U", "1U"], ["2B", "2B"],
        ["2U", "2U"], ["3B", "3B"]], { wide: true })),
  ],

  faults() {
    if (held("/pump_choice/use_invented_pumps") === true || held("/pump_choice/candidates") !== undefined) return [];
    return [{ pointer: "/pump_choice/candidates", detail: pumpsFrom(unread).fault }];
  },

  forgetAll: () => keepText(""),

  words(answer) {
    const [best] = answer.pumps;
    if (!best?.meets_duty) return "none meets the duty";
    return `${answer.pumps.filter((each) => each.meets_duty).length} of ${answer.pumps.length} meet it`;
  },

  show(answer, { width, goTo, job, take, say }) {
    const met = answer.pumps.filter((each) => each.meets_duty);
    const warm = answer.conditions.some((each) => each.condition === "warm");
    const chart = el("div", {});
    const title = el("h3", {});
    const picked = [];
    const draw = (index) => {
      const pump = answer.pumps[index];
      title.textContent = `${pump.name}${pump.invented ? " (invented)" : ""}, ${CONTROLS[pump.control]}, over the system curve`;
      chart.replaceChildren(pumpChart(answer, pump, Math.min(width, 760)));
      picked.forEach((each, at) => each.setAttribute("aria-pressed", String(at === index)));
    };
    const at = (pump, condition) => pump.conditions.find((each) => each.condition === condition) ?? {};
    const cells = (point) => (point.flow_l_s === undefined ? ["–", "–"]
      : [`${digits(inFlow(point.flow_l_s))} (${signed(point.flow_margin_percent, 0)})`, fixed(point.power_w, 0)]);
    const rows = answer.pumps.map((pump, index) => {
      const pick = button("Draw", "small", () => draw(index), { label: `Draw ${pump.name}, ${CONTROLS[pump.control]}` });
      picked.push(pick);
      const chosen = chosenWords(pump, job().pump);
      const choice = pump.decides && pump.meets_duty && !pump.invented && chosen !== CHOSEN ? button("Take it", "small changes", (event) => {
        take(pump.decides, { event });
        say(`${pump.name} is the job's pump. Undo takes it out.`);
      }, { label: `Take it: ${pump.name}` }) : null;
      const notes = pump.conditions.flatMap((each) => (each.notes ?? []).map((text) => `${each.condition}: ${text}`));
      return {
        mark: `${pump.meets_duty ? "meets" : "misses"}${chosen ? " chosen" : ""}`,
        cells: [
          [el("span", { class: "rank", text: `${index + 1}. ` }), ...pumpName(pump, chosen).filter(Boolean)],
          pump.meets_duty ? "= meets" : "▼ misses",
          ...cells(at(pump, "cold")), ...(warm ? cells(at(pump, "warm")) : []),
          pump.energy_kwh === undefined ? "–" : fixed(pump.energy_kwh, 0),
          pump.benchmark ? fixed(pump.benchmark.power_per_heat_w_kw, 1) : "–",
        ],
        under: [
          el("div", { class: "buttons" }, pick, choice),
          pump.reasons.length ? el("p", { text: `Misses: ${inUnits(pump.reasons.join("; "))}.` }) : null,
          notes.length ? folded("To know about its operating points",
            el("ul", {}, notes.map((text) => el("li", { text })))) : null,
        ].filter(Boolean),
      };
    });
    const nodes = [
      answer.pumps.some((each) => each.invented) ? el("p", { class: "invented",
        text: "Invented pumps: no maker sells them. They show how a choice is made, and are none." }) : null,
      el("p", { class: met.length ? "outcome" : "outcome bad" },
        el("b", { text: met.length ? `${met.length} of ${answer.pumps.length} meet the duty` : "No pump meets the duty" }),
        ` of ${flowWords(answer.pump.flow_l_s)} against ${digits(answer.pump.head_m)} m in the cold`
        + (met.length ? `; ${met[0].name} takes least, ${fixed(met[0].energy_kwh, 0)} kWh a year.` : ".")),
      table("Pumps, best first", [["Pump", ""], ["Duty", ""], ["Cold", `${units.flow} (spare)`], ["", "W"],
        ...(warm ? [["Warm", `${units.flow} (spare)`], ["", "W"]] : []), ["In a year", "kWh"], ["Per heat", "W/kW"]], rows),
      answer.set_aside.length ? titled("Set aside: no pump has such numbers", el("ul", {}, answer.set_aside.map((each) =>
        el("li", { text: `${each.name}: ${each.reasons.join("; ")}.` })))) : null,
      el("section", { class: "part" }, title, chart, el("p", { class: "key",
        text: `Blue: the system, ${warm ? "solid in the cold and dashed in the warm" : "in the cold"}. Black: the pump on cold brine as it runs, grey what the tolerance lets a delivered pump be. Disc: where it runs cold${warm ? "; square: warm" : ""}. Dots: the duty.` })),
      answer.pumps[0]?.splits ? titled("The split that the first pump makes", facts(answer.pumps[0].splits.map((each) => [
        each.condition === "cold" ? "Cold" : "Warm",
        `${flowWords(each.flow_l_s)}, spread ${fixed(each.spread_percent, 1)} %: ${evenness(each.within_tolerance, answer.findings.some((one) => one.severity === "error"))}`,
      ]))) : null,
      job().pump ? titled("The job's pump", el("p", {}, `${job().pump.name}: meters, energy and report follow it. `,
        button("Take it out", "small", (event) => take({ pump: undefined }, { event })))) : null,
      titled("Findings", findingsOf(answer.findings, goTo)),
      hurtBox("Before anyone buys it", answer.cautions),
      methodOf({ ...answer.method, tolerance: answer.acceptance.source,
        ...(answer.pumps[0]?.benchmark ? { "power for heat": answer.pumps[0].benchmark.source } : {}) }),
    ];
    if (answer.pumps.length) draw(0);
    return nodes;
  },
};
