// Draws the array unrolled: every loop's pipe to one scale between its two headers, the weight of
// each line its flow, and beside it the deviation from its target flow.

import { digits, fixed, short, signed, svg } from "./dom.js";
import { isObject, legLengths } from "./job.js";
import { flowAxes, linePath, svgWords as words } from "./parts.js";
import { dropWords, flowWords, inDrop, units } from "./units.js";

const MOST_ROWS = 120;

/** Which loops want attention: `flag` is "starved", "greedy" or "", with words for people. */
export function flagsOf(answer) {
  const judged = answer.imbalance;
  const uneven = judged !== undefined && !judged.within_tolerance;
  const least = Math.min(...answer.loops.map((loop) => loop.deviation_percent));
  return answer.loops.map((loop) => {
    const deviation = loop.deviation_percent;
    const past = judged ? judged.max_deviation_percent : Infinity;
    let flag = "";
    let words = "";
    if (uneven && deviation < -past) {
      [flag, words] = ["starved", deviation - least < 0.05 ? "most starved" : "starved"];
    }
    if (uneven && deviation > past) [flag, words] = ["greedy", "takes too much"];
    return { where: loop.where, loop: loop.loop, deviation, flag, words };
  });
}

const ALIKE_PERCENT = 0.05; // deviations that print alike
const TOGETHER_PERCENT = 2; // a chamber is spoken of as one where its loops' deviations are so near

/** Equal loops of one branch that flow alike, as one: { loop, flag, count, title }, in the order of the answer. */
function alike({ loops }, flags) {
  const stems = loops.map(({ loop }) => /^(.+)-\d+$/s.exec(loop)?.[1]);
  const copies = new Map();
  for (const { where } of loops) copies.set(where, (copies.get(where) ?? 0) + 1);
  const groups = [];
  loops.forEach((loop, at) => {
    const last = groups.at(-1);
    if (last && stems[at] && last.stem === stems[at] && last.loop.where === loop.where && last.flag.flag === flags[at].flag
      && Math.abs(last.flag.deviation - flags[at].deviation) < ALIKE_PERCENT) {
      last.count += 1;
      last.title = last.count === copies.get(loop.where) ? `${last.stem} × ${last.count}`
        : `${last.loop.loop} to ${loop.loop.split("-").at(-1)}`;
    } else groups.push({ loop, flag: flags[at], count: 1, stem: stems[at], title: loop.loop });
  });
  return groups;
}

/** The tree of circuits with a row for each loop, in the order of the answer. A circuit has the flow of
 * its loops, their number and their deviation together. */
function treeOf(job, answer, flags) {
  const queues = new Map();
  for (const group of alike(answer, flags)) {
    if (!queues.has(group.loop.where)) queues.set(group.loop.where, []);
    queues.get(group.loop.where).push(group);
  }
  const rows = [];
  const circuitAt = (circuit, pointer, depth, name) => {
    const node = { kind: "circuit", name, where: pointer, depth, arrangement: circuit.arrangement, children: [] };
    for (const [index, branch] of (circuit.branches ?? []).entries()) {
      const place = `${pointer}/branches/${index}`;
      const times = Number.isInteger(branch.count) ? branch.count : 1;
      if (isObject(branch.circuit)) {
        for (let copy = 0; copy < times; copy += 1) {
          const label = branch.circuit.name ?? "";
          const number = times > 1 ? `${label || "circuit"} ${copy + 1}` : label;
          const child = circuitAt(branch.circuit, `${place}/circuit`, depth + 1, number);
          child.route = (branch.runs ?? []).reduce((sum, run) => sum + (Number(run.length_m) || 0), 0);
          if (child.children.length) node.children.push(child);
        }
        continue;
      }
      for (let copy = 0; copy < times;) {
        const found = queues.get(place)?.shift();
        if (!found) break;
        copy += found.count;
        const [flow, target] = ["flow_l_s", "target_flow_l_s"].map((each) => found.count * found.loop[each]);
        const row = { kind: "loop", branch, depth, flow, target, ...found };
        rows.push(row);
        node.children.push(row);
      }
    }
    const sum = (of) => node.children.reduce((so, child) => so + of(child), 0);
    Object.assign(node, { flow: sum(({ flow }) => flow), target: sum(({ target }) => target), count: sum(({ count }) => count) });
    node.deviation = node.target > 0 ? 100 * (node.flow / node.target - 1) : 0;
    return node;
  };
  const root = circuitAt(job.array, "/array", 0, "");
  return { root, rows };
}

