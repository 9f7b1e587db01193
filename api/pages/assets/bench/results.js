// Shows an answer: the duty, the verdict with its causes, findings, the table, cautions.

import { byId, button, digits, el, fixed, say, short, signed, tenths } from "./dom.js";
import { onScreen } from "./faults.js";
import { evenness, findingsOf, problemBox, table } from "./parts.js";
import { SIGNS, arrayPicture, curvePicture, flagsOf, groupsOf, listOf } from "./picture.js";
import { dropWords, flowWords, inDrop, inFlow, inUnits, units } from "./units.js";

const MOST_FLAGGED = 8; // loops and chambers that are told why they starve; the table has all

/** Show an answer. `open(where)` leads to the fields of a branch; `others()` are findings of the whole job and
 * its steps besides, of which an error leads the verdict, as it does the document, and what of it is `open`. */
export function showAnswer({ job, answer, baseline, open, others }) {
  const flags = flagsOf(answer);
  if (answer.pump.head_m > 0) units.metreKpa = answer.pump.head_kpa / answer.pump.head_m;
  showDuty(answer, baseline);
  const groups = showJudged({ job, answer, baseline, open, others });
  showPictures({ job, answer, baseline, open });
  showWhy(answer, groups, open);
  showHead(answer);
  showRunning(answer, job);
  showTable(answer, listOf({ job, answer, flags }), open);
  byId("cautions").replaceChildren(...answer.cautions.map((text) => el("li", { text })));
  byId("method").replaceChildren(
    el("p", { text: `Friction: ${answer.method.friction}` }),
    el("p", { text: `Properties: ${answer.method.properties}` }),
    el("p", { text: `Solved in ${answer.residuals.iterations} steps; mass met to `
      + `${answer.residuals.mass_relative.toExponential(0)}, pressure to `
      + `${answer.residuals.energy_relative.toExponential(0)} of the pump's head. `
      + `Version ${answer.method.version}.` }));
}

/** Show that nothing is known yet: no number of another job stays on the page. */
export function showNothing(words = "Solving…") {
  for (const name of ["flow", "head", "column", "power", "heat"]) byId(`duty-${name}`).textContent = "–";
  for (const name of ["flow", "head", "spread"]) byId(`was-${name}`).textContent = "";
  for (const id of ["picture", "picture-key", "why", "head-parts", "curve", "running", "findings", "loops-table", "headers-table",
    "cautions", "method"]) byId(id).replaceChildren();
  byId("word").dataset.state = "waiting";
  say(byId("verdict-words"), words);
  showProblem(null);
}

function change(now, before, unit) {
  if (before === undefined || Math.abs(now - before) < 0.0005 * Math.max(Math.abs(now), 1e-9)) return "";
  return `was ${digits(before)} ${unit}`;
}

function showDuty({ pump: duty }, baseline) {
  const before = baseline?.pump;
  byId("duty-flow").textContent = digits(inFlow(duty.flow_l_s));
  byId("duty-head").textContent = digits(inDrop(duty.head_kpa));
  byId("duty-column").textContent = digits(duty.head_m);
  byId("duty-power").textContent = digits(duty.hydraulic_power_w);
  byId("duty-heat").textContent = digits(duty.heat_kw);
  byId("was-flow").textContent = change(inFlow(duty.flow_l_s), before && inFlow(before.flow_l_s), units.flow);
  byId("was-head").textContent = change(inDrop(duty.head_kpa), before && inDrop(before.head_kpa), units.drop);
}

function listed(names, count = names.length) {
  if (names.length > 3) return `${names.slice(0, 2).join(", ")} and ${count - 2} more`;
  return names.length === 3 ? `${names[0]}, ${names[1]} and ${names[2]}` : names.join(" and ");
}

/** What loops or chambers get of what they should: those furthest off by name, of the rest how many loops. */
function offTarget(groups, [one, many, words]) {
  const sorted = [...groups].sort((a, b) => Math.abs(b.deviation) - Math.abs(a.deviation));
  const loops = sorted.reduce((sum, { count }) => sum + count, 0);
  const named = sorted.slice(0, 2).reduce((sum, { count }) => sum + count, 0);
  const [most, least] = [sorted[0], sorted.at(-1)].map(({ deviation }) => tenths(Math.abs(deviation)));
  return `${listed(sorted.map((each) => each.loop), loops - named + 2)} ${loops > 1 && !(sorted.length === 1 && sorted[0].isChamber) ? many : one} `
    + `${most === least ? "" : "up to "}${most} % ${words}`;
}

/** What a loop's flow is compared with. */
const SHARES = { even: "an even share", by_length: "a share by length", shares: "the share asked for" };

/** Show the verdict and the findings; the groups of loops that it speaks of. */
export function showJudged({ job, answer, baseline, open, others }) {
  const groups = answer.imbalance ? groupsOf({ job, answer, flags: flagsOf(answer) }) : [];
  const { whole, steps, open: unknown } = others();
  showVerdict(answer, baseline, groups, [...whole, ...steps], unknown);
  byId("findings").replaceChildren(...findingsOf([...answer.findings, ...whole], open).children);
  return groups;
}

