// Dig it: trenches, spoil, bedding, land and pipe to order, with the plan to scale.

import { button, digits, el, fixed, folded, short } from "./dom.js";
import {
  checkField, choiceField, isOwn, listField, numberField, numbersOf, ownPipeFields, redrawAt, textField, wayField,
} from "./fields.js";
import { facts, findingsOf, hurtBox, methodOf, table, titled } from "./parts.js";
import { plotForm } from "./load.js";
import { DEFAULT_PIPE, below, sectionOf } from "./job.js";
import { post, save, stemOf } from "./service.js";

/** What pipe can be had: coils of standard pipes, and the job's own pipes. */
function pipesField(pipes) {
  return listField("/pipes", {
    words: "pipe", none: "Of every pipe 50, 100, 150, 200 and 300 m.",
    needs: ["coils_m"],
    fresh: (items) => ({
      name: [DEFAULT_PIPE, ...pipes.map((each) => each.name)].find((name) => !items.some((each) => each?.name === name)),
    }),
    row: (place, item, _redraw, key) => [
      isOwn(item) ? ownPipeFields(place.split("/").at(-1))
        : choiceField(below(place, "name"), "Pipe", pipes.map(({ name }) => [name, name]), { wide: true }),
      textField(below(place, "coils_m"), "Coils of", {
        unit: "m", placeholder: "usual", key, write: (list) => (Array.isArray(list) ? list.join(" ") : ""),
        read: (typed) => numbersOf(typed, /[\s;]+/),
      })],
  });
}

let billed = []; // items of the last bill, which prices are given for

/** The caller's own prices, item by item of the bill. */
function pricesField() {
  const place = "/groundworks/prices";
  return wayField(place, "The bill tells", [["none", "quantities alone"], ["currency", "prices as well"]], {
    fresh: (way) => (way === "none" ? undefined : { currency: "EUR", items: [] }),
    draw: (way) => (way === "none" ? [] : [
      el("div", { class: "grid" }, textField(below(place, "currency"), "Prices are in"),
        textField(below(place, "valid_until"), "They hold until, year-month-day", { placeholder: "not told" })),
      billed.length ? null : el("p", { class: "hint", text: "Count the digging once: what it bills can then be priced." }),
      listField(below(place, "items"), {
        words: "price",
        needs: ["price"],
        fresh: (items) => ({ item: billed.find((name) => !items.some((each) => each?.item === name)) ?? "" }),
        row: (at, _item, _redraw, key) => [
          choiceField(below(at, "item"), "Item", billed.map((name) => [name, name]), { wide: true, key }),
          numberField(below(at, "price"), "Price of one")],
      })].filter(Boolean)),
  });
}

const money = (amount) => (amount === undefined ? "–" : amount.toFixed(2));

function billOf({ items, currency, total, valid_until: until, left_out: left }) {
  const priced = currency !== undefined;
  return titled("Bill of quantities", table("Bill of quantities", [["Item", ""], ["Quantity", ""],
    ...priced ? [["Price", currency], ["Amount", currency]] : [], ["Note", ""]], [
    ...items.map((each) => [each.item, `${short(each.quantity, 4)} ${each.unit}`, ...priced ? [money(each.price), money(each.amount)] : [], each.detail ?? ""]),
    ...total === undefined ? [] : [{ mark: "sum", cells: ["Sum of what has a price", "", "", money(total), until ? `prices hold until ${until}` : ""] }],
  ], { textLast: true }),
  el("p", { class: "key", text: `Not in it: ${left.join("; ")}.` }));
}

