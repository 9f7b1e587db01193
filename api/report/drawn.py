"""Pictures of a report: drawn once, as SVG for a page or as PNG for print."""

from __future__ import annotations

import re
from typing import Final, Literal
from xml.etree.ElementTree import Element, fromstring, register_namespace, tostring

from matplotlib.figure import Figure

from api.drawings.curves import SystemLine, lines_of_selection
from api.drawings.life import life_figure, life_text
from api.drawings.of_split import SplitDrawn
from api.drawings.plan import plan_svg
from api.drawings.render import png_of, svg_of
from api.drawings.site_plan import site_plan_svg
from api.drawings.system_curve import system_curve_figure, system_curve_text
from api.media_types import PICTURES
from api.report.blocks import Picture
from hydraulics.groundworks.works import Groundworks
from hydraulics.job import Chapters
from hydraulics.pumps.result import PumpsOnArray
from hydraulics.sizing.result import ArraySizing

PRINT_DPI: Final = 220
_PLAN: Final = "Setting-out plan; at its scale on a sheet of the PDF, elsewhere by its scale bar"
_MOST_PUMPS: Final = 4  # more curves than this cannot be told apart
_SVG: Final = "http://www.w3.org/2000/svg"
_XLINK: Final = "http://www.w3.org/1999/xlink"
_REFERENCE: Final = re.compile(r"url\(#([^)]+)\)")

Form = Literal["svg", "png", "words"]
"""To stand within a page, to be printed, or its text alternative alone."""

register_namespace("", _SVG)
register_namespace("xlink", _XLINK)


def drawings_of(chapters: Chapters, *, title: str, form: Form) -> dict[str, Picture]:
    """Draw every picture of a report.

    Parameters
    ----------
    chapters
        The job's chapters; pumps and plan are drawn where the job asks for them.
    title
        Name of the job.
    form
        How they are drawn.

    Returns
    -------
    dict
        Pictures by name.
    """
    found = _of_split(chapters, title, form)
    if chapters.job.pump_choice is not None:
        found |= _pumps(chapters.pump_choice, title, form)
    if chapters.job.setting_out is not None:
        found["plan"] = plan_picture(site_plan_svg(chapters.laid_out.plan, title), _PLAN)
    elif chapters.job.groundworks is not None:
        found |= _plan(chapters.groundworks, title)
    if chapters.job.sizing is not None:
        found |= _life(chapters.sizing, title, form)
    return found


def _of_split(chapters: Chapters, title: str, form: Form) -> dict[str, Picture]:
    found = {}
    for name in PICTURES:
        if name == "pressure_profile" and not chapters.split.headers.places:
            continue  # a level line
        split = SplitDrawn(name, chapters.split, chapters.circuit, chapters.duty, title)
        found[name] = (
            Picture(name, split.heading, split.text)
            if form == "words"
            else _picture(name, split.heading, split.figure(), split.text, form)
        )
    return found


def _life(sized: ArraySizing, title: str, form: Form) -> dict[str, Picture]:
    if sized.history is None:
        return {}
    heading = "What makes the limiting temperature, and the brine through the life"
    text = life_text(sized, sized.history, title=title)
    if form == "words":
        return {"life": Picture("life", heading, text)}
    figure = life_figure(sized, sized.history, title=title)
    return {"life": _picture("life", heading, figure, text, form)}


def _picture(name: str, heading: str, figure: Figure, text: str, form: Form) -> Picture:
    if form == "png":
        png = png_of(figure, heading, text, PRINT_DPI)
        return Picture(name, heading, text, png=png)
    return Picture(name, heading, text, svg_within_page(svg_of(figure, heading, text), name))


def _pumps(judged: PumpsOnArray, title: str, form: Form) -> dict[str, Picture]:
    """The pumps ranked first over the system curves; nothing where none has an operating point."""
    systems, pumps, _ = lines_of_selection(
        judged.selections, [each.condition for each in judged.conditions]
    )
    if not pumps:
        return {}
    pumps = pumps[:_MOST_PUMPS]
    # The array was solved far beyond the pumps; drawn so far, their crossing would be tiny.
    flow = 1.05 * max(float(pump.flow.max()) for pump in pumps)
    head = 1.25 * max(float(pump.head.max()) for pump in pumps)
    shown = [_within(each, flow, head) for each in systems]
    text = system_curve_text(shown, pumps, title=title)
    heading = "Pumps over the system curves, with operating points and the band of tolerance"
    if form == "words":
        return {"pumps": Picture("pumps", heading, text)}
    figure = system_curve_figure(shown, pumps, title=title)
    return {"pumps": _picture("pumps", heading, figure, text, form)}


def _within(line: SystemLine, flow: float, head: float) -> SystemLine:
    """The part of a line within a flow and a head."""
    kept = (line.flow <= flow) & (line.head <= head)
    return SystemLine(line.name, line.flow[kept], line.head[kept])


def _plan(dug: Groundworks, title: str) -> dict[str, Picture]:
    """The setting-out plan as SVG, which print takes too; nothing where nothing is set out."""
    if dug.plan is None or dug.block is None:
        return {}
    return {"plan": plan_picture(plan_svg(dug.plan, dug.block, title), _PLAN)}


def plan_picture(drawn: str, title: str) -> Picture:
    """A plan, drawn as SVG, with its text alternative taken out of it."""
    root = fromstring(drawn)  # noqa: S314 (our own drawing, names in it escaped)
    text = root.findtext(f"{{{_SVG}}}desc", "") or "The array set out on its plot."
    svg = svg_within_page(drawn.encode("utf-8"), "plan")
    return Picture("plan", title, text, svg=svg)


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
