// The bench: keeps the job, asks the service for its flow split as it is edited, shows what comes back.

import { byId, el, say } from "./dom.js";
import { asTyped, clearFaults, fieldsAt, forgetDrafts, markFault, refresh } from "./fields.js";
import { OF_LOOPS, drawForm, markFaults, refreshHeads, reveal, showDeviations, startForm, toldHere } from "./form.js";
import { FORMAT, isObject, newLoop, partsOf, putAt, readFile, readJob, typedNumber, valueAt } from "./job.js";
import { flagsOf } from "./picture.js";
import { showLesson, startLessons } from "./lessons.js";
import { showAnswer, showJudged, showNothing, showPictures, showProblem } from "./results.js";
import { abandon, attempt, download, faultOfText, getJson, keep, kept, onWait, post, saveJob, solve } from "./service.js";
import { showSite, startSite } from "./site.js";
import {
  beginnings, beginsWith, changed, drawFor, drawSteps, faultsOfSteps, findingsOfSteps, forgetAnswers, isAsked, isReadBy,
  mayBegin, mendSteps, mended, openStepOf, openWords, rest, showAgain, startSteps, stirred, titleOf,
  toldBySteps,
} from "./steps.js";
import { declines } from "./setout.js";
import { DROPS, FLOWS, chooseUnit, units } from "./units.js";
import { showVariants, startVariants } from "./variants.js";

const DEBOUNCE_MS = 120;
const START_WITH = "quince-barn-short-tail";
const KEPT = "evenloop-bench";
const KEPT_UNSAVED = "evenloop-bench-unsaved";
const KEPT_WORK = "evenloop-bench-work"; // which job it is, and what Undo and Redo hold of it
const KEPT_FILES = "evenloop-bench-files"; // [mark of what was saved, which job it is]
const MOST_FILES = 20;
const MOST_UNDO = 100;
const MOST_KEPT = 1_000_000; // signs of Undo and Redo that are kept for the next time, the newest first

// What a job that is only begun may still lack.
const ABSENT = ["/array", "/duty", "/antifreeze"];

// What the service is asked for to see whether array and duty are those that the load asks for.
const OF_WHOLE = ["name", "antifreeze", "pipes", "plant", "array", "duty", "warm", "pump", "limits", "heat", "ground", "plot", "heights", "ground_at_loops", "sizing"];
const WHOLE_MS = 400;

// `whole` is null where the service has refused to tell.
const state = { job: {}, answer: null, whole: [], baseline: null, problem: null, faults: [] };
// What the steps begin with, place by place, where the job has none; the job's once edited or asked for.
let begun = beginnings();
const undoable = [];
const redoable = [];
let id = ""; // of the job, by which it is known from others; of the page, not of the job's file
let committed = "{}";
let unsaved = false; // whether the job differs from its file or its example
let lastEdited = "";
let timer = 0;
let editedAt = 0;
let wholeTimer = 0;
let wholeAsked = "";
let isCompared = false; // whether the job's array was compared with what its load asks for

// ------------------------------------------------------------------------------------- editing

/** What the job holds at a place, or what its step begins with. */
function held(pointer) {
  const place = Object.keys(begun).findLast((each) => `${pointer}/`.startsWith(`${each}/`) && isOpen(each));
  return place ? valueAt(beginning(place), pointer.slice(place.length)) : valueAt(state.job, pointer);
}

/** What a place begins with: a value, or what follows from the rest of the job as it stands. */
const beginning = (place, job = state.job) => (typeof begun[place] === "function" ? begun[place](job) : begun[place]);

/** Whether a step may begin a place of the job. */
const isOpen = (place, job = state.job) => begun[place] !== undefined && valueAt(job, place) === undefined
  && mayBegin(place, job);

/** Write a value into the job; undefined takes the field out. Edits that go on from the one
 * before (no event) are undone together with it. */
function edit(pointer, value, event) {
  if (event) {
    if (pointer !== lastEdited || event.type !== "input") remember();
    lastEdited = pointer;
  }
  if (event && declines(pointer)) tellOwn(true);
  put(pointer, value);
  commit();
  stirred();
  markUnsaved(true);
  refresh(pointer);
  state.faults = mended(state.faults, pointer);
  mendSteps(pointer);
  const solved = pointer === "/name" || isReadBy("split", pointer, state.job);
  if (solved && event) editedAt = event.timeStamp;
  if (solved) refreshHeads();
  if (solved || state.problem) schedule();
  else if (OF_WHOLE.includes(partsOf(pointer)[0])) judge();
  byId("example").value = "";
  showJson();
  changed();
}

