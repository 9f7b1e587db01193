"""A drawing on a sheet, which is SVG of few and plain elements, as a figure of the same size."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any, Final
from xml.etree.ElementTree import Element, fromstring

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, Patch, Polygon, Rectangle
from matplotlib.patheffects import Stroke
from matplotlib.transforms import Affine2D, Transform

from api.drawings.style import label

_POINT: Final = 72.0 / 25.4  # points a millimetre
_INCH: Final = 25.4
_MOVED: Final = re.compile(r"(translate|rotate)\(([^)]*)\)")
_LETTERS: Final = 10_000  # of a text: it is never cut here


def sheet_figure(drawn: str) -> tuple[Figure, str, str]:
    """Draw a sheet anew, each millimetre where the SVG has it.

    Parameters
    ----------
    drawn
        SVG as :func:`api.drawings.plan.on_sheet` makes it.

    Returns
    -------
    tuple
        The figure, its title and its text alternative.

    Raises
    ------
    ValueError
        An element is not among those that sheets are drawn by.
    """
    root = fromstring(drawn)  # noqa: S314 (our own drawing, names in it escaped)
    width, height = (float(each) for each in root.attrib["viewBox"].split()[2:])
    figure = Figure(figsize=(width / _INCH, height / _INCH), facecolor="white")
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set(xlim=(0.0, width), ylim=(height, 0.0))
    axes.axis("off")
    told = {"title": "", "desc": ""}
    for element in root:
        name = _name(element)
        if name in told:
            told[name] = element.text or ""
            continue
        for artist in _artists(axes, element, Affine2D(), 0.0):
            artist.set_zorder(len(axes.get_children()))  # what comes later lies above
            artist.set_clip_on(False)
    return figure, told["title"], told["desc"]


def _name(element: Element) -> str:
    return element.tag.rpartition("}")[2]


def _moved(element: Element, within: Transform, turned: float) -> tuple[Transform, float]:
    """An element's own place in that of its group, and by how much it is turned [°]."""
    found = within
    for what, told in _MOVED.findall(element.get("transform", "")):
        values = [float(each) for each in told.split()]
        if what == "translate":
            found = Affine2D().translate(*values) + found
        else:
            turned += values[0]
            x, y = values[1:] or (0.0, 0.0)
            found = Affine2D().rotate_deg_around(x, y, values[0]) + found
    return found, turned


def _artists(axes: Axes, element: Element, within: Transform, turned: float) -> Iterator[Artist]:
    place, turned = _moved(element, within, turned)
    name = _name(element)
    if name == "g":
        for each in element:
            yield from _artists(axes, each, place, turned)
    elif name == "text":
        yield _text(axes, element, place, turned)
    elif name in ("line", "polyline"):
        yield axes.add_line(_line(element, place + axes.transData))
    else:
        patch = _patch(name, element)
        patch.set_transform(place + axes.transData)
        yield axes.add_patch(patch)


def _number(element: Element, name: str) -> float:
    return float(element.attrib[name])


def _points(element: Element) -> list[tuple[float, float]]:
    if _name(element) == "line":
        ends = [_number(element, each) for each in ("x1", "y1", "x2", "y2")]
        return [(ends[0], ends[1]), (ends[2], ends[3])]
    pairs = (pair.split(",") for pair in element.attrib["points"].split())
    return [(float(x), float(y)) for x, y in pairs]


def _dash(element: Element) -> Any:  # noqa: ANN401 (one of the library's many forms)
    """The dashes of a stroke; the library counts them in widths of it."""
    told = element.get("stroke-dasharray")
    if not told:
        return "solid"
    width = _number(element, "stroke-width")
    return 0.0, tuple(float(each) / width for each in told.split())


def _line(element: Element, place: Transform) -> Line2D:
    points = _points(element)
    joined = element.get("stroke-linejoin", "miter")
    return Line2D(
        [x for x, _ in points], [y for _, y in points], color=element.attrib["stroke"],
        linewidth=_number(element, "stroke-width") * _POINT, linestyle=_dash(element),
        solid_capstyle="butt", dash_capstyle="butt",
        solid_joinstyle="round" if joined == "round" else "miter", transform=place,
    )  # fmt: skip


def _patch(name: str, element: Element) -> Patch:
    look: dict[str, Any] = {
        "facecolor": element.get("fill", "black"),
        "edgecolor": element.get("stroke", "none"),
        "linewidth": float(element.get("stroke-width", 0.0)) * _POINT,
        "linestyle": _dash(element),
    }
    if name == "polygon":
        return Polygon(_points(element), closed=True, joinstyle="miter", **look)
    if name == "circle":
        middle = (_number(element, "cx"), _number(element, "cy"))
        return Circle(middle, _number(element, "r"), **look)
    if name == "rect":
        corner = (float(element.get("x", 0.0)), float(element.get("y", 0.0)))
        sides = (_number(element, "width"), _number(element, "height"))
        return Rectangle(corner, *sides, joinstyle="miter", **look)
    raise ValueError(f"no sheet holds <{name}>")


def _text(axes: Axes, element: Element, place: Transform, turned: float) -> Artist:
    at = place.transform((_number(element, "x"), _number(element, "y")))
    anchors = {"start": "left", "middle": "center", "end": "right"}
    made = axes.text(
        float(at[0]), float(at[1]), "",
        fontsize=_number(element, "font-size") * _POINT,
        ha=anchors[element.get("text-anchor", "start")], va="baseline",
        rotation=-turned, rotation_mode="anchor",
        fontweight=element.get("font-weight", "normal"),
    )  # fmt: skip
    if element.get("fill") == "none":
        colour = element.attrib["stroke"]
        width = _number(element, "stroke-width") * _POINT
        made.set(color=colour, path_effects=[Stroke(linewidth=width, foreground=colour)])
    else:
        made.set_color(element.attrib["fill"])
    return label(made, element.text or "", _LETTERS)
