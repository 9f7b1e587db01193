"""Findings' codes and how names are listed in a sentence."""

import re

from hydraulics.findings import COMMON_PRACTICE, FINDING_CODES, GENERAL_CAUTIONS, listed


def test_names_are_listed_as_in_a_sentence() -> None:
    assert listed(["T1"]) == "T1"
    assert listed(["T1", "T2"]) == "T1 and T2"
    assert listed(["T1", "T2", "T3"]) == "T1, T2 and T3"
    assert listed(["T1", "T2", "T3", "T4"]) == "T1, T2, T3 and T4"
    assert listed([f"T{i}" for i in range(1, 10)]) == "T1, T2, T3, T4 and 5 more"


def test_codes_are_lower_snake_case_and_explained() -> None:
    for code, meaning in FINDING_CODES.items():
        assert re.fullmatch(r"[a-z]+(_[a-z]+)*", code)
        assert meaning


def test_cautions_speak_of_trenches_services_and_local_codes() -> None:
    words = " ".join(GENERAL_CAUTIONS).lower()
    for word in ("collapse", "buried services", "pressure test", "antifreeze", "groundwater"):
        assert word in words
    assert "local" in words


def test_what_has_no_source_says_so() -> None:
    assert COMMON_PRACTICE == "common practice, no source"
