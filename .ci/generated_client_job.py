"""Has the generated client do the main job, and every example, on a server started here.

Run by `.ci/generated-client`, in whose virtual environment the client lies untouched.
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
from evenloop_client.api.calculations import size_array, solve_flow_split
from evenloop_client.api.reference_data import give_example, list_antifreezes, list_examples
from evenloop_client.api.service import check_health, check_readiness, list_links

OPENAPI = Path(__file__).resolve().parent.parent / "openapi"
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


def do_main_job(client: AuthenticatedClient) -> None:
    """Build an array from the client's own classes, defaults and all, and read its answer."""
    slinky = models.SlinkyLeg(coils=30, coil_diameter_m=0.9, pitch_m=0.6)
    branches = [
        models.LoopBranch(loop=name, pipe="PE100 SDR11 32", legs=[models.StraightLeg(tail), slinky])
        for name, tail in (("north", 20.0), ("south", 35.0), ("east", 60.0))
    ]
    request = models.FlowSplitRequest(
        antifreeze=models.AntifreezeMix(
            kind=models.AntifreezeMixKind.PROPYLENE_GLYCOL,
            concentration_percent=25.0,
            basis=models.AntifreezeMixBasis.MASS,
        ),
        duty=models.HeatDuty(
            heat_from_ground_kw=6.0, temperature_change_k=3.5, to_ground_temperature_c=-1.0
        ),
        array=models.Circuit(arrangement=models.CircuitArrangement.MANIFOLD, branches=branches),
    )
    answer = solve_flow_split.sync(client=client, body=request)
    assert isinstance(answer, models.FlowSplitResponse), answer
    flows = {loop.loop: loop.flow_l_s for loop in answer.loops}
    # At equal drop the longer loop flows less, and the flows make up the pump's.
    assert flows["north"] > flows["south"] > flows["east"] > 0
    assert abs(sum(flows.values()) / answer.pump_duty.flow_l_s - 1) < 1e-4, flows
    assert answer.pump_duty.head_kpa > 0

    request.array.branches[1].legs = [models.StraightLeg(straight_m=-5.0)]
    problem = solve_flow_split.sync(client=client, body=request)
    assert isinstance(problem, models.Problem), problem
    assert problem.status == 422
    assert problem.errors[0].pointer == "/array/branches/1/legs/0/straight_m"


def repeat_examples(client: AuthenticatedClient) -> int:
    """Send every example through the classes; neither request nor answer may lose anything."""
    contract = json.loads((OPENAPI / "evenloop.json").read_text("utf-8"))
    count = 0
    for path, methods in contract["paths"].items():
        operation = methods.get("post")
        if operation is None:
            continue
        name = re.sub(r"(?<!^)(?=[A-Z])", "_", operation["operationId"]).lower()
        call = importlib.import_module(f"evenloop_client.api.calculations.{name}")
        media = operation["requestBody"]["content"]["application/json"]
        kind = getattr(models, media["schema"]["$ref"].rsplit("/", 1)[-1])
        for key, example in media.get("examples", {}).items():
            body = kind.from_dict(example["value"])
            assert body.to_dict() == example["value"], f"{path}: {key} is changed by {kind}"
            answer = call.sync_detailed(client=client, body=body)
            assert answer.status_code in (200, 207), f"{path}: {key}: {answer.content[:500]}"
            assert answer.parsed.to_dict() == json.loads(answer.content), f"{path}: {key}"
            count += 1
    return count


def size_and_split(client: AuthenticatedClient) -> None:
    """Follow the link from a sizing to the flow split."""
    file = sorted((OPENAPI / "examples" / "array-sizing").glob("*.json"))[0]
    body = models.ArraySizingRequest.from_dict(json.loads(file.read_text("utf-8")))
    sized = size_array.sync(client=client, body=body)
    split = solve_flow_split.sync(client=client, body=sized.flow_split_request)
    assert isinstance(split, models.FlowSplitResponse), split


def look_around(client: Client) -> None:
    assert check_health.sync(client=client).healthy
    assert check_readiness.sync(client=client).ready
    assert list_links.sync(client=client).links
    assert list_antifreezes.sync(client=client).antifreezes
    first = list_examples.sync(client=client).examples[0]
    assert isinstance(give_example.sync(first.name, client=client), models.FlowSplitRequest)
    assert give_example.sync("no-such-example", client=client).status == 404


def main() -> None:
    with server(sys.argv[1]) as address:
        anyone = Client(base_url=address, timeout=60.0)
        look_around(anyone)
        example = sorted(OPENAPI.glob("examples/*.json"))[0]
        body = models.FlowSplitRequest.from_dict(json.loads(example.read_text("utf-8")))
        assert solve_flow_split.sync(client=anyone, body=body).status == 401

        client = AuthenticatedClient(base_url=address, token=KEY, timeout=60.0)
        do_main_job(client)
        size_and_split(client)
        count = repeat_examples(client)
    print(f"The generated client did the main job and {count} examples.")


if __name__ == "__main__":
    main()
