"""A report as PDF: text that can be selected and searched, embedded fonts, bookmarks, A4.

fpdf2 does it: it needs nothing but pip, embeds subsets of TrueType fonts, writes bookmarks and puts
headings and pictures, with their text alternatives, into the document's structure. Tables are laid
out here: the library's own take some ten seconds for a thousand loops. Nothing is read from a file
or an address that a caller named: the only files opened are our mark and the fonts of the drawing
library.
"""

from __future__ import annotations

import hashlib
import re
import struct
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from io import BytesIO
from itertools import zip_longest
from pathlib import Path
from typing import Any, Final

import matplotlib as mpl
from fpdf import FPDF
from fpdf.enums import ResourceAccessPolicy
from fpdf.fonts import TTFFont
from fpdf.image_datastructures import RasterImageInfo
from fpdf.output import OutputProducer, PDFInfo

from api.report.blocks import (
    SEVERITIES,
    Block,
    Bullets,
    Cautions,
    Facts,
    Figures,
    Findings,
    Paragraph,
    Picture,
    Report,
    Subheading,
    Table,
)
from api.version import VERSION

Colour = tuple[int, int, int]

INK: Final[Colour] = (0x2B, 0x26, 0x20)
SOFT: Final[Colour] = (0x66, 0x5C, 0x4F)
LINE: Final[Colour] = (0xCF, 0xC3, 0xAE)
BAND: Final[Colour] = (0xF4, 0xEE, 0xE2)
CLAY: Final[Colour] = (0x9A, 0x3F, 0x1D)

_MARGIN: Final = 14.0  # mm
_FOOT: Final = 13.0
_TOP: Final = 17.0
_SANS, _SERIF = "sans", "serif"
_SIZE: Final = 7.3  # pt
_LEAD: Final = 3.3  # mm
_NO_DATE: Final = datetime(2000, 1, 1, tzinfo=UTC)
"""What the library reckons the file's identity with; the file itself has no date."""


class _Undated(OutputProducer):
    """Writes no date of creation: equal requests give equal files, and no day is told wrong."""

    def _add_info(self) -> PDFInfo:
        info = super()._add_info()
        info.creation_date = None  # type: ignore[assignment]
        return info


_PAD: Final = 0.5  # mm, around the text of a cell
_MARK: Final = Path(__file__).parent.parent / "pages" / "assets" / "mark.svg"
_VIEW: Final = re.compile(r'viewBox="[\d.-]+ [\d.-]+ ([\d.]+) ([\d.]+)"')
_PICTURE_HEIGHT: Final = 48.0  # mm, the tallest
_GUTTER: Final = 4.0  # mm, between pictures side by side
_SHRINK: Final = 0.7  # a picture may be made so much smaller to stay on its page
_WORDS: Final = re.compile(r"<(title|desc)\b[^>]*>.*?</\1>", re.DOTALL)
_FAMILY: Final = re.compile(r'font-family="[^"]*"')
_UNIT: Final = re.compile(r"(?<=\d) (?=(?:%|°C|(?:m|mm|L/s|kPa|kW|W|K|kg|h|L|kWh/a|m³/h)\b))")
_LEAST_BOX: Final = 18.0  # mm of a box of cautions that is begun on a page
_FEW: Final = 4  # rows of facts that stay on one page
_ACROSS: Final = 13  # most rows of a short table that is laid on its side


def _fonts() -> dict[tuple[str, str], Path]:
    folder = Path(mpl.get_data_path()) / "fonts" / "ttf"
    return {
        (_SANS, ""): folder / "DejaVuSans.ttf",
        (_SANS, "B"): folder / "DejaVuSans-Bold.ttf",
        (_SERIF, "B"): folder / "DejaVuSerif-Bold.ttf",
    }


