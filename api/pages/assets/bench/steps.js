// The job around the array, from the load to the hand-over: steps that are folded until they are
// wanted, each with its own question to the service, asked when its button is pressed, and by itself for
// what the job holds.

import { button, byId, el, percent, say } from "./dom.js";
import { dig } from "./dig.js";
import { even } from "./even.js";
import { fieldsAt, forget, goWith, redrawAt, refresh, refreshHints, unreadIn } from "./fields.js";
import { fill } from "./fill.js";
import { CHAPTERS, handOver } from "./handover.js";
import { load } from "./load.js";
import { partsOf, valueAt } from "./job.js";
import { problemBox, worstOf } from "./parts.js";
import { pumps } from "./pumps.js";
import { expectPlan, follow, isUntaken, setOut } from "./setout.js";
import { attempt, download, getJson, keep, kept, post } from "./service.js";

// A step is called like its part of the job. `begins()` gives what it begins with by its place in the
// job, outer places first: a value, or a function that gives it of the job; `beside` names the calculation that it
// asks for too, `fields` the places that its form writes; `asksWith()` tells places that another step
// begins and this one's question needs. A step may have a `board` above its form
// that is drawn with every change, and may be `live(job)`: once asked it asks by itself. What stands
// `aside(job)` is passed by in going on.
const STEPS = [load, setOut, even, pumps, dig, fill, handOver];
const FOLLOW_MS = 250;
const REST_MS = 1500; // without a change, before what the job holds is worked out by itself
const MOST_BY_ITSELF = 200; // loops: beyond, a step takes seconds of the service
const UNLIKE_LOAD = ["smaller_than_sized", "duty_not_as_sized"];
const KEPT_OPEN = "evenloop-bench-open";

let page = null; // what the bench gives: job(), whole(), held(), edit(), take(), begin(), goTo(), say()
let soils = null;
const states = new Map();
const UNASKED = { answer: null, more: null, problem: null, faults: [], asked: "", tried: "", asking: null };
let resting = 0; // timer of what is worked out by itself; 0 while none is set
let working = false;
let openBefore = "";

// ------------------------------------------------------------------------- parts of the steps

/** What the steps begin with, place by place. */
export const beginnings = () => Object.assign({}, ...STEPS.map((step) => step.begins()));

/** The places that a step begins with its part of the job; none for a place that is no step's part. */
export const beginsWith = (place) =>
  STEPS.filter(({ key }) => `/${key}` === place).flatMap((step) => Object.keys(step.begins()));

/** Whether a place may be begun where the job lacks it: only while its step has not been. */
export const mayBegin = (place, job) =>
  STEPS.some((step) => job[step.key] === undefined && place in step.begins());

const READS = JSON.parse(byId("content").dataset.reads); // what each calculation reads of a job, as the service tells

/** The places of a job that a calculation reads. */
const placesOf = (calculation, job) => READS[calculation]
  .filter(([, where]) => where === "" || valueAt(job, where) !== undefined).map(([place]) => place);

/** Whether a calculation's answer depends on a place of the job. */
export const isReadBy = (calculation, pointer, job) => placesOf(calculation, job).some((place) =>
  `${pointer}/`.startsWith(`${place}/`) || place.startsWith(`${pointer}/`));

/** What a step's answer depends on of a job, as text. */
const readBy = ({ key, beside }, job = page.asked()) => JSON.stringify([key, beside].filter(Boolean)
  .flatMap((calculation) => placesOf(calculation, job)).map((place) => valueAt(job, place) ?? null));

/** Faults that the steps' questions brought and that were not edited since. */
export const faultsOfSteps = () => [...states.values()].flatMap(({ faults }) => faults);

/** Faults less those of a place that was edited. */
export const mended = (faults, edited) => faults.filter(({ pointer }) =>
  !`${pointer}/`.startsWith(`${edited}/`) && !`${edited}/`.startsWith(`${pointer}/`));