export const dig = {
  key: "groundworks",
  title: "Dig it",
  address: "groundworks",
  verb: "Count the digging",
  lead: "How much is dug, brought in and carted off, what land does it take, and what pipe is to be ordered?",
  fields: ["pipes"],
  begins: () => ({
    "/ground": { soil: "clay", moisture: "usual" },
    "/groundworks": ({ array }) => (
      { trench: { width_m: 1.2, depth_m: 1.2, ...sectionOf(array) }, header_trench: { separation_m: 0.3 } }),
  }),

  form({ soils, pipes }) {
    const n = (path, label, options) => numberField(`/groundworks/${path}`, label, options);
    return [
      el("h3", { text: "Soil and work" }),
      el("div", { class: "grid" },
        choiceField("/ground/soil", "Soil", [["", "not told"],
          ...soils.digging.map((each) => [each.soil, each.soil.replaceAll("_", " ")])]),
        numberField("/ground/bulking_percent", "Bulks by", { unit: "%", placeholder: "as its class" }),
        n("lorry_m3", "A lorry holds", { unit: "m³", placeholder: "10" }),
        n("digger_m_h", "Digger does", { unit: "m/h", step: 0.5, placeholder: "6.7" }),
        n("laying_c", "Laid at", { unit: "°C", placeholder: "20" }),
        checkField("/groundworks/bedding_imported", "bedding is brought in", true)),
      el("h3", { text: "Trenches of the loops" }),
      el("div", { class: "grid" },
        n("trench/width_m", "Floor", { unit: "m wide", step: 0.1 }),
        n("trench/depth_m", "Deep", { unit: "m", step: 0.1 }),
        n("trench/side_slope", "Sides, out for 1 up", { step: 0.25, placeholder: "0, upright" }),
        n("trench/bench_height_m", "Benches, high", { unit: "m", step: 0.1, placeholder: "none" }),
        n("trench/bench_width_m", "Benches, wide", { unit: "m", step: 0.1, placeholder: "none" }),
        n("trench/bedding_below_m", "Bedding below", { unit: "m", step: 0.05, placeholder: "0.1" }),
        n("trench/bedding_above_m", "Bedding above", { unit: "m", step: 0.05, placeholder: "0.1" }),
        n("trench/passes", "Straight pipes abreast", { placeholder: "1" })),
      el("p", { class: "hint", text: "Left out of the count where every loop is a borehole or a mat. Whether "
        + "coils stand, and how wide a borehole is, is told at the loops." }),
      el("h3", { text: "Header trench" }),
      el("div", { class: "grid" },
        n("header_trench/length_m", "Length", { unit: "m", placeholder: "plan, rows or tails" }),
        n("header_trench/width_m", "Floor", { unit: "m wide", step: 0.1, placeholder: "0.5" }),
        n("header_trench/depth_m", "Deep", { unit: "m", step: 0.1, placeholder: "usual" }),
        n("header_trench/separation_m", "Flow from return", { unit: "m", step: 0.1, placeholder: "not checked" })),
      el("h3", { text: "Plot" }), plotForm(),
      folded("Pipe that can be had, and its coils", pipesField(pipes)),
      folded("Prices", pricesField()),
    ];
  },

  pictured: true,
  /** The plan as a drawing, where there is one. */
  async more(job, answer, signal) {
    if (!answer.plan && !job.setting_out) return null;
    const response = await post(job.setting_out ? "setting-out.svg" : "groundworks/plan.svg", job, signal);
    const blob = await response.blob();
    return { blob, plan: URL.createObjectURL(blob) };
  },

  forget: (more) => more?.plan && URL.revokeObjectURL(more.plan),

  words: ({ drilling, total, bill }) => (drilling ? `${fixed(drilling.drilled_m, 0)} m drilled` : `${fixed(total.dug_m3, 0)} m³ dug`)
    + (bill.total === undefined ? "" : `, ${money(bill.total)} ${bill.currency} for what has a price`),

  show(answer, { goTo, more, posted }) {
    const { total, land, pipe_order: order, bill } = answer;
    const names = bill.items.map((each) => each.item);
    if (names.join("\n") !== billed.join("\n")) {
      billed = names;
      redrawAt("/groundworks/prices");
    }
    const volumes = [["Loops' trenches", answer.loop_trenches], ["Header trench", answer.header_trench], ["Together", total]]
      .map(([name, each]) => ({
        mark: name === "Together" ? "sum" : null,
        cells: [name, fixed(each.length_m, 0), fixed(each.dug_m3, 1), fixed(each.heaped_m3, 1), fixed(each.bedding_m3, 1),
          fixed(each.backfill_m3, 1), fixed(each.spoil_m3, 1), fixed(each.spoil_loose_m3, 1)],
      }));
    return [
      hurtBox("Before anyone works on the site", answer.cautions),
      el("p", { class: land?.fits === false ? "outcome bad" : "outcome" },
        answer.drilling ? el("b", { text: `${fixed(answer.drilling.drilled_m, 0)} m drilled ` }) : null,
        answer.drilling ? `in ${answer.drilling.count} hole${answer.drilling.count === 1 ? "" : "s"}; ` : null,
        el("b", { text: `${fixed(total.dug_m3, 0)} m³ dug` }),
        ` along ${fixed(total.length_m, 0)} m of trench, about ${fixed(answer.digger_h, 0)} h of digger; `
        + `lorries: ${answer.spoil_loads} of spoil away, ${answer.bedding_loads} of bedding in.`
        + (land?.fits === false ? " ■ It does not fit the plot." : "")),
      more?.plan ? el("figure", { class: "plan" },
        el("img", { src: more.plan, alt: posted.setting_out ? "Setting-out plan to scale: plot, trenches or boreholes, chambers and header trenches." : planWords(answer), class: "planimage" }),
        el("figcaption", {}, "Plan to scale ", button("Save the plan, SVG", "small", () =>
          save(more.blob, `${stemOf(posted)}-plan.svg`)))) : el("p", { class: "hint", text: more === undefined ? "The plan is being drawn…"
        : "There is nothing to set out on a plan, or too many places to draw." }),
      table("Volumes", [["Cubic metres", ""], ["Long", "m"], ["Dug", ""], ["Heaped", "loose"], ["Bedding", ""],
        ["Backfill", ""], ["Spoil", ""], ["Spoil", "loose"]], volumes),
      el("p", { class: "key", text: `Dug soil bulks by ${short(answer.bulking_percent)} %.` }),
      answer.drilling ? titled("Drilling", facts([
        ["Holes", String(answer.drilling.count)], ["Drilled", `${fixed(answer.drilling.drilled_m, 0)} m`],
        ["Grout", `${fixed(answer.drilling.grout_m3, 1)} m³`], ["Cuttings, loose", `${fixed(answer.drilling.spoil_loose_m3, 1)} m³`],
      ])) : null,
      answer.pond_mats ? titled("Mats", facts([["Mats", String(answer.pond_mats.count)],
        ["They cover", `${fixed(answer.pond_mats.area_m2, 0)} m²`]])) : null,
      land ? titled("Land", facts([
        ["Taken, border included", `${short(land.width_m)} × ${short(land.length_m)} m, ${fixed(land.area_m2, 0)} m²`],
        ["Available", land.plot_m2 === undefined ? undefined : `${fixed(land.plot_m2, 0)} m²`],
        ["Centres", `${short(land.spacing_m)} m, border ${short(land.border_m)} m`],
        ["On the plot", land.fits === undefined ? undefined : land.fits ? "it fits" : el("span", { class: "bad", text: "■ it does not fit" })],
      ])) : null,
      titled("Pipe to order", table("Coils to order", [["Pipe", ""], ["Coil", "m"], ["Coils", ""], ["for loops", ""], ["for routes", ""]],
        order.coils.map((each) => [each.pipe, fixed(each.coil_m, 0), String(each.count), String(each.for_loops), String(each.for_routes)])),
      order.probes.length ? el("p", { text: order.probes.map((each) => `${each.count} U-tube${each.count === 1 ? "" : "s"} of ${each.pipe}, ${digits(each.depth_m)} m deep`).join("; ") }) : null,
      order.loops.length ? table("Coil of every loop", [["Loop", ""], ["Pipe", ""], ["Takes", "m"], ["From a coil of", "m"], ["Left over", "m"]],
        order.loops.map((each) => [each.count > 1 ? `${each.loop} × ${each.count}` : each.loop, each.pipe, fixed(each.needed_m, 0),
          each.coil_m === undefined ? el("span", { class: "bad", text: "■ none long enough" }) : fixed(each.coil_m, 0), fixed(each.leftover_m, 0)])) : null,
      el("p", { class: "key", text: `${fixed(order.leftover_m, 0)} m is ordered beyond what is laid. It is cut off: pipe left coiled in a loop is a leg of it, to be put into the array first.` })),
      billOf(bill),
      titled("Findings", findingsOf(answer.findings, goTo)),
      methodOf(answer.method),
    ];
  },
};

function planWords(answer) {
  const { land, plan } = answer;
  const one = answer.trenches.length ? "trench" : answer.drilling ? "borehole" : "mat"; // what is set out
  const what = land?.places === 1 ? one : `${one}${one === "trench" ? "es" : "s"}`;
  return `Plan to scale, ${short(plan.width_m)} by ${short(plan.height_m)} m: `
    + (land ? `${land.places} ${what}, ${land.across} side by side in ${land.rows} row${land.rows === 1 ? "" : "s"}, `
      + `${short(land.spacing_m)} m centre to centre` : what)
    + (answer.header_trench.length_m > 0 ? `, and ${fixed(answer.header_trench.length_m, 0)} m of header trench.` : ".");
}
