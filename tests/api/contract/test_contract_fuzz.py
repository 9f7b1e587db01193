"""Schemathesis makes requests of the contract, fit and unfit, and holds each answer to it.

Checked by it: no 5xx; status, content type, headers and schema of every answer as documented; what
breaks the schema is refused; methods that are not offered are refused with Allow.

FUZZ_EXAMPLES sets how many requests are made up for each operation; from 100 on, those at the
bounds of every field of every operation are sent too.
"""

import os
from collections import Counter
from typing import Any, Final

import schemathesis
from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import run_state_machine_as_test
from schemathesis.config import SchemathesisConfig

from api import create_app
from api.contract.operations import OPERATIONS
from api.settings import Settings

EXAMPLES: Final = int(os.environ.get("FUZZ_EXAMPLES", "2"))
THOROUGH: Final = EXAMPLES >= 100
# Making up the requests at all bounds of a job, and of all its fields' examples, takes seconds for
# each operation and worker: a small run has them only of what is small, and sends a part of these.
SMALL: Final = ("/v1/fluid-properties",)
SENT_FIRST: Final = 30
ONE_OF: Final = 1 if THOROUGH else 20

PATIENT: Final[dict[str, Any]] = {
    "max_examples": EXAMPLES,
    "deadline": None,
    "suppress_health_check": list(HealthCheck),
    "database": None,
    "derandomize": "CI" in os.environ,  # a submission is judged by the same requests every time
}


def _operation(path: str) -> dict[str, Any]:
    """Settings of one operation."""
    found: dict[str, Any] = {"include-path": path, "phases": {}, "checks": {}}
    if not THOROUGH and path not in SMALL:
        found["phases"] = {"coverage": {"enabled": False}, "examples": {"enabled": False}}
    if path.startswith("/v1/splits"):
        # What is wrong with one job of a batch is told in its place, with 207.
        found["checks"]["negative_data_rejection"] = {"enabled": False}
    return found


schema = schemathesis.openapi.from_wsgi(
    "/v1/openapi.json",
    create_app(Settings(max_seconds=20, cache_bytes=0)),
    config=SchemathesisConfig.from_dict(
        {
            # Fields that contradict each other, or a fluid that would freeze: no schema says that.
            "checks": {"positive_data_acceptance": {"enabled": False}},
            "operations": [_operation(o.path) for o in OPERATIONS if o.body is not None],
        }
    ),
)
_sent: Counter[str] = Counter()


def _send(case: Any) -> None:
    """Send a request and check its answer; the one media type that it has is asked for."""
    label = case.operation.label
    turn = _sent[label]
    _sent[label] += 1
    at_bounds = case.meta is not None and case.meta.phase.name.value == "coverage"
    if at_bounds and turn >= SENT_FIRST and turn % ONE_OF:
        return
    method, path = label.split(" ", 1)
    offered = {o.path: o for o in OPERATIONS if o.method == method.lower()}[path]
    # Schemathesis does not undo compression where no network is between.
    headers = {"Accept": ("*/*", offered.media)[turn % 2], "Accept-Encoding": "identity"}
    case.validate_response(case.call(headers=headers))


@schema.parametrize()
@settings(**PATIENT)
def test_every_answer_to_a_made_up_request_keeps_the_contract(case: Any) -> None:
    _send(case)


def test_links_lead_to_requests_that_keep_the_contract() -> None:
    linked = ["examples", "example", "design"]

    class Machine(schema.include(operation_id=linked).as_state_machine()):  # type: ignore[misc]
        def get_call_kwargs(self, case: Any) -> dict[str, Any]:
            return {"headers": {"Accept-Encoding": "identity"}}

    phases = list(Phase) if THOROUGH else [Phase.generate]
    run_state_machine_as_test(
        Machine, settings=settings(**PATIENT, stateful_step_count=5, phases=phases)
    )
