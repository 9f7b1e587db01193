// The form: the array as nested groups of loops, the brine, the duty and the plant.

import { byId, button, digits, el, fixed, folded, short, signed } from "./dom.js";
import { told } from "./faults.js";
import {
  OF_RUN, allFields, beginRow, checkField, choiceField, clearFaults, fieldsAt, firstBelow, fittingsField, forget,
  forgetDrafts, held, isBegun, listField, markFault, numberField, pipeField, redrawable, runsField, textField, useDesk, wayField,
} from "./fields.js";
import {
  ARRANGEMENTS, LEG_KINDS, below, copyOf, isLoop, isObject, legKind, loopWords, moved, newCircuit, newLeg,
  newLoop, partsOf,
} from "./job.js";

/** What the duty of loops by hand begins with. */
export const OF_LOOPS = { to_ground_c: -3, from_ground_c: 0, heat_kw: 6 };

let desk = null;
let opened = new WeakSet(); // branches whose fields are shown
const heads = new Map(); // pointer of a branch -> { details, words, badge, faults }
const putAside = new WeakMap(); // circuit -> header fields that a manifold cannot have

export function startForm(given) {
  desk = given;
  useDesk(desk);
}

/** Draw everything for the job as it now stands. */
export function drawForm({ openFirst = false } = {}) {
  const array = desk.job().array;
  // An undone or pasted job holds new objects: what was open stays open by its place.
  if (!openFirst) {
    for (const [pointer, { details }] of heads) {
      const branch = held(pointer);
      if (details.open && isObject(branch)) opened.add(branch);
    }
  } else {
    opened = new WeakSet();
    let circuit = array;
    while (isObject(circuit) && Array.isArray(circuit.branches) && circuit.branches.length) {
      const first = circuit.branches[0];
      if (!isObject(first)) break;
      opened.add(first);
      circuit = first.circuit;
    }
  }
  drawArray();
  byId("form-brine").replaceChildren(brine());
  byId("form-duty").replaceChildren(duty());
  byId("form-plant").replaceChildren(plant());
  byId("form-limits").replaceChildren(el("div", { class: "grid" },
    numberField("/limits/max_deviation_percent", "Flow tolerance ±", { unit: "%", placeholder: "10" }),
    numberField("/limits/min_freezing_margin_k", "Freezing margin", { unit: "K", placeholder: "3" })));
  forget();
  desk.mark();
}

// ------------------------------------------------------------------------------------- the array

function drawArray(focus) {
  heads.clear();
  const array = desk.job().array;
  const into = byId("form-array");
  into.replaceChildren(isObject(array)
    ? circuitBox(array, "/array", 0)
    : el("div", {},
      el("p", { class: "hint", text: "The job holds no array yet: size one from the load and lay it out, or draw "
        + "one up by hand." }),
      button("Draw up loops by hand", "add", (event) => {
        const loop = newLoop({}, {});
        opened.add(loop);
        desk.edit("/array", { arrangement: "manifold", branches: [loop] }, event);
        if (desk.job().duty === undefined) desk.edit("/duty", OF_LOOPS);
        drawForm();
        fieldsAt("/array/branches/0/loop/name")[0]?.input.focus();
      })));
  forget();
  if (focus) into.querySelector(`[data-key="${CSS.escape(focus)}"]`)?.focus();
  showDeviations();
  desk.mark();
}

/** Change a circuit's branches, draw, and say so. */
function rearrange(pointer, branches, words, focus, event) {
  const place = below(pointer, "branches");
  const isLonger = held(place)?.every((each, at) => each === branches[at]);
  if (!isLonger) forgetDrafts(place); // rows that were begun stood by the numbers of their branches
  desk.edit(place, branches, event);
  drawArray(focus);
  desk.say(words);
}

