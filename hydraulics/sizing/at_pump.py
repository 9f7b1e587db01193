"""What does a sized array do at the flow of the pump that drives it?"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from hydraulics.errors import HydraulicsError
from hydraulics.findings import Finding, figures
from hydraulics.fluid.mixture import Fluid
from hydraulics.sizing.result import ArraySizing

SOURCE: Final = "the same model, at the pump's flow"


def findings_at_pump(
    sized: ArraySizing, name: str, mass_flow: float, brine: Fluid
) -> Iterator[Finding]:
    """How cold the brine of a sized array comes back at the flow that a pump gives.

    Parameters
    ----------
    sized
        The array.
    name
        Of the pump.
    mass_flow, brine
        What it gives in the cold [kg/s], and of what.
    """
    carried = brine.specific_heat * mass_flow
    told = (
        f"At the {figures(1e3 * mass_flow / brine.density)} L/s that {name} gives, brine rises "
        f"{sized.draw.peak / carried:.2f} K where the array is sized for "
        f"{sized.duty.temperature_change:.3g} K"
    )
    try:
        found = sized.at_change(sized.draw.greatest / carried).coldest_return
    except HydraulicsError:
        text = f"{told}: more than can be told of this mixture at its limit. Take more flow."
        yield Finding("return_at_pump", "warning", text, SOURCE)
        return
    below = found < min(sized.limit, sized.coldest_return) - 0.02
    remedy = f", below its limit of {sized.limit:g} °C: take more flow or more ground"
    yield Finding(
        "return_at_pump",
        "warning" if below else "info",
        f"{told}, and comes back at {found:.2f} °C at its coldest, not at "
        f"{sized.coldest_return:.2f} °C{remedy if below else ''}.",
        SOURCE,
    )
