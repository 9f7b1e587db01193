"""A job: one document with named parts, which every calculation takes."""

from __future__ import annotations

from typing import Any, Final

from api.refusals import BROKEN, MISSING, Json, Place, Refusal
from api.schemas.array import MOST_PIPES, CircuitSchema, PipeSchema
from api.schemas.balancing import BalancingOptionsSchema
from api.schemas.commissioning import CommissioningOptionsSchema
from api.schemas.common import job_name
from api.schemas.duty import (
    AntifreezeSchema,
    DutySchema,
    GroundAtLoopsSchema,
    HeightsSchema,
    LimitsSchema,
    PlantSchema,
    WarmSchema,
)
from api.schemas.fields import Integer, Refusals, Text, said
from api.schemas.groundworks import GroundworksOptionsSchema
from api.schemas.objects import ListOf, Nested, StrictSchema
from api.schemas.plot import PlotSchema
from api.schemas.pumps import PumpChoiceOptionsSchema, PumpSchema
from api.schemas.report import ReportOptionsSchema
from api.schemas.setting_out import SettingOutOptionsSchema
from api.schemas.sizing import GroundSchema, HeatSchema, SizingOptionsSchema

FORMAT: Final = 1
_OF_ANSWERS: Final = {"cautions", "findings", "method", "decides", "residuals", "summary"}


class JobSchema(StrictSchema):
    """Whatever is known of one ground array, in named parts.

    Every calculation takes a job, reads the parts that it needs and leaves the others alone; all of
    them are checked. What a calculation decides it gives back under `decides` as parts of a job.
    """

    format = Integer(
        minimum=FORMAT,
        maximum=FORMAT,
        load_default=FORMAT,
        metadata=said("Version of this form of a job."),
    )
    name = job_name()
    reference = Text(
        longest=200,
        metadata=said("Your own mark for the job; answers give it back.", "QB-04, rev. B"),
    )
    antifreeze = Nested(
        lambda: AntifreezeSchema,
        engine=("mixture", "sizing.prandtl", "ground_at_loops.prandtl"),
        metadata=said("What fills the array."),
    )
    heat = Nested(
        lambda: HeatSchema,
        engine=("sizing.load", "sizing"),
        metadata=said("What the heat pump gives in a year, for sizing."),
    )
    ground = Nested(
        lambda: GroundSchema,
        engine=("sizing.ground", "sizing", "groundworks.works", "groundworks"),
        metadata=said("The ground of the site."),
    )
    plot = Nested(
        lambda: PlotSchema,
        engine=("plot", "sizing", "setting_out.site"),
        metadata=said("The ground available; left out, what fits is not checked."),
    )
    heights = Nested(
        lambda: HeightsSchema,
        metadata=said(
            "How high plant, gauge and ground lie, for whatever judges a pressure. What is left "
            "out is read from plot.levels, of all its ground where the array has no place."
        ),
    )
    pipes = ListOf(
        Nested(lambda: PipeSchema),
        longest=MOST_PIPES,
        metadata=said(
            "Pipes that can be had: standard ones with their coils, and your own by their bore. "
            "Each name once."
        ),
    )
    plant = Nested(
        lambda: PlantSchema,
        metadata=said("What lies between array and pump; left out, nothing is counted there."),
    )
    array = Nested(
        lambda: CircuitSchema,
        engine=("circuit", "ground_at_loops.curvature"),
        metadata=said("What is buried."),
    )
    duty = Nested(
        lambda: DutySchema,
        engine=("duty", "ground_at_loops.reynolds"),
        metadata=said("What sets the flow, cold."),
    )
    warm = Nested(
        lambda: WarmSchema, metadata=said("Left out, pumps are judged in the cold alone.")
    )
    ground_at_loops = Nested(
        lambda: GroundAtLoopsSchema,
        metadata=said("Left out, the heat that an imbalance costs is not told."),
    )
    pump = Nested(
        lambda: PumpSchema,
        engine=("pump", "pump.candidates.0"),
        metadata=said(
            "The pump that runs, once chosen: what it drives then serves meters, energy and report."
        ),
    )
    limits = Nested(
        lambda: LimitsSchema,
        engine=("limits", "sizing", "sizing.loops"),
        metadata=said("What the array must keep; left out, the usual."),
    )
    sizing = Nested(lambda: SizingOptionsSchema, metadata=said("What kind of array to size."))
    setting_out = Nested(
        lambda: SettingOutOptionsSchema,
        metadata=said(
            "How the array is set out on its plot, which then tells every tail and run; left out, "
            "it is not."
        ),
    )
    balancing = Nested(
        lambda: BalancingOptionsSchema,
        metadata=said("What to balance to; left out or {}, the usual."),
    )
    pump_choice = Nested(lambda: PumpChoiceOptionsSchema, metadata=said("Pumps to choose among."))
    groundworks = Nested(
        lambda: GroundworksOptionsSchema, metadata=said("How the array is dug in.")
    )
    commissioning = Nested(
        lambda: CommissioningOptionsSchema,
        metadata=said("How it is filled, purged, tested and proved."),
    )
    report = Nested(
        lambda: ReportOptionsSchema, metadata=said("What stands at the head of a report.")
    )

    def check(self, value: Json, place: Place, refusals: Refusals) -> Json:
        """Read a job; what is no job but an answer is refused as such, all in one."""
        told = no_job(value) if type(value) is dict else ""
        if told:
            refusals.append(Refusal(place, told, MISSING, "a job"))
            return BROKEN
        told = _no_array(value.get("array")) if type(value) is dict else ""
        if told:
            refusals.append(Refusal((*place, "array"), told, MISSING, "an array"))
            return BROKEN
        return super().check(value, place, refusals)


