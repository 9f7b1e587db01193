// On the plot: corners, keep-outs, plant room and chambers, and where everything then lies.

import { button, el, fixed, folded, percent, signed } from "./dom.js";
import { onScreen } from "./faults.js";
import { checkField, choiceField, held, listField, numberField, pipeField, redrawable, redrawAt, textField, wayField } from "./fields.js";
import { below, byPlan, isObject } from "./job.js";
import { pairsField, plotForm } from "./load.js";
import { facts, findingsOf, hurtBox, methodOf, table, titled } from "./parts.js";
import { cornersOf, misfitOf, planBoard, plantOf, pointsOf } from "./plan.js";
import { freePlace, placesOf } from "./places.js";
import { plotFileField } from "./plotfile.js";
import { attempt, download, post } from "./service.js";

const FILES = [["PDF", "pdf"], ["SVG", "svg"], ["PNG", "png"], ["DXF", "dxf"], ["Points, CSV", "csv"], ["GeoJSON", "geojson"]];
const SHAPES = [["outline", "An area"], ["centre", "Something round"], ["line", "A line"]];
const BLOCKS = [["", "loops and header trenches"], ["array", "loops; a header may cross it"], ["header", "header trenches"]];
const PLACES = [["", "tails as even as can be"], ["least_pipe", "the least pipe"], ["least_digging", "the least digging"]];

// Whether the array takes tails and runs of every new plan, and the arrays that plans have given, by
// which Undo, Redo and other ways to another array tell; of the page, not of the job.
let following = false;
let declined = false; // whether the tick was taken out by hand
let last = null; // the last plan that was answered
const given = new Set();
/** An array as text that is the same however its fields are ordered, whether one is told as one, and to
 * five digits of its numbers: nobody lays a tail more exactly. */
const textOf = (array) => JSON.stringify(array ?? null, (_, value) => {
  if (typeof value === "number") return Number(value.toPrecision(5));
  return isObject(value) ? Object.fromEntries(Object.entries(value)
    .filter(([name, each]) => name !== "count" || each !== 1).sort(([a], [b]) => (a < b ? -1 : 1))) : value;
});

const middle = () => {
  const corners = cornersOf(held("/plot"));
  const mean = (name) => Math.round(corners.reduce((sum, each) => sum + each[name], 0) / Math.max(corners.length, 1));
  return { x_m: mean("x_m"), y_m: mean("y_m") };
};

const rectangle = ({ x_m, y_m }, long, high) =>
  [[0, 0], [long, 0], [long, high], [0, high]].map(([dx, dy]) => ({ x_m: x_m + dx, y_m: y_m + dy }));

const xAndY = (place, key) => [
  numberField(below(place, "x_m"), "x, east", { unit: "m", step: 0.5, key }),
  numberField(below(place, "y_m"), "y, north", { unit: "m", step: 0.5 }),
];

/** Half-way between the last corner and the first. */
const between = (items) => {
  const [a, b] = [items.at(-1), items[0]];
  return { x_m: (a.x_m + b.x_m) / 2 || 0, y_m: (a.y_m + b.y_m) / 2 || 0 };
};

const cornersField = (pointer, shortest, words = "corner") => listField(pointer, {
  words, shortest,
  fresh: between,
  row: (place, _item, _redraw, key) => xAndY(place, key),
});

function shapeField(place) {
  const fresh = {
    outline: () => ({ outline: rectangle(middle(), 10, 8) }),
    centre: () => ({ centre: middle(), radius_m: 0.5 }),
    line: () => ({ line: rectangle(middle(), 15, 0).slice(0, 2) }),
  };
  return wayField(place, "It is", SHAPES, {
    fresh: (way, { name, clearance_m, blocks }) => ({ name, clearance_m, ...blocks && { blocks }, ...fresh[way]() }),
    draw: (way) => (way === "centre"
      ? [el("div", { class: "grid" }, xAndY(below(place, "centre")), numberField(below(place, "radius_m"), "Radius", { unit: "m", step: 0.1 }))]
      : [cornersField(below(place, way), way === "line" ? 2 : 3, way === "line" ? "bend" : "corner")]),
  });
}

