// Fields of the form: each writes one place of the job and shows the faults found there.

import { button, el } from "./dom.js";
import { below, isObject, pipeRenamed, putAt, typedNumber, valueAt } from "./job.js";

let serial = 0;
const fields = new Map(); // pointer -> the fields that write there, each { input, fault, show }
const boxes = new Map(); // pointer -> what draws the boxes of it
// Rows that were added to lists and are in no job until what they need is told: by the list's pointer,
// each { item, needs, row }.
const drafts = new Map();
const typed = new Map(); // pointer -> what stands in its box and is no number: the job keeps what it had
const STANDS_MS = 2000; // a number that stands so long was meant, and is kept when what follows is none
let desk = null; // what the page gives: job(), held(), edit(), take(), say(), pipes, fittings

export function useDesk(given) {
  desk = given;
}

const itemsAt = (list) => {
  const items = desk.held(list);
  return Array.isArray(items) ? items : [];
};

/** The row that a place is in, where that is in no job yet: { list, draft, inner }. */
function draftAt(pointer) {
  for (const [list, draft] of drafts) {
    const place = below(list, itemsAt(list).length);
    if (`${pointer}/`.startsWith(`${place}/`)) return { list, draft, inner: pointer.slice(place.length) };
  }
  return null;
}

export function held(pointer) {
  const found = draftAt(pointer);
  return found ? valueAt(found.draft.item, found.inner) : desk.held(pointer);
}

/** Write a place of the job. A row that was added goes into it once all that it needs is told. */
function edit(pointer, value, event) {
  const found = draftAt(pointer);
  if (!found) {
    forgetDrafts(pointer);
    desk.edit(pointer, value, event);
    return;
  }
  const { list, draft, inner } = found;
  if (inner === "") draft.item = value;
  else putAt(draft.item, inner, value);
  const { item, needs, row } = draft;
  if (!isObject(item) || needs.some((name) => item[name] === undefined)) return;
  drafts.delete(list);
  row.classList.remove("draft");
  desk.edit(list, [...itemsAt(list), item], event);
}

/** Begin a list with an empty row, which is in no job until what it needs is told. */
export const beginRow = (list, needs) => drafts.set(list, { item: {}, needs });

export const isBegun = (list) => drafts.has(list);

/** Forget rows that no job took, and what is no number: all, for another job, or what is below a place. */
export function forgetDrafts(place = "") {
  for (const known of [drafts, typed]) for (const each of known.keys()) if (each.startsWith(`${place}/`)) known.delete(each);
}

/** A job as its boxes show it, to be asked about: with what cannot be read as a number as it was typed, so that
 * the service says what is wrong with it. The job itself where all can be read. */
export function asTyped(job) {
  if (!typed.size) return job;
  const shown = structuredClone(job);
  for (const [pointer, text] of typed) {
    const found = draftAt(pointer);
    const place = found && below(found.list, itemsAt(found.list).length);
    if (place && valueAt(shown, found.list) === undefined) putAt(shown, found.list, []);
    if (place && valueAt(shown, place) === undefined) putAt(shown, place, structuredClone(found.draft.item));
    putAt(shown, pointer, text);
  }
  return shown;
}

/** Faults of texts in a box that are in no job, since they cannot be read. */
export const unreadIn = (box) => [...allFields()].filter(({ input, unread, keeps }) => unread && !keeps && box.contains(input))
  .map(({ input, unread }) => ({ pointer: input.dataset.pointer, detail: unread }));

/** Forget what is no longer on the page, before something is drawn anew. */
export function forget() {
  for (const known of [fields, boxes]) {
    for (const [pointer, all] of known) {
      for (const each of all) if (!(each.input ?? each.box).isConnected) all.delete(each);
      if (!all.size) known.delete(pointer);
    }
  }
}

function remember(known, pointer, each) {
  if (!known.has(pointer)) known.set(pointer, new Set());
  known.get(pointer).add(each);
}

let asking = null; // the step that asked last

/** Let a place with fields in several steps be found in this one, where it is in sight there. */
export const goWith = (box) => { asking = box; };

/** How near at hand a field is: in sight, and in the step that asked. */
const near = ({ input }) => (input.getClientRects().length > 0 ? 1 + Number(asking?.contains(input) ?? false) : 0);

/** The fields on the page that write a place, those nearest at hand first. */
export function fieldsAt(pointer) {
  return [...fields.get(pointer) ?? []].filter(({ input }) => input.isConnected).sort((a, b) => near(b) - near(a));
}

