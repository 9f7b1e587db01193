// On site: the installer types what meters and gauge show, and sees at once whether the array is proved.

import { button, byId, el, fixed, inPrint, say, short, signed } from "./dom.js";
import { METERS, STAGES, VERDICTS } from "./fill.js";
import { typedNumber } from "./job.js";
import { attempt, keep, kept, post } from "./service.js";

const METER_READINGS = "/commissioning/flow_meters/readings";
const TEST_READINGS = "/commissioning/pressure_test/readings";
const KEPT_GAUGE = "evenloop-bench-gauge";
const GAUGES = { bar: 100, kPa: 1 }; // of each, in kPa
const WAIT_MS = 350;
const SINCE = "Minutes since the test began";

let page = null; // what the bench gives: job(), held(), edit(), begin(), inWords(), save(), open(), say()
let gauge = kept(KEPT_GAUGE) in GAUGES ? kept(KEPT_GAUGE) : "bar";
let timer = 0;
let asked = null;
let shown = null; // the answer that is shown, and what is drawn of it: { answer, meters, verdict, test }

export function startSite(given) {
  page = given;
}

const isShown = () => !byId("site").hidden;
const readingsAt = (pointer) => {
  const list = page.held(pointer);
  return Array.isArray(list) ? list : [];
};
const inGauge = (kpa) => `${fixed(kpa / GAUGES[gauge], gauge === "bar" ? 2 : 0)} ${gauge}`;

/** Write a list of readings; a list of none is left out. */
function write(pointer, list, event) {
  page.edit(pointer, list.length ? list : undefined, event);
  clearTimeout(timer);
  timer = setTimeout(ask, WAIT_MS);
}

// ---------------------------------------------------------------------------------- the meters

const unreadWords = (typed, kept) => `“${inPrint(typed)}” cannot be: type litres a minute as a number, such as 12.5. `
  + (kept === undefined ? "The job has no reading of it yet." : `The job keeps ${kept}.`);

function meterCard(meter) {
  const reading = () => readingsAt(METER_READINGS).find((each) => each?.loop === meter.loop)?.flow_l_min;
  let before = null; // { value } that was read before it was typed over
  const number = el("input", {
    id: `meter-${meter.where}-${meter.loop}`, type: "text", inputmode: "decimal", class: "number", autocomplete: "off",
    "aria-label": `${meter.loop} shows, litres a minute`, value: reading() === undefined ? "" : String(reading()),
    onblur: () => { if (!shown?.unread.has(meter.loop)) before = null; },
    oninput: (event) => {
      const others = readingsAt(METER_READINGS).filter((each) => each?.loop !== meter.loop);
      const typed = typedNumber(number.value);
      before ??= { value: reading() };
      const isText = typeof typed === "string";
      if (isText) shown.unread.set(meter.loop, typed);
      else shown.unread.delete(meter.loop);
      const read = isText ? before.value : typed; // the job keeps what is a number
      write(METER_READINGS, read === undefined ? others : [...others, { loop: meter.loop, flow_l_min: read }], event);
      if (isText) fault(unreadWords(typed, before.value));
    },
  });
  const verdict = el("p", { class: "sitesays", role: "status" });
  const range = el("p", { class: "siterange" });
  const card = el("li", {}, el("div", {}, el("h3", { text: meter.loop }), range), el("div", { class: "sitebox" }, number, el("span", { text: "L/min" })), verdict);
  const tell = (now) => {
    if (shown.unread.has(meter.loop)) return;
    const band = now.min_flow_l_min === undefined ? "too coarse a meter to prove it" : `${now.min_flow_l_min} to ${now.max_flow_l_min} L/min`;
    range.textContent = `${band}; as drawn it takes ${fixed(now.expected_l_min, 1)}`;
    card.dataset.verdict = now.verdict ?? "";
    say(verdict, now.verdict ? `${METERS[now.verdict]} ${signed(now.deviation_percent ?? -100, 0)}`
      : now.reading_l_min === undefined ? "" : now.min_flow_l_min === undefined ? "read; it proves nothing" : "read; judged once every meter is read");
  };
  const fault = (words) => {
    card.dataset.verdict = "fault";
    say(verdict, `■ ${words}`);
  };
  return { card, tell, fault, number };
}

// -------------------------------------------------------------------------------------- the test

/** Why a reading cannot be of a stage at its time: the clock is one for the whole test; "" where it can. */
function outOfTime({ stage, time_min: at }, all) {
  const order = Object.keys(STAGES);
  const rank = (name) => order.indexOf(name);
  const other = all.find((each) => (rank(each?.stage) < rank(stage) && each.time_min > at)
    || (rank(each?.stage) > rank(stage) && each.time_min < at));
  return other ? `“${SINCE}” is ${at}, and “${STAGES[other.stage]}” was noted at ${other.time_min}: the clock runs on `
    + `through all stages. Type ${other.time_min} or ${rank(other.stage) < rank(stage) ? "more" : "less"}.` : "";
}

