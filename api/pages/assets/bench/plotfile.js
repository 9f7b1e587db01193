// A plot out of a file, opened or dropped: the service reads it, and tells what of it was not used.

import { button, el } from "./dom.js";
import { onScreen } from "./faults.js";
import { redrawAt } from "./fields.js";
import { isObject } from "./job.js";
import { attempt, readPlot } from "./service.js";

const KEPT = ["spacing_m", "border_m", "max_trench_m"]; // rules of the job, which no file draws
const PARTS = [["keep_outs", "keep-out"], ["chambers", "chamber"], ["trenches", "trench", "trenches"],
  ["boreholes", "borehole"], ["mats", "mat"], ["levels", "level"]];

const MOST_NAMES = 6;

const counted = (list, one, many = `${one}s`) => `${list.length} ${list.length === 1 ? one : many}`;

/** What a plot holds, in words. */
const wordsOf = (plot) => [counted(plot.boundary, "corner"), ...PARTS.filter(([part]) => plot[part])
  .map(([part, ...words]) => counted(plot[part], ...words)), ...plot.water ? ["water"] : [],
...plot.plant_room ? ["the plant room"] : []].join(", ");

/** What a file took out of the plot, by name where it has names; "" where there was nothing of it. */
function replacedWords(before) {
  if (!isObject(before)) return "";
  return [["boundary", "corner"], ...PARTS].filter(([part]) => Array.isArray(before[part]) && before[part].length)
    .map(([part, ...words]) => {
      const names = before[part].map((each) => each?.name ?? each?.loop).filter((each) => typeof each === "string");
      return counted(before[part], ...words)
        + (names.length ? ` (${names.slice(0, MOST_NAMES).join(", ")}${names.length > MOST_NAMES ? ` and ${names.length - MOST_NAMES} more` : ""})` : "");
    })
    .concat(before.water ? ["the water"] : [], before.plant_room ? ["the plant room"] : []).join(", ");
}

const list = (items) => el("ul", {}, items.map((text) => el("li", { text })));

/** A place for a file, and what came of the last one. */
export function plotFileField({ job, edit, say }) {
  const told = el("div", { class: "plotfiletold", role: "status" });

  async function open(file, event) {
    told.replaceChildren(el("p", { class: "hint", text: `Reading ${file.name}…` }));
    const answer = await attempt(() => readPlot(file), ({ detail, title, errors = [] }) => {
      told.replaceChildren(
        el("p", { class: "fault", text: `■ ${file.name} was not taken; the plot is as it was.` }),
        list(errors.length ? errors.slice(0, 10).map((each) => each.detail) : [detail ?? title]),
        ...errors.length > 10 ? [el("p", { class: "hint", text: `and ${errors.length - 10} more` })] : []);
      return null;
    });
    if (!answer) return;
    const { plot, not_used: left, notes } = answer;
    const before = job().plot;
    const rules = isObject(before) ? Object.fromEntries(KEPT.filter((name) => name in before).map((name) => [name, before[name]])) : {};
    const replaced = replacedWords(before);
    edit("/plot", { ...plot, ...rules }, event);
    redrawAt("/plot");
    const count = left.reduce((sum, each) => sum + each.count, 0);
    told.replaceChildren(
      el("p", { class: "hint", text: `Taken from ${file.name}: ${wordsOf(plot)}.` }),
      ...replaced ? [el("p", { class: "hint", text: `It took the place of what was there before: ${replaced}. Undo brings that back.` })] : [],
      ...plot.plant_room ? [] : [el("p", { class: "fault", text: "▲ The file tells no plant room: nothing can be set out before it is told where "
        + "pipes leave the building." }), el("div", { class: "buttons" }, button("Put it at the first corner, to be moved", "small", (press) => {
        edit("/plot/plant_room", { x_m: plot.boundary[0].x_m, y_m: plot.boundary[0].y_m }, press);
        redrawAt("/plot");
        told.replaceChildren();
      }))],
      ...notes.length ? [list(notes.map((each) => onScreen(each, "/plot", { all: true })))] : [],
      ...count ? [el("h4", { text: `Not used of the file: ${count}` }), list(left.map((each) =>
        `${each.detail} (${each.count}${each.places.length ? `: ${each.places.slice(0, 3).join(", ")}${each.count > 3 ? " …" : ""}` : ""})`))] : []);
    say(`Plot taken from ${file.name}.`);
  }

  const input = el("input", {
    type: "file", id: "open-plot", accept: ".geojson,.json,.dxf,.csv",
    onchange: (event) => {
      const [file] = event.target.files;
      event.target.value = "";
      if (file) open(file, event);
    },
  });
  const box = el("div", {
    class: "plotfile",
    ondragover: (event) => {
      event.preventDefault();
      box.classList.add("over");
    },
    ondragleave: () => box.classList.remove("over"),
    ondrop: (event) => {
      event.preventDefault();
      box.classList.remove("over");
      const [file] = event.dataTransfer.files;
      if (file) open(file, event);
    },
  }, el("div", { class: "buttons" },
    el("label", { class: "filebutton" }, input, el("span", { text: "Open a plot from a file…" })),
    el("span", { class: "hint", text: "or drop it here: GeoJSON, DXF or CSV" })), told);
  return box;
}