/** Say beside the array whether its tails and runs are typed by hand, no longer the plan's. */
function tellOwn(so) {
  byId("own-tails").hidden = !so;
  if (!so) return;
  say(byId("announce"), byId("own-tails").textContent);
  const tick = byId("follow-plan");
  if (tick) tick.checked = false;
}

function put(pointer, value) {
  if (value === undefined) delete begun[pointer];
  begin([`/${partsOf(pointer)[0]}`, ...Object.keys(begun).filter((place) => pointer.startsWith(`${place}/`))]);
  putAt(state.job, pointer, value);
}

/** Put what a step begins with into a job, where it has none: with a step's own part all of it, since
 * nothing begins once that part is in the job, and what a box shows is in the job that is asked about. */
function begin(places, job = state.job) {
  const missing = [...new Set(places.flatMap((place) => [...beginsWith(place), place]))].filter((place) => isOpen(place, job));
  for (const place of missing) putAt(job, place, structuredClone(beginning(place, job)));
  return missing.length > 0;
}

function commit() {
  committed = JSON.stringify(state.job);
  keep(KEPT, state.job);
}

const newId = () => `${Date.now().toString(36)}-${Math.random().toString(36).slice(2, 10)}`;

/** Keep which job it is, with as many of its changes as there is room for. */
function keepWork() {
  let room = MOST_KEPT;
  const newest = (pile) => pile.slice(pile.findLastIndex(([job]) => {
    room -= job.length;
    return room < 0;
  }) + 1);
  keep(KEPT_WORK, { id, undoable: newest(undoable), redoable: newest(redoable) });
}

/** Take up the work on the job that was kept, where it is of that job. */
function takeUp(work) {
  id = typeof work?.id === "string" ? work.id : newId();
  for (const [pile, before] of [[undoable, work?.undoable], [redoable, work?.redoable]]) {
    if (Array.isArray(before)) pile.push(...before.filter((each) => Array.isArray(each) && typeof each[0] === "string"));
  }
  showUndo();
  keepWork();
}

function markUnsaved(so) {
  unsaved = so;
  keep(KEPT_UNSAVED, so);
  document.documentElement.toggleAttribute("data-unsaved", so);
}

/** Keep the job as it is for Undo; `another` says that another takes its place. */
function remember(another = false) {
  undoable.push([committed, another, id]);
  if (undoable.length > MOST_UNDO) undoable.shift();
  redoable.length = 0;
  showUndo();
  keepWork();
}

function showUndo() {
  byId("undo").disabled = undoable.length === 0;
  byId("redo").disabled = redoable.length === 0;
}

/** Go one change back, or forth again: the job comes off one pile, and what it was goes on the other. */
function travel(from, onto, words) {
  if (!from.length) return;
  const [job, another, of] = from.pop();
  onto.push([committed, another, id]);
  id = of;
  showUndo();
  keepWork();
  byId("example").value = "";
  forgetDrafts();
  if (another) forgetNumbers();
  markUnsaved(true);
  use(JSON.parse(job), { compare: false, openFirst: false });
  say(byId("announce"), words);
}

const undo = () => travel(undoable, redoable, "Last change undone.");
const redo = () => travel(redoable, undoable, "Change done again.");

/** Ctrl+Z and Ctrl+Y (or Shift+Ctrl+Z) anywhere but in the text of the job, which has its own. */
function onKey(event) {
  if (!(event.ctrlKey || event.metaKey) || event.altKey || event.target === byId("json-text")) return;
  const key = event.key.toLowerCase();
  if (key !== "z" && key !== "y") return;
  event.preventDefault();
  if (key === "z" && !event.shiftKey) undo();
  else redo();
}

/** Whether another job may take this one's place: asks where this one is in no file. */
async function mayLeave() {
  if (!unsaved) return true;
  const dialog = byId("leave");
  byId("leave-words").textContent = `${state.job.name ? `“${state.job.name}”` : "The job on the bench"} has changes `
    + "that are in no file.";
  dialog.returnValue = "stay";
  dialog.showModal();
  await new Promise((closed) => { dialog.addEventListener("close", closed, { once: true }); });
  if (dialog.returnValue === "save") saveThis();
  return dialog.returnValue !== "stay";
}

