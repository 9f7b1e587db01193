"""What would bring a loop nearer to its flow? Changes to an array, one cause at a time.

Nothing here is advised yet: whoever asks solves the array as changed, and tells only what brings
the loop nearer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hydraulics.errors import HydraulicsError
from hydraulics.findings import figures, listed
from hydraulics.layout.circuit import Branch, Circuit, Loop, Run
from hydraulics.layout.edit import (
    edited,
    in_reverse_return,
    return_sizes,
    sized,
    with_loop_pipe,
    with_run_pipes,
)
from hydraulics.layout.legs import STRAIGHT, Leg, Section
from hydraulics.layout.walk import Place, flowing
from hydraulics.pipework.fittings import NO_LOSS, Loss, kv_from_loss, loss_of
from hydraulics.pipework.pipe import Pipe
from hydraulics.split.assembly import IN_LOOP, Network
from hydraulics.split.causes import Cause, Part, TakenApart, chain_of

Array = NDArray[np.float64]
_NAMED: Final = 4  # loops at most that are named by what they are not
_SIZES: Final = 3  # steps up that are tried
_WRITTEN: Final = 12  # names that are written out: who is to act on them has to know which


_Like = dict[Place, tuple[Place, Loss, bool]]
"""By a branch's place: whose fittings it gets, these, and whether in place of its runs'."""


@dataclass(frozen=True, slots=True)
class Remedy:
    """A change that might bring a loop nearer.

    Attributes
    ----------
    text
        In words.
    array
        The array as changed: to be assembled, or assembled already.
    amount
        How much of it, in words to go on with: of two that differ by nothing else one is told.
    """

    text: str
    array: Circuit | Network
    amount: str = ""


def remedies_for(
    cause: Cause,
    circuit: Circuit,
    network: Network,
    taken: TakenApart,
    *,
    by_length: bool = False,
) -> Iterator[list[Remedy]]:
    """Changes that answer to one cause; of each list the best is enough.

    Parameters
    ----------
    cause
        What moves the loops.
    circuit, network
        The array.
    taken
        Its paths, taken apart.
    by_length
        Whether loops are to flow by their length. Spare pipe is left out then: it is to carry more
        for being longer, so that how much is enough hangs on the coil that it is left in.
    """
    made = _MAKERS.get(cause.part)
    if made is not None:
        yield from made(_Case(cause, circuit, network, taken, by_length))


def _all_of(names: list[str]) -> str:
    return listed(names, _WRITTEN)


@dataclass(frozen=True, slots=True)
class _Case:
    cause: Cause
    circuit: Circuit
    network: Network
    taken: TakenApart
    by_length: bool

    @property
    def names(self) -> str:
        """All loops that :meth:`with_loops` changes: equal branches are changed alike."""
        return self.named(self.places(self.cause.loops))

    def named(self, places: Iterable[Place]) -> str:
        """What hangs at some places: a circuit by its name where it has one, loops by theirs."""
        called: dict[Place, list[str]] = {
            each.place: [each.name + (f" (all {each.count})" if each.count > 1 else "")]
            for each in flowing(self.circuit)
            if each.loop is None and each.branch.item.name
        }
        circuits = frozenset(called)
        for name, at in zip(self.network.names, self.network.places, strict=True):
            for depth in range(1, len(at) + 1):
                if at[:depth] not in circuits:
                    called.setdefault(at[:depth], []).append(name)
        return _all_of([name for place in sorted(places) for name in called[place]])

    @property
    def apart(self) -> tuple[tuple[int, ...], int]:
        """The loops of which more is taken, and one of those of which less is."""
        if self.cause.more:
            return self.cause.loops, self.cause.typical
        return tuple(range(len(self.network.loops))), self.cause.loops[0]

    def places(self, loops: tuple[int, ...]) -> frozenset[Place]:
        return frozenset(self.network.places[i] for i in loops)

    def way(self, loop: int) -> list[tuple[Place, Branch, int]]:
        """Branches on the way to a loop, with their rows, the outermost circuit's first."""
        found = []
        here, whole = self.circuit, self.network.places[loop]
        for depth, row in enumerate(chain_of(self.network, loop)):
            branch = here.branches[whole[depth]]
            found.append((whole[: depth + 1], branch, row))
            if isinstance(branch.item, Circuit):
                here = branch.item
        return found

    def loop(self, number: int) -> Loop:
        return self.network.loops[number]

    def with_loops(self, change: Callable[[Branch, Loop], Branch]) -> Circuit:
        """The array with the loops changed that the cause moves."""
        places = self.places(self.cause.loops)

        def changed(branch: Branch, place: Place) -> Branch:
            if place not in places or not isinstance(branch.item, Loop):
                return branch
            return change(branch, branch.item)

        return edited(self.circuit, changed)


