// The job: one document with named parts, which every step posts and whose file is saved and opened.

export const FORMAT = 1;
export const PARTS = [
  "format", "name", "reference", "antifreeze", "heat", "ground", "plot", "heights", "pipes", "plant", "array",
  "duty", "warm", "ground_at_loops", "pump", "limits", "sizing", "setting_out", "balancing",
  "pump_choice", "groundworks", "commissioning", "report",
];

/** A job from a text, or the fault for which it is none; what a job's fields hold is for the service
 * to say. */
export function readJob(text) {
  let job;
  try {
    job = JSON.parse(text);
  } catch (error) {
    return { fault: `This is not JSON yet: ${error.message}.` };
  }
  if (!isObject(job)) return { fault: "A job is a JSON object: { … }." };
  if (job.format !== undefined && job.format !== FORMAT) {
    return { fault: `/format is ${JSON.stringify(job.format)}: the bench reads jobs of format ${FORMAT}.` };
  }
  return { job };
}

/** A job from a file's text, or the fault for which it is none. */
export function readFile(text) {
  const read = readJob(text);
  if (read.fault) return read;
  const names = Object.keys(read.job);
  if (names.some((name) => PARTS.includes(name) && name !== "name" && name !== "format")) return read;
  const held = names.length ? `its fields are ${names.slice(0, 8).join(", ")}${names.length > 8 ? " and more" : ""}`
    : "it is empty";
  return { fault: `It holds no part of a job, such as array or duty; ${held}.` };
}

export const DEFAULT_PIPE = "PE100 SDR11 32";

/** Kinds of leg: the fields of each are [name, label, unit, step, what it is when left out]; `words` is
 * it in a few words, `pipe` its length of pipe [m] by the geometry that the service documents, where
 * `n` gives the number of a field. */
export const LEG_KINDS = {
  straight: {
    title: "Straight pipe",
    fields: [["length_m", "Length", "m", 1]],
    fresh: { length_m: 20 },
    words: (leg) => `${leg.length_m} m`,
    pipe: (n) => n("length_m"),
  },
  slinky: {
    title: "Slinky coils",
    fields: [
      ["coils", "Coils", "", 1],
      ["coil_diameter_m", "Diameter", "m", 0.1],
      ["pitch_m", "Pitch", "m", 0.1],
      ["depth_m", "Depth", "m", 0.1, "not told"],
    ],
    fresh: { coils: 30, coil_diameter_m: 1.0, pitch_m: 1.0 },
    words: (leg) => `${leg.coils} coils`,
    pipe: (n, { returns_alongside: back = true }) =>
      n("coils") * (Math.PI * n("coil_diameter_m") + (back ? 2 : 1) * n("pitch_m")),
  },
  coiled: {
    title: "Spare pipe kept coiled",
    fields: [["length_m", "Length", "m", 1], ["coil_diameter_m", "Diameter", "m", 0.1]],
    fresh: { length_m: 20, coil_diameter_m: 0.8 },
    words: (leg) => `${leg.length_m} m coiled`,
    pipe: (n) => n("length_m"),
  },
  trench: {
    title: "Straight trench, several passes",
    fields: [
      ["length_m", "Trench", "m", 1],
      ["passes", "Passes", "", 1],
      ["turn_diameter_m", "Turn diameter", "m", 0.1, "none"],
      ["spacing_m", "Between passes", "m", 0.1, "not told"],
      ["depth_m", "Depth", "m", 0.1, "not told"],
    ],
    fresh: { length_m: 50, passes: 4, turn_diameter_m: 0.75 },
    words: (leg) => `${leg.passes} × ${leg.length_m} m trench`,
    pipe: (n) => n("length_m") * n("passes"),
  },
  pond_mat: {
    title: "Pond mat",
    fields: [
      ["inner_diameter_m", "Inner diameter", "m", 0.1],
      ["outer_diameter_m", "Outer diameter", "m", 0.1],
      ["spacing_m", "Spacing", "m", 0.01],
      ["count", "Mats", "", 1, "1"],
    ],
    fresh: { inner_diameter_m: 0.9, outer_diameter_m: 2.7, spacing_m: 0.05 },
    words: (leg) => (leg.count > 1 ? `${leg.count} mats` : "mat"),
    pipe: (n) => {
      const turns = (n("outer_diameter_m") - n("inner_diameter_m")) / (2 * n("spacing_m", 1)) + 1;
      return Math.max(0, turns * Math.PI * (n("outer_diameter_m") + n("inner_diameter_m")) / 2) * n("count", 1);
    },
  },
  borehole: {
    title: "Borehole",
    fields: [
      ["depth_m", "Depth", "m", 1],
      ["u_tubes", "U-tubes", "", 1, "1"],
      ["diameter_mm", "Borehole", "mm", 5, "not told"],
    ],
    fresh: { depth_m: 100 },
    words: (leg) => `${leg.depth_m} m borehole`,
    pipe: (n) => 2 * n("depth_m"),
  },
};

