"""Request and response of POST /v1/design-report."""

from __future__ import annotations

from typing import Final

from api.media_types import REPORT_PICTURES
from api.schemas.array import said
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
from api.schemas.common import MOST_ROWS, cautions_list, loop_pointer, service_version
from api.schemas.fields import Choice, Flag, Number, Text
from api.schemas.flow_split import FlowSplitRequestSchema, FlowSplitResponseSchema
from api.schemas.groundworks import GroundworksResponseSchema
from api.schemas.objects import ListOf, Nested, StrictSchema
from api.schemas.pump_selection import PumpSelectionResponseSchema
from hydraulics.layout.contents import PARTS

VERDICTS: Final = ("even", "uneven", "single_loop", "no_flow")


class DocumentHeaderSchema(StrictSchema):
    """What stands at the head of the document; nothing of it is made up where it is left out."""

    project = Text(
        longest=200,
        metadata=said("Title; left out, the job's name.", "Quince Barn, ground array (invented)"),
    )
    prepared_for = Text(longest=200, metadata=said("Client.", "Owner of Quince Barn (invented)"))
    prepared_by = Text(longest=200, metadata=said("Author.", "A. Designer (invented)"))
    reference = Text(longest=200, metadata=said("Number, revision or the like.", "QB-04, rev. B"))
    date = Text(
        longest=80,
        metadata=said("Date, as it shall be printed; the service adds none.", "2026-03-14"),
    )
    notes = ListOf(
        Text(longest=2_000),
        longest=50,
        metadata=said("Paragraphs in the author's own words.", ["Tails measured on site."]),
    )


class DesignReportRequestSchema(FlowSplitRequestSchema):
    """A request of the flow split, the document's head, and the chapters asked for.

    A chapter that is not named is not there.
    """

    document = Nested(
        lambda: DocumentHeaderSchema, metadata=said("Who, for whom, when, and notes.")
    )
    sizing = Nested(
        lambda: SizingInputSchema,
        metadata=said(
            "Asks for an array to be sized for this load, as POST /v1/array-sizing does, beside "
            "the array of this request."
        ),
    )
    balancing = Nested(
        lambda: BalancingChapterSchema,
        metadata=said("Asks for the ways to balance; {} takes the usual options."),
    )
    pump_selection = Nested(
        lambda: PumpChapterSchema, metadata=said("Asks for pumps to be judged on the array.")
    )
    groundworks = Nested(
        lambda: GroundworksChapterSchema, metadata=said("Asks for the digging to be counted.")
    )
    commissioning = Nested(
        lambda: CommissioningChapterSchema, metadata=said("Asks for the commissioning sheet.")
    )


# ------------------------------------------------------------------------------------- the response


class SummarySchema(StrictSchema):
    """The result in words."""

    verdict = Choice(
        VERDICTS,
        required=True,
        metadata=said(
            "even or uneven by the tolerance; single_loop and no_flow have nothing to compare."
        ),
    )
    headline = Text(required=True, longest=2_000, metadata=said("The verdict in one sentence."))
    sentences = ListOf(
        Text(longest=2_000), required=True, longest=20, metadata=said("Split, duty and warnings.")
    )


class PipeUsedSchema(StrictSchema):
    """A pipe of the layout with the sizes that were used."""

    part = Choice(PARTS, required=True, metadata=said("Where it lies."))
    pipe = Text(required=True, metadata=said("Its name.", "PE100 SDR11 32"))
    outside_diameter_mm = Number(required=True, metadata=said("Outside diameter."))
    bore_mm = Number(required=True, metadata=said("Inside diameter."))
    roughness_mm = Number(required=True, metadata=said("Roughness of the inside."))
    length_m = Number(required=True, metadata=said("Pipe laid, each parallel pipe counted."))
    contents_l = Number(required=True, metadata=said("Contents of it."))


class CheckedPipeSchema(StrictSchema):
    """A length of pipe with every number of Δp = f (L/d) ρ v²/2."""

    length_m = Number(required=True, metadata=said("L."))
    bore_mm = Number(required=True, metadata=said("d."))
    coil_diameter_m = Number(metadata=said("D of the coil; absent for straight pipe."))
    parallel = Number(required=True, metadata=said("Equal pipes that share the flow."))
    roughness_mm = Number(required=True, metadata=said("Roughness."))
    density_kg_m3 = Number(required=True, metadata=said("ρ."))
    viscosity_mpa_s = Number(required=True, metadata=said("μ."))
    mass_flow_kg_s = Number(required=True, metadata=said("Through all parallel pipes."))
    velocity_m_s = Number(required=True, metadata=said("v."))
    reynolds = Number(required=True, metadata=said("Re = ρ v d / μ."))
    friction_factor = Number(required=True, metadata=said("Darcy's f; 0 where nothing flows."))
    pressure_drop_kpa = Number(required=True, metadata=said("Δp."))


