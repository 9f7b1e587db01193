"""Request and response of POST /v1/flow-splits."""

from __future__ import annotations

from typing import Final

from api.refusals import Json, Place
from api.schemas.array import said
from api.schemas.fields import Checked, Integer, Refusals
from api.schemas.flow_split import FlowSplitRequestSchema, FlowSplitResponseSchema
from api.schemas.objects import ListOf, Nested, StrictSchema
from api.schemas.problem import ProblemSchema

MOST_REQUESTS: Final = 10_000


class UnreadRequest(Nested):
    """A request that is read by itself later, so that its faults are its own."""

    def check(self, value: Json, place: Place, refusals: Refusals) -> Json:
        """Accept whatever is given."""
        del place, refusals
        return value


class ProblemField(Checked):
    """A problem; only ever sent."""

    schema: Final = ProblemSchema


class FlowSplitsRequestSchema(StrictSchema):
    """Arrays to solve in one call."""

    requests = ListOf(
        UnreadRequest(lambda: FlowSplitRequestSchema),
        required=True,
        shortest=1,
        longest=MOST_REQUESTS,
        metadata=said(
            "Requests as POST /v1/flow-split takes them, up to the service's EVENLOOP_MAX_BATCH "
            "(300 unless set)."
        ),
    )


class FlowSplitsItemSchema(StrictSchema):
    """What came of one request: its answer or its problem, never both."""

    status = Integer(
        required=True,
        minimum=200,
        maximum=599,
        metadata=said("HTTP status that the request alone would have been answered with.", 200),
    )
    answer = Nested(
        lambda: FlowSplitResponseSchema, metadata=said("The answer, where the status is 200.")
    )
    problem = ProblemField(
        metadata=said(
            "The problem otherwise; its pointers lead into the request at the same place."
        )
    )


class FlowSplitsResponseSchema(StrictSchema):
    """What came of each request, in their order."""

    results = ListOf(
        Nested(lambda: FlowSplitsItemSchema),
        required=True,
        shortest=1,
        longest=MOST_REQUESTS,
        metadata=said("One for each request, in the same order."),
    )
    solved = Integer(required=True, minimum=0, metadata=said("How many have an answer.", 2))
    refused = Integer(required=True, minimum=0, metadata=said("How many have a problem.", 0))
