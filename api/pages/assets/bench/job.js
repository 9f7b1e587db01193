// The job around the array, from the load to the hand-over: steps that are folded until they are
// wanted, each with its own question to the service, asked when its button is pressed.

import { byId, el, say, short } from "./dom.js";
import { dig } from "./dig.js";
import { even } from "./even.js";
import { JOB, allFields, clearFaults, fieldAt, forget, inJob, markFault } from "./fields.js";
import { fill } from "./fill.js";
import { CHAPTERS, documentOf, downloadDocument, handOver } from "./handover.js";
import { load } from "./load.js";
import { problemBox } from "./parts.js";
import { pumps } from "./pumps.js";
import { below, isObject, partsOf } from "./request.js";
import { Problem, getJson, post, save, stemOf } from "./service.js";

const STEPS = [load, even, pumps, dig, fill, handOver];
/** Fields of the flow split's request, which the steps share with the bench. */
const SHARED = ["name", "antifreeze", "duty", "plant", "array", "tolerance_percent", "freezing_margin_k"];
const FROM_BENCH = ["plant", "tolerance_percent", "freezing_margin_k"];
const KEPT_OPEN = "evenloop-bench-open";

let page = null; // what the bench gives: request(), job(), edit(), use(), goTo(), say()
let soils = null;
const states = new Map();

const placeOf = (step) => `${JOB}${step.key}`;

// --------------------------------------------------------------------------- what is filled in

/** A job with nothing asked yet. */
export function freshJob() {
  const job = { filled: {}, pump_text: "" };
  for (const step of STEPS) job[step.key] = step.fresh();
  return job;
}

/** A kept or opened job, whatever its shape, with what it lacks. */
export function jobFrom(kept) {
  const job = freshJob();
  if (!isObject(kept)) return job;
  for (const name of Object.keys(job)) {
    if (typeof kept[name] === typeof job[name] && isObject(kept[name]) === isObject(job[name])) job[name] = kept[name];
  }
  return job;
}

/** Take the steps out of a request that holds some, as a whole job's file does.
 * Returns the request without them, and the job or null where there was none. */
export function parted(read) {
  const names = [...Object.keys(CHAPTERS), "document"].filter((name) => isObject(read[name]));
  if (!names.length || !isObject(read.array)) return [read, null];
  const request = { ...read };
  const job = freshJob();
  for (const name of names) {
    job[name] = request[name];
    delete request[name];
    if (name in CHAPTERS) job.filled[name] = true;
  }
  const { candidates } = job.pump_selection;
  if (candidates !== undefined) {
    job.pump_text = JSON.stringify(candidates, null, 2);
    delete job.pump_selection.candidates;
  }
  return [request, job];
}

/** The request for the document, chapters included. */
export const wholeJob = () => documentOf(page.job(), page.request(), STEPS);

// ------------------------------------------------------------------------------------ the page

export function startJob(given) {
  page = given;
  for (const step of STEPS) {
    const give = el("form", { class: "give", "aria-label": `${step.title}: what is given`, autocomplete: "off" });
    const get = el("div", { class: "get", "aria-label": `${step.title}: what comes of it`, role: "region", tabindex: -1 });
    const stand = el("span", { class: "stand" });
    const details = el("details", { class: "step", id: `step-${step.key}` },
      el("summary", {}, el("h2", { text: step.title }), stand),
      el("div", { class: "stepbody" }, give, get));
    states.set(step.key, {
      step, details, give, get, stand, answer: null, more: null, problem: null, asked: "", asking: null, shown: 0,
    });
    give.addEventListener("submit", (event) => {
      event.preventDefault();
      if (step.verb) ask(step);
    });
    details.addEventListener("toggle", () => {
      keepOpen();
      if (details.open) unfold(step);
    });
    byId(step === load ? "from-load" : "steps").append(details);
  }
  drawLine();
  let drawnFor = 0;
  new ResizeObserver(([entry]) => {
    const width = Math.floor(entry.contentRect.width);
    if (width === drawnFor) return;
    drawnFor = width;
    for (const state of states.values()) if (state.answer && state.details.open) show(state);
  }).observe(byId("steps"));
  for (const key of keptOpen()) if (states.has(key)) states.get(key).details.open = true;
}

