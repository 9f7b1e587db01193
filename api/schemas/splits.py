"""Request and answer of POST /v1/splits: many jobs in one call."""

from __future__ import annotations

from typing import Final

from api.refusals import BROKEN, MISSING, Json, Place, Refusal
from api.schemas.fields import Checked, Integer, Refusals, said
from api.schemas.job import JobSchema, no_job
from api.schemas.objects import ListOf, Nested, StrictSchema
from api.schemas.problem import ProblemSchema
from api.schemas.split_answer import SplitAnswerSchema

MOST_JOBS: Final = 10_000


class UnreadJob(Nested):
    """A job that is read by itself later, so that its faults are its own."""

    def check(self, value: Json, place: Place, refusals: Refusals) -> Json:
        """Accept whatever is given."""
        del place, refusals
        return value


class ProblemField(Checked):
    """A problem; only ever sent."""

    schema: Final = ProblemSchema


class SplitsSchema(StrictSchema):
    """Jobs whose arrays are solved in one call."""

    jobs = ListOf(
        UnreadJob(lambda: JobSchema),
        required=True,
        shortest=1,
        longest=MOST_JOBS,
        metadata=said(
            "Jobs as POST /v1/split takes them, up to the service's EVENLOOP_MAX_BATCH (300 unless "
            "set)."
        ),
    )

    def check(self, value: Json, place: Place, refusals: Refusals) -> Json:
        """Read the jobs; what is a job, or an answer, is refused as such."""
        told = ""
        if type(value) is dict and "jobs" not in value:
            told = no_job(value)
            if "array" in value and not told:
                told = 'This is one job: post {"jobs": [it]}, or the job alone to /v1/split.'
        if told:
            refusals.append(Refusal(place, told, MISSING, "jobs"))
            return BROKEN
        return super().check(value, place, refusals)


class SplitsItemSchema(StrictSchema):
    """What came of one job: its split or its problem, never both."""

    status = Integer(
        required=True,
        minimum=200,
        maximum=599,
        metadata=said("HTTP status that the job alone would have been answered with.", 200),
    )
    split = Nested(lambda: SplitAnswerSchema, metadata=said("Where the status is 200."))
    problem = ProblemField(
        metadata=said("The problem otherwise; its pointers lead into the job at the same place.")
    )


class SplitsAnswerSchema(StrictSchema):
    """What came of each job, in their order."""

    answers = ListOf(
        Nested(lambda: SplitsItemSchema),
        required=True,
        shortest=1,
        longest=MOST_JOBS,
        metadata=said("One for each job, in the same order."),
    )
    solved = Integer(required=True, minimum=0, metadata=said("How many have a split.", 2))
    refused = Integer(required=True, minimum=0, metadata=said("How many have a problem.", 0))
