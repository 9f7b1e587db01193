"""Pipes by name and by bore, and what is refused."""

import math

import pytest

from hydraulics.errors import InputError
from hydraulics.pipework.pipe import (
    PE_ROUGHNESS,
    Pipe,
    nearest_name,
    pe_pipe,
    pe_pipes,
    pipe_names,
    pressure_class,
)


def test_every_listed_name_is_a_pipe_and_every_pipe_answers_to_its_name() -> None:
    assert len(pipe_names()) == len(set(pipe_names())) == len(pe_pipes())
    for pipe in pe_pipes():
        assert pe_pipe(pipe.name) == pipe
        assert pipe.outside_diameter * 1e3 == pytest.approx(float(pipe.name.split()[2]))
        assert pipe.roughness == PE_ROUGHNESS


def test_a_thicker_wall_leaves_a_smaller_bore_and_stands_more_pressure() -> None:
    for size in (32, 63, 110):
        ladder = [pe_pipe(f"PE100 SDR{sdr} {size}") for sdr in ("9", "11", "13.6", "17")]
        bores = [pipe.bore for pipe in ladder]
        classes = [pipe.pressure_class or 0.0 for pipe in ladder]
        assert bores == sorted(bores)
        assert classes == sorted(classes, reverse=True)
        assert len(set(bores)) == len(set(classes)) == 4


def test_the_weaker_material_stands_less_pressure_by_its_strength() -> None:
    assert pressure_class("PE80", 17) / pressure_class("PE100", 17) == pytest.approx(0.8)


def test_area_is_contents_and_wall_is_half_of_what_the_bore_leaves() -> None:
    pipe = Pipe("own", 0.05, 0.06)
    assert pipe.bore_area == pytest.approx(math.pi * 0.05**2 / 4)
    assert pipe.wall == pytest.approx(0.005)
    assert pipe.pressure_class is None


@pytest.mark.parametrize(
    ("name", "near"),
    [
        ("PE100 SDR11 33", "PE100 SDR11"),
        ("PE100 SDR 11 32", "PE100 SDR11 32"),
        ("PE100-SDR11-63", "PE100 SDR11 63"),
        ("PE80 SDR17 20", "PE80 SDR17"),
    ],
)
def test_a_name_that_is_no_pipe_is_refused_with_the_nearest(name: str, near: str) -> None:
    with pytest.raises(InputError) as refused:
        pe_pipe(name)
    fault = refused.value.faults[0]
    assert fault.field == "pipe"
    assert fault.value == name
    assert f"did you mean '{near}" in fault.message


def test_a_name_like_nothing_is_refused_without_a_guess_and_cut_short() -> None:
    with pytest.raises(InputError) as refused:
        pe_pipe("q" * 5000)
    fault = refused.value.faults[0]
    assert "did you mean" not in fault.message
    assert len(fault.message) < 200


@pytest.mark.parametrize(
    ("bore", "outside", "roughness", "field", "value"),
    [
        (0.0, 0.03, 0.0, "bore", 0.0),
        (-0.02, 0.03, 0.0, "bore", -0.02),
        (math.inf, 0.03, 0.0, "bore", math.inf),
        (0.026, 0.026, 0.0, "outside_diameter", 0.026),
        (0.026, math.inf, 0.0, "outside_diameter", math.inf),
        (0.026, 0.032, -1e-6, "roughness", -1e-6),
        (0.026, 0.032, 0.0014, "roughness", 0.0014),
    ],
)
def test_a_pipe_that_cannot_be_is_refused_by_its_quantity(
    bore: float, outside: float, roughness: float, field: str, value: float
) -> None:
    with pytest.raises(InputError) as refused:
        Pipe("own", bore, outside, roughness)
    fault = refused.value.faults[0]
    assert fault.field == field
    assert fault.value == pytest.approx(value)
    assert fault.allowed


@pytest.mark.parametrize("place", [0, 1, 2])
def test_not_a_number_is_refused_everywhere(place: int) -> None:
    numbers = [0.026, 0.032, 1e-6]
    numbers[place] = math.nan
    with pytest.raises(InputError):
        Pipe("own", *numbers)


def test_a_size_that_there_is_not_suggests_the_nearest_size() -> None:
    with pytest.raises(InputError, match="did you mean 'PE100 SDR11 32'"):
        pe_pipe("PE100 SDR11 33")


def test_limits_of_a_pipe_are_told_in_millimetres() -> None:
    # Moody's chart ends at a roughness of 5 % of the bore: 1.3 mm in 26 mm.
    Pipe("own", 0.026, 0.026 + 1e-9, 0.0013)
    with pytest.raises(InputError) as refused:
        Pipe("own", 0.026, 0.032, 0.0013 + 1e-9)
    assert refused.value.faults[0].allowed == "0 to 1.3 mm"
    with pytest.raises(InputError, match="exceed the bore, 26 mm"):
        Pipe("own", 0.026, 0.025)


def test_a_size_between_two_is_nearest_to_one() -> None:
    for size, near in (("21", "20"), ("24", "25"), ("179", "180"), ("1", "20"), ("999", "180")):
        assert nearest_name(f"PE100 SDR11 {size}") == f"PE100 SDR11 {near}"
    assert nearest_name("PE80 SDR17 20") == "PE80 SDR17 32"  # the smallest of its SDR


@pytest.mark.parametrize(
    ("name", "meant"),
    [
        ("PE100 32 SDR11", "PE100 SDR11 32"),
        ("PE 32 SDR11", "PE100 SDR11 32"),
        ("PE80 SDR 17.0 63", "PE80 SDR17 63"),
        ("PE80 SDR 26 63", ""),  # no series that there is, and no wall
        ("PE100 SDR11/40", "PE100 SDR11 40"),
        ("PE 100 PN 16 d40", "PE100 SDR11 40"),  # EN 12201-2: SDR 11 of PE100 is PN 16
        ("PE80 PN12.5 40", "PE80 SDR11 40"),
        # Walls of EN 12201-2: 32 x 2.9 or 3.0 and 40 x 3.7 are SDR 11, 40 x 2.4 SDR 17.
        ("PE100 32x2.9", "PE100 SDR11 32"),
        ("PE-100 32 × 3,0", "PE100 SDR11 32"),
        ("PE100 40x3.7", "PE100 SDR11 40"),
        ("40x2.4 PE100", "PE100 SDR17 40"),
        ("PE100 33x2.9", ""),
        ("PE100 32", ""),
        ("PE100 SDR11", ""),
        ("PEX 32x2.9", ""),
    ],
)
def test_a_pipe_told_in_another_order_or_by_its_wall_is_known(name: str, meant: str) -> None:
    assert nearest_name(name) == meant