function circuitBox(circuit, pointer, depth) {
  const branches = Array.isArray(circuit.branches) ? circuit.branches : [];
  const withHeader = circuit.arrangement !== "manifold";
  const next = below(pointer, "branches", branches.length);
  const add = (branch, words, event, focus = `${next}:head`) => {
    opened.add(branch);
    rearrange(pointer, [...branches, branch], words, focus, event);
  };
  return el("div", { class: "circuit", role: "group", "aria-label": circuit.name || "The whole array" },
    el("div", { class: "grid" },
      choiceField(below(pointer, "arrangement"), "Arrangement", Object.entries(ARRANGEMENTS), {
        wide: true,
        then: (chosen) => {
          adapt(circuit, chosen);
          desk.edit(pointer, circuit);
          drawArray();
          fieldsAt(below(pointer, "arrangement"))[0]?.input.focus();
        },
      }),
      depth > 0 || circuit.name !== undefined
        ? textField(below(pointer, "name"), "Name of this circuit", { wide: true }) : null,
      withHeader ? pipeField(below(pointer, "header_pipe"), "Header pipe") : null,
      circuit.arrangement === "reverse_return"
        ? numberField(below(pointer, "closing_m"), "Return from the last branch to the start",
          { unit: "m", placeholder: "as the header", wide: true }) : null),
    el("ol", { class: "branches" },
      branches.map((branch, index) => branchBox(branch, circuit, pointer, index, depth))),
    el("div", { class: "buttons" },
      button("Add loop", "add", (event) => {
        const made = newLoop(desk.job(), circuit);
        add(made, `Loop ${made.loop.name} added.`, event);
      }, { key: `${pointer}+loop` }),
      button("Add chamber", "add", (event) => {
        const made = newCircuit(desk.job(), circuit);
        const runs = below(next, "runs");
        beginRow(runs, OF_RUN);
        add(made, `${made.circuit.name} added. Tell the pipe that leads there, and how far.`, event, `${runs}/0/pipe`);
      }, { key: `${pointer}+circuit`, title: "A sub-circuit with its own loops, at the end of a run" })));
}

/** Make a circuit's header fields fit its arrangement: a manifold has none. What is taken out is
 * put aside and comes back with the header. */
function adapt(circuit, arrangement) {
  const kept = putAside.get(circuit) ?? {};
  const branches = (Array.isArray(circuit.branches) ? circuit.branches : []).filter(isObject);
  const names = ["header_m", "header_pipe", "return_header_pipe"];
  if (arrangement === "manifold") {
    const aside = { header_pipe: circuit.header_pipe, closing_m: circuit.closing_m, branches: new Map() };
    for (const branch of branches) {
      aside.branches.set(branch, Object.fromEntries(names.map((name) => [name, branch[name]])));
      for (const name of names) delete branch[name];
    }
    delete circuit.header_pipe;
    delete circuit.closing_m;
    putAside.set(circuit, aside);
    return;
  }
  if (circuit.header_pipe === undefined) {
    circuit.header_pipe = kept.header_pipe ?? "PE100 SDR11 63";
    for (const branch of branches) {
      const back = kept.branches?.get(branch) ?? {};
      for (const name of names) {
        if (back[name] !== undefined && branch[name] === undefined) branch[name] = back[name];
      }
      branch.header_m ??= 5;
    }
    desk.say("The arrangement has a header now: check its pipe and the distances between branches.");
  }
  if (arrangement === "reverse_return") {
    if (kept.closing_m !== undefined) circuit.closing_m ??= kept.closing_m;
  } else {
    putAside.set(circuit, { ...kept, closing_m: circuit.closing_m });
    delete circuit.closing_m;
  }
}

function branchName(branch) {
  if (!isObject(branch)) return "unreadable branch";
  if ("circuit" in branch) return branch.circuit?.name || "Unnamed circuit";
  return String(branch.loop?.name || "unnamed loop");
}

