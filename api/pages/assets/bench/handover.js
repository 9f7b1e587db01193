// Hand over: the document with the chapters that were filled in, and the whole job as a file.

import { el } from "./dom.js";
import { framed, held, textField } from "./fields.js";
import { below } from "./request.js";
import { post, save, stemOf } from "./service.js";

export const CHAPTERS = {
  sizing: "Size of the array",
  balancing: "Ways to balance",
  pump_selection: "Pumps judged",
  groundworks: "Digging, spoil, pipe to order",
  commissioning: "Commissioning sheet",
};
const KINDS = { pdf: ["application/pdf", "pdf"], html: ["text/html", "html"] };

function notesField(at, edit) {
  const now = held(at);
  const text = el("textarea", {
    rows: 4, value: Array.isArray(now) ? now.join("\n\n") : "",
    oninput: (event) => {
      const typed = text.value.split(/\n\s*\n/).map((each) => each.trim()).filter(Boolean);
      edit(at, typed.length ? typed : undefined, event);
    },
  });
  text.classList.add("prose");
  return framed(at, "Notes, a paragraph each", text, { wide: true });
}

export const handOver = {
  key: "document",
  title: "Hand over",
  path: "/v1/design-report",
  verb: "",
  lead: "One document with inputs, results, pictures, method and cautions, and the chapters ticked here.",
  fresh: () => ({}),

  form(at, { edit, job, report, saveJob }) {
    const chapter = (key, words) => {
      const input = el("input", {
        type: "checkbox", id: `chapter-${key}`,
        onchange: (event) => edit(`/job/filled/${key}`, input.checked, event),
      });
      input.checked = job().filled[key] === true;
      return el("div", { class: "field wide check" }, el("label", { for: input.id, text: words }), input);
    };
    return [
      el("fieldset", {}, el("legend", { text: "Chapters beside flow split and duty" }),
        Object.entries(CHAPTERS).map(([key, words]) => chapter(key, words))),
      el("p", { class: "hint", text: "A step is ticked when it has been asked; the sizing, when its array has "
        + "been laid out." }),
      el("h3", { text: "Head of the document" }),
      el("div", { class: "grid" },
        textField(below(at, "project"), "Title", { wide: true, placeholder: "the job's name" }),
        textField(below(at, "prepared_for"), "For", { wide: true }),
        textField(below(at, "prepared_by"), "By", { wide: true }),
        textField(below(at, "reference"), "Reference"), textField(below(at, "date"), "Date"),
        notesField(below(at, "notes"), edit)),
      el("div", { class: "ask buttons" },
        el("button", { type: "button", class: "main", text: "Document, PDF", onclick: () => report("pdf") }),
        el("button", { type: "button", text: "Document, HTML", onclick: () => report("html") }),
        el("button", { type: "button", text: "Whole job, JSON", onclick: saveJob })),
      el("p", { class: "hint", text: "The JSON is the document's request: the bench opens it again, and "
        + "/v1/design-report takes it as it is." }),
    ];
  },

  /** What the document will hold, chapter by chapter, and what its step says of it. */
  holds(job, arrayWords, words) {
    const row = (title, said, isIn, old) => el("li", { class: isIn ? null : "out" },
      el("span", { text: isIn ? "✓" : "–" }), el("span", { text: title }),
      el("span", { class: old ? "old" : "quiet", text: said }));
    return [
      el("h3", { text: "What it will hold" }),
      el("ul", { class: "contents-ledger" },
        row("Inputs, flow split and pump duty", arrayWords, true),
        Object.entries(CHAPTERS).map(([key, title]) => {
          const isIn = job.filled[key] === true;
          const { said, old } = words(key);
          return row(title, isIn ? said : "left out", isIn, isIn && old);
        }),
        row("A loop worked by hand, method, sources, cautions", "always", true)),
      el("p", { class: "hint", text: "The service computes every chapter anew for the document, from the job as it stands." }),
    ];
  },
};

/** The document's request: the flow split's, its head, and the chapters that are ticked. */
export function documentOf(job, request, steps) {
  const found = { ...request };
  if (Object.values(job.document).some((each) => each !== undefined)) found.document = job.document;
  for (const step of steps) {
    if (step.key in CHAPTERS && job.filled[step.key] === true) {
      found[step.key] = step.options ? step.options(job, request) : job[step.key];
    }
  }
  return found;
}

export async function downloadDocument(request, kind, signal) {
  const [type, ending] = KINDS[kind];
  const response = await post("/v1/design-report", request, type, signal);
  save(await response.blob(), `${stemOf(request)}-report.${ending}`);
}
