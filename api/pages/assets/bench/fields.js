// Fields of the form: each writes one place of the request and shows the faults found there.

import { el } from "./dom.js";
import { below, isObject, pipeWords, typedNumber, valueAt } from "./request.js";

let serial = 0;
const fields = new Map(); // pointer -> { input, fault, note }
let desk = null; // what the page gives: request(), job(), edit(), say(), pipes, fittings

/** Fields of the steps around the array have this before their pointer; they are not in the
 * request of the flow split. */
export const JOB = "/job/";
export const inJob = (pointer) => pointer.startsWith(JOB);

/** What a field holds: of the steps where its pointer is one of theirs, else of the request. */
export function held(pointer) {
  return inJob(pointer) ? valueAt({ job: desk.job() }, pointer) : valueAt(desk.request(), pointer);
}

export function useDesk(given) {
  desk = given;
}

/** Forget the fields at or below a pointer, before they are drawn anew. */
export function forget(pointer) {
  for (const [known, field] of fields) {
    const inside = known === pointer || known.startsWith(`${pointer}/`);
    if (inside || !field.input.isConnected) fields.delete(known);
  }
}

export function fieldAt(pointer) {
  const field = fields.get(pointer);
  return field?.input.isConnected ? field : undefined;
}

/** Every field of the request, or of one step by the pointer that its fields begin with. */
export function* allFields(begin = "/") {
  for (const [pointer, field] of fields) {
    if (pointer.startsWith(begin) && inJob(pointer) === inJob(begin)) yield field;
  }
}

/** Take the faults off fields. */
export function clearFaults(of) {
  for (const { input, fault } of of) {
    if (fault.hidden) continue;
    input.removeAttribute("aria-invalid");
    input.removeAttribute("aria-describedby");
    fault.textContent = "";
    fault.hidden = true;
  }
}

/** Show a fault at a field, beside those that it has. */
export function markFault({ input, fault }, words) {
  fault.textContent = fault.hidden ? words : `${fault.textContent} ${words}`;
  fault.hidden = false;
  input.setAttribute("aria-invalid", "true");
  input.setAttribute("aria-describedby", fault.id);
}

/** A control with its label, its place for a fault, and its entry under the pointer. */
export function framed(pointer, label, control, { unit, hint, wide } = {}) {
  serial += 1;
  control.id = `field-${serial}`;
  control.dataset.pointer = pointer;
  const fault = el("p", { class: "fault", id: `fault-${serial}`, hidden: true });
  fields.set(pointer, { input: control, fault });
  return el("div", { class: wide ? "field wide" : "field" },
    el("label", { for: control.id },
      label, unit ? el("span", { class: "unit", text: ` ${unit}` }) : null),
    control,
    hint ? el("p", { class: "hint", text: hint }) : null,
    fault);
}

