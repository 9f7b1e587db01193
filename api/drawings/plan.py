"""The setting-out plan as SVG: true to a scale of ISO 5455 on A4 or A3, legible in grey print.

Lengths on paper are millimetres throughout, x to the right and y down as SVG has them.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final
from xml.sax.saxutils import escape

from api.answers.numbers import given
from hydraulics.groundworks.plan import Block, Plan, Rectangle, lies_within

INK, SOFT, EARTH, WHITE = "#2b2620", "#665c4f", "#e6dcc8", "#ffffff"
_TEXT, SMALL, _NAME = 2.6, 2.3, 4.2  # heights of lettering
_WIDE: Final = 0.62  # width of a letter over its height, on the safe side for a sans-serif
FRAME: Final = 7.0  # from the paper's edge
STRIP: Final = 33.0  # title strip at the foot
_LEFT, _RIGHT, _ABOVE, _BELOW = 17.0, 13.0, 15.0, 15.0  # for dimensions and labels
_FINE_ENOUGH: Final = 200  # an A4 sheet at 1:200 or larger needs no A3
SYMBOL: Final = 1.1  # least radius of a borehole on paper
_PAPERS: Final = (
    ("A4", 297.0, 210.0), ("A4", 210.0, 297.0), ("A3", 420.0, 297.0), ("A3", 297.0, 420.0),
)  # fmt: skip
_NOT_XML: Final = re.compile("[\ufffe\uffff\ud800-\udfff]")


def _scales() -> Iterator[int]:
    """Scales of ISO 5455: 1 to 1, 2 and 5 times a power of ten; from 1:10."""
    for power in itertools.count(1):
        yield from (digit * 10**power for digit in (1, 2, 5))


@dataclass(frozen=True, slots=True)
class Sheet:
    """Paper, scale, and where the plot's lower left corner lies on it."""

    paper: str
    width: float
    height: float
    scale: int
    left: float
    bottom: float

    def length(self, metres: float) -> float:
        """On paper."""
        return metres * 1e3 / self.scale

    def x(self, metres: float) -> float:
        """From the paper's left edge."""
        return self.left + self.length(metres)

    def y(self, metres: float) -> float:
        """From the paper's upper edge."""
        return self.bottom - self.length(metres)


def sheet_for(across_m: float, up_m: float) -> Sheet:
    """The sheet with the largest scale, A3 only where A4 would be smaller than 1:200."""
    found: list[Sheet] = []
    for paper, width, height in _PAPERS:
        across = width - 2 * FRAME - _LEFT - _RIGHT
        up = height - 2 * FRAME - STRIP - _ABOVE - _BELOW
        scale = next(n for n in _scales() if across_m * 1e3 / n <= across and up_m * 1e3 / n <= up)
        spare_x = across - across_m * 1e3 / scale
        spare_y = up - up_m * 1e3 / scale
        left = FRAME + _LEFT + 0.5 * spare_x
        bottom = height - FRAME - STRIP - _BELOW - 0.5 * spare_y
        found.append(Sheet(paper, width, height, scale, left, bottom))
    small = min(found[:2], key=lambda sheet: sheet.scale)
    return small if small.scale <= _FINE_ENOUGH else min(found, key=lambda sheet: sheet.scale)


def mm(value: float) -> str:
    """A coordinate to a hundredth of a millimetre, without trailing zeros."""
    return f"{round(value, 2) + 0.0:.2f}".rstrip("0").rstrip(".")


def in_metres(value: float) -> str:
    """A length to the centimetre, in words."""
    return f"{given(round(value, 2))} m"


def room_of(text: str, size: float = SMALL) -> float:
    """Width that a text takes."""
    return _WIDE * size * len(text) + 1.0


def fitted(text: str, room: float, size: float = SMALL) -> str:
    """A text cut to the room that there is."""
    most = int((room - 1.0) / (_WIDE * size))
    return text if len(text) <= most else text[: max(most - 1, 0)] + "…"


def as_xml(words: str) -> str:
    """Words that may stand in a drawing."""
    return escape(_NOT_XML.sub("\ufffd", words))


