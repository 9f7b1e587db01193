"""Can this process draw and write a report? Shown once by doing it, on an invented job.

What it loads is then loaded whole, before any time limit could fall into the loading; a production
worker's supervisor does it before the workers fork.
"""

from __future__ import annotations

import threading
from typing import Final

from flask import Flask

from api.calculations.asked import asked_of
from api.media_types import SVG
from api.resources.examples import examples
from api.resources.report import pdf_of_job
from api.resources.split import picture_of_job
from api.service.deadline import interruptions
from api.service.replies import settings
from hydraulics.libraries import load_libraries

_LOCK: Final = threading.Lock()
_shown: dict[str, int] = {}  # after how many interrupted calculations it was shown


def prove() -> None:
    """Draw a picture and write a report as PDF, unless that was done since the last interruption.

    A calculation that was ended at its time limit may have left a library in any state, so that it
    must be shown anew.
    """
    with _LOCK:
        now = interruptions()
        if _shown.get("after") == now:
            return
        load_libraries()
        limits = settings()
        whole = [each for each in examples().values() if "report" in each.calculations]
        for example in sorted(whole, key=lambda each: len(str(each.job)))[:1]:
            pdf_of_job(asked_of(example.job, "report", limits))
            picture_of_job(asked_of(example.job, "split", limits), "flows", SVG)
        _shown["after"] = now


def prove_within(app: Flask) -> Flask:
    """Give an application back after showing that it can draw and write."""
    with app.app_context():
        prove()
    return app
