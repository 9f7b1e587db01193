// The request being edited: reading and writing it by JSON Pointer, new loops, loops in words.

export const DEFAULT_PIPE = "PE100 SDR11 32";

export const LEG_KINDS = {
  straight_m: {
    title: "Straight pipe",
    fields: [["straight_m", "Length", "m", 1]],
    fresh: { straight_m: 20 },
  },
  coils: {
    title: "Slinky coils",
    fields: [
      ["coils", "Coils", "", 1],
      ["coil_diameter_m", "Diameter", "m", 0.1],
      ["pitch_m", "Pitch", "m", 0.1],
    ],
    fresh: { coils: 30, coil_diameter_m: 1.0, pitch_m: 1.0 },
  },
  coiled_m: {
    title: "Spare pipe kept coiled",
    fields: [["coiled_m", "Length", "m", 1], ["coil_diameter_m", "Diameter", "m", 0.1]],
    fresh: { coiled_m: 20, coil_diameter_m: 0.8 },
  },
  trench_m: {
    title: "Straight trench, several passes",
    fields: [
      ["trench_m", "Trench", "m", 1],
      ["passes", "Passes", "", 1],
      ["turn_diameter_m", "Turn diameter", "m", 0.1, true],
    ],
    fresh: { trench_m: 50, passes: 4, turn_diameter_m: 0.75 },
  },
  mat_inner_diameter_m: {
    title: "Pond mat",
    fields: [
      ["mat_inner_diameter_m", "Inner diameter", "m", 0.1],
      ["mat_outer_diameter_m", "Outer diameter", "m", 0.1],
      ["mat_spacing_m", "Spacing", "m", 0.01],
      ["mats", "Mats", "", 1, true],
    ],
    fresh: { mat_inner_diameter_m: 0.9, mat_outer_diameter_m: 2.7, mat_spacing_m: 0.05 },
  },
  borehole_depth_m: {
    title: "Borehole",
    fields: [["borehole_depth_m", "Depth", "m", 1], ["u_tubes", "U-tubes", "", 1, true]],
    fresh: { borehole_depth_m: 100 },
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

/** What was typed, as the request holds it: a number where it is one, else the text itself, so
 * that the service can say what is wrong with it. Nothing typed is undefined. */
export function typedNumber(text) {
  const typed = text.trim();
  if (typed === "") return undefined;
  const plain = /^[+\-−]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(typed);
  const number = Number(typed.replace("−", "-"));
  return plain && Number.isFinite(number) ? number : typed;
}

export function legKind(leg) {
  return isObject(leg) ? Object.keys(LEG_KINDS).find((kind) => Object.hasOwn(leg, kind)) : undefined;
}

/** Every branch below a circuit with its pointer, outermost first. */
export function* branchesOf(circuit, pointer) {
  if (!isObject(circuit) || !Array.isArray(circuit.branches)) return;
  for (const [index, branch] of circuit.branches.entries()) {
    const place = below(pointer, "branches", index);
    yield [branch, place];
    if (isObject(branch) && isObject(branch.circuit)) {
      yield* branchesOf(branch.circuit, below(place, "circuit"));
    }
  }
}

function namesIn(request) {
  const names = new Set();
  for (const [branch] of branchesOf(request.array, "/array")) {
    if (isObject(branch)) names.add(String(branch.loop ?? branch.circuit?.name ?? ""));
  }
  return names;
}

/** A name like the one given with the next number that no loop has. */
export function nextName(request, like) {
  const names = namesIn(request);
  const [, stem, digits] = /^(.*?)(\d*)$/s.exec(like);
  let number = digits === "" ? 2 : Number(digits) + 1;
  const join = digits === "" ? `${stem} ` : stem;
  while (names.has(`${join}${number}`)) number += 1;
  return `${join}${number}`;
}

/** A copy of a branch with names that nothing else has. */
export function copyOf(request, branch) {
  const copy = structuredClone(branch);
  if (typeof copy.loop === "string") copy.loop = nextName(request, copy.loop);
  if (isObject(copy.circuit)) copy.circuit.name = nextName(request, copy.circuit.name || "Chamber");
  return copy;
}

/** A new loop for a circuit: its last loop again, or a slinky where there is none. */
export function newLoop(request, circuit) {
  const loops = (circuit.branches ?? []).filter((each) => isObject(each) && "loop" in each);
  if (loops.length) return copyOf(request, loops[loops.length - 1]);
  const names = namesIn(request);
  return {
    loop: names.has("T1") ? nextName(request, "T1") : "T1",
    pipe: DEFAULT_PIPE,
    legs: [{ straight_m: 20 }, structuredClone(LEG_KINDS.coils.fresh), { straight_m: 20 }],
  };
}

export function newCircuit(request) {
  const names = namesIn(request);
  const name = names.has("Chamber 1") ? nextName(request, "Chamber 1") : "Chamber 1";
  return {
    circuit: { name, arrangement: "manifold", branches: [newLoop(request, { branches: [] })] },
    runs: [{ pipe: "PE100 SDR11 50", length_m: 20 }],
  };
}

export function pipeWords(pipe) {
  if (isObject(pipe)) return pipe.name || `bore ${pipe.bore_mm} mm`;
  return pipe === undefined ? "no pipe" : String(pipe);
}

function legWords(leg) {
  switch (legKind(leg)) {
    case "straight_m": return `${leg.straight_m} m`;
    case "coils": return `${leg.coils} coils`;
    case "coiled_m": return `${leg.coiled_m} m coiled`;
    case "trench_m": return `${leg.passes} × ${leg.trench_m} m trench`;
    case "mat_inner_diameter_m": return leg.mats > 1 ? `${leg.mats} mats` : "mat";
    case "borehole_depth_m": return `${leg.borehole_depth_m} m borehole`;
    default: return "?";
  }
}

/** A loop in a line of words. */
export function loopWords(branch) {
  const legs = Array.isArray(branch.legs) ? branch.legs.map(legWords).join(" + ") : "no legs";
  return `${legs} · ${pipeWords(branch.pipe)}`;
}

/** Length of pipe [m] in each leg, by the geometry that the service documents; for drawing only. */
export function legLengths(branch) {
  return (Array.isArray(branch.legs) ? branch.legs : []).map((leg) => {
    const kind = legKind(leg);
    const n = (name, otherwise = 0) => (Number.isFinite(leg?.[name]) ? leg[name] : otherwise);
    if (kind === "straight_m") return { kind, length: n("straight_m") };
    if (kind === "coiled_m") return { kind, length: n("coiled_m") };
    if (kind === "coils") {
      return {
        kind, coils: n("coils"),
        length: n("coils") * (Math.PI * n("coil_diameter_m") + n("pitch_m"))
          + (leg.returns_alongside === false ? 0 : n("coils") * n("pitch_m")),
      };
    }
    if (kind === "trench_m") return { kind, passes: n("passes"), length: n("trench_m") * n("passes") };
    if (kind === "borehole_depth_m") return { kind, length: 2 * n("borehole_depth_m") };
    if (kind === "mat_inner_diameter_m") {
      const turns = (n("mat_outer_diameter_m") - n("mat_inner_diameter_m")) / (2 * n("mat_spacing_m", 1)) + 1;
      const mean = (n("mat_outer_diameter_m") + n("mat_inner_diameter_m")) / 2;
      return { kind, length: Math.max(0, turns * Math.PI * mean) * n("mats", 1) };
    }
    return { kind: undefined, length: 0 };
  });
}