function branchWords(branch) {
  if (!isObject(branch)) return "not an object; mend it in the JSON below";
  const times = (branch.closed === true ? "closed · " : "") + (branch.count > 1 ? `${branch.count} equal · ` : "");
  if (!("circuit" in branch)) return times + loopWords(branch.loop ?? {});
  const count = branch.circuit?.branches?.length ?? 0;
  return `${times}${count} branch${count === 1 ? "" : "es"} on a circuit of its own`;
}

function branchBox(branch, circuit, pointer, index, depth) {
  const place = below(pointer, "branches", index);
  const name = el("b", { text: branchName(branch) });
  const words = el("span", { class: "words", text: branchWords(branch) });
  const badge = el("span", { class: "badge" });
  const count = el("span", { class: "faults" });
  const body = el("div", { class: "body" });
  const details = el("details", { class: isObject(branch) && "circuit" in branch ? "nest" : "loop" },
    el("summary", { "data-key": `${place}:head` }, name, badge, count, words), body);
  heads.set(place, { details, name, words, badge, count, branch });
  const show = () => {
    if (body.childElementCount || !isObject(branch)) return;
    body.append(tools(branch, circuit, pointer, index), ...("circuit" in branch
      ? nestBody(branch, circuit, place, depth) : loopBody(branch, circuit, pointer, place)));
  };
  details.addEventListener("toggle", () => {
    if (!isObject(branch)) return;
    if (details.open) {
      opened.add(branch);
      show();
      desk.mark();
    } else opened.delete(branch);
  });
  if (isObject(branch) && opened.has(branch)) {
    details.open = true;
    show();
  }
  return el("li", { "data-branch": place }, details);
}

/** The branch for so many equal ones; one has no count. */
function fewer({ count, ...branch }, left) {
  return left > 1 ? { ...branch, count: left } : branch;
}

function tools(branch, circuit, pointer, index) {
  const branches = circuit.branches;
  const name = branchName(branch);
  const swap = (to, words, key) => (event) =>
    rearrange(pointer, moved(branches, index, to), `${name} moved ${words}.`, `${below(pointer, "branches", to)}:${key}`, event);
  const place = below(pointer, "branches", index);
  const tool = (text, key, label, action, disabled) => button(text, "small", action, {
    key: `${place}:${key}`, label, "aria-disabled": disabled ? "true" : undefined,
  });
  const first = index === 0;
  const last = index === branches.length - 1;
  return el("div", { class: "tools", role: "toolbar", "aria-label": `Change ${name}` },
    tool("↑", "up", `Move ${name} up`, first ? () => {} : swap(index - 1, "up", "up"), first),
    tool("↓", "down", `Move ${name} down`, last ? () => {} : swap(index + 1, "down", "down"), last),
    tool("Duplicate", "copy", `Duplicate ${name}`, (event) => {
      const copy = copyOf(desk.job(), branch);
      const next = [...branches];
      next.splice(index + 1, 0, copy);
      opened.add(copy);
      rearrange(pointer, next, `${branchName(copy)} added after ${name}.`,
        `${below(pointer, "branches", index + 1)}:head`, event);
    }),
    branch.count > 1 ? tool("Split one off", "split", `Split one off from ${name}`, (event) => {
      const { count, ...one } = copyOf(desk.job(), branch);
      const next = [...branches];
      next.splice(index, 1, fewer(branch, count - 1), one);
      opened.add(one);
      rearrange(pointer, next, `${branchName(one)} is one of its own now; ${name} has ${count - 1} left.`,
        `${below(pointer, "branches", index + 1)}:head`, event);
    }) : null,
    tool("Remove", "remove", `Remove ${name}`, branches.length === 1 ? () => {
      desk.say("A circuit needs at least one branch.");
    } : (event) => {
      const next = branches.filter((each) => each !== branch);
      const near = below(pointer, "branches", Math.min(index, next.length - 1));
      rearrange(pointer, next, `${name} removed. Undo brings it back.`, `${near}:head`, event);
    }, branches.length === 1));
}