export const firstBelow = (pointer) => [...fields].filter(([known]) => known.startsWith(`${pointer}/`))
  .flatMap(([known]) => fieldsAt(known))[0];

/** Say in empty boxes what they stand for, where that follows from elsewhere in the job. */
export function refreshHints() {
  for (const { input, standsFor } of allFields()) if (standsFor) input.placeholder = standsFor();
}

/** Show what the job holds at a place, below and around it, in every field of it but the one in use. */
export function refresh(pointer) {
  for (const [known, all] of fields) {
    if (!`${known}/`.startsWith(`${pointer}/`) && !pointer.startsWith(`${known}/`)) continue;
    for (const { input, show } of all) if (input !== document.activeElement) show?.();
  }
}

export function* allFields() {
  for (const all of fields.values()) yield* all;
}

/** Take the faults off fields, but that of a text which cannot be read and so is not in the job. */
export function clearFaults(of) {
  for (const field of of) {
    const { input, fault, unread } = field;
    if (!fault.hidden) {
      input.removeAttribute("aria-invalid");
      input.removeAttribute("aria-describedby");
      fault.textContent = "";
      fault.hidden = true;
    }
    if (unread) markFault(field, unread);
  }
}

/** Show a fault at a field, beside those that it has; what the service has against a text that is no number
 * takes the place of that it is none. */
export function markFault({ input, fault, unread, keeps }, words) {
  if (!fault.hidden && fault.textContent.includes(words)) return;
  if (keeps && fault.textContent === unread) fault.textContent = words + keeps;
  else fault.textContent = fault.hidden ? words : `${fault.textContent} ${words}`;
  fault.hidden = false;
  input.setAttribute("aria-invalid", "true");
  input.setAttribute("aria-describedby", fault.id);
}

/** A control with its label, its place for a fault, and its entry under the pointer; `show` puts
 * what the job holds into it, and by its `key` it is found again when it was drawn anew. A box whose
 * text has names of its `own` is told its faults by them. */
function framed(pointer, label, control, { unit, hint, wide, show, key, own, self = {} } = {}) {
  serial += 1;
  control.id = `field-${serial}`;
  control.dataset.pointer = pointer;
  if (key) control.dataset.key = key;
  const fault = el("p", { class: "fault", id: `fault-${serial}`, hidden: true });
  remember(fields, pointer, Object.assign(self, { input: control, fault, show, label, own }));
  return el("div", { class: wide ? "field wide" : "field" },
    el("label", { for: control.id },
      label, unit ? el("span", { class: "unit", text: ` ${unit}` }) : null),
    control,
    hint ? el("p", { class: "hint", text: hint }) : null,
    fault);
}

/** What a field for text shows of a value. */
const textOf = (value) =>
  (value === undefined ? "" : typeof value === "object" ? JSON.stringify(value) : String(value));

/** A number as a box shows it: no finer than anyone reads, while the job keeps all its digits. */
const brief = (value) => (typeof value !== "number" ? value
  : Number(Math.abs(value) < 1 ? value.toPrecision(6) : value.toFixed(4)));

/** A field for a number: typed as it comes, stepped by the arrow keys (ten times with Shift). While what is typed
 * is no number, the job keeps what it had before, and the box says so.
 * `placeholder` is what it is when left empty, or gives it where that follows from elsewhere in the job. */
export function numberField(pointer, label, { step = 1, placeholder, ...options } = {}) {
  const standsFor = typeof placeholder === "function" ? placeholder : null;
  const self = { standsFor };
  let before = null; // { value } that the job had before it was typed over
  let stood = 0;
  const tell = () => {
    const had = self.unread;
    const text = typed.get(pointer);
    const kept = held(pointer);
    self.keeps = text === undefined ? "" : kept === undefined ? " The job has none yet." : ` The job keeps ${textOf(brief(kept))}.`;
    self.unread = text === undefined ? "" : `“${label}” is “${text}”; type a number, without its unit.${self.keeps}`;
    if ((had ?? "") !== self.unread) clearFaults([self]);
  };
  const show = () => {
    input.value = typed.get(pointer) ?? textOf(brief(held(pointer)));
    if (!typed.has(pointer)) before = null;
    tell();
  };
  const isOver = () => { if (!typed.has(pointer)) before = null; };
  const input = el("input", {
    type: "text", inputmode: "decimal", class: "number", placeholder: standsFor?.() ?? placeholder,
    onblur: isOver,
    oninput: (event) => {
      const value = typedNumber(input.value);
      before ??= { value: held(pointer) };
      clearTimeout(stood);
      if (typeof value === "string") typed.set(pointer, value);
      else {
        typed.delete(pointer);
        stood = setTimeout(isOver, STANDS_MS);
      }
      edit(pointer, typeof value === "string" ? before.value : value, event);
      tell();
    },
    onkeydown: (event) => {
      if (event.key !== "ArrowUp" && event.key !== "ArrowDown") return;
      const now = input.value.trim() === "" ? 0 : typedNumber(input.value);
      if (typeof now !== "number") return;
      event.preventDefault();
      const by = step * (event.shiftKey ? 10 : 1) * (event.key === "ArrowUp" ? 1 : -1);
      input.value = String(Number((now + by).toFixed(6)));
      input.dispatchEvent(new InputEvent("input", { bubbles: true }));
    },
  });
  const field = framed(pointer, label, input, { ...options, show, self });
  show();
  return field;
}

