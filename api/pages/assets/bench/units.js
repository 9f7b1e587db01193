// The units that results are shown in; the job and its fields keep their own.

import { digits } from "./dom.js";
import { keep, kept } from "./service.js";

const KEPT = "evenloop-bench-units";
export const FLOWS = { "L/s": 1, "L/min": 60, "m³/h": 3.6 };
export const DROPS = { kPa: () => 1, bar: () => 0.01, m: (metreKpa) => 1 / metreKpa };

const before = kept(KEPT) ?? {};
/** `metreKpa` is what a metre of the mixture weighs [kPa], by the last answer. */
export const units = {
  flow: before.flow in FLOWS ? before.flow : "L/s",
  drop: before.drop in DROPS ? before.drop : "kPa",
  metreKpa: 9.81,
};

export function chooseUnit(what, unit) {
  units[what] = unit;
  keep(KEPT, { flow: units.flow, drop: units.drop });
}

export const inFlow = (l_s) => l_s * FLOWS[units.flow];
export const inDrop = (kpa) => kpa * DROPS[units.drop](units.metreKpa);

const NUMBER = String.raw`[-−]?\d[\d,]*(?:\.\d+)?`;
const both = (unit) => new RegExp(`(?:(${NUMBER})( to | and |–))?(${NUMBER}) ${unit}(?![/·\\w]| a | \\()`, "g");
const read = (text) => Number(text.replaceAll(",", "").replace("−", "-"));

/** A sentence with each flow in L/s and each pressure in kPa told in the units now chosen as well. */
export function inUnits(sentence) {
  const say = (text, unit, to, convert) => (unit === to ? text : text.replace(both(unit), (all, first, join, last) =>
    `${all} (${first ? `${digits(convert(read(first)))}${join}` : ""}${digits(convert(read(last)))} ${to})`));
  return say(say(sentence, "kPa", units.drop, inDrop), "L/s", units.flow, inFlow);
}

/** A flow and a drop in words. */
export const flowWords = (l_s) => `${digits(inFlow(l_s))} ${units.flow}`;
export const dropWords = (kpa) => `${digits(inDrop(kpa))} ${units.drop}`;
