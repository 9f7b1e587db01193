"""From load to report by assignment: what a step decides is put into the job, and nothing else."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from flask.testing import FlaskClient

from api import create_app
from api.contract.examples import Example, examples_in_repository
from api.settings import Settings

Json = dict[str, Any]
EXAMPLES = [e for e in examples_in_repository() if "antifreeze" in e.job and "plant" in e.job]
# A PDF of the same content takes as long as all before it: one of each kind of array.
PRINTED = set(
    {
        kind: e.name for e in EXAMPLES for kind in e.job.get("sizing", {}).get("array_kind", {})
    }.values()
)


@pytest.fixture(scope="module")
def client() -> FlaskClient:
    return create_app(Settings()).test_client()


class Office:
    """Someone with a job and the service."""

    def __init__(self, client: FlaskClient, job: Json) -> None:
        self.client, self.job = client, copy.deepcopy(job)

    def ask(self, address: str) -> Json:
        answer = self.client.post(f"/v1/{address}", json=self.job)
        content: Json = answer.get_json(force=True)
        assert answer.status_code == 200, (address, content)
        return content


def test_there_are_examples_of_every_kind_of_array_to_go_through() -> None:
    kinds = {kind for e in EXAMPLES for kind in e.job.get("sizing", {}).get("array_kind", {})}
    assert kinds == {"slinky", "trench", "pond_mat", "borehole"}
    assert sum("array" not in each.job for each in EXAMPLES) >= 4


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.name)
def test_a_job_goes_from_load_to_report_by_assignment(
    client: FlaskClient, example: Example
) -> None:
    office = Office(client, example.job)
    job = office.job
    if "array" not in job:
        sized = office.ask("sizing")
        job |= sized["decides"]
        assert len(office.ask("split")["loops"]) == sized["loop_count"]
    before = office.ask("split")
    if "pump_curve" in job["duty"]:
        return  # the pump is given, and what it drives changes with the array
    balanced = office.ask("balancing")
    reaching = [way for way in balanced["ways"] if way["verdict"] == "reaches"]
    if reaching:
        job |= reaching[0]["decides"]
    after = office.ask("split")
    # A way to balance changes neither the flow that is asked for nor what the flows add up to, and
    # what it reaches is what the split of the array with it says: mass is kept.
    assert after["pump"]["mass_flow_kg_s"] == pytest.approx(
        before["pump"]["mass_flow_kg_s"], rel=1e-5
    )
    assert sum(loop["mass_flow_kg_s"] for loop in after["loops"]) == pytest.approx(
        after["pump"]["mass_flow_kg_s"], rel=1e-5
    )
    if reaching:
        assert after["pump"]["head_kpa"] == pytest.approx(reaching[0]["pump"]["head_kpa"], rel=1e-5)
    job.setdefault("pump_choice", {"use_invented_pumps": True})
    chosen = office.ask("pump-choice")["pumps"][0]
    job |= chosen["decides"]
    running = office.ask("split")["running"]
    for told, judged in zip(running, chosen["conditions"], strict=True):
        assert told["flow_l_s"] == pytest.approx(judged["flow_l_s"], rel=1e-4)
        assert told["power_w"] == pytest.approx(judged["power_w"], rel=1e-4)
    if "groundworks" in job:
        assert office.ask("groundworks")["findings"] is not None
    if "commissioning" in job:
        meters = office.ask("commissioning")["flow_meters"]
        cold = running[0]["loops"]
        assert [each["loop"] for each in meters] == [each["loop"] for each in cold]
        for meter, loop in zip(meters, cold, strict=True):
            assert meter["expected_l_min"] == pytest.approx(60 * loop["flow_l_s"], rel=1e-4)
    report = office.ask("report")
    if "setting_out" not in job:  # else the document sets the loops out on their plot
        assert report["job"]["array"] == job["array"]
    if example.name in PRINTED:
        pdf = client.post("/v1/report.pdf", json=job)
        assert pdf.mimetype == "application/pdf"
        assert pdf.data.startswith(b"%PDF-")


def test_a_pump_that_no_job_could_hold_is_not_decided(client: FlaskClient) -> None:
    # A head of thousands of kilometres, by a plant that takes 9 MPa at a hundredth of a litre.
    (example,) = (each for each in EXAMPLES if each.name == "quince-barn-short-tail")
    job = copy.deepcopy(example.job)
    job["plant"]["heat_exchanger"] = [{"flow_l_s": 0.01, "drop_kpa": 9000}]
    job["plant"]["heat_exchanger_exponent"] = 2
    pumps = client.post("/v1/pump-choice", json=job).get_json()["pumps"]
    held = {p["name"]: p for p in pumps}["Pump 2 with drive (invented)"]
    assert held["control"] == "constant_differential_pressure"
    assert "decides" not in held
    assert all("decides" in each for each in pumps if each is not held)
    job["pump_choice"]["take"] = held["name"]
    problem = client.post("/v1/designs", json=job).get_json(force=True)
    assert [each["pointer"] for each in problem["errors"]] == ["/pump_choice/take"]
