// Dig it: trenches, spoil, bedding, land and pipe to order, with the plan to scale.

import { digits, el, fixed, short } from "./dom.js";
import { checkField, choiceField, framed, held, listField, numberField, pipeField, wayField } from "./fields.js";
import { facts, findingsOf, hurtBox, methodOf, table, titled } from "./parts.js";
import { below, branchesOf, isObject, typedNumber } from "./request.js";
import { post, save, stemOf } from "./service.js";

const SECTIONS = [["flat", "slinky lying flat"], ["upright", "slinky standing"], ["straight", "straight pipe"]];
const NO_TRENCH = ["borehole_depth_m", "mat_inner_diameter_m"];

/** Whether some loop lies in a trench: it has neither borehole nor mat. */
export function needsTrench(request) {
  for (const [branch] of branchesOf(request.array, "/array")) {
    if (!isObject(branch) || !("loop" in branch) || !Array.isArray(branch.legs)) continue;
    if (!branch.legs.some((leg) => isObject(leg) && NO_TRENCH.some((name) => name in leg))) return true;
  }
  return false;
}

function lengthsField(at, label, edit) {
  const now = held(at);
  const input = el("input", {
    type: "text", value: Array.isArray(now) ? now.join(" ") : "",
    oninput: (event) => edit(at, input.value.split(/[\s;]+/).filter(Boolean).map(typedNumber), event),
  });
  return framed(at, label, input, { unit: "m" });
}