def lettering(
    x: float, y: float, words: str, *, size: float = SMALL, anchor: str = "start",
    turned: bool = False, bold: bool = False, colour: str = INK, halo: bool = False,
) -> str:  # fmt: skip
    """A text at a point of the paper."""
    look = f' transform="rotate(-90 {mm(x)} {mm(y)})"' if turned else ""
    look += ' font-weight="bold"' if bold else ""
    start = f'<text x="{mm(x)}" y="{mm(y)}" font-size="{mm(size)}" text-anchor="{anchor}"{look}'
    drawn = f'{start} fill="{colour}">{as_xml(words)}</text>'
    if not halo:
        return drawn
    # What the letters stand on is kept white, so that they are read across lines: by a text of its
    # own behind them, since neither print nor every reader heeds the order of stroke and fill.
    behind = f'fill="none" stroke="{WHITE}" stroke-width="0.7" stroke-linejoin="round"'
    return f"{start} {behind}>{as_xml(words)}</text>{drawn}"


def ruled(
    x1: float, y1: float, x2: float, y2: float, *, width: float = 0.18, dash: str = "",
    colour: str = INK,
) -> str:  # fmt: skip
    """A straight line."""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{mm(x1)}" y1="{mm(y1)}" x2="{mm(x2)}" y2="{mm(y2)}" stroke="{colour}" '
        f'stroke-width="{width}"{dashed}/>'
    )


def boxed(
    x: float, y: float, width: float, height: float, *, fill: str = "none", stroke: float = 0.25,
    dash: str = "", title: str = "",
) -> str:  # fmt: skip
    """An upright rectangle."""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    drawn = (
        f'<rect x="{mm(x)}" y="{mm(y)}" width="{mm(width)}" height="{mm(height)}" fill="{fill}" '
        f'stroke="{INK}" stroke-width="{stroke}"{dashed}'
    )
    if not title:
        return drawn + "/>"
    return f"{drawn}><title>{as_xml(title)}</title></rect>"


SITE_DASH, _LAND_DASH, HEADER_DASH = "6 1.2 1 1.2", "1.6 1.2", "2.6 1"


# ------------------------------------------------------------------------------------ the ground


def _rectangle(sheet: Sheet, each: Rectangle) -> str:
    x, y = sheet.x(each.x), sheet.y(each.y + each.height)
    width, height = sheet.length(each.width), sheet.length(each.height)
    if each.kind == "site":
        return boxed(x, y, width, height, stroke=0.5, dash=SITE_DASH)
    return boxed(x, y, width, height, fill=EARTH, title=each.label)


def _ground(sheet: Sheet, plan: Plan, block: Block) -> Iterator[str]:
    yield from (_rectangle(sheet, each) for each in plan.rectangles)
    yield boxed(
        sheet.x(0.0), sheet.y(block.length), sheet.length(block.width),
        sheet.length(block.length), stroke=0.2, dash=_LAND_DASH,
    )  # fmt: skip
    for line in plan.lines:
        points = " ".join(f"{mm(sheet.x(x))},{mm(sheet.y(y))}" for x, y in line.points)
        style = f'stroke-width="0.7" stroke-dasharray="{HEADER_DASH}"'
        if line.kind != "header_trench":
            style = 'stroke-width="0.18"'
        yield f'<polyline points="{points}" fill="none" stroke="{INK}" {style}/>'
    for circle in plan.circles:
        x, y, radius = sheet.x(circle.x), sheet.y(circle.y), 0.5 * sheet.length(circle.diameter)
        if circle.kind == "borehole":
            yield bore_sign(x, y, max(radius, SYMBOL))
        else:
            fill = EARTH if circle.kind == "mat" else "none"
            yield (
                f'<circle cx="{mm(x)}" cy="{mm(y)}" r="{mm(radius)}" fill="{fill}" '
                f'stroke="{SOFT}" stroke-width="0.18"/>'
            )