function keepOpen() {
  try {
    const open = [...states.values()].filter(({ details }) => details.open).map(({ step }) => step.key);
    sessionStorage.setItem(KEPT_OPEN, JSON.stringify(open));
  } catch { /* a page without storage forgets what was unfolded */ }
}

function keptOpen() {
  try {
    const kept = JSON.parse(sessionStorage.getItem(KEPT_OPEN));
    return Array.isArray(kept) ? kept : [];
  } catch {
    return [];
  }
}

/** Draw what a step asks for, if it is open and not drawn yet. */
async function unfold(step, anew = false) {
  const state = states.get(step.key);
  if (state.drawn && !anew) return;
  state.drawn = true;
  if (soils === null && (step === load || step === dig)) {
    try {
      soils = await getJson("/v1/soils");
    } catch (error) {
      if (!(error instanceof Problem)) throw error;
      state.drawn = false;
      fail(state, error.document);
      return;
    }
  }
  forget(placeOf(step));
  state.give.replaceChildren(
    el("p", { class: "lead", text: step.lead }),
    ...step.form(placeOf(step), {
      edit: page.edit, job: page.job, soils, goTo: page.goTo, report, saveJob, loops: () => loopNames,
    }),
    step.verb ? el("div", { class: "ask buttons" }, el("button", { type: "submit", class: "main", text: step.verb })) : "");
  markAll();
  if (state.answer || step === handOver) show(state);
}

/** Draw every open step for a job that was put in the place of another. */
export function drawJob() {
  for (const state of states.values()) {
    state.drawn = false;
    if (state.details.open) unfold(state.step);
  }
  changed();
}

/** Forget all answers, for another job. */
export function forgetAnswers() {
  for (const state of states.values()) {
    state.asking?.abort();
    state.step.forget?.(state.more);
    Object.assign(state, { answer: null, more: null, problem: null, asked: "", asking: null });
    state.get.replaceChildren();
    delete state.get.dataset.shown;
  }
}

/** Say which answers are from before a change. */
export function changed() {
  for (const state of states.values()) stand(state);
  drawLine();
  const last = states.get(handOver.key);
  if (last.details.open && last.drawn) show(last);
}

const isStale = ({ step, answer, asked }) =>
  answer !== null && JSON.stringify(step.body(page.job(), page.request())) !== asked;

function stand(state) {
  const { step, answer, problem, asking, details, get } = state;
  const stale = isStale(state);
  details.classList.toggle("isstale", stale && !problem);
  details.classList.toggle("isfaulty", problem !== null);
  get.classList.toggle("stale", stale);
  const words = asking ? "asking…" : problem ? "■ not answered" : answer
    ? `${step.words(answer)}${stale ? " · from before a change" : ""}`
    : step === handOver ? chaptersWords() : "not asked yet";
  state.words = words;
  say(state.stand, words);
  const note = get.querySelector(".stalenote");
  if (note) note.hidden = !stale;
  // What an answer would put into the array belongs to the array that it was asked for.
  for (const button of get.querySelectorAll("button.changes")) button.disabled = stale;
}

function chaptersWords() {
  const count = Object.keys(CHAPTERS).filter((key) => page.job().filled[key] === true).length;
  return count ? `flow split and ${count} chapter${count === 1 ? "" : "s"}` : "flow split alone";
}

let arrayWords = "";
let loopNames = [];

/** The job at a glance: every step, and what came of it. */
export function drawLine(answer) {
  if (answer) loopNames = answer.loops.map((each) => each.loop);
  if (answer?.imbalance) {
    const count = answer.loops.length;
    arrayWords = `${count} loop${count === 1 ? "" : "s"}, spread ${short(answer.imbalance.spread_percent, 2)} %`;
  } else if (answer) arrayWords = "nothing flows";
  const item = (target, title, words, flag, open) => el("li", { class: flag },
    el("a", { href: `#${target}`, onclick: open }, title), el("span", { text: words }));
  const items = [...states.values()].map((state) => item(state.details.id, state.step.title, state.words ?? "not asked yet",
    state.problem ? "faulty" : isStale(state) ? "old" : state.answer ? "done" : null, () => { state.details.open = true; }));
  items.splice(1, 0, item("verdict", "The array", arrayWords, "done"));
  const list = byId("jobline");
  const focused = [...list.querySelectorAll("a")].indexOf(document.activeElement);
  list.replaceChildren(...items);
  if (focused >= 0) list.querySelectorAll("a")[focused]?.focus();
}