/** Take a job as the one being edited. */
function use(job, { compare = true, openFirst = true } = {}) {
  state.job = job;
  lastEdited = "";
  if (compare) state.baseline = null;
  schedule(0); // what is shown is of another job from here on
  tellOwn(false);
  stirred(DEBOUNCE_MS);
  commit();
  showName();
  drawForm({ openFirst });
  drawSteps();
  showJson();
  changed();
}

/** Begin another job. */
function useAnother(job, of = newId()) {
  remember(true);
  id = of;
  keepWork();
  forgetNumbers();
  use({ format: FORMAT, ...structuredClone(job) });
  markUnsaved(false);
  if (state.job.array === undefined && state.job.sizing !== undefined) goTo("/heat/output_kw");
}

/** Begin a job of one's own: nothing of an example is in it. */
async function beginNew(job, pointer) {
  byId("example").value = "";
  if (!await mayLeave()) return;
  useAnother(job);
  await goTo(pointer);
}

const OF_LOAD = { antifreeze: { kind: "propylene_glycol", concentration_percent: 30, basis: "volume" } };
const ofLoops = () => ({ ...OF_LOAD, duty: OF_LOOPS, array: { arrangement: "manifold", branches: [newLoop({}, {})] } });

/** Nothing is asked about another job yet, and no number of the one before stays. */
function forgetNumbers() {
  begun = beginnings();
  forgetDrafts();
  forgetAnswers();
  showNothing();
  Object.assign(state, { answer: null, problem: null, whole: [] });
  wholeAsked = "";
  isCompared = false;
}

/** Take parts that a step decided, or a job with its pipes told otherwise. `compare` sets the array
 * against what it was before; `focus` is the key of the control to go on with. */
function take(parts, { event, compare, focus } = {}) {
  if (event || compare !== undefined) remember();
  markUnsaved(true);
  byId("example").value = "";
  if (compare) state.baseline = state.answer;
  use({ ...state.job, ...parts }, { compare: compare === false, openFirst: compare === false });
  if (focus) document.querySelector(`[data-key="${CSS.escape(focus)}"]`)?.focus();
  else if (compare !== undefined) showResult();
}

/** Draw anew what may hold the box that is being typed in: it keeps the focus, and what was typed where
 * the job holds it. */
function keepingFocus(draw) {
  const { dataset: { pointer }, value, selectionStart, selectionEnd } = document.activeElement;
  draw();
  const input = pointer && document.activeElement === document.body && fieldsAt(pointer)[0]?.input;
  if (!input) return;
  input.focus({ preventScroll: true });
  if (typedNumber(String(value)) === valueAt(state.job, pointer)) input.value = value;
  input.setSelectionRange?.(selectionStart, selectionEnd);
}

function showResult() {
  byId("verdict").focus({ preventScroll: true });
  byId("verdict").scrollIntoView({ block: "start" });
}

function showName() {
  const input = byId("job-name");
  input.value = typeof state.job.name === "string" ? state.job.name : "";
  document.title = `${input.value || "Bench"} · Evenloop`;
}

// ------------------------------------------------------------------------------------- solving

function schedule(wait = DEBOUNCE_MS) {
  clearTimeout(timer);
  abandon();
  byId("verdict").setAttribute("aria-busy", "true");
  timer = setTimeout(run, wait);
}

/** The job as it is asked about: as its boxes show it. */
const asked = () => asTyped(state.job);

async function run() {
  const answer = await attempt(() => solve(asked()), fail);
  if (!answer) return; // it failed, or a newer edit is on its way
  Object.assign(state, { answer, problem: null, faults: [] });
  state.baseline ??= answer;
  showProblem(null);
  showNow();
  mark();
  showDeviations();
  settle();
  judge();
  rest();
}

/** Show what the steps found as well, and ask whether array and duty are those of a load that was sized. */
function judge() {
  showFound();
  clearTimeout(wholeTimer);
  if (state.job.array === undefined || state.job.sizing === undefined || !isAsked("sizing")) {
    state.whole = [];
    wholeAsked = "";
    isCompared = false;
    return;
  }
  wholeTimer = setTimeout(askWhole, WHOLE_MS);
}

async function askWhole() {
  const read = () => JSON.stringify(Object.fromEntries(OF_WHOLE.map((part) => [part, state.job[part]])));
  const text = read();
  if (text === wholeAsked) return;
  wholeAsked = text;
  const answer = await attempt(async () => (await post("designs", JSON.parse(text))).json(), () => null);
  if (text !== read()) return; // edited since
  state.whole = answer?.findings ?? null;
  isCompared = true;
  if (!answer) wholeAsked = ""; // the next answer of a step asks for it again
  showFound();
  showVariants();
  changed();
}