def bore_sign(x: float, y: float, radius: float, fill: str = WHITE) -> str:
    """A circle with a cross in it."""
    cross = ruled(x - radius, y, x + radius, y) + ruled(x, y - radius, x, y + radius)
    return (
        f'<circle cx="{mm(x)}" cy="{mm(y)}" r="{mm(radius)}" fill="{fill}" stroke="{INK}" '
        f'stroke-width="0.3"/>{cross}'
    )


def _labels(sheet: Sheet, plan: Plan, block: Block) -> Iterator[str]:
    """Names of the places: above them, along them, or the first and last of each row."""
    pitch = sheet.length(block.pitch_across) if block.across > 1 else sheet.width
    widest = max((room_of(text.text) for text in plan.texts), default=0.0)
    radius = max(
        (max(0.5 * sheet.length(c.diameter), SYMBOL) for c in plan.circles if c.kind != "coil"),
        default=0.0,
    )
    mats = any(circle.kind == "mat" for circle in plan.circles)
    lengths = [sheet.length(r.height) for r in plan.rectangles if r.kind == "trench"]
    along = bool(lengths) and widest > pitch >= 1.5 * SMALL
    for number, text in enumerate(plan.texts):
        x, y = sheet.x(text.x), sheet.y(text.y)
        if along:
            word = fitted(text.text, lengths[number])
            middle = y + 0.5 * lengths[number]
            yield lettering(x + 0.35 * SMALL, middle, word, anchor="middle", turned=True, halo=True)
            continue
        ends = number % block.across in (0, block.across - 1) or number == block.places - 1
        if widest > pitch and not ends:
            continue
        # A name that stands alone may run over its neighbours' places, which have none.
        room = pitch if widest <= pitch else max(pitch, 12.0)
        word = fitted(text.text, room)
        up = 0.8 - 0.35 * SMALL if mats else radius + 0.8
        yield lettering(x, y - up, word, anchor="middle", halo=not mats)


# ------------------------------------------------------------------------------------ dimensions


def _across(sheet: Sheet, start: float, end: float, y: float, words: str) -> Iterator[str]:
    """Dimension from left to right; the figure is left out where it has no room."""
    x1, x2 = sheet.x(start), sheet.x(end)
    if x2 - x1 < 0.5:
        return
    yield ruled(x1, y, x2, y)
    for x in (x1, x2):
        yield ruled(x - 0.8, y + 0.8, x + 0.8, y - 0.8, width=0.35)
    if room_of(words) <= x2 - x1:
        yield lettering(0.5 * (x1 + x2), y - 0.8, words, anchor="middle")


def _up(sheet: Sheet, start: float, end: float, x: float, words: str) -> Iterator[str]:
    """Dimension from the foot up."""
    y1, y2 = sheet.y(start), sheet.y(end)
    if y1 - y2 < 0.5:
        return
    yield ruled(x, y1, x, y2)
    for y in (y1, y2):
        yield ruled(x - 0.8, y + 0.8, x + 0.8, y - 0.8, width=0.35)
    if room_of(words) <= y1 - y2:
        yield lettering(x - 0.8, 0.5 * (y1 + y2), words, anchor="middle", turned=True)


def _dimensions(sheet: Sheet, plan: Plan, block: Block) -> Iterator[str]:
    """Border, centres and length nearest; what the array takes; the plot on the other sides."""
    border, pitch = block.border, block.pitch_across
    first = border + 0.5 * block.body  # middle of the first place
    foot, side = sheet.y(0.0), sheet.x(0.0)
    yield from _across(sheet, 0.0, border, foot + 5.0, in_metres(border))
    if block.across > 1 and block.in_rows:
        yield from _across(sheet, first, first + pitch, foot + 5.0, in_metres(pitch))
    yield from _across(sheet, 0.0, block.width, foot + 11.0, in_metres(block.width))
    yield from _up(sheet, 0.0, border, side - 4.0, in_metres(border))
    if block.span > 0.0:
        yield from _up(sheet, border, border + block.span, side - 4.0, in_metres(block.span))
    elif block.rows > 1 and block.in_rows:
        yield from _up(
            sheet, first, first + block.pitch_along, side - 4.0, in_metres(block.pitch_along)
        )
    yield from _up(sheet, 0.0, block.length, side - 10.0, in_metres(block.length))
    site = next((r for r in plan.rectangles if r.kind == "site"), None)
    if site is not None:
        top, right = sheet.y(site.height), sheet.x(site.width)
        words = f"plot {in_metres(site.width)}"
        yield from _across(sheet, 0.0, site.width, top - 6.0, words)
        yield from _up(sheet, 0.0, site.height, right + 7.0, f"plot {in_metres(site.height)}")