export const dig = {
  key: "groundworks",
  title: "Dig it",
  path: "/v1/groundworks",
  verb: "Count the digging",
  lead: "How much is dug, brought in and carted off, what land does it take, and what pipe is to be ordered?",
  fresh: () => ({
    works: { soil: "clay" },
    trench: { kind: "flat", width_m: 1.2, depth_m: 1.2 },
    header_trench: { separation_m: 0.3 },
  }),

  form(at, { edit, soils }) {
    const n = (path, label, options) => numberField(below(at, ...path.split(".")), label, options);
    const [works, site, header, coils] = ["works", "site", "header_trench", "coils_on_offer"].map((name) => below(at, name));
    return [
      el("h3", { text: "Soil and work" }),
      wayField(works, "How it bulks is told", [["soil", "By class of soil"], ["bulking_percent", "In per cent"]], {
        fresh: (way, { soil, bulking_percent, ...rest }) =>
          (way === "soil" ? { ...rest, soil: "clay" } : { ...rest, bulking_percent: 30 }),
        draw: (way) => [el("div", { class: "grid" }, way === "soil"
          ? choiceField(below(works, "soil"), "Soil", soils.digging.map((each) => [each.soil, each.soil.replaceAll("_", " ")]))
          : numberField(below(works, "bulking_percent"), "Bulks by", { unit: "%" }))],
      }),
      el("div", { class: "grid" },
        n("works.lorry_m3", "A lorry holds", { unit: "m³", placeholder: "10" }),
        n("works.digger_m_h", "Digger does", { unit: "m/h", step: 0.5, placeholder: "6.7" }),
        n("works.centres_m", "Centres", { unit: "m", step: 0.5, placeholder: "usual" }),
        n("works.border_m", "Border", { unit: "m", step: 0.5, placeholder: "2.5" }),
        n("works.borehole_diameter_mm", "Boreholes", { unit: "mm", placeholder: "if any" }),
        n("works.laying_temperature_c", "Laid at", { unit: "°C", placeholder: "20" }),
        checkField(below(works, "bedding_imported"), "bedding is brought in", true)),
      el("h3", { text: "Trenches of the loops" }),
      el("div", { class: "grid" },
        choiceField(below(at, "trench", "kind"), "They hold", SECTIONS, { wide: true }),
        n("trench.width_m", "Floor", { unit: "m wide", step: 0.1 }),
        n("trench.depth_m", "Deep", { unit: "m", step: 0.1 }),
        n("trench.side_slope", "Sides, out for 1 up", { step: 0.25, placeholder: "0, upright" }),
        n("trench.bench_height_m", "Benches, high", { unit: "m", step: 0.1, placeholder: "none" }),
        n("trench.bench_width_m", "Benches, wide", { unit: "m", step: 0.1, placeholder: "none" }),
        n("trench.bedding_below_m", "Bedding below", { unit: "m", step: 0.05, placeholder: "0.1" }),
        n("trench.bedding_above_m", "Bedding above", { unit: "m", step: 0.05, placeholder: "0.1" }),
        n("trench.passes", "Straight pipes abreast", { placeholder: "1" })),
      el("p", { class: "hint", text: "Left out of the question where every loop is a borehole or a mat." }),
      el("h3", { text: "Header trench" }),
      el("div", { class: "grid" },
        numberField(below(header, "length_m"), "Length", { unit: "m", placeholder: "from the plan" }),
        numberField(below(header, "width_m"), "Floor", { unit: "m wide", step: 0.1, placeholder: "0.5" }),
        numberField(below(header, "depth_m"), "Deep", { unit: "m", step: 0.1, placeholder: "usual" }),
        numberField(below(header, "separation_m"), "Flow from return", { unit: "m", step: 0.1, placeholder: "not checked" })),
      el("h3", { text: "Plot" }),
      wayField(site, "It is told", [["none", "Not at all"], ["length_m", "By its sides"], ["area_m2", "By its area"]], {
        fresh: (way) => ({ length_m: { length_m: 45, width_m: 22 }, area_m2: { area_m2: 1000 } })[way],
        draw: (way) => [way === "none" ? null : el("div", { class: "grid" }, way === "length_m" ? [
          numberField(below(site, "length_m"), "Along the trenches", { unit: "m" }),
          numberField(below(site, "width_m"), "Across", { unit: "m" })]
          : numberField(below(site, "area_m2"), "Area", { unit: "m²" }))],
      }),
      el("details", { class: "more" }, el("summary", { text: "Coils that the pipe can be had in" }),
        listField(coils, {
          words: "pipe", none: "Of every pipe 50, 100, 150, 200 and 300 m.",
          fresh: () => ({ pipe: "PE100 SDR11 32", lengths_m: [100, 150, 200, 250] }),
          row: (place, _item, _redraw, key) => {
            const field = lengthsField(below(place, "lengths_m"), "Coils of", edit);
            field.querySelector("input").dataset.key = key;
            return [pipeField(below(place, "pipe"), "Pipe"), field];
          },
        })),
    ];
  },

  options(job, request) {
    const { trench, ...rest } = job.groundworks;
    return needsTrench(request) ? { ...rest, trench } : rest;
  },

  body(job, request) {
    const { name, array, plant } = request;
    return { name, array, plant, ...this.options(job, request) };
  },

  /** The plan as a drawing, where there is one. */
  async more(body, answer, signal) {
    if (!answer.plan) return null;
    const response = await post(this.path, body, "image/svg+xml", signal);
    const blob = await response.blob();
    return { blob, plan: URL.createObjectURL(blob) };
  },

  forget: (more) => more?.plan && URL.revokeObjectURL(more.plan),

  words: (answer) => (answer.drilling ? `${fixed(answer.drilling.drilled_m, 0)} m drilled`
    : `${fixed(answer.total.dug_m3, 0)} m³ dug`),

  show(answer, { goTo, more, request }) {
    const { total, land, pipe_order: order } = answer;
    const volumes = [["Loops' trenches", answer.loop_trenches], ["Header trench", answer.header_trench], ["Together", total]]
      .map(([name, each]) => ({
        mark: name === "Together" ? "sum" : null,
        cells: [name, fixed(each.length_m, 0), fixed(each.dug_m3, 1), fixed(each.heaped_m3, 1), fixed(each.bedding_m3, 1),
          fixed(each.backfill_m3, 1), fixed(each.spoil_m3, 1), fixed(each.spoil_loose_m3, 1)],
      }));
    return [
      hurtBox("Before anyone digs or enters a trench", answer.cautions),
      el("p", { class: land?.fits === false ? "outcome bad" : "outcome" },
        answer.drilling ? el("b", { text: `${fixed(answer.drilling.drilled_m, 0)} m drilled ` }) : null,
        answer.drilling ? `in ${answer.drilling.holes} holes; ` : null,
        el("b", { text: `${fixed(total.dug_m3, 0)} m³ dug` }),
        ` along ${fixed(total.length_m, 0)} m of trench, about ${fixed(answer.digger_h, 0)} h of digger; `
        + `lorries: ${answer.spoil_loads} of spoil away, ${answer.bedding_loads} of bedding in.`
        + (land?.fits === false ? " ■ It does not fit the plot." : "")),
      more?.plan ? el("figure", { class: "plan" },
        el("img", { src: more.plan, alt: planWords(answer), class: "planimage" }),
        el("figcaption", {}, "Plan to scale ", el("button", {
          type: "button", class: "small", text: "Save the plan, SVG",
          onclick: () => save(more.blob, `${stemOf(request)}-plan.svg`),
        }))) : el("p", { class: "hint", text: "There is nothing to set out on a plan, or too many places to draw." }),
      table("Volumes", [["Cubic metres", ""], ["Long", "m"], ["Dug", ""], ["Heaped", "loose"], ["Bedding", ""],
        ["Backfill", ""], ["Spoil", ""], ["Spoil", "loose"]], volumes),
      el("p", { class: "key", text: `Dug soil bulks by ${short(answer.bulking_percent)} %.` }),
      answer.drilling ? titled("Drilling", facts([
        ["Holes", String(answer.drilling.holes)], ["Drilled", `${fixed(answer.drilling.drilled_m, 0)} m`],
        ["Grout", `${fixed(answer.drilling.grout_m3, 1)} m³`], ["Cuttings, loose", `${fixed(answer.drilling.spoil_loose_m3, 1)} m³`],
      ])) : null,
      answer.mats ? titled("Mats", facts([["Mats", String(answer.mats.mats)], ["They cover", `${fixed(answer.mats.area_m2, 0)} m²`]])) : null,
      land ? titled("Land", facts([
        ["Taken, border included", `${short(land.width_m)} × ${short(land.length_m)} m, ${fixed(land.area_m2, 0)} m²`],
        ["Available", land.available_m2 === undefined ? undefined : `${fixed(land.available_m2, 0)} m²`],
        ["Centres", `${short(land.centres_m)} m, border ${short(land.border_m)} m`],
        ["On the plot", land.fits === undefined ? undefined : land.fits ? "it fits" : el("span", { class: "bad", text: "■ it does not fit" })],
      ])) : null,
      titled("Pipe to order, nothing cut", table("Coils to order", [["Pipe", ""], ["Coil", "m"], ["Coils", ""], ["for loops", ""], ["for routes", ""]],
        order.lines.map((each) => [each.pipe, fixed(each.coil_m, 0), String(each.count), String(each.for_loops), String(each.for_routes)])),
      order.u_tubes.length ? el("p", { text: order.u_tubes.map((each) => `${each.count} U-tubes of ${each.pipe}, ${digits(each.depth_m)} m deep`).join("; ") }) : null,
      order.loops.length ? table("Coil of every loop", [["Loop", ""], ["Pipe", ""], ["Takes", "m"], ["From a coil of", "m"], ["Left over", "m"]],
        order.loops.map((each) => [each.count > 1 ? `${each.loop} × ${each.count}` : each.loop, each.pipe, fixed(each.needed_m, 0),
          each.coil_m === undefined ? el("span", { class: "bad", text: "■ none long enough" }) : fixed(each.coil_m, 0), fixed(each.leftover_m, 0)])) : null,
      el("p", { class: "key", text: `${fixed(order.leftover_m, 0)} m is ordered beyond what is laid; a loop's own stays coiled at its end.` })),
      titled("Findings", findingsOf(answer.findings, goTo)),
      methodOf(answer.method),
    ];
  },
};

function planWords(answer) {
  const { land, plan } = answer;
  const what = answer.drilling ? "boreholes" : answer.mats ? "mats" : "trenches";
  return `Plan to scale, ${short(plan.width_m)} by ${short(plan.height_m)} m: `
    + (land ? `${land.places} ${what}, ${land.across} side by side in ${land.rows} row${land.rows === 1 ? "" : "s"}, `
      + `${short(land.centres_m)} m centre to centre` : what)
    + (answer.header_trench.length_m > 0 ? `, and ${fixed(answer.header_trench.length_m, 0)} m of header trench.` : ".");
}
