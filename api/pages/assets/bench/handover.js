// Hand over: the document with the chapters that were filled in, and the whole job as a file.

import { button, el } from "./dom.js";
import { textField } from "./fields.js";

export const CHAPTERS = {
  sizing: "Size of the array",
  setting_out: "Places on the plot: tails and runs by its plan",
  balancing: "Ways to balance",
  pump_choice: "Pumps judged",
  groundworks: "Digging, spoil, pipe to order",
  commissioning: "Commissioning sheet",
};

const BEFORE = ["sizing", "setting_out"]; // what the array comes of

export const handOver = {
  key: "report",
  title: "Hand over",
  verb: "",
  lead: "One document with inputs, results, pictures, method and cautions, and the chapters ticked here.",
  fields: ["reference"],
  begins: () => ({}),

  form({ job, chapter, report, saveJob }) {
    const tick = (key, words) => {
      const input = el("input", {
        type: "checkbox", id: `chapter-${key}`, onchange: (event) => chapter(key, input.checked, event),
      });
      input.checked = job()[key] !== undefined;
      return el("div", { class: "field wide check" }, el("label", { for: input.id, text: words }), input);
    };
    const notes = textField("/report/notes", "Notes, a paragraph each", {
      wide: true, rows: 4, write: (list) => (Array.isArray(list) ? list.join("\n\n") : ""),
      read: (typed) => typed.split(/\n\s*\n/).map((each) => each.trim()).filter(Boolean),
    });
    notes.querySelector("textarea").classList.add("prose");
    return [
      el("fieldset", {}, el("legend", { text: "Chapters beside flow split and duty" }),
        Object.entries(CHAPTERS).map(([key, words]) => tick(key, words))),
      el("p", { class: "hint", text: "A step is ticked once it has been filled in or asked." }),
      el("h3", { text: "Head of the document" }),
      el("div", { class: "grid" },
        textField("/report/title", "Title", { wide: true, placeholder: "the job's name" }),
        textField("/report/prepared_for", "For", { wide: true }),
        textField("/report/prepared_by", "By", { wide: true }),
        textField("/report/checked_by", "Checked by"), textField("/report/approved_by", "Approved by"),
        textField("/reference", "Reference"), textField("/report/revision", "Revision"),
        textField("/report/date", "Date, year-month-day", { placeholder: "none" }), notes),
      el("div", { class: "ask buttons" },
        button("Document, PDF", "main", () => report("report.pdf")),
        button("Document, HTML", null, () => report("report.html")),
        button("Whole job, JSON", null, saveJob)),
      el("p", { class: "hint", text: "The JSON is the job: the bench opens it again, and every address of the "
        + "service takes it as it is." }),
    ];
  },

  /** What the document will hold, chapter by chapter, and what its step says of it; `plan` tells where
   * the array of the document is not the one on the bench. */
  holds(job, array, words, plan) {
    if (job.array === undefined && job.sizing === undefined) {
      return [el("p", { text: "No document yet: the job has no array. Size one from the load and lay it out." })];
    }
    // An error or warning of what is in stands in the place of its tick, as does that nobody asked.
    const row = (title, said, isIn, old) => {
      const [, sign = "✓", rest] = /^(?:([■▲○]) )?(.*)$/.exec(said);
      return el("li", { class: isIn ? { "■": "error", "▲": "warning" }[sign] : "out" },
        el("span", { text: isIn ? sign : "–" }), el("span", { text: title }),
        el("span", { class: old ? "old" : "quiet", text: rest }));
    };
    return [
      el("h3", { text: "What it will hold" }),
      plan ? el("p", { class: "othernote", text: plan.words }) : "",
      plan ? el("div", { class: "buttons" }, button(plan.verb, null, plan.act)) : "",
      el("ul", { class: "contents-ledger" },
        row("Inputs, flow split and pump duty", plan?.array ?? array.words, array.flag === "done" || job.array === undefined),
        Object.entries(CHAPTERS).map(([key, title]) => {
          const isIn = job[key] !== undefined;
          const { said, old, asked } = words(key);
          const other = plan && asked && !BEFORE.includes(key); // of another array than the document's
          return row(title, isIn ? said + (other ? ", of the array on the bench" : "") : "left out", isIn, isIn && (old || other));
        }),
        row("A loop worked by hand, method, sources, cautions", "always", true)),
      el("p", { class: "hint", text: "The service computes every chapter anew for the document, from the job as it stands." }),
    ];
  },
};
