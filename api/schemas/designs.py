"""Request and response of POST /v1/designs."""

from __future__ import annotations

from api.schemas.array import CircuitSchema, said
from api.schemas.array_sizing import SizingInputSchema
from api.schemas.array_sizing_answer import ArraySizingResponseSchema
from api.schemas.balancing import BalancingResponseSchema
from api.schemas.chapters import (
    BalancingChapterSchema,
    CommissioningChapterSchema,
    GroundworksChapterSchema,
    PumpChapterSchema,
)
from api.schemas.commissioning import CommissioningResponseSchema
from api.schemas.common import findings_list, name_as_given
from api.schemas.flow_split import FlowSplitRequestSchema, FlowSplitResponseSchema, duty_of
from api.schemas.groundworks import GroundworksResponseSchema
from api.schemas.objects import Nested, StrictSchema
from api.schemas.pump_selection import PumpSelectionResponseSchema


class DesignsRequestSchema(FlowSplitRequestSchema):
    """A whole job: an array to be sized, or one given with its duty, and the steps asked for.

    A step whose options are not named is not taken; {} takes the usual options where all are
    optional. The flow split is always solved.
    """

    sizing = Nested(
        lambda: SizingInputSchema,
        metadata=said("As POST /v1/array-sizing takes it; instead of array and duty."),
    )
    array = Nested(
        lambda: CircuitSchema, metadata=said("What is buried; with duty, instead of sizing.")
    )
    duty = duty_of("What sets the flow; with array, instead of sizing.")
    balancing = Nested(
        lambda: BalancingChapterSchema,
        metadata=said(
            "Compares the ways to balance where some loop is out of tolerance, or where the target "
            "is another than even flow."
        ),
    )
    pump_selection = Nested(lambda: PumpChapterSchema, metadata=said("Judges pumps on the array."))
    groundworks = Nested(
        lambda: GroundworksChapterSchema,
        metadata=said(
            "Counts the digging. Centres, border and plot that it does not name are those of the "
            "sizing's site, or the spacing of its boreholes."
        ),
    )
    commissioning = Nested(
        lambda: CommissioningChapterSchema,
        metadata=said("Plans filling, purging, testing and proving."),
    )


class DesignsResponseSchema(StrictSchema):
    """Each step as its own address answers it.

    `/array` in a step's pointers is the request's, or, where it was sized, the array of
    `array_sizing.flow_split_request`.
    """

    name = name_as_given()
    array_sizing = Nested(
        lambda: ArraySizingResponseSchema, metadata=said("Absent where the array was given.")
    )
    flow_split = Nested(
        lambda: FlowSplitResponseSchema, required=True, metadata=said("The main job.")
    )
    balancing = Nested(
        lambda: BalancingResponseSchema,
        metadata=said("Absent where not asked for, or not needed, as a finding then says."),
    )
    pump_selection = Nested(
        lambda: PumpSelectionResponseSchema, metadata=said("Absent where not asked for.")
    )
    groundworks = Nested(
        lambda: GroundworksResponseSchema, metadata=said("Absent where not asked for.")
    )
    commissioning = Nested(
        lambda: CommissioningResponseSchema, metadata=said("Absent where not asked for.")
    )
    findings = findings_list(100, "About the chain; each step has its own.")
