"""Writes the contract and its examples' answers: ``python -m api.command.write_contract``."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

from api.contract.document import build_openapi
from api.contract.examples import FOLDER, MAIN_PATH, examples_folder, examples_in_repository
from api.contract.operations import OPERATIONS
from api.refusals import Json

FILE: Final = FOLDER / "evenloop.json"


def compute_responses(path: str = MAIN_PATH) -> dict[str, dict[str, Any]]:
    """Answer every example of an address through the service itself.

    Parameters
    ----------
    path
        Address that the requests are posted to.

    Returns
    -------
    dict
        Answer by the file name of its request.

    Raises
    ------
    RuntimeError
        The service refused an example.
    """
    from api.app import create_app  # noqa: PLC0415 (the application itself serves this document)
    from api.settings import Settings  # noqa: PLC0415

    client = create_app(Settings()).test_client()
    answers: dict[str, dict[str, Any]] = {}
    for file in sorted(examples_folder(path).glob("*.json")):
        answer = client.post(path, json=json.loads(file.read_text("utf-8")))
        content = answer.get_json()
        if answer.status_code not in (200, 207):
            raise RuntimeError(f"{file.name} was refused: {json.dumps(content)}")
        answers[file.name] = content
    return answers


def write_openapi() -> Path:
    """Compute the examples' answers and write them and the contract to `openapi/`.

    Returns
    -------
    Path
        The file written.
    """
    for operation in OPERATIONS:
        answers = compute_responses(operation.path) if operation.method == "post" else {}
        if not answers:
            continue
        folder = examples_folder(operation.path) / "responses"
        folder.mkdir(exist_ok=True)
        for stale in folder.glob("*.json"):
            if stale.name not in answers:
                stale.unlink()
        for name, answer in answers.items():
            (folder / name).write_text(_text(answer), "utf-8")
    FILE.write_text(_text(build_openapi(examples_in_repository())), "utf-8")
    return FILE


def _text(content: Json) -> str:
    return json.dumps(content, indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    write_openapi()