/** Chambers and loops in the order of the answer, each chamber before its own. */
export function listOf({ job, answer, flags }) {
  const list = (node) => (node.kind === "loop" ? [node] : [...node.depth ? [node] : [], ...node.children.flatMap(list)]);
  return list(treeOf(job, answer, flags).root);
}

/** What deviates, in groups: a chamber all of whose loops take about as much too little, or too much, is
 * one, with its deviation as a whole; so are equal loops that flow alike. */
export function groupsOf({ job, answer, flags }) {
  const flagsIn = (node) => (node.kind === "loop" ? [node.flag] : node.children.flatMap(flagsIn));
  const groups = (node) => {
    if (node.kind === "loop") return [{ ...node.flag, loop: node.title, count: node.count }];
    const inside = flagsIn(node);
    const flag = inside[0]?.flag;
    const off = inside.map(({ deviation }) => deviation);
    if (node.depth > 0 && node.count > 1 && flag && inside.every((each) => each.flag === flag)
      && Math.max(...off) - Math.min(...off) < TOGETHER_PERCENT) {
      return [{ where: node.where.replace(/\/circuit$/, ""), loop: `${node.name || "a chamber"}, all ${node.count} loops,`, count: node.count, isChamber: true,
        flag, deviation: node.deviation, words: inside.find(({ words }) => words === "most starved")?.words ?? inside[0].words }];
    }
    return node.children.flatMap(groups);
  };
  return groups(treeOf(job, answer, flags).root);
}

/** Mark the rows that are drawn: all, or, of very many, those furthest from even. */
function choose(rows) {
  let shown = rows;
  if (rows.length > MOST_ROWS) {
    shown = [...rows].sort((a, b) => Math.abs(b.flag.deviation) - Math.abs(a.flag.deviation))
      .slice(0, MOST_ROWS);
  }
  for (const row of shown) row.shown = true;
  return shown.length;
}

const anyShown = (node) => (node.kind === "loop" ? node.shown : node.children.some(anyShown));
const depthOf = (node) => (node.kind === "loop" ? 0
  : 1 + Math.max(0, ...node.children.map(depthOf)));

/** Path of one leg of pipe from x along y, `width` long on the paper. */
function legPath({ kind, coils, passes }, x, y, width) {
  if (kind === "slinky" || kind === "coiled" || kind === "pond_mat") {
    const tight = kind !== "slinky";
    const size = tight ? 5 : 7;
    const count = Math.max(1, Math.min(coils || 99, Math.floor(width / (tight ? 5 : 8))));
    const step = width / count;
    let path = "";
    for (let each = 0; each < count; each += 1) {
      path += `c${step * 0.9} 0 ${step * 0.9} ${-2 * size} ${step * 0.5} ${-2 * size}`
        + `s${-step * 0.4} ${2 * size} ${step * 0.5} ${2 * size}`;
    }
    return `M${x} ${y}${path}`;
  }
  if (kind === "trench") {
    const count = Math.max(1, passes);
    const step = width / count;
    let path = "";
    for (let each = 0; each < count; each += 1) {
      const up = each % 2 ? 1 : -1;
      path += `v${up * 8}h${step}`;
    }
    return `M${x} ${y}${path}${count % 2 ? "v8" : ""}`;
  }
  if (kind === "borehole") {
    return `M${x} ${y - 4}L${x + width / 2 - 3} ${y + 8}q3 2 6 0L${x + width} ${y - 4}`;
  }
  return `M${x} ${y}h${width}`;
}

/** A sign that points down for too little, up for too much: its shape says it without colour. */
export const SIGNS = { starved: "▼", greedy: "△", "": "" };

function axisFor(answer, baseline) {
  const tolerance = answer.imbalance?.max_deviation_percent ?? 10;
  const all = [...answer.loops, ...(baseline?.loops ?? [])].map((loop) => Math.abs(loop.deviation_percent));
  return { tolerance, reach: Math.max(tolerance * 1.6, ...all.map((each) => Math.min(each, 400) * 1.08)) };
}

function summary(answer, flags) {
  const judged = answer.imbalance;
  if (!judged) return "Nothing flows.";
  const flagged = flags.filter(({ flag }) => flag).slice(0, 12)
    .map((each) => `${each.loop} ${signed(each.deviation)}, ${each.words}`);
  return `${answer.loops.length} loops. `
    + (flagged.length ? `${flagged.join("; ")}.` : `All within ±${short(judged.max_deviation_percent)} %.`)
    + " The table Every loop has the numbers.";
}

/** Draw the array.
 *
 * `width` is in CSS pixels; `open(where)` is called when a row is clicked. */