class _Document(FPDF):
    """A page with a running head and foot."""

    def __init__(self, report: Report, subject: str) -> None:
        super().__init__(format="A4")
        self.report = report
        self.missing = False
        self.sheets: set[int] = set()
        self.drawings: list[Picture] = []  # each a sheet of its own, behind the text
        self.c_margin = 0.0
        self._widths: dict[tuple[str, str], dict[str, float]] = {}
        for (family, style), path in _fonts().items():
            self.add_font(family, style, path)
        # Regular and bold of one family do not hold the same signs; a text may be set in either.
        self._known: dict[str, frozenset[int]] = {}
        for name, font in self.fonts.items():
            if isinstance(font, TTFFont):
                family, signs = name.removesuffix("B"), frozenset(font.cmap)
                self._known[family] = self._known.get(family, signs) & signs
        self.set_margins(_MARGIN, _TOP, _MARGIN)
        self.set_auto_page_break(True, _FOOT + 1.0)
        self.set_lang("en")
        self.set_title(self.fit(report.title, _SANS))
        self.set_subject(subject)
        if report.author:
            self.set_author(report.author)
        self.set_creator("Evenloop")
        self.set_producer("Evenloop")
        self.set_creation_date(_NO_DATE)
        self.set_display_mode("fullwidth")

    def fit(self, text: str, family: str) -> str:
        """Text with a box for every sign that the font has not."""
        if text.isascii():
            return text
        if any(unicodedata.bidirectional(sign) in ("R", "AL") for sign in text):
            # Joins letters and turns the direction; slow, so only from where it is needed on.
            self.set_text_shaping(True, direction="ltr")
        known = self._known[family]
        return "".join(c if ord(c) in known or c == "\n" else self._other(c) for c in text)

    def head(self, text: str) -> str:
        """Family for a heading: the serif where it has every sign, as the sans has more."""
        known = self._known[_SERIF]
        return _SERIF if all(ord(sign) in known for sign in text) else _SANS

    def _other(self, sign: str) -> str:
        if unicodedata.category(sign) in ("Mn", "Me", "Cf", "Cc", "Cs"):
            return ""
        self.missing = True
        return "□"

    def measure(self, text: str) -> float:
        """Width of a text in the font in use [mm]."""
        widths = self._widths.setdefault((self.font_family, self.font_style), {})
        total = 0.0
        for sign in text:
            width = widths.get(sign)
            if width is None:
                width = widths[sign] = self.get_string_width(sign) / self.font_size_pt
            total += width
        return total * self.font_size_pt

    def lines(self, text: str, width: float) -> list[str]:
        """Text broken into lines of a width at spaces, and within words that are longer."""
        found: list[str] = []
        space = self.measure(" ")
        # A number keeps its unit on its line.
        for part in _UNIT.sub("\u00a0", text).split("\n"):
            line, used = "", 0.0
            for word in part.split(" "):
                size = self.measure(word)
                if line and used + space + size <= width:
                    line, used = f"{line} {word}", used + space + size
                    continue
                if line:
                    found.append(line)
                line, used = word, size
                while used > width and len(line) > 1:
                    head = self._head(line, width)
                    found.append(line[:head])
                    line = line[head:]
                    used = self.measure(line)
            found.append(line)
        return found

    def _head(self, word: str, width: float) -> int:
        """How many signs of a word fit."""
        used = 0.0
        for index, sign in enumerate(word):
            used += self.measure(sign)
            if used > width:
                return max(index, 1)
        return len(word)

    def put(self, text: str, lead: float = _LEAD, width: float = 0.0) -> None:
        """Write a text in lines from where the pen is, each line as far in as the first."""
        left = self.get_x()
        wide = width or self.w - self.r_margin - left
        for line in self.lines(text, wide):
            self.set_x(left)
            self.cell(wide, lead, line, new_x="LMARGIN", new_y="NEXT")

    def use(self, family: str, style: str, size: float, colour: Colour = INK) -> None:
        """Take a font and a colour."""
        self.set_font(family, style, size)
        self.set_text_color(*colour)

    def rule(self, colour: Colour = LINE, width: float = 0.25, long: float = 0.0) -> None:
        """Draw a line where the pen is, as long as the text is wide where no length is told."""
        self.set_draw_color(*colour)
        self.set_line_width(width)
        self.line(_MARGIN, self.get_y(), _MARGIN + (long or self.epw), self.get_y())

    def header(self) -> None:
        """Title of the document, from the second page on."""
        if self.page_no() == 1 or self.page_no() in self.sheets:
            return
        self.set_y(9.0)
        self.use(_SANS, "", 7.2, SOFT)
        title = _cut(self, self.fit(self.report.title, _SANS), self.epw * 0.66)
        self.cell(self.epw * 0.7, 5.0, title)
        self.cell(self.epw * 0.3, 5.0, "Design report", align="R", new_x="LMARGIN", new_y="NEXT")
        self.set_y(15.0)
        self.rule()
        self.set_y(_TOP)

    def footer(self) -> None:
        """Version, what results are for, page of pages."""
        sheet = self.page_no() in self.sheets
        self.set_y(-8.0 if sheet else -_FOOT + 3.0)
        if not sheet:
            self.rule()
        self.use(_SANS, "", 6.8, SOFT)
        words = (
            f"Evenloop {self.report.version} · results are for design; site work follows local "
            "codes and licensed practice"
        )
        if sheet:
            title = _cut(self, self.fit(self.report.title, _SANS), self.epw * 0.6)
            words = f"{title} · Evenloop {self.report.version} · results are for design"
        self.cell(self.epw * 0.8, 6.0, words)
        self.cell(self.epw * 0.2, 6.0, f"{self.page_no()} / {{nb}}", align="R")