function headerFields(circuit, place) {
  if (circuit.arrangement === "manifold") return null;
  return el("div", { class: "grid" },
    numberField(below(place, "header_m"), "Header from the branch before", { unit: "m", placeholder: "0", wide: true }),
    pipeField(below(place, "header_pipe"), "Header pipe from here on", { absent: "as before" }),
    held(below(place, "return_header_pipe")) === undefined ? null
      : pipeField(below(place, "return_header_pipe"), "Return header beside it", { absent: "as implied" }));
}

function connection(place, words) {
  const has = ["runs", "fittings"]
    .map((name) => held(below(place, name))?.length ?? 0);
  const box = folded(`${words}: ${has[0] || "no"} run${has[0] === 1 ? "" : "s"}, `
    + `${has[1] || "no"} kind${has[1] === 1 ? "" : "s"} of fitting`,
    el("h4", { text: "Runs" }), runsField(below(place, "runs")),
    el("h4", { text: "Fittings" }), fittingsField(below(place, "fittings")));
  box.open = isBegun(below(place, "runs"));
  return box;
}

function loopBody(branch, circuit, pointer, place) {
  const others = circuit.branches.filter(isLoop).length - 1;
  const own = below(place, "loop");
  const same = (name, label, words) => button(label, "add", (event) => {
    for (const each of circuit.branches) {
      if (isLoop(each) && each !== branch) each.loop[name] = structuredClone(branch.loop[name]);
    }
    rearrange(pointer, [...circuit.branches], words, `${place}:same-${name}`, event);
  }, { key: `${place}:same-${name}` });
  return [
    el("div", { class: "grid" },
      textField(below(own, "name"), "Name"),
      numberField(below(place, "count"), "Equal loops", { placeholder: "1" }),
      pipeField(below(own, "pipe"), "Pipe")),
    el("h3", { text: "Legs, in the order of flow" }),
    legsField(below(own, "legs")),
    headerFields(circuit, place),
    connection(place, "Connection"),
    checkField(below(place, "closed"), "Closed: nothing flows here", false),
    isLoop(branch) && others > 0 ? el("div", { class: "buttons" },
      same("pipe", "Same pipe in every loop here", `Every loop of this circuit has the pipe of ${branchName(branch)}.`),
      same("legs", "Same legs in every loop here", `Every loop of this circuit has the legs of ${branchName(branch)}.`)) : null,
  ].filter(Boolean);
}

function nestBody(branch, circuit, place, depth) {
  return [
    el("div", { class: "grid" },
      numberField(below(place, "count"), "Equal circuits", { placeholder: "1" })),
    headerFields(circuit, place),
    connection(place, "Way there"),
    checkField(below(place, "closed"), "Closed: nothing flows here", false),
    isObject(branch.circuit) ? circuitBox(branch.circuit, below(place, "circuit"), depth + 1) : null,
  ].filter(Boolean);
}

const LEG_CHOICES = Object.entries(LEG_KINDS).map(([kind, { title }]) => [kind, title]);

/** Straight legs at both ends of a loop are its tails. */
function legTitle(legs, index) {
  const kind = legKind(legs[index]);
  if (kind !== "straight" || legs.length < 2) return `Leg ${index + 1}`;
  if (index === 0) return "Tail out";
  return index === legs.length - 1 ? "Tail back" : `Leg ${index + 1}`;
}

