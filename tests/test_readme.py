"""The README shows what the service really answers."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from api import create_app
from api.command.cli import main

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def block(name: str) -> str:
    found = re.search(rf"<!-- {name} -->\n```\w+\n(.*?)```\n<!-- end -->", README, re.DOTALL)
    assert found, name
    return found[1]


def curl_body() -> str:
    command = re.search(r"^curl .*?\}'$", README, re.DOTALL | re.MULTILINE)
    assert command
    return shlex.split(command[0])[-1]


def shown_answer() -> dict[str, Any]:
    response = (
        create_app()
        .test_client()
        .post("/v1/split", data=curl_body(), content_type="application/json")
    )
    answer = json.loads(response.data)
    return {part: answer[part] for part in ("imbalance", "pump")}


def trial_output() -> str:
    example = ROOT / "openapi/examples/quince-barn-short-tail.json"
    result = CliRunner().invoke(main, ["solve", str(example)])
    lines = [line.rstrip() for line in result.output.strip().splitlines()]
    return "\n".join(lines) + "\n"


def test_the_readme_shows_the_table_that_the_trial_prints() -> None:
    assert block("trial-output") == trial_output()


def test_the_readme_shows_the_answer_that_curl_gets() -> None:
    assert json.loads(block("curl-answer")) == shown_answer()


def test_the_readme_names_files_that_exist() -> None:
    for target in re.findall(r"\]\(([^)#:]+)\)", README):
        assert (ROOT / target).exists(), target