def _tried(text: str, make: Callable[[], Circuit]) -> list[Remedy]:
    """A change; none where it cannot be built."""
    try:
        return [Remedy(text, make())]
    except HydraulicsError:
        return []


# ---------------------------------------------------------------------------- in the loops


def _spare(case: _Case, part: Part) -> Iterator[list[Remedy]]:
    """Spare pipe in coils for the loops that get too much."""
    if case.by_length:
        return
    network, apart, loops = case.network, case.taken, list(case.cause.loops)
    path = apart.path
    if case.cause.more:
        # What a path lacks by whatever cause: what it lacks by one alone would not be enough.
        lacking = path.max() - path
    else:
        more = apart.more[part]
        lacking = np.zeros(len(path))
        lacking[loops] = np.minimum(-more[loops], path[case.cause.typical] - path[loops])
    short = lacking > 1e-9 * path.max()
    if not short.any():
        return
    names = network.names
    main = network.main
    share = np.where(short, lacking, 0.0) / apart.drops.element_drop[main]
    metres = share * network.length[main]
    kept, given = ([names[i] for i in np.flatnonzero(each).tolist()] for each in (~short, short))
    few, alike = len(given) <= _NAMED, len({figures(each) for each in metres[short]}) == 1
    which = _all_of(given)
    if case.cause.more and len(kept) <= _NAMED and (alike or not few):
        which = f"the loops other than {_all_of(kept)}"
    elif case.cause.more and not few:
        which = "the loops that get too much"
    text = f"coil spare pipe into {which}"
    longer = network.laminar.copy()
    longer[main] *= 1.0 + share
    parts = [
        case.loop(i).sections[case.loop(i).main_section] for i in np.flatnonzero(short).tolist()
    ]
    yield [Remedy(text, replace(network, laminar=longer), _as_much_as(metres[short], parts))]


def _as_much_as(metres: Array, parts: Sequence[Section]) -> str:
    """How much spare pipe, by what takes as much; in a tighter coil less is enough."""
    told = [f"{figures(each)} m" for each in metres.tolist()]
    each = _all_of(told)
    if len(told) > _NAMED:
        each = f"{figures(float(metres.min()))} to {figures(float(metres.max()))} m"
    of = "its" if len(told) == 1 else "each one's"
    if len(set(told)) == 1:
        each = told[0]
    coiled = {part.coil_diameter != STRAIGHT for part in parts}
    kind = "longest part" if len(coiled) > 1 else "coils" if coiled == {True} else "straight pipe"
    return f", with the drop of {each} more of {of} {kind} (never cut a long one)"