/** Go to what was added where it is seen and moved: to its point on the plan. */
function showOnPlan(place) {
  const point = ["", " whole", "/centre"].map((end) => document.querySelector(`[data-point="${CSS.escape(place + end)}"]`)).find(Boolean);
  if (!point) return;
  point.focus({ preventScroll: true });
  point.closest(".planboard").scrollIntoView({ block: "nearest" });
}

const keepOutsField = () => listField("/plot/keep_outs", {
  words: "keep-out", shown: showOnPlan, none: "Nothing stands on the plot: no house, tree, drain or cable.",
  fresh: (items) => ({ name: items.length ? `keep-out ${items.length + 1}` : "house", clearance_m: 2, outline: rectangle(middle(), 10, 8) }),
  row: (place, _item, _redraw, key) => [
    textField(below(place, "name"), "Called", { key }),
    numberField(below(place, "clearance_m"), "Kept clear", { unit: "m", step: 0.5 }),
    folded("Its place, and what it keeps off", shapeField(place), choiceField(below(place, "blocks"), "Keeps off", BLOCKS, { wide: true })),
  ],
});

/** Corners of a pond; the first four come together. */
const waterField = ({ edit }) => [
  listField("/plot/water", {
    words: "corner of the water", shown: showOnPlan, shortest: 3, first: "Add water, by its corners",
    none: "No water on the plot. Mats lie in a pond, and nothing is dug or placed in it.",
    fresh: (items) => (items.length ? between(items) : rectangle(middle(), 15, 10)),
    row: (place, _item, _redraw, key) => xAndY(place, key),
  }),
  redrawable(() => (held("/plot/water") === undefined ? [] : [button("Take the water away", "small", (event) => {
    edit("/plot/water", undefined, event);
    redrawAt("/plot/water");
  })]), "/plot/water", "buttons"),
];

/** Where a chamber beside others has room, near the plant room. */
function chamberPlace(chambers) {
  const plot = held("/plot");
  const corners = cornersOf(plot);
  const near = plantOf(plot) ?? corners[0];
  if (!near || corners.length < 3) return middle();
  const water = pointsOf(plot.water);
  const trenches = [...Array.isArray(plot.trenches) ? plot.trenches : [], ...last?.trenches ?? []];
  const blocks = [
    ...(Array.isArray(plot.keep_outs) ? plot.keep_outs : []).filter(isObject).map((each) => ({
      points: each.centre ? pointsOf([each.centre]) : pointsOf(each.outline ?? each.line), closed: each.outline !== undefined,
      clear: (each.clearance_m > 0 ? each.clearance_m : 0) + (each.radius_m > 0 ? each.radius_m : 0),
    })),
    ...water.length > 2 ? [{ points: water, closed: true, clear: 1 }] : [],
    ...trenches.map((each) => ({ points: pointsOf(each?.points), closed: false, clear: (each?.width_m ?? 1) / 2 })),
  ].filter(({ points }) => points.length);
  const border = held("/setting_out/header/border_m");
  return freePlace({ corners, near, border: border >= 0 ? border : 1, blocks, chambers: pointsOf(chambers) }) ?? middle();
}

const chambersField = () => listField("/plot/chambers", {
  words: "chamber", shown: showOnPlan, none: "Each is placed anew with every plan. Drag one, or add one, to give all of them their places.",
  /** One more, near the plant room; beside those of the last plan, where none has a place of its own yet. */
  fresh: (items) => {
    const placed = items.length ? items
      : (last?.chambers ?? []).map(({ name, x_m, y_m, max_loops }) => ({
        name, x_m: Number(x_m.toFixed(3)), y_m: Number(y_m.toFixed(3)), max_loops }));
    const names = placed.map((each) => each?.name);
    let number = placed.length + 1;
    while (names.includes(`C${number}`)) number += 1;
    return [...items.length ? [] : placed, { name: `C${number}`, ...chamberPlace(placed) }];
  },
  row: (place, _item, _redraw, key) => [
    textField(below(place, "name"), "Called", { key }), ...xAndY(place),
    numberField(below(place, "max_loops"), "Ports", { placeholder: "12" }),
  ],
});

