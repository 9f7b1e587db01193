"""What does a caller ask of a job? The document, the engine's job, and how the answer leaves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from flask import Response

from api.answers.decides import decided_array, decided_pump, fault_of_array, fault_of_pump
from api.answers.parts import ARRAY, DECIDED, Object, findings_of
from api.refusals import Json, Place, Refusal, RefusedError
from api.requests.job import job_from
from api.requests.places import named_as_in
from api.service.replies import read_document, reply, settings
from api.service.request_log import tell
from hydraulics.findings import Finding
from hydraulics.job import Chapters, Job
from hydraulics.layout.circuit import Circuit
from hydraulics.layout.walk import loop_count


@dataclass(frozen=True, slots=True)
class Asked:
    """A job that was posted.

    Attributes
    ----------
    document
        As it was posted.
    chapters
        Its chapters, none computed yet.
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

    def reply(self, content: Object) -> Response:
        """The answer as JSON."""
        return reply(self.named(content))


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


def asked_of(document: Json, calculation: str) -> Asked:
    """Read a job for a calculation; raises RefusedError with everything that is wrong with it."""
    most = settings()
    return Asked(
        document,
        Chapters(job_from(document, calculation, most.max_loops, most.max_corners)),
        calculation,
    )


def asked(calculation: str) -> Asked:
    """Read the job that was posted."""
    job = asked_of(read_document(), calculation)
    if "reference" in job.document:
        tell(reference=job.document["reference"])
    return job


def computing(of: Asked) -> Any:  # noqa: ANN401 (a context manager)
    """Within it, what the engine refuses is named by its place in the job."""
    return named_as_in(of.document)


def refuse_what_cannot_be_drawn(circuit: Circuit) -> None:
    """Refuse arrays of more loops than a picture can show."""
    count, most = loop_count(circuit), settings().max_picture_loops
    if count > most:
        detail = (
            f"The array has {count:,} loops; a picture shows up to {most:,} (the setting "
            "EVENLOOP_MAX_PICTURE_LOOPS). Ask for the numbers instead, or draw a part of it."
        )
        raise RefusedError([Refusal(("array",), detail, allowed=f"{most:,} loops or fewer")])


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
