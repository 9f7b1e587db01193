"""Why do the loops' flows differ? The drop of every path taken apart, the largest difference first.

Each loop's path is held against that of a typical loop at the flows that are wanted, and the
difference is taken apart so that its parts add up to it: flows that are asked for unlike, another
pipe (bore, roughness, tubes in parallel), legs of another pipe, depth of boreholes, other length,
what coils take more than straight pipe, fittings and valves, runs, headers.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from hydraulics.findings import counted, figures, listed
from hydraulics.layout.circuit import Loop
from hydraulics.layout.walk import Place
from hydraulics.pipework.friction import LARGEST_CURVATURE, friction_number
from hydraulics.pipework.friction_table import bank_for, friction_per_reynolds
from hydraulics.pipework.pipe import Pipe
from hydraulics.split.assembly import IN_LOOP, Network
from hydraulics.split.drops import (
    branch_flows,
    drops_at,
    header_drops,
    pipe_drops,
    port_drops,
    run_drops,
)
from hydraulics.split.state import Drops, sums

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Part = Literal["flow", "pipe", "leg", "depth", "length", "coil", "fittings", "runs", "headers"]
PARTS: Final[tuple[Part, ...]] = (
    "flow", "pipe", "leg", "depth", "length", "coil", "fittings", "runs", "headers"
)  # fmt: skip

_WORTH_A_WORD: Final = 0.02  # of the loops' mean drop: less than this is not called a cause
_FEW_COILS: Final = 3  # diameters that are told one by one
_ON_THE_WAY: Final = ("fittings", "runs", "headers")


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing that moves loops away from the typical one.

    Attributes
    ----------
    part
        Where it lies.
    loops
        Numbers of the loops that it moves, the one that it moves most first.
    more
        Whether it takes more of them than of the typical loop.
    typical
        Number of the typical loop.
    weight
        What it makes the paths differ by [Pa].
    text
        It in words, with its numbers.
    """

    part: Part
    loops: tuple[int, ...]
    more: bool
    typical: int
    weight: float
    text: str


@dataclass(frozen=True, slots=True)
class PathParts:
    """Where the drop on the way to each loop, through it and back arises [Pa].

    Attributes
    ----------
    loops
        Pipe of the loop itself.
    fittings
        Fittings and valves of the loop, its branch and its run, and of those it hangs on.
    runs
        Pipe of the runs.
    headers
        Pipe of the headers.
    """

    loops: Array
    fittings: Array
    runs: Array
    headers: Array

    @property
    def path(self) -> Array:
        """All of it [Pa]."""
        return self.loops + self.fittings + self.runs + self.headers

    def weights(self) -> dict[str, float]:
        """How much of the difference between the paths each part makes.

        Returns
        -------
        dict of str to float
            By part, the largest first, as a fraction of the mean path: what it adds to the path
            that takes most, spares the path that takes least, or both together; whichever is
            more. Not positive where the part evens the paths out.
        """
        path = self.path
        high, low = int(path.argmax()), int(path.argmin())
        found = {}
        for name in ("loops", "headers", "runs", "fittings"):
            part = getattr(self, name)
            added = float(part[high] - part.mean())
            spared = float(part.mean() - part[low])
            found[name] = max(added, spared, added + spared)
        scale = float(path.mean())
        return {name: found[name] / scale for name in sorted(found, key=lambda n: -found[n])}


def path_parts(network: Network, loop_flow: Array, total: float) -> PathParts:
    """Where the drop of each loop's path would arise at given flows.

    Parameters
    ----------
    network
        The assembled array.
    loop_flow
        Mass flow of each loop [kg/s].
    total
        Mass flow of the array [kg/s].

    Returns
    -------
    PathParts
        The drops, whether or not they balance.
    """
    return parts_of(network, drops_at(network, branch_flows(network, loop_flow), total))