def _for_coils(case: _Case) -> Iterator[list[Remedy]]:
    pattern = case.loop(case.cause.typical)
    coils = [leg for leg in pattern.legs if _is_coil(leg)]

    def as_the_others(branch: Branch, loop: Loop) -> Branch:
        if sum(map(_is_coil, loop.legs)) != len(coils):
            return branch
        new = iter(coils)
        legs = tuple(
            replace(next(new), pipe=leg.pipe, fittings=leg.fittings) if _is_coil(leg) else leg
            for leg in loop.legs
        )
        return replace(branch, item=replace(loop, legs=legs))

    counts = {sum(map(_is_coil, case.loop(i).legs)) for i in case.cause.loops}
    if coils and counts == {len(coils)}:
        what = {"coil_diameter": "coils", "turn_diameter": "passes", "inner_diameter": "mats"}
        laid = {leg.bend_name: None for i in case.cause.loops for leg in case.loop(i).legs
                if _is_coil(leg)} | {leg.bend_name: None for leg in coils}  # fmt: skip
        parts = " and ".join(word for name, word in what.items() if name in laid)
        text = (
            f"lay the {parts} of {case.names} as those of {case.network.names[case.cause.typical]}"
        )
        yield _tried(text, lambda: case.with_loops(as_the_others))
    yield from _spare(case, "coil")


def _is_coil(leg: Leg) -> bool:
    return leg.bend is not None and leg.borehole is None


def _for_pipe(case: _Case) -> Iterator[list[Remedy]]:
    def main(loop: Loop) -> tuple[Pipe, int]:
        section = loop.sections[loop.main_section]
        return section.pipe, section.parallel

    pipe, tubes = main(case.loop(case.cause.typical))
    old, own_tubes = main(case.loop(case.cause.loops[0]))
    if own_tubes != tubes:
        return

    def other(given: Pipe) -> Pipe:
        same = (given.bore, given.roughness) == (old.bore, old.roughness)
        return pipe if same else given

    text = f"lay {case.names} in {pipe.name} instead of {old.name}"
    yield _tried(text, lambda: case.with_loops(lambda branch, _: with_loop_pipe(branch, other)))


def _for_leg(case: _Case) -> Iterator[list[Remedy]]:
    if not case.cause.more:
        return

    def in_its_own(branch: Branch, loop: Loop) -> Branch:
        return with_loop_pipe(branch, lambda _: loop.sections[loop.main_section].pipe)

    text = f"lay all of {case.names} in the pipe of its longest part"
    yield _tried(text, lambda: case.with_loops(in_its_own))


# ---------------------------------------------------------------------------- on the way


def _set_apart(run: Run) -> tuple[Loss, Loss]:
    """Fittings of a run: those that can be opened or exchanged, and its elbows and tees."""
    every = run.fittings.fittings
    stay = tuple(each for each in every if each.kind and not each.kind.endswith("valve"))
    if not stay:
        return run.fittings, NO_LOSS
    other = tuple(each for each in every if each not in stay)
    return loss_of(other, run.pipe.bore), loss_of(stay, run.pipe.bore)


def _lost(branch: Branch) -> tuple[Loss, Loss]:
    """Fittings of a branch: its own with those of its loop, and those of its runs but elbows."""
    own, runs = branch.fittings, NO_LOSS
    for run in branch.runs:
        runs += _set_apart(run)[0]
    return (own + branch.item.fittings if isinstance(branch.item, Loop) else own), runs


def _for_fittings(case: _Case) -> Iterator[list[Remedy]]:
    """Valves and fittings as those of a loop with less; those that take less too, if need be.

    Of a branch's own and those of its runs the ones are exchanged that differ more; the elbows of a
    run stay.
    """
    network, flow = case.network, case.taken.drops.flow
    heavy, light = case.apart
    brine = network.fluids[IN_LOOP]

    def drop(loss: Loss, row: int) -> float:
        volume = flow[row] / brine.density
        square = brine.density * loss.square * volume**2
        return float(square + brine.viscosity * loss.linear * volume)

    typical = case.way(light)
    like: _Like = {}
    more: set[Place] = set()
    for number in heavy:
        own = zip(case.way(number), typical, strict=False)
        for (place, branch, row), (at, pattern, there) in own:
            parts, others = _lost(branch), _lost(pattern)
            apart = [abs(drop(parts[i], row) - drop(others[i], there)) for i in range(2)]
            part = apart.index(max(apart))
            kept = drop(parts[1 - part], row)
            loss = others[part] if kept else others[0] + others[1]
            taken, wanted = drop(parts[part], row), drop(loss, there)
            if abs(taken - wanted) <= 1e-9 * max(taken, wanted) or not taken:
                continue
            by = float(flow[there] / flow[row])
            like[place] = at, Loss(loss.square * by**2, loss.linear * by), bool(part)
            if taken > wanted:
                more.add(place)
    yield [
        _as_light(case, light, {place: like[place] for place in which}, word)
        for word, which in (("open", more), ("set", like))
        if more and (word == "open" or len(like) > len(more))
    ]