/** Numbers of a text that is parted so, or why they cannot be read. */
export function numbersOf(text, parted) {
  const numbers = text.trim().split(parted).filter(Boolean).map(typedNumber);
  const word = numbers.find((each) => typeof each !== "number");
  return word === undefined ? numbers : { unread: `“${word}” cannot be read as a number; until then the job keeps what it had.` };
}

/** A field for a text; `read` makes of what was typed what the job holds, or `{ unread }`, why it cannot:
 * the job then keeps what it has. `write` is the reverse, `why()` tells why what it wrote cannot be read; `then`
 * runs once the field is left. */
export function textField(pointer, label, { read = (text) => text, write = textOf, why, rows, then, ...options } = {}) {
  const self = {};
  const show = () => {
    input.value = write(held(pointer));
    const had = self.unread;
    self.unread = why?.() ?? "";
    if ((had ?? "") !== self.unread) clearFaults([self]);
  };
  const input = el(rows ? "textarea" : "input", {
    ...(rows ? { rows } : { type: "text" }), placeholder: options.placeholder,
    onchange: () => self.unread || then?.(),
    oninput: (event) => {
      const value = input.value.trim() === "" ? undefined : read(input.value);
      self.unread = value?.unread ?? "";
      if (self.unread) clearFaults([self]);
      else edit(pointer, value, event);
    },
  });
  const field = framed(pointer, label, input, { ...options, show, self });
  show();
  return field;
}

/** A choice; `options` are [value, words, disabled]; `then` runs after the job has changed.
 * A choice of something else than the place's own value is given its `value`. */
export function choiceField(pointer, label, options, { then, value, ...more } = {}) {
  const select = el("select", {
    onchange: (event) => {
      edit(pointer, select.value === "" ? undefined : select.value, event);
      then?.(select.value);
    },
  }, options.map(([each, words, disabled]) => el("option", { value: each, text: words, disabled })));
  const show = (now = held(pointer)) => {
    if (now !== undefined && ![...select.options].some((each) => each.value === textOf(now))) {
      select.prepend(el("option", { value: textOf(now), text: `${textOf(now)} (unknown)` }));
    }
    select.value = textOf(now ?? options[0]?.[0]);
  };
  show(value);
  return framed(pointer, label, select, { ...more, show: value === undefined ? () => show() : undefined });
}

export function checkField(pointer, label, whenAbsent) {
  const value = held(pointer) ?? whenAbsent;
  const input = el("input", {
    type: "checkbox",
    onchange: (event) =>
      edit(pointer, input.checked === whenAbsent ? undefined : input.checked, event),
  });
  input.checked = value === true;
  const field = framed(pointer, label, input, { wide: true });
  field.classList.add("check");
  return field;
}

/** Draw the boxes of a place anew, whose structure was changed elsewhere on the page. */
export function redrawAt(pointer) {
  for (const each of [...boxes.get(pointer) ?? []].filter((one) => one.box.isConnected)) {
    each.box.replaceChildren(...each.draw());
  }
  forget();
  refresh(pointer);
  desk.mark();
}

/** A box whose content is drawn anew after a change of its structure, keeping the focus; so are
 * other boxes of the same place. */
export function redrawable(draw, pointer, className = "") {
  const box = el("div", { class: className });
  const redraw = (focus) => {
    redrawAt(pointer);
    if (focus) box.querySelector(`[data-key="${CSS.escape(focus)}"]`)?.focus();
  };
  const self = { box, draw: () => draw(redraw) };
  remember(boxes, pointer, self);
  box.replaceChildren(...self.draw());
  return box;
}

