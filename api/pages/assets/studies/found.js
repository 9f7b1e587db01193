// What came of a study: its cases, the best of them, the front and what results depend on.

import { button, byId, digits, el, short } from "../bench/dom.js";
import { typedNumber } from "../bench/job.js";
import { table, titled } from "../bench/parts.js";
import { CALCULATIONS } from "./vary.js";

const PAGE = 25;
const MOST_SORTED = 1000; // rows that the service gives in order
const BEST = 10;

let shown = null; // of the study on the page: its columns, what is sorted by, and what was asked
let desk = null; // what the page gives: send(), body, openCase(), orTell(), box(), ended

export function forgetFound() {
  shown = null;
  for (const id of ["table", "best", "front", "influence"]) byId(id).replaceChildren();
}

/** Show what is there of a study; what was asked about it stays. */
export async function showFound(study, given) {
  desk = given;
  const address = `/v1/studies/${encodeURIComponent(study.study)}`;
  if (shown?.study.study !== study.study) {
    const { rows } = await (await desk.send("GET", `${address}/results?most=200`)).json();
    if (!rows.length) return;
    shown = { address, page: 0, sort: null, limits: [], ...columnsOf(study, rows) };
  }
  shown.study = study;
  await showTable();
  if (!byId("best").firstChild || !shown.numbers.length) {
    const { rows } = await (await desk.send("GET", `${address}/results?most=200`)).json();
    Object.assign(shown, columnsOf(study, rows));
    drawQuestions();
  }
  if (desk.ended && shown.numbers.length) await desk.orTell(findBest);
}

/** What a study varies and keeps, in words: columns of places that change together, and of results. */
function columnsOf({ calculation }, rows) {
  const told = new Map((CALCULATIONS[calculation]?.[2] ?? []).map(([at, label, unit]) => [at, unit ? `${label}, ${unit}` : label]));
  const results = desk.body?.results ?? [...new Set(rows.flatMap((row) => Object.keys(row.results ?? {})))];
  const places = (desk.body?.variations ?? []).flatMap(({ listed, range, paired, sampled }) =>
    (paired && paired.values.every((row) => row.every((value) => value === row[0])) ? [paired.at]
      : paired ? paired.at.map((at) => [at]) : sampled ? sampled.places.map(({ at }) => [at]) : [[(listed ?? range).at]]));
  const varied = places.length ? places : Object.keys(rows[0].varied).map((at) => [at]);
  return {
    results: results.map((at) => ({ at, words: told.get(at) ?? at })),
    varied: varied.map((at) => ({ at: at[0], words: calledAt(at) })),
    numbers: results.filter((at) => rows.some((row) => typeof row.results?.[at] === "number")),
  };
}

/** Places that change together, as their box is called where this browser has the job. */
function calledAt(at) {
  const field = (desk.fields ?? []).find(({ key }) => key === at.join(" "));
  if (!field) return at.length > 1 ? `${lastOf(at[0])}, and alike` : lastOf(at[0]);
  const words = field.unit ? `${field.label}, ${field.unit}` : field.label;
  return /^(Loop|Circuit|All) /.test(field.group) ? `${field.group}: ${words.toLowerCase()}` : words;
}

/** The end of a pointer, with what it stands in where that is a number of a list. */
function lastOf(at) {
  const parts = at.split("/").slice(1);
  const loop = parts.indexOf("branches");
  const which = loop < 0 ? "" : ` of ${parts.includes("circuit") ? "branch" : "loop"} ${parts.filter((part, n) => parts[n - 1] === "branches").map((each) => Number(each) + 1).join("/")}`;
  const leg = parts.indexOf("legs");
  return `${parts.at(-1).replaceAll("_", " ")}${leg < 0 ? "" : `, leg ${Number(parts[leg + 1]) + 1}`}${which}`;
}

const wordsAt = (at) => [...shown.results, ...shown.varied].find((each) => each.at === at)?.words ?? calledAt([at]);

const cell = (value) => (value === undefined ? "–" : typeof value === "number" ? short(value, 5)
  : value === true ? "yes" : value === false ? "no" : typeof value === "object" ? JSON.stringify(value) : String(value));

const ask = async (question, body) => (await desk.send("POST", `${shown.address}/${question}`, body)).json();

/** A row of a table of cases. */
const rowOf = (row) => ({
  mark: row.status === 200 ? null : "failed",
  cells: [
    desk.body ? button(String(row.case), "link", () => desk.openCase(desk.body, row.varied), { label: `Open case ${row.case} on the bench` }) : String(row.case),
    ...shown.varied.map(({ at }) => cell(row.varied[at])),
    ...shown.results.map(({ at }) => cell(row.results?.[at])),
    row.status !== 200 ? `■ ${row.problem.detail ?? row.problem.title}`
      : [row.errors ? `${row.errors} error${row.errors > 1 ? "s" : ""}` : "", row.warnings ? `${row.warnings} warning${row.warnings > 1 ? "s" : ""}` : ""].filter(Boolean).join(", ") || "–",
  ],
});

