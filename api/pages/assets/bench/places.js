// Places by hand: of trenches, a line for each loop as long as what lies in it; of a chamber, where it is free.

import { legKind, valueAt } from "./job.js";

const rounded = (value) => Number(value.toFixed(6)); // as finely as the service tells places
const apart = (a, b) => Math.hypot(b.x_m - a.x_m, b.y_m - a.y_m);

/** The point so far from one towards another. */
export const towards = (a, b, metres) => {
  const part = metres / apart(a, b);
  return { x_m: rounded(a.x_m + part * (b.x_m - a.x_m)), y_m: rounded(a.y_m + part * (b.y_m - a.y_m)) };
};

/** Trench of a loop [m]; NaN where it lies in none. */
function trenchOf({ legs }) {
  const lengths = legs.map((leg) => {
    const kind = legKind(leg);
    const told = leg[kind] ?? {};
    return { straight: 0, slinky: told.coils * told.pitch_m, trench: told.length_m }[kind] ?? NaN;
  });
  const sum = lengths.reduce((all, each) => all + each, 0);
  return sum > 0 ? sum : NaN;
}

/** A line made so long; its end nearer to `near` stays, and the other moves along its last piece. */
function asLong(points, metres, near) {
  const line = apart(points[0], near) <= apart(points.at(-1), near) ? points : points.toReversed();
  const [before, last] = line.slice(-2);
  const piece = apart(before, last) + metres - line.slice(1).reduce((sum, each, at) => sum + apart(line[at], each), 0);
  if (Math.abs(piece - apart(before, last)) < 0.001 || piece <= 0) return points;
  return [...line.slice(0, -1), towards(before, last, piece)];
}

/** The places of all trenches of an array: each where its line lies, as long as its loop now asks for; one
 * that has no line yet in rows from a corner. Null where some loop lies in no trench.
 *
 * `loops` are the answer's, `lines` what is placed by the name of its loop, `near` where tails lead to. */
export function placesOf(job, loops, { lines, near, corner, spacing }) {
  const own = loops.map(({ loop, where }) =>
    loop.slice(loop.lastIndexOf(`/${valueAt(job, where)?.loop?.name}`) + 1));
  const found = loops.map(({ loop: whole, where }, row) => {
    const metres = trenchOf(valueAt(job, where)?.loop ?? { legs: [] });
    const loop = new Set(own).size === own.length ? own[row] : whole; // as a plan names them
    const start = { x_m: corner.x_m, y_m: rounded(corner.y_m + row * spacing) };
    const line = lines.get(loop);
    return {
      ...line, loop, metres,
      points: line ? asLong(line.points, metres, near) : [start, { x_m: rounded(start.x_m + metres), y_m: start.y_m }],
    };
  });
  if (!found.length || found.some(({ metres }) => !Number.isFinite(metres))) return null;
  return found.map(({ loop, points, tails_from }) => ({ loop, points, ...tails_from && { tails_from } }));
}

const APART = 2; // between the middles of two chambers, and from water [m]
const BODY = 0.75; // from a chamber's middle to its corner, rounded up [m]

/** How far a point is from a line through others; closed where it comes back to the first. */
function awayFrom(at, points, closed) {
  const ends = closed ? [...points.slice(1), points[0]] : points.slice(1);
  return Math.min(apart(at, points[0]), ...ends.map((b, from) => {
    const a = points[from];
    const long = apart(a, b) ** 2;
    const part = long ? ((at.x_m - a.x_m) * (b.x_m - a.x_m) + (at.y_m - a.y_m) * (b.y_m - a.y_m)) / long : 0;
    const nearest = Math.min(1, Math.max(0, part));
    return apart(at, { x_m: a.x_m + nearest * (b.x_m - a.x_m), y_m: a.y_m + nearest * (b.y_m - a.y_m) });
  }));
}

/** Whether a point lies in an area: a ray from it crosses the sides an odd number of times. */
const isIn = (at, area) => area.filter((a, index) => {
  const b = area[(index + 1) % area.length];
  return (a.y_m > at.y_m) !== (b.y_m > at.y_m)
    && at.x_m < a.x_m + (at.y_m - a.y_m) / (b.y_m - a.y_m) * (b.x_m - a.x_m);
}).length % 2 === 1;

/** A place for a chamber near a point: on the plot and off its boundary, off every keep-out's clearance, water,
 * trench and other chamber; null where none is found within 60 m.
 *
 * `blocks` are { points, closed, clear }: what it keeps `clear` of, `closed` around an area. */
export function freePlace({ corners, near, border, blocks, chambers }) {
  const isFree = (at) => isIn(at, corners) && awayFrom(at, corners, true) >= border + BODY
    && chambers.every((each) => apart(at, each) >= APART)
    && blocks.every(({ points, closed, clear }) => awayFrom(at, points, closed) >= clear + BODY && !(closed && isIn(at, points)));
  for (let reach = APART; reach <= 60; reach += 1) {
    for (let turn = 0; turn < 24; turn += 1) {
      const angle = turn * Math.PI / 12;
      const at = { x_m: Math.round(2 * (near.x_m + reach * Math.cos(angle))) / 2, y_m: Math.round(2 * (near.y_m + reach * Math.sin(angle))) / 2 };
      if (isFree(at)) return at;
    }
  }
  return null;
}