/** A part told in one of several ways: a choice, then the fields of the way chosen.
 *
 * `options` are [way, words]; where no `way(value)` tells which holds, it is the one whose name the
 * value has as a field, else "none" or the first. `fresh(way, value)` is what the part holds when another way
 * is chosen; undefined takes it out. `draw(way)` gives the fields. */
export function wayField(pointer, label, options, { way, fresh, draw }) {
  const wayOf = way ?? ((value) =>
    (options.find(([lead]) => isObject(value) && lead in value)
      ?? options.find(([lead]) => lead === "none") ?? options[0])[0]);
  return redrawable((redraw) => {
    const value = held(pointer);
    const now = wayOf(value);
    const key = `${pointer}:way`;
    const choice = choiceField(pointer, label, options, {
      wide: true, value: now, key,
      then: (chosen) => {
        edit(pointer, fresh(chosen, isObject(value) ? value : {}));
        redraw(key);
      },
    });
    return [el("div", { class: "grid" }, choice), ...draw(now).filter(Boolean)];
  }, pointer);
}

const NEW_PIPE = "\n"; // no pipe is called so

/** The fields of one of the job's own pipes, declared in `pipes` at an index. */
export function ownPipeFields(index) {
  const place = `/pipes/${index}`;
  const n = (name, label, options) => numberField(below(place, name), label, { unit: "mm", ...options });
  const name = el("input", {
    type: "text", value: textOf(held(below(place, "name"))),
    onchange: (event) => {
      const before = held(below(place, "name"));
      if (name.value !== "") desk.take(pipeRenamed(desk.job(), before, name.value), { event });
    },
  });
  return el("div", { class: "grid" },
    n("bore_mm", "Bore", { step: 0.1 }), n("outside_diameter_mm", "Outside", { step: 0.1 }),
    n("roughness_mm", "Roughness", { step: 0.001, placeholder: "new plastic" }),
    framed(below(place, "name"), "Name", name));
}

const familyOf = ({ name }) => name.slice(0, name.lastIndexOf(" "));
export const isOwn = (pipe) => isObject(pipe) && "bore_mm" in pipe;

/** A pipe by its name: one of the standard ones, or one of the job's own by its bore. */
export function pipeField(pointer, label, { absent } = {}) {
  return redrawable((redraw) => {
    const value = held(pointer);
    const declared = desk.job().pipes;
    const pipes = Array.isArray(declared) ? declared : [];
    const families = new Set(desk.pipes.map(familyOf));
    const option = ({ name, bore_mm }) => el("option", { value: name, text: `${name} · bore ${bore_mm}` });
    const select = el("select", {
      onchange: (event) => {
        if (select.value !== NEW_PIPE) {
          edit(pointer, select.value === "" ? undefined : select.value, event);
          redraw(pointer);
          return;
        }
        const names = pipes.map((each) => each?.name);
        let number = 1;
        while (names.includes(`Own pipe ${number}`)) number += 1;
        const name = `Own pipe ${number}`;
        edit("/pipes", [...pipes, { name, bore_mm: 26, outside_diameter_mm: 32 }], event);
        edit(pointer, name);
        desk.take({}, { focus: pointer });
      },
    },
    absent ? el("option", { value: "", text: absent }) : null,
    el("option", { value: NEW_PIPE, text: "another, by its bore" }),
    pipes.some(isOwn) ? el("optgroup", { label: "Own pipes" }, pipes.filter(isOwn).map(option)) : null,
    [...families].map((family) => el("optgroup", { label: family },
      desk.pipes.filter((each) => familyOf(each) === family).map(option))));
    const known = [...select.options].map((each) => each.value);
    if (value === undefined && !absent) select.prepend(el("option", { value: "", text: "choose a pipe" }));
    else if (value !== undefined && !known.includes(value)) {
      select.prepend(el("option", { value: textOf(value), text: `${textOf(value)} (unknown)` }));
    }
    select.value = textOf(value);
    const own = pipes.findIndex((each) => isOwn(each) && each.name === value);
    return [framed(pointer, label, select, { wide: true, key: pointer }), own < 0 ? null : ownPipeFields(own)].filter(Boolean);
  }, pointer, "wide");
}

/** A list in the job with a row for each item and a button that adds what `fresh(items)` gives, one or several.
 * `shown(place)` may then go to where the last of them is seen.
 * Where it `needs` fields that only the user can tell, a row is in the job once they are told, and says so. */
