"""Does every pipe of an array bear a pressure?"""

from __future__ import annotations

from hydraulics.findings import Finding
from hydraulics.layout.contents import Contents

_LESS_FLOW = (
    "Do not build it so: check the numbers, and take less flow, wider or shorter pipe, or pipe of a"
    " higher class."
)


def class_findings(
    contents: Contents, pressure: float, what: str, remedy: str = _LESS_FLOW
) -> tuple[Finding, ...]:
    """Tell of a pressure that is beyond the class of the weakest pipe whose class is known.

    Parameters
    ----------
    contents
        Pipe of array and plant.
    pressure
        Highest pressure [Pa gauge]; what stands on the circuit besides comes on top.
    what
        What causes it, to begin a sentence with.
    remedy
        What to do about that cause; for a pressure that the flow makes where it is left out.
    """
    classes = {each.pipe: each.pipe.pressure_class for each in contents.pipes}
    known = [(rated, pipe.name) for pipe, rated in classes.items() if rated is not None]
    rated, name = min(known, default=(pressure, ""))
    if pressure <= rated:
        return ()
    text = f"{what[0].upper()}{what[1:]}, {pressure / 1e5:.4g} bar, is more than {name} bears, "
    text += f"{rated / 1e5:.4g} bar at 20 °C: pipe and joints may burst. {remedy}"
    source = "EN 12201, pressure class at 20 °C"
    return (Finding("pressure_above_class", "error", text, source),)
