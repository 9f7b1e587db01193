"""The job that was posted, and the answer to it as a response."""

from __future__ import annotations

from flask import Response

from api.calculations.asked import Asked, answer_of, asked_of
from api.refusals import Refusal, RefusedError
from api.service.replies import read_document, reply, settings
from api.service.request_log import tell
from hydraulics.layout.circuit import Circuit
from hydraulics.layout.walk import loop_count


def asked(calculation: str) -> Asked:
    """Read the job that was posted."""
    job = asked_of(read_document(), calculation, settings())
    if "reference" in job.document:
        tell(reference=job.document["reference"])
    return job


def answered(calculation: str) -> Response:
    """The answer to the job that was posted, as JSON."""
    return reply(answer_of(asked(calculation)))


def refuse_what_cannot_be_drawn(circuit: Circuit) -> None:
    """Refuse arrays of more loops than a picture can show."""
    count, most = loop_count(circuit), settings().max_picture_loops
    if count > most:
        detail = (
            f"The array has {count:,} loops; a picture shows up to {most:,} (the setting "
            "EVENLOOP_MAX_PICTURE_LOOPS). Ask for the numbers instead, or draw a part of it."
        )
        raise RefusedError([Refusal(("array",), detail, allowed=f"{most:,} loops or fewer")])