export function mendSteps(edited) {
  for (const state of states.values()) state.faults = mended(state.faults, edited);
}

/** The step that has fields of a place. */
function stepOf(pointer) {
  const [part, inner] = partsOf(pointer);
  return STEPS.find(({ key }) => key === part) ?? STEPS.find(({ fields }) => fields.includes(`${part}/${inner}`))
    ?? STEPS.find(({ fields }) => fields.includes(part));
}

/** Draw the steps of places that have no field on the page yet. */
export const drawFor = (pointers) => Promise.all([...new Set(pointers.filter((pointer) => !fieldsAt(pointer).length)
  .map(stepOf))].filter(Boolean).map(unfold));

/** Open the step that has fields of a place; its heading, or null where none has. */
export async function openStepOf(pointer) {
  const step = stepOf(pointer);
  if (!step) return null;
  const { details } = states.get(step.key);
  details.open = true;
  await unfold(step);
  return details.querySelector("summary");
}

// ------------------------------------------------------------------------------------ the page

export function startSteps(given) {
  page = given;
  for (const step of STEPS) {
    const give = el("form", { class: "give", "aria-label": `${step.title}: what is given`, autocomplete: "off" });
    const get = el("div", { class: "get", "aria-label": `${step.title}: what comes of it`, role: "region", tabindex: -1 });
    const stand = el("span", { class: "stand" });
    const details = el("details", { class: "step", id: `step-${step.key}` },
      el("summary", {}, el("h2", { text: step.title }), stand));
    const board = step.board?.(page);
    details.append(...board ? [board.box] : [], el("div", { class: "stepbody" }, give, get));
    states.set(step.key, {
      step, details, give, get, stand, board, shown: 0, ...UNASKED,
    });
    give.addEventListener("submit", (event) => {
      event.preventDefault();
      if (step.verb) ask(step);
    });
    details.addEventListener("toggle", async () => {
      keep(KEPT_OPEN, [...states.values()].filter((each) => each.details.open).map((each) => each.step.key));
      drawNext();
      if (!details.open) return;
      await unfold(step);
      const state = states.get(step.key);
      if (state.due || (state.answer && state.more === undefined)) catchUp(state);
    });
    byId(step === load ? "from-load" : "steps").append(details);
  }
  drawNext();
  drawLine();
  let drawnFor = 0;
  new ResizeObserver(([entry]) => {
    const width = Math.floor(entry.contentRect.width);
    if (width === drawnFor) return;
    drawnFor = width;
    for (const state of states.values()) {
      if (state.answer && state.details.open) show(state);
      if (state.details.open) drawBoard(state);
    }
  }).observe(byId("steps"));
  byId("passed").replaceChildren(`“${setOut.title}” is passed over: the job has no plot. `, button("Tell the plot", "link", async () => {
    states.get(setOut.key).details.open = true;
    await unfold(setOut);
    goToResult({ ...states.get(setOut.key), board: null });
  }));
  byId("work-out").addEventListener("click", () => workOut({ again: true }));
  const open = kept(KEPT_OPEN);
  for (const { details, step } of states.values()) details.open = Array.isArray(open) && open.includes(step.key);
}

/** Draw what a step asks for, if it is open and not drawn yet. */
async function unfold(step) {
  const state = states.get(step.key);
  if (state.drawn) return;
  state.drawn = true;
  if (soils === null && (step === load || step === dig)) {
    soils = await attempt(() => getJson("/v1/soils"), (problem) => {
      state.drawn = false;
      fail(state, problem);
      return null;
    });
    if (soils === null) return;
  }
  state.give.replaceChildren(
    el("p", { class: "lead", text: step.lead }),
    ...step.form({ ...page, soils, report, chapter, saveJob: page.save, loops: () => (page.answer()?.loops ?? []).map((each) => each.loop) }),
    step.verb ? el("div", { class: "ask buttons" }, el("button", { type: "submit", class: "main", text: step.verb })) : "");
  forget();
  page.mark();
  if (state.answer || step === handOver) show(state);
  goAlong(state);
}

