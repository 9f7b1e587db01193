"""A picture of a flow split by its name, as bytes with its text alternative."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Final, TypeVar

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

_Made = TypeVar("_Made")

_FIGURES: Final[dict[str, Callable[..., Figure]]] = {
    "flows": flows_figure,
    "system_curve": system_curve_figure,
    "pressure_profile": pressure_profile_figure,
    "schematic": schematic_figure,
}
_TEXTS: Final[dict[str, Callable[..., str]]] = {
    "flows": flows_text,
    "system_curve": system_curve_text,
    "pressure_profile": pressure_profile_text,
    "schematic": schematic_text,
}


@dataclass(frozen=True)
class SplitDrawn:
    """One of the pictures of a flow split.

    Attributes
    ----------
    picture
        Key of :data:`api.media_types.PICTURES`.
    result, circuit, duty
        The flow split, the array and the duty that it was computed from.
    title
        Name of the job.
    """

    picture: str
    result: FlowSplit
    circuit: Circuit
    duty: Duty
    title: str = ""

    @property
    def heading(self) -> str:
        """What it shows, as a heading."""
        name = PICTURES[self.picture]
        return name[0].upper() + name[1:]

    @cached_property
    def text(self) -> str:
        """What it shows, in words."""
        return self._made(_TEXTS[self.picture])

    def figure(self) -> Figure:
        """Draw it."""
        return self._made(_FIGURES[self.picture])

    def _made(self, make: Callable[..., _Made]) -> _Made:
        if self.picture == "flows":
            return make(self.result, title=self.title)
        if self.picture == "system_curve":
            return make(*lines_of_split(self.result, self.duty), title=self.title)
        return make(self.result, self.circuit, title=self.title)


def picture_of_split(split: SplitDrawn, media_type: str) -> tuple[bytes, str]:
    """Draw a flow split.

    Parameters
    ----------
    split
        Which of its pictures.
    media_type
        :data:`api.media_types.SVG` or :data:`api.media_types.PNG`.

    Returns
    -------
    tuple
        The picture, and its text alternative.
    """
    figure, heading, text = split.figure(), split.heading, split.text
    if media_type == PNG:
        return png_of(figure, heading, text, PNG_DPI), text
    return svg_of(figure, heading, text), text
