"""Arrays that are solved together have the results that each has by itself."""

from __future__ import annotations

import random

import pytest

from hydraulics.fluid.mixture import mixture
from hydraulics.layout.circuit import Arrangement, Branch, Circuit, Loop, Plant
from hydraulics.layout.legs import Slinky, Straight
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.split.duty import FlowDuty
from hydraulics.split.flow_split import network_of, solve_for
from hydraulics.split.head_high import head_high
from hydraulics.split.together import Asked, solved_together

KINDS: tuple[Arrangement, ...] = ("manifold", "direct_return", "reverse_return")
SAME = 1e-9  # a thousandth of what a solution must meet; summing in another order moves 1e-15


def at_random(rng: random.Random) -> Asked:
    """About transition, of brines that publications differ much about and of others."""
    kind, count = rng.choice(KINDS), rng.choice((2, 5))
    loops = [
        Loop(
            f"L{number}",
            pe_pipe(rng.choice(("PE100 SDR11 32", "PE100 SDR11 40"))),
            (Straight(rng.uniform(20.0, 250.0)), Slinky(rng.randint(1, 30), 1.0, 1.0)),
        )
        for number in range(count)
    ]
    header = None if kind == "manifold" else pe_pipe("PE100 SDR11 63")
    apart = 0.0 if header is None else rng.uniform(2.0, 15.0)
    array = Circuit(kind, tuple(Branch(loop, apart) for loop in loops), header)
    brine = mixture(rng.choice(("propylene_glycol", "ethanol")), rng.uniform(0.2, 0.3), "mass")
    return Asked(array, Plant(), brine, FlowDuty(rng.uniform(5e-5, 4e-4) * count, -2.0, 2.0))


def test_heads_that_may_be_higher_are_those_of_each_by_itself() -> None:
    seed = 5
    rng = random.Random(seed)
    arrays = [at_random(rng) for _ in range(150)]
    beside = solved_together(arrays, around=False)
    anew = 0
    for each, together in zip(arrays, beside, strict=True):
        assert together is not None, f"seed {seed}"
        network = network_of(each.circuit, each.plant, each.mixture, each.duty)
        solution = solve_for(network, each.duty)
        alone = head_high(network, solution)
        assert together.solution.flow == pytest.approx(solution.flow, rel=SAME), f"seed {seed}"
        for name in ("pressure", "turbulent", "viscous"):
            assert getattr(together.high, name) == pytest.approx(getattr(alone, name), rel=SAME), (
                f"{name}, seed {seed}"
            )
        assert (together.high.transitional == alone.transitional).all(), f"seed {seed}"
        anew += alone.turbulent > 1.01 * alone.pressure or bool(alone.transitional.any())
    assert anew > 30  # so many were found anew