/** Draw a step's board, and ask by itself what is asked with every change. */
function goAlong(state) {
  if (!state.details.open || !state.drawn) return;
  drawBoard(state);
  const { step } = state;
  const job = page.job();
  if (job[step.key] === undefined || !step.live?.(job)) return;
  const now = readBy(step);
  if (now === state.tried) return;
  state.tried = now;
  clearTimeout(state.timer);
  state.timer = setTimeout(() => ask(step, { byItself: true }), FOLLOW_MS);
}

/** Draw a step's board as it stands, and say what it waits for. */
function drawBoard(state) {
  if (!state.board) return;
  const stale = isStale(state);
  const { step } = state;
  const waits = page.job()[step.key] !== undefined && step.live?.(page.job());
  const coming = waits ? `Asking${stale ? " anew" : ""}…` : `“${step.verb}” below asks ${stale ? "anew" : "for the first time"}.`;
  const words = state.problem ? `■ Not answered${state.answer ? ": what is shown is from before" : ""}. The fault stands below.`
    : state.answer && !stale ? "" : coming;
  state.board.draw(state.answer, stale, words, state.more);
}

/** Draw every open step anew. */
export function drawSteps() {
  for (const state of states.values()) {
    state.drawn = false;
    state.give.replaceChildren();
    state.step.used?.(page.job());
    if (state.details.open) unfold(state.step);
  }
  changed();
}

/** What the steps that were asked say of the job as it stands, in a line. */
export const toldBySteps = () => [...states.values()]
  .filter((state) => state.answer && !state.problem && !isStale(state))
  .map((state) => `${state.step.title}: ${ledWords(state)}.`).join(" ");

/** Show every answer in the units now chosen. */
export function showAgain() {
  for (const state of states.values()) if (state.answer && state.drawn) show(state);
}

/** Findings of what the steps answered of the job as it stands. */
export const findingsOfSteps = () => [...states.values()]
  .filter((state) => state.answer && !state.problem && !isStale(state)).flatMap(({ answer }) => answer.findings ?? []);

// ----------------------------------------------------------------- what is worked out by itself

/** Steps whose part the job holds, and that have no answer to it as it stands. */
const openStates = () => [...states.values()].filter(({ step, answer, problem }) =>
  step.verb && page.job()[step.key] !== undefined && (!answer || problem || isStale(states.get(step.key))));

/** Whether the service is asked by itself: not for an array so large that each step takes seconds, nor
 * where the browser is to save data. */
const asksByItself = () => !navigator.connection?.saveData && (page.answer()?.loops.length ?? 0) <= MOST_BY_ITSELF;

/** Those that may be asked now, what is in sight first; `again` asks those anew that were refused. */
const toBeAsked = (again) => (page.answer() && !page.problem() && page.asked() === page.job() ? openStates() : []).filter((state) => !state.asking
  && (again || state.tried !== readBy(state.step)) && !state.get.contains(document.activeElement))
  .sort((a, b) => Number(b.details.open) - Number(a.details.open));

/** What of the job is not worked out as it stands, for the headline; null where all is. */
export function openWords() {
  const open = openStates();
  if (!open.length) return null;
  const named = (all) => all.map(({ step }) => `“${step.title}”`).join(", ");
  const told = [["Being worked out", open.filter(({ asking }) => asking)],
    ["Not answered", open.filter(({ asking, problem }) => !asking && problem)],
    ["Not worked out yet for the job as it is", open.filter(({ asking, problem }) => !asking && !problem)]];
  return told.filter(([, all]) => all.length).map(([words, all]) => `${words}: ${named(all)}.`).join(" ");
}

/** Ask one step after the other for what the job holds, until all have answered. */
async function workOut({ again = false } = {}) {
  if (working) return;
  working = true;
  drawOpen();
  for (let [next] = toBeAsked(again); next && !resting; [next] = toBeAsked(false)) {
    for (const state of again ? openStates() : []) state.tried = "";
    again = false;
    await ask(next.step, { byItself: true, quiet: true });
  }
  working = false;
  drawOpen();
}

