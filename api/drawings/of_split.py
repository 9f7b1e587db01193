"""A picture of a flow split by its name, as bytes with its text alternative."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from matplotlib.figure import Figure

from api.drawings.curves import lines_of_split
from api.drawings.flows import flows_figure, flows_text
from api.drawings.pressure_profile import pressure_profile_figure, pressure_profile_text
from api.drawings.render import PNG_DPI, png_of, svg_of
from api.drawings.schematic import schematic_figure, schematic_text
from api.drawings.system_curve import system_curve_figure, system_curve_text
from api.media_types import PICTURES, PNG
from hydraulics.layout.circuit import Circuit
from hydraulics.split.duty import Duty
from hydraulics.split.result import FlowSplit

_Drawn = tuple[Figure, str]


def _flows(result: FlowSplit, _circuit: Circuit, _duty: Duty, title: str) -> _Drawn:
    return flows_figure(result, title=title), flows_text(result, title=title)


def _system_curve(result: FlowSplit, _circuit: Circuit, duty: Duty, title: str) -> _Drawn:
    lines = lines_of_split(result, duty)
    return system_curve_figure(*lines, title=title), system_curve_text(*lines, title=title)


def _pressure_profile(result: FlowSplit, circuit: Circuit, _duty: Duty, title: str) -> _Drawn:
    return (
        pressure_profile_figure(result, circuit, title=title),
        pressure_profile_text(result, circuit, title=title),
    )


def _schematic(result: FlowSplit, circuit: Circuit, _duty: Duty, title: str) -> _Drawn:
    return (
        schematic_figure(result, circuit, title=title),
        schematic_text(result, circuit, title=title),
    )


_DRAW: Final[dict[str, Callable[[FlowSplit, Circuit, Duty, str], _Drawn]]] = {
    "flows": _flows,
    "system_curve": _system_curve,
    "pressure_profile": _pressure_profile,
    "schematic": _schematic,
}


def picture_of_split(
    picture: str,
    media_type: str,
    result: FlowSplit,
    circuit: Circuit,
    duty: Duty,
    *,
    title: str = "",
) -> tuple[bytes, str]:
    """Draw a flow split.

    Parameters
    ----------
    picture
        Key of :data:`api.media_types.PICTURES`.
    media_type
        :data:`api.media_types.SVG` or :data:`api.media_types.PNG`.
    result, circuit, duty
        The flow split, the array and the duty that it was computed from.
    title
        Name of the job.

    Returns
    -------
    tuple
        The picture, and its text alternative.
    """
    figure, text = _DRAW[picture](result, circuit, duty, title)
    name = PICTURES[picture]
    heading = name[0].upper() + name[1:]
    if media_type == PNG:
        return png_of(figure, heading, text, PNG_DPI), text
    return svg_of(figure, heading, text), text
