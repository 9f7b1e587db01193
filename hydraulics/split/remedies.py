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
from hydraulics.layout.circuit import Branch, Circuit, Loop
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
from hydraulics.pipework.fittings import NO_LOSS, Loss, kv_from_loss, loss_from_kv, loss_of
from hydraulics.pipework.pipe import Pipe
from hydraulics.split.assembly import IN_LOOP, Network
from hydraulics.split.causes import Cause, Part, TakenApart, chain_of, worth_a_word

Array = NDArray[np.float64]
_NAMED: Final = 4  # loops at most that are named by what they are not
_SIZES: Final = 3  # steps up that are tried
LONG_SPARE: Final = 0.5  # of a loop's own length; more spare is a loop laid wrong; common practice
_WRITTEN: Final = 12  # names that are written out: who is to act on them has to know which


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
    last
        Whether whoever has another would rather take that.
    """

    text: str
    array: Circuit | Network
    amount: str = ""
    last: bool = False


def remedies_for(
    cause: Cause,
    circuit: Circuit,
    network: Network,
    taken: TakenApart,
    *,
    by_length: bool = False,
    on_offer: tuple[Pipe, ...] = (),
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
    on_offer
        Pipes that can be had; wider ones are taken of these, as far as there are any.
    """
    made = _MAKERS.get(cause.part)
    if made is not None:
        yield from made(_Case(cause, circuit, network, taken, by_length, on_offer))


def _all_of(names: list[str]) -> str:
    return listed(names, _WRITTEN)


@dataclass(frozen=True, slots=True)
class _Case:
    cause: Cause
    circuit: Circuit
    network: Network
    taken: TakenApart
    by_length: bool
    on_offer: tuple[Pipe, ...]

    @property
    def names(self) -> str:
        """All loops that :meth:`with_loops` changes: equal branches are changed alike."""
        return self.named(self.places(self.cause.loops))

    def wider(self, pipe: Pipe, steps: int) -> Pipe:
        """A pipe so many sizes above."""
        return sized(pipe, steps, self.on_offer)

    def exchanges(self, pipes: Iterable[Pipe], steps: int) -> tuple[tuple[Pipe, Pipe], ...]:
        """Each pipe of some, the widest first, with what is wider; none that is not."""
        pairs = [(pipe, self.wider(pipe, steps)) for pipe in set(pipes)]
        wider = [(old, new) for old, new in pairs if new.name != old.name]
        return tuple(sorted(wider, key=lambda pair: (-pair[0].bore, pair[0].name)))

    def beyond_offer(self, pipes: Iterable[Pipe], steps: int) -> str:
        """Say which of the wider pipes cannot be had, as far as is told what can be."""
        had = {each.name for each in self.on_offer}
        new = {each.name: None for _, each in self.exchanges(pipes, steps)}
        lacking = [name for name in new if name not in had]
        if not had or not lacking:
            return ""
        are = "is" if len(lacking) == 1 else "are"
        return f", though {listed(lacking)} {are} not among the job's pipes"

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
    own = np.asarray([each.length for each in network.loops])
    long = bool((metres > LONG_SPARE * own).any())
    amount = _as_much_as(metres[short], parts)
    yield [Remedy(text, replace(network, laminar=longer), amount, long)]


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


def _staying(loss: Loss, bore: float | None) -> Loss:
    """Of fittings in pipe of one bore the elbows and tees, which nobody opens or exchanges."""
    stay = [each for each in loss.fittings if each.kind and not each.kind.endswith("valve")]
    return loss_of(tuple(stay), bore) if stay else NO_LOSS


def _bare(branch: Branch) -> Branch:
    """A branch with no more than the elbows and tees of its own, of its loop and its runs."""
    item = branch.item
    bore = branch.runs[0].pipe.bore if branch.runs else None
    if isinstance(item, Loop):
        bore = item.pipe.bore
        if item.fittings is not NO_LOSS:
            legs = [
                replace(leg, fittings=_staying(leg.fittings, (leg.pipe or item.pipe).bore))
                for leg in item.legs
            ]
            item = replace(item, legs=tuple(legs))
    runs = [replace(run, fittings=_staying(run.fittings, run.pipe.bore)) for run in branch.runs]
    own = _staying(branch.fittings, bore)
    return replace(branch, item=item, fittings=own, runs=tuple(runs))


