// The plot to scale: its points are dragged, or moved by the arrow keys; what was set out lies on it.

import { digits, el, fixed, signed, svg } from "./dom.js";
import { onScreen } from "./faults.js";
import { below, byPlan, isObject, valueAt } from "./job.js";
import { facts } from "./parts.js";
import { flagsOf } from "./picture.js";
import { towards } from "./places.js";

const MARGIN = 30;
const HIGHEST = 620; // of the picture [px]
const LETTER = 7.4; // width of one, on the safe side [px]
const SVG_KEYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

const isPoint = (point) => isObject(point) && Number.isFinite(point.x_m) && Number.isFinite(point.y_m);
export const pointsOf = (list) => (Array.isArray(list) ? list.filter(isPoint) : []);

/** Corners of the plot, told one by one or by its two sides. */
export function cornersOf(plot) {
  if (!isObject(plot)) return [];
  const { boundary, length_m: long, width_m: wide } = plot;
  if (boundary !== undefined) return pointsOf(boundary);
  return long > 0 && wide > 0
    ? [[0, 0], [long, 0], [long, wide], [0, wide]].map(([x_m, y_m]) => ({ x_m, y_m })) : [];
}

/** Where pipes leave the building: as told, else the middle of the side at x = 0 of a plot by its sides. */
export const plantOf = (plot) => (isPoint(plot.plant_room) ? plot.plant_room
  : plot.boundary === undefined ? { x_m: 0, y_m: plot.width_m / 2 } : null);

const middleOf = (points) => ({
  x_m: points.reduce((sum, { x_m }) => sum + x_m, 0) / points.length,
  y_m: points.reduce((sum, { y_m }) => sum + y_m, 0) / points.length,
});

const shiftedBy = ({ x_m, y_m }, dx, dy) => ({ x_m: neat(x_m + dx), y_m: neat(y_m + dy) });
const neat = (value) => Number(value.toFixed(3));
/** A coordinate as it is read aloud: to a centimetre. */
const aloud = (value) => String(Number(value.toFixed(2))).replace("-", "−");

/** What can be moved: { key, kind, name, at, fewest, edit(dx, dy) } where `edit` gives the place of the
 * job and what it holds when the point has moved so far; `fewest` is of the list that a corner may leave. */
function movablesOf(plot, answer) {
  const found = [];
  const point = (place, kind, name, at, list) => isPoint(at) && found.push({
    key: place, kind, name, at, list, edit: (dx, dy) => [place, { ...at, ...shiftedBy(at, dx, dy) }],
  });
  const corners = (place, list, name, fewest) => (Array.isArray(list) ? list : []).forEach((at, index) =>
    point(below(place, index), "corner", `${name}, corner ${index + 1}`, at, { place, list, index, fewest }));
  corners("/plot/boundary", plot.boundary, "Plot", 3);
  corners("/plot/water", plot.water, "Water", 3);
  (Array.isArray(plot.keep_outs) ? plot.keep_outs : []).filter(isObject).forEach((each, index) => {
    const place = below("/plot/keep_outs", index);
    const name = String(each.name ?? `Keep-out ${index + 1}`);
    point(below(place, "centre"), "whole", name, each.centre);
    for (const [way, fewest] of [["outline", 3], ["line", 2]]) {
      const all = pointsOf(each[way]);
      if (!all.length || all.length !== each[way].length) continue;
      corners(below(place, way), each[way], name, fewest);
      found.push({ key: `${place} whole`, kind: "whole", name, at: middleOf(all),
        edit: (dx, dy) => [below(place, way), all.map((at) => shiftedBy(at, dx, dy))] });
    }
  });
  (Array.isArray(plot.trenches) ? plot.trenches : []).filter(isObject).forEach((each, index) => {
    const place = below(below("/plot/trenches", index), "points");
    const all = pointsOf(each.points);
    if (all.length < 2 || all.length !== each.points.length) return;
    found.push({ key: `${place} whole`, kind: "whole", name: `Trench of ${each.loop}`, at: middleOf(all),
      edit: (dx, dy) => [place, all.map((at) => shiftedBy(at, dx, dy))] });
    if (all.length > 2) return;
    // An end turns its trench about the other one: as long as before.
    all.forEach((at, end) => found.push({ key: below(place, end), kind: "corner", name: `Trench of ${each.loop}, end ${end + 1}`, at,
      edit: (dx, dy) => {
        const other = all[1 - end];
        const aim = shiftedBy(at, dx, dy);
        const long = Math.hypot(at.x_m - other.x_m, at.y_m - other.y_m);
        return [below(place, end), aim.x_m === other.x_m && aim.y_m === other.y_m ? at : towards(other, aim, long)];
      } }));
  });
  // So has a mat.
  const mats = Array.isArray(plot.mats) ? plot.mats : (answer?.mats ?? []).map(({ loop, x_m, y_m }) => ({ loop, x_m, y_m }));
  mats.filter(isPoint).length === mats.length && mats.forEach((at, index) => found.push({
    key: below("/plot/mats", index), kind: "whole", name: `Mat of ${at.loop}`, at,
    edit: (dx, dy) => ["/plot/mats", mats.map((each) => (each === at ? { ...at, ...shiftedBy(at, dx, dy) } : each))] }));
  const placed = answer?.chambers ?? [];
  if (Array.isArray(plot.chambers)) {
    plot.chambers.forEach((at, index) => point(below("/plot/chambers", index), "chamber", `Chamber ${at?.name}`, at));
  } else {
    // A chamber that was placed has a place of its own once it is moved, and so have the others.
    placed.forEach((at, index) => found.push({ key: below("/plot/chambers", index), kind: "chamber", name: `Chamber ${at.name}`, at,
      edit: (dx, dy) => ["/plot/chambers", placed.map(({ name, x_m, y_m, max_loops }, other) => ({ name, max_loops,
        ...shiftedBy({ x_m, y_m }, other === index ? dx : 0, other === index ? dy : 0) }))] }));
  }
  const plant = plantOf(plot);
  if (plant) {
    found.push({ key: "/plot/plant_room", kind: "plant", name: "Plant room", at: plant,
      edit: (dx, dy) => ["/plot/plant_room", shiftedBy(plant, dx, dy)] });
  }
  return found;
}

