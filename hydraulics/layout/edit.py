"""The same array with something changed: equal branches told apart, other loops, other pipes."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Final

from hydraulics.layout.circuit import Branch, Circuit, Loop
from hydraulics.layout.legs import Leg
from hydraulics.layout.walk import Place, flowing_circuits, has_closed, headers_of, standings, walk
from hydraulics.pipework.fittings import Loss
from hydraulics.pipework.pipe import Pipe, pe_pipe, pipe_names

ChangePipe = Callable[[Pipe], Pipe]

_FAMILY = re.compile(r"(PE\d+ SDR[\d.]+) \d+")
DEFAULT_FAMILY: Final = "PE100 SDR11"  # of candidates for a pipe that is given by its bore


def one_by_one(circuit: Circuit) -> Circuit:
    """The same array with equal branches written out, so that every ``count`` is 1; names kept."""
    branches: list[Branch] = []
    for branch in circuit.branches:
        item = branch.item if isinstance(branch.item, Loop) else one_by_one(branch.item)
        if branch.count == 1:
            branches.append(replace(branch, item=item))
            continue
        for copy in range(branch.count):
            # Pipes named once hold from there on, so the copies may all name them.
            own = replace(item, name=f"{item.name}-{copy + 1}")
            branches.append(replace(branch, item=own, count=1))
    return replace(circuit, branches=tuple(branches))


def place_after(place: tuple[int, ...], circuit: Circuit, made: Circuit) -> tuple[int, ...]:
    """Place in an array made of a circuit, with equal branches written out or not, of a branch.

    Of equal ones the first's.
    """
    found = []
    for number in place:
        written_out = len(made.branches) != len(circuit.branches)
        at = sum(each.count for each in circuit.branches[:number]) if written_out else number
        found.append(at)
        item, same = circuit.branches[number].item, made.branches[at].item
        if not (isinstance(item, Circuit) and isinstance(same, Circuit)):
            break
        circuit, made = item, same
    return tuple(found)


def opened(circuit: Circuit) -> Circuit:
    """The same array with every closed branch opened."""
    return replace(
        circuit,
        branches=tuple(
            replace(
                each,
                item=opened(each.item) if isinstance(each.item, Circuit) else each.item,
                closed=False,
            )
            for each in circuit.branches
        ),
    )


def closed_names(circuit: Circuit) -> tuple[str, ...]:
    """Names of all loops that a valve shuts, equal ones each, in the order of the layout."""
    if not has_closed(circuit):
        return ()
    every, carrying = walk(opened(circuit)), walk(circuit)
    shut = Counter(every.names) - Counter(carrying.names)
    return tuple(name for name in every.names if name in shut)


def with_valves_open(
    circuit: Circuit, kvs: Mapping[str, float], untold: float | None = None
) -> tuple[Circuit, tuple[str, ...], tuple[str, ...]]:
    """The same array with the valves that were set on its branches fully open.

    Parameters
    ----------
    circuit
        An array of which no branch is closed.
    kvs
        Kv of valves that are fully open, by name [m³/h].
    untold
        Kv for valves of another name; None to leave those as they are set.

    Returns
    -------
    tuple
        The array, and names of the branches of which a valve was opened, and of which one is left
        as it is set.
    """
    open_now: dict[str, None] = {}
    as_set: dict[str, None] = {}

    called = {each.place: each.name for each in standings(circuit)}

    def change(branch: Branch, place: Place) -> Branch:
        own = branch.fittings
        square, fittings = own.square, []
        for each in own.fittings:
            now = each
            if each.kv is not None and (each.valve or each.position is not None):
                full = kvs.get(each.valve, untold)
                if full is None:
                    as_set[called[place]] = None
                elif full > each.kv * (1.0 + 1e-9):
                    open_now[called[place]] = None
                    now = replace(each, kv=full, position=None)
                    square += now.loss(None).square - each.loss(None).square
            fittings.append(now)
        return replace(branch, fittings=Loss(square, own.linear, tuple(fittings)))

    return edited(circuit, change), tuple(open_now), tuple(as_set)


def edited(
    circuit: Circuit,
    change: Callable[[Branch, Place], Branch],
    pipes: ChangePipe | None = None,
    above: Place = (),
) -> Circuit:
    """The same array with every branch changed, what hangs on it first.

    Parameters
    ----------
    circuit
        The array.
    change
        Gives the new branch for a branch at a place; what hangs on it is changed already, but
        for what hangs where nothing can flow, which is left as it is.
    pipes
        Changes the circuits' header pipe; None to keep it.
    above
        Place of the circuit itself.
    """
    branches = []
    for number, branch in enumerate(circuit.branches):
        place = (*above, number)
        if isinstance(branch.item, Circuit) and branch.flows:
            branch = replace(branch, item=edited(branch.item, change, pipes, place))  # noqa: PLW2901
        branches.append(change(branch, place))
    header = circuit.header_pipe
    if pipes is not None and header is not None:
        header = pipes(header)
    return replace(circuit, branches=tuple(branches), header_pipe=header)


def with_added(
    circuit: Circuit,
    legs: Mapping[Place, Leg] | None = None,
    fittings: Mapping[Place, Loss] | None = None,
) -> Circuit:
    """The same array with a leg added at the end of some loops, or fittings on some branches.

    Parameters
    ----------
    circuit
        An array of which every ``count`` is 1.
    legs, fittings
        What is added, by place.
    """
    more, ports = legs or {}, fittings or {}

    def change(branch: Branch, place: Place) -> Branch:
        item = branch.item
        if place in more and isinstance(item, Loop):
            item = replace(item, legs=(*item.legs, more[place]))
        if place in ports:
            branch = replace(branch, fittings=branch.fittings + ports[place])
        return replace(branch, item=item)

    return edited(circuit, change)


def with_route_pipes(circuit: Circuit, change: ChangePipe) -> Circuit:
    """The same array with other pipe in headers and in the routes to branches, fittings with it.

    The route to a closed branch is left as it is, the header that leads past it is not.
    """

    def changed(pipe: Pipe | None) -> Pipe | None:
        return None if pipe is None else change(pipe)

    def in_branch(branch: Branch, _: Place) -> Branch:
        branch = replace(
            branch,
            header_pipe=changed(branch.header_pipe),
            return_header_pipe=changed(branch.return_header_pipe),
        )
        if not branch.flows:
            return branch
        return with_run_pipes(branch, change)

    return edited(circuit, in_branch, change)


def with_run_pipes(branch: Branch, change: ChangePipe) -> Branch:
    """The same branch with other pipe in its runs, and the fittings that sit in it."""
    runs = tuple(
        replace(run, pipe=new, fittings=run.fittings.at(new.bore))
        for run in branch.runs
        for new in (change(run.pipe),)
    )
    ports = branch.fittings
    if runs and isinstance(branch.item, Circuit):
        ports = ports.at(runs[0].pipe.bore)
    return replace(branch, runs=runs, fittings=ports)


def with_loop_pipes(circuit: Circuit, change: ChangePipe) -> Circuit:
    """The same array with other pipe in every loop that is not closed, fittings with it.

    Raises
    ------
    InputError
        A coil is too tight for the new pipe.
    """

    def in_branch(branch: Branch, _: Place) -> Branch:
        return with_loop_pipe(branch, change) if branch.flows else branch

    return edited(circuit, in_branch)


def with_loop_pipe(branch: Branch, change: ChangePipe) -> Branch:
    """The same branch with other pipe in its loop, and the fittings that sit in it.

    A circuit's is left as it is.
    """
    loop = branch.item
    if isinstance(loop, Circuit):
        return branch
    pipe = change(loop.pipe)
    legs = []
    for leg in loop.legs:
        own = None if leg.pipe is None else change(leg.pipe)
        legs.append(replace(leg, pipe=own, fittings=leg.fittings.at((own or pipe).bore)))
    return replace(
        branch,
        item=replace(loop, pipe=pipe, legs=tuple(legs)),
        fittings=branch.fittings.at(pipe.bore),
    )


def in_reverse_return(circuit: Circuit, closing_length: float | None = None) -> Circuit:
    """The same array with every direct return joined in reverse return.

    Parameters
    ----------
    circuit
        Any array.
    closing_length
        Length of the return header from the last branch back to the circuit's start [m], for every
        circuit changed; None: as long as that circuit's header.

    Returns
    -------
    Circuit
        Return headers mirror the flow headers; sizes given for the old return header are dropped.
        Circuits with one branch are left alone, and what hangs on a closed branch.
    """
    branches = []
    for branch in circuit.branches:
        item = branch.item
        if isinstance(item, Circuit) and branch.flows:
            item = in_reverse_return(item, closing_length)
        branches.append(replace(branch, item=item))
    if circuit.arrangement != "direct_return" or not has_header_between(circuit):
        return replace(circuit, branches=tuple(branches))
    return replace(
        circuit,
        arrangement="reverse_return",
        branches=tuple(replace(branch, return_header_pipe=None) for branch in branches),
        closing_length=circuit.header_length if closing_length is None else closing_length,
    )


def return_sizes(circuit: Circuit, joined: Circuit) -> str:
    """Say in which pipe the return headers lie, stretch by stretch, that were joined in reverse.

    Parameters
    ----------
    circuit, joined
        An array, and what :func:`in_reverse_return` makes of it.

    Returns
    -------
    str
        Empty where each return header goes on in the one pipe that it has.
    """
    told: dict[str, str] = {}
    for (old, _), (new, _) in zip(flowing_circuits(circuit), flowing_circuits(joined), strict=True):
        if old.arrangement == new.arrangement:
            continue
        lies = [pipe.name for pipe, length in headers_of(new).back if pipe and length > 0.0]
        had = {pipe.name for pipe, length in headers_of(old).back if pipe and length > 0.0}
        if len(set(lies)) == 1 and had == set(lies):
            continue
        names = [
            each.item.name + (f"-{copy + 1}" if each.count > 1 else "")
            for each in new.branches
            for copy in range(each.count)
        ]
        back = [pipe.name if pipe else "" for pipe, _ in headers_of(new).back]
        parts, first = [], 0
        for row, pipe in enumerate(back[:-1]):
            if back[row + 1] != pipe or row == len(back) - 2:
                parts.append(f"{pipe} from {names[first]} to {names[row + 1]}")
                first = row + 1
        home = f"{parts[-1]} and back" if back[-1] == back[-2] else f"{back[-1]} back"
        parts = [*(parts[:-1] if back[-1] == back[-2] else parts), home]
        told.setdefault(", ".join(parts), new.name)
    if len(told) == 1:
        return next(iter(told))
    return "; ".join(f"in {name}: {sizes}" for sizes, name in told.items())


def has_header_between(circuit: Circuit) -> bool:
    """Whether some length of header lies between two branches of a circuit."""
    first, *others = circuit.branches
    return (first.count > 1 and first.header_length > 0.0) or any(
        branch.header_length > 0.0 for branch in others
    )


def sizes_from(pipe: Pipe) -> tuple[tuple[Pipe, ...], tuple[Pipe, ...]]:
    """Standard sizes below and above a pipe, each from the nearest outwards.

    Parameters
    ----------
    pipe
        A standard pipe, or one given by its bore.

    Returns
    -------
    smaller, larger
        Of the pipe's own material and SDR; of :data:`DEFAULT_FAMILY` for a pipe given by its bore.
    """
    match = _FAMILY.fullmatch(pipe.name) if pipe.name in pipe_names() else None
    family = match[1] if match is not None else DEFAULT_FAMILY
    sizes = [pe_pipe(name) for name in pipe_names() if name.rpartition(" ")[0] == family]
    smaller = tuple(size for size in reversed(sizes) if size.bore < pipe.bore * (1.0 - 1e-9))
    larger = tuple(size for size in sizes if size.bore > pipe.bore * (1.0 + 1e-9))
    return smaller, larger


def sized(pipe: Pipe, steps: int, on_offer: Iterable[Pipe] = ()) -> Pipe:
    """The pipe some steps above (or, negative, below); the last where there are fewer.

    Of what is on offer; where none there is wider (or narrower), of the standard sizes.
    """
    smaller, larger = sizes_from(pipe)
    sizes = larger if steps > 0 else smaller
    offered = {
        each.bore: each for each in on_offer if (each.bore - pipe.bore) * steps > 1e-9 * pipe.bore
    }
    if offered:
        sizes = tuple(offered[bore] for bore in sorted(offered, reverse=steps < 0))
    if steps == 0 or not sizes:
        return pipe
    return sizes[min(abs(steps), len(sizes)) - 1]