def _losses(branch: Branch) -> Loss:
    """Fittings of a branch, of its loop and of its runs."""
    own = branch.fittings
    for each in branch.runs:
        own += each.fittings
    return own + branch.item.fittings if isinstance(branch.item, Loop) else own


@dataclass(frozen=True, slots=True)
class _Fitted:
    """A branch and its fittings; drops in Pa at the flow wanted."""

    branch: Branch
    flow: float  # m³/s
    loops: list[int]  # behind it, those of equal branches too
    opens: float  # what those take that can be opened or exchanged
    several: bool  # whether those are more than one


def _fitted(case: _Case) -> dict[Place, _Fitted]:
    """Every branch in which anything flows, the outermost first."""
    network, fluid = case.network, case.network.fluids[IN_LOOP]
    behind: dict[Place, list[int]] = {}
    for number, whole in enumerate(network.places):
        for depth in range(1, len(whole) + 1):
            behind.setdefault(whole[:depth], []).append(number)
    found: dict[Place, _Fitted] = {}
    for first in {numbers[0]: None for numbers in behind.values()}:
        for place, branch, row in case.way(first):
            flow = float(case.taken.drops.flow[row]) / fluid.density
            every, stay = _losses(branch), _losses(_bare(branch))
            square = fluid.density * (every.square - stay.square) * flow**2
            linear = fluid.viscosity * (every.linear - stay.linear) * flow
            several = sum(each.count for each in every.fittings if each not in stay.fittings) > 1
            found[place] = _Fitted(branch, flow, behind[place], square + linear, several)
    return dict(sorted(found.items(), key=lambda each: (len(each[0]), each[0])))


def _for_fittings(case: _Case) -> Iterator[list[Remedy]]:
    """Valves and fittings as on a way that takes less; those that take less too, if need be."""
    fitted = _fitted(case)
    opened, both = (_exchanged(case, fitted, case.apart, narrower=each) for each in (False, True))
    if opened.kvs:
        yield [
            _as_fitted(case, fitted, each, word)
            for word, each in (("open", opened), ("set", both))
            if each is opened or each.kvs != opened.kvs
        ]
    if not case.cause.more:
        few = _exchanged(case, fitted, (case.cause.loops, case.cause.typical), narrower=True)
        if few.kvs:
            yield [_as_fitted(case, fitted, few, "set")]


@dataclass(frozen=True, slots=True)
class _Exchanged:
    """Kv that goes in the place of fittings [m³/h], by place, of these what is wide open.

    And the loop whose way takes what the ways then take; none where they do not.
    """

    kvs: dict[Place, float]
    wide: frozenset[Place]
    pattern: str


def _exchanged(
    case: _Case,
    fitted: dict[Place, _Fitted],
    apart: tuple[tuple[int, ...], int],
    *,
    narrower: bool,
) -> _Exchanged:
    """Fittings exchanged until each way takes what the fittings of the one that takes less do.

    That is all of the way, valves before and in a chamber alike. A chamber's are exchanged for what
    every way through them takes too much, where they take more than what hangs on them, or that is
    not enough. None goes below what would be worth a word: a valve takes something, wide open.
    """
    heavy, light = apart
    density = case.network.fluids[IN_LOOP].density
    least = 0.5 * worth_a_word(case.network, case.taken.drops)
    taken = case.taken.parts.fittings
    over = taken - taken[light]
    moved = np.zeros(len(over), dtype=np.bool_)
    moved[list(heavy)] = True
    farther = np.zeros(len(over))  # what can be exchanged from here on
    for each in fitted.values():
        farther[each.loops] += each.opens
    kvs: dict[Place, float] = {}
    wide: set[Place] = set()
    for place, each in fitted.items():
        own, those = each.opens, each.loops
        farther[those] -= own
        by = max(float(over[those].min()), 0.0)
        if narrower and not by:
            by = min(float(over[those].max()), 0.0)
        rest = float(farther[those].min())
        leave = own < rest and by <= rest
        if not own or not moved[those].any() or leave or abs(by) <= 1.01 * least:
            continue
        if own - by < least:
            if own <= least:
                continue
            wide.add(place)
        square = max(own - by, least) / (density * each.flow**2)
        kvs[place] = float(f"{kv_from_loss(Loss(square)):.4g}")  # as told
        over[those] += density * loss_from_kv(kvs[place]).square * each.flow**2 - own
    reaches = taken[light] > least and bool((np.abs(over[moved]) <= 1.01 * least).all())
    return _Exchanged(kvs, frozenset(wide), case.network.names[light] if reaches else "")


