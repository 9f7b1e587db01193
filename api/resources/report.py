"""POST /v1/report: one document to hand over, as data, as a page or as PDF."""

from __future__ import annotations

from typing import Any, Final, Literal

from flask import Blueprint, Response

from api.answers.parts import Object
from api.answers.report import report_of
from api.calculations.asked import Asked, computing, refuse_what_no_job_holds
from api.resources.asked import asked
from api.service.calls import count_calculations
from api.service.memory import give_back_circles
from api.service.replies import reply, reply_file, settings
from hydraulics.layout.walk import loop_count

blueprint: Final = Blueprint("report", __name__)


@blueprint.post("/v1/report")
def post_report() -> Response:
    """Write the document as data."""
    answer, _ = _written(asked("report"), "words")
    return reply(answer)


@blueprint.post("/v1/report.html")
def post_report_html() -> Response:
    """Write the document as a page."""
    from api.report.contents import document_of  # noqa: PLC0415 (loads the drawing library)
    from api.report.page import page_of, policy  # noqa: PLC0415

    page = page_of(document_of(*_written(asked("report"), "svg")))
    headers = {"Cache-Control": "no-store", "Content-Security-Policy": policy()}
    return Response(page, content_type="text/html; charset=utf-8", headers=headers)


@blueprint.post("/v1/report.pdf")
def post_report_pdf() -> Response:
    """Write the document for print."""
    pdf = pdf_of_job(asked("report"))
    return reply_file(pdf, "application/pdf", "report.pdf")


def pdf_of_job(job: Asked) -> bytes:
    """The document of a job for print."""
    from api.report.contents import document_of  # noqa: PLC0415 (loads the drawing library)
    from api.report.pdf import pdf_of  # noqa: PLC0415

    pdf = pdf_of(document_of(*_written(job, "png")))
    give_back_circles()
    return pdf


def _written(job: Asked, form: Literal["words", "svg", "png"]) -> tuple[Object, dict[str, Any]]:
    """The document as data, and its pictures in the form asked for."""
    # Loaded when first asked for: the drawing library takes longer to load than all the rest.
    from api.report.drawn import drawings_of  # noqa: PLC0415

    chapters = job.chapters
    with computing(job):
        drawn = None
        if loop_count(chapters.circuit) <= settings().max_picture_loops:
            drawn = drawings_of(chapters, title=job.title, form=form)
        told = None
        if drawn is not None:
            told = [{"picture": p.name, "title": p.title, "text": p.text} for p in drawn.values()]
        answer = report_of(chapters, job.document, told)
        refuse_what_no_job_holds(job)
    asked_for = ("sizing", "balancing", "pump_choice", "groundworks", "commissioning")
    count_calculations(sum(name in answer for name in asked_for))
    return answer, drawn or {}
