// Studies: begins one, watches it, and shows what came of it.

import { button, byId, digits, el, fixed, say, short } from "../bench/dom.js";
import { isObject, putAt, readFile, typedNumber } from "../bench/job.js";
import { problemBox } from "../bench/parts.js";
import { Problem, attempt, getJson, keep, kept, stemOf } from "../bench/service.js";
import { forgetFound, showFound } from "./found.js";
import { CALCULATIONS, fieldsOf, typedValues, variationsOf } from "./vary.js";

const ON_BENCH = "evenloop-bench";
const KEPT = "evenloop-studies"; // [study, body], the newest first: the service does not give a study's job back
const MOST_KEPT = 12;
const EVERY_MS = 1000;
const ENDED = ["finished", "cancelled"];
const METHODS = [["grid", "every combination"], ["latin_hypercube", "a random sample, even over each range"],
  ["sensitivity", "a sample for Sobol indices"]];
const OTHER = "other";

const state = { job: null, fields: [], varied: [], calculation: "split", results: new Set(), method: "grid", points: 256, study: null };
let known = { pipes: [], antifreezes: [] };
let timer = 0;
let serial = 0;

// ---------------------------------------------------------------------------------- what is asked

/** A control with its label; `fault` is told beside it. */
function box(label, control, { unit, hint } = {}) {
  serial += 1;
  control.id = `box-${serial}`;
  return el("div", { class: "field" },
    el("label", { for: control.id }, label, unit ? el("span", { class: "unit", text: ` ${unit}` }) : null), control,
    hint ? el("p", { class: "hint", text: hint }) : null);
}

const typed = (value, oninput, more) => el("input", { type: "text", value: value ?? "", oninput: (event) => {
  oninput(event.target.value);
  showCount();
}, ...more });

const select = (value, options, onchange) => {
  const made = el("select", { onchange: (event) => onchange(event.target.value) }, options);
  made.value = value;
  return made;
};

const option = ([value, text]) => el("option", { value, text });

function useJob(job, words) {
  Object.assign(state, { job, fields: fieldsOf(job, known), varied: [] });
  say(byId("job-words"), words);
  if (!CALCULATIONS[state.calculation][1].every((part) => job[part] !== undefined)) {
    chooseCalculation(Object.keys(CALCULATIONS).find((name) => CALCULATIONS[name][1].every((part) => job[part] !== undefined)) ?? "split");
  }
  addVaried();
  drawResults();
}

const named = (job) => `“${job.name || "without a name"}”`;

/** A field as it is varied at first: from a fifth below what it is now to a fifth above. */
function begun(field) {
  if (!field) return { key: OTHER, pointer: "", text: "" };
  if (field.options) return { key: field.key, chosen: new Set([field.now]) };
  const whole = Number.isInteger(field.now) && Math.abs(field.now) < 10;
  const [min, max] = whole ? [Math.max(1, field.now - 1), field.now + 1] : [0.8 * field.now, 1.2 * field.now].sort((a, b) => a - b);
  const brief = (value) => String(Number(value.toPrecision(3)));
  return { key: field.key, how: "range", min: brief(min), max: brief(min === max ? max + 1 : max), count: whole ? "3" : "5", text: brief(field.now) };
}

function addVaried() {
  const used = new Set(state.varied.map(({ key }) => key));
  state.varied.push(begun(state.fields.find(({ key, options }) => !used.has(key) && !options)));
  drawVaried();
}