/** The picture of the plot, and `draw(answer, stale, words, split)` that draws what the job and the answer
 * hold, `stale` where the answer is of before a change, which `words` tells; `split` is the flow split of
 * the array that the plan gives, where there is one.
 *
 * `page` is what the bench gives; `changed(place)` is called when a list of corners has become longer or
 * shorter. */
export function planBoard(page, { changed }) {
  const ground = svg("g", {});
  const points = svg("g", { class: "points" });
  const drawing = svg("svg", { class: "plotplan", role: "group", "aria-label": "Plot to scale" }, ground, points);
  const figures = el("div", { class: "planfigures" });
  const key = el("p", { class: "key", text: "Drag a point, or move it with the arrow keys (half a metre; with Shift five); "
    + "a small ring on a side makes a new corner there, Delete takes a corner away. Exact numbers stand in the boxes below." });
  const sheet = el("div", { class: "plansheet" }, drawing);
  const legend = el("p", { class: "planlegend" });
  const box = el("div", { class: "planboard", role: "region", "aria-label": "The plan", tabindex: -1 }, sheet, figures, legend, key);
  const known = new Map(); // what is drawn of each movable, kept while it is dragged or has the focus
  let frame = null; // the part of the ground that is shown; held while something is dragged
  let last = { answer: null, stale: false, words: "", split: null };
  let taken = []; // where words stand in the picture: left, top, right and bottom of each
  let dragged = null;
  let keyed = null; // the point that was moved last, if by a key

  const onSheet = ({ x_m, y_m }) => [MARGIN + (x_m - frame.west) * frame.scale, MARGIN + (frame.north - y_m) * frame.scale];
  const path = (list) => list.map((each) => onSheet(each).map((value) => value.toFixed(1)).join(",")).join(" ");

  function fit(plot, corners) {
    const all = [...corners, plantOf(plot), ...pointsOf(plot.water), ...pointsOf(plot.chambers),
      ...(Array.isArray(plot.keep_outs) ? plot.keep_outs : []).filter(isObject)
        .flatMap((each) => [...pointsOf(each.outline), ...pointsOf(each.line), each.centre])].filter(isPoint);
    const x = all.map(({ x_m }) => x_m);
    const y = all.map(({ y_m }) => y_m);
    const west = Math.min(...x);
    const north = Math.max(...y);
    const long = Math.max(Math.max(...x) - west, 1);
    const high = Math.max(north - Math.min(...y), 1);
    const width = Math.max(240, Math.floor(sheet.clientWidth));
    const scale = Math.min((width - 2 * MARGIN) / long, (HIGHEST - 2 * MARGIN) / high);
    return { west, north, scale, width: Math.ceil(long * scale + 2 * MARGIN), height: Math.ceil(high * scale + 2 * MARGIN + 22) };
  }

  function move(movable, dx, dy, event) {
    const [place, value] = movable.edit(dx, dy);
    const before = valueAt(page.job(), place);
    page.edit(place, value, event);
    if (Array.isArray(value) && before?.length !== value.length) changed(place);
  }

  function onKey(movable, event) {
    const by = SVG_KEYS[event.key];
    const node = event.currentTarget;
    if (by) {
      event.preventDefault();
      const far = event.shiftKey ? 5 : 0.5;
      // Steps of one point in a row are undone together, as letters typed in one box are.
      move(movable(), by[0] * far, by[1] * far, { type: keyed === node ? "input" : event.type, timeStamp: event.timeStamp });
      keyed = node;
    } else if (event.key === "Delete" && movable().list) {
      event.preventDefault();
      const { place, list, index, fewest } = movable().list;
      if (list.length <= fewest) return page.say(`It keeps at least ${fewest} corners.`);
      page.edit(place, list.filter((_, each) => each !== index), event);
      changed(place);
    }
  }

  /** Take the point nearest to where the pointer goes down: where several lie close, one hides another's middle. */
  function onDown(event) {
    if (event.button > 0) return;
    event.preventDefault();
    const { left, top } = drawing.getBoundingClientRect();
    const away = ({ movable }) => {
      const [x, y] = onSheet(movable.at);
      return Math.hypot(event.clientX - left - x, event.clientY - top - y);
    };
    const { node, movable: start } = [...known.values()].reduce((one, other) => (away(other) < away(one) ? other : one));
    const target = node.querySelector(".grip");
    node.focus();
    keyed = null;
    target.setPointerCapture(event.pointerId);
    dragged = { x: event.clientX, y: event.clientY, moved: false };
    const onMove = (each) => {
      // Half metres where the picture shows them apart; else whole ones.
      const grid = frame.scale < 4 ? 1 : 0.5;
      const at = shiftedBy(start.at, (each.clientX - dragged.x) / frame.scale, -(each.clientY - dragged.y) / frame.scale);
      const dx = Math.round(at.x_m / grid) * grid - start.at.x_m;
      const dy = Math.round(at.y_m / grid) * grid - start.at.y_m;
      if (!dragged.moved && Math.hypot(each.clientX - dragged.x, each.clientY - dragged.y) < 3) return;
      // The first step of a drag is one that Undo goes back to; the others go on from it.
      move(start, dx, dy, dragged.moved ? undefined : each);
      dragged.moved = true;
    };
    const onUp = () => {
      target.removeEventListener("pointermove", onMove);
      dragged = null;
      draw();
    };
    target.addEventListener("pointermove", onMove);
    for (const end of ["pointerup", "pointercancel"]) target.addEventListener(end, onUp, { once: true });
  }

  /** The movables as they stand, each kept as the element that it was. */
  function drawPoints(plot) {
    const all = movablesOf(plot, last.answer);
    const keys = new Set(all.map((each) => each.key));
    for (const [each, { node }] of known) {
      if (keys.has(each)) continue;
      node.remove();
      known.delete(each);
    }
    for (const movable of all) {
      let drawn = known.get(movable.key);
      if (!drawn) {
        const own = () => known.get(movable.key).movable;
        const node = svg("g", {
          tabindex: 0, role: "button", "data-point": movable.key,
          onkeydown: (event) => onKey(own, event), onpointerdown: onDown,
        }, svg("circle", { class: "grip", r: 14 }), markOf(movable.kind));
        drawn = { node };
        known.set(movable.key, drawn);
        points.append(node);
      }
      drawn.movable = movable;
      const [x, y] = onSheet(movable.at);
      drawn.node.setAttribute("class", `point ${movable.kind}`);
      drawn.node.setAttribute("transform", `translate(${x.toFixed(1)} ${y.toFixed(1)})`);
      drawn.node.setAttribute("aria-label", `${movable.name}: x ${aloud(movable.at.x_m)}, y ${aloud(movable.at.y_m)} m`);
    }
  }

  function insert(place, list, index, at, event) {
    page.edit(place, [...list.slice(0, index + 1), at, ...list.slice(index + 1)], event);
    changed(place);
    known.get(below(place, index + 1))?.node.focus();
  }

  /** Whether words have room at a point, over no others; they then take it. */
  function hasRoom(x, y, words, { anchor = "middle", upright = false } = {}) {
    const long = LETTER * words.length;
    const left = anchor === "middle" ? x - long / 2 : x;
    const box = upright ? [x - 8, y - long / 2, x + 8, y + long / 2] : [left, y - 11, left + long, y + 4];
    if (taken.some((other) => box[0] < other[2] && other[0] < box[2] && box[1] < other[3] && other[1] < box[3])) return false;
    taken.push(box);
    return true;
  }

  /** Length of a side beside it, and a small ring that makes a corner. */
  function side(a, b, onclick) {
    const at = middleOf([a, b]);
    const [x, y] = onSheet(at);
    const long = Math.hypot(b.x_m - a.x_m, b.y_m - a.y_m);
    const [ax, ay] = onSheet(a);
    const [bx, by] = onSheet(b);
    const angle = Math.atan2(by - ay, bx - ax) * 180 / Math.PI;
    const turn = angle > 90 || angle <= -90 ? angle + 180 : angle;
    const words = `${digits(long)} m`;
    const off = turn * Math.PI / 180;
    const isTold = long * frame.scale >= 56
      && hasRoom(x + 7 * Math.sin(off), y - 7 * Math.cos(off), words, { upright: Math.abs(turn) > 45 });
    return [
      !isTold ? null : svg("g", { transform: `translate(${x.toFixed(1)} ${y.toFixed(1)}) rotate(${turn.toFixed(1)})` },
        svg("text", { class: "quiet", y: -7, "text-anchor": "middle", text: words })),
      onclick ? svg("g", { class: "newcorner", transform: `translate(${x.toFixed(1)} ${y.toFixed(1)})`, onclick: (event) => onclick(event, shiftedBy(at, 0, 0)) },
        svg("circle", { class: "grip", r: 11 }), svg("circle", { r: 3.5 })) : null,
    ];
  }

  function keepOut(each) {
    const clear = 2 * frame.scale * (each.clearance_m > 0 ? each.clearance_m : 0);
    if (isPoint(each.centre)) {
      const [x, y] = onSheet(each.centre);
      const r = frame.scale * (each.radius_m > 0 ? each.radius_m : 0);
      return [svg("circle", { class: "clearance", cx: x, cy: y, r: r + clear / 2 }), svg("circle", { class: "keepout", cx: x, cy: y, r: Math.max(3, r) }),
        svg("text", { class: "quiet", x, y: y - Math.max(3, r) - 5, "text-anchor": "middle", text: String(each.name ?? "") })];
    }
    const area = pointsOf(each.outline);
    const all = area.length ? area : pointsOf(each.line);
    if (all.length < 2) return null;
    const shape = area.length ? "polygon" : "polyline";
    const [x, y] = onSheet(middleOf(all));
    return [svg(shape, { class: "clearance", points: path(all), "stroke-width": Math.max(1, clear), ...area.length ? {} : { fill: "none" } }),
      svg(shape, { class: area.length ? "keepout" : "keepout line", points: path(all) }),
      svg("text", { class: "quiet", x, y: y + (area.length ? 20 : -6), "text-anchor": "middle", text: String(each.name ?? "") })];
  }

  function laid(answer) {
    const flags = byPlan(last.split ? flagsOf(last.split) : [], [...answer.trenches, ...answer.boreholes, ...answer.mats]);
    const wide = (metres) => Math.max(2, metres * frame.scale);
    const flow = (loop) => {
      const told = flags.get(loop);
      const off = told && Math.abs(told.deviation) >= 0.05;
      return { flag: told?.flag ?? "", words: off ? `${loop} ${signed(told.deviation)}` : loop };
    };
    // At the first of the places where it runs over no other: with its flow, else the name alone; else
    // it is left to what the place tells when pointed at.
    const named = (loop, places, off = 0) => {
      const { flag, words } = flow(loop);
      for (const text of new Set([words, loop])) {
        for (const [x, y] of places.map(onSheet)) {
          if (hasRoom(x, y + off, text)) return svg("text", { class: `loopname ${flag}`, x, y: y + off, "text-anchor": "middle", text });
        }
      }
      return null;
    };
    const along = (line) => [0.5, 0.3, 0.7].map((part) => {
      const [a, b] = [line[0], line.at(-1)];
      return line.length > 2 ? middleOf(line) : { x_m: a.x_m + part * (b.x_m - a.x_m), y_m: a.y_m + part * (b.y_m - a.y_m) };
    });
    const crossed = ([left, top, right, bottom]) => answer.trenches.some(({ points: way, width_m: broad }) => {
      const off = wide(broad) / 2;
      const sheet_ = way.map(onSheet);
      return sheet_.slice(1).some(([bx, by], at) => {
        const [ax, ay] = sheet_[at];
        const steps = Math.ceil(Math.hypot(bx - ax, by - ay) / 4) + 1;
        return Array.from({ length: steps + 1 }, (_, n) => n / steps).some((part) => {
          const [px, py] = [ax + part * (bx - ax), ay + part * (by - ay)];
          return px > left - off && px < right + off && py > top - off && py < bottom + off;
        });
      });
    });
    const chambers = answer.chambers.map((each) => {
      const [x, y] = onSheet(each);
      const text = `${each.name}: ${each.loop_count} loop${each.loop_count === 1 ? "" : "s"}`;
      // Beside it, above or below, else its name alone: where it runs over no trench and no other words.
      const beside = [[12, 4], [12, -9], [12, 20], [-4, -15, "end"], [-4, 27, "end"]];
      const places = [text, each.name].flatMap((said) => beside.map(([right, down, anchor = "start"]) => {
        const left = x + right - (anchor === "end" ? LETTER * said.length : 0);
        return { said, left, y: y + down, box: [left, y + down - 11, left + LETTER * said.length, y + down + 4] };
      }));
      const { said, left, y: low } = places.find((at) => at.left > 0 && !crossed(at.box)
        && hasRoom(at.left, at.y, at.said, { anchor: "start" })) ?? places[0];
      return svg("text", { class: "name", x: left, y: low, text: said });
    });
    const told = (loop) => svg("title", { text: flow(loop).words });
    const wet = answer.stretches.filter(({ medium }) => medium === "water");
    return svg("g", { class: last.stale ? "laid stale" : "laid" },
      answer.stretches.map((each) => svg("polyline", {
        class: wet.includes(each) ? "headerline wet" : "headerline", points: path(each.points),
        "stroke-width": Math.min(9, 1.6 + each.pipe_count / 4),
      }, svg("title", { text: `${digits(each.length_m)} m with ${each.pipe_count} pipes` }))),
      answer.runs.map((each) => svg("polyline", { class: "runline", points: path(each.points) })),
      answer.trenches.map((each) => svg("polyline", { class: `trenchline ${flow(each.loop).flag}`, points: path(each.points), "stroke-width": wide(each.width_m) }, told(each.loop))),
      answer.boreholes.map((each) => round(each, 5, flow(each.loop).flag, told(each.loop))),
      answer.mats.map((each) => round(each, wide(each.diameter_m / 2), `mat ${flow(each.loop).flag}`, told(each.loop))),
      answer.spare_pits.map((each) => svg("polygon", { class: "pit", points: path(each.points) },
        svg("title", { text: `Pit of ${each.loop}'s spare pipe, ${digits(each.side_m)} m square` }))),
      answer.trenches.length > 40 ? null : answer.trenches.map((each) => named(each.loop, along(each.points), -3 - wide(each.width_m) / 2)).filter(Boolean),
      answer.boreholes.length > 40 ? null : answer.boreholes.map((each) => named(each.loop, [each], -9)).filter(Boolean),
      answer.mats.length > 40 ? null : answer.mats.map((each) => {
        const r = wide(each.diameter_m / 2); // above it, else below it
        return named(each.loop, [each, shiftedBy(each, 0, -(2 * r + 16) / frame.scale)], -3 - r);
      }).filter(Boolean),
      chambers);
  }

  const round = (at, r, flag, ...told) => {
    const [cx, cy] = onSheet(at);
    return svg("circle", { class: `boreplace ${flag}`, cx, cy, r }, ...told);
  };

  function scaleBar() {
    const metres = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000].find((each) => each * frame.scale > 60) ?? 1000;
    const y = frame.height - 9;
    return [svg("path", { class: "scalebar", d: `M${MARGIN} ${y - 5}v5h${metres * frame.scale}v-5` }),
      svg("text", { class: "quiet", x: MARGIN + metres * frame.scale + 8, y, text: `${metres} m` })];
  }

  function draw(answer = last.answer, stale = last.stale, words = last.words, split = last.split) {
    last = { answer, stale, words, split };
    const plot = page.held("/plot");
    const corners = cornersOf(plot);
    drawing.toggleAttribute("hidden", corners.length < 3);
    key.hidden = corners.length < 3;
    legend.replaceChildren(...corners.length < 3 || !answer ? [] : legendOf(answer));
    figures.replaceChildren(...corners.length < 3 ? [el("p", { text: NO_PLOT })] : answer ? figuresOf(answer, words) : [el("p", { text: words })]);
    if (corners.length < 3) return;
    if (!dragged || !frame) frame = fit(plot, corners);
    drawing.setAttribute("viewBox", `0 0 ${frame.width} ${frame.height}`);
    drawing.setAttribute("width", frame.width);
    drawing.setAttribute("height", frame.height);
    const water = pointsOf(plot.water);
    const plant = plantOf(plot);
    const [px, py] = plant ? onSheet(plant) : [0, 0];
    taken = plant ? [[px - 10, py - 10, px + 10, py + 10]] : []; // its mark
    const sides = corners.flatMap((each, index) => side(each, corners[(index + 1) % corners.length], plot.boundary === undefined
      ? null : (event, at) => insert("/plot/boundary", plot.boundary, index, at, event))).filter(Boolean);
    ground.replaceChildren(
      svg("polygon", { class: "groundfill", points: path(corners) }),
      ...water.length > 2 ? [svg("polygon", { class: "water", points: path(water) })] : [],
      ...(Array.isArray(plot.keep_outs) ? plot.keep_outs : []).filter(isObject).flatMap(keepOut).filter(Boolean),
      svg("polygon", { class: "boundary", points: path(corners) }),
      ...answer ? [laid(answer)] : [],
      ...sides,
      ...scaleBar());
    drawPoints(plot);
  }

  return { box, draw };
}

