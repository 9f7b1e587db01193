"""Which circuit does a site plan make: loops with their tails, chambers with their runs?"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

from hydraulics.errors import Fault, InputError
from hydraulics.layout.circuit import Branch, Circuit, Loop, Run
from hydraulics.layout.contents import joined_by, laid_back, within_tails
from hydraulics.layout.legs import Leg, Straight
from hydraulics.pipework.fittings import NO_LOSS, Loss
from hydraulics.pipework.pipe import Pipe
from hydraulics.plot.site_plan import SitePlan

_DECIMALS: Final = 4  # of a metre: finer parts of tails and runs are the rounding of the search


_NO_TAIL: Final = (Straight(0.0),)


@dataclass(frozen=True, slots=True)
class Laid:
    """A loop as it is to be laid, wherever its tails lead.

    Attributes
    ----------
    loop
        What lies in its trench, bore or mat, without tails.
    flow, back
        Legs of its tails, in their order: pieces of straight pipe share the length of the plan's
        tail as they share what they are told, and pipe left in coils stays where it is.
    fittings
        Of its port.
    closed
        Whether a valve shuts it.
    """

    loop: Loop
    flow: tuple[Leg, ...] = _NO_TAIL
    back: tuple[Leg, ...] = _NO_TAIL
    fittings: Loss = NO_LOSS
    closed: bool = False

    @property
    def between(self) -> float:
        """Straight pipe that joins what lies in its trenches, and lies there too [m]."""
        return sum(length for _, length in joined_by(self.loop))

    @property
    def trench_length(self) -> float:
        """Length of trench that it takes [m]."""
        return self.between + sum(
            leg.trench.length for leg in self.loop.legs if leg.trench is not None
        )

    @property
    def laid_back(self) -> float:
        """Pipe from the far end of its trenches back to where its tails leave [m]."""
        return laid_back(self.loop)

    @property
    def tail_pipes(self) -> tuple[Pipe, Pipe]:
        """Pipe of its tails, flow and return, the thickest of each."""

        def thickest(legs: tuple[Leg, ...]) -> Pipe:
            pipes = (leg.pipe or self.loop.pipe for leg in legs if isinstance(leg, Straight))
            return max(pipes, key=lambda pipe: pipe.outside_diameter)

        return thickest(self.flow), thickest(self.back)

    def led(self, tail: float) -> Loop:
        """The loop with a tail of so many metres on either end, its return laid back first."""
        legs = (
            *_stretched(self.flow, tail),
            *self.loop.legs,
            *_stretched(self.back, tail + self.laid_back),
        )
        kept = (
            leg
            for leg in legs
            if not (isinstance(leg, Straight) and leg.length <= 0.0 and leg.fittings is NO_LOSS)
        )
        return replace(self.loop, legs=tuple(kept))


def _stretched(legs: tuple[Leg, ...], length: float) -> Iterator[Leg]:
    """Legs of a tail whose straight pieces are so long together [m]; the last takes the rest."""
    pieces = [leg for leg in legs if isinstance(leg, Straight)]
    told, left = sum(leg.length for leg in pieces), length
    for leg in legs:
        if not isinstance(leg, Straight):
            yield leg
            continue
        pieces.pop()
        share = leg.length / told if told > 0.0 else 0.0
        own = min(round(share * length, _DECIMALS), left) if pieces else left
        left = round(left - own, _DECIMALS)
        yield replace(leg, length=own)


def laid(branch: Branch, name: str, closed: bool = False) -> Laid:
    """A loop of an array, its tails told apart from what lies in trench or borehole.

    Parameters
    ----------
    branch
        Which it hangs on.
    name
        Of the loop.
    closed
        Whether a valve shuts it.
    """
    loop = branch.item
    assert isinstance(loop, Loop)
    first, last = within_tails(loop)
    fittings = branch.fittings
    for run in branch.runs:
        fittings += run.fittings.at(loop.pipe.bore)
    if first == last:
        return Laid(replace(loop, name=name), fittings=fittings, closed=closed)
    return Laid(
        replace(loop, name=name, legs=loop.legs[first:last]),
        _with_straight(loop.legs[:first], _NO_TAIL, ()),
        _with_straight(loop.legs[last:], (), _NO_TAIL),
        fittings,
        closed,
    )


def _with_straight(
    legs: tuple[Leg, ...], before: tuple[Leg, ...], behind: tuple[Leg, ...]
) -> tuple[Leg, ...]:
    """Legs of a tail; with straight pipe where there is none to be stretched."""
    return legs if any(isinstance(leg, Straight) for leg in legs) else (*before, *legs, *behind)


@dataclass(frozen=True, slots=True)
class Led:
    """How a circuit of an array hangs on it: its name, pipe and fittings of its runs, its port."""

    name: str = ""
    pipe: Pipe | None = None
    on_run: Loss = NO_LOSS
    fittings: Loss = NO_LOSS


def circuit_of(
    plan: SitePlan,
    loops: Mapping[str, Laid],
    run_pipe: Pipe,
    circuits: Mapping[frozenset[str], Led] | None = None,
) -> Circuit:
    """The array of a plan: a manifold of the chambers with their runs.

    One chamber at the plant room is the array itself.

    Parameters
    ----------
    plan
        The plan, in which every loop is reached.
    loops
        For every loop of the plan what lies in its trench, bore or mat.
    run_pipe
        Pipe of the runs from the chambers to the plant room.
    circuits
        By the names of their loops, how circuits hang on the array: a chamber of the same loops
        keeps their fittings.

    Raises
    ------
    InputError
        When a loop or chamber is not reached, or not told.
    """
    missing = [name for name in plan.loops if name not in plan.loop_chamber or name not in loops]
    missing += [chamber.name for chamber in plan.chambers if chamber.name not in plan.runs]
    if missing:
        raise InputError(
            *(
                Fault("loops", f"{name} is not reached by a header trench, or not told", name)
                for name in missing
            )
        )
    tails, lengths = plan.tails, plan.runs
    held: list[Branch] = []
    for chamber in plan.chambers:
        names = plan.held_by(chamber.name)
        told = (circuits or {}).get(frozenset(names), Led())
        branches = (
            Branch(
                loops[name].led(round(tails[name], _DECIMALS)),
                fittings=loops[name].fittings,
                closed=loops[name].closed,
            )
            for name in names
        )
        own = chamber.name if len(plan.chambers) > 1 else ""
        run = Run(run_pipe, round(lengths[chamber.name], _DECIMALS), told.on_run.at(run_pipe.bore))
        # A chamber at the plant room hangs on no run.
        by_run = run.length > 0.0 or run.fittings is not NO_LOSS or len(plan.chambers) > 1
        held.append(
            Branch(
                Circuit("manifold", tuple(branches), name=own),
                runs=(run,) if by_run else (),
                fittings=told.fittings.at(run_pipe.bore),
            )
        )
    only = held[0]
    if len(held) == 1 and not only.runs and only.fittings is NO_LOSS:
        assert isinstance(only.item, Circuit)
        return only.item
    return Circuit("manifold", tuple(held))