function drawVaried(focus) {
  const groups = Map.groupBy ? Map.groupBy(state.fields, ({ group }) => group)
    : state.fields.reduce((all, field) => all.set(field.group, [...all.get(field.group) ?? [], field]), new Map());
  byId("varied").replaceChildren(...state.varied.map((each, at) => {
    const field = fieldOf(each);
    const what = select(each.key, [...[...groups].map(([group, fields]) =>
      el("optgroup", { label: group }, fields.map(({ key, label, unit }) => option([key, unit ? `${label}, ${unit}` : label])))),
    option([OTHER, "other: a JSON Pointer"])], (key) => {
      state.varied[at] = begun(state.fields.find((one) => one.key === key));
      drawVaried(at);
    });
    const parts = [box("What", what, { hint: field ? `${field.group}, now ${wordOf(field, field.now)}` : null })];
    if (!field) {
      parts.push(box("JSON Pointer", typed(each.pointer, (text) => { each.pointer = text.trim(); }, { placeholder: "/duty/flow_l_s" })),
        box("Values, with ; between", typed(each.text, (text) => { each.text = text; })));
    } else if (field.options) {
      parts.push(el("div", {}), el("fieldset", {}, el("legend", { text: "Values" }),
        el("div", { class: field.options.length > 8 ? "ticks many" : "ticks", ...(field.options.length > 8 ? { tabindex: 0, role: "group", "aria-label": `Values of ${field.label}` } : {}) }, field.options.map(([value, words]) =>
          el("label", {}, el("input", { type: "checkbox", checked: each.chosen.has(value), onchange: (event) => {
            if (event.target.checked) each.chosen.add(value);
            else each.chosen.delete(value);
            showCount();
          } }), words)))));
    } else {
      parts.push(box("How", select(each.how, [["range", "from … to"], ["list", "these values"]].map(option), (how) => {
        each.how = how;
        drawVaried(at);
      })), each.how === "list"
        ? box("Values, with ; between", typed(each.text, (text) => { each.text = text; }), { unit: field.unit })
        : el("div", { class: "spans" },
          box("From", typed(each.min, (text) => { each.min = text; }, { inputmode: "decimal" }), { unit: field.unit }),
          box("To", typed(each.max, (text) => { each.max = text; }, { inputmode: "decimal" }), { unit: field.unit }),
          state.method === "grid" ? box("How many", typed(each.count, (text) => { each.count = text; }, { inputmode: "numeric" })) : null));
    }
    return el("li", {}, parts, button("Leave out", "small", () => {
      state.varied.splice(at, 1);
      drawVaried();
      byId("add-varied").focus();
    }, { label: `Leave out ${field?.label ?? "what a pointer names"}` }));
  }));
  byId("sampling").replaceChildren(
    box("Cases are", select(state.method, METHODS.map(option), (method) => {
      state.method = method;
      drawVaried();
      byId("sampling").querySelector("select").focus();
    })),
    state.method === "grid" ? "" : box("Points", typed(String(state.points), (text) => { state.points = typedNumber(text); }, { inputmode: "numeric" }),
      { hint: state.method === "sensitivity" ? "a power of two; so many cases for each thing that changes, and twice more" : null }));
  if (focus !== undefined) byId("varied").children[focus].querySelector("select").focus();
  showCount();
}

const fieldOf = ({ key }) => state.fields.find((field) => field.key === key);
const wordOf = (field, value) => field.options?.find(([each]) => each === value)?.[1] ?? (typeof value === "number" ? short(value, 5) : value);

function chooseCalculation(name) {
  state.calculation = name;
  state.results = new Set(CALCULATIONS[name][3]);
  drawResults();
}

let otherResults = "";

function drawResults() {
  const [, needs, results] = CALCULATIONS[state.calculation];
  const lacking = needs.filter((part) => state.job?.[part] === undefined);
  byId("results").replaceChildren(
    el("div", { class: "grid" }, box("Of each case is computed", select(state.calculation,
      Object.entries(CALCULATIONS).map(([name, [words]]) => option([name, words])), (name) => {
        chooseCalculation(name);
        byId("results").querySelector("select").focus();
        showCount();
      }), { hint: lacking.length ? `The job has no ${lacking.join(" and no ")}, which this needs: every case would fail.` : null })),
    el("fieldset", {}, el("legend", { text: "Results that are kept" }), el("div", { class: "ticks" }, results.map(([at, words, unit]) =>
      el("label", {}, el("input", { type: "checkbox", checked: state.results.has(at), onchange: (event) => {
        if (event.target.checked) state.results.add(at);
        else state.results.delete(at);
        showCount();
      } }), unit ? `${words}, ${unit}` : words)))),
    el("details", { class: "more", open: otherResults !== "" }, el("summary", { text: "Other results" }),
      box("JSON Pointers into the answer, with ; between", typed(otherResults, (text) => { otherResults = text; }, { placeholder: "/loops/1/flow_l_s" }))));
}