/** The job has changed: what it holds is worked out once it rests. */
export function stirred(wait = REST_MS) {
  clearTimeout(resting);
  resting = setTimeout(() => {
    resting = 0;
    rest();
  }, wait);
}

/** Work out what the job holds, where that is done by itself. */
export function rest() {
  if (!resting && asksByItself()) workOut();
}

/** Say in the headline what is not worked out, and offer to do so where it does not come by itself. */
function drawOpen() {
  const words = openWords();
  const offer = byId("work-out");
  const comes = working ? document.activeElement !== offer : resting && asksByItself();
  offer.hidden = words === null || !page.answer() || page.problem() !== null || Boolean(comes);
  if (working) offer.setAttribute("aria-disabled", "true");
  else offer.removeAttribute("aria-disabled");
  offer.textContent = working ? "Working it out…" : "Work it out";
  if (words === openBefore) return;
  openBefore = words;
  page.showFound();
}

/** Show what was answered while a step was folded, with what it left for later. */
async function catchUp(state) {
  const { step, answer, job } = state;
  show(state);
  if (!answer || state.more !== undefined) return;
  const more = await attempt(() => step.more(job, answer), () => null);
  if (state.answer !== answer) return;
  state.more = more;
  show(state);
}

/** Whether a step was asked. */
export const isAsked = (key) => states.get(key).answer !== null;

/** Forget all answers, for another job. */
export function forgetAnswers() {
  openBefore = "";
  for (const state of states.values()) {
    state.asking?.abort();
    state.step.forget?.(state.more);
    clearTimeout(state.timer);
    state.step.forgetAll?.();
    Object.assign(state, UNASKED);
    state.get.replaceChildren();
    delete state.get.dataset.shown;
  }
}

/** Say which answers are from before a change. */
export function changed() {
  drawNext();
  refreshHints();
  for (const [place, given] of Object.entries(beginnings())) if (typeof given === "function") refresh(place);
  for (const state of states.values()) {
    stand(state);
    goAlong(state);
  }
  drawLine();
  drawOpen();
  const last = states.get(handOver.key);
  if (!last.details.open || !last.drawn) return;
  show(last);
  for (const key of Object.keys(CHAPTERS)) byId(`chapter-${key}`).checked = page.job()[key] !== undefined;
}

const isStale = ({ step, answer, asked }) => answer !== null && readBy(step) !== asked;

/** Words of what came of something, led by the worst of the errors and warnings about it. */
const led = (words, findings) => {
  const worst = worstOf(findings);
  return worst ? `${worst.sign} ${worst.words}: ${words.replace(/^■ /, "")}` : words;
};

const ledWords = ({ step, answer }) => led(step.words(answer), answer.findings ?? []);

function stand(state) {
  const { step, answer, problem, asking, details, get } = state;
  const stale = isStale(state);
  details.classList.toggle("isstale", stale && !problem);
  details.classList.toggle("isfaulty", problem !== null);
  get.classList.toggle("stale", stale);
  const words = asking ? "asking…" : problem ? "■ not answered" : answer
    ? `${ledWords(state)}${stale ? " · from before a change" : ""}`
    : step === handOver ? led(chaptersWords(), ofDocument()) : "not asked yet";
  state.words = words;
  state.worst = problem || asking ? null : worstOf(step === handOver ? ofDocument() : answer?.findings ?? [])?.kind;
  state.stand.dataset.worst = state.worst ?? "";
  say(state.stand, words);
  const note = get.querySelector(".stalenote");
  if (note) note.hidden = !stale;
  // What an answer would put into the job belongs to the job that it was asked for.
  for (const control of get.querySelectorAll(".changes")) control.disabled = stale;
}