/** A line for each trench, with a button that gives every loop its own. */
const trenchesField = ({ edit, job, answer, say }) => [
  listField("/plot/trenches", {
    words: "trench", none: "The plan finds a place for every trench of equal ones. Unequal ones take places by hand, one for each loop.",
    fresh: (items) => ({ loop: `T${items.length + 1}`, points: rectangle(middle(), 30, 0).slice(0, 2) }),
    row: (place, _item, _redraw, key) => [
      textField(below(place, "loop"), "Loop", { key }),
      folded("Its ends and bends", cornersField(below(place, "points"), 2, "bend")),
    ],
  }),
  el("div", { class: "buttons" }, button("Place every trench, as long as its loop", "small", (event) => {
    const plot = job().plot ?? {};
    const corners = cornersOf(plot);
    const least = (name) => Math.min(...corners.map((each) => each[name])) + (plot.border_m ?? 2.5);
    const placed = Array.isArray(plot.trenches) ? plot.trenches : last?.decides.plot?.trenches ?? [];
    const places = corners.length > 2 ? placesOf(job(), answer()?.loops ?? [], {
      lines: new Map(placed.filter((each) => pointsOf(each?.points).length > 1).map(({ loop, points, tails_from }) => [loop, { points, tails_from }])),
      near: last?.chambers[0] ?? plantOf(plot) ?? corners[0],
      corner: { x_m: least("x_m") + 1, y_m: least("y_m") }, spacing: plot.spacing_m ?? 5,
    }) : null;
    if (!places) {
      say("Trenches are placed on a plot by its corners or sides, for an array of slinkies or trenches that the bench has solved.");
      return;
    }
    edit("/plot/trenches", places, event);
    redrawAt("/plot/trenches");
    say(`${places.length} trenches have places of their own. Drag them, or turn them by their ends.`);
  }, { key: "/plot/trenches:all" }), button("Leave places to the plan", "small", (event) => {
    edit("/plot/trenches", undefined, event);
    redrawAt("/plot/trenches");
  })),
];

/** A line for each mat, with a button that leaves all of them to the plan. */
const matsField = ({ edit }) => [
  listField("/plot/mats", {
    words: "mat", none: "The plan finds a place for every mat in the water. Drag one to give all of them their places.",
    fresh: (items) => ({ loop: `M${items.length + 1}`, ...middle() }),
    row: (place, _item, _redraw, key) => [textField(below(place, "loop"), "Loop", { key }), ...xAndY(place)],
  }),
  el("div", { class: "buttons" }, button("Leave mats to the plan", "small", (event) => {
    edit("/plot/mats", undefined, event);
    redrawAt("/plot/mats");
  })),
];

/** Whether a plan gives the array tails and runs that it has not. */
export const isUntaken = ({ decides: { array } }, job) => array !== undefined && textOf(array) !== textOf(job.array);

/** Let the array that was sized take tails and runs of its plan, once it is set out. */
export function expectPlan(array) {
  if (!declined) given.add(textOf(array));
}

/** Let the array take tails and runs of a plan, and of every one after it. */
export function follow(answer, page, event) {
  following = true;
  declined = false;
  intoArray(answer, page, event);
}

const OWN = /^\/array\/(.*\/)?(runs(\/|$)|legs\/\d+\/straight\/length_m$)/;

/** Whether an edit by hand is of tails or runs that the array took from its plan: from then on it takes none. */
export function declines(pointer) {
  if (!following || !OWN.test(pointer)) return false;
  following = false;
  declined = true;
  return true;
}

/** Put tails and runs of a plan into the array; whether that changed it. */
function intoArray(answer, page, event) {
  const { array } = answer.decides;
  if (!array) return false;
  given.add(textOf(array));
  if (textOf(array) === textOf(page.job().array)) return false;
  page.follow({ array }, event);
  return true;
}