/** What was asked for, or why it cannot be: { body, cases, sizes } or { fault }. */
function asked() {
  if (!state.job) return { fault: "Choose a job first." };
  if (!state.varied.length) return { fault: "Nothing changes yet: vary something." };
  const varied = [];
  for (const each of state.varied) {
    const field = fieldOf(each);
    const at = field?.at ?? [each.pointer];
    const what = field ? field.label : each.pointer || "the pointer";
    if (!field && !each.pointer.startsWith("/")) return { fault: "A JSON Pointer begins with /, as /duty/flow_l_s." };
    if (state.method !== "grid" && at.length > 1) return { fault: `${what} changes in ${at.length} places together, which only every combination can: vary it in one loop, or take every combination.` };
    const number = (text, name) => {
      const value = typedNumber(text);
      return typeof value === "number" ? { value } : { fault: `${what}: ${name} is “${text}”, and must be a number.` };
    };
    if (field?.options) {
      const values = field.options.map(([value]) => value).filter((value) => each.chosen.has(value));
      if (!values.length) return { fault: `${what}: tick a value at least.` };
      varied.push({ at, values });
    } else if (!field || each.how === "list") {
      const values = typedValues(each.text);
      const odd = field && values.find((value) => typeof value !== "number");
      if (!values.length) return { fault: `${what}: give values, with ; between.` };
      if (odd !== undefined && odd !== false) return { fault: `${what}: “${odd}” is no number; put ; between values.` };
      varied.push({ at, values });
    } else {
      const [min, max, count] = [number(each.min, "from"), number(each.max, "to"), number(state.method === "grid" ? each.count : "2", "how many")];
      const bad = [min, max, count].find(({ fault }) => fault);
      if (bad) return bad;
      if (!(max.value > min.value)) return { fault: `${what}: “to” must be more than “from”.` };
      if (!Number.isInteger(count.value) || count.value < 2) return { fault: `${what}: how many must be a whole number, 2 or more.` };
      varied.push({ at, min: min.value, max: max.value, count: count.value });
    }
  }
  if (state.method !== "grid" && !(Number.isInteger(state.points) && state.points > 0)) return { fault: "Points must be a whole number, 1 or more." };
  const results = [...state.results, ...otherResults.split(/[;\s]+/).filter(Boolean)];
  if (!results.length) return { fault: "Tick a result at least: nothing would be kept." };
  const { variations, cases, sizes } = variationsOf(varied, { ...state, seed: 1 });
  const { name } = state.job;
  return { body: { ...(name ? { name: String(name).slice(0, 80) } : {}), calculation: state.calculation, job: state.job, variations, results }, cases, sizes };
}

const counted = (count, one, many = `${one}s`) => `${count.toLocaleString("en")} ${count === 1 ? one : many}`;

function showCount() {
  const { fault, cases, sizes } = asked();
  say(byId("count"), fault ? "" : `${counted(cases, "case")}${sizes.length > 1 ? `: ${sizes.join(" × ")}` : ""}.`);
  say(byId("count-fault"), fault ?? "");
  byId("count-fault").hidden = !fault;
  byId("start").disabled = Boolean(fault);
}

// ---------------------------------------------------------------------------------------- running

/** Ask an address of the service; its problem is thrown. */
async function send(method, address, body, headers = {}) {
  let response;
  try {
    response = await fetch(address, { method, headers: { ...(body ? { "Content-Type": "application/json" } : {}), ...headers }, body: body ? JSON.stringify(body) : undefined });
  } catch {
    throw new Problem({ title: "The service cannot be reached", detail: "No answer came. What was begun goes on all the same." });
  }
  if (response.ok) return response;
  throw new Problem({ status: response.status, ...await response.json().catch(() => ({ title: `The service answered ${response.status}` })) });
}

