"""Has the generated client take a job from its load to the report, on a server started here.

Run by `.ci/generated-client`, in whose virtual environment the client lies untouched. Going on from
one step to the next is assignment of what was decided, and nothing else.
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
from evenloop_client.api.calculations import (
    balancing,
    commissioning,
    groundworks,
    pump_choice,
    sizing,
    split,
)
from evenloop_client.api.files import report_pdf
from evenloop_client.api.reference_data import antifreezes, example, examples
from evenloop_client.api.service import health, index, readiness

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


def go_from_load_to_report(client: AuthenticatedClient) -> None:
    """Build a job from the client's own classes, defaults and all, and carry it through."""
    job = models.Job(
        name="Bramble Yard (invented)",
        reference="BY-1",
        antifreeze=models.Antifreeze(
            kind=models.AntifreezeKind.PROPYLENE_GLYCOL,
            concentration_percent=25.0,
            basis=models.StrengthBasis.VOLUME,
        ),
        heat=models.Heat(
            output_kw=6.0, seasonal_performance=3.6, temperature_change_k=3.0, heating_h=1800.0
        ),
        ground=models.Ground(
            soil=models.SoilName.CLAY, surface=models.Surface(mean_c=10.2, swing_k=7.5)
        ),
        sizing=models.SizingOptions(
            array_kind=models.ArrayKind(
                slinky=models.SlinkyKind(pipe="PE100 SDR11 32", depth_m=1.2)
            )
        ),
        pump_choice=models.PumpChoiceOptions(use_invented_pumps=True),
        groundworks=models.GroundworksOptions(
            trench=models.TrenchSection(width_m=1.2, depth_m=1.3),
            header_trench=models.HeaderTrench(),
        ),
        commissioning=models.CommissioningOptions(filling=models.FillingPlan(filling_c=12.0)),
    )
    sized = sizing.sync(client=client, body=job)
    assert isinstance(sized, models.SizingAnswer), sized
    job.array, job.duty = sized.decides.array, sized.decides.duty

    # On site the first loop gets a longer tail, so that there is something to balance.
    longer = models.Branch.from_dict(job.array.branches[0].to_dict())
    longer.count, longer.loop.name = 1, "far"
    longer.loop.legs.append(models.Leg(straight=models.StraightLeg(length_m=60.0)))
    job.array.branches.append(longer)

    before = split.sync(client=client, body=job)
    assert isinstance(before, models.SplitAnswer), before
    flows = {loop.loop: loop.flow_l_s for loop in before.loops}
    # At equal drop the longer loop flows less, and the flows make up the pump's.
    assert min(flows, key=flows.get) == "far", flows
    assert abs(sum(flows.values()) / before.pump.flow_l_s - 1) < 1e-4, flows

    balanced = balancing.sync(client=client, body=job)
    assert isinstance(balanced, models.BalancingAnswer), balanced
    job.array = next(way.decides.array for way in balanced.ways if way.verdict == "reaches")
    after = split.sync(client=client, body=job)
    assert after.imbalance.spread_percent < 0.1 * before.imbalance.spread_percent

    chosen = pump_choice.sync(client=client, body=job)
    assert isinstance(chosen, models.PumpChoiceAnswer), chosen
    job.pump = chosen.pumps[0].decides.pump

    dug = groundworks.sync(client=client, body=job)
    assert isinstance(dug, models.GroundworksAnswer), dug
    filled = commissioning.sync(client=client, body=job)
    assert isinstance(filled, models.CommissioningAnswer), filled
    report = report_pdf.sync(client=client, body=job)
    assert report.payload.read(5) == b"%PDF-"

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
        identifier = {"pump-choice": "pump_choice", "designs": "design"}
        module = identifier.get(calculation, calculation)
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
        first = sorted(OPENAPI.glob("examples/*.json"))[0]
        body = models.Job.from_dict(json.loads(first.read_text("utf-8")))
        assert split.sync(client=anyone, body=body).status == 401

        client = AuthenticatedClient(base_url=address, token=KEY, timeout=60.0)
        go_from_load_to_report(client)
        count = repeat_examples(client)
    print(f"The generated client went from load to report, and through {count} examples.")


if __name__ == "__main__":
    main()