export function arrayPicture({ job, answer, baseline, width, open }) {
  const flags = flagsOf(answer);
  const { root, rows } = treeOf(job, answer, flags);
  const shownCount = choose(rows);
  const narrow = width < 620;
  const rowHeight = narrow ? 66 : shownCount > 12 ? 33 : 40;
  const inset = 15;
  const depth = depthOf(root) - 1;
  const nameWidth = narrow ? 0 : Math.min(150, Math.max(64, ...rows.filter((row) => row.shown)
    .map((row) => row.title.split("/").at(-1).length * 7.6 + 10)));
  const left = nameWidth + (narrow ? 8 : 14);
  const split = narrow ? Math.round(width * 0.6) : Math.round(width * 0.56);
  const right = split - (narrow ? 14 : 20);
  const from = left + inset * (depth + 1);
  const to = right - inset * (depth + 1);
  const barFrom = split + (narrow ? 4 : 16);
  const barTo = width - (narrow ? 52 : 134); // values stand beyond it
  const middle = (barFrom + barTo) / 2;
  const { tolerance, reach } = axisFor(answer, baseline);
  const atDeviation = (percent) =>
    middle + (Math.max(-reach, Math.min(reach, percent)) / reach) * (barTo - barFrom) / 2;
  const before = new Map((baseline?.loops ?? []).map((loop) => [loop.loop, loop.deviation_percent]));

  const longest = Math.max(1, ...rows.map((row) => row.loop.length_m));
  const scale = (to - from) / longest;
  const mean = root.flow / answer.loops.length || 1;
  const loopWeight = (flow) => Math.max(0.8, Math.min(8, 2.6 * flow / mean));
  const headerWeight = (flow) => 1.5 + 7.5 * flow / (root.flow || 1);

  const top = 34;
  let y = top + (narrow ? 8 : 14);
  const place = (node) => {
    if (node.kind === "loop") {
      node.y = y + (narrow ? 36 : rowHeight / 2);
      node.top = y;
      y += rowHeight;
      return;
    }
    if (node.depth > 0) {
      node.y = y + 14;
      y += narrow ? 24 : 26;
    }
    for (const child of node.children) if (anyShown(child)) place(child);
  };
  place(root);
  const height = y + (root.arrangement === "reverse_return" ? 24 : 14) + 18;

  const back = svg("g", {});
  const pipes = svg("g", { class: "pipes" });
  const front = svg("g", {});
  const line = (x1, y1, x2, y2, name, weight) => svg("line", {
    class: name, x1, y1, x2, y2, "stroke-width": weight ?? null,
  });

  // The tolerance band and the line of even flow run behind every row.
  back.append(
    svg("rect", {
      class: "band", x: atDeviation(-tolerance), y: top, height: y - top,
      width: atDeviation(tolerance) - atDeviation(-tolerance),
    }),
    line(atDeviation(-tolerance), top, atDeviation(-tolerance), y, "bandedge"),
    line(atDeviation(tolerance), top, atDeviation(tolerance), y, "bandedge"));

  const drawCircuit = (node, parent) => {
    const x0 = left + inset * node.depth;
    const x1 = right - inset * node.depth;
    const children = node.children.filter(anyShown);
    if (parent) {
      const outer = left + inset * parent.depth;
      const outerRight = right - inset * parent.depth;
      const title = node.name || "circuit";
      pipes.append(
        line(outer, node.y, x0, node.y, "header out", headerWeight(node.flow)),
        line(outerRight, node.y, x1, node.y, "header back", headerWeight(node.flow)));
      front.append(words(x0 + 12, node.y + 4,
        [title, !narrow && node.route ? `${short(node.route)} m away` : null, `${node.count} loop${node.count === 1 ? "" : "s"}`]
          .filter(Boolean).join(" · "), "circuitname"),
      words(width - (narrow ? 4 : 2), node.y + 4, narrow ? signed(node.deviation) : `${flowWords(node.flow)}  ${signed(node.deviation)}`, "circuitvalue", "end"));
    }
    const entry = parent ? node.y : top - 6;
    const ys = children.map((child) => child.y);
    if (node.arrangement === "manifold") {
      const weight = Math.max(4, headerWeight(node.flow));
      pipes.append(
        line(x0, entry, x0, ys.at(-1), "header out", weight),
        line(x1, entry, x1, ys.at(-1), "header back", weight));
      for (const at of ys) {
        front.append(svg("circle", { class: "port", cx: x0, cy: at, r: 2.2 }),
          svg("circle", { class: "port", cx: x1, cy: at, r: 2.2 }));
      }
    } else {
      // Flow still in the header after each branch; branches that are not drawn count too.
      let passed = 0;
      let above = entry;
      for (const child of node.children) {
        const left_ = node.flow - passed;
        passed += child.flow;
        if (!anyShown(child)) continue;
        pipes.append(line(x0, above, x0, child.y, "header out", headerWeight(left_)));
        if (node.arrangement === "direct_return") {
          pipes.append(line(x1, above, x1, child.y, "header back", headerWeight(left_)));
        } else if (above !== entry) {
          pipes.append(line(x1, above, x1, child.y, "header back", headerWeight(passed - child.flow)));
        }
        above = child.y;
      }
      if (node.arrangement === "reverse_return") {
        const low = ys.at(-1) + (narrow ? 14 : 16);
        const out = x1 + (parent ? inset * 0.62 : inset);
        pipes.append(svg("path", {
          class: "header back", d: `M${x1} ${ys.at(-1)}V${low}H${out}V${entry}`,
          "stroke-width": headerWeight(node.flow),
        }));
      }
    }
    for (const child of children) {
      if (child.kind === "circuit") drawCircuit(child, node);
      else drawLoop(child, x0, x1);
    }
  };

  const drawLoop = (row, x0, x1) => {
    const { loop, flag } = row;
    const at = row.y;
    const group = svg("g", { class: `row ${flag.flag}`, "data-where": loop.where, onclick: () => open(loop.where) });
    group.append(svg("rect", { class: "hit", x: 0, y: row.top, width, height: rowHeight }));
    if (narrow) group.append(line(0, row.top + rowHeight - 2, width, row.top + rowHeight - 2, "rule"));
    // The pipe starts at a common x, so that lengths compare along one edge whatever the nesting.
    group.append(line(x0, at, from, at, "link"));
    const weight = loopWeight(loop.flow_l_s);
    const legs = legLengths(row.branch.loop).filter((leg) => leg.length > 0);
    const drawn = legs.reduce((sum, leg) => sum + leg.length, 0) || 1;
    let x = from;
    let path = "";
    for (const leg of legs) {
      const long = leg.length / drawn * loop.length_m * scale;
      path += legPath(leg, x, at, long);
      x += long;
    }
    group.append(svg("path", { class: "pipe", d: path, "stroke-width": weight }));
    group.append(line(x, at - 4, x, at + 4, "pipeend"));
    if (to - x > 3) group.append(line(x, at, to, at, "gap"));
    group.append(line(Math.max(x, to), at, x1, at, "link"));

    const bar = atDeviation(flag.deviation);
    const [b0, b1] = [Math.min(middle, bar), Math.max(middle, bar)];
    const barY = narrow ? at - 3 : at;
    group.append(svg("rect", { class: "bar", x: b0, y: barY - 7, width: Math.max(1, b1 - b0), height: 14 }));
    if (before.has(loop.loop) && Math.abs(before.get(loop.loop) - flag.deviation) > 0.05) {
      const was = atDeviation(before.get(loop.loop));
      group.append(svg("path", { class: "waspoint", d: `M${was} ${barY - 11}v22m-3 -22h6m-6 22h6` }));
    }
    const name = row.title.split("/").at(-1);
    const most = Math.max(4, Math.floor(narrow ? width / 18 : nameWidth / 7.4));
    const brief = name.length > most ? `${name.slice(0, most - 1)}…` : name;
    const flagged = `${SIGNS[flag.flag]} ${flag.words}`;
    const value = signed(flag.deviation);
    const flow = flowWords(loop.flow_l_s);
    const length = `${fixed(loop.length_m, 0)} m`;
    if (narrow) {
      group.append(words(from - 8, row.top + 15, brief, "name"),
        words(from - 8, row.top + 56, `${flow} · ${length}`, "quiet"),
        words(width - 4, row.top + 15, value, "value", "end"));
      if (flag.flag) group.append(words(width - 4, row.top + 56, flagged, "flagwords", "end"));
    } else {
      group.append(words(2, at - 1, brief, "name"), words(2, at + 13, length, "quiet"));
      group.append(words(width - 2, at - 2, `${flow}  ${value}`, "value", "end"));
      if (flag.flag) {
        group.append(words(width - 2, at + 13, flagged, "flagwords", "end"));
      }
    }
    front.append(group);
  };
  drawCircuit(root, null);
  front.append(line(middle, top, middle, y, "even"));

  const heads = svg("g", { class: "headings" });
  heads.append(
    svg("path", { class: "arrow out", d: `M${left - 5} ${top - 16}h10l-5 9z` }),
    svg("path", {
      class: "arrow back",
      d: `M${(root.arrangement === "reverse_return" ? right + inset : right) - 5} ${top - 7}h10l-5 -9z`,
    }),
    words(left + 9, top - 8, "from pump", "quiet"),
    words(right - 9, top - 8, "to pump", "quiet", "end"),
    words(middle, top - 20, narrow ? "off target" : "deviation from target flow", "quiet", "middle"),
    ...narrow ? [words(middle, top - 5, `±${short(tolerance)} %`, "quiet", "middle")] : [
      words(atDeviation(-tolerance) + 4, top - 5, `−${short(tolerance)} %`, "quiet", "end"),
      words(atDeviation(tolerance) - 4, top - 5, `+${short(tolerance)} %`, "quiet")]);

  // A scale bar of a round length, under the pipes.
  const round = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000]
    .filter((each) => each <= longest * 0.4).at(-1) ?? 1;
  const foot = height - 10;
  heads.append(
    svg("path", { class: "scalebar", d: `M${from} ${foot - 5}v5h${round * scale}v-5` }),
    words(from + round * scale + 6, foot, `${round} m of pipe`, "quiet"));

  const title = svg("title", { text: "The array, unrolled, with each loop's deviation from its target flow" });
  const desc = svg("desc", { text: summary(answer, flags) });
  const drawing = svg("svg", {
    class: "array", viewBox: `0 0 ${width} ${height}`, width, height, role: "img",
    "aria-label": `The array, unrolled. ${summary(answer, flags)}`,
  }, title, desc, back, pipes, front, heads);
  const hidden = rows.reduce((sum, row) => sum + (row.shown ? 0 : row.count), 0);
  return { drawing, hidden };
}