function showProblem(problem) {
  const shown = byId("fault");
  shown.hidden = !problem;
  if (!problem) return;
  shown.replaceChildren(...problemBox({ ...problem, errors: (problem.errors ?? []).map((each) => ({ ...each, pointer: undefined })) }, () => {}).childNodes);
  shown.focus();
}

const orTell = (action) => attempt(action, showProblem);

async function start(event) {
  event.preventDefault();
  const { body, fault } = asked();
  if (fault) return;
  byId("start").disabled = true;
  await orTell(async () => {
    const once = `${Date.now().toString(36)}-${Math.random().toString(36).slice(2)}`;
    const accepted = await (await send("POST", "/v1/studies", body, { "Idempotency-Key": once })).json();
    showProblem(null);
    const before = kept(KEPT);
    keep(KEPT, [[accepted.study, body], ...Array.isArray(before) ? before : []].slice(0, MOST_KEPT));
    location.hash = accepted.study;
  });
  showCount();
}

/** What a study was begun with, where this browser began it. */
const bodyOf = (study) => (kept(KEPT) ?? []).find?.(([each]) => each === study)?.[1] ?? null;

const ofBody = (body) => ({ body, fields: body ? fieldsOf(body.job, known) : [] });

const leftWords = (seconds) => (seconds < 90 ? `${Math.max(1, Math.round(seconds))} s` : seconds < 5400 ? `${Math.round(seconds / 60)} min` : `${fixed(seconds / 3600, 1)} h`);

const buttonsOf = (study, ended) => el("div", { class: "buttons" }, ended ? [
  el("a", { href: `/v1/studies/${study.study}/results.csv`, download: `${stemOf(study)}-study.csv`, text: "All rows, CSV" }),
  button("Delete this study", "small", () => orTell(async () => {
    await send("DELETE", `/v1/studies/${study.study}`);
    location.hash = "";
  }))]
  : button("Cancel, and keep what is done", "small", () => orTell(async () => {
    await send("POST", `/v1/studies/${study.study}/cancellation`);
    watch(study.study);
  })));

function showProgress(study) {
  const words = { queued: "waits for its turn", running: "is under way", finished: "is finished", cancelled: "was cancelled" }[study.state];
  const left = study.left_s === undefined ? "" : `, about ${leftWords(study.left_s)} left at ${digits(study.cases_per_s)} a second`;
  const failed = study.failed ? ` ${counted(study.failed, "case")} of these could not be computed; why stands in the table.` : "";
  say(byId("study-title"), study.name || "Study");
  const box = byId("progress");
  const told = [
    el("p", { class: "outcome" }, el("b", { text: `${study.done.toLocaleString("en")} of ${study.cases.toLocaleString("en")}` }), ` cases are done: the study ${words}${left}.${failed}`),
    el("progress", { max: study.cases, value: String(study.done), "aria-label": "Cases done" }),
  ];
  const ended = ENDED.includes(study.state);
  // What is pressed stays where it is while the numbers before it change.
  const mine = `${study.study} ${ended}`;
  const buttons = box.dataset.buttonsOf === mine ? box.querySelector(".buttons") : null;
  if (buttons) {
    box.querySelectorAll(":scope > :not(.buttons)").forEach((each) => each.remove());
    buttons.before(...told);
  } else box.replaceChildren(...told, buttonsOf(study, ended));
  box.dataset.buttonsOf = mine;
  if (ended) say(byId("announce"), `The study ${words}.`);
}

