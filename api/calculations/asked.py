"""What is asked of a job: its document, the engine's job, the calculation, and what it answers."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

from api.answers.balancing import balancing_of
from api.answers.commissioning import commissioning_of
from api.answers.decides import (
    decided,
    decided_array,
    decided_pump,
    fault_of_array,
    fault_of_pump,
)
from api.answers.designs import chapters_of
from api.answers.groundworks import groundworks_of
from api.answers.parts import ARRAY, DECIDED, Object, Wanted, findings_of
from api.answers.pump_choice import pump_choice_of
from api.answers.setting_out import setting_out_of
from api.answers.sizing import sizing_of
from api.answers.split import split_of
from api.refusals import Json, Place, Refusal, RefusedError
from api.requests.job import job_from
from api.requests.places import named_as_in
from api.settings import Settings
from hydraulics.findings import Finding
from hydraulics.job import Chapters, Job


@dataclass(frozen=True, slots=True)
class Asked:
    """A job that was posted.

    Attributes
    ----------
    document
        As it was posted.
    chapters
        Its chapters, none computed yet.
    calculation
        What is asked of it, as `api.requests.job` knows it.
    """

    document: dict[str, Any]
    chapters: Chapters
    calculation: str

    @property
    def job(self) -> Job:
        """The engine's job."""
        return self.chapters.job

    @property
    def title(self) -> str:
        """Name of the job; empty where it has none."""
        return str(self.document.get("name", ""))

    @property
    def root(self) -> Place:
        """Where the array stands that the chapters are of."""
        return DECIDED if self.chapters.is_made else ARRAY

    def named(self, content: Object) -> Object:
        """An answer with the job's name and the caller's own mark before it."""
        given: Object = {n: self.document[n] for n in ("name", "reference") if n in self.document}
        if chain := [*_not_taken(self.document, self.calculation), *self._set_otherwise()]:
            content = {**content, "findings": [*chain, *content["findings"]]}
        return {**given, **content}

    def _set_otherwise(self) -> list[Object]:
        """What parts say of one another that whole designs tell by themselves."""
        if self.calculation == "setting_out":
            with computing(self):
                return findings_of(self.chapters.bores_against_sizing)
        if self.calculation == "sizing":
            with computing(self):
                return findings_of(self.chapters.drawn_against_sizing)
        if self.calculation not in ("split", "pump_choice", "commissioning"):
            return []
        with computing(self):
            return findings_of(self.chapters.set_otherwise)


_TAKEN_FOR: Final = {
    "balancing": ("split", "pump_choice", "groundworks", "commissioning"),
    "pump_choice": ("split", "commissioning"),
}
"""Calculations that another part's `take` would change, were it put in there."""


def _not_taken(document: dict[str, Any], calculation: str) -> list[Object]:
    """Findings on what the job takes and only a whole design puts in."""
    takes = {
        part: document.get(part, {}).get("take")
        for part, changed in _TAKEN_FOR.items()
        if calculation in changed
    }
    return findings_of(
        Finding(
            "take_not_put_in",
            "warning",
            f"{part}.take ({take}) is put in by /v1/designs and /v1/report only, where it applies: "
            "this answer is of the job as posted. Put what it decides into the job, or ask for the "
            "design.",
            "the rule of this service",
        )
        for part, take in takes.items()
        if take is not None and take != document.get("pump", {}).get("name")
    )


def asked_of(document: Json, calculation: str, limits: Settings) -> Asked:
    """Read a job for a calculation; raises RefusedError with everything that is wrong with it."""
    job = job_from(document, calculation, limits.max_loops, limits.max_corners)
    return Asked(document, Chapters(job), calculation)


def computing(of: Asked) -> Any:  # noqa: ANN401 (a context manager)
    """Within it, what the engine refuses is named by its place in the job."""
    return named_as_in(of.document)


def refuse_what_no_job_holds(job: Asked) -> None:
    """Refuse what was decided and is beyond what any job can hold: too long, too high a head."""
    chapters = job.chapters
    if chapters.is_sized:
        sizing = chapters.sizing
        fault = fault_of_array(decided_array(sizing.circuit))
        if fault:
            given = "loop_count" in job.document["sizing"]
            detail = (
                f"{sizing.loops:,} equal loops would be of {sizing.length_each:,.0f} m of "
                f"{sizing.metre} each, longer than this service takes ({fault[:-1]}). Give more "
                "loops or another extraction rate."
            )
            place = ("sizing", "loop_count" if given else "array_kind")
            allowed = "loops of a length that can be laid"
            raise RefusedError([Refusal(place, detail, allowed=allowed)])
    if chapters.way is not None and (fault := fault_of_array(decided_array(chapters.circuit))):
        detail = f"With this way the array is longer than this service takes ({fault[:-1]})."
        place = ("balancing", "take")
        raise RefusedError([Refusal(place, detail, allowed="another way, or none")])
    taken = chapters.pump
    if taken is None or taken is chapters.job.pump:
        return
    if fault := fault_of_pump(decided_pump(taken)):
        detail = f"With this pump the job is beyond what this service takes ({fault[:-1]})."
        place = ("pump_choice", "take")
        raise RefusedError([Refusal(place, detail, allowed="another pump, or none")])


def _sizing(job: Asked) -> Object:
    answer = sizing_of(job.chapters.sizing, job.job)
    refuse_what_no_job_holds(job)
    return answer


def _design(job: Asked) -> Object:
    answer = chapters_of(job.chapters, job.document)
    refuse_what_no_job_holds(job)
    return {"decides": decided(job.chapters, job.document), **answer}


def _split(job: Asked, wanted: Wanted = None) -> Object:
    chapters = job.chapters
    return split_of(chapters.split, job.job, running=chapters.running, wanted=wanted)


_ANSWERS: Final[Mapping[str, Callable[[Asked], Object]]] = MappingProxyType(
    {
        "sizing": _sizing,
        "setting_out": lambda job: setting_out_of(job.chapters, job.document["plot"]),
        "split": _split,
        "balancing": lambda job: balancing_of(
            job.chapters.balancing, job.job, job.document, job.chapters.heat_cost
        ),
        "pump_choice": lambda job: pump_choice_of(job.chapters.pump_choice, job.job),
        "groundworks": lambda job: groundworks_of(
            job.chapters.groundworks, job.chapters.pipe_order, job.chapters.bill
        ),
        "commissioning": lambda job: commissioning_of(job.chapters.commissioning, job.job),
        "designs": _design,
    }
)


def answer_of(job: Asked, wanted: Wanted = None) -> Object:
    """What the address of a job's calculation answers to it.

    Parameters
    ----------
    job
        The job as it was read for that calculation.
    wanted
        What of the answer is asked, findings among it; the rest may be left out.

    Returns
    -------
    dict
        The answer.

    Raises
    ------
    HydraulicsError
        What the engine refuses, named by its place in the job.
    RefusedError
        What was decided is beyond what a job can hold.
    """
    with computing(job):
        split = job.calculation == "split"
        answer = _split(job, wanted) if split else _ANSWERS[job.calculation](job)
    return job.named(answer)
