// The bench: keeps the request and the job around it, asks the service as the array is edited, shows
// what comes back.

import { byId, say } from "./dom.js";
import { inJob } from "./fields.js";
import { drawForm, refreshHeads, reveal, setFaults, showDeviations, startForm } from "./form.js";
import {
  changed, drawJob, drawLine, forgetAnswers, freshJob, jobFrom, markAll, parted, startJob, wholeJob,
} from "./job.js";
import { flagsOf } from "./picture.js";
import { isObject, partsOf } from "./request.js";
import { showAnswer, showPictures, showProblem } from "./results.js";
import { Problem, abandon, downloadReport, downloadRequest, downloadTable, getJson, solve } from "./service.js";

const DEBOUNCE_MS = 120;
const START_WITH = "quince-barn-short-tail";
const KEPT = "evenloop-bench-request";
const KEPT_JOB = "evenloop-bench-job";
const MOST_UNDO = 100;

const state = { request: {}, job: freshJob(), answer: null, baseline: null, problem: null };
const undoable = [];
let committed = "{}";
let committedJob = "{}";
let lastEdited = "";
let timer = 0;
let editedAt = 0;

// ------------------------------------------------------------------------------------- editing

/** Write a value into the request; undefined takes the field out. Edits that go on from the one
 * before (no event) are undone together with it. */
function edit(pointer, value, event) {
  if (event) {
    if (pointer !== lastEdited || event.type !== "input") remember();
    lastEdited = pointer;
    if (!inJob(pointer)) editedAt = event.timeStamp;
  }
  put(pointer, value);
  if (inJob(pointer)) {
    committedJob = JSON.stringify(state.job);
    keep();
    changed();
    return;
  }
  committed = JSON.stringify(state.request);
  keep();
  byId("example").value = "";
  refreshHeads();
  showJson();
  changed();
  schedule();
}

function put(pointer, value) {
  const parts = partsOf(pointer);
  const last = parts.pop();
  let into = inJob(pointer) ? state : state.request;
  for (const part of parts) {
    if (into[part] === null || typeof into[part] !== "object") into[part] = {};
    into = into[part];
  }
  if (value === undefined && !Array.isArray(into)) delete into[last];
  else into[last] = value;
}

function remember() {
  undoable.push([committed, committedJob]);
  if (undoable.length > MOST_UNDO) undoable.shift();
  byId("undo").disabled = false;
}

function keep() {
  try {
    sessionStorage.setItem(KEPT, committed);
    sessionStorage.setItem(KEPT_JOB, committedJob);
  } catch { /* a page without storage works as well; it forgets when reloaded */ }
}

function undo() {
  const before = undoable.pop();
  if (before === undefined) return;
  byId("undo").disabled = undoable.length === 0;
  const [request, job] = before;
  const sameRequest = request === committed;
  lastEdited = "";
  state.request = JSON.parse(request);
  if (job !== committedJob) useJob(JSON.parse(job));
  if (sameRequest) keep();
  else {
    byId("example").value = "";
    use(state.request, { compare: false, openFirst: false });
  }
  say(byId("announce"), "Last change undone.");
}

/** Take a job as the one around the array. */
function useJob(job) {
  state.job = job;
  committedJob = JSON.stringify(job);
  drawJob();
}

/** Begin another job: its array, and nothing asked about it yet. */
function useAnother(request, job) {
  remember();
  forgetAnswers();
  useJob(job);
  use(request);
}

/** Take a request as the one being edited. */
function use(request, { compare = true, openFirst = true } = {}) {
  state.request = request;
  committed = JSON.stringify(request);
  lastEdited = "";
  if (compare) state.baseline = null;
  keep();
  showName();
  drawForm({ openFirst });
  showJson();
  changed();
  schedule(0);
}

/** Take a request that a step made of this one. */
function useFromStep(request, { compare, job }) {
  remember();
  byId("example").value = "";
  if (job) useJob(job);
  if (compare) state.baseline = state.answer;
  use(request, { compare: !compare });
  byId("verdict").focus({ preventScroll: true });
  byId("verdict").scrollIntoView({ block: "start" });
}