async function watch(id) {
  clearTimeout(timer);
  const study = await orTell(() => getJson(`/v1/studies/${encodeURIComponent(id)}`));
  if (!study || location.hash.slice(1) !== id) return;
  const before = state.study;
  state.study = study;
  byId("study").hidden = false;
  showProgress(study);
  const ended = ENDED.includes(study.state);
  if (!ended) timer = setTimeout(() => watch(id), EVERY_MS);
  const news = before?.study !== id || before.done !== study.done || before.state !== study.state;
  if (news && (ended || study.done)) await orTell(() => showFound(study, { send, ...ofBody(bodyOf(id)), openCase, orTell, box, ended }));
  document.documentElement.dataset.shown = `${study.state} ${study.done}`;
  if (ended) showList();
}

// ------------------------------------------------------------------------------------ on the bench

/** Put the job of a case on the bench: what lies there can be had back by Undo. */
function openCase(body, varied) {
  const job = structuredClone(body.job);
  for (const [at, value] of Object.entries(varied)) putAt(job, at, value);
  const now = sessionStorage.getItem(ON_BENCH) ?? localStorage.getItem(ON_BENCH);
  const work = kept("evenloop-bench-work");
  const undoable = [...Array.isArray(work?.undoable) ? work.undoable : [], ...now ? [[now, true, work?.id ?? ""]] : []];
  keep(ON_BENCH, { format: 1, ...job });
  keep("evenloop-bench-work", { id: `${Date.now().toString(36)}-case`, undoable, redoable: [] });
  keep("evenloop-bench-unsaved", true);
  location.assign("/");
}

// --------------------------------------------------------------------------------------- the page

async function showList() {
  const found = await orTell(() => getJson("/v1/studies?most=20"));
  byId("list").replaceChildren(found?.studies.length ? el("ul", { class: "limits" }, found.studies.map((each) =>
    el("li", {}, el("a", { href: `#${each.study}`, text: each.name || `Study of ${each.created.slice(0, 10)}` }),
      el("span", { text: `${counted(each.cases, "case")}, ${each.state}${each.failed ? `, ${each.failed} failed` : ""}` }),
      el("span", { class: "quiet", text: each.created.replace("T", " ").replace("Z", " UTC") })))) : el("p", { class: "quiet", text: "None yet." }));
}

function showWhatIsNamed() {
  const id = location.hash.slice(1);
  clearTimeout(timer);
  forgetFound();
  showProblem(null);
  state.study = null;
  byId("study").hidden = true;
  if (id) watch(id).then(() => byId("study-title").focus({ preventScroll: false }));
  showList();
}

function wire() {
  window.addEventListener("hashchange", showWhatIsNamed);
  byId("begin").addEventListener("submit", start);
  byId("add-varied").addEventListener("click", () => {
    addVaried();
    byId("varied").lastElementChild.querySelector("select").focus();
  });
  byId("from-bench").addEventListener("click", useBench);
  byId("example").addEventListener("change", (event) => orTell(async () => {
    const name = event.target.value;
    if (name) await getJson(`/v1/examples/${encodeURIComponent(name)}`).then((job) => useJob(job, `The example ${named(job)}.`));
  }));
  byId("open-file").addEventListener("change", async (event) => {
    const [file] = event.target.files;
    event.target.value = "";
    if (!file) return;
    const { job, fault } = readFile(await file.text());
    if (fault) showProblem({ title: `${file.name} was not opened`, detail: fault });
    else useJob(job, `${named(job)}, from ${file.name}.`);
  });
}

function useBench() {
  const job = kept(ON_BENCH);
  byId("example").value = "";
  if (isObject(job)) useJob(job, `The job on the bench, ${named(job)}.`);
  else say(byId("job-words"), "There is no job on the bench yet: choose an example or open a file.");
}

async function begin() {
  byId("content").hidden = false;
  wire();
  await orTell(async () => {
    const [pipes, antifreezes] = await Promise.all([getJson("/v1/pipes"), getJson("/v1/antifreezes")]);
    known = { pipes: pipes.pipes, antifreezes: antifreezes.antifreezes };
    chooseCalculation("split");
    useBench();
    showCount();
    showWhatIsNamed();
  });
}

begin();