const others = () => ({ whole: state.whole ?? [], steps: findingsOfSteps(), open: openWords() ?? loadWords() });

/** What is not known of the array beside its load; null where it is, or there is none. */
function loadWords() {
  if (state.job.array === undefined || state.job.sizing === undefined) return null;
  return state.whole === null ? "Not known whether the array is as its load asks."
    : isCompared ? null : "Being worked out: whether the array is as its load asks.";
}

/** Show what is said of the job besides its flows, where these are of the job as it stands. */
function showFound() {
  if (state.answer && !state.problem && !byId("verdict").hasAttribute("aria-busy")) showJudged({ ...state, open: goTo, others });
}

/** Whether a job without an array lacks nothing but what one that is only begun may. */
const isBegun = (faults) => state.job.array === undefined && faults.length > 0
  && faults.every(({ pointer }) => ABSENT.includes(pointer) && valueAt(state.job, pointer) === undefined);

/** A problem in the words of the page: its faults by the labels of their boxes. */
async function inWords(problem) {
  if (!problem.errors?.length) return problem;
  await drawFor(problem.errors.map(({ pointer }) => pointer).filter((pointer) => typeof pointer === "string"));
  const errors = problem.errors.map(toldHere);
  const [{ detail }] = errors;
  return { ...problem, errors, detail: errors.length > 1 ? `${errors.length} faults. The first: ${detail}` : detail };
}

async function fail(problem) {
  const mine = timer;
  const begunOnly = isBegun(problem.errors ?? []);
  const document = await inWords(problem);
  if (timer !== mine) return; // a newer edit is on its way
  const faults = document.errors ?? [];
  if (begunOnly) {
    Object.assign(state, { answer: null, baseline: null, problem: null, faults: [] });
    showNothing("No array yet: size one from the load and lay it out, or draw up loops by hand.");
  } else {
    Object.assign(state, { problem: document, faults });
    showProblem(document, goTo);
  }
  mark();
  settle();
}

/** Show the answer as it stands: against another baseline, or in other units. */
function showNow() {
  if (state.answer) showAnswer({ ...state, open: goTo, others });
}

/** Show the faults that the service found, each at its field, whatever it was asked. */
function mark() {
  const faults = [...state.faults, ...faultsOfSteps()].filter(({ pointer }) => typeof pointer === "string");
  const seen = new Set();
  const single = faults.filter(({ pointer, detail }) =>
    !seen.has(`${pointer} ${detail}`) && seen.add(`${pointer} ${detail}`));
  markFaults(single);
  showFault("job-name", single.filter(({ pointer }) => pointer === "/name")
    .map(({ detail }) => detail).join(" "));
}

/** Say to tests and measurements that the page shows the job as it stands. */
function settle() {
  changed();
  showVariants();
  byId("verdict").removeAttribute("aria-busy");
  const root = document.documentElement;
  root.dataset.shown = String(Number(root.dataset.shown ?? 0) + 1);
  if (editedAt) {
    performance.measure("edit-to-picture", { start: editedAt, detail: { debounce: DEBOUNCE_MS } });
    editedAt = 0;
  }
}

/** Go to the field of a place, or to its step, or to the job as JSON. */
async function goTo(pointer) {
  if (pointer === "/name") byId("job-name").focus();
  else if (!reveal(pointer)) {
    const step = await openStepOf(pointer);
    if (!step) byId("json-pane").open = true;
    if (!reveal(pointer)) (step ?? byId("json-text")).focus();
  }
}

function showFault(id, text) {
  const field = { input: byId(id), fault: byId(`${id}-fault`) };
  clearFaults([field]);
  if (text) markFault(field, text);
}

// -------------------------------------------------------------------------------- the JSON pane

function showJson() {
  const text = byId("json-text");
  if (!byId("json-pane").open || document.activeElement === text) return;
  text.value = JSON.stringify(state.job, null, 2);
  showFault("json-text", "");
}

function useText(text) {
  const { job, fault } = readJob(text);
  showFault("json-text", fault ? `${fault} The form and the result keep the last job.` : "");
  if (fault) return;
  byId("example").value = "";
  forgetDrafts();
  remember();
  markUnsaved(true);
  use(job, { compare: false, openFirst: false });
}

// ------------------------------------------------------------------------------------- the page

