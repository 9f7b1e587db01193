"""A report as one HTML page that needs nothing else: style and pictures stand within it."""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from pathlib import Path

from flask import render_template

from api.report.blocks import SEVERITIES, Report


@cache
def _style() -> str:
    file = Path(__file__).parent.parent / "pages" / "assets" / "report.css"
    return file.read_text("utf-8")


@cache
def policy() -> str:
    """Content-Security-Policy of the page: its own style by its hash, and nothing else at all."""
    digest = hashlib.sha256(_style().encode("utf-8")).digest()
    return (
        f"default-src 'none'; style-src 'sha256-{base64.b64encode(digest).decode('ascii')}'; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    )


def page_of(report: Report) -> str:
    """Write a report as a page.

    Parameters
    ----------
    report
        The report; its pictures are SVG that may stand within a page.

    Returns
    -------
    str
        The page. It holds no script, and everything that a caller wrote is escaped.
    """
    text = render_template("report.html", report=report, style=_style(), severities=SEVERITIES)
    return text.lstrip()
