import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydraulics.errors import InputError, RangeError
from hydraulics.ground.soil import (
    SOILS,
    Ground,
    cote_konrad_2005,
    johansen_solids,
    soil_properties,
)


@given(soil=st.sampled_from(sorted(SOILS)), less=st.floats(0.0, 1.0), more=st.floats(0.0, 1.0))
def test_wetter_soil_conducts_and_stores_more(soil: str, less: float, more: float) -> None:
    kind = SOILS[soil]
    most = (1 - kind.dry_density / kind.solids_density) * 1000.0 / kind.dry_density
    low, high = sorted((less, more))
    dry, wet = (soil_properties(soil, share * most) for share in (low, high))
    assert wet.conductivity >= dry.conductivity
    assert wet.heat_capacity >= dry.heat_capacity


@pytest.mark.parametrize("soil", sorted(SOILS))
def test_a_class_alone_gives_usable_properties(soil: str) -> None:
    found = soil_properties(soil)
    assert found.warnings == ()
    assert found.conductivity_low < found.conductivity < found.conductivity_high
    assert 0.0 < found.saturation <= 1.0


def test_dry_and_saturated_soil_are_the_model_s_own_ends() -> None:
    ends = [cote_konrad_2005(s, 0.4, 5.0, 3.55, 0.75, 1.2) for s in (0.0, 1.0)]
    assert ends[0] == pytest.approx(0.75 * 10 ** (-0.48))
    assert ends[1] == pytest.approx(5.0**0.6 * 0.57**0.4)


def test_more_water_than_the_pores_hold_is_refused_and_the_most_is_named() -> None:
    with pytest.raises(RangeError) as caught:
        soil_properties("sand", 0.5)
    assert caught.value.faults[0].field == "water_content"
    assert "0.248" in caught.value.faults[0].message


def test_an_unusual_density_is_answered_with_a_warning() -> None:
    assert any("usual" in w for w in soil_properties("clay", 0.1, 1900.0).warnings)


def test_nearly_dry_soil_is_warned_of() -> None:
    assert any("dry" in w for w in soil_properties("sand", 0.001).warnings)


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: soil_properties("loess"), "soil"),
        (lambda: soil_properties("sand", -0.1), "water_content"),
        (lambda: soil_properties("sand", math.nan), "water_content"),
        (lambda: soil_properties("sand", 0.1, 2650.0), "dry_density"),
        (lambda: soil_properties("sand", 0.1, math.inf), "dry_density"),
        (lambda: johansen_solids(1.2), "quartz"),
        (lambda: Ground(0.0, 2e6), "conductivity"),
        (lambda: Ground(1.5, math.nan), "heat_capacity"),
    ],
)
def test_what_no_soil_can_be_is_refused_by_name(call: Callable[[], object], field: str) -> None:
    with pytest.raises(InputError) as caught:
        call()
    assert caught.value.faults[0].field == field