/** Do what may fail without a change of the job, and say so where it does. */
const orNote = (action, absent) => attempt(action, async (problem) => {
  const { status, detail, title } = await inWords(problem);
  showNote(absent && [404, 405, 501].includes(status) ? absent : detail ?? title);
});

/** A note above the pictures, about a file. */
function showNote(words) {
  say(byId("announce"), words);
  const box = byId("problem");
  const text = document.createElement("p");
  text.textContent = words;
  box.replaceChildren(text);
  box.hidden = false;
  box.scrollIntoView({ block: "nearest" });
}

function saveThis() {
  saveJob(state.job);
  keep(KEPT_FILES, [[markOf(committed), id], ...filesKept()].slice(0, MOST_FILES));
  markUnsaved(false);
}

const filesKept = () => {
  const files = kept(KEPT_FILES);
  return Array.isArray(files) ? files.filter(Array.isArray) : [];
};

/** What a text is known again by. */
const markOf = (text) => `${text.length} ${[...text].reduce((mark, sign) => (Math.imul(mark, 31) + sign.codePointAt(0)) | 0, 0)}`;

/** Which job a file holds: the one that was saved in it here, else one that nobody knows yet. */
function idOf(job) {
  const mark = markOf(JSON.stringify(job));
  return filesKept().find(([each]) => each === mark)?.[1] ?? newId();
}

/** Show the bench, or the page on it that the address names after its #. */
function showView(focus = true) {
  const [view, part] = location.hash.slice(1).split("/");
  const views = { site: showSite, lessons: () => showLesson(part) };
  for (const each of Object.keys(views)) byId(each).hidden = each !== view;
  byId("content").dataset.view = view in views ? view : "";
  if (view in views) {
    views[view]();
    if (focus) byId(view).querySelector("h1").focus({ preventScroll: true });
    scrollTo(0, 0);
  } else if (state.job.format) drawSteps();
}

/** Put a job on the bench, compared with another where one is given. */
async function compare(job, than) {
  if (!await mayLeave()) return;
  await orNote(async () => {
    const before = than ? await (await post("split", than)).json() : null;
    history.pushState(null, "", location.pathname);
    showView();
    useAnother(job);
    state.baseline = before;
    showResult();
  });
}

function wire() {
  window.addEventListener("hashchange", () => showView());
  const waits = new Map();
  onWait((path, words) => {
    if (words) waits.set(path, `${titleOf(path)}: the service has no turn now; ${words}.`);
    else waits.delete(path);
    say(byId("busy"), [...waits.values()].join(" "));
    byId("busy").hidden = waits.size === 0;
  });
  byId("undo").addEventListener("click", undo);
  byId("redo").addEventListener("click", redo);
  document.addEventListener("keydown", onKey);
  for (const [what, choices] of [["flow", FLOWS], ["drop", DROPS]]) {
    const select = byId(`unit-${what}`);
    select.replaceChildren(...Object.keys(choices).map((unit) => el("option", { value: unit, text: unit })));
    select.value = units[what];
    select.addEventListener("change", () => {
      chooseUnit(what, select.value);
      showNow();
      showAgain();
      showVariants();
    });
  }
  byId("begin-load").addEventListener("click", () => beginNew(OF_LOAD, "/heat/output_kw"));
  byId("begin-loops").addEventListener("click", () => beginNew(ofLoops(), "/array/branches/0/loop/name"));
  byId("save-job").addEventListener("click", saveThis);
  byId("save-csv").addEventListener("click", () => orNote(() => download("split.csv", asked(), "loops.csv")));
  byId("save-report").addEventListener("click", () => orNote(() => download("report.pdf", asked()),
    "This service does not offer the report."));
  byId("editor").addEventListener("submit", (event) => event.preventDefault());
  byId("hold").addEventListener("click", () => {
    state.baseline = state.answer;
    showNow();
    say(byId("announce"), "Changes are compared with the array as it is now.");
  });
  byId("example").addEventListener("change", (event) => {
    const name = event.target.value;
    if (name === "") return;
    orNote(async () => {
      const leave = await mayLeave();
      byId("example").value = "";
      if (!leave) return;
      useAnother(await getJson(`/v1/examples/${encodeURIComponent(name)}`));
      byId("example").value = name;
    });
  });
  byId("job-name").addEventListener("input", (event) => {
    edit("/name", event.target.value === "" ? undefined : event.target.value, event);
    document.title = `${event.target.value || "Bench"} · Evenloop`;
  });
  byId("open-file").addEventListener("change", async (event) => {
    const [file] = event.target.files;
    event.target.value = "";
    if (!file) return;
    const text = await file.text();
    const broken = await faultOfText(text); // two fields of one name, too, which no browser notes
    const { job, fault } = broken ? { fault: broken } : readFile(text);
    if (fault) showNote(`${file.name} was not opened. ${fault} The job on the bench is as it was.`);
    else if (await mayLeave()) {
      byId("example").value = "";
      useAnother(job, idOf(job));
    }
  });
  byId("json-pane").addEventListener("toggle", showJson);
  let typing = 0;
  const useTyped = () => {
    clearTimeout(typing);
    if (typing) useText(byId("json-text").value);
    typing = 0;
  };
  byId("json-text").addEventListener("blur", () => {
    useTyped();
    if (byId("json-text-fault").hidden) showJson();
  });
  byId("json-text").addEventListener("input", () => {
    clearTimeout(typing);
    typing = setTimeout(useTyped, 250);
  });
  // The drawing is laid out for a width; it is drawn anew when that changes.
  let drawnFor = 0;
  new ResizeObserver(([entry]) => {
    const width = Math.floor(entry.contentRect.width);
    if (!state.answer || width === drawnFor) return;
    drawnFor = width;
    showPictures({ ...state, open: goTo });
  }).observe(byId("picture"));
  // What sticks to the top hides what scrolls under it; the rest of the page keeps clear of it.
  new ResizeObserver(() => {
    const high = byId("verdict").getBoundingClientRect().height;
    document.documentElement.style.setProperty("--strip", `${Math.ceil(high)}px`);
  }).observe(byId("verdict"));
}

