"""Has the generated clients take jobs from load to report, on a server started here.

Run by `.ci/generated-clients`, in whose virtual environment the Python client lies untouched.
"""

# ruff: noqa: D103, S603 (a script; it starts only what it is told to)

from __future__ import annotations

import hashlib
import importlib
import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from evenloop_client import AuthenticatedClient, Client, models
from evenloop_client.api.calculations import split
from evenloop_client.api.reference_data import antifreezes, example, examples
from evenloop_client.api.service import health, index, readiness

OPENAPI = Path(__file__).resolve().parent.parent / "openapi"
SHORT = "quince-barn-short-tail.json"
KEY = "made-for-this-run-only"


@contextmanager
def server(command: str) -> Iterator[str]:
    """Serve on a free port to those with the key; gives the address."""
    keys = f"client={hashlib.sha256(KEY.encode()).hexdigest()}"
    process = subprocess.Popen(
        [command, "serve", "--port", "0"],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        env={**os.environ, "EVENLOOP_API_KEYS": keys},
    )
    try:
        line = process.stdout.readline()
        found = re.search(r"http://[\w.:]+(?=/v1)", line)
        assert found, f"the server said: {line!r}"
        yield found[0]
    finally:
        process.terminate()
        process.wait(30)


def run_shown_programs(folder: Path, address: str) -> None:
    """Run each program of the how-to; they must all end with the same figures and a report."""
    programs = {
        "Python": [sys.executable, "client.py"],
        "TypeScript": ["node", "client.js"],
        "Java": ["java", "-cp", "classes:generator.jar", "Client"],
    }
    ends = {}
    for language, command in programs.items():
        (folder / "report.pdf").unlink(missing_ok=True)
        environment = {**os.environ, "SERVICE": address, "KEY": KEY}
        done = subprocess.run(
            command, cwd=folder, env=environment, check=True, capture_output=True, timeout=120
        )
        before, after, pump = done.stdout.decode().strip().split(" ", 2)
        # The longer loop was uneven, and the way that was taken makes it even.
        assert float(after) < 0.1 * float(before), (language, done.stdout)
        assert (folder / "report.pdf").read_bytes().startswith(b"%PDF-"), language
        ends[language] = (float(before), float(after), pump)
    assert len(set(ends.values())) == 1, ends


def be_refused(client: AuthenticatedClient) -> None:
    """A refusal comes as the contract's own class."""
    job = models.Job.from_dict(json.loads((OPENAPI / "examples" / SHORT).read_text("utf-8")))
    job.array.branches[0].loop.legs = [models.Leg(straight=models.StraightLeg(length_m=-5.0))]
    problem = split.sync(client=client, body=job)
    assert isinstance(problem, models.Problem), problem
    assert problem.status == 422
    assert problem.errors[0].pointer == "/array/branches/0/loop/legs/0/straight/length_m"


def repeat_examples(client: AuthenticatedClient) -> int:
    """Send every example through the classes; neither job nor answer may lose anything."""
    count = 0
    for answer in sorted((OPENAPI / "examples" / "responses").glob("*/*.json")):
        calculation = answer.parent.name
        folder = "examples/batches" if calculation == "splits" else "examples"
        kind = models.Splits if calculation == "splits" else models.Job
        module = {"designs": "design"}.get(calculation, calculation.replace("-", "_"))
        call = importlib.import_module(f"evenloop_client.api.calculations.{module}")
        given = json.loads((OPENAPI / folder / answer.name).read_text("utf-8"))
        body = kind.from_dict(given)
        assert body.to_dict() == given, f"{calculation}: {answer.name} is changed by {kind}"
        got = call.sync_detailed(client=client, body=body)
        assert got.status_code in (200, 207), f"{calculation}: {answer.name}: {got.content[:500]}"
        assert got.parsed.to_dict() == json.loads(got.content), f"{calculation}: {answer.name}"
        count += 1
    return count


def look_around(client: Client) -> None:
    assert health.sync(client=client).healthy
    assert readiness.sync(client=client).ready
    assert index.sync(client=client).links
    assert antifreezes.sync(client=client).antifreezes
    first = examples.sync(client=client).examples[0]
    assert isinstance(example.sync(first.name, client=client), models.Job)
    assert example.sync("no-such-example", client=client).status == 404


def main() -> None:
    with server(sys.argv[1]) as address:
        anyone = Client(base_url=address, timeout=60.0)
        look_around(anyone)
        body = models.Job.from_dict(json.loads((OPENAPI / "examples" / SHORT).read_text("utf-8")))
        assert split.sync(client=anyone, body=body).status == 401

        client = AuthenticatedClient(base_url=address, token=KEY, timeout=60.0)
        be_refused(client)
        run_shown_programs(Path(sys.argv[2]), address)
        count = repeat_examples(client)
    print(
        "The generated clients in Python, TypeScript and Java went from load to report, "
        f"and the first through {count} examples."
    )


if __name__ == "__main__":
    main()