export const ARRANGEMENTS = {
  manifold: "Manifold: a port for each",
  direct_return: "Direct return: first out, first back",
  reverse_return: "Reverse return: first out, last back",
};

export const isObject = (value) =>
  value !== null && typeof value === "object" && !Array.isArray(value);

/** Parts of a JSON Pointer (RFC 6901). */
export function partsOf(pointer) {
  return pointer.split("/").slice(1).map((part) => part.replace(/~1/g, "/").replace(/~0/g, "~"));
}

/** JSON Pointer of a place below another. */
export function below(pointer, ...parts) {
  return pointer + parts.map((part) =>
    "/" + String(part).replace(/~/g, "~0").replace(/\//g, "~1")).join("");
}

/** Value at a pointer; undefined where there is none. */
export function valueAt(document, pointer) {
  let found = document;
  for (const part of partsOf(pointer)) {
    if (found === null || typeof found !== "object" || !Object.hasOwn(found, part)) {
      return undefined;
    }
    found = found[part];
  }
  return found;
}

/** Write a value into a document; undefined takes the field out, and an item of a list stays without one. */
export function putAt(document, pointer, value) {
  const parts = partsOf(pointer);
  const last = parts.pop();
  let into = document;
  for (const each of parts) {
    if (into[each] === null || typeof into[each] !== "object") {
      if (value === undefined) return;
      into[each] = {};
    }
    into = into[each];
  }
  if (value === undefined && !Array.isArray(into)) delete into[last];
  else into[last] = value;
}

/** What was typed, as the job holds it: a number where it is one, else the text itself, so
 * that the service can say what is wrong with it. Nothing typed is undefined.
 *
 * A decimal comma and spaces between thousands are understood; of two signs the last is the
 * decimal one. "1,200" may be either and stays text. */
export function typedNumber(text) {
  const typed = text.trim();
  if (typed === "") return undefined;
  let plain = typed.replace("−", "-");
  if (/^[+-]?\d{1,3}([\s'’]\d{3})+([.,]\d+)?$/.test(plain)) plain = plain.replace(/[\s'’]/g, "");
  if (/^[+-]?\d{1,3}(\.\d{3})+,\d+$/.test(plain)) plain = plain.replaceAll(".", "").replace(",", ".");
  else if (/^[+-]?\d{1,3}(,\d{3})+\.\d+$/.test(plain)) plain = plain.replaceAll(",", "");
  else if (/^[+-]?\d*,\d+$/.test(plain) && !/^[+-]?[1-9]\d{0,2},\d{3}$/.test(plain)) plain = plain.replace(",", ".");
  const number = Number(plain);
  return /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(plain) && Number.isFinite(number) ? number : typed;
}

export function legKind(leg) {
  return isObject(leg) ? Object.keys(LEG_KINDS).find((kind) => Object.hasOwn(leg, kind)) : undefined;
}

export const newLeg = (kind) => ({ [kind]: structuredClone(LEG_KINDS[kind].fresh) });

/** A list with one of its items at another place. */
export function moved(list, from, to) {
  const others = list.filter((_, at) => at !== from);
  return [...others.slice(0, to), list[from], ...others.slice(to)];
}

export const isLoop = (branch) => isObject(branch) && isObject(branch.loop);

/** Loops of a split by what a plan of their array calls them, of the names that it has: without the chambers before it. */
export function byPlan(loops, planned) {
  const known = new Set(planned.map(({ loop }) => loop));
  const named = (loop) => (known.has(loop) || !loop.includes("/") ? loop : named(loop.slice(loop.indexOf("/") + 1)));
  return new Map(loops.map((each) => [named(each.loop), each]));
}

/** Every branch below a circuit. */
export function* branchesOf(circuit) {
  if (!isObject(circuit) || !Array.isArray(circuit.branches)) return;
  for (const branch of circuit.branches.filter(isObject)) {
    yield branch;
    yield* branchesOf(branch.circuit);
  }
}

/** Whether an array has boreholes. */
export const isDrilled = (array) => [...branchesOf(array)].some(({ loop }) =>
  Array.isArray(loop?.legs) && loop.legs.some((leg) => isObject(leg?.borehole)));

const nameOf = (branch) => String((branch.loop ?? branch.circuit)?.name ?? "");

/** A name like the one given with the next number that no loop has. */
function nextName(job, like) {
  const names = new Set([...branchesOf(job.array)].map(nameOf));
  const [, stem, digits] = /^(.*?)(\d*)$/s.exec(like);
  let number = digits === "" ? 2 : Number(digits) + 1;
  const join = digits === "" ? `${stem} ` : stem;
  while (names.has(`${join}${number}`)) number += 1;
  return `${join}${number}`;
}

/** A copy of a branch with names that nothing else has. */
export function copyOf(job, branch) {
  const copy = structuredClone(branch);
  if (typeof copy.loop?.name === "string") copy.loop.name = nextName(job, copy.loop.name);
  if (isObject(copy.circuit)) copy.circuit.name = nextName(job, copy.circuit.name || "Chamber");
  return copy;
}

/** How far along the header a new branch of a circuit lies: as its last from the one before. */
function headerOf({ branches = [] }) {
  const { header_m } = branches.at(-1) ?? {};
  return header_m === undefined ? {} : { header_m };
}

/** A new loop for a circuit: its last loop again, or a slinky where there is none. */
export function newLoop(job, circuit) {
  const loops = (circuit.branches ?? []).filter(isLoop);
  if (loops.length) return copyOf(job, loops[loops.length - 1]);
  const legs = ["straight", "slinky", "straight"].map(newLeg);
  return { loop: { name: nextName(job, "T0"), pipe: DEFAULT_PIPE, legs }, ...headerOf(circuit) };
}

/** The loops of a circuit and of the chambers in it. */
const loopsWithin = ({ branches }) => (Array.isArray(branches) ? branches : []).flatMap((each) =>
  (isLoop(each) ? [each] : isObject(each?.circuit) ? loopsWithin(each.circuit) : []));

/** A new chamber with a loop as the circuit's last; how far off it lies, nobody told yet. */
export function newCircuit(job, circuit) {
  const { loop } = newLoop(job, { branches: loopsWithin(circuit).slice(-1) }); // how it is connected there is not as it is here
  return {
    circuit: { name: nextName(job, "Chamber 0"), arrangement: "manifold", branches: [{ loop }] },
    ...headerOf(circuit),
  };
}

const PIPE_FIELDS = ["pipe", "header_pipe", "return_header_pipe"];

/** The job with one of its own pipes called by another name, wherever it lies. */
export function pipeRenamed(job, before, after) {
  const renamed = JSON.parse(JSON.stringify(job), (name, value) =>
    (PIPE_FIELDS.includes(name) && value === before ? after : value));
  for (const pipe of renamed.pipes) if (pipe?.name === before) pipe.name = after;
  return renamed;
}

function legWords(leg) {
  const kind = legKind(leg);
  return kind ? LEG_KINDS[kind].words(leg[kind] ?? {}) : "?";
}

/** A loop in a line of words. */
export function loopWords({ legs, pipe }) {
  return `${Array.isArray(legs) ? legs.map(legWords).join(" + ") : "no legs"} · ${pipe ?? "no pipe"}`;
}

/** Length of pipe [m] in each leg; for drawing only. */
export function legLengths({ legs }) {
  return (Array.isArray(legs) ? legs : []).map((leg) => {
    const kind = legKind(leg);
    if (!kind) return { kind, length: 0 };
    const n = (name, otherwise = 0) => (Number.isFinite(leg[kind]?.[name]) ? leg[kind][name] : otherwise);
    return { kind, length: LEG_KINDS[kind].pipe(n, leg[kind] ?? {}), coils: n("coils"), passes: n("passes") };
  });
}

const WORKING_ROOM = 0.2; // m of floor beside what lies in a trench
const BEDDING = 0.1; // m below it

/** What a leg takes of a trench: its floor and its depth [m], undefined where the leg does not tell. */
const SECTIONS = {
  slinky: ({ coil_diameter_m: coil = 1, depth_m: lies, upright }) => (upright
    ? { width_m: 0.1 + WORKING_ROOM, depth_m: lies + coil / 2 + BEDDING }
    : { width_m: coil + WORKING_ROOM, depth_m: lies + BEDDING }),
  trench: ({ passes = 1, spacing_m: apart = 0.1, turn_diameter_m: turn = 0, depth_m: lies }) =>
    ({ width_m: Math.max((passes - 1) * apart, passes > 1 ? turn : 0) + WORKING_ROOM, depth_m: lies + BEDDING }),
};

/** The trench that all legs of an array lie in: as wide and deep as the most that one of them takes. */
export function sectionOf(array) {
  const legs = [...branchesOf(array)].flatMap((branch) => (Array.isArray(branch.loop?.legs) ? branch.loop.legs : []));
  const taken = legs.filter((leg) => isObject(leg?.[legKind(leg)]) && legKind(leg) in SECTIONS)
    .map((leg) => SECTIONS[legKind(leg)](leg[legKind(leg)]));
  return Object.fromEntries(["width_m", "depth_m"].map((name) => [name, taken.map((each) => each[name]).filter(Number.isFinite)])
    .filter(([, all]) => all.length).map(([name, all]) => [name, Number(Math.max(...all).toFixed(2))]));
}