def _cut(pdf: _Document, text: str, width: float) -> str:
    """Text that fits a width on one line."""
    if pdf.measure(text) <= width:
        return text
    while text and pdf.measure(text + "…") > width:
        text = text[:-1]
    return text + "…"


def pdf_of(report: Report) -> bytes:
    """Write a report as PDF.

    Parameters
    ----------
    report
        The report; its pictures are PNG.

    Returns
    -------
    bytes
        The file, the same for the same report.
    """
    pdf = _Document(report, "Design report of a ground array")
    pdf.add_page()
    _title(pdf, report)
    _write_all(pdf, report.opening)
    places = _contents(pdf, report)
    pages = [
        _section(pdf, number, section.title, section.blocks)
        for number, section in enumerate(report.sections, 1)
    ]
    if pdf.missing:
        told = (
            "□ stands for a sign that the document's font has not; the HTML and JSON forms of this "
            "document have it."
        )
        _paragraph(pdf, Paragraph(told, soft=True))
    _page_numbers(pdf, places, pages)  # while the page is as high as theirs
    for drawing in pdf.drawings:
        _sheet(pdf, drawing)
    return bytes(pdf.output(output_producer_class=_Undated))


def sheets_pdf(drawings: Sequence[Picture], title: str) -> bytes:
    """Write vector drawings as PDF, each a page of the size of its view box [mm].

    Parameters
    ----------
    drawings
        The drawings, as SVG.
    title
        Of the document.

    Returns
    -------
    bytes
        The file, the same for the same drawings.
    """
    alone = Report(title, "", "", (), "", None, (), (), VERSION)
    pdf = _Document(alone, drawings[0].title)
    for each in drawings:
        _sheet(pdf, each)
    return bytes(pdf.output(output_producer_class=_Undated))


# ---------------------------------------------------------------------------------------- the head


def _title(pdf: _Document, report: Report) -> None:
    pdf.image(_MARK, x=pdf.w - _MARGIN - 16.8, y=14.0, w=16.8, alt_text="Evenloop")
    pdf.set_y(14.0)
    pdf.use(_SANS, "", 8.0, CLAY)
    pdf.cell(0, 5.0, report.kicker, new_x="LMARGIN", new_y="NEXT")
    pdf.ln(1.0)
    family = pdf.head(report.title)
    title = pdf.fit(report.title, family)
    pdf.start_section(title)
    pdf.use(family, "B", 19.0)
    pdf.put(title, 8.6, pdf.epw - 30.0)
    pdf.ln(2.0)
    if report.header:
        _title_block(pdf, report.header)
    pdf.rule(INK, 0.6)
    pdf.ln(3.0)
    family = pdf.head(report.verdict)
    pdf.use(family, "B", 11.5, CLAY if report.even is False else INK)
    pdf.put(pdf.fit(report.verdict, family), 5.6)
    pdf.ln(2.5)