/** The stages of the test with the readings noted in each, and boxes for the next. */
function testStages(test) {
  const order = Object.keys(STAGES);
  const all = readingsAt(TEST_READINGS);
  return test.stages.map((stage) => {
    const words = STAGES[stage.stage] ?? stage.stage;
    const box = (name, label) => el("div", {}, el("label", { for: `note-${stage.stage}-${name}`, text: label }),
      el("input", { id: `note-${stage.stage}-${name}`, type: "text", inputmode: "decimal", class: "number", autocomplete: "off" }));
    const boxes = { time_min: box("time_min", SINCE), pressure_kpa: box("pressure_kpa", `Gauge, ${gauge}`) };
    if (stage.stage === "letting_down") boxes.drawn_off_l = box("drawn_off_l", "Drawn off, L");
    const fault = el("p", { class: "fault", role: "status", hidden: true });
    const refuse = (name, words) => {
      fault.textContent = words;
      fault.hidden = false;
      boxes[name].querySelector("input").focus();
    };
    const note = (event) => {
      const reading = { stage: stage.stage };
      for (const [name, each] of Object.entries(boxes)) {
        const typed = typedNumber(each.querySelector("input").value);
        if (typed === undefined && name === "drawn_off_l") continue;
        if (typeof typed !== "number" || typed < 0) {
          refuse(name, `“${each.querySelector("label").textContent}” ${typed === undefined ? "is empty" : `is “${inPrint(String(typed))}”`}; type a number of 0 or more.`);
          return;
        }
        reading[name] = name === "pressure_kpa" ? Number((typed * GAUGES[gauge]).toPrecision(6)) : typed;
      }
      const late = outOfTime(reading, all);
      if (late) {
        refuse("time_min", late);
        return;
      }
      const list = [...all, reading].sort((a, b) => order.indexOf(a.stage) - order.indexOf(b.stage) || a.time_min - b.time_min);
      write(TEST_READINGS, list, event);
      drawTest(test);
      byId(`note-${stage.stage}-time_min`).focus();
    };
    const time = `${stage.duration_is_max ? "at most" : "at least"} ${short(stage.duration_min)} min`;
    return el("section", { class: "sitestage" },
      el("h3", { text: words }),
      el("p", { text: `${inPrint(stage.instruction)} ${time[0].toUpperCase()}${time.slice(1)}, ending between ${inGauge(stage.min_pressure_kpa)} and ${inGauge(stage.max_pressure_kpa)}.` }),
      el("ul", { class: "noted" }, all.filter((each) => each?.stage === stage.stage).map((each) => el("li", {},
        el("span", { text: `${each.time_min} min: ${typeof each.pressure_kpa === "number" ? inGauge(each.pressure_kpa) : each.pressure_kpa}${each.drawn_off_l === undefined ? "" : `, ${each.drawn_off_l} L drawn off`}` }),
        button("✕", null, (event) => {
          write(TEST_READINGS, readingsAt(TEST_READINGS).filter((one) => one !== each), event);
          drawTest(test);
        }, { label: `Remove ${words} at ${each.time_min} min` })))),
      el("div", { class: "sitenote" }, Object.values(boxes), button("Note it", "main", note, { label: `Note it, ${words}` })), fault);
  });
}

function drawTest(test) {
  shown.test.replaceChildren(...test ? [
    el("div", { class: "siteunit" }, el("label", { for: "site-gauge", text: "The gauge shows" }),
      el("select", { id: "site-gauge", onchange: (event) => {
        gauge = event.target.value;
        keep(KEPT_GAUGE, gauge);
        drawTest(test);
        byId("site-gauge").focus();
      } }, Object.keys(GAUGES).map((each) => el("option", { value: each, text: each, selected: each === gauge })))),
    ...testStages(test),
  ] : [el("p", { text: "The job asks for no pressure test." })]);
}

// ------------------------------------------------------------------------------------- the verdict

const WORST_FIRST = ["off", "open", "proved"];
const named = (words) => words.slice(0, 3).join(", ") + (words.length > 3 ? ` and ${words.length - 3} more` : "");

function meterWords(answer) {
  const read = answer.flow_meters.filter((each) => each.reading_l_min !== undefined);
  if (shown.unread.size) {
    return ["off", `■ Meters: ${named([...shown.unread].map(([loop, typed]) => `${loop} “${inPrint(typed)}”`))}: no number`];
  }
  if (answer.balance_proved) return ["proved", "= Meters: the balance is proved"];
  const off = read.filter((each) => each.verdict && each.verdict !== "within");
  if (off.length) {
    off.sort((a, b) => Math.abs(b.deviation_percent ?? -100) - Math.abs(a.deviation_percent ?? -100));
    return ["off", `▼ Meters: ${named(off.map((each) =>
      `${each.loop} ${METERS[each.verdict].slice(2)} ${signed(each.deviation_percent ?? -100, 0)}`))}`];
  }
  return ["open", `– Meters: ${read.length} of ${answer.flow_meters.length} read`];
}

