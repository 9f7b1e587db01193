// Pieces that every step's result is made of: facts, tables, findings, cautions, small charts.

import { button, el, fixed, inPrint, short, svg } from "./dom.js";
import { onScreen } from "./faults.js";
import { inFlow, units } from "./units.js";

const SEVERITIES = { error: ["■", "Error"], warning: ["▲", "Warning"], info: ["●", "Note"] };
const ORDER = Object.keys(SEVERITIES);
const MOST_ROWS = 500;

/** Names and values; a value is text or nodes; a pair with no value is left out. */
export function facts(pairs) {
  return el("dl", { class: "facts" }, pairs
    .filter(([, value]) => value !== undefined && value !== null)
    .map(([name, value]) => el("div", {}, el("dt", { text: name }), el("dd", {}, value))));
}

/** A table in a region of its own that scrolls sideways where it must, by keyboard as well.
 *
 * `columns` are [name, unit]; a row is a list of cells, the first its heading, or { cells, mark,
 * under } where it is marked or something stands beneath it. */
export function table(title, columns, rows, { textLast = false } = {}) {
  const body = rows.slice(0, MOST_ROWS).flatMap((row) => {
    const { cells, mark, under } = Array.isArray(row) ? { cells: row } : row;
    const [head, ...rest] = cells;
    return [
      el("tr", { class: mark }, el("th", { scope: "row" }, head),
        rest.map((cell, at) => el("td", { class: textLast && at === rest.length - 1 ? "text" : null }, cell))),
      under ? el("tr", { class: `under ${mark ?? ""}` }, el("td", { colspan: columns.length }, under)) : null,
    ].filter(Boolean);
  });
  return el("div", { class: "scroller", role: "region", "aria-label": title, tabindex: 0 },
    el("table", {},
      rows.length > MOST_ROWS
        ? el("caption", { text: `The first ${MOST_ROWS} of ${rows.length}; the answer as JSON has all.` }) : null,
      el("thead", {}, el("tr", {}, columns.map(([name, unit], at) => el("th", {
        scope: "col", class: textLast && at === columns.length - 1 ? "text" : null,
      }, name, unit ? el("span", { class: "unit", text: ` ${unit}` }) : null)))),
      el("tbody", {}, body)));
}

/** Whether a place is in the job as it is, not in what an answer decides. */
const inJob = (where) => Boolean(where) && !where.startsWith("/decides/");

/** Findings, worst first, each with its source and a way to its place. */
export function findingsOf(findings, open) {
  if (!findings.length) return el("ul", { class: "findings" }, el("li", { text: "Nothing to note." }));
  const sorted = [...findings].sort((a, b) => ORDER.indexOf(a.severity) - ORDER.indexOf(b.severity));
  return el("ul", { class: "findings" }, sorted.slice(0, 60).map((each) => {
    const [icon, word] = SEVERITIES[each.severity];
    return el("li", { class: each.severity },
      el("b", {}, el("span", { "aria-hidden": "true", class: "icon", text: icon }), word),
      el("div", {}, el("p", { text: onScreen(each.message, each.where) }),
        el("p", { class: "quiet" }, each.source, inJob(each.where) ? [" · ", button("go to it", "link", () => open(each.where))] : null)));
  }));
}

/** The worst of errors and warnings among findings, by its sign and how many are as bad; null where there is neither. */
export function worstOf(findings) {
  const kind = ["error", "warning"].find((each) => findings.some(({ severity }) => severity === each));
  if (!kind) return null;
  const count = findings.filter(({ severity }) => severity === kind).length;
  return { kind, sign: SEVERITIES[kind][0], words: `${count} ${kind}${count === 1 ? "" : "s"}` };
}

/** How even a split is; what cannot be is neither even nor uneven. */
export function evenness(within, errors) {
  if (errors) return "■\u00a0error";
  return within ? "=\u00a0even" : "▼\u00a0uneven"; // the sign and its word stay together
}

/** What to mind before anyone acts, where it cannot be overlooked. */
export function hurtBox(title, cautions) {
  return el("section", { class: "hurt", "aria-label": title },
    el("h3", { text: title }), el("ul", {}, cautions.map((text) => el("li", { text }))));
}

/** A problem (RFC 9457), each fault with a way to its field. */
export function problemBox(problem, goTo) {
  const errors = problem.errors ?? [];
  return el("section", { class: "problem", "aria-label": "Faults" },
    el("h3", { text: problem.title ?? "Not answered" }),
    errors.length ? el("ul", {}, errors.map((each) => el("li", {},
      el("span", { text: each.detail }), " ",
      typeof each.pointer === "string"
        ? button(`go to ${each.place ?? (each.pointer || "the job")}`, "link", () => goTo(each.pointer)) : null))) : el("p", { text: problem.detail ?? "No reason was given." }));
}

/** How it was computed, folded. */
export function methodOf(method, notes = []) {
  return el("details", {}, el("summary", { text: "Method, and what it leaves out" }),
    notes.length ? el("ul", { class: "cautions" }, notes.map((text) => el("li", { text }))) : null,
    Object.entries(method).map(([name, text]) =>
      el("p", { text: inPrint(`${name[0].toUpperCase()}${name.slice(1)}: ${text}`) })));
}

export const titled = (title, ...nodes) =>
  el("section", { class: "part" }, el("h3", { text: title }), nodes);

export const MONTHS = ["January", "February", "March", "April", "May", "June", "July", "August",
  "September", "October", "November", "December"];

/** Round steps from least to most, about so many. */
export function stepsBetween(least, most, about) {
  const rough = Math.max(1e-9, most - least) / about;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 2.5, 5, 10].map((each) => each * power).find((each) => each >= rough * 0.999);
  const found = [];
  for (let at = Math.ceil(least / step - 1e-9) * step; at <= most + step * 1e-6; at += step) found.push(at);
  return found;
}