def _as_light(case: _Case, light: int, like: _Like, word: str) -> Remedy:
    """Branches with the fittings that another has, by its place."""

    def changed(branch: Branch, place: Place) -> Branch:
        if place not in like:
            return branch
        _, loss, on_runs = like[place]
        if on_runs:
            runs = tuple(replace(run, fittings=_set_apart(run)[1]) for run in branch.runs)
            return replace(branch, runs=runs, fittings=branch.fittings + loss)
        item = branch.item
        if isinstance(item, Loop):
            item = replace(item, legs=tuple(replace(leg, fittings=NO_LOSS) for leg in item.legs))
        return replace(branch, item=item, fittings=loss)

    text = f"{word} or exchange the valve or fitting on the way to {case.named(like)}"
    if left := [(at, loss) for at, loss, _ in like.values() if loss.square or loss.linear]:
        at = {at for at, _ in left}
        loop = next(iter(at)) == case.network.places[light] if len(at) == 1 else True
        name = case.network.names[light] if loop else case.named(at)
        each = "it takes" if len(like) == 1 else "each takes"
        text += f", so that {each} what that on the way to {name} takes"
        kvs = {figures(kv_from_loss(loss), 4) for _, loss in left if loss.square}
        if len(left) == len(like) and len(kvs) == 1 and not any(loss.linear for _, loss in left):
            text += f", Kv {kvs.pop()} m³/h"
    return Remedy(text, edited(case.circuit, changed))


def _for_runs(case: _Case) -> Iterator[list[Remedy]]:
    heavy, light = case.apart
    more = case.taken.more["runs"]
    shared = {place for place, _, _ in case.way(light)}
    laid: dict[Place, tuple[Pipe, ...]] = {}
    for number in heavy:
        for place, branch, _ in case.way(number):
            if place not in shared and branch.runs and more[number] > more[light]:
                laid[place] = tuple(run.pipe for run in branch.runs)
    if not laid:
        return

    def wider(steps: int) -> Circuit:
        def changed(branch: Branch, place: Place) -> Branch:
            if place not in laid:
                return branch
            return with_run_pipes(branch, partial(sized, steps=steps))

        return edited(case.circuit, changed)

    yield [
        each
        for steps in range(1, _SIZES + 1)
        for each in _tried(
            f"lay the run {_runs_in_words(case, laid, steps)}",
            lambda steps=steps: wider(steps),  # type: ignore[misc]
        )
        if any(_exchanges(pipes, steps) for pipes in laid.values())
    ]


def _runs_in_words(case: _Case, laid: dict[Place, tuple[Pipe, ...]], steps: int) -> str:
    """Each run with its own exchange: whoever lays them has to know which pipe goes where."""
    alike: dict[tuple[tuple[Pipe, Pipe], ...], list[Place]] = {}
    for place, pipes in sorted(laid.items()):
        alike.setdefault(_exchanges(pipes, steps), []).append(place)
    return _all_of(
        [
            f"to {case.named(places)} in {pairs[0][1].name} instead of {pairs[0][0].name}"
            if len(pairs) == 1
            else f"to {case.named(places)} in {_in_words(pairs)}"
            for pairs, places in alike.items()
            if pairs
        ]
    )


def _exchanges(pipes: Iterable[Pipe], steps: int) -> tuple[tuple[Pipe, Pipe], ...]:
    """Each pipe of some, the widest first, with what is so many steps wider; none that is not."""
    pairs = [(pipe, sized(pipe, steps)) for pipe in set(pipes)]
    wider = [(old, new) for old, new in pairs if new.name != old.name]
    return tuple(sorted(wider, key=lambda pair: (-pair[0].bore, pair[0].name)))


