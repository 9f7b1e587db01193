"""Options of the steps that a design report and a whole job can ask for, beside the array."""

from __future__ import annotations

from typing import Any, Final, cast

from api.schemas.balancing import BalancingRequestSchema
from api.schemas.commissioning import CommissioningRequestSchema
from api.schemas.flow_split import FlowSplitRequestSchema
from api.schemas.groundworks import GroundworksRequestSchema
from api.schemas.objects import StrictSchema
from api.schemas.pump_selection import PumpSelectionRequestSchema


def _chapter(name: str, what: str, request: type[StrictSchema]) -> type[StrictSchema]:
    """Fields of a request beyond those of the flow split, as a schema of its own."""
    own = {
        field: declared
        for field, declared in request._declared_fields.items()
        if field not in FlowSplitRequestSchema._declared_fields
    }
    body: dict[str, Any] = {"__doc__": what, "__module__": __name__, **own}
    return cast(type[StrictSchema], type(name, (StrictSchema,), body))


BalancingChapterSchema: Final = _chapter(
    "BalancingChapterSchema",
    "Options of the chapter on balancing, as POST /v1/balancing takes them beside the array.",
    BalancingRequestSchema,
)
PumpChapterSchema: Final = _chapter(
    "PumpChapterSchema",
    "Options of the chapter on pumps, as POST /v1/pump-selection takes them beside the array.",
    PumpSelectionRequestSchema,
)
GroundworksChapterSchema: Final = _chapter(
    "GroundworksChapterSchema",
    "Options of the chapter on digging, as POST /v1/groundworks takes them beside the array.",
    GroundworksRequestSchema,
)
CommissioningChapterSchema: Final = _chapter(
    "CommissioningChapterSchema",
    "Options of the commissioning sheet, as POST /v1/commissioning takes them beside the array.",
    CommissioningRequestSchema,
)
