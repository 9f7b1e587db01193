"""Which worked examples ship with the service?"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

FOLDER: Final = Path(__file__).resolve().parents[2] / "openapi"
MAIN_PATH: Final = "/v1/flow-split"


@dataclass(frozen=True, slots=True)
class Example:
    """A request with its answer.

    Attributes
    ----------
    key
        Short name.
    request
        Body of the request.
    response
        Body of the answer; None before it was computed.
    """

    key: str
    request: dict[str, Any]
    response: dict[str, Any] | None


# ------------------------------------------------------------------------------------- examples


def examples_folder(path: str) -> Path:
    """Folder of the examples of an address; those of the main job lie above all others."""
    folder = FOLDER / "examples"
    return folder if path == MAIN_PATH else folder / path.rsplit("/", 1)[-1]


def examples_in_repository(path: str = MAIN_PATH) -> tuple[Example, ...]:
    """Read the examples of an address; none where only the package is installed.

    Parameters
    ----------
    path
        Address that the requests are posted to.

    Returns
    -------
    tuple of Example
        In alphabetical order of their files.
    """
    found = []
    for file in sorted(examples_folder(path).glob("*.json")):
        answer = file.parent / "responses" / file.name
        found.append(
            Example(
                file.stem.replace("-", "_"),
                json.loads(file.read_text("utf-8")),
                json.loads(answer.read_text("utf-8")) if answer.exists() else None,
            )
        )
    return tuple(found)