export const setOut = {
  key: "setting_out",
  title: "On the plot",
  address: "setting-out",
  verb: "Set it out",
  lead: "Where do loops, chambers and header trenches lie, and how long do tails and runs become? "
    + "Once set out, the plan follows every change.",
  beside: "split",
  fields: ["plot/boundary", "plot/keep_outs", "plot/plant_room", "plot/chambers", "plot/water", "plot/trenches", "plot/mats"],
  begins: () => ({ "/setting_out": { run_pipe: "PE100 SDR11 50" } }),

  aside: ({ plot }) => cornersOf(plot).length < 3,
  live: (job) => job.array !== undefined && cornersOf(job.plot).length > 2,
  board: (page) => planBoard(page, { changed: redrawAt }),
  forgetAll: () => { following = false; declined = false; last = null; given.clear(); },
  used: (job) => { following = given.has(textOf(job.array)); },

  /** The flow split of the array that the plan gives, taken or not; null where it cannot be solved. */
  more: (job, { decides: { array } }, signal) => (array ? attempt(async () =>
    (await post("split", { ...job, array }, signal)).json(), () => null) : null),

  /** What follows from a new answer; whether the job changed by it. An array that comes with
   * tails and runs of its plan, from a file or with valves put in, goes on taking them. */
  settled: (answer, page) => {
    const { array } = answer.decides;
    if (array) last = answer;
    if (array && !declined) following ||= !isUntaken(answer, page.job());
    return following && intoArray(answer, page);
  },

  form(page) {
    const n = (path, label, options) => numberField(`/setting_out/${path}`, label, options);
    return [
      el("h3", { text: "Plot" }), plotFileField(page), plotForm((way) => (["boundary", "length_m"].includes(way) ? [
        ...way === "boundary" ? [el("h3", { text: "Its corners" }), cornersField("/plot/boundary", 3),
          folded("Corners as text, to paste or copy", pairsField("/plot/boundary", "x and y in m, a line each", ["x_m", "y_m"],
            "0 0\n40 0", { comma: true, then: () => redrawAt("/plot/boundary") }))] : [],
        el("h3", { text: "Plant room: where pipes leave the building" }), el("div", { class: "grid" }, xAndY("/plot/plant_room")),
        el("h3", { text: "What nothing is dug near" }), keepOutsField(),
        el("h3", { text: "Water" }), ...waterField(page),
        el("h3", { text: "Chambers" }), chambersField(),
        el("h3", { text: "Trenches placed by hand" }), ...trenchesField(page),
        folded("Mats placed by hand", ...matsField(page)),
      ] : [el("p", { class: "hint", text: "Setting out needs the plot by its sides or by its corners." })])),
      el("h3", { text: "How it is set out" }),
      el("div", { class: "grid" },
        choiceField("/setting_out/chamber_place", "Chambers are placed for", PLACES, { wide: true }),
        n("max_chamber_loops", "Most loops of a chamber", { placeholder: "12" })),
      el("div", { class: "grid" }, pipeField("/setting_out/run_pipe", "Pipe of the runs")),
      folded("How header trenches lie", el("div", { class: "grid" },
        n("header/border_m", "From the boundary", { unit: "m", step: 0.5, placeholder: "1" }),
        n("header/clear_m", "Ground left to a trench", { unit: "m", step: 0.1, placeholder: "0.5" }),
        n("header/stub_m", "From a trench's end", { unit: "m", step: 0.1, placeholder: "1" }),
        n("end_gap_m", "Between trenches in line", { unit: "m", step: 0.5, placeholder: "2" }))),
    ];
  },

  words: ({ decides, totals, chambers }) => (decides.array ? `${fixed(totals.header_dug_m, 0)} m of header trench, `
    + `${chambers.length} chamber${chambers.length === 1 ? "" : "s"}` : "■ it does not fit"),

  show(answer, page) {
    const { totals, capacity, decides } = answer;
    const misfit = misfitOf(answer);
    const placed = byPlan(page.more?.loops ?? [], answer.tails);
    const tick = el("input", {
      type: "checkbox", id: "follow-plan", class: "changes",
      onchange: (event) => {
        if (event.target.checked) follow(answer, page, event);
        else {
          following = false;
          declined = true;
        }
      },
    });
    tick.checked = following;
    return [
      hurtBox("Before anyone digs", answer.cautions),
      misfit ? el("p", { class: "outcome bad" }, el("b", { text: "■ It does not fit. " }), onScreen(misfit)) : el("p", { class: "outcome" },
        el("b", { text: `${fixed(totals.header_dug_m, 1)} m of header trench` }),
        ` for tails of ${fixed(totals.min_tail_m, 1)} to ${fixed(totals.max_tail_m, 1)} m and ${fixed(totals.runs_m, 1)} m of runs.`),
      decides.array ? el("div", { class: "field check" }, el("label", { for: "follow-plan", text: "the array takes tails and runs from this plan, now and after every change" }), tick) : null,
      isUntaken(answer, page.job()) ? el("p", { class: "hint", text: "Not taken: every step here is of the array on the bench. "
        + "Flows beside the plan's tails are of the array with these, and so is the document." }) : null,
      facts([
        ["Plot", `${fixed(totals.plot_m2, 0)} m²`],
        ["Found room for", capacity?.most === undefined ? undefined : `${capacity.most} of such loops`],
        ["Dig in this order", answer.dig_order.length ? answer.dig_order.slice(0, 12).join(", ") + (answer.dig_order.length > 12 ? " …" : "") : undefined],
      ]),
      answer.chambers.length ? titled("Chambers", chambersTable(answer, placed)) : null,
      answer.placed_by.length > 1 ? titled("Chambers placed for something else", table("Ways to place chambers",
        [["For", ""], ["Header trench", "m"], ["Tails", "m"], ["from", "m"], ["to", "m"], ["Runs", "m"]],
        answer.placed_by.map((each) => [wordsOf(each.chamber_place), fixed(each.header_dug_m, 1), fixed(each.tails_m, 1),
          fixed(each.min_tail_m, 1), fixed(each.max_tail_m, 1), fixed(each.runs_m, 1)]))) : null,
      answer.tails.length ? titled("Tails", table("Tails", [["Loop", ""], ["Chamber", ""], ["One way", "m"], ["Flow off its target", ""]], answer.tails.map((each) => [
        each.loop, each.chamber, fixed(each.length_m, 1), deviation(placed.get(each.loop))]))) : null,
      el("div", { class: "buttons" }, FILES.map(([text, ending]) =>
        button(`Save: ${text}`, "small", () => page.orNote(() => download(`setting-out.${ending}`, page.asked(), `plan.${ending}`))))),
      titled("Findings", findingsOf(answer.findings, page.goTo)),
      methodOf(answer.method),
    ];
  },
};