function showName() {
  const input = byId("job-name");
  input.value = typeof state.request.name === "string" ? state.request.name : "";
  document.title = `${input.value || "Bench"} · Evenloop`;
}

// ------------------------------------------------------------------------------------- solving

function schedule(wait = DEBOUNCE_MS) {
  clearTimeout(timer);
  abandon();
  byId("verdict").setAttribute("aria-busy", "true");
  timer = setTimeout(run, wait);
}

async function run() {
  const asked = committed;
  let answer = null;
  try {
    answer = await solve(state.request);
  } catch (error) {
    if (!(error instanceof Problem)) throw error;
    if (asked === committed) fail(error.document);
    return;
  }
  if (answer === null || asked !== committed) return; // a newer edit is on its way
  state.answer = answer;
  state.problem = null;
  state.baseline ??= answer;
  showProblem(null);
  showAnswer({ ...state, open: reveal });
  setFaults([]);
  showFault("job-name", "");
  showDeviations();
  drawLine(answer);
  settle();
}

function fail(document) {
  state.problem = document;
  showProblem(document, goTo);
  setFaults(document.errors ?? []);
  showFault("job-name", (document.errors ?? []).filter((each) => each.pointer === "/name")
    .map((each) => each.detail).join(" "));
  settle();
}

/** Say to tests and measurements that the page shows the request as it stands. */
function settle() {
  byId("verdict").removeAttribute("aria-busy");
  const root = document.documentElement;
  root.dataset.shown = String(Number(root.dataset.shown ?? 0) + 1);
  if (editedAt) {
    performance.measure("edit-to-picture", { start: editedAt, detail: { debounce: DEBOUNCE_MS } });
    editedAt = 0;
  }
}

function goTo(pointer) {
  if (pointer === "/name") byId("job-name").focus();
  else if (!reveal(pointer)) {
    byId("json-pane").open = true;
    byId("json-text").focus();
  }
}

function showFault(id, text) {
  const fault = byId(`${id}-fault`);
  const input = byId(id);
  say(fault, text);
  fault.hidden = text === "";
  input.toggleAttribute("aria-invalid", false);
  if (text) {
    input.setAttribute("aria-invalid", "true");
    input.setAttribute("aria-describedby", fault.id);
  } else {
    input.removeAttribute("aria-describedby");
  }
}

// -------------------------------------------------------------------------------- the JSON pane

function showJson() {
  const text = byId("json-text");
  if (!byId("json-pane").open || document.activeElement === text) return;
  text.value = JSON.stringify(state.request, null, 2);
  jsonFault("");
}

function jsonFault(words) {
  const fault = byId("json-fault");
  say(fault, words);
  fault.hidden = words === "";
  byId("json-text").setAttribute("aria-invalid", String(words !== ""));
}

/** Take a text as the request, with the steps of a whole job where it holds them; `another` says
 * that it is another job. Says what is wrong with it and returns false where it is none. */
function useText(text, { another = false, ...options } = {}) {
  let read;
  try {
    read = JSON.parse(text);
  } catch (error) {
    jsonFault(`This is not JSON yet: ${error.message}. The form and the result keep the last request.`);
    return false;
  }
  if (!isObject(read)) {
    jsonFault("A request is a JSON object: { … }.");
    return false;
  }
  jsonFault("");
  byId("example").value = "";
  const [request, job] = parted(read);
  if (job || another) useAnother(request, job ?? freshJob());
  else {
    remember();
    use(request, options);
  }
  return true;
}

// ------------------------------------------------------------------------------------- the page

async function attempt(action) {
  try {
    await action(state.request);
  } catch (error) {
    if (!(error instanceof Problem)) throw error;
    const { status, detail, title } = error.document;
    const absent = status === 404 || status === 405 || status === 501;
    const words = absent ? "This service does not offer the report." : detail ?? title;
    say(byId("announce"), words);
    const box = byId("problem");
    if (state.problem === null) {
      showNote(words);
    } else box.scrollIntoView({ block: "nearest" });
  }
}

/** A note above the pictures, about a download. */
function showNote(words) {
  const box = byId("problem");
  const text = document.createElement("p");
  text.textContent = words;
  box.replaceChildren(text);
  box.hidden = false;
}

