"""Findings' codes and how names are listed in a sentence."""

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import hydraulics
from hydraulics.findings import (
    COMMON_PRACTICE,
    FINDING_CODES,
    GENERAL_CAUTIONS,
    GRAVEST,
    OPEN_WATER_CAUTIONS,
    above_freezing,
    apart,
    beyond,
    counted,
    figures,
    gravity,
    listed,
)
from hydraulics.sizing.findings import CAUTIONS


def test_one_thing_is_told_in_the_singular() -> None:
    told = [counted(number, "loop") for number in (0, 1, 2)]
    assert told == ["0 loops", "1 loop", "2 loops"]


def test_names_are_listed_as_in_a_sentence() -> None:
    assert listed(["T1"]) == "T1"
    assert listed(["T1", "T2"]) == "T1 and T2"
    assert listed(["T1", "T2", "T3"]) == "T1, T2 and T3"
    assert listed(["T1", "T2", "T3", "T4"]) == "T1, T2, T3 and T4"
    assert listed([f"T{i}" for i in range(1, 10)]) == "T1, T2, T3, T4 and 5 more"


def test_numbers_that_differ_are_told_in_digits_that_do() -> None:
    assert apart(12.34, 15.0, 1) == ("12.3", "15.0")
    assert apart(1.97364, 2.01297, 1) == ("1.97", "2.01")
    assert apart(2.0, 2.0, 1) == ("2.000000", "2.000000")


def test_codes_are_lower_snake_case_and_explained() -> None:
    for code, meaning in FINDING_CODES.items():
        assert re.fullmatch(r"[a-z]+(_[a-z]+)*", code)
        assert meaning


def test_every_code_in_the_source_is_explained() -> None:
    folder = Path(hydraulics.__file__).parent
    source = "\n".join(file.read_text("utf-8") for file in sorted(folder.rglob("*.py")))
    named = set(re.findall(r"Finding\(\s*(?:code=)?\"(\w+)\"", source))
    assert len(named) > 40
    assert named <= set(FINDING_CODES)
    # The other way round: a code that nothing names any more is no longer explained.
    files = [*folder.rglob("*.py"), *(folder.parent / "api").rglob("*.py")]
    others = "\n".join(file.read_text("utf-8") for file in files if file != folder / "findings.py")
    assert {code for code in FINDING_CODES if f'"{code}"' not in others} == set()


def test_cautions_speak_of_trenches_services_and_local_codes() -> None:
    words = " ".join(GENERAL_CAUTIONS).lower()
    for word in ("collapse", "buried services", "pressure test", "antifreeze", "groundwater"):
        assert word in words
    assert "local" in words


def test_cautions_of_open_water_speak_of_drowning_ice_and_consent() -> None:
    # Common practice of work at water, as docs/cautions.md lists it for ponds; no source.
    words = " ".join(OPEN_WATER_CAUTIONS).lower()
    for word in ("drown", "ice", "consent", "water authority", "alone"):
        assert word in words
    assert set(OPEN_WATER_CAUTIONS) < set(CAUTIONS["pond_mat"])


def test_what_has_no_source_says_so() -> None:
    assert COMMON_PRACTICE == "common practice, no source"


@pytest.mark.parametrize(
    ("margin", "words"),
    [
        (1.6, "is 1.6 K above the mixture's freezing point; 3 K is asked for"),
        (2.97, "is 2.97 K above"),
        (2.9996, "is 2.9996 K above"),
        (-1.7, "is 1.7 K below the mixture's freezing point: it freezes"),
    ],
)
def test_a_margin_is_told_in_digits_that_show_what_is_missing(margin: float, words: str) -> None:
    assert words in above_freezing(-5.0, margin, 3.0, 0.0)


def test_a_margin_within_the_spread_of_published_freezing_points_may_freeze() -> None:
    words = "3 K is asked for above every published one, of which the warmest is 1.3 K warmer"
    assert above_freezing(-5.0, 4.2, 3.0, 1.3).endswith(
        f"4.2 K above the mixture's freezing point; {words}."
    )
    assert above_freezing(-5.0, 1.2, 3.0, 1.3).endswith(f"{words}: by that it may freeze.")


@pytest.mark.parametrize("margin", [-1.7, 1.6])
def test_brine_at_nought_has_no_sign(margin: float) -> None:
    assert above_freezing(-0.04, margin, 3.0, 0.0).startswith("The coldest brine, 0.0 °C, is ")


@pytest.mark.parametrize(
    ("value", "limit", "digits", "text"),
    [
        (2362.3, 2362.0, 0, "2362.3"),  # not "2362 h where 2362 h are allowed"
        (2400.0, 2362.0, 0, "2400"),
        (0.2004, 0.2, 1, "0.2004"),
        (1.5, 1.4999, 2, "1.50"),
        (10.0 + 1e-7, 10.0, 1, "a hair over 10.0"),  # not "10.000000 % more"
        (1.0 - 1e-12, 1.0, 2, "a hair under 1.00"),
        (-0.04, 0.0, 1, "-0.04"),  # not "-0.0 °C, below the limit of 0 °C"
        (0.748, 0.75, 2, "0.748"),
        (-0.0, 0.0, 1, "0.0"),
        (-0.04, 3.0, 1, "0.0"),
    ],
)
def test_what_is_beyond_a_limit_is_told_in_digits_that_show_it(
    value: float, limit: float, digits: int, text: str
) -> None:
    assert beyond(value, limit, digits) == text


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (0.12345, 3, "0.123"),
        (999.4, 3, "999"),
        (1409.9, 3, "1,410"),  # not 1.41e+03
        (5.0649996, 3, "5.07"),  # the answer's number is 5.065, which a table writes as 5.07
        (-1409.9, 3, "-1,410"),
        (7.5174e9, 4, "7,517,000,000"),
        (8.52e-8, 2, "0.000000085"),
        (1e-300, 3, "0"),
        (-0.0, 3, "0"),
    ],
)
def test_a_number_is_written_out(value: float, digits: int, text: str) -> None:
    assert figures(value, digits) == text


@given(
    limit=st.sampled_from([0.0, 0.2, 0.75, 10.0, 60.0]),
    off=st.floats(1e-5, 5.0).flatmap(lambda size: st.sampled_from([size, -size])),
    digits=st.integers(0, 2),
)
def test_the_side_of_a_limit_is_that_of_the_number_as_told(
    limit: float, off: float, digits: int
) -> None:
    told = float(beyond(limit + off, limit, digits))
    assert (told > limit) is (off > 0.0)
    assert (told < limit) is (off < 0.0)


def test_the_gravest_finding_is_an_error_and_then_what_hurts() -> None:
    assert set(GRAVEST) <= FINDING_CODES.keys()
    assert len(set(GRAVEST)) == len(GRAVEST)
    told = [
        ("warning", "laminar_loop"),
        ("warning", "pump_short_at_high_head"),
        ("warning", "freezing_margin_thin"),
        ("error", "no_coil_long_enough"),
        ("error", "pressure_above_class"),
        ("info", "filling_water"),
    ]
    assert sorted(told, key=lambda each: gravity(*each)) == [
        ("error", "pressure_above_class"),
        ("error", "no_coil_long_enough"),
        ("warning", "freezing_margin_thin"),
        ("warning", "pump_short_at_high_head"),
        ("warning", "laminar_loop"),
        ("info", "filling_water"),
    ]