def parts_of(network: Network, drops: Drops) -> PathParts:
    """Where the drop of each loop's path arises.

    Parameters
    ----------
    network
        The assembled array.
    drops
        Its drops at some flows, balanced or not.
    """
    rows, loop_rows = network.rows, network.loop_rows
    flow = drops.flow[:rows]
    fittings = (network.square[:rows] * np.abs(flow) + network.linear[:rows]) * flow
    fittings = _along(network, fittings)[loop_rows]
    runs = _along(network, run_drops(network, drops)[:rows])[loop_rows]
    loops = pipe_drops(network, drops)
    path = loops + port_drops(network, drops)[loop_rows] + header_drops(network, drops)[loop_rows]
    return PathParts(loops, fittings, runs, path - loops - fittings - runs)


def _along(network: Network, own: Array) -> Array:
    """Each branch's own value and those of the branches it hangs on."""
    if len(network.levels) == 1:
        return own
    path = own.copy()
    for level in network.levels:
        if level.parents.size:
            path[level.lo : level.hi] += np.repeat(path[level.parents], level.counts)
    return path


def chain_of(network: Network, loop: int) -> tuple[int, ...]:
    """Rows on the way to a loop, the outermost circuit's first, its own last."""
    row = int(network.loop_rows[loop])
    chain = [row]
    for level in reversed(network.levels):
        if level.lo <= row < level.hi and level.parents.size:
            circuit = int(np.searchsorted(level.starts, row - level.lo, side="right")) - 1
            row = int(level.parents[circuit])
            chain.append(row)
    return tuple(reversed(chain))


# --------------------------------------------------------------------------- taken apart


@dataclass(frozen=True, slots=True)
class TakenApart:
    """Every loop's path against that of a typical loop.

    Attributes
    ----------
    typical
        Number of the typical loop: of the middle path.
    path
        Drop of each path [Pa].
    parts
        It by the part of the array [Pa].
    more
        What each part takes more than that of the typical loop [Pa]; they add up to the
        difference of the paths.
    drops
        Drops at the flows wanted.
    """

    typical: int
    path: Array
    parts: PathParts
    more: dict[Part, Array]
    drops: Drops


def worth_a_word(network: Network, drops: Drops) -> float:
    """By how much paths differ so that it is worth a word [Pa].

    What loops take of their own shares the flow out between them. A valve that they have in common
    takes nothing of that, however much it takes.
    """
    return _WORTH_A_WORD * float(np.abs(drops.carrier_drop[network.loop_rows]).mean())


def take_apart(network: Network, target_flow: Array, drops: Drops, parts: PathParts) -> TakenApart:
    """Take each loop's path apart at the flows that are wanted.

    Parameters
    ----------
    network
        The assembled array.
    target_flow
        Mass flow that each loop should have [kg/s], more than 0.
    drops, parts
        Drops at those flows, and where they arise.
    """
    path = parts.path
    typical = _typical(network, path)
    flow = float(target_flow[typical])
    alike = drops
    if float(np.ptp(target_flow)) > 1e-12 * flow:
        even = branch_flows(network, np.full_like(target_flow, flow))
        alike = drops_at(network, even, float(target_flow.sum()))
    pipe, leg, depth, length, coil = _loop_pipe(network, alike, typical, flow)
    more: dict[Part, Array] = {
        "flow": parts.loops - (parts.loops if alike is drops else pipe_drops(network, alike)),
        "pipe": pipe, "leg": leg, "depth": depth, "length": length, "coil": coil,
        "fittings": parts.fittings, "runs": parts.runs, "headers": parts.headers,
    }  # fmt: skip
    return TakenApart(
        typical,
        path,
        parts,
        {name: each - each[typical] for name, each in more.items()},
        drops,
    )


