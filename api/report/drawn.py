"""Pictures of a report: drawn once, as SVG for a page or as PNG for print."""

from __future__ import annotations

import re
from typing import Any, Final
from xml.etree.ElementTree import Element, fromstring, register_namespace, tostring

import numpy as np

from api.plan_drawing import plan_svg
from api.plots import PICTURES, PNG, SVG
from api.plots.curves import Point, PumpLine, SystemLine, system_line
from api.plots.of_split import picture_of_split
from api.plots.render import png_of, svg_of
from api.plots.system_curve import system_curve_figure, system_curve_text
from api.report.blocks import Picture
from hydraulics.duty import Duty
from hydraulics.groundworks import Groundworks
from hydraulics.layout import Circuit
from hydraulics.split_result import FlowSplit

PRINT_DPI: Final = 220
_MOST_PUMPS: Final = 4  # more curves than this cannot be told apart
_SVG: Final = "http://www.w3.org/2000/svg"
_XLINK: Final = "http://www.w3.org/1999/xlink"
_REFERENCE: Final = re.compile(r"url\(#([^)]+)\)")

register_namespace("", _SVG)
register_namespace("xlink", _XLINK)


def pictures_of(
    result: FlowSplit, circuit: Circuit, duty: Duty, *, title: str, printed: bool
) -> dict[str, Picture]:
    """Draw every picture of a flow split.

    Parameters
    ----------
    result, circuit, duty
        The flow split and what it was computed from.
    title
        Name of the job.
    printed
        True for PNG, False for SVG to stand within a page.

    Returns
    -------
    dict
        Pictures by name.
    """
    found = {}
    for name, what in PICTURES.items():
        kind = PNG if printed else SVG
        drawn, text = picture_of_split(
            name, kind, result, circuit, duty, title=title, dpi=PRINT_DPI
        )
        found[name] = Picture(
            name=name,
            title=what[:1].upper() + what[1:],
            text=text,
            svg="" if printed else svg_within_page(drawn, name),
            png=drawn if printed else b"",
        )
    return found


def pumps_picture(content: dict[str, Any], *, title: str, printed: bool) -> dict[str, Picture]:
    """Draw the pumps ranked first over the system curves.

    Parameters
    ----------
    content
        Object of PumpSelectionResponseSchema.
    title
        Name of the job.
    printed
        True for PNG, False for SVG.

    Returns
    -------
    dict
        The picture, or nothing where no pump has an operating point.
    """
    systems = [
        system_line(
            each["condition"],
            np.asarray([p["flow_l_s"] / 1e3 for p in each["system_curve"]]),
            np.asarray([p["head_m"] for p in each["system_curve"]]),
        )
        for each in content["conditions"]
    ]
    tolerance = content["tolerance"]
    words = (
        f"tolerance: head −{tolerance['head_low_percent']:g}/+{tolerance['head_high_percent']:g} "
        f"%, flow −{tolerance['flow_low_percent']:g}/+{tolerance['flow_high_percent']:g} %"
    )
    pumps = []
    for pump in [each for each in content["pumps"] if "curve" in each][:_MOST_PUMPS]:
        columns = {
            name: np.asarray([p[name] for p in pump["curve"]])
            for name in ("flow_l_s", "head_m", "weakest_head_m", "strongest_head_m")
        }
        points = tuple(
            Point(each["condition"], each["flow_l_s"] / 1e3, each["head_m"])
            for each in pump["conditions"]
            if "flow_l_s" in each
        )
        held = pump["conditions"][0].get("state") == "holding_set_head"
        pumps.append(
            PumpLine(
                pump["pump"],
                columns["flow_l_s"] / 1e3,
                columns["head_m"],
                points,
                # A held head has no band: the control makes up for the pump.
                low=None if held else np.maximum(columns["weakest_head_m"], 0.0),
                high=None if held else columns["strongest_head_m"],
                tolerance=words,
            )
        )
    if not pumps:
        return {}
    # The array was solved far beyond the pumps; drawn so far, their crossing would be tiny.
    flow = 1.05 * max(float(pump.flow.max()) for pump in pumps)
    head = 1.25 * max(float(pump.head.max()) for pump in pumps)
    systems = [_within(line, flow, head) for line in systems]
    text = system_curve_text(systems, pumps, title=title)
    heading = "Pumps over the system curves, with operating points and the band of tolerance"
    figure = system_curve_figure(systems, pumps, title=title)
    if printed:
        picture = Picture("pumps", heading, text, png=png_of(figure, heading, text, PRINT_DPI))
    else:
        drawn = svg_of(figure, heading, text)
        picture = Picture("pumps", heading, text, svg=svg_within_page(drawn, "pumps"))
    return {"pumps": picture}


def _within(line: SystemLine, flow: float, head: float) -> SystemLine:
    """The part of a line within a flow and a head."""
    kept = (line.flow <= flow) & (line.head <= head)
    return SystemLine(line.name, line.flow[kept], line.head[kept])


def plan_picture(dug: Groundworks, *, title: str) -> dict[str, Picture]:
    """Give the setting-out plan as SVG, which print takes too.

    Parameters
    ----------
    dug
        What was counted.
    title
        Name of the job.

    Returns
    -------
    dict
        The picture, or nothing where nothing is set out.
    """
    if dug.plan is None or dug.block is None:
        return {}
    drawn = plan_svg(dug.plan, dug.block, title)
    root = fromstring(drawn)  # noqa: S314 (our own drawing, names in it escaped)
    text = root.findtext(f"{{{_SVG}}}desc", "") or "The array set out on its plot."
    svg = svg_within_page(drawn.encode("utf-8"), "plan")
    return {
        "plan": Picture(
            "plan",
            "Setting-out plan; on this page measure by its scale bar, not by its scale",
            text,
            svg=svg,
        )
    }


def svg_within_page(drawn: bytes, prefix: str) -> str:
    """SVG that may stand within an HTML page under a policy without inline styles.

    Parameters
    ----------
    drawn
        An SVG document of our own.
    prefix
        Goes before every id, so that several pictures can stand in one page.

    Returns
    -------
    str
        An ``<svg>`` element: styles are presentation attributes, ids are unique, no style sheet,
        no metadata.
    """
    root = fromstring(drawn)  # noqa: S314 (our own drawing, names in it escaped)
    for parent in list(root.iter()):
        for child in list(parent):
            if child.tag in (f"{{{_SVG}}}style", f"{{{_SVG}}}metadata"):
                parent.remove(child)
    for element in root.iter():
        _without_style(element)
        for name, value in list(element.attrib.items()):
            if name == "id":
                element.set(name, f"{prefix}-{value}")
            elif name == f"{{{_XLINK}}}href" and value.startswith("#"):
                element.set(name, f"#{prefix}-{value[1:]}")
            elif name == "aria-labelledby":
                element.set(name, " ".join(f"{prefix}-{each}" for each in value.split()))
            elif "url(#" in value:
                element.set(name, _REFERENCE.sub(rf"url(#{prefix}-\1)", value))
    # What the drawing library says in a style sheet for all elements.
    root.set("stroke-linejoin", "round")
    root.set("stroke-linecap", "butt")
    for size in ("width", "height"):
        if "viewBox" in root.attrib:
            root.attrib.pop(size, None)
    return tostring(root, encoding="unicode")


def _without_style(element: Element) -> None:
    """Turn an inline style into presentation attributes."""
    style = element.attrib.pop("style", None)
    if style is None:
        return
    for declaration in style.split(";"):
        name, _, value = (part.strip() for part in declaration.partition(":"))
        if name and value:
            element.set(name, value)
