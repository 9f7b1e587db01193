"""Which circuit does a site plan make: loops with their tails, chambers with their runs?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from hydraulics.errors import Fault, InputError
from hydraulics.layout.circuit import Branch, Circuit, Loop, Run
from hydraulics.layout.legs import Coiled, Leg, Straight
from hydraulics.pipework.fittings import NO_LOSS, Loss
from hydraulics.pipework.pipe import Pipe
from hydraulics.plot.site_plan import SitePlan

_DECIMALS: Final = 4  # of a metre: finer parts of tails and runs are the rounding of the search


@dataclass(frozen=True, slots=True)
class Laid:
    """A loop as it is to be laid, wherever its tails lead.

    Attributes
    ----------
    loop
        What lies in its trench, bore or mat, without tails.
    flow, back
        Straight pipe of its tails, of no length: pipe and fittings.
    spare
        Pipe left in coils at the end of its return.
    fittings
        Of its port.
    closed
        Whether a valve shuts it.
    """

    loop: Loop
    flow: Straight = Straight(0.0)  # noqa: RUF009 (frozen)
    back: Straight = Straight(0.0)  # noqa: RUF009 (frozen)
    spare: tuple[Coiled, ...] = ()
    fittings: Loss = NO_LOSS
    closed: bool = False

    @property
    def trench_length(self) -> float:
        """Length of trench that it takes [m]."""
        return sum(leg.trench.length for leg in self.loop.legs if leg.trench is not None)

    @property
    def laid_back(self) -> float:
        """Pipe from the far end of its trenches back to where its tails leave [m]."""
        found = (leg.trench for leg in self.loop.legs)
        return sum(lies.length for lies in found if lies is not None and lies.is_one_way)

    @property
    def tail_pipes(self) -> tuple[Pipe, Pipe]:
        """Pipe of its tails, flow and return."""
        return self.flow.pipe or self.loop.pipe, self.back.pipe or self.loop.pipe

    def led(self, tail: float) -> Loop:
        """The loop with a tail of so many metres on either end, its return laid back first."""
        legs: tuple[Leg, ...] = (
            replace(self.flow, length=tail),
            *self.loop.legs,
            replace(self.back, length=tail + self.laid_back),
            *self.spare,
        )
        kept = (
            leg
            for leg in legs
            if not (isinstance(leg, Straight) and leg.length <= 0.0 and leg.fittings is NO_LOSS)
        )
        return replace(self.loop, legs=tuple(kept))


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
    first, last = 0, len(loop.legs)
    while first < last and loop.legs[first].is_tail:
        first += 1
    while last > first and loop.legs[last - 1].is_tail:
        last -= 1
    fittings = branch.fittings
    for run in branch.runs:
        fittings += run.fittings.at(loop.pipe.bore)
    if first == last:
        return Laid(replace(loop, name=name), fittings=fittings, closed=closed)
    before, after = loop.legs[:first], loop.legs[last:]
    return Laid(
        replace(loop, name=name, legs=loop.legs[first:last]),
        _tail(before),
        _tail(after),
        tuple(leg for leg in (*before, *after) if isinstance(leg, Coiled)),
        fittings,
        closed,
    )


def _tail(legs: tuple[Leg, ...]) -> Straight:
    """Pipe and fittings of a tail: the pipe of its longest straight piece."""
    straight = [leg for leg in legs if isinstance(leg, Straight)]
    fittings = NO_LOSS
    for leg in straight:
        fittings += leg.loss
    longest = max(straight, key=lambda leg: leg.length, default=None)
    return Straight(0.0, None if longest is None else longest.pipe, fittings)


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