def _as_fitted(
    case: _Case, fitted: dict[Place, _Fitted], exchanged: _Exchanged, word: str
) -> Remedy:
    """The array with other Kv in the place of fittings, and where these are to go in words."""
    kvs = exchanged.kvs

    def changed(branch: Branch, place: Place) -> Branch:
        if place not in kvs:
            return branch
        bare = _bare(branch)
        return replace(bare, fittings=bare.fittings + loss_from_kv(kvs[place]))

    alike: dict[tuple[str, float, bool], list[Place]] = {}
    for place, kv in kvs.items():
        before = "before" if isinstance(fitted[place].branch.item, Circuit) else "at"
        alike.setdefault((before, kv, place in exchanged.wide), []).append(place)
    where, many = [], len(kvs) > 1
    for (before, kv, wide), places in alike.items():
        one = len(places) == 1 and (before == "before" or len(fitted[places[0]].loops) == 1)
        many |= not one
        told = f"{before} {case.named(places)} to Kv {figures(kv, 4)} m³/h{'' if one else ' each'}"
        where.append(told + (" (wide open)" if wide else ""))
    several = any(fitted[each].several for each in kvs)
    text = f"{word} or exchange the {'valves and fittings' if several else 'valve or fitting'} "
    text += _all_of(where)
    if several:
        text += ", those of one place together"
    if any(_losses(_bare(fitted[each].branch)).fittings for each in kvs):
        text += ", elbows and tees left"
    if like := exchanged.pattern:
        text += f", so that {'each' if many else 'the'} way there takes what that to {like} does"
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
            return with_run_pipes(branch, partial(case.wider, steps=steps))

        return edited(case.circuit, changed)

    yield [
        each
        for steps in range(1, _SIZES + 1)
        for each in _tried(
            f"lay the run {_runs_in_words(case, laid, steps)}"
            + case.beyond_offer((pipe for pipes in laid.values() for pipe in pipes), steps),
            lambda steps=steps: wider(steps),  # type: ignore[misc]
        )
        if any(case.exchanges(pipes, steps) for pipes in laid.values())
    ]


def _runs_in_words(case: _Case, laid: dict[Place, tuple[Pipe, ...]], steps: int) -> str:
    """Each run with its own exchange: whoever lays them has to know which pipe goes where."""
    alike: dict[tuple[tuple[Pipe, Pipe], ...], list[Place]] = {}
    for place, pipes in sorted(laid.items()):
        alike.setdefault(case.exchanges(pipes, steps), []).append(place)
    return _all_of(
        [
            f"to {case.named(places)} in {pairs[0][1].name} instead of {pairs[0][0].name}"
            if len(pairs) == 1
            else f"to {case.named(places)} in {_in_words(pairs)}"
            for pairs, places in alike.items()
            if pairs
        ]
    )


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
        if pairs := case.exchanges(pipes, steps):
            to = f"to {pairs[0][1].name}" if len(pipes) == 1 else _in_words(pairs)
            text = f"enlarge the headers, {to}{case.beyond_offer(pipes, steps)}"
            change = partial(case.wider, steps=steps)
            wider.append(Remedy(text, _with_headers(case.circuit, change)))
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