# ---------------------------------------------------------------------------------- title strip


def _scale_bar(sheet: Sheet, x: float, y: float) -> Iterator[str]:
    """Four fields, alternately black and white, some 40 mm long."""
    each = max(
        (digit * 10.0**power for power in range(-3, 8) for digit in (1, 2, 5)
         if digit * 10.0**power * 1e3 / sheet.scale <= 11.0),
    )  # fmt: skip
    step = sheet.length(each)
    for field in range(4):
        fill = INK if field % 2 == 0 else WHITE
        yield boxed(x + field * step, y, step, 1.6, fill=fill, stroke=0.2)
    for field in (0, 1, 2, 4):
        words = f"{field * each:g}" + (" m" if field == 4 else "")
        yield lettering(x + field * step, y + 4.4, words, anchor="middle")


def _key(plan: Plan, x: float, y: float) -> Iterator[str]:
    """What the lines mean; only those that are drawn."""
    kinds = {r.kind for r in plan.rectangles} | {c.kind for c in plan.circles}
    kinds |= {line.kind for line in plan.lines}
    middle = -0.35 * SMALL
    land = ruled(0, middle, 9, middle, width=0.2, dash=_LAND_DASH)
    header = ruled(0, middle, 9, middle, width=0.7, dash=HEADER_DASH)
    entries = [
        ("site", "boundary of the plot", ruled(0, middle, 9, middle, width=0.5, dash=SITE_DASH)),
        ("", "ground taken, border included", land),
        ("trench", "trench, width at the surface", boxed(0, -2.0, 9, 2.2, fill=EARTH)),
        ("coil", "coils", "".join(
            f'<circle cx="{c}" cy="{mm(middle)}" r="1.1" fill="none" stroke="{SOFT}" '
            'stroke-width="0.18"/>' for c in (2.5, 4.5, 6.5))),
        ("pipe", "pipe", ruled(0, middle, 9, middle)),
        ("header_trench", "header trench", header),
        ("borehole", "borehole (symbol, not to scale)", bore_sign(4.5, middle, SYMBOL)),
        ("mat", "pond mat", f'<circle cx="4.5" cy="{mm(middle)}" r="1.5" fill="{EARTH}" '
            f'stroke="{SOFT}" stroke-width="0.18"/>'),
    ]  # fmt: skip
    shown = [entry for entry in entries if not entry[0] or entry[0] in kinds]
    for number, (_, words, sign) in enumerate(shown):
        column, row = divmod(number, 3)
        at_x, at_y = x + column * 55.0, y + row * 4.2
        yield f'<g transform="translate({mm(at_x)} {mm(at_y)})">{sign}</g>'
        yield lettering(at_x + 11.0, at_y, words)


def _verdict(plan: Plan, block: Block) -> str:
    """What is wrong with the setting out, if anything is; the findings tell why."""
    if block.fits is not False:
        return ""
    site = next((r for r in plan.rectangles if r.kind == "site"), None)
    if site is not None and not lies_within(block, (site.width, site.height)):
        return "It does not fit into the plot: see the findings."
    return "It cannot be laid so: see the findings."


def _strip(sheet: Sheet, plan: Plan, block: Block, name: str) -> Iterator[str]:
    top = sheet.height - FRAME - STRIP
    left, right = FRAME + 3.0, sheet.width - FRAME
    yield from titled_strip(sheet, name)
    yield lettering(left, top + 14.4, _setting_out(plan, block))
    warnings = [f"Not drawn: {block.left_out}."] if block.left_out else []
    warnings += [verdict] if (verdict := _verdict(plan, block)) else []
    if warnings:
        yield lettering(right - 3.0, top + 14.4, " ".join(warnings), anchor="end", bold=True)
    yield from _key(plan, left, top + 19.4)
    yield lettering(
        left, sheet.height - FRAME - 1.6,
        "Drawn for design from the layout given; not surveyed. Locate buried services first.",
        colour=SOFT,
    )  # fmt: skip