const COLUMNS = (sortable) => [["Case"], ...shown.varied.map(({ words }) => [words]),
  ...shown.results.map(({ at, words }) => [sortable && shown.numbers.includes(at) ? sortButton(at, words) : words]), ["Findings"]];

function sortButton(at, words) {
  const sign = shown.sort?.at !== at ? "" : shown.sort.towards === "min" ? " ▲" : " ▼";
  return button(`${words}${sign}`, "link", () => {
    shown.sort = shown.sort?.at !== at ? { at, towards: "min" } : shown.sort.towards === "min" ? { at, towards: "max" } : null;
    shown.page = 0;
    desk.orTell(showTable).then(() => byId("table").querySelector(`[data-key="${CSS.escape(`sort ${at}`)}"]`)?.focus());
  }, { key: `sort ${at}`, label: `Sort by ${words}${sign ? ", now sorted" : ""}` });
}

async function showTable() {
  const { page, sort, study } = shown;
  let rows;
  let all = study.done;
  if (sort) {
    const found = await ask("best", { goals: [{ sum: [{ at: sort.at }], towards: sort.towards }], errors_allowed: true, most: MOST_SORTED });
    rows = found.rows.slice(page * PAGE, (page + 1) * PAGE);
    all = Math.min(found.found, MOST_SORTED);
  } else {
    ({ rows } = await (await desk.send("GET", `${shown.address}/results?most=${PAGE}&after=${page * PAGE}`)).json());
  }
  const pages = Math.max(1, Math.ceil(all / PAGE));
  const turn = (by) => button(by < 0 ? "Before" : "Next", "small", () => {
    shown.page += by;
    desk.orTell(showTable).then(() => (byId("table").querySelector(`[data-key="turn ${by}"]:not(:disabled)`) ?? byId("table").querySelector("[data-key]"))?.focus());
  }, { key: `turn ${by}`, label: by < 0 ? "The page before" : "The next page", disabled: by < 0 ? page === 0 : page + 1 >= pages });
  byId("table").replaceChildren(titled("Cases",
    el("p", { class: "hint", text: [sort ? `By ${wordsAt(sort.at)}, ${sort.towards === "min" ? "least" : "most"} first; cases without that number are left out${all === MOST_SORTED ? `, and after ${MOST_SORTED} it ends` : ""}.` : "In the order of cases. A result's name sorts by it.",
      desk.body ? " A case's number opens it on the bench." : " This browser did not begin the study and has not its job, so that no case can be opened on the bench."].join("") }),
    table("Cases of the study", COLUMNS(true), rows.map(rowOf), { textLast: true }),
    el("div", { class: "buttons" }, turn(-1), el("span", { text: `Page ${page + 1} of ${pages.toLocaleString("en")}` }), turn(1))));
}

// ------------------------------------------------------------------------------------- questions

const selectOf = (options, value, onchange) => {
  const made = el("select", { onchange: (event) => onchange(event.target.value) }, options.map(([each, text]) => el("option", { value: each, text })));
  made.value = value;
  return made;
};
const numbersList = () => shown.numbers.map((at) => [at, wordsAt(at)]);
const TOWARDS = [["min", "least"], ["max", "most"]];
const KINDS = [["max", "at most"], ["min", "at least"], ["true", "is yes"], ["false", "is no"]];

function drawQuestions() {
  if (!shown.numbers.length) return;
  const [first, second = first] = shown.numbers;
  shown.goal ??= { at: first, towards: "min" };
  shown.axes ??= [{ at: first, towards: "min" }, { at: second, towards: "min" }];
  shown.influence ??= first;
  byId("best").replaceChildren(titled("The best",
    el("div", { class: "askrow" }, goalBoxes(shown.goal, "Best is")),
    el("div", { id: "limits" }),
    el("div", { class: "buttons" }, button("Add a limit", "add", () => {
      shown.limits.push({ at: shown.results[0].at, kind: "max", text: "" });
      drawLimits();
      byId("limits").querySelector("li:last-child select").focus();
    }), button("Find the best", "main", () => desk.orTell(findBest))),
    el("div", { id: "best-found", "aria-live": "polite" })));
  drawLimits();
  byId("front").replaceChildren(...(shown.numbers.length < 2 ? [] : [titled("The front: two goals against each other",
    el("p", { class: "hint", text: "Of the cases that keep the limits of the best, above." }),
    el("div", { class: "askrow" }, goalBoxes(shown.axes[0], "Across"), goalBoxes(shown.axes[1], "Up")),
    el("div", { class: "buttons" }, button("Draw the front", "main", () => desk.orTell(drawFront))),
    el("div", { id: "front-found", "aria-live": "polite" }))]));
  byId("influence").replaceChildren(titled("What matters",
    el("div", { class: "askrow" }, desk.box("What this depends on", selectOf(numbersList(), shown.influence, (at) => { shown.influence = at; }))),
    el("div", { class: "buttons" }, button("Draw what matters", "main", () => desk.orTell(drawInfluence))),
    el("div", { id: "influence-found", "aria-live": "polite" })));
}

