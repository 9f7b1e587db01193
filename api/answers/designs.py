"""From the chapters of a job to the answer that holds them all."""

from __future__ import annotations

from api.answers.balancing import balancing_of
from api.answers.commissioning import commissioning_of
from api.answers.groundworks import groundworks_of
from api.answers.parts import ARRAY, DECIDED, Object, findings_of
from api.answers.pump_choice import pump_choice_of
from api.answers.setting_out import setting_out_of
from api.answers.sizing import sizing_of
from api.answers.split import split_of
from api.refusals import Place
from hydraulics.job import Chapters


def chapters_of(chapters: Chapters, document: Object, decided: Place = DECIDED) -> Object:
    """Every chapter that a job asks for, each as its own address answers it.

    Parameters
    ----------
    chapters
        The job's chapters; each is computed here at the latest.
    document
        The job as it was posted.
    decided
        Where the answer has the array, where that is not the one posted.

    Returns
    -------
    dict
        Chapters by name, and findings about their chain.
    """
    job = chapters.job
    before = decided if chapters.is_placed else ARRAY
    root = decided if chapters.is_made else ARRAY
    found: Object = {}
    if job.sizing is not None:
        found["sizing"] = sizing_of(chapters.sizing, job)
    if job.setting_out is not None:
        found["setting_out"] = setting_out_of(chapters, document["plot"])
    found["split"] = split_of(chapters.split, job, root=root, running=chapters.running)
    if chapters.wants_balancing:
        # Where the answer has no array but the one decided, places are its own.
        ways = chapters.balancing_in_circuit if before == decided else chapters.balancing
        found["balancing"] = balancing_of(
            ways, job, document, chapters.heat_cost, root=before, at=("balancing",)
        )
    if job.pump_choice is not None:
        found["pump_choice"] = pump_choice_of(chapters.pump_choice, job, root=root)
    if job.groundworks is not None:
        found["groundworks"] = groundworks_of(
            chapters.groundworks, chapters.pipe_order, chapters.bill, root=root
        )
    if job.commissioning is not None:
        found["commissioning"] = commissioning_of(chapters.commissioning, job, root=root)
    return {**found, "findings": findings_of(chapters.findings)}