export const svgWords = (x, y, text, name, anchor) =>
  svg("text", { x, y, class: name, "text-anchor": anchor, text });

/** Line of a chart from points on the paper. */
export const linePath = (points) =>
  points.map(([x, y], at) => `${at ? "L" : "M"}${x.toFixed(1)} ${y.toFixed(1)}`).join("");

/** Axes and grid of head over flow, marked in the units chosen; `perHead` makes of a head what is marked. */
export function flowAxes({ x0, x1, y0, y1, X, Y, mostFlow, mostHead, unit, perHead = 1, narrow }) {
  const perFlow = inFlow(1);
  return [
    stepsBetween(0, mostHead * perHead, 5).map((each) => [
      svg("line", { class: "grid", x1: x0, x2: x1, y1: Y(each / perHead), y2: Y(each / perHead) }),
      svgWords(x0 - 6, Y(each / perHead) + 4, short(each, 6), "quiet", "end")]),
    stepsBetween(0, mostFlow * perFlow, narrow ? 4 : 6)
      .map((each) => svgWords(X(each / perFlow), y0 + 16, short(each, 6), "quiet", "middle")),
    svg("path", { class: "axis", d: `M${x0} ${y1}V${y0}H${x1}` }),
    svgWords(x1, y0 + 32, `flow, ${units.flow}`, "quiet", "end"),
    svgWords(x0 + 5, y1 - 2, unit, "quiet"),
  ];
}

/** Temperatures along months or years: brine from the ground, brine to it, and the limit. */
export function temperatureChart({ points, limit, width, said, every = 1 }) {
  const height = 190;
  const [x0, x1, y0, y1] = [34, width - 12, height - 24, 14];
  const all = points.flatMap((each) => [each.back, each.out]).concat(limit);
  const least = Math.min(...all) - 0.5;
  const most = Math.max(...all) + 0.5;
  const X = (at) => x0 + 6 + (points.length > 1 ? at / (points.length - 1) : 0.5) * (x1 - x0 - 12);
  const Y = (value) => y0 - (value - least) / (most - least) * (y0 - y1);
  const line = (name) => linePath(points.map((each, at) => [X(at), Y(each[name])]));
  const low = points.reduce((found, each, at) => (each.back < points[found].back ? at : found), 0);
  const near = (at) => (at < points.length / 2 ? "start" : "end");
  const clear = Y(points[low].back) - Y(limit);
  return svg("svg", {
    class: "chart", viewBox: `0 0 ${width} ${height}`, width, height, role: "img", "aria-label": said,
  },
  stepsBetween(least, most, 4).map((each) => [
    svg("line", { class: "grid", x1: x0, x2: x1, y1: Y(each), y2: Y(each) }),
    svgWords(x0 - 5, Y(each) + 4, short(each), "quiet", "end")]),
  points.map((each, at) => (at % every ? null : svgWords(X(at), height - 8, each.label, "quiet", "middle"))),
  svg("line", { class: "limit", x1: x0, x2: x1, y1: Y(limit), y2: Y(limit) }),
  svg("path", { class: "goes", d: line("out") }),
  svg("path", { class: "comes", d: line("back") }),
  points.length <= 24 ? points.map((each, at) =>
    svg("circle", { class: "comesdot", cx: X(at), cy: Y(each.back), r: 2.2 })) : null,
  svg("circle", { class: "lowest", cx: X(low), cy: Y(points[low].back), r: 5 }),
  svgWords(X(low) + (near(low) === "start" ? 8 : -8), Y(points[low].back) + (clear > -18 ? -9 : 16),
    `${fixed(points[low].back, 1)} °C`, "curvelabel", near(low)),
  svgWords(x1 - 2, Y(limit) + (clear > 0 ? -5 : 14), `limit ${short(limit)} °C`, "quiet", "end"));
}

/** Bars that lead from one temperature to another: `steps` are [words, kelvin]; narrower where they warm. */
export function stepsChart({ from, steps, width, said }) {
  const height = 170;
  const [x0, y0, y1] = [34, height - 24, 18];
  const levels = steps.reduce((all, [, by]) => [...all, all.at(-1) + by], [from]);
  const [least, most] = [Math.min(0, ...levels), Math.max(0, ...levels)];
  const Y = (value) => y0 - (value - least) / (most - least || 1) * (y0 - y1);
  const bars = [["ground", 0, from], ...steps.map(([words], at) => [words, levels[at], levels[at + 1]]),
    ["return", 0, levels.at(-1)]];
  const each = (width - x0) / bars.length;
  return svg("svg", {
    class: "chart", viewBox: `0 0 ${width} ${height}`, width, height, role: "img", "aria-label": said,
  },
  svg("line", { class: "grid", x1: x0, x2: width, y1: Y(0), y2: Y(0) }),
  svgWords(x0 - 5, Y(0) + 4, "0 °C", "quiet", "end"),
  bars.map(([words, begin, end], at) => {
    const whole = at === 0 || at === bars.length - 1;
    const wide = each * (whole || end < begin ? 0.7 : 0.4);
    const middle = x0 + (at + 0.5) * each;
    const top = Y(Math.max(begin, end));
    const told = whole ? fixed(end, 1) : `${end < begin ? "−" : "+"}${fixed(Math.abs(end - begin), 1)}`;
    return [
      svg("rect", { class: whole ? "bar whole" : "bar", x: middle - wide / 2, width: wide, y: top,
        height: Math.max(Y(Math.min(begin, end)) - top, 1) }),
      svgWords(middle, top - 4, told, "curvelabel", "middle"),
      svgWords(middle, height - 6, words, "quiet", "middle")];
  }));
}
