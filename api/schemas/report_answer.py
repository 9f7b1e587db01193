"""The answer of POST /v1/report."""

from __future__ import annotations

from typing import Final

from api.media_types import REPORT_PICTURES
from api.schemas.balancing_answer import BalancingAnswerSchema
from api.schemas.commissioning_answer import CommissioningAnswerSchema
from api.schemas.common import (
    MOST_ROWS,
    cautions_list,
    findings_list,
    loop_pointer,
    reference_as_given,
    service_version,
)
from api.schemas.fields import Choice, Number, Text, said
from api.schemas.groundworks_answer import GroundworksAnswerSchema
from api.schemas.job import JobSchema
from api.schemas.objects import ListOf, Nested, StrictSchema
from api.schemas.pump_choice_answer import PumpChoiceAnswerSchema
from api.schemas.report import ReportOptionsSchema
from api.schemas.sizing_answer import SizingAnswerSchema
from api.schemas.split_answer import SplitAnswerSchema
from api.schemas.told import named
from hydraulics.layout.contents import PARTS

VERDICTS: Final = ("even", "uneven", "as_asked", "single_loop", "no_flow", "error")


class SummarySchema(StrictSchema):
    """The result in words."""

    verdict = Choice(
        VERDICTS,
        component="ReportVerdict",
        required=True,
        metadata=said(
            "even or uneven by the tolerance; as_asked: within it of another target than even "
            "flow; single_loop and no_flow have nothing to compare; error: a finding of the split "
            "is an error, which is told instead of a verdict."
        ),
    )
    headline = Text(required=True, longest=2_000, metadata=said("The verdict in one sentence."))
    sentences = ListOf(
        Text(longest=2_000), required=True, longest=20, metadata=said("Split, duty and warnings.")
    )


class PipeUsedSchema(StrictSchema):
    """A pipe of the layout with the sizes that were used."""

    part = Choice(PARTS, component="ArrayPart", required=True, metadata=said("Where it lies."))
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
    drop_kpa = Number(required=True, metadata=said("Δp."))


class CheckedFittingsSchema(StrictSchema):
    """Fittings in series with every number of Δp = (K1/Re + K) ρ v²/2."""

    bore_mm = Number(required=True, metadata=said("Bore that v and Re are taken in."))
    parallel = Number(required=True, metadata=said("Equal pipes of that bore."))
    loss_coefficient = Number(required=True, metadata=said("K, the sum of all."))
    low_reynolds_coefficient = Number(required=True, metadata=said("K1, the sum of all."))
    velocity_m_s = Number(required=True, metadata=said("v."))
    reynolds = Number(required=True, metadata=said("Re."))
    density_kg_m3 = Number(required=True, metadata=said("ρ."))
    drop_kpa = Number(required=True, metadata=said("Δp."))


class HandCheckSchema(StrictSchema):
    """What makes one loop's drop and the pump's head, to be worked out again by hand."""

    loop = named("The loop: the index loop.")
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
    loop_drop_kpa = Number(required=True, metadata=said("Drop of the loop: the sum of the above."))
    headers_drop_kpa = Number(
        required=True, metadata=said("Headers and runs to it, with valves and fittings.")
    )
    runs = ListOf(
        Nested(lambda: CheckedPipeSchema),
        required=True,
        longest=MOST_ROWS,
        metadata=said("Pipes of the plant's routes, out and back."),
    )
    fittings_drop_kpa = Number(required=True, metadata=said("Fittings of the plant."))
    heat_exchanger_drop_kpa = Number(required=True, metadata=said("Heat exchanger."))
    head_kpa = Number(required=True, metadata=said("The pump's: the sum of the five."))


class ReportPictureSchema(StrictSchema):
    """A picture of the document; HTML and PDF show it."""

    picture = Choice(
        REPORT_PICTURES, component="ReportPictureName", required=True, metadata=said("Its name.")
    )
    title = Text(required=True, longest=200, metadata=said("What it shows."))
    text = Text(required=True, longest=4_000, metadata=said("Text alternative."))


class FormulaSchema(StrictSchema):
    """A relation that the numbers can be checked by."""

    subject = Text(required=True, longest=200, metadata=said("What it gives."))
    formula = named("The relation, in signs.")
    words = named("The relation, in words.")
    source = named("Where it comes from.")


class ValvePutInSchema(StrictSchema):
    """A regulating valve of the array, as it is to be set."""

    loop = named("Its loop.")
    kv_m3_h = Number(required=True, metadata=said("Kv to set."))
    valve = Text(metadata=said("What it is called."))
    position = Number(metadata=said("What its handwheel shows."))


class ReportAnswerSchema(StrictSchema):
    """The whole document as data; HTML and PDF are written from nothing else."""

    title = Text(required=True, longest=200, metadata=said("Title."))
    reference = reference_as_given()
    report = Nested(lambda: ReportOptionsSchema, metadata=said("As in the job."))
    summary = Nested(lambda: SummarySchema, required=True, metadata=said("The result in words."))
    job = Nested(
        lambda: JobSchema,
        required=True,
        metadata=said("The job with everything that was decided; it can be posted again."),
    )
    pipes = ListOf(
        Nested(lambda: PipeUsedSchema),
        required=True,
        longest=MOST_ROWS,
        metadata=said("Pipes by part, with the sizes that were used."),
    )
    valves = ListOf(
        Nested(lambda: ValvePutInSchema),
        longest=MOST_ROWS,
        metadata=said("Regulating valves of the array; absent where it has none."),
    )
    split = Nested(lambda: SplitAnswerSchema, required=True, metadata=said("The main job."))
    hand_check = Nested(
        lambda: HandCheckSchema, required=True, metadata=said("To check one loop by hand.")
    )
    pictures = ListOf(
        Nested(lambda: ReportPictureSchema),
        longest=len(REPORT_PICTURES),
        metadata=said(
            "Pictures in words, as page and PDF show them; absent beyond the service's limit."
        ),
    )
    sizing = Nested(lambda: SizingAnswerSchema, metadata=said("Where asked for."))
    balancing = Nested(lambda: BalancingAnswerSchema, metadata=said("Where asked for and needed."))
    pump_choice = Nested(lambda: PumpChoiceAnswerSchema, metadata=said("Where asked for."))
    groundworks = Nested(lambda: GroundworksAnswerSchema, metadata=said("Where asked for."))
    commissioning = Nested(lambda: CommissioningAnswerSchema, metadata=said("Where asked for."))
    findings = findings_list(100, "About the chain; each chapter has its own.")
    formulas = ListOf(
        Nested(lambda: FormulaSchema),
        required=True,
        longest=50,
        metadata=said("Relations to check by."),
    )
    cautions = cautions_list("Of all chapters, each once: what to mind before anyone acts.")
    version = service_version()
    body_sha256 = Text(
        required=True,
        longest=64,
        metadata=said(
            "SHA-256 of the job as RFC 8785 writes it (compact JSON in UTF-8, names in order, 1.0 "
            "as 1); the same by the same version makes the same document.",
            "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08",
        ),
    )
