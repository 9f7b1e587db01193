"""The design report: blocks of content made once, then written as a page or as a PDF."""

from __future__ import annotations

from typing import Final

from api.plots import PICTURES

TYPES: Final = ("application/json", "text/html", "application/pdf")
"""Media types of the report."""

REPORT_PICTURES: Final = (*PICTURES, "pumps", "plan")
"""Pictures that a report may hold: those of the flow split, and those of its chapters."""