// --------------------------------------------------------------------------------- the question

async function ask(step) {
  const state = states.get(step.key);
  state.asking?.abort();
  const local = step.faults?.(page.job()) ?? [];
  if (local.length) {
    fail(state, { title: "The input is not complete", detail: local[0].detail, errors: local });
    return;
  }
  const body = step.body(page.job(), page.request());
  const asked = JSON.stringify(body);
  const mine = new AbortController();
  state.asking = mine;
  state.get.setAttribute("aria-busy", "true");
  stand(state);
  try {
    const request = structuredClone(page.request());
    const response = await post(step.path, body, "application/json", mine.signal);
    const answer = await response.json();
    const more = step.more ? await step.more(body, answer, mine.signal) : null;
    if (state.asking !== mine) {
      step.forget?.(more);
      return;
    }
    step.forget?.(state.more);
    Object.assign(state, { answer, more, asked, request, problem: null, asking: null });
  } catch (error) {
    if (error.name === "AbortError" || state.asking !== mine) return;
    if (!(error instanceof Problem)) throw error;
    fail(state, error.document);
    return;
  }
  if (step !== load && step.key in CHAPTERS && page.job().filled[step.key] !== true) page.edit(`${JOB}filled/${step.key}`, true);
  show(state);
  markAll();
  changed();
  const last = states.get(handOver.key); // its ticks follow what was asked
  last.drawn = false;
  if (last.details.open) unfold(handOver);
  page.say(`${step.title}: ${step.words(state.answer)}.`);
  bringIntoView(state.get);
}

/** On a narrow page the result lies below its form. */
function bringIntoView(box) {
  if (box.getBoundingClientRect().top > window.innerHeight * 0.8) box.scrollIntoView({ block: "start" });
}

function fail(state, document) {
  Object.assign(state, { problem: document, asking: null });
  show(state);
  markAll();
  changed();
  page.say(`${state.step.title}: ${document.detail ?? document.title}`);
  const first = state.give.querySelector('[aria-invalid="true"]');
  if (first) focusOn(first);
  else bringIntoView(state.get);
}

function show(state) {
  const { step, answer, problem, get } = state;
  get.removeAttribute("aria-busy");
  state.shown += 1;
  const goTo = (pointer) => goToOf(step, pointer);
  const nodes = [];
  if (problem) nodes.push(problemBox(problem, goTo));
  if (answer) {
    nodes.push(el("p", { class: "stalenote", hidden: !isStale(state),
      text: "From before a change of the job: ask again for what holds now." }));
    nodes.push(...step.show(answer, {
      width: Math.max(260, Math.floor(get.clientWidth)), goTo, layOut, apply, more: state.more,
      request: state.request, options: page.job()[step.key],
    }).filter(Boolean));
  }
  if (step === handOver) {
    nodes.push(...step.holds(page.job(), arrayWords, (key) => {
      const other = states.get(key);
      const old = isStale(other);
      return {
        said: other.answer ? `${other.step.words(other.answer)}${old ? ", before a change" : ""}` : "as its step stands",
        old,
      };
    }));
  }
  get.replaceChildren(...nodes);
  get.dataset.shown = String(state.shown);
  stand(state);
}

// --------------------------------------------------------------------------------- the faults

/** Where a step's own pointer leads on this page. */
function mapped(step, pointer) {
  if (typeof pointer !== "string" || pointer === "") return "";
  const [first] = partsOf(pointer);
  if (step === handOver) return first in CHAPTERS || first === "document" ? `/job${pointer}` : pointer;
  return SHARED.includes(first) ? pointer : `${placeOf(step)}${pointer}`;
}

function nearest(pointer) {
  for (let near = pointer; near.startsWith(JOB); near = near.slice(0, near.lastIndexOf("/"))) {
    const field = fieldAt(near);
    if (field) return field;
  }
  return null;
}

export function markAll() {
  clearFaults(allFields(JOB));
  for (const { step, problem } of states.values()) {
    for (const { pointer, detail } of problem?.errors ?? []) {
      const field = nearest(mapped(step, pointer));
      if (field) markFault(field, detail);
    }
  }
}

