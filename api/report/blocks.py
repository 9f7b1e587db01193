"""What a document is made of, whatever it is written as."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Final, Literal

SEVERITIES: Final = {"error": "Error", "warning": "Warning", "info": "Remark"}
"""How grave a finding is, in words, the gravest first."""

Mark = Literal["", "low", "high", "error", "warning", "info", "strong"]
"""How a row stands out: by a mark in words and weight, never by colour alone."""


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Plain text; ``soft`` for remarks."""

    kind: ClassVar[str] = "paragraph"
    text: str
    soft: bool = False


@dataclass(frozen=True, slots=True)
class Bullets:
    """Short texts below each other."""

    kind: ClassVar[str] = "bullets"
    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Subheading:
    """Heading within a section."""

    kind: ClassVar[str] = "subheading"
    text: str


@dataclass(frozen=True, slots=True)
class Facts:
    """Names and values, in order."""

    kind: ClassVar[str] = "facts"
    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Column:
    """A column: heading, unit (may be empty), share of the width, whether it holds numbers."""

    head: str
    unit: str = ""
    width: float = 1.0
    number: bool = True


@dataclass(frozen=True, slots=True)
class Table:
    """A table with its caption; ``marks`` has one mark a row, or is empty."""

    kind: ClassVar[str] = "table"
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    marks: tuple[Mark, ...] = ()


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing with its text alternative; drawn as SVG for pages and PNG for print."""

    kind: ClassVar[str] = "picture"
    name: str
    title: str
    text: str
    svg: str = ""
    png: bytes = b""


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding: severity as a word, where, what, by which criterion."""

    severity: str
    where: str
    message: str
    source: str


@dataclass(frozen=True, slots=True)
class Findings:
    """Findings, gravest first."""

    kind: ClassVar[str] = "findings"
    items: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Cautions:
    """What can hurt someone."""

    kind: ClassVar[str] = "cautions"
    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Figures:
    """A few numbers that matter most: name, value with unit, remark."""

    kind: ClassVar[str] = "figures"
    items: tuple[tuple[str, str, str], ...]


Block = Paragraph | Bullets | Subheading | Facts | Table | Picture | Findings | Cautions | Figures


@dataclass(frozen=True, slots=True)
class Section:
    """A numbered chapter."""

    anchor: str
    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Report:
    """A whole document.

    Attributes
    ----------
    title, kicker
        Title, and the line above it that says what kind of document it is.
    author
        Who prepared it, as the caller says; may be empty.
    header
        Names and values under the title: client, date, reference.
    verdict, even
        One sentence; whether it is a good one (None where there is nothing to judge).
    opening
        Blocks before the first section.
    sections
        Chapters.
    version
        Of the service.
    """

    title: str
    kicker: str
    author: str
    header: tuple[tuple[str, str], ...]
    verdict: str
    even: bool | None
    opening: tuple[Block, ...]
    sections: tuple[Section, ...]
    version: str
