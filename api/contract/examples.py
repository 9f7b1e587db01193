"""Which worked examples ship with the service?"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

FOLDER: Final = Path(__file__).resolve().parents[2] / "openapi"
_EXAMPLES: Final = FOLDER / "examples"

ASKED_BY: Final[dict[str, tuple[str, ...]]] = {
    "sizing": ("sizing",),
    "setting-out": ("plot", "setting_out"),
    "split": ("array",),
    "balancing": ("array", "balancing"),
    "pump-choice": ("array", "pump_choice"),
    "groundworks": ("array", "groundworks"),
    "commissioning": ("array", "commissioning"),
    "designs": ("report",),
    "report": ("report",),
}
"""Parts that a job of the examples has where it is shown with a calculation's answer."""


@dataclass(frozen=True, slots=True)
class Example:
    """A job, and what the calculations answer to it.

    Attributes
    ----------
    name
        Name of its file.
    job
        The job; for `splits`, several of them.
    """

    name: str
    job: dict[str, Any]

    @property
    def title(self) -> str:
        """What the job is called."""
        return str(self.job.get("name", self.name))

    @property
    def calculations(self) -> tuple[str, ...]:
        """Last parts of the addresses whose answer to it is kept."""
        if "jobs" in self.job:
            return ("splits",)
        return tuple(
            address
            for address, parts in ASKED_BY.items()
            if all(part in self.job for part in parts)
        )

    def answer(self, calculation: str) -> dict[str, Any] | None:
        """Read the kept answer of a calculation; None before it was computed."""
        file = answer_file(calculation, self.name)
        if not file.exists():
            return None
        found: dict[str, Any] = json.loads(file.read_text("utf-8"))
        return found


def answer_file(calculation: str, name: str) -> Path:
    """Where the answer of a calculation to an example is kept."""
    return _EXAMPLES / "responses" / calculation / f"{name}.json"


def job_file(name: str) -> Path:
    """Where an example is kept."""
    return _EXAMPLES / f"{name}.json"


def examples_in_repository() -> tuple[Example, ...]:
    """Read the jobs, in alphabetical order; none where only the package is installed."""
    return _examples(_EXAMPLES)


def batches_in_repository() -> tuple[Example, ...]:
    """Read the bodies of POST /v1/splits, each of several jobs."""
    return _examples(_EXAMPLES / "batches")


def shown_in_contract() -> tuple[Example, ...]:
    """Everything that the contract may show: jobs and batches of them."""
    return (*examples_in_repository(), *batches_in_repository())


def _examples(folder: Path) -> tuple[Example, ...]:
    return tuple(
        Example(file.stem, json.loads(file.read_text("utf-8")))
        for file in sorted(folder.glob("*.json"))
    )