function chaptersWords() {
  if (page.job().array === undefined && page.job().sizing === undefined) return "no array yet";
  const count = Object.keys(CHAPTERS).filter((key) => page.job()[key] !== undefined).length;
  const old = chaptersAsked().filter(isStale).length;
  const unasked = Object.keys(CHAPTERS).filter((key) => page.job()[key] !== undefined && !states.get(key)?.answer).length;
  return (count ? `flow split and ${count} chapter${count === 1 ? "" : "s"}` : "flow split alone")
    + (planStand() ? ", of the plan's array" : "") + (unasked ? ` · ${unasked} not asked yet` : "")
    + (old ? ` · ${old} from before a change` : "") + ofLoad();
}

/** The steps of the document's chapters that were answered, whether of the job as it stands or from before a change. */
const chaptersAsked = () => [...states.values()]
  .filter(({ answer, problem, step }) => answer && !problem && page.job()[step.key] !== undefined);

/** Findings of what the document will hold, as far as it was asked. */
const ofDocument = () => (page.answer() && !page.problem() ? [...page.answer().findings, ...page.whole(),
  ...chaptersAsked().flatMap(({ answer }) => answer.findings ?? [])] : []);

/** What is said of an array that is not the one the job's load asks for, or may not be. */
const ofLoad = () => (!page.isCompared() ? " · not known whether it is as the load asks"
  : page.whole().some(({ code }) => UNLIKE_LOAD.includes(code)) ? " · not as the load asks" : "");

/** What came of the array: what its item in the line and the hand-over's list say, and how it stands. */
function arrayStand() {
  const answer = page.answer();
  const { array, sizing } = page.job();
  if (array === undefined) return { words: sizing ? "not laid out; the document takes it as sized" : "no array yet", flag: null };
  if (page.problem()) return { words: "■ not answered", flag: "faulty" };
  if (!answer) return { words: "not solved yet", flag: null };
  const findings = [...answer.findings, ...page.whole()];
  return { flag: "done", words: led(arrayWords(answer), findings) + ofLoad(), worst: worstOf(findings)?.kind };
}

const arrayWords = ({ loops: { length }, imbalance }) => (imbalance
  ? `${length} loop${length === 1 ? "" : "s"}, spread ${percent(imbalance.spread_percent)}${imbalance.within_tolerance ? "" : ", uneven"}` : "nothing flows");

/** What an address answers, in the words of the page. */
export const titleOf = (path) => {
  const [, address] = /^\/v1\/([^/.]+)/.exec(path) ?? [];
  const step = STEPS.find((each) => each.address === address);
  return step ? `“${step.title}”` : { split: "The flow of every loop", report: "The document" }[address] ?? "What was asked";
};

/** The job at a glance: every step, and what came of it. */
export function drawLine() {
  const array = arrayStand();
  const item = (target, title, words, flag, worst, open) => el("li", { class: [flag, worst].filter(Boolean).join(" ") },
    el("a", { href: `#${target}`, onclick: open }, title), el("span", { text: words }));
  const items = [...states.values()].map((state) => item(state.details.id, state.step.title, state.words ?? "not asked yet",
    state.problem ? "faulty" : isStale(state) ? "old" : state.answer ? "done" : null, state.worst, () => { state.details.open = true; }));
  items.splice(1, 0, item("verdict", "The array", array.words, array.flag, array.worst));
  const list = byId("jobline");
  const focused = [...list.querySelectorAll("a")].indexOf(document.activeElement);
  list.replaceChildren(...items);
  if (focused >= 0) list.querySelectorAll("a")[focused]?.focus();
}

// --------------------------------------------------------------------------------- the question

/** Ask the service something for a step; what `question(signal)` gives, or null where it gives a
 * problem or where another question came after it. */
async function asking(state, question, byItself = false) {
  state.asking?.abort();
  const mine = new AbortController();
  state.asking = mine;
  state.get.setAttribute("aria-busy", "true");
  stand(state);
  drawLine();
  drawOpen();
  try {
    const found = await attempt(() => question(mine.signal), async (problem) => {
      const document = await page.inWords(problem);
      if (state.asking === mine) fail(state, document, byItself);
      return null;
    });
    if (state.asking !== mine) return null;
    Object.assign(state, { asking: null, problem: null, faults: [] });
    return found;
  } catch (error) {
    if (error.name === "AbortError") return null;
    throw error;
  }
}

