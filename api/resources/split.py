"""POST /v1/split: does every loop flow alike, what does each drop, what must the pump do?"""

from __future__ import annotations

import time
from typing import Final

from flask import Blueprint, Response

from api.answers.csv_table import loops_table
from api.answers.parts import Object
from api.answers.split import loops_of
from api.calculations.asked import Asked, answer_of, computing
from api.media_types import PICTURES, PNG, SVG
from api.resources.asked import asked, refuse_what_cannot_be_drawn
from api.service.metrics import count_solve
from api.service.problems import ProblemError
from api.service.replies import reply, reply_csv, reply_picture
from api.service.request_log import tell
from hydraulics.split.result import FlowSplit

blueprint: Final = Blueprint("split", __name__)

_FORMS: Final = {"svg": SVG, "png": PNG}


def solved(job: Asked) -> FlowSplit:
    """Solve the array of a job, and count it."""
    began = time.perf_counter()
    with computing(job):
        result = job.chapters.split
    seconds = time.perf_counter() - began
    count_solve(seconds, result.residuals.iterations, len(result.loops.names))
    return result


def split_answer(job: Asked) -> Object:
    """Answer of a job that was read for its split, counted."""
    solved(job)
    return answer_of(job)


@blueprint.post("/v1/split")
def post_split() -> Response:
    """Solve an array."""
    job = asked("split")
    answer = split_answer(job)
    result = job.chapters.split
    tell(loops=len(result.loops.names), iterations=result.residuals.iterations)
    return reply(answer)


@blueprint.post("/v1/split.csv")
def post_split_csv() -> Response:
    """Solve an array; the table of its loops."""
    job = asked("split")
    return reply_csv(loops_table(loops_of(solved(job), job.root)), "loops.csv")


@blueprint.post("/v1/split/<picture>.<form>")
def post_split_picture(picture: str, form: str) -> Response:
    """Solve an array; a picture of it."""
    if picture not in PICTURES or form not in _FORMS:
        choices = ", ".join(PICTURES)
        raise ProblemError(
            "not-found",
            f"There is no such picture; the pictures are {choices}, each as .svg or .png.",
        )
    drawn, text = picture_of_job(asked("split"), picture, _FORMS[form])
    return reply_picture(drawn, _FORMS[form], text)


def picture_of_job(job: Asked, picture: str, media: str) -> tuple[bytes, str]:
    """A picture of a job's split in a media type, and its text."""
    refuse_what_cannot_be_drawn(job.chapters.circuit)
    result = solved(job)
    # Loaded when first asked for: the drawing library takes longer to load than all the rest.
    from api.drawings.of_split import SplitDrawn, picture_of_split  # noqa: PLC0415

    chapters = job.chapters
    split = SplitDrawn(picture, result, chapters.circuit, chapters.duty, job.title)
    return picture_of_split(split, media)