def _setting_out(plan: Plan, block: Block) -> str:
    kinds = {r.kind for r in plan.rectangles} | {c.kind for c in plan.circles}
    what = "trench" if "trench" in kinds else "borehole" if "borehole" in kinds else "pond mat"
    plural = {"trench": "trenches"}.get(what, what + "s")
    if not block.in_rows:
        apart = f"{in_metres(block.pitch_across)} apart at the least"
        return f"{block.places} {plural}, {apart}, {in_metres(block.border)} from the boundary"
    rows = f"{block.rows} row" + "s" * (block.rows > 1)
    longest = f", up to {in_metres(block.span)} long" if block.span > 0.0 else ""
    centres = f" at {in_metres(block.pitch_across)} centres" if block.across > 1 else ""
    return (
        f"{block.places} {what if block.places == 1 else plural}{longest}, in {rows}{centres}, "
        f"{in_metres(block.border)} from the boundary"
    )


def plan_svg(plan: Plan, block: Block, name: str) -> str:
    """Draw a plan.

    Parameters
    ----------
    plan
        Its shapes.
    block
        How its places are set out.
    name
        Name of the job; may be empty.

    Returns
    -------
    str
        SVG 1.1 whose size is the paper's in millimetres, with its text alternative in ``<title>``
        and ``<desc>``. It holds no script, style sheet or link.
    """
    sheet = sheet_for(plan.width, plan.height)
    site = next((r for r in plan.rectangles if r.kind == "site"), None)
    told = (
        f"{_setting_out(plan, block)}. With borders they take {in_metres(block.width)} by "
        f"{in_metres(block.length)}."
    )
    if site is not None:
        told += f" The plot is {in_metres(site.width)} by {in_metres(site.height)}."
    if verdict := _verdict(plan, block):
        told += f" {verdict}"
    if block.left_out:
        told += f" Not drawn, and not part of the ground taken: {block.left_out}."
    told += f" Scale 1:{sheet.scale} on {sheet.paper}."
    title = f"Plan of {name}" if name else "Plan of the array"
    drawn = (
        *_ground(sheet, plan, block),
        *_labels(sheet, plan, block),
        *_dimensions(sheet, plan, block),
        *_strip(sheet, plan, block, name),
    )
    return on_sheet(sheet, title, told, drawn)


def on_sheet(sheet: Sheet, title: str, text: str, drawn: Iterable[str]) -> str:
    """SVG 1.1 of what is drawn on a sheet, its size in millimetres, with its text alternative."""
    width, height = mm(sheet.width), mm(sheet.height)
    parts = [
        '<?xml version="1.0" encoding="utf-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}" role="img" aria-labelledby="plan-title plan-text" '
        'font-family="DejaVu Sans, Liberation Sans, sans-serif">',
        f'<title id="plan-title">{as_xml(title)}</title>',
        f'<desc id="plan-text">{as_xml(text)}</desc>',
        f'<rect width="{width}" height="{height}" fill="{WHITE}"/>',
        *drawn,
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def titled_strip(sheet: Sheet, name: str) -> Iterator[str]:
    """The frame, and of the strip at its foot the name, the scale and its bar."""
    top, left, right = sheet.height - FRAME - STRIP, FRAME + 3.0, sheet.width - FRAME
    yield boxed(FRAME, FRAME, sheet.width - 2 * FRAME, sheet.height - 2 * FRAME, stroke=0.35)
    yield ruled(FRAME, top, right, top, width=0.35)
    title = fitted(name or "Ground array", right - left - 62.0, _NAME)
    yield lettering(left, top + 6.0, title, size=_NAME, bold=True)
    yield lettering(
        left, top + 10.6, f"Setting-out plan 1:{sheet.scale} on {sheet.paper}, printed at full size"
    )
    yield from _scale_bar(sheet, right - 52.0, top + 4.0)