export function listField(pointer, { words, fresh, row, none, first, needs, shown, shortest = 0 }) {
  return redrawable((redraw) => {
    const now = () => {
      const list = held(pointer);
      return Array.isArray(list) ? list : [];
    };
    const items = now();
    const draft = drafts.get(pointer);
    const change = (next, focus, event) => {
      edit(pointer, next.length || shortest ? next : undefined, event);
      redraw(focus);
    };
    const remove = (index, event) => {
      if (index < now().length) change(now().filter((_, each) => each !== index), `${pointer}+`, event);
      else {
        drafts.delete(pointer);
        redraw(`${pointer}+`);
      }
    };
    const rows = [...items, ...draft ? [draft.item] : []].map((item, index) => {
      const key = `${pointer}:${index}`;
      const parts = row(below(pointer, index), item, () => redraw(key), key).filter(Boolean);
      const below_ = parts.filter((part) => part.tagName === "DETAILS");
      const isDraft = index === items.length;
      const box = el("div", { class: isDraft ? "item draft" : "item", role: "group", "aria-label": `${words} ${index + 1}` },
        parts.filter((part) => !below_.includes(part)),
        isDraft || items.length > shortest
          ? button("✕", "small", (event) => remove(index, event),
            { key: `${pointer}-x${index}`, label: `Remove ${words} ${index + 1}` })
          : null,
        isDraft ? el("p", { class: "draftnote", text: "▲ Not counted until it is filled in." }) : null,
        below_);
      if (isDraft) draft.row = box;
      return box;
    });
    return [
      ...(rows.length ? rows : none ? [el("p", { class: "hint", text: none })] : []),
      button(rows.length || !first ? `Add ${words}` : first, "add", (event) => {
        const added = structuredClone([fresh(now())].flat());
        if (!needs) {
          const last = now().length + added.length - 1;
          change([...now(), ...added], `${pointer}:${last}`, event);
          shown?.(below(pointer, last));
        } else {
          if (!drafts.has(pointer)) drafts.set(pointer, { item: added[0], needs });
          redraw(`${pointer}:${now().length}`);
        }
      }, { key: `${pointer}+` }),
    ];
  }, pointer, "list");
}

const FRESH_LOSS = { loss_coefficient: { loss_coefficient: 1.5 }, kv_m3_h: { kv_m3_h: 5 } };

/** Fittings: by kind, by loss coefficient or by Kv. */
export function fittingsField(pointer) {
  const ways = [
    ...desk.fittings.map((each) => [each.kind, each.kind.replaceAll("_", " ")]),
    ["loss_coefficient", "by loss coefficient"],
    ["kv_m3_h", "by Kv"],
  ];
  return listField(pointer, {
    words: "fitting",
    none: "No fittings here: what is not named is not counted.",
    fresh: () => ({ kind: "elbow_90" }),
    row: (place, item, redraw, key) => {
      const way = Object.keys(FRESH_LOSS).find((each) => isObject(item) && each in item) ?? item?.kind;
      const select = el("select", {
        onchange: (event) => {
          const count = item?.count === undefined ? {} : { count: item.count };
          const made = FRESH_LOSS[select.value] ?? { kind: select.value };
          edit(place, { ...made, ...count }, event);
          redraw();
        },
      }, ways.map(([value, text]) => el("option", { value, text })));
      if (!ways.some(([value]) => value === way)) {
        select.prepend(el("option", { value: String(way), text: `${way} (unknown)` }));
      }
      select.value = String(way);
      const kind = framed(below(place, "kind"), "Fitting", select, { key });
      for (const field of fields.get(below(place, "kind"))) remember(fields, place, field);
      return [
        kind,
        way === "loss_coefficient" ? numberField(below(place, way), "K", { step: 0.1 }) : null,
        way === "kv_m3_h" ? numberField(below(place, way), "Kv", { unit: "m³/h", step: 0.1 }) : null,
        numberField(below(place, "count"), "Count", { placeholder: "1" }),
      ];
    },
  });
}

/** Routes of a flow and a return pipe side by side. */
export const OF_RUN = ["pipe", "length_m"];

export function runsField(pointer) {
  return listField(pointer, {
    words: "run",
    none: "No runs here.",
    needs: OF_RUN,
    fresh: (items) => (items.length ? { pipe: items.at(-1)?.pipe } : {}),
    row: (place, _item, _redraw, key) => [
      pipeField(below(place, "pipe"), "Pipe, out and back"),
      numberField(below(place, "length_m"), "Route, one way", { unit: "m", key }),
      el("details", {}, el("summary", { text: "Fittings of this run" }), fittingsField(below(place, "fittings"))),
    ],
  });
}