function legsField(pointer) {
  return redrawable((redraw) => {
    const list = held(pointer);
    const legs = Array.isArray(list) ? list : [];
    const change = (next, focus, event) => {
      desk.edit(pointer, next, event);
      redraw(focus);
    };
    const rows = legs.map((leg, index) => {
      const place = below(pointer, index);
      const kind = legKind(leg);
      const title = legTitle(legs, index);
      const move = (to) => (event) => change(moved(legs, index, to), `${below(pointer, to)}:kind`, event);
      const choice = choiceField(place, title, LEG_CHOICES, {
        value: kind ?? "unreadable", key: `${place}:kind`,
        then: (chosen) => {
          const made = newLeg(chosen);
          for (const name of ["pipe", "fittings"]) if (leg?.[name] !== undefined) made[name] = leg[name];
          desk.edit(place, made);
          redraw(`${place}:kind`);
        },
      });
      const tool = (text, label, action, disabled) => button(text, "small", action, { label, disabled });
      const extra = [leg?.pipe === undefined ? null : "own pipe",
        leg?.fittings?.length ? `${leg.fittings.length} kind(s) of fitting` : null].filter(Boolean);
      return el("div", { class: kind === "straight" ? "item leg short" : "item leg", role: "group", "aria-label": title },
        choice,
        kind ? LEG_KINDS[kind].fields.map(([name, label, unit, step, placeholder]) =>
          numberField(below(place, kind, name), label, { unit, step, placeholder })) : null,
        kind === "slinky" ? [
          checkField(below(place, kind, "returns_alongside"), "comes back in the same trench", true),
          checkField(below(place, kind, "upright"), "stands upright", false)] : null,
        el("div", { class: "legfoot" }, folded(`Other pipe or fittings${extra.length ? `: ${extra.join(", ")}` : ""}`,
          pipeField(below(place, "pipe"), "Pipe of this leg", { absent: "as the loop" }),
          fittingsField(below(place, "fittings"))),
        el("div", { class: "legtools" },
          tool("↑", `Move ${title} earlier`, move(index - 1), index === 0),
          tool("↓", `Move ${title} later`, move(index + 1), index === legs.length - 1),
          tool("✕", `Remove ${title}`, (event) =>
            change(legs.filter((each) => each !== leg), `${pointer}+`, event), legs.length === 1))));
    });
    const kind = el("select", { "aria-label": "Kind of leg to add" },
      LEG_CHOICES.map(([value, text]) => el("option", { value, text })));
    return [...rows, el("div", { class: "addleg" }, kind, button("Add leg", "add", (event) =>
      change([...legs, newLeg(kind.value)], `${below(pointer, legs.length)}:kind`, event), { key: `${pointer}+` }))];
  }, pointer, "legs");
}

// ------------------------------------------------------------------------ brine, duty and plant

let strength = { concentration_percent: 25, basis: "mass" }; // the last that was not water's

function brine() {
  return redrawable((redraw) => {
    const mix = isObject(held("/antifreeze")) ? held("/antifreeze") : {};
    const kind = desk.antifreezes.find((each) => each.kind === mix.kind);
    const bases = kind?.bases ?? ["mass", "volume"];
    const choice = choiceField("/antifreeze/kind", "Antifreeze",
      desk.antifreezes.map((each) => [each.kind, each.title]), {
        wide: true, key: "brine-kind",
        then: (chosen) => {
          const { kind: _, ...told } = held("/antifreeze");
          if (told.concentration_percent > 0) strength = told;
          desk.edit("/antifreeze", { kind: chosen, ...(chosen === "water" ? {} : strength) });
          redraw("brine-kind");
        },
      });
    const range = kind ? `${short(kind.min_concentration_percent)} to `
      + `${short(kind.max_concentration_percent)} % by mass is known.` : "";
    const meaning = (word) => desk.hazards.find((each) => each.hazard === word)?.meaning ?? "";
    return [
      el("div", { class: "grid" },
        choice,
        mix.kind === "water" ? null : [
          numberField("/antifreeze/concentration_percent", "Strength", { unit: "%" }),
          choiceField("/antifreeze/basis", "A share of", [
            ["mass", "mass"],
            ["volume", bases.includes("volume") ? "volume" : "volume (not known for this one)",
              !bases.includes("volume")],
          ])]),
      mix.kind === "water" ? null : el("p", { class: "hint", text: range }),
      kind?.hazards.length ? el("ul", { class: "hazards" }, kind.hazards.map((word) =>
        el("li", {}, el("b", { text: word.replaceAll("_", " ") }), ` ${meaning(word)}`))) : null,
      kind ? el("p", { class: "hint", text: kind.caution }) : null,
      el("p", { class: "brineline", id: "brine-line" }),
    ].filter(Boolean);
  }, "/antifreeze");
}

