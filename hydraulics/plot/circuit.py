"""Which circuit does a site plan make: loops with their tails, chambers with their runs?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from hydraulics.errors import Fault, InputError
from hydraulics.layout.circuit import Branch, Circuit, Loop, Run
from hydraulics.layout.legs import Straight
from hydraulics.pipework.pipe import Pipe
from hydraulics.plot.site_plan import SitePlan


def circuit_of(
    plan: SitePlan,
    loops: Mapping[str, Loop],
    run_pipe: Pipe,
    closed: frozenset[str] = frozenset(),
) -> tuple[Circuit, tuple[Run, ...]]:
    """The array of a plan, and the plant's own runs.

    Parameters
    ----------
    plan
        The plan, in which every loop is reached.
    loops
        For every loop of the plan what lies in its trench, bore or mat, without tails.
    run_pipe
        Pipe of the runs from the chambers to the plant room.
    closed
        Names of the loops that a valve shuts.

    Returns
    -------
    tuple
        One manifold of loops and the plant's runs to it, where there is one chamber; a manifold
        whose branches are the chambers with their runs, and none besides, where there are more.

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
    tails, runs = plan.tails, plan.runs
    held = [
        Circuit(
            "manifold",
            tuple(
                Branch(with_tail(loops[name], tails[name]), closed=name in closed)
                for name in plan.loops
                if plan.loop_chamber[name] == chamber.name
            ),
            name=chamber.name if len(plan.chambers) > 1 else "",
        )
        for chamber in plan.chambers
    ]
    led = [(Run(run_pipe, runs[chamber.name]),) for chamber in plan.chambers]
    if len(held) == 1:
        return held[0], led[0]
    branches = tuple(Branch(item, runs=run) for item, run in zip(held, led, strict=True))
    return Circuit("manifold", branches), ()


def with_tail(loop: Loop, tail: float) -> Loop:
    """The loop with a straight tail of so many metres on either end."""
    if tail <= 0.0:
        return loop
    return replace(loop, legs=(Straight(tail), *loop.legs, Straight(tail)))