class CheckedFittingsSchema(StrictSchema):
    """Fittings in series with every number of Δp = (K1/Re + K) ρ v²/2."""

    bore_mm = Number(required=True, metadata=said("Bore that v and Re are taken in."))
    parallel = Number(required=True, metadata=said("Equal pipes of that bore."))
    loss_coefficient = Number(required=True, metadata=said("K, the sum of all."))
    low_reynolds_coefficient = Number(required=True, metadata=said("K1, the sum of all."))
    velocity_m_s = Number(required=True, metadata=said("v."))
    reynolds = Number(required=True, metadata=said("Re."))
    density_kg_m3 = Number(required=True, metadata=said("ρ."))
    pressure_drop_kpa = Number(required=True, metadata=said("Δp."))


class HandCheckSchema(StrictSchema):
    """What makes one loop's drop and the pump's head, to be worked out again by hand."""

    loop = Text(required=True, longest=1_000, metadata=said("The loop: the index loop."))
    where = loop_pointer()
    pipes = ListOf(
        Nested(lambda: CheckedPipeSchema),
        required=True,
        longest=MOST_ROWS,
        metadata=said("The loop's pipes."),
    )
    fittings = Nested(
        lambda: CheckedFittingsSchema, required=True, metadata=said("Its own and its port's.")
    )
    loop_kpa = Number(required=True, metadata=said("Drop of the loop: the sum of the above."))
    headers_kpa = Number(required=True, metadata=said("Headers and runs on the way to it."))
    runs = ListOf(
        Nested(lambda: CheckedPipeSchema),
        required=True,
        longest=MOST_ROWS,
        metadata=said("Pipes of the plant's routes, out and back."),
    )
    run_fittings_kpa = Number(required=True, metadata=said("Fittings of the plant."))
    heat_exchanger_kpa = Number(required=True, metadata=said("Heat exchanger."))
    head_kpa = Number(required=True, metadata=said("The pump's: the sum of the five."))


class ReportPictureSchema(StrictSchema):
    """A picture of the document; HTML and PDF show it."""

    picture = Choice(REPORT_PICTURES, required=True, metadata=said("Its name."))
    title = Text(required=True, longest=200, metadata=said("What it shows."))
    text = Text(required=True, longest=4_000, metadata=said("Text alternative."))


class FormulaSchema(StrictSchema):
    """A relation that the numbers can be checked by."""

    subject = Text(required=True, longest=200, metadata=said("What it gives."))
    formula = Text(required=True, longest=1_000, metadata=said("The relation, in signs."))
    words = Text(required=True, longest=1_000, metadata=said("The relation, in words."))
    source = Text(required=True, longest=1_000, metadata=said("Where it comes from."))


class DesignReportResponseSchema(StrictSchema):
    """The whole document as data; HTML and PDF are written from nothing else."""

    title = Text(required=True, longest=200, metadata=said("Title."))
    document = Nested(lambda: DocumentHeaderSchema, metadata=said("As in the request."))
    summary = Nested(lambda: SummarySchema, required=True, metadata=said("The result in words."))
    inputs = Nested(
        lambda: DesignReportRequestSchema,
        required=True,
        metadata=said("The request as it was used, defaults filled in; it can be posted again."),
    )
    pipes = ListOf(
        Nested(lambda: PipeUsedSchema),
        required=True,
        longest=MOST_ROWS,
        metadata=said("Pipes by part, with the sizes that were used."),
    )
    flow_split = Nested(
        lambda: FlowSplitResponseSchema, required=True, metadata=said("As POST /v1/flow-split.")
    )
    hand_check = Nested(
        lambda: HandCheckSchema, required=True, metadata=said("To check one loop by hand.")
    )
    pictures_shown = Flag(
        required=True,
        metadata=said("Whether HTML and PDF hold pictures; false beyond the service's limit."),
    )
    pictures = ListOf(
        Nested(lambda: ReportPictureSchema),
        required=True,
        longest=len(REPORT_PICTURES),
        metadata=said("Pictures in words; empty where none is shown."),
    )
    array_sizing = Nested(lambda: ArraySizingResponseSchema, metadata=said("Where asked for."))
    balancing = Nested(lambda: BalancingResponseSchema, metadata=said("Where asked for."))
    pump_selection = Nested(lambda: PumpSelectionResponseSchema, metadata=said("Where asked for."))
    groundworks = Nested(lambda: GroundworksResponseSchema, metadata=said("Where asked for."))
    commissioning = Nested(lambda: CommissioningResponseSchema, metadata=said("Where asked for."))
    formulas = ListOf(
        Nested(lambda: FormulaSchema),
        required=True,
        longest=50,
        metadata=said("Relations to check by."),
    )
    cautions = cautions_list("Of all chapters, each once: what to mind before anyone acts.")
    version = service_version()