async function start() {
  byId("content").hidden = false;
  wire();
  await attempt(async () => {
    const before = kept(KEPT);
    const own = isObject(before) ? before : null;
    takeUp(own ? kept(KEPT_WORK) : null);
    const [pipes, antifreezes, fittings, first] = await Promise.all([
      getJson("/v1/pipes"), getJson("/v1/antifreezes"), getJson("/v1/fittings"),
      own ?? getJson(`/v1/examples/${START_WITH}`),
    ]);
    const desk = {
      compare,
      open: () => byId("open-file").click(),
      job: () => state.job,
      asked,
      answer: () => state.answer,
      whole: () => state.whole ?? [],
      /** Whether it is known if the array is as sized. */
      isCompared: () => state.whole !== null,
      problem: () => state.problem,
      flags: () => (state.answer ? flagsOf(state.answer) : []),
      held,
      edit,
      take,
      begin: (places) => {
        if (begin(places)) {
          remember();
          commit();
          showJson();
        }
      },
      /** The job as it would be with them, to be asked for before it is. */
      begunWith: (places) => {
        const job = structuredClone(state.job);
        begin(places, job);
        return asTyped(job);
      },
      /** Let a step begin with something else, where the job has none of it. */
      beginWith: (place, value) => { begun[place] = value; },
      /** Let parts follow from the change before, with which Undo takes them back, or from an event. */
      follow: (parts, event) => {
        if (event) remember();
        tellOwn(false);
        Object.assign(state.job, parts);
        commit();
        stirred();
        markUnsaved(true);
        keepingFocus(() => drawForm({ openFirst: false }));
        showJson();
        schedule();
        changed();
      },
      save: saveThis,
      orNote,
      goTo,
      mark,
      judge,
      showFound,
      inWords,
      say: (words) => say(byId("announce"), words),
      pipes: pipes.pipes,
      antifreezes: antifreezes.antifreezes,
      hazards: antifreezes.hazards,
      fittings: fittings.fittings,
    };
    startForm(desk);
    startSite(desk);
    startLessons(desk);
    startSteps(desk);
    startVariants({ ...desk, findings: () => [...state.answer.findings, ...state.whole ?? []],
      told: () => [loadWords(), toldBySteps()].filter(Boolean).join(" "), id: () => id, choose: async (job, of) => {
      if (of !== id) {
        if (!await mayLeave()) return;
        useAnother(job, of);
        markUnsaved(true);
        return;
      }
      state.baseline = state.answer;
      take({ ...Object.fromEntries(Object.keys(state.job).map((part) => [part, undefined])), ...structuredClone(job) },
        { compare: true });
    } });
    use(first);
    markUnsaved(own ? kept(KEPT_UNSAVED) !== false : false);
    if (!own) byId("example").value = START_WITH;
    showView(false);
  }, fail);
}

start();
