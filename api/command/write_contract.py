"""Writes the contract and its examples' answers: ``python -m api.command.write_contract``."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from api.contract.document import build_openapi
from api.contract.examples import FOLDER, Example, answer_file, shown_in_contract

FILE: Final = FOLDER / "evenloop.json"


def compute_answers() -> Iterator[tuple[Example, str, dict[str, Any]]]:
    """Answer every example, and each of its calculations, through the service itself.

    Yields
    ------
    tuple
        Example, calculation, answer.

    Raises
    ------
    RuntimeError
        The service refused an example.
    """
    from api.app import create_app  # noqa: PLC0415 (the application itself serves this document)
    from api.settings import Settings  # noqa: PLC0415

    client = create_app(Settings(max_seconds=600)).test_client()  # however slow the machine
    for example in shown_in_contract():
        for calculation in example.calculations:
            answer = client.post(f"/v1/{calculation}", json=example.job)
            content = answer.get_json()
            if answer.status_code not in (200, 207):
                refused = json.dumps(content)
                raise RuntimeError(f"{example.name} was refused by {calculation}: {refused}")
            yield example, calculation, content


def write_contract() -> Path:
    """Compute the examples' answers and write them and the contract to `openapi/`.

    Returns
    -------
    Path
        The file written.
    """
    answers = list(compute_answers())
    shutil.rmtree(FOLDER / "examples" / "responses", ignore_errors=True)
    for example, calculation, answer in answers:
        file = answer_file(calculation, example.name)
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(json.dumps(answer, indent=1, ensure_ascii=False) + "\n", "utf-8")
    FILE.write_text(contract_text(), "utf-8")
    return FILE


def contract_text() -> str:
    """The contract as it is kept: without spaces, one path or component a line."""
    document = build_openapi(shown_in_contract())
    lines = []
    for name, part in document.items():
        if name == "paths":
            lines.append(_lines(name, part))
        elif name == "components":
            lines.append(
                f"{_text(name)}:{{\n" + ",\n".join(_lines(*each) for each in part.items()) + "\n}"
            )
        else:
            lines.append(f"{_text(name)}:{_text(part)}")
    return "{\n" + ",\n".join(lines) + "\n}\n"


def _lines(name: str, parts: dict[str, Any]) -> str:
    inner = ",\n".join(f"{_text(key)}:{_text(value)}" for key, value in parts.items())
    return f"{_text(name)}:{{\n{inner}\n}}"


def _text(content: object) -> str:
    return json.dumps(content, ensure_ascii=False, separators=(",", ":"))


if __name__ == "__main__":
    write_contract()