function focusOn(input) {
  for (let up = input.closest("details"); up; up = up.parentElement?.closest("details")) up.open = true;
  input.focus();
  input.scrollIntoView({ block: "center" });
}

async function goToOf(step, pointer) {
  const place = mapped(step, pointer);
  if (!inJob(place)) {
    page.goTo(place);
    return;
  }
  const state = states.get(partsOf(place)[1]);
  if (state) {
    state.details.open = true;
    await unfold(state.step);
  }
  const target = nearest(place)?.input ?? state?.details.querySelector("summary");
  if (target) focusOn(target);
}

// ------------------------------------------------------------------------- what a step changes

/** Take the array changed as a step says; the change is compared with what was before. */
function apply(request, words) {
  page.use(request, { compare: true });
  page.say(words);
}

/** Put a sized array on the bench; its digging begins with what the sizing was told. */
function layOut(proposed) {
  const now = page.request();
  const request = { ...proposed };
  for (const name of FROM_BENCH) if (now[name] !== undefined) request[name] = now[name];
  const job = page.job();
  page.use(request, {
    compare: false, job: { ...job, groundworks: diggingOf(job), filled: { ...job.filled, sizing: true } },
  });
  const count = request.array.branches.reduce((sum, each) => sum + (each.count ?? 1), 0);
  page.say(`Laid out: ${count} loops. Undo brings the array before back.`);
}

/** The digging for what was sized: its section, centres, border and plot. */
function diggingOf({ sizing, groundworks }) {
  const { slinky, straight, borehole } = sizing.array_kind ?? {};
  const site = sizing.site ?? {};
  const works = { ...groundworks.works };
  const made = { ...groundworks, works };
  const number = (value, otherwise) => (Number.isFinite(value) ? value : otherwise);
  const neat = (value) => Number(value.toFixed(2));
  if (isObject(slinky)) {
    const coil = number(slinky.coil_diameter_m, 1);
    const deep = number(slinky.depth_m, 1.2);
    made.trench = slinky.upright === true
      ? { kind: "upright", width_m: 0.3, depth_m: neat(deep + coil / 2 + 0.1) }
      : { kind: "flat", width_m: neat(coil + 0.2), depth_m: neat(deep + 0.1) };
  } else if (isObject(straight)) {
    const across = (number(straight.passes, 2) - 1) * number(straight.spacing_m, 0.4);
    made.trench = { kind: "straight", width_m: neat(across + 0.2), depth_m: neat(number(straight.depth_m, 1.2) + 0.1) };
  }
  if (isObject(borehole)) {
    works.centres_m = number(borehole.spacing_m, 6);
    works.borehole_diameter_mm = borehole.borehole_diameter_mm;
  } else {
    works.centres_m = site.centres_m;
    works.borehole_diameter_mm = undefined;
  }
  if (site.border_m !== undefined) works.border_m = site.border_m;
  const soil = sizing.ground?.soil;
  if ("soil" in works && soils?.digging.some((each) => each.soil === soil)) works.soil = soil;
  if (site.length_m !== undefined && site.width_m !== undefined) made.site = { length_m: site.length_m, width_m: site.width_m };
  else if (site.area_m2 !== undefined) made.site = { area_m2: site.area_m2 };
  return made;
}

// ----------------------------------------------------------------------------------- hand-over

async function report(kind) {
  const state = states.get(handOver.key);
  state.asking?.abort();
  const mine = new AbortController();
  state.asking = mine;
  state.problem = null;
  state.get.setAttribute("aria-busy", "true");
  stand(state);
  try {
    await downloadDocument(wholeJob(), kind, mine.signal);
  } catch (error) {
    if (error.name === "AbortError" || state.asking !== mine) return;
    if (!(error instanceof Problem)) throw error;
    fail(state, error.document);
    return;
  }
  state.asking = null;
  show(state);
  markAll();
  changed();
  page.say("The document is saved.");
}

function saveJob() {
  const text = `${JSON.stringify(wholeJob(), null, 2)}\n`;
  save(new Blob([text], { type: "application/json" }), `${stemOf(page.request())}-job.json`);
}
