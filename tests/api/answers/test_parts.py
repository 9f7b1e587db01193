"""Where pointers of answers lead."""

from __future__ import annotations

from api.answers.parts import DECIDED, branch_pointer, findings_of
from hydraulics.findings import Finding


def test_a_branch_pointer_passes_through_its_circuits() -> None:
    assert branch_pointer((2,)) == "/array/branches/2"
    assert branch_pointer((3, 0)) == "/array/branches/3/circuit/branches/0"


def test_a_pointer_into_what_the_service_made_begins_with_decides() -> None:
    assert branch_pointer((3, 0), DECIDED) == "/decides/array/branches/3/circuit/branches/0"


def test_a_finding_without_a_place_points_nowhere() -> None:
    nowhere = Finding("no_flow", "info", "Nothing flows.", "definition")
    somewhere = Finding("laminar", "warning", "Laminar.", "definition", (0,))
    found = findings_of((nowhere, somewhere), DECIDED)
    assert [each.get("where") for each in found] == [None, "/decides/array/branches/0"]
    assert [each["severity"] for each in found] == ["info", "warning"]
    assert set(found[0]) == {"code", "severity", "message", "source"}