function testWords({ pressure_test: test }) {
  if (!test) return null;
  const record = test.verdict_of_record;
  if (!record) return ["open", "– Pressure test: nothing noted"];
  return [{ pass: "proved", fail: "off", undetermined: "open" }[record.verdict], `${VERDICTS[record.verdict].slice(0, 2)}Pressure test: ${VERDICTS[record.verdict].slice(2)}`];
}

function tellVerdict(answer) {
  const reasons = answer.pressure_test?.verdict_of_record?.stages ?? [];
  shown.verdict.replaceChildren(...[meterWords(answer), testWords(answer)].filter(Boolean)
    .sort(([a], [b]) => WORST_FIRST.indexOf(a) - WORST_FIRST.indexOf(b))
    .map(([state, words]) => el("p", { class: "siteverdict", "data-state": state, text: words })));
  shown.notes.replaceChildren(...answer.findings
    .filter(({ code }) => (shown.unread.size ? /test|closed/ : /meter|test|closed/).test(code))
    .map((each) => el("li", { text: inPrint(each.message) })));
  shown.reasons.replaceChildren(...reasons.map((each) =>
    el("li", { text: `${STAGES[each.stage] ?? each.stage}, ${VERDICTS[each.verdict]}: ${inPrint(each.reason)}` })));
}

// ----------------------------------------------------------------------------------------- the page

/** Ask anew, and tell each card what came of it; nothing is drawn anew under the fingers. */
async function ask() {
  asked?.abort();
  const mine = new AbortController();
  asked = mine;
  page.begin(["/commissioning"]);
  const job = structuredClone(page.job());
  try {
    const answer = await attempt(async () => (await post("commissioning", job, mine.signal)).json(), async (problem) => {
      const told = await page.inWords(problem);
      if (asked === mine) fail(told, job);
      return null;
    });
    if (answer && asked === mine && isShown()) show(answer);
  } catch (error) {
    if (error.name !== "AbortError") throw error;
  }
}

function fail(problem, job) {
  if (!shown) {
    byId("site-body").replaceChildren(el("p", { class: "siteverdict", "data-state": "off", text: `■ ${problem.detail ?? problem.title}` }));
    return;
  }
  const others = [];
  for (const { pointer = "", detail } of problem.errors ?? [{ detail: problem.detail }]) {
    const [, index] = /^\/commissioning\/flow_meters\/readings\/(\d+)\/flow_l_min$/.exec(pointer) ?? [];
    const reading = index === undefined ? null : job.commissioning.flow_meters.readings[index];
    const meter = reading && shown.meters.get(reading.loop);
    if (meter) meter.fault(`“${inPrint(String(reading.flow_l_min))}” cannot be: type litres a minute as a number, such as 12.5.`);
    else others.push(detail);
  }
  shown.verdict.replaceChildren(el("p", { class: "siteverdict", "data-state": "off",
    text: others.length ? `■ ${others.join(" ")}` : "■ A reading cannot be: see its box." }));
  shown.notes.replaceChildren();
  shown.reasons.replaceChildren(); // they are of the readings before
  settle();
}

function settle() {
  const site = byId("site");
  site.dataset.shown = String(Number(site.dataset.shown ?? 0) + 1);
}

function show(answer) {
  const loops = answer.flow_meters.map((each) => each.loop).join("\n");
  if (shown?.loops !== loops) draw(answer, loops);
  for (const each of answer.flow_meters) shown.meters.get(each.loop).tell(each);
  tellVerdict(answer);
  settle();
}

function draw(answer, loops) {
  const meters = new Map(answer.flow_meters.map((each) => [each.loop, meterCard(each)]));
  shown = {
    loops, meters, unread: new Map(), verdict: el("div", { class: "siteverdicts", role: "status" }), notes: el("ul", { class: "cautions" }), reasons: el("ul", { class: "cautions" }), test: el("div", {}),
  };
  byId("site-body").replaceChildren(
    shown.verdict,
    el("h2", { text: "What every meter shows" }),
    el("ul", { class: "meters" }, [...meters.values()].map((each) => each.card)),
    shown.notes,
    el("h2", { text: "Pressure test" }),
    el("details", { class: "hurt", open: true }, el("summary", {}, el("b", { text: "▲ Before anyone fills or pressurises" })),
      el("ul", {}, answer.cautions.map((text) => el("li", { text })))),
    shown.test, shown.reasons,
    el("p", { class: "hint", text: "A record may pass here and the pipe still be wrong: whoever signs the test decides." }));
  drawTest(answer.pressure_test);
}

/** Show the page, for the job as it stands. */
export function showSite() {
  shown = null;
  const job = page.job();
  byId("site").replaceChildren(
    el("h1", { tabindex: -1, text: `On site: ${job.name || "this job"}` }),
    el("div", { class: "buttons" }, el("a", { href: "#", class: "buttonlike", text: "To the bench" }),
      button("Open job…", null, page.open), button("Save job with the readings", "main", page.save)),
    el("div", { id: "site-body" }, el("p", { text: job.array === undefined
      ? "The job holds no array yet. Open the file that the designer saved." : "Working out what the meters should show…" })));
  if (job.array !== undefined) ask();
}