const DUTY_WAYS = [
  ["heat_kw", "Heat from the ground"],
  ["flow_l_s", "The flow"],
  ["pump_curve", "A pump's curve"],
];

/** What sets the flow when another way is chosen, with the numbers of the last answer. */
function dutyBy(way) {
  const { flow_l_s = 0.6, heat_kw = 8, head_m = 5 } = desk.answer()?.pump ?? {};
  const short3 = (value) => Number(value.toPrecision(3));
  const point = (x, y) => ({ flow_l_s: short3(flow_l_s * x), head_m: short3(head_m * y) });
  return {
    heat_kw: short3(heat_kw), flow_l_s: short3(flow_l_s),
    pump_curve: [point(0, 1.4), point(1, 1), point(1.6, 0.4)],
  }[way];
}

function duty() {
  return wayField("/duty", "Set by", DUTY_WAYS, {
    fresh: (way, { to_ground_c, from_ground_c }) => ({ to_ground_c, from_ground_c, [way]: dutyBy(way) }),
    draw: (way) => [
      el("div", { class: "grid" },
        numberField("/duty/to_ground_c", "Out to ground", { unit: "°C", step: 0.5 }),
        numberField("/duty/from_ground_c", "Back from ground", { unit: "°C", step: 0.5 }),
        way === "heat_kw" ? numberField("/duty/heat_kw", "Heat from ground", { unit: "kW", step: 0.1 }) : null,
        way === "flow_l_s" ? numberField("/duty/flow_l_s", "Flow", { unit: "L/s", step: 0.01 }) : null),
      way === "pump_curve" ? [el("h3", { text: "Points of the pump's curve" }), pointsField("/duty/pump_curve", [
        ["flow_l_s", "Flow", "L/s", 0.01], ["head_m", "Head", "m", 0.1]], { shortest: 2 })] : null,
    ].flat(),
  });
}

function pointsField(pointer, columns, options) {
  return listField(pointer, {
    words: "point", ...options,
    needs: columns.map(([name]) => name),
    fresh: () => ({}),
    row: (place, _item, _redraw, key) => columns.map(([name, label, unit, step], index) =>
      numberField(below(place, name), label, { unit, step, key: index === 0 ? key : undefined })),
  });
}

function plant() {
  return el("div", {},
    el("h3", { text: "Heat exchanger, by its data sheet" }),
    pointsField("/plant/heat_exchanger", [
      ["flow_l_s", "Flow", "L/s", 0.01], ["drop_kpa", "Drop at it", "kPa", 1]],
    { none: "Not counted. One rated point will do, several are better." }),
    el("h3", { text: "Runs between plant and array" }),
    runsField("/plant/runs"),
    el("h3", { text: "Other fittings of the plant" }),
    fittingsField("/plant/fittings"),
    el("div", { class: "grid" },
      numberField("/plant/volume_l", "Plant holds", { unit: "L", placeholder: "0" }),
      numberField("/plant/run_h", "Pump runs", { unit: "h a year", step: 100, placeholder: "2400" })));
}

// --------------------------------------------------------------------- what the answer says here

/** Names and words of the branches after an edit of their fields. */
export function refreshHeads() {
  for (const { branch, name, words } of heads.values()) {
    name.textContent = branchName(branch);
    words.textContent = branchWords(branch);
  }
}