def _title_block(pdf: _Document, told: Sequence[tuple[str, str]]) -> None:
    """Names and values in two columns, down the first, then down the second."""
    rows = [(pdf.fit(name, _SANS), pdf.fit(value, _SANS)) for name, value in told]
    deep = -(-len(rows) // 2)
    pairs = zip_longest(rows[:deep], rows[deep:], fillvalue=("", ""))
    widths = tuple(share * pdf.epw for share in (0.13, 0.39, 0.13, 0.35))
    grid = _Grid(widths, (False,) * 4, _SIZE, _LEAD, ruled=False)
    _rows(
        pdf, grid, None, [_Row((*left, *right), colours=(SOFT, INK) * 2) for left, right in pairs]
    )
    pdf.ln(1.3)


@dataclass(frozen=True, slots=True)
class _Listed:
    """Where a section's page is told in the contents: page, and place on it [mm]."""

    page: int
    x: float
    y: float


def _contents(pdf: _Document, report: Report) -> list[_Listed]:
    """List the sections in three columns, and leave room for their pages."""
    titles = [f"{number}  {each.title}" for number, each in enumerate(report.sections, 1)]
    deep = -(-len(titles) // 3)
    if pdf.will_page_break(deep * _LEAD + 9.0):
        pdf.add_page()
    _subheading(pdf, Subheading("Contents"))
    top, width = pdf.get_y(), pdf.epw / 3
    places = []
    pdf.use(_SANS, "", _SIZE)
    for index, title in enumerate(titles):
        pdf.set_xy(_MARGIN + (index // deep) * width, top + (index % deep) * _LEAD)
        pdf.cell(width - 11.0, _LEAD, title)
        places.append(_Listed(pdf.page_no(), pdf.get_x(), pdf.get_y()))
    pdf.set_xy(_MARGIN, top + deep * _LEAD + 2.0)
    return places


def _page_numbers(pdf: _Document, places: Sequence[_Listed], pages: Sequence[int]) -> None:
    """Write the pages of the sections into the contents."""
    last, y = pdf.page, pdf.get_y()
    for place, page in zip(places, pages, strict=True):
        if pdf.page != place.page:
            pdf.page = place.page
            pdf.use(_SERIF, "B", _SIZE)  # so that the font is named anew on that page
            pdf.use(_SANS, "", _SIZE)
        pdf.set_xy(place.x, place.y)
        pdf.cell(6.0, _LEAD, str(page), align="R")
    pdf.page = last
    pdf.set_y(y)


def _section(pdf: _Document, number: int, title: str, blocks: Sequence[Block]) -> int:
    """Write a section; the page that it begins on."""
    # A heading keeps company with what comes first under it.
    if pdf.will_page_break(14.0 + _least(pdf, blocks[0])):
        pdf.add_page()
    else:
        pdf.ln(4.0)
    page = pdf.page_no()
    pdf.start_section(f"{number}  {title}")
    pdf.use(_SERIF, "B", 13.5)
    pdf.cell(9.0, 7.0, str(number))
    pdf.cell(0, 7.0, title, new_x="LMARGIN", new_y="NEXT")
    pdf.rule(INK, 0.4)
    pdf.ln(2.0)
    _write_all(pdf, blocks)
    return page


# --------------------------------------------------------------------------------------- the blocks


def _least(pdf: _Document, block: Block) -> float:
    """Height that a block needs to begin on a page [mm]."""
    if isinstance(block, Picture) and not block.svg:
        return _SHRINK * _size(pdf, block)[1] + 8.0
    if isinstance(block, Cautions):
        return min(_box(pdf, block)[1], _LEAST_BOX)
    if isinstance(block, Facts) and len(block.rows) <= _FEW:
        return 5.5 * len(block.rows)
    if isinstance(block, Table):
        rows = len(block.columns) if _is_across(block) else min(len(block.rows), 2) + 1
        return 6.0 + 5.0 * rows
    return 12.0


def _write_all(pdf: _Document, blocks: Sequence[Block]) -> None:
    beside: Block | None = None  # a picture that stands beside the one before it
    for block, after in zip_longest(blocks, blocks[1:]):
        if block is beside:
            continue
        if _go_together(pdf, block, after):
            beside = after
            _pair(pdf, *(each for each in (block, after) if isinstance(each, Picture)))
            continue
        # A heading keeps company with what it is the heading of.
        if (
            isinstance(block, Subheading)
            and after
            and pdf.will_page_break(8.0 + _least(pdf, after))
        ):
            pdf.add_page()
        _WRITERS[block.kind](pdf, block)


def _paragraph(pdf: _Document, block: Paragraph) -> None:
    pdf.use(_SANS, "", _SIZE, SOFT if block.soft else INK)
    pdf.put(pdf.fit(block.text, _SANS))
    pdf.ln(1.2)


def _subheading(pdf: _Document, block: Subheading) -> None:
    pdf.ln(1.0)
    pdf.use(_SANS, "B", 9.0)
    pdf.put(pdf.fit(block.text, _SANS), 4.4)
    pdf.ln(0.6)


def _bullets(pdf: _Document, block: Bullets) -> None:
    pdf.use(_SANS, "", _SIZE)
    for item in block.items:
        if pdf.will_page_break(_LEAD):
            pdf.add_page()
        pdf.cell(5.0, _LEAD, "–")
        pdf.put(pdf.fit(item, _SANS))
        pdf.ln(0.5)
    pdf.ln(1.0)


def _figures(pdf: _Document, block: Figures) -> None:
    """A band of the numbers that matter most."""
    height, top = 18.0, pdf.get_y()
    width = pdf.epw / len(block.items)
    pdf.set_fill_color(*BAND)
    pdf.rect(_MARGIN, top, pdf.epw, height, style="F")
    pdf.set_fill_color(*CLAY)
    pdf.rect(_MARGIN, top, 1.2, height, style="F")
    for index, (name, value, remark) in enumerate(block.items):
        left = _MARGIN + 4.0 + index * width
        for text, y, style, size, colour in (
            (name, 2.2, "", 7.2, SOFT),
            (value, 6.2, "B", 13.0, INK),
            (remark, 12.4, "", 7.2, SOFT),
        ):
            pdf.set_xy(left, top + y)
            pdf.use(_SANS, style, size, colour)
            pdf.cell(width - 5.0, 4.6, _cut(pdf, pdf.fit(text, _SANS), width - 5.0))
    pdf.set_xy(_MARGIN, top + height + 3.5)


def _facts(pdf: _Document, block: Facts) -> None:
    if not block.rows:
        return
    if len(block.rows) <= _FEW and pdf.will_page_break(_least(pdf, block)):
        pdf.add_page()
    pdf.use(_SANS, "", _SIZE)
    every = [(pdf.fit(name, _SANS), pdf.fit(value, _SANS)) for name, value in block.rows]
    for run in _runs(pdf, every):
        rows: list[tuple[str, ...]] = list(run)
        widths: tuple[float, ...] = (0.26 * pdf.epw, 0.74 * pdf.epw)
        if len(rows) > 1 and (half := _half(pdf, rows)):
            widths = (*half, *half)
            pairs = zip_longest(rows[::2], rows[1::2], fillvalue=("", ""))
            rows = [(*row, *after) for row, after in pairs]
        grid = _Grid(widths, (False,) * len(widths), _SIZE, _LEAD)
        _rows(pdf, grid, None, [_Row(cells=row, colours=(SOFT, INK) * 2) for row in rows])
    pdf.ln(1.3)


def _runs(pdf: _Document, rows: Sequence[tuple[str, str]]) -> list[list[tuple[str, str]]]:
    """Rows in their order, together those that can share a line, two and two."""
    runs: list[list[tuple[str, str]]] = []
    for row in rows:
        if runs and _half(pdf, [*runs[-1], row]):
            runs[-1].append(row)
        else:
            runs.append([row])
    return runs


def _half(pdf: _Document, rows: Sequence[tuple[str, ...]]) -> tuple[float, float] | None:
    """Widths of name and value in half of the page; None where a row would not fit on one line."""
    if any("\n" in cell for row in rows for cell in row):
        return None
    name, value = (max(map(pdf.measure, cells)) + 2 * _PAD for cells in zip(*rows, strict=True))
    spare = 0.5 * pdf.epw - name - value
    return (name + 0.5 * spare, value + 0.5 * spare) if spare >= 0.0 else None


def _table(pdf: _Document, block: Table) -> None:
    if pdf.will_page_break(_least(pdf, block)):
        pdf.add_page()
    pdf.use(_SANS, "", 7.2, SOFT)
    pdf.put(pdf.fit(block.caption, _SANS), 3.6)
    pdf.ln(0.8)
    if _is_across(block):
        _across(pdf, block)
        return
    shares = [column.width for column in block.columns]
    # A table of few narrow columns would be hard to read along if it were stretched.
    whole = pdf.epw * min(1.0, 0.17 * sum(shares))
    grid = _Grid(
        tuple(whole * share / sum(shares) for share in shares),
        tuple(column.number for column in block.columns),
        6.8,
        3.0,
    )
    heading = _Row(
        tuple(f"{c.head}\n{c.unit}" if c.unit else c.head for c in block.columns), bold=True
    )
    marks = block.marks or ("",) * len(block.rows)
    rows = [
        _Row(tuple(pdf.fit(cell, _SANS) for cell in cells), bold=bool(mark))
        for cells, mark in zip(block.rows, marks, strict=True)
    ]
    _rows(pdf, grid, heading, rows)
    pdf.ln(2.3)


def _is_across(block: Table) -> bool:
    """Whether a table of numbers is so short and narrow that it is laid on its side."""
    few = len(block.columns) <= _FEW < len(block.rows) <= _ACROSS
    return few and all(column.number for column in block.columns)


def _across(pdf: _Document, block: Table) -> None:
    """A short table of few columns of numbers, laid on its side."""
    first = 0.17 * pdf.epw
    rest = (pdf.epw - first) / len(block.rows)
    grid = _Grid((first, *[rest] * len(block.rows)), (False, *[True] * len(block.rows)), 6.8, 3.0)
    rows = [
        _Row((f"{column.head} {column.unit}".rstrip(), *cells))
        for column, cells in zip(block.columns, zip(*block.rows, strict=True), strict=True)
    ]
    _rows(pdf, grid, _Row(rows[0].cells, bold=True), rows[1:])
    pdf.ln(2.3)


@dataclass(frozen=True, slots=True)
class _Grid:
    """Columns of a table: widths [mm], whether they hold numbers, size [pt] and lead [mm]."""

    widths: tuple[float, ...]
    numbers: tuple[bool, ...]
    size: float
    lead: float
    ruled: bool = True


@dataclass(frozen=True, slots=True)
class _Row:
    """Cells of a row, and how they are written."""

    cells: tuple[str, ...]
    bold: bool = False
    colours: tuple[Colour, ...] = ()


def _rows(pdf: _Document, grid: _Grid, heading: _Row | None, rows: Sequence[_Row]) -> None:
    """Write rows; a row stays on one page where it can, headings stand on every page."""
    begun = False
    # A row longer than a page is cut into pieces that fit.
    most = max(int((pdf.eph - 20.0) / grid.lead), 1)
    for row in rows:
        broken = _broken(pdf, grid, row)
        while broken:
            piece = [lines[:most] for lines in broken]
            broken = [lines[most:] for lines in broken]
            if not any(broken):
                broken = []
            if pdf.will_page_break(max(map(len, piece)) * grid.lead + 2 * _PAD):
                pdf.add_page()
                begun = False
            if not begun and heading is not None:
                _one_row(pdf, grid, _broken(pdf, grid, heading), heading, band=True)
            elif not begun and grid.ruled:
                pdf.rule(LINE, 0.2, sum(grid.widths))
            begun = True
            _one_row(pdf, grid, piece, row)


def _broken(pdf: _Document, grid: _Grid, row: _Row) -> list[list[str]]:
    """Lines of every cell."""
    pdf.use(_SANS, "B" if row.bold else "", grid.size)
    return [
        pdf.lines(cell, width - 2 * _PAD)
        for cell, width in zip(row.cells, grid.widths, strict=True)
    ]


def _one_row(
    pdf: _Document, grid: _Grid, broken: Sequence[Sequence[str]], row: _Row, *, band: bool = False
) -> None:
    top = pdf.get_y()
    height = max(map(len, broken)) * grid.lead + 2 * _PAD
    if band:
        pdf.set_fill_color(*BAND)
        pdf.rect(_MARGIN, top, sum(grid.widths), height, style="F")
    left = _MARGIN
    for index, (lines, width) in enumerate(zip(broken, grid.widths, strict=True)):
        colour = row.colours[index] if row.colours else INK
        pdf.use(_SANS, "B" if row.bold else "", grid.size, colour)
        align = "R" if grid.numbers[index] else "L"
        for number, line in enumerate(lines):
            pdf.set_xy(left + (_PAD if band or index else 0.0), top + _PAD + number * grid.lead)
            pdf.cell(width - 2 * _PAD, grid.lead, line, align=align)
        left += width
    pdf.set_xy(_MARGIN, top + height)
    if grid.ruled:
        pdf.rule(LINE, 0.2, sum(grid.widths))


def _dots(block: Picture) -> tuple[int, int]:
    """Width and height of a picture in dots, of the PNG's header."""
    wide, high = struct.unpack(">II", block.png[16:24])
    return wide, high


def _size(pdf: _Document, block: Picture) -> tuple[float, float]:
    """Width and height of a picture on the page [mm]."""
    wide, high = _dots(block)
    width = pdf.epw
    height = width * high / wide
    if height > _PICTURE_HEIGHT:
        width, height = width * _PICTURE_HEIGHT / height, _PICTURE_HEIGHT
    return width, height


def _image(
    pdf: _Document, block: Picture, x: float, y: float | None, size: tuple[float, float]
) -> None:
    # Lettering of a vector drawing is set in the document's own font, which has all signs.
    svg = _FAMILY.sub(f'font-family="{_SANS}"', _WORDS.sub("", pdf.fit(block.svg, _SANS)))
    if block.png:
        _take_as_it_is(pdf, block)
    pdf.image(
        BytesIO(block.png or svg.encode("utf-8")),
        alt_text=pdf.fit(block.text, _SANS),
        resource_access_policy=ResourceAccessPolicy.NONE,
        title=block.title,
        x=x,
        y=y,
        w=size[0],
        h=size[1],
    )


def _take_as_it_is(pdf: _Document, block: Picture) -> None:
    """Put the packed dots of a PNG in RGB among the pictures of a document, as they are.

    PNG and PDF pack alike (ISO 32000-1, 7.4.4.4: predictors 10 to 15 are those of PNG). The library
    knows a picture by the digest of its bytes; one that it does not know it unpacks, copies five
    times and packs again, for which it takes some 25 MB.
    """
    wide, high = _dots(block)
    packed, at = bytearray(), 8  # behind the PNG's signature
    while at < len(block.png):
        length, kind = struct.unpack(">I4s", block.png[at : at + 8])
        if kind == b"IDAT":
            packed += block.png[at + 8 : at + 8 + length]
        at += length + 12  # with length, kind and sum
    images = pdf.image_cache.images
    known = hashlib.md5(block.png, usedforsecurity=False).hexdigest()
    images[known] = RasterImageInfo(
        i=len(images) + 1, usages=0, data=bytes(packed), w=wide, h=high, cs="DeviceRGB", dpn=3,
        bpc=8, f="FlateDecode", dp=f"/Predictor 15 /Colors 3 /Columns {wide}", inverted=False,
        iccp=None, iccp_i=None,
    )  # fmt: skip


def _sheet(pdf: _Document, block: Picture) -> None:
    """A vector drawing on a sheet of its own, at the size, and so the scale, of its view box."""
    view = _VIEW.search(block.svg)
    assert view is not None, "a vector drawing of ours has a view box"
    width, height = float(view[1]), float(view[2])
    pdf.sheets.add(pdf.page_no() + 1)
    pdf.add_page(format=(width, height))
    pdf.use(_SANS, "", _SIZE)
    _image(pdf, block, 0.0, 0.0, (width, height))


def _go_together(pdf: _Document, block: Block, after: Block | None) -> bool:
    """Whether two pictures have room side by side."""
    if not (isinstance(block, Picture) and isinstance(after, Picture) and block.png and after.png):
        return False
    return _shrunk(pdf, block, after) >= _SHRINK


def _shrunk(pdf: _Document, *pictures: Picture) -> float:
    """How small pictures get that stand side by side."""
    return min(1.0, (pdf.epw - _GUTTER) / sum(_size(pdf, each)[0] for each in pictures))


def _pair(pdf: _Document, *pictures: Picture) -> None:
    """Pictures side by side, each with its title under it."""
    part = _shrunk(pdf, *pictures)
    sizes = [(part * width, part * height) for width, height in (_size(pdf, p) for p in pictures)]
    high = max(height for _, height in sizes)
    if pdf.will_page_break(high + 12.0):
        pdf.add_page()
    top, left, below = pdf.get_y(), _MARGIN, 0.0
    for each, (width, height) in zip(pictures, sizes, strict=True):
        pdf.use(_SANS, "", _SIZE)
        _image(pdf, each, left, top + 0.5 * (high - height), (width, height))
        pdf.use(_SANS, "", 7.2, SOFT)
        pdf.set_xy(left, top + high + 1.0)
        pdf.put(f"{each.title}.", 3.6, width)
        left, below = left + width + _GUTTER, max(below, pdf.get_y())
    pdf.set_xy(_MARGIN, below + 3.5)


def _picture(pdf: _Document, block: Picture) -> None:
    if block.svg:
        pdf.drawings.append(block)
        _paragraph(
            pdf, Paragraph(f"{block.title}: on a sheet of its own, behind the text.", soft=True)
        )
        return
    width, height = _size(pdf, block)
    room = pdf.page_break_trigger - pdf.get_y() - 8.0
    if height > room >= _SHRINK * height:
        width, height = width * room / height, room
    elif height > room:
        pdf.add_page()
    pdf.use(_SANS, "", _SIZE)
    _image(pdf, block, _MARGIN + 0.5 * (pdf.epw - width), None, (width, height))
    pdf.ln(1.0)
    pdf.use(_SANS, "", 7.2, SOFT)
    pdf.put(f"{block.title}.", 3.6)
    pdf.ln(2.5)


def _findings(pdf: _Document, block: Findings) -> None:
    for item in block.items:
        grave = item.severity != "info"
        if pdf.will_page_break(11.0):
            pdf.add_page()
        pdf.use(_SANS, "B", 7.8, CLAY if grave else SOFT)
        pdf.cell(18.0, _LEAD, f"{'▲' if grave else '·'} {SEVERITIES[item.severity]}")
        pdf.use(_SANS, "", _SIZE)
        where = f" Concerns {item.where}." if item.where else ""
        pdf.put(pdf.fit(f"{item.message}{where} {item.source}", _SANS))
        pdf.ln(1.0)
    pdf.ln(0.8)


def _box(pdf: _Document, block: Cautions) -> tuple[list[list[str]], float]:
    """Lines of every caution, and the height of the box [mm]."""
    pdf.use(_SANS, "", _SIZE)
    texts = [pdf.lines(pdf.fit(item, _SANS), pdf.epw - 12.0) for item in block.items]
    return texts, sum(len(lines) * _LEAD + 0.7 for lines in texts) + 11.0


def _cautions(pdf: _Document, block: Cautions) -> None:
    """Boxed, so that nobody misses them; what does not fit goes into a box on the next page."""
    texts, total = _box(pdf, block)
    if pdf.will_page_break(min(total, _LEAST_BOX)):
        pdf.add_page()
    title = "▲ Cautions"
    while texts:
        start = pdf.get_y()
        pdf.set_y(start + 2.5)
        pdf.use(_SANS, "B", 9.0, CLAY)
        pdf.set_x(_MARGIN + 6.0)
        pdf.cell(0, 5.0, title, new_x="LMARGIN", new_y="NEXT")
        pdf.use(_SANS, "", _SIZE)
        first = True
        while texts and (first or not pdf.will_page_break(len(texts[0]) * _LEAD + 2.4)):
            for line in texts.pop(0):
                pdf.set_x(_MARGIN + 6.0)
                pdf.cell(0, _LEAD, line, new_x="LMARGIN", new_y="NEXT")
            pdf.ln(0.7)
            first = False
        pdf.set_draw_color(*CLAY)
        pdf.set_line_width(0.5)
        pdf.rect(_MARGIN, start, pdf.epw, pdf.get_y() - start + 1.0)
        if texts:
            title = "▲ Cautions, continued"
            pdf.add_page()
    pdf.ln(3.0)


_WRITERS: Final[dict[str, Callable[[_Document, Any], None]]] = {
    "paragraph": _paragraph,
    "bullets": _bullets,
    "subheading": _subheading,
    "facts": _facts,
    "table": _table,
    "picture": _picture,
    "findings": _findings,
    "cautions": _cautions,
    "figures": _figures,
}