/** The first sentence of what was found: what to do stands below. */
function firstOf(message) {
  const words = onScreen(message);
  return /^.*?\.(?=\s|$)/.exec(words)?.[0] ?? words;
}

function showVerdict(answer, baseline, groups, others, unknown) {
  const judged = answer.imbalance;
  const word = byId("word");
  if (!judged) {
    word.dataset.state = "waiting";
    say(byId("verdict-words"), "Nothing flows.");
    return;
  }
  const isError = (each) => each.severity === "error";
  const errors = answer.findings.filter(isError);
  const tolerance = `±${short(judged.max_deviation_percent)} %`;
  let text = "";
  if (errors.length) {
    word.dataset.state = "fault";
    text = firstOf(errors[0].message);
    if (errors.length > 1) text += ` ${errors.length - 1} more error${errors.length > 2 ? "s" : ""} below.`;
  } else if (judged.within_tolerance) {
    word.dataset.state = unknown ? "open" : "even";
    text = answer.loops.length === 1 ? "One loop takes all of the flow."
      : `${judged.target === "even" ? "Even" : "As asked"}: every loop is within ${tolerance} of ${SHARES[judged.target]}.`;
  } else {
    word.dataset.state = "uneven";
    const parts = [["starved", "gets", "get", "less"], ["greedy", "takes", "take", "more"]].flatMap(([flag, ...words]) => {
      const found = groups.filter((each) => each.flag === flag);
      return found.length ? [offTarget(found, words)] : [];
    });
    const [first = "Some loop is further", ...rest] = parts;
    const than = `${first} ${parts.length ? "than" : "from"} ${SHARES[judged.target]}`;
    text = `${judged.target === "even" ? "Uneven" : "Off target"}. ${[than, ...rest].join("; ")}. ${tolerance} is allowed.`;
  }
  // What is wrong with the job as a whole comes before how even the flow is.
  const wrong = errors.length ? [] : [...new Set(others.filter(isError).map((each) => each.message))];
  if (wrong.length) {
    word.dataset.state = "fault";
    const more = wrong.length > 1 ? ` ${wrong.length - 1} more error${wrong.length > 2 ? "s" : ""} below.` : "";
    text = `${firstOf(wrong[0])}${more} ${judged.within_tolerance ? `The flow alone is within ${tolerance}.` : text}`;
  }
  if (unknown && judged.within_tolerance && !errors.length) text += ` ${unknown}`;
  say(byId("verdict-words"), text);
  const before = baseline?.imbalance;
  const spread = `Spread ${fixed(judged.spread_percent, 1)} %`;
  byId("was-spread").textContent = before && Math.abs(before.spread_percent - judged.spread_percent) > 0.05
    ? `${spread}, was ${fixed(before.spread_percent, 1)} %` : spread;
}

/** Draw what depends on the width of the page. */
export function showPictures({ job, answer, baseline, open }) {
  const box = byId("picture");
  const width = Math.max(280, Math.floor(box.clientWidth));
  const { drawing, hidden } = arrayPicture({ job, answer, baseline, width, open });
  box.replaceChildren(drawing);
  byId("picture-key").textContent = "Line weight is flow: loops on one scale, headers on another. "
    + "Dots mark pipe that a shorter loop does not have."
    + (baseline && baseline !== answer ? " An I-beam marks the deviation compared with." : "")
    + (answer.closed_loops.length ? ` Closed, not drawn: ${listed(answer.closed_loops.map((each) => each.loop))}.` : "")
    + (hidden ? ` ${hidden} loops nearest to even are not drawn; the table of loops as CSV has all.` : "");
  const curve = byId("curve");
  curve.replaceChildren(curvePicture({
    job, answer, baseline: baseline === answer ? null : baseline,
    width: Math.max(240, Math.floor(curve.clientWidth)),
  }));
}

const loopButton = (name, where, open) => button(name, "link", () => open(where));

function showWhy(answer, groups, open) {
  const judged = answer.imbalance;
  const panel = byId("why");
  if (!judged) {
    panel.replaceChildren(el("p", { text: "Nothing flows, so there is nothing to compare." }));
    return;
  }
  const index = answer.loops.find((loop) => loop.loop === judged.index_loop);
  const flagged = groups.filter(({ flag }) => flag);
  const [shown, rest] = [flagged.slice(0, MOST_FLAGGED), flagged.slice(MOST_FLAGGED)];
  panel.replaceChildren(...[
    shown.length ? el("ul", { class: "flagged" }, shown.map((each) => el("li", { class: each.flag },
      loopButton(each.loop, each.where, open),
      ` ${signed(each.deviation)}, ${each.words}`)),
    rest.length ? el("li", { text: `and ${rest.reduce((sum, { count }) => sum + count, 0)} more loops, in the table below` }) : null) : null,
    judged.causes.length
      ? el("ul", { class: "causes" }, judged.causes.map((text) => el("li", { text: `because ${inUnits(text)}` })))
      : el("p", { text: judged.within_tolerance ? "The loops' paths are alike." : "No single cause stands out." }),
    judged.remedies.length ? el("h3", { text: "What to change" }) : null,
    judged.remedies.length
      ? el("ul", { class: "remedies" }, judged.remedies.map((text) => el("li", { text: inUnits(text) }))) : null,
    answer.loops.length > 1 ? el("p", { class: "quiet" }, "Index loop, which needs the most head: ",
      index ? loopButton(index.loop, index.where, open) : judged.index_loop, ".") : null,
  ].filter(Boolean));
}