const wordsOf = (place) => ({ most_even: "even tails", least_pipe: "least pipe", least_digging: "least digging" }[place] ?? place);

const deviation = (loop) => (loop ? signed(loop.deviation_percent) : "–");

/** Chambers with what they hold, and how evenly their own loops flow. */
function chambersTable(answer, placed) {
  const flow = [...placed.values()].reduce((sum, each) => sum + each.flow_l_s, 0);
  return table("Chambers", [["Chamber", ""], ["Loops", ""], ["Run", "m"], ["Takes of the flow", ""], ["Tails", "m"], ["Loops off their target", "%"]],
    answer.chambers.map((each) => {
      const own = answer.tails.filter(({ chamber }) => chamber === each.name);
      const split = own.map(({ loop }) => placed.get(loop)).filter(Boolean);
      const off = split.map((one) => one.deviation_percent);
      const tails = own.map(({ length_m }) => length_m);
      const range = (list, decimals = 1) => (list.length ? `${fixed(Math.min(...list), decimals)} to ${fixed(Math.max(...list), decimals)}` : "–");
      return [each.name, `${each.loop_count} of ${each.max_loops}`, each.run_m === undefined ? "none" : fixed(each.run_m, 1),
        split.length === own.length && flow > 0 ? percent(100 * split.reduce((sum, one) => sum + one.flow_l_s, 0) / flow) : "–",
        range(tails), range(off)];
    }));
}