const goalBoxes = (goal, label) => [
  desk.box(label, selectOf(numbersList(), goal.at, (at) => { goal.at = at; })),
  desk.box(`${label}: better is`, selectOf(TOWARDS, goal.towards, (towards) => { goal.towards = towards; }))];

function drawLimits() {
  byId("limits").replaceChildren(shown.limits.length ? el("ul", { class: "limits" }, shown.limits.map((limit, n) => el("li", {},
    desk.box("Only where", selectOf(shown.results.map(({ at, words }) => [at, words]), limit.at, (at) => {
      limit.at = at;
      limit.kind = shown.numbers.includes(at) ? "max" : "true";
      drawLimits();
      byId("limits").querySelectorAll("li")[n].querySelector("select").focus();
    })),
    desk.box("it", selectOf(KINDS.filter(([kind]) => shown.numbers.includes(limit.at) === kind.startsWith("m")), limit.kind, (kind) => { limit.kind = kind; })),
    shown.numbers.includes(limit.at) ? desk.box("this", el("input", { type: "text", inputmode: "decimal", value: limit.text, oninput: (event) => { limit.text = event.target.value; } })) : null,
    button("Leave out", "small", () => {
      shown.limits.splice(n, 1);
      drawLimits();
    }, { label: `Leave out the limit of ${wordsAt(limit.at)}` })))) : "");
}

const termOf = ({ at, towards }) => ({ sum: [{ at }], towards });
const limitOf = ({ at, kind, text }) => ({ at, ...(kind.startsWith("m") ? { [kind]: typedNumber(text) ?? "" } : { value: kind === "true" }) });

async function findBest() {
  const found = await ask("best", { goals: [termOf(shown.goal)], limits: shown.limits.map(limitOf), most: BEST });
  const costs = (found.limits ?? []).map(({ at, kept_by: by, costs: cost }) =>
    [wordsAt(at), by.toLocaleString("en"), cost === undefined ? "no choice" : short(cost, 4)]);
  byId("best-found").replaceChildren(
    el("p", { text: `${found.eligible.toLocaleString("en")} of ${found.done.toLocaleString("en")} cases keep all limits and tell no error. ${found.method}` }),
    found.rows.length ? table("The best cases", COLUMNS(false), found.rows.map(rowOf), { textLast: true }) : el("p", { class: "bad", text: "No case does." }),
    costs.length ? titled("What each limit costs", table("What each limit costs", [["Limit"], ["Cases that keep it"], [`${wordsAt(shown.goal.at)} without it, better by`]], costs)) : "");
}

/** A picture that the service draws, told in words by the table below it. */
async function picture(question, body, words) {
  const blob = await (await desk.send("POST", `${shown.address}/${question}.svg`, body)).blob();
  const address = URL.createObjectURL(blob);
  return el("img", { class: "drawn", src: address, alt: words, onload: () => URL.revokeObjectURL(address) });
}

async function drawFront() {
  const body = { goals: shown.axes.map(termOf), limits: shown.limits.map(limitOf), most: BEST };
  const found = await ask("best", body);
  const words = `${wordsAt(shown.axes[0].at)} across and ${wordsAt(shown.axes[1].at)} up, of all cases; the front is marked`;
  byId("front-found").replaceChildren(found.found ? await picture("front", body, words) : "",
    el("p", { text: `On the front ${found.found === 1 ? "is one case" : `are ${found.found.toLocaleString("en")} cases`}${found.found > BEST ? `; the first ${BEST} are listed` : ""}. ${found.method}` }),
    found.found ? table("Cases on the front", COLUMNS(false), found.rows.map(rowOf), { textLast: true }) : "");
}

async function drawInfluence() {
  const body = { results: [shown.influence] };
  const [drawn, { results: [told], method }] = [await picture("sensitivity", body, `Bars of what ${wordsAt(shown.influence)} depends on; the numbers stand in the table`), await ask("sensitivity", body)];
  const some = (name) => told.quantities.some((each) => each[name] !== undefined);
  const columns = [["rank_correlation", "Rank correlation"], ["first_order", "Sobol index, alone"], ["total", "Sobol index, with others"]].filter(([name]) => some(name));
  byId("influence-found").replaceChildren(drawn,
    table("What it depends on", [["Changed"], ...columns.map(([, words]) => [words])],
      told.quantities.map((each) => [wordsAt(each.at), ...columns.map(([name]) => (each[name] === undefined ? "–" : digits(each[name], 2)))])),
    el("p", { class: "hint", text: `${told.without_indices ?? ""} A correlation says that two things go together in these cases, no more. ${method}` }));
}