/** A field for a number: typed as it comes, stepped by the arrow keys (ten times with Shift). */
export function numberField(pointer, label, { unit, step = 1, hint, placeholder, wide } = {}) {
  const value = held(pointer);
  const input = el("input", {
    type: "text", inputmode: "decimal", class: "number", placeholder,
    value: value === undefined ? "" : typeof value === "object" ? JSON.stringify(value) : String(value),
    oninput: (event) => desk.edit(pointer, typedNumber(input.value), event),
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
  return framed(pointer, label, input, { unit, hint, wide });
}

export function textField(pointer, label, options = {}) {
  const value = held(pointer);
  const input = el("input", {
    type: "text", value: value === undefined ? "" : String(value), placeholder: options.placeholder,
    oninput: (event) => desk.edit(pointer, input.value === "" ? undefined : input.value, event),
  });
  return framed(pointer, label, input, options);
}

/** A choice; `options` are [value, words, disabled]; `then` runs after the request has changed. */
export function choiceField(pointer, label, options, { then, hint, wide, value } = {}) {
  const now = value ?? held(pointer);
  const known = options.some(([each]) => each === now);
  const select = el("select", {
    onchange: (event) => {
      desk.edit(pointer, select.value, event);
      then?.(select.value);
    },
  },
  known || now === undefined ? null : el("option", { value: String(now), text: `${now} (unknown)` }),
  options.map(([each, words, disabled]) => el("option", { value: each, text: words, disabled })));
  select.value = String(now ?? options[0]?.[0] ?? "");
  return framed(pointer, label, select, { hint, wide });
}

export function checkField(pointer, label, whenAbsent) {
  const value = held(pointer) ?? whenAbsent;
  const input = el("input", {
    type: "checkbox",
    onchange: (event) =>
      desk.edit(pointer, input.checked === whenAbsent ? undefined : input.checked, event),
  });
  input.checked = value === true;
  const field = framed(pointer, label, input, { wide: true });
  field.classList.add("check");
  return field;
}

/** A box whose content is drawn anew after a change of its structure, keeping the focus. */
export function redrawable(draw, pointer, className = "") {
  const box = el("div", { class: className });
  const redraw = (focus) => {
    forget(pointer);
    box.replaceChildren(...draw(redraw));
    if (focus) box.querySelector(`[data-key="${CSS.escape(focus)}"]`)?.focus();
    desk.shown();
  };
  box.replaceChildren(...draw(redraw));
  return box;
}

/** A part told in one of several ways: a choice, then the fields of the way chosen.
 *
 * `options` are [way, words]; where no `way(value)` tells which holds, it is the one whose name the
 * value has as a field, else "none". `fresh(way, value)` is what the part holds when another way
 * is chosen; undefined takes it out. `draw(way)` gives the fields. */
export function wayField(pointer, label, options, { way, fresh, draw }) {
  const wayOf = way ?? ((value) =>
    options.map(([lead]) => lead).find((lead) => isObject(value) && lead in value) ?? "none");
  return redrawable((redraw) => {
    const value = held(pointer);
    const now = wayOf(value);
    const key = `${pointer}:way`;
    const choice = choiceField(pointer, label, options, {
      wide: true, value: now,
      then: (chosen) => {
        desk.edit(pointer, fresh(chosen, isObject(value) ? value : {}));
        redraw(key);
      },
    });
    choice.querySelector("select").dataset.key = key;
    return [el("div", { class: "grid" }, choice), ...draw(now).filter(Boolean)];
  }, pointer);
}

const OWN_PIPE = { bore_mm: 26, outside_diameter_mm: 32 };

/** A pipe: one of the standard ones, or another by its bore. */
export function pipeField(pointer, label, { absent, then } = {}) {
  return redrawable((redraw) => {
    const value = held(pointer);
    const groups = new Map();
    for (const pipe of desk.pipes) {
      const family = pipe.name.slice(0, pipe.name.lastIndexOf(" "));
      if (!groups.has(family)) groups.set(family, []);
      groups.get(family).push(pipe);
    }
    const select = el("select", {
      "data-key": pointer,
      onchange: (event) => {
        const chosen = select.value === "" ? undefined
          : select.value === "own" ? { ...OWN_PIPE } : select.value;
        desk.edit(pointer, chosen, event);
        then?.();
        redraw(pointer);
      },
    },
    absent ? el("option", { value: "", text: absent }) : null,
    el("option", { value: "own", text: "another, by its bore" }),
    [...groups].map(([family, pipes]) => el("optgroup", { label: family },
      pipes.map((pipe) => el("option", {
        value: pipe.name,
        text: `${pipe.name} · bore ${pipe.bore_mm}`,
      })))));
    if (isObject(value)) select.value = "own";
    else if (value === undefined) select.value = absent ? "" : "own";
    else {
      if (!desk.pipes.some((pipe) => pipe.name === value)) {
        select.prepend(el("option", { value: String(value), text: `${pipeWords(value)} (unknown)` }));
      }
      select.value = String(value);
    }
    if (value === undefined && !absent) {
      select.prepend(el("option", { value: "", text: "choose a pipe" }));
      select.value = "";
    }
    const parts = [framed(pointer, label, select, { wide: true })];
    if (isObject(value)) {
      parts.push(el("div", { class: "grid" },
        numberField(below(pointer, "bore_mm"), "Bore", { unit: "mm", step: 0.1 }),
        numberField(below(pointer, "outside_diameter_mm"), "Outside", { unit: "mm", step: 0.1 }),
        numberField(below(pointer, "roughness_mm"), "Roughness", { unit: "mm", step: 0.001, placeholder: "new plastic" }),
        textField(below(pointer, "name"), "Name")));
    }
    return parts;
  }, pointer, "wide");
}

export function smallButton(text, label, key, action) {
  return el("button", {
    type: "button", class: "small", text, "aria-label": label, title: label, "data-key": key,
    onclick: action,
  });
}

/** A list in the request with a row for each item and a button that adds one. */
export function listField(pointer, { words, fresh, row, none, shortest = 0 }) {
  return redrawable((redraw) => {
    const list = held(pointer);
    const items = Array.isArray(list) ? list : [];
    const change = (next, focus, event) => {
      desk.edit(pointer, next.length || shortest ? next : undefined, event);
      redraw(focus);
    };
    const rows = items.map((item, index) => {
      const key = `${pointer}:${index}`;
      const parts = row(below(pointer, index), item, () => redraw(key), key).filter(Boolean);
      const folded = parts.filter((part) => part.tagName === "DETAILS");
      return el("div", { class: "item" },
        parts.filter((part) => !folded.includes(part)),
        items.length > shortest
          ? smallButton("✕", `Remove ${words} ${index + 1}`, `${pointer}-x${index}`, (event) =>
            change(items.filter((_, each) => each !== index), `${pointer}+`, event))
          : null,
        folded);
    });
    return [
      ...(rows.length ? rows : none ? [el("p", { class: "hint", text: none })] : []),
      el("button", {
        type: "button", class: "add", text: `Add ${words}`, "data-key": `${pointer}+`,
        onclick: (event) =>
          change([...items, structuredClone(fresh(items))], `${pointer}:${items.length}`, event),
      }),
    ];
  }, pointer, "list");
}

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
    fresh: () => ({ kind: "elbow_90", count: 2 }),
    row: (place, item, redraw, key) => {
      const way = isObject(item) && "loss_coefficient" in item ? "loss_coefficient"
        : isObject(item) && "kv_m3_h" in item ? "kv_m3_h" : item?.kind;
      const select = el("select", {
        "data-key": key,
        onchange: (event) => {
          const count = item?.count === undefined ? {} : { count: item.count };
          const made = select.value === "loss_coefficient" ? { loss_coefficient: 1.5, ...count }
            : select.value === "kv_m3_h" ? { kv_m3_h: 5, ...count }
              : { kind: select.value, ...count };
          desk.edit(place, made, event);
          redraw();
        },
      }, ways.map(([value, text]) => el("option", { value, text })));
      if (!ways.some(([value]) => value === way)) {
        select.prepend(el("option", { value: String(way), text: `${way} (unknown)` }));
      }
      select.value = String(way);
      const kind = framed(below(place, "kind"), "Fitting", select);
      fields.set(place, fields.get(below(place, "kind")));
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
export function runsField(pointer) {
  return listField(pointer, {
    words: "run",
    none: "No runs here.",
    fresh: (items) => items.at(-1) ?? { pipe: "PE100 SDR11 50", length_m: 20 },
    row: (place, _item, _redraw, key) => {
      const length = numberField(below(place, "length_m"), "Route, one way", { unit: "m" });
      length.querySelector("input").dataset.key = key;
      return [
        pipeField(below(place, "pipe"), "Pipe, out and back"),
        length,
        el("details", {}, el("summary", { text: "Fittings of this run" }),
          fittingsField(below(place, "fittings"))),
      ];
    },
  });
}