/** Each loop's deviation at its own fields; a branch of several shows the range. */
export function showDeviations(flags = desk.flags()) {
  for (const [pointer, { badge }] of heads) {
    const mine = flags.filter(({ where }) => where === pointer || where.startsWith(`${pointer}/`));
    if (!mine.length) {
      badge.textContent = "";
      badge.dataset.flag = "";
      continue;
    }
    const values = mine.map(({ deviation }) => deviation);
    const [low, high] = [Math.min(...values), Math.max(...values)];
    const range = fixed(high - low, 1) === "0.0" ? signed(low) : `${signed(low)} to ${signed(high)}`;
    const flag = mine.find((each) => each.flag === "starved") ?? mine.find((each) => each.flag) ?? {};
    badge.dataset.flag = flag.flag ?? "";
    badge.textContent = flag.flag ? `${range}, ${flag.words}` : range;
  }
  const fluid = desk.answer()?.fluid.in_loops;
  const line = byId("brine-line");
  if (line) {
    line.textContent = fluid ? `Freezes at ${fixed(fluid.freezing_point_c, 1)} °C; in the loops, `
      + `at ${fixed(fluid.temperature_c, 2)} °C, ${digits(fluid.viscosity_mpa_s)} mPa s and `
      + `${fixed(fluid.density_kg_m3, 0)} kg/m³.` : "";
  }
}

/** The fields that show a fault: those of its place, or of the nearest around it on the page. */
function shownAt(pointer) {
  const inside = heads.has(pointer) || fieldsAt(pointer).length ? null : firstBelow(pointer);
  if (inside) return [inside];
  for (let place = pointer; place !== ""; place = place.slice(0, place.lastIndexOf("/"))) {
    const found = fieldsAt(place);
    if (found.length || heads.has(place)) return found;
  }
  return [];
}

/** A fault in the words of the page, with the place that shows it. */
export function toldHere(given) {
  if (typeof given.pointer !== "string") return given;
  const [leftOut] = /^[a-z_]+(?= )/.exec(given.detail) ?? [""]; // named by the first word, as its parent is not there
  const at = below(given.pointer, leftOut);
  const fault = leftOut && fieldsAt(at).length ? { ...given, pointer: at } : given;
  const [field] = shownAt(fault.pointer);
  return told(fault, field, field?.input ?? nearestHead(fault.pointer));
}

function nearestHead(pointer) {
  for (let near = pointer; near !== ""; near = near.slice(0, near.lastIndexOf("/"))) {
    if (heads.has(near)) return heads.get(near).details;
  }
  return null;
}

/** Show faults of the job at its fields and at the branches that they are in. */
export function markFaults(faults) {
  clearFaults(allFields());
  for (const { count, details } of heads.values()) {
    count.textContent = "";
    details.classList.remove("faulty");
  }
  for (const { pointer, detail } of faults) {
    for (const field of shownAt(pointer)) markFault(field, detail);
    for (const [place, { count, details }] of heads) {
      if (pointer !== place && !pointer.startsWith(`${place}/`)) continue;
      count.textContent = "has a fault";
      details.classList.add("faulty");
    }
  }
}

/** Open what hides a place of the job and put the focus there; false where it has no field. */
export function reveal(pointer) {
  const parts = partsOf(pointer);
  let place = "";
  for (const part of parts) {
    place = below(place, part);
    const head = heads.get(place);
    if (head) {
      if (isObject(head.branch)) opened.add(head.branch);
      if (!head.details.open) {
        head.details.open = true;
        head.details.dispatchEvent(new Event("toggle"));
      }
    }
  }
  let target = null;
  for (let near = pointer; near !== "" && !target; near = near.slice(0, near.lastIndexOf("/"))) {
    target = fieldsAt(near)[0]?.input ?? heads.get(near)?.details.querySelector("summary");
    if (near === pointer) target ??= firstBelow(pointer)?.input;
  }
  if (!target) return false;
  for (let up = target.closest("details"); up; up = up.parentElement?.closest("details")) up.open = true;
  target.focus();
  target.scrollIntoView({ block: "center" });
  return true;
}