def _typical(network: Network, path: Array) -> int:
    """The loop of the middle path among the loops that are built alike most often."""
    built: dict[int, tuple[object, ...]] = {}
    alike: dict[tuple[object, ...], list[int]] = {}
    for number, loop in enumerate(network.loops):
        kind = built.get(id(loop))
        if kind is None:
            kind = built[id(loop)] = tuple(
                [
                    (pipe.bore, pipe.roughness, parallel, diameter, round(length, 2))
                    for pipe, length, diameter, parallel, _ in loop.sections
                ]
            )
        alike.setdefault(kind, []).append(number)
    most = max(alike.values(), key=len)
    those = np.asarray(most if len(most) > 1 else range(len(path)), dtype=np.intp)
    middle = float(np.sort(path[those])[(those.size - 1) // 2])
    return int(those[(np.abs(path[those] - middle) <= 1e-9 * abs(middle)).argmax()])


def _loop_pipe(
    network: Network, drops: Drops, typical: int, flow: float
) -> tuple[Array, Array, Array, Array, Array]:
    """What loops take by kind of pipe, legs of another, depth, other length and coils [Pa].

    All at one flow. The kind of pipe, and legs of another, are what changes where each loop's own
    pipe is exchanged for the typical loop's; length and coils are then of that pipe. Depth is
    taken as the typical loop's where one of the two has no borehole: all of them is length then.
    """
    loop, size = network.loop_of, len(network.loops)
    from_main = [_own_section(each) - each.main_section for each in network.loops]
    main = network.main + np.asarray(from_main, dtype=np.intp)
    element = slice(0, loop.size)
    bore, rough = network.bore[element], network.relative_roughness[element]
    parallel, coiled = network.parallel[element], network.coiled[element]
    of = main[typical]
    per_length = network.laminar[of] / network.length[of]
    taken = drops.element_drop[element]
    with_main = parallel == parallel[main[loop]]
    changed = (bore != bore[of]) | (rough != rough[of]) | (with_main & (parallel != parallel[of]))
    own = (bore == bore[main[loop]]) & (rough == rough[main[loop]])
    # Of a loop's flow in a tube, over what there is in one of the typical loop's main pipe.
    share = np.where(with_main, 1.0, parallel[of] / parallel)
    like = taken
    if changed.any():
        reynolds = network.reynolds_per_flow[of] * flow * share[changed]
        bend = network.curvature[element][changed] * bore[of] / bore[changed]
        bend = np.minimum(bend, LARGEST_CURVATURE * (1 - 1e-9))
        number, _ = friction_number(reynolds, float(rough[of]), bend)
        like = taken.copy()
        like[changed] = number / reynolds
        like[changed] *= flow * per_length * share[changed] * network.length[element][changed]
    stretched = like  # of coils, what they take more than straight pipe of their length
    if coiled.any():
        straight = bank_for([(float(rough[of]), 0.0)])
        number, _ = friction_per_reynolds(network.reynolds_per_flow[of] * flow * share, *straight)
        laid = flow * per_length * share * number * network.length[element]
        stretched = np.where(coiled, laid, like)

    def by_loop(values: Array) -> Array:
        return sums(loop, values, size)

    other = taken - like
    every = by_loop(stretched)
    depth = np.zeros(size)
    if _depth(network.loops[typical]):
        depth = by_loop(stretched * _hung(network.loops))
        depth[~_bored(network.loops)] = depth[typical]
    return (
        by_loop(np.where(own, other, 0.0)),
        by_loop(np.where(own, 0.0, other)),
        depth,
        every - depth,
        by_loop(like - stretched),
    )


def _depth(loop: Loop) -> float:
    """Depth of a loop's boreholes together [m]."""
    return sum(leg.borehole.depth for leg in loop.legs if leg.borehole is not None)


def _bored(loops: Sequence[Loop]) -> NDArray[np.bool_]:
    """Which loops have a borehole."""
    return np.asarray([_depth(each) > 0.0 for each in loops])


def _hung(loops: Sequence[Loop]) -> Array:
    """What part of every section of every loop hangs in boreholes [-]."""
    known: dict[int, list[float]] = {}
    for loop in loops:
        if id(loop) in known:
            continue
        hung = _summed(
            ((id(each.pipe), each.parallel), each.length)
            for leg in loop.legs
            if leg.borehole is not None
            for each in leg.sections(loop.pipe)
        )
        known[id(loop)] = [
            0.0
            if each.curvature or each.heaped
            else hung.get((id(each.pipe), each.parallel), 0.0) / max(each.length, 1e-9)
            for each in loop.sections
        ]
    return np.asarray([part for loop in loops for part in known[id(loop)]])


# --------------------------------------------------------------------------------- causes


def causes_of(
    network: Network, apart: TakenApart, target_flow: Array, share: str
) -> tuple[Cause, ...]:
    """Causes of unlike paths, the largest first.

    Parameters
    ----------
    network
        The assembled array.
    apart
        Its paths, taken apart.
    target_flow
        Mass flow that each loop should have [kg/s], more than 0.
    share
        What the target is, as in "at an even share".
    """
    worth = 0.5 * worth_a_word(network, apart.drops)
    off = apart.path - apart.path[apart.typical]
    beside = _typical_beside(network, apart)
    off_beside = apart.path - apart.path[beside]
    most = _most(network, apart.typical) if apart.more["pipe"].any() else ""
    teller = _Teller(network, apart, target_flow, share, worth, most)
    found = []
    for part in PARTS:
        more = apart.more[part]
        agrees = (more * off > 0.0) & (np.abs(more) > worth) & (np.abs(off) > worth)
        if part not in _ON_THE_WAY:
            apart_there = more - more[beside]
            agrees |= (
                (more * apart_there > 0.0)
                & (apart_there * off_beside > 0.0)
                & (np.abs(more) > worth)
                & (np.abs(apart_there) > worth)
                & (np.abs(off_beside) > worth)
            )
        for loops in _groups(part, more, agrees, network, apart.typical):
            ends = np.append(more[loops], 0.0)
            weight = float(ends.max() - ends.min())
            high = bool(more[loops[0]] > 0.0)
            text = teller.text(part, loops)
            found.append(Cause(part, tuple(loops.tolist()), high, apart.typical, weight, text))
    return tuple(sorted(found, key=lambda cause: -cause.weight))


def _typical_beside(network: Network, apart: TakenApart) -> Index:
    """Of each loop in a chamber the loop of the middle path there; of others the typical loop.

    What starves or floods a chamber hides of its loops what moves them apart.
    """
    found = np.full(len(apart.path), apart.typical, dtype=np.intp)
    inside: dict[Place, list[int]] = {}
    for number, place in enumerate(network.places):
        if len(place) > 1:
            inside.setdefault(place[:-1], []).append(number)
    for loops in inside.values():
        by_path = sorted(loops, key=lambda each: apart.path[each])
        found[loops] = by_path[(len(loops) - 1) // 2]
    return found


def _groups(
    part: Part, more: Array, agrees: NDArray[np.bool_], network: Network, typical: int
) -> Iterator[Index]:
    """Loops that are moved alike by one part, the one that is moved most first."""

    def strongest_first(which: Index) -> Index:
        return which[np.argsort(-np.abs(more[which]), kind="stable")]

    if part == "flow" or part in _ON_THE_WAY:
        if agrees.any():
            yield strongest_first(np.flatnonzero(agrees))
        return
    for sign in (1.0, -1.0):
        kinds: dict[Hashable, list[int]] = {}
        for each in np.flatnonzero(agrees & (more * sign > 0.0)).tolist():
            kind: Hashable = None
            if part == "pipe":
                kind = _kind(network, each)
            elif part == "length":
                kind = _are_bored(network, each, typical)
            kinds.setdefault(kind, []).append(each)
        for same in kinds.values():
            yield strongest_first(np.asarray(same, dtype=np.intp))


def _are_bored(network: Network, loop: int, typical: int) -> bool:
    """Whether both have boreholes: what differs besides their depth is tails."""
    return all(_depth(network.loops[each]) for each in (loop, typical))


def _own_section(loop: Loop) -> int:
    """That of a loop's main pipe; of tubes in parallel in it, however long its tails are."""
    main, gathers = loop.sections[loop.main_section], loop.sections[loop.gathering_section]
    tubes = main.pipe.bore == gathers.pipe.bore and main.parallel != gathers.parallel
    return loop.gathering_section if tubes else loop.main_section


def _kind(network: Network, loop: int) -> tuple[float, float, float]:
    """Bore [m], roughness [m] and tubes in parallel of a loop's own pipe."""
    each = network.loops[loop]
    section = each.sections[_own_section(each)]
    return section.pipe.bore, section.pipe.roughness, float(section.parallel)


# ---------------------------------------------------------------------------------- words


_Key = TypeVar("_Key", bound=Hashable)


def _summed(pairs: Iterable[tuple[_Key, float]]) -> dict[_Key, float]:
    """Sum of the lengths of every key [m], keys as they first come."""
    found: dict[_Key, float] = {}
    for key, length in pairs:
        found[key] = found.get(key, 0.0) + length
    return found


def _most(network: Network, typical: int) -> str:
    """What to call the loops of the typical kind of pipe."""
    count, kind = len(network.loops), _kind(network, typical)
    same = sum(_kind(network, each) == kind for each in range(count))
    return "most loops" if 2 * same > count else "others"


@dataclass(frozen=True, slots=True)
class _Teller:
    network: Network
    apart: TakenApart
    target_flow: Array
    share: str
    worth: float
    most: str

    def text(self, part: Part, loops: Index) -> str:
        """A cause in words, with what works against it in the loop that it moves most."""
        names = listed([self.network.names[i] for i in sorted(loops.tolist())])
        one = loops.size == 1
        if part == "flow":
            return self._flows()
        if part in _ON_THE_WAY:
            return self._on_the_way(part, loops) + self._against(part, int(loops[0]))
        if part == "pipe":
            words = self._pipe(loops, names, one)
        elif part == "leg":
            words = self._leg(loops, names)
        elif part == "depth":
            words = self._depth(loops, names)
        elif part == "length":
            words = self._length(loops, names, one)
        else:
            words = self._coils(loops, names)
        return f"{words}: {self._by(part, loops)}{self._against(part, int(loops[0]))}"

    def _by(self, part: Part, loops: Index) -> str:
        by = np.abs(self.apart.more[part][loops]) / 1e3
        low, high = f"{by.min():.1f}", f"{by.max():.1f}"
        span = low if low == high else f"{low} to {high}"
        less = "more" if self.apart.more[part][loops[0]] > 0.0 else "less"
        return f"{span} kPa {less} at {self.share}"

    def _against(self, by: Part, loop: int) -> str:
        """What of a loop evens out a part of what one cause makes it take more or less."""
        moved = float(self.apart.more[by][loop])
        words = []
        for part in PARTS:
            more = float(self.apart.more[part][loop])
            if more * moved < 0.0 and abs(more) > self.worth:
                less = "less" if more < 0.0 else "more"
                of = _OF_LOOP[part]
                if part == "length" and _are_bored(self.network, loop, self.apart.typical):
                    of = "tails take"
                words.append(f"{of} {abs(more) / 1e3:.1f} kPa {less}")
        if not words:
            return ""
        return f"; against it {self.network.names[loop]}'s {' and its '.join(words)}"

    def _flows(self) -> str:
        asked = self.target_flow / self.target_flow.mean()
        low, high = int(asked.argmin()), int(asked.argmax())
        names = self.network.names
        return (
            f"the flows asked for are not alike: {names[low]} shall have {asked[low]:.2f} "
            f"of an even share and {names[high]} {asked[high]:.2f}"
        )

    def _pipe(self, loops: Index, names: str, one: bool) -> str:
        typical = _kind(self.network, self.apart.typical)
        bore, rough, tubes = _kind(self.network, int(loops[0]))
        have = "has" if one else "have"
        words = []
        if abs(bore - typical[0]) > 1e-6:
            words.append(
                f"{bore * 1e3:.1f} mm bore where {self.most} have {typical[0] * 1e3:.1f} mm"
            )
        if tubes != typical[2]:
            words.append(
                f"{tubes:g} pipe{'s' * (tubes > 1)} in parallel where {self.most} have "
                f"{typical[2]:g}"
            )
        if rough != typical[1]:
            words.append(
                f"pipe of {figures(rough * 1e3, 2)} mm roughness where {self.most} have "
                f"{figures(typical[1] * 1e3, 2)} mm"
            )
        return f"{names} {have} {' and '.join(words)}"

    def _leg(self, loops: Index, names: str) -> str:
        # Where the loops have no leg of another pipe, the typical one has.
        legs = [(which, *self._other_pipe(which)) for which in (int(loops[0]), self.apart.typical)]
        which, other, rest = next(each for each in legs if each[1])
        held = f"{self.network.names[which]} has {other} in it, the rest {rest}"
        return held if which == int(loops[0]) else f"{names} not being so, {held}"

    def _other_pipe(self, which: int) -> tuple[str, str]:
        """Pipe of a loop's legs that is not its main pipe, empty where there is none, and that."""
        loop = self.network.loops[which]
        main = loop.sections[loop.main_section].pipe
        by_bore = any(each.pipe.bore != main.bore for each in loop.sections)

        def size(pipe: Pipe) -> str:
            return f"{pipe.bore * 1e3:.1f}" if by_bore else figures(pipe.roughness * 1e3, 2)

        lengths = _summed((size(each.pipe), each.length) for each in loop.sections)
        rest, what = size(main), "bore" if by_bore else "roughness"
        del lengths[rest]
        told = [f"{length:.0f} m of {mm} mm {what}" for mm, length in lengths.items()]
        return listed(told) if told else "", f"{rest} mm"

    def _depth(self, loops: Index, names: str) -> str:
        every = self.network.loops
        deep = np.asarray([_depth(each) for each in every])
        by = deep[loops] - deep[self.apart.typical]
        holes = [sum(leg.borehole is not None for leg in every[each].legs) for each in loops]
        one = holes == [1]
        together = " together" if max(holes) > 1 else ""
        return (
            f"the borehole{'' if one else 's'} of {names}{together} {'is' if one else 'are'} "
            f"{_span(np.abs(by))} m {'deeper' if by[0] > 0.0 else 'less deep'} "
            f"({_range(deep[loops])} against {deep[self.apart.typical]:.0f} m)"
        )

    def _length(self, loops: Index, names: str, one: bool) -> str:
        every, typical = self.network.loops, self.apart.typical
        length = np.asarray([each.length for each in every])
        bored = _are_bored(self.network, int(loops[0]), typical)
        if bored:
            length = length - 2.0 * np.asarray([_depth(each) for each in every])
        by = length[loops] - length[typical]
        coils = np.asarray([each.coiled_length for each in every])
        tails = not bored and float(np.ptp(coils)) < 0.01 * float(coils.max())
        others = np.delete(length, loops)
        alike = float(np.ptp(others)) <= 0.01 * float(length.max())
        against = "the rest" if alike else "the typical loop"
        who = f"the tails of {names} are" if bored else f"{names} {'is' if one else 'are'}"
        told = (
            f"{who} {_span(np.abs(by))} m {'longer' if by[0] > 0.0 else 'shorter'} than "
            f"{'those of ' if bored else ''}{against} "
            f"({_range(length[loops])} against {length[typical]:.0f} m)"
        )
        return told + (", the coils alike, the straight pipe (tails) not" if tails else "")

    def _coils(self, loops: Index, names: str) -> str:
        def coils(number: int) -> str:
            found = [each for each in self.network.loops[number].sections if each.curvature]
            at = _summed((round(each.coil_diameter, 2), each.length) for each in found)
            if len(at) > _FEW_COILS:  # turns of a mat
                return f"{sum(at.values()):.0f} m at {min(at):.2f} to {max(at):.2f} m"
            words = [f"{length:.0f} m at {diameter:.2f} m" for diameter, length in at.items()]
            return listed(words) if words else "none"

        return (
            f"the coils of {names} are other than those of "
            f"{self.network.names[self.apart.typical]} ({coils(int(loops[0]))} against "
            f"{coils(self.apart.typical)})"
        )

    def _on_the_way(self, part: Part, loops: Index) -> str:
        more, names = self.apart.more[part], self.network.names
        all_of: Array = getattr(self.apart.parts, part)
        ends = [self.apart.typical, *loops.tolist()]
        far = max(ends, key=lambda each: more[each])
        near = min(ends, key=lambda each: more[each])
        words = (
            f"{all_of[far] / 1e3:z.1f} kPa on the way to {names[far]} and back, "
            f"{all_of[near] / 1e3:z.1f} kPa to {names[near]}, each loop at {self.share}"
        )
        if part == "fittings":
            return f"fittings and valves take {words}"
        if part == "runs":
            return f"the runs take {words}{self._run_reason(far, near)}"
        return f"{self._favours(near, far)}the headers take {words}{self._stretch(far, near)}"

    def _run_reason(self, far: int, near: int) -> str:
        """In what the runs to two loops differ: their length, or the loops that they carry."""
        network, told = self.network, []
        length, flow = [], []
        for loop in (far, near):
            rows = chain_of(network, loop)
            at = np.isin(network.owner, rows) & (network.side != IN_LOOP)
            length.append(0.5 * float(network.length[at].sum()))
            flow.append(max((self.apart.drops.flow[row] for row in rows[:-1]), default=0.0))
        if abs(length[0] - length[1]) > 0.01 * max(length):
            told.append(f"{length[0]:.0f} m of route against {length[1]:.0f} m")
        mean = float(self.target_flow.mean())
        served = [round(each / mean) for each in flow]
        if served[0] != served[1] and min(served) > 0:
            told.append(f"a route for {counted(served[0], 'loop')} against one for {served[1]}")
        return f" ({', '.join(told)})" if told else ""

    def _favours(self, near: int, far: int) -> str:
        network = self.network
        rows = network.rows
        reverse = bool(((network.owner >= 2 * rows) & (network.owner < 3 * rows)).any())
        on_the_way = zip(network.places[near], network.places[far], strict=False)
        outwards = near < far and all(one <= other for one, other in on_the_way)
        return "direct return favours the near loops: " if outwards and not reverse else ""

    def _stretches(self, loop: int) -> set[int]:
        """Every stretch of header on the way to a loop and back."""
        network = self.network
        rows = network.rows
        carriers: set[int] = set()
        for row in chain_of(network, loop):
            level = next(each for each in network.levels if each.lo <= row < each.hi)
            if level.headers:
                at = int(np.searchsorted(level.starts, row - level.lo, side="right")) - 1
                first, last = level.lo + int(level.starts[at]), level.lo + int(level.ends[at])
                carriers.update(range(rows + first, rows + row + 1))
                carriers.update(range(2 * rows + row, 2 * rows + last + 1))
        return carriers

    def _stretch(self, far: int, near: int) -> str:
        """The one stretch that takes much of what only the far loop's way has, if one does."""
        network, taken = self.network, self.apart.drops.carrier_drop
        rows = network.rows
        own = sorted(self._stretches(far) - self._stretches(near))
        taking = [each for each in own if taken[each] > 0.0]
        if len(taking) < 3:  # of one or two, nothing has to be singled out
            return ""
        most = max(taking, key=lambda each: taken[each])
        drop = float(taken[most])
        if drop < 0.4 * float(taken[taking].sum()):
            return ""
        pipe = np.flatnonzero(network.owner == most)
        pipe = pipe[network.side[pipe] == network.side[pipe[0]]]  # past closed branches, several
        bores = listed([f"{bore * 1e3:.1f}" for bore in np.unique(network.bore[pipe]).tolist()])
        beside = (
            int(network.loop_rows.searchsorted(most % rows)) if len(network.levels) == 1 else -1
        )
        where = f" at {network.names[beside]}" if 0 <= beside < len(network.names) else ""
        return (
            f", {drop / 1e3:.1f} kPa of it in one stretch{where} "
            f"({network.length[pipe].sum():.0f} m of {bores} mm bore)"
        )


_OF_LOOP: Final[dict[Part, str]] = {
    "flow": "flow asked for takes", "pipe": "other pipe takes",
    "leg": "legs of other pipe take", "depth": "depth takes", "length": "length takes",
    "coil": "coils take",
    "fittings": "fittings and valves take", "runs": "runs take", "headers": "headers take",
}  # fmt: skip


def _span(by: Array) -> str:
    return f"{by.min():.0f}" if np.ptp(by) < 0.5 else f"{by.min():.0f} to {by.max():.0f}"


def _range(values: Array) -> str:
    return f"{_span(values)} m"