const markOf = (kind) => ({
  corner: () => svg("rect", { x: -4.5, y: -4.5, width: 9, height: 9 }),
  whole: () => svg("path", { d: "M-7 0H7M0 -7V7" }),
  chamber: () => svg("path", { d: "M-7 -7H7V7H-7ZM-7 0H7M0 -7V7" }),
  plant: () => svg("path", { d: "M0 -8L8 7H-8Z" }),
}[kind]());

const NO_PLOT = "No plot is drawn yet: choose below how it is told, by its corners or by its sides.";

/** Why an array that was set out is not on the plot as a whole; undefined where it is. */
export const misfitOf = ({ decides, findings }) => (decides.array ? undefined
  : findings.find(({ severity }) => severity === "error")?.message ?? "Not all of the array has a place and a way.");

/** What is drawn in the plan that no word in it names. */
function legendOf({ spare_pits: pits, mats }) {
  const line = (mark, text) => el("span", {}, svg("svg", { class: "plotplan", width: 14, height: 14, "aria-hidden": "true" }, mark), ` ${text}`);
  return [
    pits.length ? line(svg("rect", { class: "pit", x: 2, y: 2, width: 10, height: 10 }), "pit of a loop's spare pipe, left in coils") : null,
    mats.length ? line(svg("circle", { class: "boreplace mat", cx: 7, cy: 7, r: 5.5 }), "mat in the water; tails to it are dashed") : null,
  ].filter(Boolean);
}

/** What the plan takes, in a few figures. */
function figuresOf(answer, words) {
  const { totals: sums, stretches } = answer;
  const dug = stretches.reduce((sum, each) => sum + (each.dug_m3 ?? 0), 0);
  const misfit = misfitOf(answer);
  return [
    el("p", { class: "quiet", text: words }),
    misfit ? el("p", { class: "bad", text: `■ ${onScreen(misfit)}` }) : facts([
      ["Trench of the loops", sums.trench_m ? `${fixed(sums.trench_m, 1)} m` : undefined],
      ["Drilled", sums.drilled_m ? `${fixed(sums.drilled_m, 0)} m` : undefined],
      ["Header trench", `${fixed(sums.header_dug_m, 1)} m, ${fixed(dug, 1)} m³ dug`],
      ["Tails, one way", `${fixed(sums.min_tail_m, 1)} to ${fixed(sums.max_tail_m, 1)} m`],
      ["Runs, one way", `${fixed(sums.runs_m, 1)} m`],
      ["Pipe of tails and runs", `${fixed(2 * (sums.tails_m + sums.runs_m), 0)} m`],
    ]),
  ];
}
