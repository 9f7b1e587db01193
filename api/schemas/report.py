"""What stands at the head of a design report, in a request."""

from __future__ import annotations

from api.schemas.fields import Day, Text, said
from api.schemas.objects import ListOf, StrictSchema


class ReportOptionsSchema(StrictSchema):
    """Who wrote the report for whom, and notes; nothing of it is made up where it is left out."""

    title = Text(
        longest=200,
        metadata=said("Title; left out, the job's name.", "Quince Barn, ground array (invented)"),
    )
    prepared_for = Text(longest=200, metadata=said("Client.", "Owner of Quince Barn (invented)"))
    prepared_by = Text(longest=200, metadata=said("Author.", "A. Designer (invented)"))
    checked_by = Text(longest=200, metadata=said("Who checked it.", "B. Checker (invented)"))
    approved_by = Text(longest=200, metadata=said("Who approved it.", "C. Approver (invented)"))
    revision = Text(longest=40, metadata=said("Revision of the document.", "B"))
    date = Day(metadata=said("Date of the document; the service adds none.", "2026-03-14"))
    notes = ListOf(
        Text(longest=2_000),
        longest=50,
        metadata=said("Paragraphs in the author's own words.", ["Tails measured on site."]),
    )