function showHead({ pump: { drops } }) {
  const parts = [
    ["array", "array", drops.array_drop_kpa],
    ["runs", "plant runs", drops.runs_drop_kpa],
    ["exchanger", "heat exchanger", drops.heat_exchanger_drop_kpa],
  ];
  const total = parts.reduce((sum, [, , value]) => sum + value, 0) || 1;
  byId("head-parts").replaceChildren(el("dl", { class: "parts" }, parts.map(([name, words, value]) => {
    const bar = el("i", { class: `share ${name}`, "aria-hidden": "true" });
    bar.style.width = `${(100 * value / total).toFixed(1)}%`;
    return [el("dt", { text: words }), el("dd", {}, el("span", { text: value || name !== "exchanger" ? dropWords(value) : "not told" }),
      el("span", { class: "quiet", text: ` ${fixed(100 * value / total, 0)} %` }), bar)];
  })));
}

/** What the job's own pump drives, where it has one. */
function showRunning({ running = [], findings }, { pump }) {
  const errors = findings.some((each) => each.severity === "error");
  byId("running").replaceChildren(...running.map((each) => el("p", {
    text: `${pump.name}, ${each.condition}: ${each.flow_l_s === undefined ? each.reason
      : `${flowWords(each.flow_l_s)} at ${digits(each.head_m)} m, ${fixed(each.power_w, 0)} W, `
        + `spread ${fixed(each.spread_percent, 1)} %, ${evenness(each.within_tolerance, errors)}.`}`,
  })));
}

function showTable(answer, list, open) {
  const columns = [
    ["Loop", ""], ["Pipe", "m"], ["Flow", units.flow], ["Off target", ""], ["Velocity", "m/s"], ["Re", ""],
    ["Regime", ""], ["Drop", units.drop], ["straight", ""], ["coil", ""], ["fittings", ""], ["headers", ""],
  ];
  const rows = list.map(({ kind, loop, flag, title, ...chamber }) => (kind === "circuit" ? {
    mark: "chamber",
    cells: [`${chamber.name || "A chamber"}: ${chamber.count} loop${chamber.count === 1 ? "" : "s"}`, "", digits(inFlow(chamber.flow)),
      signed(chamber.deviation), ...Array(8).fill("")],
  } : {
    mark: flag.flag || null,
    cells: [
      loopButton(title, loop.where, open), fixed(loop.length_m, 0), digits(inFlow(loop.flow_l_s)),
      flag.flag ? [`${SIGNS[flag.flag]} ${signed(loop.deviation_percent, 1)}`,
        el("span", { class: "aside", text: ` ${flag.words}` })] : signed(loop.deviation_percent),
      fixed(loop.velocity_m_s, 2), fixed(loop.reynolds, 0), loop.regime, digits(inDrop(loop.drop_kpa), 4),
      ...["straight", "coil", "fittings", "headers"].map((name) => digits(inDrop(loop.drops[`${name}_drop_kpa`]))),
    ],
  }));
  byId("loops-table").replaceChildren(table("Flow and drop of every loop", columns, rows));
  const title = "Pipe, flow and drop of every stretch of header";
  const stretches = answer.headers.map((each) => [
    loopButton(each.branch, each.where, open), each.line, each.pipe, fixed(each.length_m, 1),
    digits(inFlow(each.flow_l_s)), fixed(each.velocity_m_s, 2), digits(inDrop(each.drop_kpa)),
  ]);
  byId("headers-table").replaceChildren(...(stretches.length ? [el("details", {}, el("summary", { text: title }),
    table(title, [["At", ""], ["Header", ""], ["Pipe", ""], ["Length", "m"], ["Flow", units.flow],
      ["Velocity", "m/s"], ["Drop", units.drop]], stretches))] : []));
}

/** Show a problem (RFC 9457), each fault with a way to its field; none hides it. */
export function showProblem(problem, goTo) {
  const box = byId("problem");
  box.hidden = !problem;
  byId("stale").hidden = !problem;
  byId("picture").classList.toggle("stale", Boolean(problem));
  box.replaceChildren();
  if (!problem) return;
  const errors = problem.errors ?? [];
  const type = typeof problem.type === "string" && problem.type.startsWith("/v1/problems/") ? problem.type : null;
  byId("word").dataset.state = "fault";
  say(byId("verdict-words"), errors.length > 1 ? `Not solved: ${errors.length} faults.` : `Not solved: ${problem.detail}`);
  byId("was-spread").textContent = byId("picture").childElementCount
    ? "The numbers and pictures are from before the fault." : "";
  box.replaceChildren(...[
    ...problemBox(problem, goTo).childNodes,
    type ? el("p", {}, el("a", { href: type, text: "What this kind of problem means" })) : null,
  ].filter(Boolean));
}