/** Draw the system curve with the duty on it, and the pump's own curve where one was given. */
export function curvePicture({ job, answer, baseline, width }) {
  const height = Math.round(Math.min(300, Math.max(220, width * 0.62)));
  const [x0, x1, y0, y1] = [46, width - 12, height - 38, 16];
  const duty = answer.pump;
  const perMetre = duty.head_m > 0 ? duty.head_kpa / duty.head_m : 9.81;
  const points = [{ flow_l_s: 0, head_kpa: 0 }, ...answer.system_curve];
  const pump = (job.duty?.pump_curve ?? [])
    .map((point) => ({ flow_l_s: point.flow_l_s, head_kpa: point.head_m * perMetre }));
  const was = baseline ? [{ flow_l_s: 0, head_kpa: 0 }, ...baseline.system_curve] : [];
  const mostFlow = Math.max(1e-9, ...points.map((p) => p.flow_l_s), ...pump.map((p) => p.flow_l_s));
  const mostHead = Math.max(1e-9, ...points.map((p) => p.head_kpa), ...pump.map((p) => p.head_kpa)) * 1.04;
  const X = (flow) => x0 + (flow / mostFlow) * (x1 - x0);
  const Y = (head) => y0 - (head / mostHead) * (y0 - y1);
  const path = (list) => linePath(list.filter((p) => p.flow_l_s <= mostFlow && p.head_kpa <= mostHead)
    .map((p) => [X(p.flow_l_s), Y(p.head_kpa)]));
  const said = `System curve. Duty ${flowWords(duty.flow_l_s)} at ${dropWords(duty.head_kpa)}.`;
  return svg("svg", { class: "curve", viewBox: `0 0 ${width} ${height}`, width, height, role: "img", "aria-label": said },
    flowAxes({ x0, x1, y0, y1, X, Y, mostFlow, mostHead, unit: units.drop, perHead: inDrop(1), narrow: width < 380 }),
    was.length ? svg("path", { class: "wascurve", d: path(was) }) : null,
    pump.length ? svg("path", { class: "pumpcurve", d: path(pump) }) : null,
    svg("path", { class: "systemcurve", d: path(points) }),
    svg("path", {
      class: "dutylines",
      d: `M${x0} ${Y(duty.head_kpa)}H${X(duty.flow_l_s)}V${y0}`,
    }),
    svg("circle", { class: "dutypoint", cx: X(duty.flow_l_s), cy: Y(duty.head_kpa), r: 5.5 }),
    pump.length ? words(X(pump[0].flow_l_s) + 8, Y(pump[0].head_kpa) + 16, "pump", "curvelabel") : null,
    words(X(duty.flow_l_s) - 10, Y(duty.head_kpa) - 10,
      `${flowWords(duty.flow_l_s)}, ${dropWords(duty.head_kpa)}`, "curvelabel", "end"));
}