def _no_array(value: Json) -> str:
    """What stands under array instead of one, and what to put there; empty where it may be one."""
    if type(value) is not dict or "branches" in value:
        return ""
    decided = value.get("decides")
    if type(decided) is dict and "array" in decided:
        return "Under array stands an answer: put what stands in its decides.array there."
    if len(_OF_ANSWERS & value.keys()) >= 2:
        return "Under array stands an answer that decides no array: put the array of its job there."
    if "array" in value or type(value.get("job")) is dict:
        whole = "array" if "array" in value else "job.array"
        return f"Under array stands a whole job: put what stands in its {whole} there."
    return ""


def no_job(value: dict[str, Any]) -> str:
    """What was posted instead of a job, and what to post; empty where it may be one."""
    if type(value.get("job")) is dict and "array" not in value:
        return "This holds a job: post what stands in its job, by itself."
    if "array" not in value and (many := _many_jobs(value)):
        return many
    if len(_OF_ANSWERS & value.keys()) < 2:
        problem = {"type", "title", "status"} <= value.keys()
        return "This is a problem that was answered, not a job: post the job, mended." * problem
    begun = "This is an answer, not a job: post the job that it answers"
    for name, of in (("ways", "the way"), ("pumps", "the pump")):
        if type(value.get(name)) is list:
            return f"{begun}, with what stands in decides of {of} that you take put into it."
    if type(decided := value.get("decides")) is dict:
        parts = ", ".join(map(str, list(decided)[:8]))
        return f"{begun}, with what stands in its decides ({parts}) put into it."
    return f"{begun}. It decides nothing that would go into a job."


def _many_jobs(value: dict[str, Any]) -> str:
    """What was posted of POST /v1/splits, and what to post; empty where it is nothing of it."""
    if type(value.get("jobs")) is list:
        return "This holds many jobs: post it to /v1/splits, or one of its jobs by itself."
    if type(value.get("answers")) is list:
        return (
            "This is an answer to many jobs, not a job: post one of those jobs, or all of them "
            "under jobs to /v1/splits. It decides nothing that would go into a job."
        )
    if "status" in value and ("split" in value or "problem" in value):
        return "This is what came of one of many jobs: post that job."
    return ""
