"""Small arrays that balancing tests build on: invented, in water or brine."""

from __future__ import annotations

from collections.abc import Sequence

from hypothesis import strategies as st

from hydraulics.fluid.mixture import Mixture, mixture
from hydraulics.layout.circuit import Branch, Circuit, Loop, Run
from hydraulics.layout.legs import Coiled, Straight
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.split.duty import FlowDuty

P25, P32, P40, P50, P63 = (pe_pipe(f"PE100 SDR11 {size}") for size in (25, 32, 40, 50, 63))
BRINE: Mixture = mixture("propylene_glycol", 0.25, "mass")


def straight_loop(name: str, length: float) -> Loop:
    """A loop of 32 mm pipe."""
    return Loop(name, P32, (Straight(length),))


def manifold(lengths: Sequence[float]) -> Circuit:
    """Loops L1, L2 … of 32 mm pipe on one manifold."""
    return Circuit(
        "manifold", tuple(Branch(straight_loop(f"L{n}", m)) for n, m in enumerate(lengths, 1))
    )


def direct_return(lengths: Sequence[float], apart: float = 10.0) -> Circuit:
    """Loops of 32 mm pipe along a 40 mm header."""
    return Circuit(
        "direct_return",
        tuple(
            Branch(straight_loop(f"L{n}", m), header_length=apart) for n, m in enumerate(lengths, 1)
        ),
        header_pipe=P40,
    )


def nested() -> Circuit:
    """Two equal ladders and a chamber on one header: seven loops, some alike by count."""
    ladder = Circuit(
        "direct_return",
        (
            Branch(straight_loop("A", 120.0), header_length=6.0, count=2),
            Branch(Loop("B", P32, (Straight(60.0), Coiled(40.0, 1.0))), header_length=6.0),
        ),
        header_pipe=P40,
        name="ladder",
    )
    chamber = Circuit("manifold", (Branch(straight_loop("C", 90.0)),), name="chamber")
    return Circuit(
        "direct_return",
        (
            Branch(ladder, header_length=10.0, count=2),
            Branch(chamber, header_length=15.0, runs=(Run(P40, 12.0),)),
        ),
        header_pipe=P63,
    )


def flow(litres_per_second: float) -> FlowDuty:
    """A flow of brine between -3 and 0 °C."""
    return FlowDuty(litres_per_second / 1e3, -3.0, 0.0)


lengths = st.lists(st.floats(20.0, 300.0), min_size=2, max_size=8)
arrays = st.builds(
    lambda lengths, apart: direct_return(lengths, apart) if apart else manifold(lengths),
    lengths,
    st.sampled_from([0.0, 3.0, 15.0]),
)