/** Show what came of a question, and say it. */
function settle(state, words, quiet = false) {
  show(state);
  page.mark();
  changed();
  page.judge();
  if (!quiet) page.say(words);
}

/** Ask for a step's answer; `byItself` keeps the focus where it is, and `quiet` says nothing of it. */
async function ask(step, { byItself = false, quiet = false } = {}) {
  const state = states.get(step.key);
  clearTimeout(state.timer);
  if (!byItself) goWith(state.details);
  const local = [...step.faults?.() ?? [], ...byItself ? [] : unreadIn(state.give)];
  if (local.length) {
    state.asking?.abort();
    state.tried = readBy(step);
    fail(state, await page.inWords({ title: "The input is not complete", errors: local }), byItself);
    return;
  }
  const begins = byItself ? [] : [...Object.keys(step.begins()), ...step.asksWith?.() ?? []];
  const job = page.begunWith(begins); // what is refused leaves no part in the job
  const asked = readBy(step, job);
  state.tried = asked;
  const found = await asking(state, async (signal) => {
    const answer = await (await post(step.address, job, signal)).json();
    const later = quiet && step.pictured && !state.details.open; // a picture that nobody sees yet
    return { answer, more: later ? undefined : step.more ? await step.more(job, answer, signal) : null };
  }, byItself);
  if (!found) return;
  page.begin(begins);
  step.forget?.(state.more);
  Object.assign(state, { ...found, asked, job });
  if (step.settled?.(state.answer, page)) state.asked = state.tried = readBy(step); // the job took what was answered
  settle(state, `${step.title}: ${ledWords(state)}.`, quiet);
  if (!quiet) stirred(); // what it began with may matter to the steps before it
  // Whoever went elsewhere while it was being answered stays there.
  const { activeElement: now } = document;
  if (!byItself && (now === document.body || state.details.contains(now))) goToResult(state);
}

const nextButton = (step) => buttonTo(nextOf(step));

const nextOf = (step) => STEPS.slice(STEPS.indexOf(step) + 1).find(({ aside }) => !aside?.(page.job()));

/** One way on at a time: in the last of the open steps that has answered, else beside the array, onto its plot
 * where there is one and it does not lie there yet. A plot that is passed over is said to be. */
function drawNext() {
  const last = [...states.values()].findLast(({ step, details, answer }) =>
    details.open && answer && step !== load && step !== handOver);
  for (const state of states.values()) {
    for (const onward of state.get.querySelectorAll(".onward")) onward.hidden = state !== last;
  }
  const box = byId("next");
  box.hidden = page.answer() === null || page.problem() !== null || last !== undefined;
  const next = nextOf(nextOf(load) === setOut && isAsked(setOut.key) ? setOut : load);
  byId("passed").hidden = box.hidden || !setOut.aside(page.job());
  if (box.dataset.to === next.key) return;
  box.dataset.to = next.key;
  box.replaceChildren(buttonTo(next));
}

/** A button that goes on to a step: opens it, asks with what it holds, shows what comes. */
function buttonTo(next) {
  const { title, verb } = next;
  return button(`Next: ${verb ? `${verb[0].toLowerCase()}${verb.slice(1)}` : title.toLowerCase()}`, "main", async () => {
    const state = states.get(next.key);
    state.details.open = true;
    await unfold(next);
    if (verb && (!state.answer || state.problem || isStale(state))) await ask(next);
    goToResult(state);
  });
}

/** Bring what came of a step into view, and put the focus there: on its plan where it has one. Beside its
 * form it begins with the step; on a narrow page it lies below. */