def _in_words(pairs: Iterable[tuple[Pipe, Pipe]]) -> str:
    return ", ".join(f"{new.name} for {old.name}" for old, new in pairs)


def _for_headers(case: _Case) -> Iterator[list[Remedy]]:
    if (narrow := _widened_inwards(case.circuit)) is not None:
        yield [narrow]
    joined = in_reverse_return(case.circuit)
    if joined != case.circuit:
        sizes = return_sizes(case.circuit, joined)
        laid = f", the return header laid anew: {sizes}" if sizes else ""
        yield [Remedy(f"join the headers in reverse return{laid}", joined)]
    pipes = _header_pipes(case.circuit)
    wider: list[Remedy] = []
    for steps in range(1, _SIZES + 1):
        if pairs := _exchanges(pipes, steps):
            to = f"to {pairs[0][1].name}" if len(pipes) == 1 else _in_words(pairs)
            text = f"enlarge the headers, {to}"
            wider.append(Remedy(text, _with_headers(case.circuit, partial(sized, steps=steps))))
    yield wider


def _header_pipes(circuit: Circuit) -> set[Pipe]:
    found = {circuit.header_pipe}
    for branch in circuit.branches:
        found |= {branch.header_pipe, branch.return_header_pipe}
        if isinstance(branch.item, Circuit) and branch.flows:
            found |= _header_pipes(branch.item)
    return {pipe for pipe in found if pipe is not None}


def _with_headers(circuit: Circuit, change: Callable[[Pipe], Pipe]) -> Circuit:
    """The array with other pipe in its headers."""

    def changed(pipe: Pipe | None) -> Pipe | None:
        return None if pipe is None else change(pipe)

    def in_branch(branch: Branch, _: Place) -> Branch:
        return replace(
            branch,
            header_pipe=changed(branch.header_pipe),
            return_header_pipe=changed(branch.return_header_pipe),
        )

    return edited(circuit, in_branch, change)


def _widened_inwards(circuit: Circuit) -> Remedy | None:
    """Headers that grow on the way out, in one size as wide as they become; None where none do."""
    grown: list[tuple[Pipe, Pipe]] = []

    def levelled(here: Circuit) -> Circuit:
        pipes = [here.header_pipe, *(branch.header_pipe for branch in here.branches)]
        sizes = [pipe for pipe in pipes if pipe is not None]
        branches = tuple(
            replace(each, item=levelled(each.item))
            if isinstance(each.item, Circuit) and each.flows
            else each
            for each in here.branches
        )
        rising = [(a, b) for a, b in pairwise(sizes) if b.bore > a.bore]
        if not rising:
            return replace(here, branches=branches)
        widest = max(sizes, key=lambda pipe: pipe.bore)
        grown.append((rising[0][0], widest))
        return replace(
            here,
            header_pipe=widest,
            branches=tuple(replace(each, header_pipe=None) for each in branches),
        )

    made = levelled(circuit)
    if not grown:
        return None
    first, widest = grown[0]
    text = (
        f"widen the header where it begins: it is {first.name} there and {widest.name} farther "
        "out, where less flows"
    )
    return Remedy(text, made)


_MAKERS: Final[dict[str, Callable[[_Case], Iterator[list[Remedy]]]]] = {
    "flow": lambda case: _spare(case, "flow"),
    "pipe": _for_pipe,
    "leg": _for_leg,
    "length": lambda case: _spare(case, "length"),
    "coil": _for_coils,
    "fittings": _for_fittings,
    "runs": _for_runs,
    "headers": _for_headers,
}


def with_valves(network: Network, taken: TakenApart, target_flow: Array) -> Network:
    """The array with every loop throttled until its path takes what the index loop's does."""
    spare = (taken.path.max() - taken.path) / target_flow**2
    square, own = network.square.copy(), network.loop_square.copy()
    square[network.loop_rows] += spare
    own[network.loop_rows] += spare
    return replace(network, square=square, loop_square=own)