function wire() {
  byId("undo").addEventListener("click", undo);
  byId("save-json").addEventListener("click", () => downloadRequest(state.request));
  byId("save-csv").addEventListener("click", () => attempt(downloadTable));
  byId("save-report").addEventListener("click", () => attempt(() => downloadReport(wholeJob())));
  byId("editor").addEventListener("submit", (event) => event.preventDefault());
  byId("hold").addEventListener("click", () => {
    state.baseline = state.answer;
    if (state.answer) showAnswer({ ...state, open: reveal });
    say(byId("announce"), "Changes are compared with the array as it is now.");
  });
  byId("example").addEventListener("change", async (event) => {
    const name = event.target.value;
    if (name === "") return;
    try {
      const request = await getJson(`/v1/examples/${encodeURIComponent(name)}`);
      useAnother(request, freshJob());
      byId("example").value = name;
    } catch (error) {
      if (!(error instanceof Problem)) throw error;
      fail(error.document);
    }
  });
  byId("job-name").addEventListener("input", (event) => {
    edit("/name", event.target.value === "" ? undefined : event.target.value, event);
    document.title = `${event.target.value || "Bench"} · Evenloop`;
  });
  byId("open-file").addEventListener("change", async (event) => {
    const [file] = event.target.files;
    event.target.value = "";
    if (!file) return;
    if (!useText(await file.text(), { another: true })) byId("json-pane").open = true;
  });
  byId("json-pane").addEventListener("toggle", showJson);
  byId("json-text").addEventListener("blur", () => {
    if (byId("json-fault").hidden) showJson();
  });
  let typing = 0;
  byId("json-text").addEventListener("input", (event) => {
    clearTimeout(typing);
    typing = setTimeout(() => useText(event.target.value, { compare: false, openFirst: false }), 250);
  });
  // The drawing is laid out for a width; it is drawn anew when that changes.
  let drawnFor = 0;
  new ResizeObserver(([entry]) => {
    const width = Math.floor(entry.contentRect.width);
    if (!state.answer || width === drawnFor) return;
    drawnFor = width;
    showPictures({ ...state, open: reveal });
  }).observe(byId("picture"));
  // What sticks to the top hides what scrolls under it; the rest of the page keeps clear of it.
  new ResizeObserver(() => {
    const high = byId("verdict").getBoundingClientRect().height;
    document.documentElement.style.setProperty("--strip", `${Math.ceil(high)}px`);
  }).observe(byId("verdict"));
}

function keptJob() {
  try {
    return jobFrom(JSON.parse(sessionStorage.getItem(KEPT_JOB)));
  } catch {
    return freshJob();
  }
}

function keptRequest() {
  try {
    const kept = JSON.parse(sessionStorage.getItem(KEPT));
    return isObject(kept) && kept.array ? kept : null;
  } catch {
    return null;
  }
}

async function start() {
  byId("content").hidden = false;
  wire();
  try {
    const kept = keptRequest();
    const [pipes, antifreezes, fittings, first] = await Promise.all([
      getJson("/v1/pipes"), getJson("/v1/antifreezes"), getJson("/v1/fittings"),
      kept ?? getJson(`/v1/examples/${START_WITH}`),
    ]);
    state.job = kept ? keptJob() : freshJob();
    committedJob = JSON.stringify(state.job);
    startForm({
      request: () => state.request,
      job: () => state.job,
      jobShown: markAll,
      answer: () => state.answer,
      flags: () => (state.answer ? flagsOf(state.answer) : []),
      edit,
      say: (words) => say(byId("announce"), words),
      pipes: pipes.pipes,
      antifreezes: antifreezes.antifreezes,
      hazards: antifreezes.hazards,
      fittings: fittings.fittings,
    });
    startJob({
      request: () => state.request,
      job: () => state.job,
      edit,
      goTo,
      say: (words) => say(byId("announce"), words),
      use: useFromStep,
    });
    use(first);
    if (!kept) byId("example").value = START_WITH;
  } catch (error) {
    if (!(error instanceof Problem)) throw error;
    fail(error.document);
  }
}

start();