function goToResult({ step, details, get, board, problem }) {
  const box = step === handOver ? details.querySelector("summary") : board && !problem ? board.box : get;
  box.focus({ preventScroll: true });
  const isBelow = box.getBoundingClientRect().top - details.getBoundingClientRect().top > window.innerHeight * 0.5;
  (isBelow ? box : details).scrollIntoView({ block: "start" });
}

function fail(state, document, byItself = false) {
  Object.assign(state, { problem: document, faults: document.errors ?? [], asking: null });
  settle(state, `${state.step.title}: ${document.detail ?? document.title}`);
  if (byItself) return;
  const first = state.give.querySelector('[aria-invalid="true"]');
  if (first) page.goTo(first.dataset.pointer);
  else goToResult(state);
}

function show(state) {
  const { step, answer, problem, get, details } = state;
  get.removeAttribute("aria-busy");
  state.due = !details.open && step !== handOver;
  if (state.due) {
    stand(state);
    return;
  }
  state.shown += 1;
  const nodes = [];
  if (problem) nodes.push(problemBox(problem, page.goTo));
  if (answer) {
    nodes.push(el("p", { class: "stalenote", hidden: !isStale(state),
      text: "From before a change of the job: ask again for what holds now. Until then nothing of it can be put into the job." }));
    const told = step.show(answer, {
      ...page, expectPlan, width: Math.max(260, Math.floor(get.clientWidth)), more: state.more, posted: state.job,
    }).filter(Boolean);
    const first = told[0].classList.contains("hurt") ? 1 : 0; // cautions come before going on
    if (step !== load) told.splice(first, 0, el("div", { class: "buttons onward" }, nextButton(step)));
    nodes.push(...told);
  }
  if (step === handOver) {
    nodes.push(...handOver.holds(page.job(), arrayStand(), (key) => {
      const other = states.get(key);
      const old = isStale(other);
      return {
        said: other.asking ? "○ asking…" : other.problem ? "■ not answered" : other.answer ? `${ledWords(other)}${old ? ", before a change" : ""}` : "○ not asked yet: its findings are not known",
        old,
        asked: other.answer !== null,
      };
    }, planStand()));
  }
  get.replaceChildren(...nodes);
  get.dataset.shown = String(state.shown);
  stand(state);
  drawNext();
}

// ----------------------------------------------------------------------------------- hand-over

/** Where the document takes another array than the one on the bench, or may: words, and what to do. */
function planStand() {
  const state = states.get(setOut.key);
  const job = page.job();
  if (job[setOut.key] === undefined || job.array === undefined) return null;
  const { answer, more, problem } = state;
  if (!answer || problem || isStale(state)) {
    return {
      words: "▲ The job is set out: the document takes the array with tails and runs of the plan. "
        + "Whether the array on the bench has them is not known until the plan is asked for it as it stands.",
      array: "of the plan's array", verb: setOut.verb,
      act: async () => {
        state.details.open = true;
        await unfold(setOut);
        await ask(setOut);
      },
    };
  }
  if (!isUntaken(answer, job)) return null;
  return {
    words: "▲ The document is of another array than the steps: it takes tails and runs of the plan, "
      + "which the array on the bench has not.",
    array: more ? `${arrayWords(more)}, with the plan's tails` : "of the plan's array",
    verb: "Take the plan's tails and runs", act: (event) => {
      follow(answer, page, event);
      show(state);
    },
  };
}

/** Put a chapter into the job or take it out. */
function chapter(key, isIn, event) {
  if (isIn) page.begin(Object.keys(states.get(key).step.begins()));
  else {
    const aside = page.job()[key];
    page.edit(`/${key}`, undefined, event);
    page.beginWith(`/${key}`, aside); // it goes on from what it was
    beginsWith(`/${key}`).forEach(redrawAt); // what the job lacks begins anew
  }
  changed();
}

async function report(address) {
  const state = states.get(handOver.key);
  const done = await asking(state, (signal) => download(address, page.asked(), undefined, signal).then(() => true));
  if (done) settle(state, "The document is saved.");
}
